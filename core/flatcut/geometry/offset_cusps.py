"""Edges parted where their curve has a cusp: it stops there and turns back, a corner of 180° that is no node.

No single offset follows a curve over a cusp, since its normal leaps to the other side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints
from flatcut.geometry.curves import Curve, section
from flatcut.geometry.length import lengths_to
from flatcut.geometry.offset_values import Drawn, OffsetCorner, OffsetEdge

SLOW = 2e-4
"""Part of a span's size that its pace falls below at a cusp. The handles there are retracted, which moves the curve by
a seventh of that: 0.006 mm on a span of 200 mm."""

LOOKS = np.linspace(0.0, 1.0, 33)[1:-1]
"""Where spans are looked at, before the place is refined."""

HINT = 0.1
"""Part of the largest pace below which a look is worth refining."""


def cusps(controls: Array, straight: BoolArray) -> list[tuple[int, float]]:
    """Spans (n, 4, 2) and places on them where the curve has a cusp.

    >>> cusps(np.array([[[0.0, 0], [4, 3], [0, 3], [4, 0]]]), np.array([False]))
    [(0, 0.5)]
    """
    d = 3 * (controls[:, 1:] - controls[:, :-1])
    mine = _hesitant(d, straight)
    if not len(mine):
        return []
    d0, d1, d2 = np.ascontiguousarray(d[mine].transpose(1, 2, 0))[..., None]
    s = 1 - LOOKS
    v = s * s * d0 + 2 * s * LOOKS * d1 + LOOKS * LOOKS * d2
    pace = np.sqrt(v[0] * v[0] + v[1] * v[1])
    size = np.abs(controls - controls[:, :1]).max(axis=(1, 2))
    hopeful = mine[pace.min(axis=1) < HINT * pace.max(axis=1)]
    found: list[tuple[int, float]] = []
    for k in hopeful.tolist():
        # the minima of |v|², a quartic, are among the roots of its derivative
        a, b, c = d[k, 0] - 2 * d[k, 1] + d[k, 2], 2 * (d[k, 1] - d[k, 0]), d[k, 0]
        roots = np.roots([4 * a @ a, 6 * a @ b, 2 * b @ b + 4 * a @ c, 2 * b @ c])
        for place in sorted(float(r.real) for r in roots if abs(r.imag) < 1e-4):
            near = round(place, 12)
            slow = 1e-3 < near < 1 - 1e-3 and np.linalg.norm((a * near + b) * near + c) < SLOW * size[k]
            if slow and (not found or found[-1][0] != k or near - found[-1][1] > 1e-3):
                found.append((k, near))
    return found


def _hesitant(d: Array, straight: BoolArray) -> Ints:
    """Curved spans whose pace may fall below HINT of its largest. The derivative is a mean of its controls d (n, 3, 2):
    where all of them go forward along the chord, it goes forward by no less than the least of them."""
    chord = d[:, 0] + d[:, 1] + d[:, 2]
    along = d[..., 0] * chord[:, :1] + d[..., 1] * chord[:, 1:]
    size = (d[..., 0] ** 2 + d[..., 1] ** 2).max(axis=1) * (chord[:, 0] ** 2 + chord[:, 1] ** 2)
    return np.flatnonzero(~straight & (along.min(axis=1) <= HINT * np.sqrt(size)))


def with_cusps(d: Drawn) -> list[int]:
    """Which outlines have a cusp within an edge."""
    found = cusps(d.controls, d.straight)
    if not found:
        return []
    first = np.append(0, d.ends)[d.first]
    return sorted({int(np.searchsorted(first, k, side="right")) - 1 for k, _ in found})


def _spans(edges: Sequence[OffsetEdge]) -> tuple[Array, BoolArray]:
    return np.concatenate([e.curve.controls for e in edges]), np.concatenate([e.curve.straight for e in edges])


def parted(
    edges: Sequence[OffsetEdge], corners: Sequence[OffsetCorner]
) -> tuple[list[OffsetEdge], list[OffsetCorner], list[int]]:
    """Edges and corners with a corner at every cusp, and for each edge the number of the one it is of. Widths taper
    on, and the corner at a cusp is bevelled."""
    found = cusps(*_spans(edges))
    first = np.concatenate([[0], np.cumsum([len(e.curve) for e in edges])])
    new_edges: list[OffsetEdge] = []
    new_corners: list[OffsetCorner] = []
    source: list[int] = []
    for i, (edge, corner) in enumerate(zip(edges, corners, strict=True)):
        cuts = [k - int(first[i]) + t for k, t in found if first[i] <= k < first[i + 1]]
        ends = [0.0, *cuts, float(len(edge.curve))]
        far = edge.width if edge.end_width is None else edge.end_width
        share = lengths_to(edge.curve, ends) if cuts and far != edge.width else np.array(ends)
        for j in range(len(ends) - 1):
            part = _retracted(section(edge.curve, ends[j], ends[j + 1]), at_start=j > 0, at_end=j + 2 < len(ends))
            near, end = (edge.width + (far - edge.width) * u / share[-1] for u in share[j : j + 2].tolist())
            new_edges.append(edge._replace(curve=part, width=near, end_width=end))
            new_corners.append(
                corner if j + 2 == len(ends) else OffsetCorner(kind="bevelled", name=f"the cusp of {edge.name}")
            )
            source.append(i)
    return new_edges, new_corners, source


def _retracted(curve: Curve, *, at_start: bool, at_end: bool) -> Curve:
    controls = np.array(curve.controls)
    if at_start:
        controls[0, 1] = controls[0, 0]
    if at_end:
        controls[-1, 2] = controls[-1, 3]
    return Curve(controls, curve.straight)


def whole_sources(sources: Sequence[int], source: Sequence[int]) -> tuple[int, ...]:
    """Sources of spans (see `OutlineOffset`) of a parted outline as the whole one's; a cusp's spans are its edge's.

    >>> whole_sources((0, -1, 1, -2, 2), (0, 0, 1))
    (0, 0, 0, -1, 1)
    """
    n = len(source)

    def old(k: int) -> int:
        if k >= 0:
            return source[k]
        corner = -1 - k
        return source[corner] if source[corner] == source[(corner + 1) % n] and n > 1 else -1 - source[corner]

    return tuple(map(old, sources))
