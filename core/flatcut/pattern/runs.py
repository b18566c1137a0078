"""Runs: stretches of edges sewn or measured one after the other. How they are written is in `places.py`.

Each part is walked along its stored direction; '-' turns it; '~' is the mirrored half or the pair's mate, which is
walked the other way. A part may also be a line inside a piece.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, reverse, section
from flatcut.geometry.length import length
from flatcut.pattern.finding import as_edge as as_edge
from flatcut.pattern.finding import find, parts_of, plain_place
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.values import Edge, Line, Pattern, Piece, Position, RunPart
from flatcut.pattern.walking import SLACK, part_at, sewn_at, sewn_length, to_drawn

AT_NODE = 1e-7
"""Of a span: a place no farther from a node is the node."""


def found_run(pattern: Pattern, run: Run) -> tuple[RunPart, ...]:
    """The edges and lines of a written run. Errors: UsageError, UnknownNameError."""
    return tuple(found for part in run.parts for found in _found(pattern, part, run))


def _found(pattern: Pattern, part: Part, whole: Run) -> tuple[RunPart, ...]:
    place = plain_place(pattern, part.place)
    piece, thing = find(pattern, place)
    if not isinstance(thing, (Edge, Line)) or place.other or place.part:
        raise UsageError(
            f"'{whole}' is no run; write edges or lines joined by +, such as front.side or front.side@0..1/2"
        )
    if (place.at is None) != (place.to is None):
        raise UsageError(f"'{part}' is one place; a stretch has two, such as {place.piece}.{place.name}@0..1/2")
    run = RunPart(
        piece=piece.uid, of=thing.uid, start=place.at, end=place.to, backwards=part.backwards, mirrored=place.mirror
    )
    if isinstance(thing, Line) and len(strokes := parts_of(piece, thing)) > 1:
        return _over_parts(piece, strokes, run)
    ends(pattern, run)  # a stretch beyond the edge is refused here, not when it is walked
    return (run,)


def _over_parts(piece: Piece, strokes: tuple[Line, ...], run: RunPart) -> tuple[RunPart, ...]:
    """A stretch of a line that is in parts, as stretches of each."""
    start, end = _ends(as_edge(piece, *strokes), run)
    found, before = [], 0.0
    for stroke in strokes:
        size = sewn_length(as_edge(piece, stroke))
        low, high = max(start - before, 0.0), min(end - before, size)
        if high - low > SLACK:
            whole = low <= SLACK and high >= size - SLACK
            at, to = (None, None) if whole else (Position(mode="start", value=mm) for mm in (low, high))
            found.append(replace(run, of=stroke.uid, start=at, end=to))
        before += size
    return tuple(found[::-1] if run.backwards != run.mirrored else found)


def named_run(pattern: Pattern, run: tuple[RunPart, ...]) -> Run:
    """A run with the names of today."""
    parts: list[Part] = []
    for part in run:
        piece, thing = owner(pattern, part)
        if isinstance(thing, Line) and len(strokes := parts_of(piece, thing)) > 1:
            if (shown := _of_whole(piece, strokes, part)) not in parts:
                parts.append(shown)
            continue
        place = Place(piece=piece.name, name=thing.name, at=part.start, to=part.end, mirror=part.mirrored)
        parts.append(Part(place=place, backwards=part.backwards))
    return Run(tuple(parts))


def _of_whole(piece: Piece, strokes: tuple[Line, ...], part: RunPart) -> Part:
    """A stretch of one part of a line as it is written: the whole line, or from where to where along it."""
    place = Place(piece=piece.name, name=strokes[0].name, mirror=part.mirrored)
    if part.start is not None:
        k = next(k for k, stroke in enumerate(strokes) if stroke.uid == part.of)
        before = sum(sewn_length(as_edge(piece, stroke)) for stroke in strokes[:k])
        start, end = _ends(as_edge(piece, strokes[k]), part)
        at, to = (Position(mode="start", value=before + mm) for mm in (start, end))
        place = replace(place, at=at, to=to)
    return Part(place=place, backwards=part.backwards)


def show_run(pattern: Pattern, run: tuple[RunPart, ...]) -> str:
    """A run as it is written, with the names of today."""
    return str(named_run(pattern, run))


def written(pattern: Pattern, run: tuple[RunPart, ...]) -> str:
    """A run as it is spoken of: places along its edges to a hundredth of a millimetre."""
    return show_run(pattern, tuple(replace(part, start=_short(part.start), end=_short(part.end)) for part in run))


def _short(at: Position | None) -> Position | None:
    return at if at is None or at.mode == "fraction" else replace(at, value=round(at.value, 2))


def owner(pattern: Pattern, part: RunPart) -> tuple[Piece, Edge | Line]:
    """The piece and the edge or line of a part."""
    piece = pattern.piece_of(part.piece)
    things: tuple[Edge | Line, ...] = (*piece.edges, *piece.lines)
    for thing in things:
        if thing.uid == part.of:
            return piece, thing
    raise KeyError(part.of)


def ends(pattern: Pattern, part: RunPart) -> tuple[float, float]:
    """Where a part starts and ends in its stored direction, in sewn mm. Errors: UsageError beyond the edge."""
    piece, thing = owner(pattern, part)
    return _ends(as_edge(piece, thing) if isinstance(thing, Line) else thing, part)


def _ends(edge: Edge, part: RunPart) -> tuple[float, float]:
    start = 0.0 if part.start is None else sewn_at(edge, part.start)
    end = sewn_length(edge) if part.end is None else sewn_at(edge, part.end)
    if end < start:
        raise UsageError(f"the stretch on {edge.name} runs backwards; write the place nearer its start first")
    return start, end


@dataclass(frozen=True, kw_only=True)
class Walked:
    """One part of a run made ready to walk: from `start` to `end` in sewn mm, `forward` along the stored direction."""

    piece: Piece
    edge: Edge
    start: float
    end: float
    forward: bool

    @property
    def sewn(self) -> float:
        """mm."""
        return self.end - self.start


def walk(pattern: Pattern, run: tuple[RunPart, ...], *, reversed: bool = False) -> list[Walked]:
    """The parts of a run in the order and direction they are walked; `reversed` walks the whole run from its end."""
    steps = []
    for part in run:
        piece, thing = owner(pattern, part)
        edge = as_edge(piece, thing) if isinstance(thing, Line) else thing
        start, end = _ends(edge, part)
        # the mirror image of an edge keeps its stored direction and is walked against it
        forward = part.backwards == part.mirrored
        steps.append(Walked(piece=piece, edge=edge, start=start, end=end, forward=forward))
    if reversed:
        steps = [replace(step, forward=not step.forward) for step in steps[::-1]]
    return steps


def run_sewn(pattern: Pattern, run: tuple[RunPart, ...]) -> float:
    """Sewn mm of a whole run."""
    return sum(step.sewn for step in walk(pattern, run))


def run_drawn(pattern: Pattern, run: tuple[RunPart, ...]) -> float:
    """Drawn mm of a whole run: what is gathered, pleated or eased in it lies flat."""
    return sum(to_drawn(step.edge, step.end) - to_drawn(step.edge, step.start) for step in walk(pattern, run))


def run_curves(step: Walked) -> list[Curve]:
    """The drawn curves of a walked part, in walking direction; a dart's mouth leaves a gap."""
    first, u0 = part_at(step.edge, to_drawn(step.edge, step.start))
    last, u1 = part_at(step.edge, to_drawn(step.edge, step.end))
    curves = []
    for k in range(first, last + 1):
        part = step.edge.parts[k]
        a, b = (_at_node(u0) if k == first else 0.0), (_at_node(u1) if k == last else float(len(part)))
        if b > a and length(part) > 0:
            curves.append(section(part, a, b))
    return curves if step.forward else [reverse(c) for c in curves[::-1]]


def _at_node(u: float) -> float:
    """A place along a curve, or the node that it is by a hair: beside it would stand a span of no length."""
    return float(round(u)) if abs(u - round(u)) < AT_NODE else u


def stretch_of(pattern: Pattern, run: tuple[RunPart, ...], low: float, high: float) -> tuple[RunPart, ...]:
    """What of a run lies between two places along it, sewn mm from its start as it is walked, low < high."""
    found: list[RunPart] = []
    before = 0.0
    for step, part in zip(walk(pattern, run), run, strict=True):
        first, last = max(low - before, 0.0), min(high - before, step.sewn)
        if last - first > SLACK:
            whole = first <= SLACK and last >= step.sewn - SLACK
            ways = (step.start + first, step.start + last) if step.forward else (step.end - last, step.end - first)
            start, end = (Position(mode="start", value=at) for at in ways)
            found.append(part if whole else replace(part, start=start, end=end))
        before += step.sewn
    return tuple(found)
