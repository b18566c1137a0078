"""Fullness along an edge that is drawn up again where it is sewn: from where to where, and how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from flatcut.errors import Option, UsageError
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Piece, TakeUp
from flatcut.pattern.walking import drawn_length, drawn_of, to_drawn
from flatcut.units import plain

ROOM = 1.05
"""Cloth over amount: some must be left between the ends of what is drawn up."""
SLIP = 0.5
"""mm that an opening may lie outside the stretch that is gathered."""
FOLDED = ("dart", "pleat", "tuck")


def gathered(
    piece: Piece, edge: Edge, spans: Sequence[tuple[float, float]], *, either_side: float | None, uids: Uids
) -> tuple[Edge, tuple[TakeUp, ...]]:
    """The edge with what was opened drawn up as gathers, and those gathers.

    spans: from where to where it was opened, mm drawn. Openings with no fold and no dart between them become one
    stretch, which reaches `either_side` mm beyond the outer ones; unless that is stated as far as the largest of them
    is wide, and half as far as they stand apart. Gathers that are there grow; ease that was opened is drawn up with
    them. Errors: UsageError without room.
    """
    old = [t for t in edge.takeups if t.kind == "gathers" or (t.kind == "ease" and _over(t, spans))]
    kept = [t for t in edge.takeups if t not in old]
    made: list[TakeUp] = []
    for group, (low, high) in _groups(edge, kept, spans):
        reach = _reach(group) if either_side is None else either_side
        start, end = group[0][0] - reach, group[-1][1] + reach
        if either_side is not None and (start < low - 1e-6 or end > high + 1e-6):
            raise UsageError(
                f"{piece.name}.{edge.name} has less than {plain(either_side)} mm beside what is to be gathered; "
                "give less with ",
                Option("either-side"),
            )
        start, end = max(low, start), min(high, end)
        amount = sum(b - a for a, b in group)
        uid = ""
        for other in [t for t in old if t.start < end and t.end > start]:
            start, end, amount, uid = min(start, other.start), max(end, other.end), amount + other.amount, other.uid
            old.remove(other)
        if end - start < ROOM * amount:
            raise UsageError(
                f"{plain(amount)} mm cannot be drawn up within {plain(end - start)} mm of {piece.name}.{edge.name}; "
                "gather it over more with ",
                Option("either-side"),
                ", or open it by less",
            )
        uid = uid or uids.fresh("takeup", edge.uid, "gathers")
        made.append(TakeUp(uid=uid, kind="gathers", start=start, end=end, amount=amount))
    takeups = tuple(sorted((*kept, *old, *made), key=lambda t: t.start))
    return replace(edge, takeups=takeups), tuple(made)


def gathered_over(
    piece: Piece, edge: Edge, spans: Sequence[tuple[float, float]], over: tuple[float, float]
) -> tuple[Edge, tuple[TakeUp, ...]]:
    """The edge with all its gathers as one between two places of it (mm sewn), which stay there.

    spans: what was opened, mm drawn. Errors: UsageError where some of it lies outside them, or more is folded inside.
    """
    all_of = [t for t in edge.takeups if t.kind == "gathers"]
    kept = tuple(t for t in edge.takeups if t not in all_of)
    bare = replace(edge, takeups=kept)
    amount = sum(t.amount for t in all_of)
    start = to_drawn(bare, over[0])
    end = to_drawn(bare, over[1] + amount)
    here = f"{piece.name}.{edge.name}"
    if any(start < t.end and t.start < end for t in kept):
        raise UsageError(f"{here} is folded or eased where it is to be gathered; name a stretch beside that")
    if any(a < start - SLIP or b > end + SLIP for a, b in spans):
        raise UsageError(
            f"{here} is opened beyond the stretch that is to be gathered; name a longer one, or open it there"
        )
    if end - start < ROOM * amount:
        raise UsageError(
            f"{plain(amount)} mm cannot be drawn up within {plain(end - start)} mm of {here}; name more of it"
        )
    one = replace(all_of[0], start=start, end=end, amount=amount)
    return replace(edge, takeups=tuple(sorted((*kept, one), key=lambda t: t.start))), (one,)


def _over(takeup: TakeUp, spans: Sequence[tuple[float, float]]) -> bool:
    """Whether one of the openings lies in a take-up."""
    return any(takeup.start < end and start < takeup.end for start, end in spans)


def _reach(group: Sequence[tuple[float, float]]) -> float:
    largest = max(b - a for a, b in group)
    between = [following[0] - this[1] for this, following in pairwise(group)]
    return max(largest, sum(between) / len(between) / 2 if between else 0.0)


def _groups(
    edge: Edge, kept: Sequence[TakeUp], spans: Sequence[tuple[float, float]]
) -> list[tuple[list[tuple[float, float]], tuple[float, float]]]:
    """The openings that nothing parts, each row with from where to where it may reach."""
    total = drawn_length(edge)
    mouths = [drawn_of(edge, k, float(len(part))) for k, part in enumerate(edge.parts[:-1])]
    walls = sorted([(0.0, 0.0), (total, total), *((m, m) for m in mouths), *((t.start, t.end) for t in kept)])
    rows: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for span in sorted(spans):
        low = max((b for _, b in walls if b <= span[0] + 1e-6), default=0.0)
        high = min((a for a, _ in walls if a >= span[1] - 1e-6), default=total)
        rows.setdefault((low, high), []).append(span)
    return [(row, reach) for reach, row in rows.items()]
