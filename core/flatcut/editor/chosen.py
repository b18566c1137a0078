"""What is selected in the editor, ids and nodes, in the pattern's own terms."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from lxml import etree

from flatcut.drawing.roles import CUT
from flatcut.errors import UsageError
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.vocabulary import own
from flatcut.pattern.places import parse_place
from flatcut.pattern.selection import Node, Selection
from flatcut.pattern.values import Pattern


class _Owner(NamedTuple):
    """What an element stands for: a piece by name, or a drawn object by id, or an inner line as `piece.line`."""

    kind: str
    name: str


def selection(
    drawing: Drawing, pattern: Pattern, ids: Sequence[str], nodes: Sequence[str] = (), *, several: bool = False
) -> Selection:
    """What is selected, in the pattern's own terms, each once and in order.

    A click on anything that belongs to a piece means the piece, on an inner line that line, on a line of a dart that
    dart; a group or clone means all that is in it. Nodes are places on the outline of the path selected, or beside
    them where it is the cut line.
    several: whether nodes of several paths are taken: in a live preview the editor puts them on the wrong path.
    Errors: UsageError for nodes while several objects are selected.
    """
    if nodes and len(ids) > 1 and not several:
        raise UsageError("nodes are read from one path at a time; select one path, or write the names of the places")
    owners = _owners(drawing, pattern)
    wanted = set(ids)
    elements = {e.get("id", ""): e for e in drawing.document.root.iter(etree.Element) if e.get("id") in wanted}
    if any(element not in owners for element in elements.values()):
        drawn = {element: _Owner("drawn", name) for name, element in drawing.drawn.items()}
        owners = {**drawn, **owners}
    found: dict[str, dict[str, None]] = {"piece": {}, "drawn": {}, "line": {}, "dart": {}}
    for name in ids:
        if name in elements:
            for owner in _meant(elements[name], owners, drawing):
                found[owner.kind][owner.name] = None
    spots = [*found["dart"], *(_places(drawing, pattern, elements, nodes) if nodes else ())]
    on = {spot.partition(".")[0] for spot in spots}
    return Selection(
        pieces=tuple(name for name in found["piece"] if not nodes or name not in on),
        drawn=tuple(found["drawn"]),
        lines=tuple(map(parse_place, found["line"])),
        places=tuple(map(parse_place, dict.fromkeys(spots))),
        nodes=tuple(_drawn_nodes(drawing, elements, found["drawn"], nodes)),
    )


def _owners(drawing: Drawing, pattern: Pattern) -> dict[etree._Element, _Owner]:
    """What the elements of pieces stand for."""
    owners: dict[etree._Element, _Owner] = {}
    for piece in pattern.pieces:
        held = drawing.held.get(piece.uid)
        if held is None:
            continue
        inner = {line.uid: _Owner("line", f"{piece.name}.{line.name}") for line in piece.lines}
        inner |= {dart.uid: _Owner("dart", f"{piece.name}.{dart.name}") for dart in piece.darts}
        own_parts = [held.outline, *held.derived, *([] if held.group is None else [held.group])]
        owners.update((element, _Owner("piece", piece.name)) for element in own_parts)
        for uid, element in held.inner.items():
            owners[element] = inner.get(uid, _Owner("piece", piece.name))
    return owners


def _meant(
    element: etree._Element, owners: dict[etree._Element, _Owner], drawing: Drawing, *, depth: int = 0
) -> Iterator[_Owner]:
    """What one selected element means: itself, else what it lies in, else all that lies in it or that it shows."""
    for around in (element, *element.iterancestors()):
        if around in owners:
            yield owners[around]
            return
    for inside in element.iter(etree.Element):
        if inside in owners:
            yield owners[inside]
        shows = inside.get("{http://www.w3.org/1999/xlink}href") or inside.get("href") or ""
        if inside.tag == "{http://www.w3.org/2000/svg}use" and shows.startswith("#") and depth < 5:
            for shown in drawing.document.root.iterfind(f".//*[@id='{shows[1:]}']"):
                yield from _meant(shown, owners, drawing, depth=depth + 1)


def _places(
    drawing: Drawing, pattern: Pattern, elements: Mapping[str, etree._Element], nodes: Sequence[str]
) -> Iterator[str]:
    """The places of nodes of outlines and cut lines, in the order of the nodes for each path."""
    for name, element in elements.items():
        mine = [node for node in nodes if node.rsplit(":", 2)[0] == name]
        for piece in pattern.pieces if mine else ():
            held = drawing.held.get(piece.uid)
            if held is None:
                continue
            beside = element.get(own("drawn")) == CUT.name and element.get(own("piece-of")) == piece.uid
            from flatcut.editor.nodes import places  # only where nodes are selected

            if beside or (held.outline is element and element.get(own("outline")) is not None):
                yield from places(piece, element, drawing.document.matrix_of(element), mine, beside=beside)


def _drawn_nodes(
    drawing: Drawing, elements: Mapping[str, etree._Element], drawn: Iterable[str], nodes: Sequence[str]
) -> Iterator[Node]:
    """The nodes of paths that are no piece."""
    for name in drawn if nodes else ():
        mine = [node for node in nodes if node.rsplit(":", 2)[0] == name]
        element = elements.get(name)
        if mine and element is not None and element.get("d"):
            matrix = drawing.document.matrix_of(element)
            from flatcut.editor.nodes import points  # likewise

            for x, y in points(element, matrix, mine, of="the path selected"):
                yield Node(name, float(x), float(y))
