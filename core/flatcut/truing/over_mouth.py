"""The edge over the mouth of a dart that was given up, drawn as a cutter would draw it, from one end to the other."""

from __future__ import annotations

from dataclasses import replace

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import signed_angle
from flatcut.geometry.curves import Curve, chain, tangent, transform
from flatcut.geometry.even import most_even, unevenness
from flatcut.geometry.fair import Fairer
from flatcut.geometry.fairness import fairness
from flatcut.pattern.mirrored import between
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.values import Dart, Edge, Figure, Pattern, Piece
from flatcut.pattern.walking import sewn_length
from flatcut.truing.following import followed
from flatcut.truing.truing import TAPED, largest_move, marks_followed

WITHIN = (2.0, 8.0, 30.0)
"""mm that the line may move: as few as leave no bend to a side to which it did not bend."""
EVEN = 1.5
"""The sharpest bend of a flared hem over its mean bend, beyond which it is spoken of (common practice, no source)."""


def bends_over(piece: Piece, dart: Dart) -> int:
    """How often the edge of a cut-in dart bends to the other side between the mouths or corners beside it, the dart
    closed."""
    host = piece.edge_of(dart.host)
    apex, (first, second) = dart.points[0], dart.feet
    turn = signed_angle(second - apex, first - apex)
    after = transform(host.parts[dart.after + 1], Affine.rotation(turn, (float(apex[0]), float(apex[1]))))
    return fairness(chain([host.parts[dart.after], after], within=TAPED)).inflections


def gathered(pattern: Pattern, edge: Edge, part: int, takeup: str, *, bends: int) -> tuple[Pattern, list[Figure]]:
    """The pattern with a part of an edge over a mouth that bends no more often than `bends`, and what is told.

    Its ends keep place and direction, and the take-up of that uid changes so that the edge is as long as sewn as it
    was. It stays as it is where no line within the last of WITHIN does.
    """
    old = edge.parts[part]
    fairer = Fairer([old])
    for within in WITHIN if fairness(old).inflections > bends else ():
        try:
            found = fairer.within(within)
        except GeometryError:
            continue
        if found.after.inflections <= bends:
            after = _redrawn(pattern, edge, part, found.curve)
            if after is None:
                break
            return _as_long(after, edge, takeup), _told(pattern, edge, old, found.curve)
    return pattern, []


def flared(pattern: Pattern, edge: Edge, part: int) -> tuple[Pattern, list[Figure], tuple[str, ...]]:
    """The pattern with a part of a hem over a mouth that turns as evenly as its ends allow, what is told and warnings.

    Its ends keep place and direction.
    """
    old = edge.parts[part]
    name = f"{_owner(pattern, edge).name}.{edge.name}"
    new = most_even(old.start, tangent(old, 0.0), old.end, tangent(old, float(len(old)), before=True))
    after = None if new is None else _redrawn(pattern, edge, part, new)
    if new is None or after is None:
        return pattern, [], (f"{name} cannot turn evenly between its ends, so only its mouth is drawn over",)
    uneven = unevenness(new)
    warnings: tuple[str, ...] = ()
    if uneven > EVEN:
        warnings = (
            f"{name} turns up to {uneven:.1f} times as sharply as on the whole, since it was opened near its end; "
            "open it in more places, evenly spread, with: spread",
        )
    figures = [*_told(pattern, edge, old, new), Figure(f"{name} sharpest bend over its mean", uneven, "×")]
    return after, figures, warnings


def _redrawn(pattern: Pattern, edge: Edge, part: int, curve: Curve) -> Pattern | None:
    """The pattern with a part of an edge along a curve and all that stands on it there; None where it would cross."""
    piece = _owner(pattern, edge)
    old = edge.parts[part]
    parts = (*edge.parts[:part], between(curve, old.start, old.end), *edge.parts[part + 1 :])
    edges = tuple(replace(e, parts=parts) if e.uid == edge.uid else e for e in piece.edges)
    made = replace(piece, edges=edges)
    return None if outline_crossing(made) is not None else followed(pattern, [marks_followed(piece, made)]).pattern


def _as_long(after: Pattern, was: Edge, takeup: str) -> Pattern:
    piece = _owner(after, was)
    edge = piece.edge_of(was.uid)
    more = sewn_length(edge) - sewn_length(was)
    takeups = tuple(replace(t, amount=t.amount + more) if t.uid == takeup else t for t in edge.takeups)
    edges = tuple(replace(e, takeups=takeups) if e.uid == edge.uid else e for e in piece.edges)
    return after.with_piece(replace(piece, edges=edges))


def _told(pattern: Pattern, edge: Edge, old: Curve, new: Curve) -> list[Figure]:
    return [Figure(f"{_owner(pattern, edge).name}.{edge.name} drawn over, largest move", largest_move(old, new))]


def _owner(pattern: Pattern, edge: Edge) -> Piece:
    return next(piece for piece in pattern.pieces if any(e.uid == edge.uid for e in piece.edges))
