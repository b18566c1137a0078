"""Filling empty references before anything runs or is recorded.

A reference that is written is checked and put in its recorded form. An empty one is filled from the selection; where
nothing fits there, it is the one candidate of the pattern; with several the error lists them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.references import Ref
from flatcut.declared.selecting import RecordLine, from_selection, pieces_meant
from flatcut.errors import Option, UsageError, unknown
from flatcut.pattern.places import EVERY, Drawn, Part, Place, Reference, Run
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Dart, DrawnPath, Edge, Line, NamedPoint, Pattern

_Own = TypeVar("_Own", bound=Declared)


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
            pattern, given = from_selection(operation, kind, pattern, selection, record_line)
            if kind.optional and not kind.many and len(given) > 1 and kind.recorded:
                given = ()  # what may be left out is filled only where the selection leaves no doubt
            given = given or _only_candidate(key, kind, pattern, selection)
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
            raise UsageError(f"'{given}' is a run, and {kind.wanted} is wanted")
        _hold_run(pattern, given)
        return (given,)
    if (given == EVERY and "piece" in kind.of) or not (given.piece or given.chord):
        return (given,)  # every piece, and what goes by the piece that the operation is about
    if "piece" in kind.of and not given.chord and not given.name:
        return (Place(piece=pattern.piece(given.piece).name),)
    found = _kind(pattern, given)
    if "run" in kind.of and found in ("edge", "stretch", "line"):
        run = Run((Part(place=given),))
        _hold_run(pattern, run)
        return (run,)
    if found not in kind.of and not (found in ("corner", "point", "dart") and "place" in kind.of):
        raise UsageError(f"'{given}' is {'an' if found == 'edge' else 'a'} {found}, and {kind.wanted} is wanted")
    if found in ("place", "corner"):
        from flatcut.pattern.spots import spots

        spots(pattern, given)
    return (given,)


def _hold_run(pattern: Pattern, run: Run) -> None:
    """Raise where a run is none on the pattern."""
    from flatcut.pattern.runs import found_run  # pieces and edges are named oftener

    found_run(pattern, run)


def _of_drawn(pattern: Pattern, kind: Ref, given: Drawn) -> Sequence[Reference]:
    if "drawn" in kind.of:
        return (given,)
    from flatcut.declared.calling import called
    from flatcut.pattern.crossing_lines import crossed

    # only a name of a drawn object is a reason to read what is drawn
    named = [thing for thing in pattern.drawn if thing.id == given.id]
    if not named:
        raise unknown("drawn object", str(given).removeprefix("id:"), [thing.id for thing in pattern.drawn])
    pointing = [thing for thing in named if isinstance(thing, DrawnPath) and not all(thing.closed)]
    if not pointing or not {"edge", "run"} & set(kind.of):
        raise UsageError(
            f"{called(named[0], given)} is no piece, and {kind.wanted} is wanted; select it with the piece it lies on"
        )
    edges = [_edge(piece.name, edge.name) for piece, edge in crossed(pattern.pieces, pointing)]
    if not edges:
        raise UsageError(f"{called(named[0], given)} crosses no edge; draw it across one")
    return [one for edge in edges for one in _recorded(pattern, kind, edge)]


def _edge(piece: str, name: str) -> Place:
    return Place(piece=piece, name=name)


def _kind(pattern: Pattern, place: Place) -> str:
    if place.chord:
        return "place"
    if not place.name:
        pattern.piece(place.piece)
        return "piece"
    from flatcut.pattern.spots import find  # whole pieces are named oftener

    _, thing = find(pattern, place)
    if isinstance(thing, NamedPoint):
        return "point"
    if isinstance(thing, Dart):
        return "place" if place.part else "dart"
    if place.to is not None:
        return "stretch"
    if isinstance(thing, Line):
        return "place" if place.at or place.other else "line"
    if place.other:
        return "place" if place.at else "corner"
    return "edge" if place.at is None else "place"


def _things(pattern: Pattern) -> list[tuple[Place, Edge | Dart | Line | NamedPoint]]:
    return [(_edge(piece.name, thing.name), thing) for piece in pattern.pieces for thing in piece.things()]


_HOW = {
    "edge": "select a node inside it or both its ends, or draw a stroke across it",
    "corner": "select its node",
    "place": "select a node there, or draw a stroke across the edge",
    "dart": "draw one, or select a piece that has one",
    "line": "draw one and select it",
    "stretch": "select its two ends",
}
"""How a person in the editor points at each kind of thing."""

_CLASSES = {"edge": Edge, "dart": Dart, "line": Line, "point": NamedPoint}


def _only_candidate(key: str, kind: Ref, pattern: Pattern, selection: Selection) -> Sequence[Reference]:
    """The one thing that a reference can mean, of the pieces selected if any are.

    Errors: UsageError that lists the several or says that there is none.
    """
    if kind.optional or kind.hidden:
        return ()
    about = pieces_meant(pattern, selection)
    if selection.drawn and not about:
        raise UsageError(*_no_piece(Option(option(key)), kind, pattern, selection))
    candidates: list[Place] = []
    for of in kind.of:
        if of == "piece":
            candidates = [Place(piece=piece.name) for piece in pattern.pieces]
        elif of in _CLASSES:
            candidates = [name for name, thing in _things(pattern) if isinstance(thing, _CLASSES[of])]
        candidates = [one for one in candidates if not about or one.piece in about]
        if len(candidates) == 1:
            return candidates
        if candidates:
            break
    what = Option(option(key))
    if about:
        raise UsageError(*_among(what, kind, about, candidates))
    if not candidates:
        raise UsageError(what, f" wants {kind.wanted}; select it or name it")
    every = f" or '{EVERY}'" if kind.many and kind.of[0] == "piece" else ""
    raise UsageError(what, f" wants {kind.wanted}; select or name one of {_listed(candidates)}{every}")


def _among(what: Option, kind: Ref, about: Sequence[str], candidates: Sequence[Place]) -> tuple[str | Option, ...]:
    """What is said where the selected pieces have not the one thing that is wanted: selected, wanted, what to do."""
    selected = f"{' and '.join(about)} {'is' if len(about) == 1 else 'are'} selected"
    if candidates:
        return f"{selected}, and {kind.wanted} is wanted; select or name one of {_listed(candidates)} in ", what
    own = next((of for of in kind.of if of in _CLASSES and of != "edge"), "")
    has = f" and {'has' if len(about) == 1 else 'have'} no {own}" if own else ""
    how = next((_HOW[of] for of in kind.of if of in _HOW), "select it")
    return f"{selected}{has}, and {kind.wanted} is wanted; {how}, or name it in ", what


def _no_piece(what: Option, kind: Ref, pattern: Pattern, selection: Selection) -> tuple[str | Option, ...]:
    """What is said where only such drawn objects are selected as mean nothing here."""
    from flatcut.declared.calling import called

    things = {thing.id: called(thing) for thing in pattern.drawn}
    names = [things[one] for one in selection.drawn if one in things]
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    selected = f"{names[0]}{more} {'are' if more else 'is'} selected" if names else "no piece is selected"
    how = next((_HOW[of] for of in kind.of if of in _HOW), "select a piece")
    return f"{selected}, and {kind.wanted} is wanted; {how}, or name it in ", what


def _listed(candidates: Sequence[Place]) -> str:
    return ", ".join(map(str, candidates[:12])) + (" ..." if len(candidates) > 12 else "")
