"""A dart given up: its edge runs on over the mouth and takes its intake up in ease, gathers, a tuck or a pleat, or
hangs open in flare."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.darts.dart_forms import ALIKE, bridged
from flatcut.darts.darting import in_corner
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line, tangent
from flatcut.geometry.length import length
from flatcut.marking.pressed import beside
from flatcut.pattern.bridging import fair
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece, TakeUp
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied
from flatcut.reshape.cycle import with_edge
from flatcut.units import plain

FLARE = "flare"
"""What a dart becomes that is left open: nothing is taken up."""
REACH = {"ease": 3.0, "gathers": 1.0}
"""Over how many intakes to either side of the mouth the fullness is spread unless it is said: gathers then are drawn up
from three to two, a light gathering, and ease by one in seven (common practice, no source)."""
FAIR_TURN = 60.0
"""Degrees that the edge may turn over a mouth and still be one fair curve; beyond it the edge runs straight there."""


def across_mouth(piece: Piece, dart: Dart) -> Curve:
    """One fair span from foot to foot, leaving both edges in their own direction; straight where they turn too much."""
    return fair(*_over(piece, dart)) if turn_over(piece, dart) <= FAIR_TURN else line(*dart.feet)


def turn_over(piece: Piece, dart: Dart) -> float:
    """Degrees between the straight over a dart's mouth and the edge beside it, on the side where they are more."""
    foot_1, leaving, foot_2, arriving = _over(piece, dart)
    over = unit(foot_2 - foot_1)
    return max(float(np.degrees(np.arccos(np.clip(over @ way, -1.0, 1.0)))) for way in (leaving, arriving))


def _over(piece: Piece, dart: Dart) -> tuple[Array, Array, Array, Array]:
    """Where the edge comes to a dart's mouth and in which direction, and where and how it goes on."""
    _, before, _, after = beside(piece, dart)
    leaving = tangent(before, float(len(before)), before=True)
    arriving = tangent(after, 0.0)
    foot_1, foot_2 = dart.feet
    return foot_1, leaving, foot_2, arriving


def released(
    pattern: Pattern, piece: Piece, dart: Dart, kind: str, *, either_side: float | None, stitched: float
) -> tuple[Pattern, TakeUp | None, tuple[str, ...]]:
    """The pattern without the dart and with a take-up as wide as its intake, none for flare; and what is to be told.

    kind: ease, gathers, tuck, pleat or flare. either_side: how far ease or gathers reach beyond the mouth, mm, None
    for the usual. stitched: mm of the legs that stay as lines, of a tuck its stitching, of a pleat its folds. The dart
    is cut in. Errors: UsageError, GeometryError.
    """
    if in_corner(piece, dart):
        name = f"{piece.name}.{dart.name}"
        raise UsageError(f"{name} stands in a corner, where no edge runs on; pivot it to an edge first")
    host = piece.edge_of(dart.host)
    across = across_mouth(piece, dart)
    wide = length(across)
    turn = turn_over(piece, dart)
    straight = (
        f"the edge beside {piece.name}.{dart.name} turns by {plain(turn, 0)}° over the mouth, too much for one fair "
        f"curve: it runs straight there; make it fair with: true {piece.name}.{host.name}"
    )
    told = (straight,) if turn > FAIR_TURN else ()
    if kind == FLARE:
        after, dropped = applied(pattern, bridged(piece, dart, across, None))
        return after, None, (*told, *dropped)
    uids = Uids(pattern.uids())
    # so that the edge is as long as sewn as it was: the mouth counted nothing
    amount = wide
    uid = uids.fresh("takeup", dart.uid, kind)
    takeup = TakeUp(uid=uid, kind=kind, start=0.0, end=wide, amount=amount)
    after, dropped = applied(pattern, bridged(piece, dart, across, takeup))
    dropped = (*told, *dropped)
    result = after.piece_of(piece.uid)
    edge = result.edge_of(host.uid)
    takeup = next(t for t in edge.takeups if t.uid == uid)
    if kind in REACH:
        reach = REACH[kind] * amount if either_side is None else either_side
        takeup = _widened(piece, edge, takeup, reach, stated=either_side is not None)
        takeups = tuple(takeup if t.uid == uid else t for t in edge.takeups)
        edge = replace(edge, takeups=takeups)
        return after.with_piece(with_edge(result, edge)), takeup, dropped
    lines = list(result.lines)
    taken = result.names()
    for leg, foot in zip(dart.legs, dart.feet, strict=True):
        if stitched <= 0:
            break
        name = free_name(f"{dart.name}-{kind}", taken)
        taken.add(name)
        way = unit(dart.points[0] - foot)
        reach = min(stitched, length(leg))
        curve = line(foot, foot + reach * way)
        mark = "fold" if kind == "pleat" else "line"
        lines.append(Line(uid=uids.fresh("line", dart.uid, name), name=name, curve=curve, kind=mark))
    return after.with_piece(replace(result, lines=tuple(lines))), takeup, dropped


def _widened(piece: Piece, edge: Edge, takeup: TakeUp, reach: float, *, stated: bool) -> TakeUp:
    """The take-up spread beyond the mouth, as far as the edge and its other take-ups leave room.

    Errors: UsageError when there is less room than was stated, or no cloth would be left between its ends.
    """
    low = max([0.0, *(t.end for t in edge.takeups if t.end <= takeup.start + ALIKE and t is not takeup)])
    high = min(
        [drawn_length(edge), *(t.start for t in edge.takeups if t.start >= takeup.end - ALIKE and t is not takeup)]
    )
    room = min(takeup.start - low, high - takeup.end)
    if stated and room < reach - 1e-6:
        raise UsageError(
            f"{piece.name}.{edge.name} has {plain(max(room, 0.0))} mm beside the mouth, less than {plain(reach)}; "
            "give less with ",
            Option("either-side"),
        )
    start, end = max(low, takeup.start - reach), min(high, takeup.end + reach)
    if end - start < 1.05 * takeup.amount:
        raise UsageError(
            f"{plain(takeup.amount)} mm cannot be drawn up within {plain(end - start)} mm of {piece.name}.{edge.name}; "
            "spread it wider with ",
            Option("either-side"),
        )
    return replace(takeup, start=start, end=end)
