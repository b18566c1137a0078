"""An outline that would lie over itself."""

from __future__ import annotations

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, chain, flatten, line
from flatcut.geometry.region import crossing_place
from flatcut.pattern.values import Piece

FLAT = 0.02
"""mm: chords of a ring that is looked at for crossings."""


def refuse_overlap(piece: Piece, *, advice: str) -> None:
    """GeometryError with advice when the outline crosses itself. Darts and slashes that share a point just touch."""
    ring: list[Curve] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            ring.append(part)
            dart = piece.cut_in(edge, k)
            if dart is not None:
                foot_1, foot_2 = dart.feet
                short = dart.points[0] + 0.02 * (dart.feet.mean(axis=0) - dart.points[0])
                ring += [line(foot_1, short), line(short, foot_2)]
    where = crossing_place(flatten(chain(ring, within=1e-6), tolerance=FLAT)[:-1])
    if where is not None:
        raise GeometryError(f"{piece.name} would lie over itself near x {where[0]:.1f}, y {where[1]:.1f} mm; {advice}")
