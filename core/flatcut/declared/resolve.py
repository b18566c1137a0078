"""Filling empty references before anything runs or is recorded.

A reference that is written is checked and put in its recorded form. An empty one is filled from the selection; where
nothing fits there, it is the one candidate of the pattern; with several the error lists them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeAlias, TypeVar

from flatcut.declared.declared import Declared, option, specs
from flatcut.declared.fields import Spec
from flatcut.errors import UsageError, unknown
from flatcut.pattern.crossing_lines import crossed, crossed_at
from flatcut.pattern.places import Place, parse_place, show_position
from flatcut.pattern.runs import parse_run, show_run
from flatcut.pattern.selection import Selection
from flatcut.pattern.spots import edge_of, find, spots
from flatcut.pattern.values import Dart, DrawnPath, Edge, Line, NamedPoint, Pattern, Position
from flatcut.pattern.walking import sewn_length, to_sewn

ALL = "all"
"""As a target: every piece."""

_Own = TypeVar("_Own", bound=Declared)

RecordLine: TypeAlias = Callable[[Pattern, str, Selection], Pattern]
"""Makes an internal line of the drawn path of that id, as a step of its own."""


def resolve(operation: _Own, pattern: Pattern, selection: Selection, record_line: RecordLine) -> tuple[_Own, Pattern]:
    """The operation with every reference filled and in recorded form, and the pattern it then runs on.

    The pattern differs from the one handed in only where a drawn line had to be recorded as a `line` step first.
    Errors: UsageError, UnknownNameError.
    """
    values: dict[str, Any] = {}
    for key, spec in specs(type(operation)).items():
        if spec.kind != "ref":
            continue
        given = getattr(operation, key)
        texts = given if spec.many else ((given,) if given else ())
        if texts == (ALL,) and spec.many and "piece" in spec.of:
            continue
        if not texts:
            pattern, texts = _from_selection(operation, spec, pattern, selection, record_line)
            if spec.optional and not spec.many and len(texts) > 1 and spec.recorded:
                texts = ()  # what may be left out is filled only where the selection leaves no doubt
        if not texts:
            texts = _only_candidate(key, spec, pattern)
        known = [name for text in texts for name in _recorded(pattern, spec, text)]
        if not spec.many and len(known) > 1:
            raise UsageError(f"{operation.command} takes one {_said(spec)}, and {len(known)} are selected; select one")
        if "run" not in spec.of:  # a run that is given twice is a mistake that the operation names
            known = list(dict.fromkeys(known))
        values[key] = tuple(known) if spec.many else (known[0] if known else "")
    return replace(operation, **values), pattern


def _said(spec: Spec) -> str:
    return " or ".join(spec.of)


def _recorded(pattern: Pattern, spec: Spec, text: str) -> list[str]:
    """A reference as it is written down; a drawn line, where edges are wanted, is those that it crosses."""
    line = text.startswith("id:") and "drawn" not in spec.of and set(spec.of) & {"edge", "run"}
    # only a name of a drawn object is a reason to read what is drawn
    drawn = pattern.drawn if text.startswith("id:") else ()
    pointing = [d for d in drawn if isinstance(d, DrawnPath) and text == f"id:{d.id}" and not all(d.closed)]
    if not line or not pointing:
        return [_one_recorded(pattern, spec, text)]
    edges = [f"{piece.name}.{edge.name}" for piece, edge in crossed(pattern.pieces, pointing)]
    if not edges:
        raise UsageError(f"the line '{text}' crosses no edge; draw it across one")
    return edges


def _one_recorded(pattern: Pattern, spec: Spec, text: str) -> str:
    """A reference as it is written down; checks that it points to something of the right kind."""
    if "drawn" in spec.of and text.startswith(("id:", "drawn:")):
        return text
    if "run" in spec.of and ("+" in text or text.startswith("-")):
        return show_run(pattern, parse_run(pattern, text))
    place = parse_place(text)
    if place.drawn:
        known = [thing.id for thing in pattern.drawn]
        raise (
            unknown("drawn object", place.drawn, known)
            if place.drawn not in known
            else UsageError(
                f"'{text}' is a drawn object, and a {_said(spec)} is wanted; select it with the objects it lies on"
            )
        )
    if "piece" in spec.of and not place.chord and not place.name:
        return pattern.piece(place.piece).name
    kind = _kind(pattern, place)
    if "run" in spec.of and kind in ("edge", "stretch", "line"):
        return show_run(pattern, parse_run(pattern, text))
    if kind not in spec.of and not (kind in ("corner", "point", "dart") and "place" in spec.of):
        raise UsageError(f"'{text}' is a {kind}, and a {_said(spec)} is wanted")
    if kind in ("place", "corner"):
        spots(pattern, place)
    return str(place)


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
    operation: Declared, spec: Spec, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, tuple[str, ...]]:
    """References of the kinds wanted that the selection holds; the first kind that finds any wins."""
    for kind in spec.of:
        if kind == "line" and not selection.lines:
            made = _drawn_lines(operation, pattern, selection, record_line)
            if made is not None:
                return made
        found = _FILL[kind](pattern, selection)
        if kind == "place" and not found and not any(s.of == ("drawn",) for s in specs(type(operation)).values()):
            found = _crossing_places(pattern, selection)
        if found:
            return pattern, found
    return pattern, ()


def _drawn_lines(
    operation: Declared, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, tuple[str, ...]] | None:
    """Selected open paths, recorded as `line` steps first."""
    if operation.command == "line":
        return None
    names = []
    for drawn in _paths(pattern, selection):
        if not all(drawn.closed):
            before = {(p.name, line.name) for p in pattern.pieces for line in p.lines}
            pattern = record_line(pattern, drawn.id, selection)
            new = [(p.name, line.name) for p in pattern.pieces for line in p.lines]
            names += [f"{piece}.{line}" for piece, line in new if (piece, line) not in before]
    return (pattern, tuple(names)) if names else None


def _paths(pattern: Pattern, selection: Selection) -> list[DrawnPath]:
    if not selection.drawn:
        return []
    chosen = {thing.id: thing for thing in pattern.drawn if isinstance(thing, DrawnPath)}
    return [chosen[i] for i in selection.drawn if i in chosen]


def _pieces(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    named = [*selection.pieces, *(text.split(".")[0] for text in (*selection.places, *selection.lines))]
    return tuple(dict.fromkeys(named))


def _edges(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    places = [parse_place(text) for text in selection.places]
    inner = [f"{p.piece}.{p.name}" for p in places if not p.other]
    corners = [p for p in places if p.other]
    ended: dict[str, int] = {}
    for place in corners:
        for name in (place.name, place.other):
            ended[f"{place.piece}.{name}"] = ended.get(f"{place.piece}.{name}", 0) + 1
    # an edge is chosen by its two end nodes, or by any node inside it
    return tuple(
        dict.fromkeys([*inner, *(name for name, count in ended.items() if count > 1), *_crossed(pattern, selection)])
    )


def _crossed(pattern: Pattern, selection: Selection) -> list[str]:
    """Edges that selected open lines cross."""
    return [f"{piece.name}.{edge.name}" for piece, edge in crossed(pattern.pieces, _strokes(pattern, selection))]


def _crossing_places(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    """Where selected open lines cross edges, of the selected pieces if any are: a stroke points to a place."""
    pieces = [piece for piece in pattern.pieces if not selection.pieces or piece.name in selection.pieces]
    found = []
    for piece, edge, drawn in crossed_at(pieces, _strokes(pattern, selection)):
        fraction = Position(mode="fraction", value=min(to_sewn(edge, drawn) / sewn_length(edge), 1.0))
        found.append(f"{piece.name}.{edge.name}@{show_position(fraction)}")
    return tuple(found)


def _strokes(pattern: Pattern, selection: Selection) -> list[DrawnPath]:
    return [drawn for drawn in _paths(pattern, selection) if not all(drawn.closed)]


def _corners(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    return tuple(text for text in selection.places if "/" in text and "@" not in text)


def _places(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    return selection.places


def _stretches(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    if len(selection.places) != 2:
        return ()
    found = [s for text in selection.places for s in spots(pattern, text)]
    edges = {s.edge for s in found}
    if len(edges) != 1 or "" in edges:
        return ()
    place = parse_place(selection.places[0])
    piece, edge = edge_of(pattern, replace(place, other="", at=None))
    low, high = sorted(s.sewn for s in found)
    return (f"{piece.name}.{edge.name}@{low:.6f}..{high:.6f}",)


def _named_of(wanted: type) -> Callable[[Pattern, Selection], tuple[str, ...]]:
    def fill(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
        chosen = set(_pieces(pattern, selection))
        found = [name for name, thing in _things(pattern) if isinstance(thing, wanted) and name.split(".")[0] in chosen]
        return tuple(found) if len(found) == 1 else ()

    return fill


def _drawn(pattern: Pattern, selection: Selection) -> tuple[str, ...]:
    return tuple(f"id:{i}" for i in selection.drawn)


_FILL: dict[str, Callable[[Pattern, Selection], tuple[str, ...]]] = {
    "piece": _pieces,
    "edge": _edges,
    "run": _edges,
    "corner": _corners,
    "place": _places,
    "stretch": _stretches,
    "dart": _named_of(Dart),
    "point": _named_of(NamedPoint),
    "line": lambda pattern, selection: selection.lines,
    "drawn": _drawn,
}


def _things(pattern: Pattern) -> list[tuple[str, Edge | Dart | Line | NamedPoint]]:
    found: list[tuple[str, Edge | Dart | Line | NamedPoint]] = []
    for piece in pattern.pieces:
        found += [(f"{piece.name}.{thing.name}", thing) for thing in piece.things()]
    return found


def _only_candidate(key: str, spec: Spec, pattern: Pattern) -> tuple[str, ...]:
    """The one thing of a pattern that a reference can mean. Errors: UsageError that lists the several or says none."""
    if spec.optional or spec.of == ("drawn",):
        return ()
    kinds = {"edge": Edge, "dart": Dart, "line": Line, "point": NamedPoint}
    candidates: list[str] = []
    for kind in spec.of:
        if kind == "piece":
            candidates = [piece.name for piece in pattern.pieces]
        elif kind in kinds:
            candidates = [name for name, thing in _things(pattern) if isinstance(thing, kinds[kind])]
        if len(candidates) == 1:
            return (candidates[0],)
        if candidates:
            break
    what = "target" if key == "target" else f"--{option(key)}"
    if not candidates:
        raise UsageError(f"{what} wants a {_said(spec)}; select it or name it")
    shown = ", ".join(candidates[:12]) + (" ..." if len(candidates) > 12 else "")
    every = f" or '{ALL}'" if spec.many and spec.of[0] == "piece" else ""
    raise UsageError(f"{what} wants a {_said(spec)}; select or name one of {shown}{every}")
