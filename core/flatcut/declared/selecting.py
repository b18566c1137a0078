"""What a selection means where a reference is left empty: pieces, edges, stretches, darts, places.

Only what is selected is looked at. A node says no more than it shows: what may mean two things is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TypeAlias

from flatcut.declared.declared import Declared, kinds
from flatcut.declared.references import Ref
from flatcut.errors import UsageError
from flatcut.pattern.places import Drawn, Place, Reference
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Dart, DrawnPath, Edge, NamedPoint, Pattern, Piece, Position
from flatcut.pattern.walking import sewn_at, sewn_length, to_sewn

RecordLine: TypeAlias = Callable[[Pattern, str, Selection], Pattern]
"""Makes an internal line of the drawn path of that id, as a step of its own."""

SAME = 1e-6
"""mm along an edge: two places nearer than this are one."""


def from_selection(
    operation: Declared, kind: Ref, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, Sequence[Reference]]:
    """References of the kinds wanted that the selection holds; the first kind that finds any wins.

    Errors: UsageError for nodes that may mean two things, or mean none of the kinds wanted.
    """
    for of in kind.of:
        if of == "line" and not selection.lines:
            made = _drawn_lines(operation, pattern, selection, record_line)
            if made is not None:
                return made
        found = _FILL[of](pattern, selection)
        if of in ("edge", "run") and not ("place" in kind.of and of == "run"):
            found = _unambiguous(kind, pattern, selection, found)
        if of == "place":
            found = _places(operation, kind, pattern, selection)
        if found:
            return pattern, found
    return pattern, ()


def pieces_meant(pattern: Pattern, selection: Selection) -> list[str]:
    """Names of the pieces that a selection is about: those selected, those of its nodes and lines, else those that a
    selected stroke crosses."""
    named = [place.piece for place in (*selection.places, *selection.lines)]
    found = list(dict.fromkeys([*selection.pieces, *named]))
    return found or list(dict.fromkeys(piece.name for piece, _ in _crossed(pattern.pieces, pattern, selection)))


def strokes(pattern: Pattern, selection: Selection) -> list[DrawnPath]:
    """The selected paths that are open."""
    if not selection.drawn:
        return []
    chosen = {thing.id: thing for thing in pattern.drawn if isinstance(thing, DrawnPath)}
    return [chosen[i] for i in selection.drawn if i in chosen and not all(chosen[i].closed)]


def _crossed(pieces: Sequence[Piece], pattern: Pattern, selection: Selection) -> Iterable[tuple[Piece, Edge]]:
    """Edges that selected strokes cross, each with its piece."""
    marked = strokes(pattern, selection)
    if not marked:
        return []
    from flatcut.pattern.crossing_lines import crossed  # most often no stroke is selected

    return crossed(pieces, marked)


def _drawn_lines(
    operation: Declared, pattern: Pattern, selection: Selection, record_line: RecordLine
) -> tuple[Pattern, Sequence[Reference]] | None:
    """Selected open paths, recorded as `line` steps first."""
    if operation.command == "line":
        return None
    names: list[Reference] = []
    for drawn in strokes(pattern, selection):
        before = {(p.name, line.name) for p in pattern.pieces for line in p.lines}
        pattern = record_line(pattern, drawn.id, selection)
        new = dict.fromkeys((p.name, line.name) for p in pattern.pieces for line in p.lines)
        names += [_edge(*names) for names in new if names not in before]
    return (pattern, names) if names else None


def _edge(piece: str, name: str) -> Place:
    return Place(piece=piece, name=name)


def _pieces(pattern: Pattern, selection: Selection) -> list[Reference]:
    named = [*selection.pieces, *(place.piece for place in (*selection.places, *selection.lines))]
    return [Place(piece=name) for name in dict.fromkeys(named)]


class _Outline:
    """The selected nodes of one piece, in the order of selection, as where they lie on its edges."""

    def __init__(self, pattern: Pattern, piece: Piece, places: Sequence[Place]) -> None:
        self.piece = piece
        self.corners: list[int] = []  # each by the number of the edge that ends there
        self.inside: list[tuple[int, float, Place]] = []
        self.steps: list[float] = []  # along the outline, counted in edges
        number = {edge.name: k for k, edge in enumerate(piece.edges)}
        from flatcut.pattern.spots import find  # only where nodes are selected

        for place in places:
            thing = find(pattern, place)[1]
            if not isinstance(thing, Edge):
                continue
            k = number[thing.name]
            if place.other:
                ends = k if piece.after(thing).name == place.other else number[place.other]
                self.corners.append(ends)
                self.steps.append(float((ends + 1) % len(piece.edges)))
            elif place.at is not None:
                along = sewn_at(thing, place.at)
                self.inside.append((k, along, place))
                self.steps.append(k + along / sewn_length(thing))

    def chosen(self) -> list[int]:
        """Numbers of the edges meant: by both ends, or by a node inside; in outline order.

        Where they are one run it begins at its start. Where they are all, it begins at the node selected first, if the
        nodes were selected clockwise, else with the first edge.
        """
        count = len(self.piece.edges)
        both = {k for k in range(count) if k in self.corners and (k - 1) % count in self.corners}
        found = sorted(both | {k for k, _, _ in self.inside})
        starts = [k for k in found if (k - 1) % count not in found]
        if len(starts) == 1:
            first = starts[0]
        elif len(found) == count and self._clockwise():
            first = int(self.steps[0])
        else:
            return found
        return sorted(found, key=lambda k: (k - first) % count)

    def lonely(self) -> list[int]:
        """Corners that are the end of no edge meant."""
        found, count = set(self.chosen()), len(self.piece.edges)
        return [k for k in self.corners if k not in found and (k + 1) % count not in found]

    def _clockwise(self) -> bool:
        pairs = zip(self.steps, self.steps[1:] + self.steps[:1], strict=True)
        return sum(after < before for before, after in pairs) <= 1

    def stretch(self) -> tuple[Edge, float, float] | None:
        """The edge that exactly two nodes lie on, and where, in mm as sewn; None where they are both its ends."""
        if len(self.corners) + len(self.inside) != 2:
            return None
        count = len(self.piece.edges)
        on: dict[int, list[float]] = {}
        for k in self.corners:
            on.setdefault(k, []).append(sewn_length(self.piece.edges[k]))
            on.setdefault((k + 1) % count, []).append(0.0)
        for k, along, _ in self.inside:
            on.setdefault(k, []).append(along)
        shared = [(k, sorted(places)) for k, places in on.items() if len(places) == 2]
        if len(shared) != 1:
            return None
        edge, (low, high) = self.piece.edges[shared[0][0]], shared[0][1]
        whole = low <= SAME and high >= sewn_length(edge) - SAME
        return None if whole or high - low <= SAME else (edge, low, high)


def _outlines(pattern: Pattern, selection: Selection) -> list[_Outline]:
    """The selected nodes by piece, in the order of selection."""
    names = dict.fromkeys(place.piece for place in selection.places if not place.chord)
    return [_Outline(pattern, pattern.piece(n), [p for p in selection.places if p.piece == n]) for n in names]


def _edges(pattern: Pattern, selection: Selection) -> list[Reference]:
    """Edges by their nodes, then those that strokes cross, of the selected pieces if any are."""
    found = [
        _edge(outline.piece.name, outline.piece.edges[k].name)
        for outline in _outlines(pattern, selection)
        for k in outline.chosen()
    ]
    only = [piece for piece in pattern.pieces if not selection.pieces or piece.name in selection.pieces]
    pointed = [_edge(piece.name, edge.name) for piece, edge in _crossed(only, pattern, selection)]
    return list(dict.fromkeys([*found, *pointed]))


def _stretches(pattern: Pattern, selection: Selection) -> list[Reference]:
    found: list[Reference] = []
    for outline in _outlines(pattern, selection):
        on = outline.stretch()
        if on is not None:
            low, high = (Position(mode="start", value=round(along, 6)) for along in on[1:])
            found.append(Place(piece=outline.piece.name, name=on[0].name, at=low, to=high))
    return found


def _unambiguous(kind: Ref, pattern: Pattern, selection: Selection, found: Sequence[Reference]) -> Sequence[Reference]:
    """The edges that nodes mean. Errors: UsageError where a node may mean two, or where they mean something else."""
    stretches = _stretches(pattern, selection)
    if stretches and len(stretches) == len(_outlines(pattern, selection)):
        if {"stretch", "run"} & set(kind.of):
            return stretches
        if not kind.optional:
            raise UsageError(
                f"the nodes selected mark the stretch {stretches[0]}, and {kind.wanted} is wanted; select one node "
                "inside the edge, or both its ends"
            )
    if kind.optional:
        return found
    for outline in _outlines(pattern, selection):
        for k in outline.lonely():
            first = outline.piece.edges[k]
            second = outline.piece.after(first)
            name = outline.piece.name
            raise UsageError(
                f"the corner {name}.{first.name}/{second.name} is selected, and {kind.wanted} is wanted: it may be "
                f"{name}.{first.name} or {name}.{second.name}; select both ends of the edge, or a node inside it"
            )
    parts = [place for place in selection.places if place.part]
    if parts and not found and not {"dart", "place"} & set(kind.of):
        raise UsageError(f"{parts[0]} is selected, and {kind.wanted} is wanted; select nodes of an edge")
    return found


def _places(operation: Declared, kind: Ref, pattern: Pattern, selection: Selection) -> Sequence[Reference]:
    """Places of nodes; without any, where strokes cross edges."""
    others = [k for k in kinds(type(operation)).values() if isinstance(k, Ref) and k is not kind and k.selected]
    found = list(selection.places)
    if any("dart" in other.of for other in others):
        found = [place for place in found if not _is_dart(pattern, place)]
    elif kind.optional:
        found = [place for place in found if place.part or not _is_dart(pattern, place)]
    if found or any(one.hidden for one in kinds(type(operation)).values()):
        return found
    return _crossing_places(pattern, selection)


def _is_dart(pattern: Pattern, place: Place) -> bool:
    from flatcut.pattern.spots import find  # likewise

    return not place.chord and bool(place.name) and isinstance(find(pattern, place)[1], Dart)


def _crossing_places(pattern: Pattern, selection: Selection) -> list[Reference]:
    """Where selected open lines cross edges, of the selected pieces if any are: a stroke points to a place."""
    pieces = [piece for piece in pattern.pieces if not selection.pieces or piece.name in selection.pieces]
    found: list[Reference] = []
    marked = strokes(pattern, selection)
    if not marked:
        return found
    from flatcut.pattern.crossing_lines import crossed_at

    for piece, edge, drawn in crossed_at(pieces, marked):
        fraction = Position(mode="fraction", value=min(to_sewn(edge, drawn) / sewn_length(edge), 1.0))
        found.append(Place(piece=piece.name, name=edge.name, at=fraction))
    return found


def _darts(pattern: Pattern, selection: Selection) -> list[Reference]:
    """Darts by a node or a line of theirs; else the one dart of what is selected.

    Of a double-pointed dart the point that is selected says which end.
    """
    found: dict[Place, None] = {}
    for place in selection.places:
        if _is_dart(pattern, place):
            found[place if place.part in ("upper", "lower") else replace(place, part="")] = None
    return list(found) or _only_of(Dart)(pattern, selection)


def _only_of(wanted: type) -> Callable[[Pattern, Selection], list[Reference]]:
    def fill(pattern: Pattern, selection: Selection) -> list[Reference]:
        chosen = pieces_meant(pattern, selection)
        found: list[Reference] = [
            _edge(piece.name, thing.name)
            for piece in pattern.pieces
            if piece.name in chosen
            for thing in piece.things()
            if isinstance(thing, wanted)
        ]
        return found if len(found) == 1 else []

    return fill


_FILL: dict[str, Callable[[Pattern, Selection], Sequence[Reference]]] = {
    "piece": _pieces,
    "edge": _edges,
    "run": _edges,
    "corner": lambda pattern, selection: [p for p in selection.places if p.other and p.at is None],
    "place": lambda pattern, selection: selection.places,
    "stretch": _stretches,
    "dart": _darts,
    "point": _only_of(NamedPoint),
    "line": lambda pattern, selection: selection.lines,
    "drawn": lambda pattern, selection: [Drawn(id=i) for i in selection.drawn],
}
