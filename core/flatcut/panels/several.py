"""Pieces cut along as many lines and darts as are named, one course after the other, and the parts named."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations

from flatcut.errors import Option, UsageError
from flatcut.panels.chains import next_course
from flatcut.panels.crossed import Over
from flatcut.panels.cutting import cut
from flatcut.panels.links import Thing, leg_at
from flatcut.pattern.renewing import free_name
from flatcut.pattern.values import Dart, Line, Pattern, Piece, Seam

MANY = 7
"""So many parts of one piece are told apart by their edges in every order; more are taken in theirs."""


@dataclass
class Parts:
    """What became of one piece. parts: uids, in order from the start of the first edge; names: of the new edges, as
    the lines were called; overs: darts that were run across; missed: darts that no line came to; dropped: sentences."""

    pattern: Pattern
    piece: Piece
    parts: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    overs: list[Over] = field(default_factory=list)
    missed: list[Dart] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)


def with_other_parts(piece: Piece, things: Sequence[Thing]) -> list[Thing]:
    """Lines and darts with the other parts of those lines that a dart has in two.

    They bear the same name; or the name with a number, where they end on the other leg of a dart that is named.
    """
    found = list(things)
    darts = [thing for thing in things if isinstance(thing, Dart)]
    for line in [thing for thing in things if isinstance(thing, Line)]:
        for other in piece.lines:
            stem, _, number = other.name.rpartition("-")
            numbered = stem == line.name and number.isdigit() and any(_over(dart, line, other) for dart in darts)
            if other not in found and (other.name == line.name or numbered):
                found.append(other)
    return found


def _over(dart: Dart, one: Line, other: Line) -> bool:
    """Whether two lines end on the two legs of a dart."""
    legs = [{leg_at(dart, end) for end in (item.curve.start, item.curve.end)} for item in (one, other)]
    return any(a is not None and b is not None and a != b for a in legs[0] for b in legs[1])


def cut_up(
    pattern: Pattern, piece: Piece, things: Sequence[Thing], poles: Mapping[str, int], edge: str, within: float
) -> Parts:
    """A piece cut along all courses that lines and darts on it make, all parts named as it was.

    poles: as for `next_course`; edge: name of the new edges, '' for that of the line; within: as
    for `cut`. Errors: UsageError,
    GeometryError.
    """
    made = Parts(pattern, piece)
    wanted = {thing.uid for thing in with_other_parts(piece, things)}
    order = [thing.uid for thing in things]
    waiting = [piece.uid]
    while waiting:
        part = made.pattern.piece_of(waiting.pop(0))
        on_part: tuple[Thing, ...] = (*part.darts, *part.lines)
        here = [thing for thing in on_part if thing.uid in wanted]
        here.sort(key=lambda thing: order.index(thing.uid) if thing.uid in order else len(order))
        way, missed = next_course(part, here, poles, again=bool(made.names))
        made.missed += missed
        if way is None:
            made.parts.append(part.uid)
            continue
        name = edge or way.named()
        _refuse_name(part, name, way.used)
        done = cut(made.pattern, part, way, name, within=within)
        made.pattern = done.pattern
        made.overs += way.overs
        made.dropped += done.dropped
        made.names.append(name)
        wanted |= {way_of.to for uid in wanted for way_of in done.lines.get(uid, ())}
        wanted -= way.used
        wanted -= {dart.uid for dart in made.missed}
        # the halves of a dart bear its name
        halved = {one.dart.name for one in way.overs if one.dart.double}
        for p in done.parts:
            wanted |= {dart.uid for dart in p.darts if dart.name in halved}
        waiting[:0] = [p.uid for p in done.parts]
    return made


def _refuse_name(piece: Piece, name: str, used: set[str]) -> None:
    others = {thing.name for thing in piece.things() if thing.uid not in used}
    if name in others:
        raise UsageError(f"{piece.name} has a '{name}' already; give another name with ", Option("edge"))


def new_edges(pattern: Pattern, cuts: Sequence[Parts]) -> dict[str, str]:
    """The edges that cuts made, also in parts: by uid the name that they were given."""
    found = {}
    for one in cuts:
        old = {edge.name for edge in one.piece.edges}
        for uid in one.parts:
            for edge in pattern.piece_of(uid).edges:
                stem = next((n for n in one.names if re.fullmatch(rf"{re.escape(n)}(-\d+)?", edge.name)), None)
                if stem is not None and edge.name not in old:
                    found[edge.uid] = stem
    return found


# Names of the parts ---------------------------------------------------------------------------------------------------


def named(pattern: Pattern, cuts: Sequence[Parts], names: Sequence[str]) -> Pattern:
    """The pattern with the parts called by `names`, each NAME or NAME.EDGE, where that part has the edge; none numbers
    them. Names are given piece by piece. Errors: UsageError for names that do not tell."""
    count = sum(len(one.parts) for one in cuts)
    gone = {one.piece.name for one in cuts}
    taken = {p.name for p in pattern.pieces} - gone
    if names and len(names) != count:
        given = "1 name is" if len(names) == 1 else f"{len(names)} names are"
        raise UsageError(f"the cut makes {count} pieces, and {given} given; give {count}")
    called = [name.partition(".")[0] for name in names]
    for k, name in enumerate(called):
        if name in called[:k]:
            raise UsageError(f"two parts would be called {name}; give each a name of its own")
        if name in taken:
            raise UsageError(f"there is a piece '{name}' already; give another name")
    found: dict[str, str] = {}
    order: list[str] = []
    for one in cuts:
        own, names = names[: len(one.parts)], names[len(one.parts) :]
        if own:
            parts = _told(pattern, one, own)
            found |= {uid: name.partition(".")[0] for uid, name in zip(parts, own, strict=True)}
        else:
            parts = one.parts
            for k, uid in enumerate(parts):
                found[uid] = free_name(f"{one.piece.name}-{k + 1}", taken | set(found.values()))
        order += parts
    pieces = [replace(p, name=found.get(p.uid, p.name)) for p in pattern.pieces]
    places = {uid: k for k, uid in enumerate(order)}
    sorted_parts = iter(sorted((p for p in pieces if p.uid in places), key=lambda p: places[p.uid]))
    pieces = [next(sorted_parts) if p.uid in places else p for p in pieces]
    new = new_edges(pattern, cuts)
    seams = tuple(_turned(seam) if _wrong_way(seam, new, places) else seam for seam in pattern.seams)
    return replace(pattern, pieces=tuple(pieces), seams=seams)


def _wrong_way(seam: Seam, new: Mapping[str, str], places: Mapping[str, int]) -> bool:
    """Whether a seam that a cut made names the part that comes later first."""
    parts = (*seam.a, *seam.b)
    return all(part.of in new for part in parts) and places[seam.a[0].piece] > places[seam.b[0].piece]


def _turned(seam: Seam) -> Seam:
    """The same seam, told from its other side."""
    return replace(seam, a=seam.b, b=seam.a, ease=-seam.ease)


def _told(pattern: Pattern, one: Parts, names: Sequence[str]) -> list[str]:
    """The parts of a piece in the order of their names."""
    piece = one.piece
    new = new_edges(pattern, [one])
    having: list[set[str]] = []
    edges = {uid: {e.name for e in pattern.piece_of(uid).edges if e.uid not in new} for uid in one.parts}
    for name in names:
        called, _, edge = name.partition(".")
        if not edge:
            having.append(set(one.parts))
            continue
        found = {uid for uid in one.parts if edge in edges[uid]}
        if not found:
            piece.edge(edge)  # says which there are
            raise UsageError(f"no part of {piece.name} has its {edge} as an edge; name another one with {called}")
        having.append(found)
    ways = [
        way
        for way in (permutations(one.parts) if len(one.parts) <= MANY else [tuple(one.parts)])
        if all(uid in some for uid, some in zip(way, having, strict=True))
    ]
    if not ways:
        raise UsageError(_on_one_part(piece, names, having))
    stated = [k for k, name in enumerate(names) if "." in name]
    for k in stated:
        if len({way[k] for way in ways}) > 1:
            called, _, edge = names[k].partition(".")
            which = "both" if len(one.parts) == 2 else "several"
            raise UsageError(f"{which} parts have a piece of {piece.name}.{edge}; name an edge that only {called} has")
    return list(ways[0])


def _on_one_part(piece: Piece, names: Sequence[str], having: Sequence[set[str]]) -> str:
    told = [
        f"{piece.name}.{name.partition('.')[2]}" for name, some in zip(names, having, strict=True) if len(some) == 1
    ]
    both = " and ".join(told)
    return f"{both} lie on one part; name an edge of each, or of one"
