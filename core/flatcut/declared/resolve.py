"""Filling empty references before anything runs or is recorded.

A reference that is written is checked and put in its recorded form. An empty one is filled from the selection; where
nothing fits there, it is the one candidate of the pattern; with several the error lists them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, TypeAlias, TypeVar

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.references import Ref
from flatcut.errors import Option, UsageError, unknown
from flatcut.pattern.crossing_lines import crossed, crossed_at
from flatcut.pattern.places import EVERY, Drawn, Part, Place, Reference, Run
from flatcut.pattern.runs import found_run
from flatcut.pattern.selection import Selection
from flatcut.pattern.spots import edge_of, find, spots
from flatcut.pattern.values import Dart, DrawnPath, Edge, Line, NamedPoint, Pattern, Position
from flatcut.pattern.walking import sewn_length, to_sewn

_Own = TypeVar("_Own", bound=Declared)

RecordLine: TypeAlias = Callable[[Pattern, str, Selection], Pattern]
"""Makes an internal line of the drawn path of that id, as a step of its own."""


def resolve(operation: _Own, pattern: Pattern, selection: Selection, record_line: RecordLine) -> tuple[_Own, Pattern]:
    """The operation with every reference filled and in recorded form, and the pattern it then runs on.

    The pattern differs from the one handed in only where a drawn line had to be recorded as a `line` step first.
    Errors: UsageError, UnknownNameError.
    """
    values: dict[str, Any] = {}
    for key, kind in kinds(type(operation)).items():
        if not isinstance(kind, Ref) or not kind.there:
            continue
        held = getattr(operation, key)
        given: Sequence[Reference] = held if kind.many else (() if held is None else (held,))
        if not given and kind.selected:
            pattern, given = _from_selection(operation, kind, pattern, selection, record_line)
            if kind.optional and not kind.many and len(given) > 1 and kind.recorded:
                given = ()  # what may be left out is filled only where the selection leaves no doubt
            given = given or _only_candidate(key, kind, pattern)
        known = [one for text in given for one in _recorded(pattern, kind, text)]
        if not kind.many and len(known) > 1:
            raise UsageError(f"{operation.command} takes one {kind.said}, and {len(known)} are selected; select one")
        # a run that is given twice is a mistake that the operation names, and so is a place that was stated
        if "run" not in kind.of and kind.selected:
            known = list(dict.fromkeys(known))
        values[key] = tuple(known) if kind.many else (known[0] if known else None)
    return replace(operation, **values), pattern


def _recorded(pattern: Pattern, kind: Ref, given: Reference) -> Sequence[Reference]:
    """A reference as it is recorded, of the right kind.

    An edge or line is a run where runs are wanted; a drawn line, where edges are, stands for those that it crosses.
    """
    if isinstance(given, Drawn):
        return _of_drawn(pattern, kind, given)
    if isinstance(given, Run):
        if "run" not in kind.of:
            raise UsageError(f"'{given}' is a run, and a {kind.said} is wanted")
        found_run(pattern, given)
        return (given,)
    if (given == EVERY and "piece" in kind.of) or not (given.piece or given.chord):
        return (given,)  # every piece, and what goes by the piece that the operation is about
    if "piece" in kind.of and not given.chord and not given.name:
        return (Place(piece=pattern.piece(given.piece).name),)
    found = _kind(pattern, given)
    if "run" in kind.of and found in ("edge", "stretch", "line"):
        run = Run((Part(place=given),))
        found_run(pattern, run)
        return (run,)
    if found not in kind.of and not (found in ("corner", "point", "dart") and "place" in kind.of):
        raise UsageError(f"'{given}' is a {found}, and a {kind.said} is wanted")
    if found in ("place", "corner"):
        spots(pattern, given)
    return (given,)


def _of_drawn(pattern: Pattern, kind: Ref, given: Drawn) -> Sequence[Reference]:
    if "drawn" in kind.of:
        return (given,)
    # only a name of a drawn object is a reason to read what is drawn
    named = [thing for thing in pattern.drawn if thing.id == given.id]
    if not named:
        raise unknown("drawn object", str(given).removeprefix("id:"), [thing.id for thing in pattern.drawn])
    pointing = [thing for thing in named if isinstance(thing, DrawnPath) and not all(thing.closed)]
    if not pointing or not {"edge", "run"} & set(kind.of):
        raise UsageError(
            f"'{given}' is a drawn object, and a {kind.said} is wanted; select it with the objects it lies on"
        )
    edges = [_edge(piece.name, edge.name) for piece, edge in crossed(pattern.pieces, pointing)]
    if not edges:
        raise UsageError(f"the line '{given}' crosses no edge; draw it across one")
    return [one for edge in edges for one in _recorded(pattern, kind, edge)]


def _edge(piece: str, name: str) -> Place:
    return Place(piece=piece, name=name)


def _kind(pattern: Pattern, place: Place) -> str:
    if place.chord:
        return "place"
    if not place.name:
        pattern.piece(place.piece)
        return "piece"
    _, thing = find(pattern, place)
    if isinstance(thing, NamedPoint):
        return "point"
    if isinstance(thing, Dart):
        return "place" if place.part else "dart"
    if isinstance(thing, Line):
        return "line"
    if place.other:
        return "place" if place.at else "corner"
    return "edge" if place.at is None else ("place" if place.to is None else "stretch")


def _from_selection(
    operation: Declared, kind: Ref, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, Sequence[Reference]]:
    """References of the kinds wanted that the selection holds; the first kind that finds any wins."""
    for of in kind.of:
        if of == "line" and not selection.lines:
            made = _drawn_lines(operation, pattern, selection, record_line)
            if made is not None:
                return made
        found = _FILL[of](pattern, selection)
        if of == "place" and not found and not any(one.hidden for one in kinds(type(operation)).values()):
            found = _crossing_places(pattern, selection)
        if found:
            return pattern, found
    return pattern, ()


def _drawn_lines(
    operation: Declared, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, Sequence[Reference]] | None:
    """Selected open paths, recorded as `line` steps first."""
    if operation.command == "line":
        return None
    names: list[Reference] = []
    for drawn in _strokes(pattern, selection):
        before = {(p.name, line.name) for p in pattern.pieces for line in p.lines}
        pattern = record_line(pattern, drawn.id, selection)
        new = [(p.name, line.name) for p in pattern.pieces for line in p.lines]
        names += [_edge(*names) for names in new if names not in before]
    return (pattern, names) if names else None


def _strokes(pattern: Pattern, selection: Selection) -> list[DrawnPath]:
    """The selected paths that are open."""
    if not selection.drawn:
        return []
    chosen = {thing.id: thing for thing in pattern.drawn if isinstance(thing, DrawnPath)}
    return [chosen[i] for i in selection.drawn if i in chosen and not all(chosen[i].closed)]


def _pieces(pattern: Pattern, selection: Selection) -> list[Reference]:
    named = [*selection.pieces, *(place.piece for place in (*selection.places, *selection.lines))]
    return [Place(piece=name) for name in dict.fromkeys(named)]


def _edges(pattern: Pattern, selection: Selection) -> list[Reference]:
    inner = [_edge(place.piece, place.name) for place in selection.places if not place.other]
    ended: dict[Place, int] = {}
    for corner in (place for place in selection.places if place.other):
        for name in (corner.name, corner.other):
            edge = _edge(corner.piece, name)
            ended[edge] = ended.get(edge, 0) + 1
    # an edge is chosen by its two end nodes, or by any node inside it
    whole = [edge for edge, count in ended.items() if count > 1]
    pointed = [_edge(piece.name, edge.name) for piece, edge in crossed(pattern.pieces, _strokes(pattern, selection))]
    return list(dict.fromkeys([*inner, *whole, *pointed]))


def _crossing_places(pattern: Pattern, selection: Selection) -> list[Reference]:
    """Where selected open lines cross edges, of the selected pieces if any are: a stroke points to a place."""
    pieces = [piece for piece in pattern.pieces if not selection.pieces or piece.name in selection.pieces]
    found: list[Reference] = []
    for piece, edge, drawn in crossed_at(pieces, _strokes(pattern, selection)):
        fraction = Position(mode="fraction", value=min(to_sewn(edge, drawn) / sewn_length(edge), 1.0))
        found.append(Place(piece=piece.name, name=edge.name, at=fraction))
    return found


def _stretches(pattern: Pattern, selection: Selection) -> list[Reference]:
    if len(selection.places) != 2:
        return []
    found = [s for place in selection.places for s in spots(pattern, place)]
    edges = {s.edge for s in found}
    if len(edges) != 1 or "" in edges:
        return []
    piece, edge = edge_of(pattern, replace(selection.places[0], other="", at=None))
    low, high = (Position(mode="start", value=round(at, 6)) for at in sorted(s.sewn for s in found))
    return [Place(piece=piece.name, name=edge.name, at=low, to=high)]


def _named_of(wanted: type) -> Callable[[Pattern, Selection], list[Reference]]:
    def fill(pattern: Pattern, selection: Selection) -> list[Reference]:
        chosen = {place.piece for place in _pieces(pattern, selection) if isinstance(place, Place)}
        found: list[Reference] = [name for name, thing in _things(pattern) if isinstance(thing, wanted)]
        found = [name for name in found if isinstance(name, Place) and name.piece in chosen]
        return found if len(found) == 1 else []

    return fill


_FILL: dict[str, Callable[[Pattern, Selection], Sequence[Reference]]] = {
    "piece": _pieces,
    "edge": _edges,
    "run": _edges,
    "corner": lambda pattern, selection: [p for p in selection.places if p.other and p.at is None],
    "place": lambda pattern, selection: selection.places,
    "stretch": _stretches,
    "dart": _named_of(Dart),
    "point": _named_of(NamedPoint),
    "line": lambda pattern, selection: selection.lines,
    "drawn": lambda pattern, selection: [Drawn(id=i) for i in selection.drawn],
}


def _things(pattern: Pattern) -> list[tuple[Place, Edge | Dart | Line | NamedPoint]]:
    return [(_edge(piece.name, thing.name), thing) for piece in pattern.pieces for thing in piece.things()]


def _only_candidate(key: str, kind: Ref, pattern: Pattern) -> Sequence[Reference]:
    """The one thing of a pattern that a reference can mean. Errors: UsageError that lists the several or says none."""
    if kind.optional or kind.hidden:
        return ()
    classes = {"edge": Edge, "dart": Dart, "line": Line, "point": NamedPoint}
    candidates: list[Place] = []
    for of in kind.of:
        if of == "piece":
            candidates = [Place(piece=piece.name) for piece in pattern.pieces]
        elif of in classes:
            candidates = [name for name, thing in _things(pattern) if isinstance(thing, classes[of])]
        if len(candidates) == 1:
            return candidates
        if candidates:
            break
    what = Option(option(key))
    if not candidates:
        raise UsageError(what, f" wants a {kind.said}; select it or name it")
    shown = ", ".join(map(str, candidates[:12])) + (" ..." if len(candidates) > 12 else "")
    every = f" or '{EVERY}'" if kind.many and kind.of[0] == "piece" else ""
    raise UsageError(what, f" wants a {kind.said}; select or name one of {shown}{every}")
