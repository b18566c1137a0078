"""Plain drawn outlines that a step is pressed on: which of them become pieces first, and what they are called then."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from flatcut.declared.declared import Declared, kinds
from flatcut.declared.references import Ref
from flatcut.geometry.curves import bounds, chain
from flatcut.pattern.near_places import place_of
from flatcut.pattern.places import Drawn, Place, parse_place
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import DrawnPath, Pattern, outline

_Own = TypeVar("_Own", bound=Declared)


def outlines_meant(operation: Declared, pattern: Pattern, selection: Selection) -> list[str]:
    """Ids of closed drawn paths that stand where pieces, or what lies on one, are wanted, in order.

    Those stated, and those selected where a reference is left empty. Where the step may be about a drawn object itself,
    as a dart is made of a closed shape, one that lies within a piece is that object.
    """
    fields = [(kind, getattr(operation, key)) for key, kind in kinds(type(operation)).items() if isinstance(kind, Ref)]
    wanting = [(kind, held) for kind, held in fields if "drawn" not in kind.of and kind.there]
    stated = [one.id for _, held in wanting for one in _row(held) if isinstance(one, Drawn) and one.id]
    asked = selection.drawn if any(kind.selected and not held for kind, held in wanting) else ()
    if not stated and not asked:
        return []
    closed = {t.id: t for t in pattern.drawn if isinstance(t, DrawnPath) and t.curves and all(t.closed)}
    about_drawn = any(kind.hidden for kind, _ in fields)
    asked = tuple(one for one in asked if one in closed and not (about_drawn and _within(pattern, closed[one])))
    return list(dict.fromkeys(one for one in (*stated, *asked) if one in closed))


def _row(held: Any) -> Sequence[Any]:
    return held if isinstance(held, tuple) else (() if held is None else (held,))


def _within(pattern: Pattern, path: DrawnPath) -> bool:
    """Whether a path's box lies in that of a piece."""
    x0, y0, x1, y1 = bounds(chain(path.curves[:1], within=1e-6))
    boxes = [bounds(chain(outline(piece), within=1e-6)) for piece in pattern.pieces]
    return any(a <= x0 and b <= y0 and x1 <= c and y1 <= d for a, b, c, d in boxes)


Make = Callable[[Pattern, Sequence[str]], Pattern]
"""Makes pieces of closed paths by their ids, as a step of its own."""


def with_outlines(
    operation: _Own, pattern: Pattern, selection: Selection, make: Make
) -> tuple[_Own, Pattern, Selection]:
    """The operation, pattern and selection in which plain outlines that are meant are pieces."""
    ids = outlines_meant(operation, pattern, selection)
    if not ids:
        return operation, pattern, selection
    # strokes selected with an outline point at it: they are no lines of the new piece
    held = [t for t in pattern.drawn if isinstance(t, DrawnPath) and t.id in selection.drawn and not all(t.closed)]
    apart = (
        replace(pattern, drawn=tuple(thing for thing in pattern.drawn if not any(thing is one for one in held)))
        if held
        else pattern
    )
    made = make(apart, ids)
    made = replace(made, drawn=(*made.drawn, *held)) if held else made
    called = {piece.origin: piece.name for piece in made.pieces if piece.origin in ids}
    values = {
        key: _named(getattr(operation, key), called)
        for key, kind in kinds(type(operation)).items()
        if isinstance(kind, Ref)
    }
    return replace(operation, **values), made, _selected(selection, made, called)


def _named(held: Any, called: Mapping[str, str]) -> Any:
    """A field's value with the pieces in place of the drawn paths."""

    def piece(one: Any) -> Any:
        return Place(piece=called[one.id]) if isinstance(one, Drawn) and one.id in called else one

    return tuple(map(piece, held)) if isinstance(held, tuple) else piece(held)


def _selected(selection: Selection, pattern: Pattern, called: Mapping[str, str]) -> Selection:
    """The selection with the pieces in place of the drawn paths, and with places in place of their nodes."""
    places = [
        parse_place(place_of(pattern.piece(called[node.of]), np.array([node.x, node.y])))
        for node in selection.nodes
        if node.of in called
    ]
    there = {thing.id for thing in pattern.drawn}
    return replace(
        selection,
        pieces=tuple(
            selection.pieces if places else (*selection.pieces, *(called[i] for i in selection.drawn if i in called))
        ),
        places=(*selection.places, *dict.fromkeys(places)),
        drawn=tuple(one for one in selection.drawn if one in there),
        nodes=(),
    )
