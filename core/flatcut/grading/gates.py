"""What a graded pattern is held to: from the drawing as it is now, by other ways than it was made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten
from flatcut.geometry.length import length
from flatcut.pattern.mating import mates
from flatcut.pattern.runs import written
from flatcut.pattern.seaming import MISMATCH, walked
from flatcut.pattern.values import Notch, Pattern, Piece
from flatcut.pattern.walking import sewn_length
from flatcut.units import plain

FOLDED = 45.0
"""Degrees: a line that turns by more against its chord than in the base size does not follow, it folds."""
ASIDE = 0.05
"""mm: a point that stands so near to its rule stands there."""
LEGS = 0.01
"""mm: legs of darts that differ by less are equal."""
FOLD = 0.05
"""Degrees that a fold may turn against the grain."""
AIM = 0.5
"""mm by which a seam may fit worse than in the base size (common practice, no source)."""
PLACES = np.linspace(0.0, 1.0, 41)


class Turned(NamedTuple):
    """The largest change of a line's direction against its chord, in degrees, and where."""

    degrees: float
    edge: str
    at: Array


def refuse_folded(before: Piece, after: Piece) -> Turned:
    """How far edges changed their shape. Errors: GeometryError with the place where one folds."""
    worst = Turned(0.0, "", np.zeros(2))
    for was, now in zip(before.edges, after.edges, strict=True):
        for one, two in zip(was.parts, now.parts, strict=True):
            found = _turned(one, two)
            if found is not None and found[0] > worst.degrees:
                worst = Turned(found[0], f"{after.name}.{now.name}", found[1])
    if worst.degrees > FOLDED:
        raise GeometryError(
            f"{worst.edge} would fold near x {worst.at[0]:.1f}, y {worst.at[1]:.1f} mm: its line turns by "
            f"{worst.degrees:.0f}° there; mend the rules of the points beside it"
        )
    return worst


def _turned(before: Curve, after: Curve) -> tuple[float, Array] | None:
    """The largest change of direction against the chord between places at equal parts of both lengths."""
    rows = [_even(curve) for curve in (before, after)]
    ways = [np.diff(points, axis=0) for points in rows]
    if min(float(np.hypot(*(points[-1] - points[0]))) for points in rows) < 1.0:
        return None
    angles = [np.arctan2(w[:, 1], w[:, 0]) - np.arctan2(*(p[-1] - p[0])[::-1]) for w, p in zip(ways, rows, strict=True)]
    change = np.abs((angles[1] - angles[0] + np.pi) % (2 * np.pi) - np.pi)
    k = int(change.argmax())
    return float(np.degrees(change[k])), rows[1][k]


def _even(curve: Curve) -> Array:
    """Points (n, 2) at equal parts of the length, on chords."""
    points = flatten(curve, tolerance=0.01)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return np.stack([np.interp(PLACES * along[-1], along, points[:, k]) for k in (0, 1)], axis=1)


def refuse_turned_fold(before: Piece, after: Piece) -> None:
    """Errors: GeometryError where a fold bends, or turns against the grain."""
    for was, now in zip(before.edges, after.edges, strict=True):
        if now.use != "fold":
            continue
        ends = [np.array([edge.start, edge.end]) for edge in (was, now)]
        angles = [np.arctan2(*(b - a)[::-1]) for a, b in ends]
        change = abs(float(np.degrees((angles[1] - angles[0] + np.pi) % (2 * np.pi) - np.pi)))
        if change > FOLD:
            raise GeometryError(
                f"the fold {after.name}.{now.name} would turn by {change:.2f}° against the grain; give both of its "
                "ends the same way across"
            )


def unequal_legs(before: Piece, after: Piece) -> list[str]:
    """Darts whose legs are no longer equal. Errors: GeometryError for some that were drawn equal and are not now."""
    found = []
    for was, now in zip(before.darts, after.darts, strict=True):
        rest, left = (abs(length(dart.legs[0]) - length(dart.legs[1])) for dart in (was, now))
        if left > LEGS and rest <= LEGS:
            raise GeometryError(
                f"the legs of {after.name}.{now.name} would differ by {plain(left)} mm; give its feet one rule, and "
                "its point one"
            )
        if left > rest + LEGS:
            found.append(f"the legs of {after.name}.{now.name} differ by {plain(left)} mm, and did by {plain(rest)} mm")
    return found


def misfits(before: Pattern, after: Pattern) -> list[str]:
    """Seams that fitted, and notches that met, and no longer do: a sentence each with the amounts."""
    found = []
    for was, now in zip(before.seams, after.seams, strict=True):
        rest, left = walked(before, was)[2], walked(after, now)
        if abs(rest) <= MISMATCH and abs(left[2] - rest) > AIM:
            a, b = written(after, now.a), written(after, now.b)
            longer, shorter = (b, a) if left[2] > 0 else (a, b)
            found.append(
                f"{longer} is {plain(abs(left[2]))} mm longer than {shorter} now, by {plain(abs(rest))} mm before; the "
                "rules of the two differ there"
            )
    found += [
        f"the notch at {place} lies {plain(off)} mm off its mate now; the rules of the two edges differ between notches"
        for place, off in _apart(before, after)
    ]
    return found


def _apart(before: Pattern, after: Pattern) -> Sequence[tuple[str, float]]:
    """Notches that had a mate within AIM and now have none within AIM more."""
    found = []
    gaps = [{(p.uid, n.uid): gap for p, n, gap in _gaps(pattern)} for pattern in (before, after)]
    for piece in after.pieces:
        for notch in piece.notches:
            was, now = (own.get((piece.uid, notch.uid)) for own in gaps)
            if was is not None and now is not None and was <= AIM and now > was + AIM:
                edge = piece.edge_of(notch.edge)
                at = notch.at.along(sewn_length(edge))
                found.append((f"{piece.name}.{edge.name}@{plain(at)}", now))
    return found


def _gaps(pattern: Pattern) -> Iterator[tuple[Piece, Notch, float]]:
    """Each notch on a seam that has notches on its other side too: mm from its mate to the nearest one there."""
    for piece in pattern.pieces:
        for notch in piece.notches:
            edge = piece.edge_of(notch.edge)
            for mate in mates(pattern, edge.uid, notch.at.along(sewn_length(edge))):
                others = [
                    abs(other.at.along(sewn_length(mate.edge)) - mate.sewn)
                    for other in mate.piece.notches
                    if other.edge == mate.edge.uid
                ]
                if others:
                    yield piece, notch, min(others)
