"""An SVG file as a tree and as what it draws, in document millimetres.

Document millimetres: the origin is the upper left corner of the page, x to the right, y down, true size: 96 px are
25.4 mm (CSS Values and Units Level 3, section 6.2). A file without a size, or with one in %, counts one unit of its
viewBox as one px.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from lxml import etree

from flatcut.errors import FileName, InputError
from flatcut.formats.svg.elements import LABEL, LOCKED, SVG, described, local, tag
from flatcut.formats.svg.lengths import PX
from flatcut.formats.svg.numbers import number
from flatcut.formats.svg.parsing import parse_xml
from flatcut.formats.svg.shapes import DRAWABLE, strokes
from flatcut.formats.svg.strokes import Spans, Strokes, SubPath, gather, subpaths
from flatcut.formats.svg.texts import box, first_place, words
from flatcut.formats.svg.viewport import Window, view_box
from flatcut.formats.svg.viewport import page as page_of
from flatcut.formats.svg.visibility import Sheet, rules
from flatcut.formats.svg.walking import Layer, Place, inner, walk
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.units import LARGEST

__all__ = ["Document", "Drawn", "Layer", "Text", "load"]

STILL = 1e-7
"""A map from the drawing to the page whose numbers differ by less has not changed: the rounding of what is written."""


def load(data: bytes, *, name: str = "the file") -> Document:
    """The document of an SVG file, plain or packed (.svgz). Nothing is fetched (`parsing`).

    Errors: InputError with one sentence that begins with `name`, for what is empty, not XML, not SVG, or harmful.

    >>> svg = b'<svg xmlns="http://www.w3.org/2000/svg"><rect id="a" width="96" height="48"/></svg>'
    >>> drawn, = load(svg).drawn()
    >>> drawn.id, drawn.subpaths[0].curve.nodes[2].round(9)
    ('a', array([25.4, 12.7]))
    >>> load(b"<html/>", name="a.svg")
    Traceback (most recent call last):
    ...
    flatcut.errors.InputError: a.svg is no SVG drawing, its first element is html; choose an SVG file
    """
    tree, declared = parse_xml(data, name=name)
    root = tree.getroot()
    if root.tag != tag("svg"):
        if local(root) == "svg":
            raise InputError(FileName(name), f' is no SVG drawing yet; write xmlns="{SVG}" into its first element')
        raise InputError(
            FileName(name), f" is no SVG drawing, its first element is {local(root)[:40]}; choose an SVG file"
        )
    window, (width, height) = page_of(root, name=name)
    return Document(tree, name, (width * PX, height * PX), window, declared)


class Drawn(NamedTuple):
    """A visible path or shape.

    element: the path or shape; id: its own, or that of the clone that shows it; where there is none, a name such as
    `unnamed-path-1`, the same at every reading, that the file does not hold;
    subpaths: in document mm, empty when nothing in it has length; dropped: segments and subpaths without length;
    matrix: from its user space to document mm;
    label: its name in the editor; group: the nearest `g` around it; layer: the nearest layer; locked: whether it or
    what it lies in is locked; for a clone, all these are the clone's;
    use: the clone (the outermost of clones in clones), None for what is drawn where it stands.
    """

    element: etree._Element
    id: str
    subpaths: tuple[SubPath, ...]
    matrix: Affine
    label: str = ""
    group: etree._Element | None = None
    layer: Layer | None = None
    locked: bool = False
    use: etree._Element | None = None
    dropped: int = 0

    @property
    def group_id(self) -> str:
        """The id of the group, '' without a group or an id."""
        return "" if self.group is None else self.group.get("id", "")


class Text(NamedTuple):
    """A visible text. text: its lines, spaces run together; at: (2,) mm, where its first line is anchored.

    box: about where its letters stand, (4, 2) mm.
    """

    id: str
    text: str
    at: Array
    box: Array
    element: etree._Element
    group: etree._Element | None = None
    layer: Layer | None = None

    @property
    def group_id(self) -> str:
        """The id of the group, '' without a group or an id."""
        return "" if self.group is None else self.group.get("id", "")


@dataclass(eq=False, repr=False)
class Document:
    """An SVG file. Its tree may be changed; `drawn` and the other questions are answered afresh each time.

    page: width and height in mm; declared: whether the file began with an XML declaration, and so shall the bytes.
    """

    tree: etree._ElementTree
    name: str
    page: tuple[float, float]
    window: Window
    declared: bool = True
    _taken: set[str] = field(default_factory=set, repr=False)
    _numbers: dict[str, int] = field(default_factory=dict, repr=False)
    _index: dict[str, etree._Element] = field(default_factory=dict, repr=False)

    @property
    def root(self) -> etree._Element:
        """The outermost svg element."""
        return self.tree.getroot()

    @property
    def to_mm(self) -> Affine:
        """From the user space of the outermost svg to document mm."""
        return Affine.scaling(PX) @ self.window.inner

    def matrix_of(self, element: etree._Element) -> Affine:
        """From the space that an element's points, or what it holds, are drawn in to document mm.

        Its own transform is part of it, and so are the window of an inner svg and the x and y of a clone; for what a
        clone shows, ask `Drawn.matrix`. Errors: InputError when a transform flattens the plane or cannot be read.
        """
        matrix, size = self.to_mm, self.window.size
        for part in [*reversed(list(element.iterancestors())), element][1:]:
            space = inner(part, matrix, size)
            if space is None:
                raise InputError(f"{described(part)} is flattened to nothing; undo its transform")
            matrix, size = space
        return matrix

    def drawn(self, *, only: Container[etree._Element] | None = None) -> list[Drawn]:
        """The visible paths and shapes in the order of the document, clones where they are shown.

        only: elements that are looked at, those on the way to them included (`walking.walk`); None means all.

        Not among them: what is not displayed or hidden (`visibility`), definitions, clips, masks, symbols, markers,
        patterns, texts, images. A clip does not shorten what it clips.
        Errors: InputError that names the element, for path data, lengths and transforms that cannot be read, numbers
        that are not finite, and points farther than `units.LARGEST` from the page.
        """
        found = [(element, place) for element, place in self._walk(only) if element.tag in DRAWABLE]
        own = [strokes(element, place.size) for element, place in found]
        spans = self._in_mm(found, own)
        every = subpaths(spans)
        lost = [count or (sub is None) for count, sub in zip(spans.dropped.tolist(), every, strict=True)]
        name = _Namer()
        result: list[Drawn] = []
        first = 0
        for (element, place), parts in zip(found, own, strict=True):
            if not parts:
                continue
            last = first + len(parts)
            use = place.uses[0] if place.uses else None
            named = element if use is None else use
            result.append(
                Drawn(
                    element=element,
                    id=name(named),
                    subpaths=tuple(sub for sub in every[first:last] if sub is not None),
                    matrix=place.matrix,
                    label=named.get(LABEL, ""),
                    group=place.group,
                    layer=place.layer,
                    locked=place.locked or named.get(LOCKED) == "true",
                    use=use,
                    dropped=sum(lost[first:last]),
                )
            )
            first = last
        return result

    def texts(self) -> list[Text]:
        """The visible texts in the order of the document.

        Their points may be anywhere; only a place that is not finite is an error, as in `drawn`.
        """
        name = _Namer()
        result: list[Text] = []
        for element, place in self._walk():
            if element.tag in DRAWABLE:
                continue
            at = place.matrix.apply(first_place(element, place.size))
            if not np.isfinite(at).all():
                raise InputError(f"{described(element)} stands nowhere on the page; delete it or write it anew")
            named = place.uses[0] if place.uses else element
            around = frozen(place.matrix.apply(box(element, place.size)))
            result.append(Text(name(named), words(element), frozen(at), around, element, place.group, place.layer))
        return result

    def by_id(self, name: str) -> etree._Element | None:
        """The element with an id, the first if several have it; None without one."""
        found = self._index.get(name)
        if found is not None and found.get("id") == name and found.getroottree().getroot() is self.root:
            return found
        self._index = self._by_id()
        return self._index.get(name)

    def fresh_id(self, prefix: str) -> str:
        """An id that no element has: `prefix`-1, -2 ..., the first that is free, which counts as taken from now on.

        Ids that are written into the tree by other means after the first call are not noticed.

        >>> document = load(b'<svg xmlns="http://www.w3.org/2000/svg"><g id="piece-1"/></svg>')
        >>> document.fresh_id("piece"), document.fresh_id("piece")
        ('piece-2', 'piece-3')
        """
        if not self._taken:
            self._taken.update(self._by_id())
        number = self._numbers.get(prefix, 0) + 1
        while (name := f"{prefix}-{number}") in self._taken:
            number += 1
        self._numbers[prefix] = number
        self._taken.add(name)
        return name

    def grow(self, page: tuple[float, float]) -> None:
        """Make the page as large as asked, mm, to the right and downwards; it never shrinks, and nothing on it moves.

        A page whose size is no plain length, or whose viewBox is fitted into it with room to spare, stays as it is.
        """
        if page[0] <= self.page[0] and page[1] <= self.page[1]:
            return
        before, to_mm = {str(key): str(value) for key, value in self.root.attrib.items()}, self.to_mm
        box = view_box(self.root, name=self.name)
        if box is not None:
            grown = [old * new / had for old, new, had in zip(box[2:], page, self.page, strict=True)]
            self.root.set("viewBox", " ".join(number(value) for value in (*box[:2], *grown)))
        for key, side in zip(("width", "height"), page, strict=True):
            if not self.root.get(key, "").strip().endswith("%"):
                self.root.set(key, f"{number(side)}mm")
        window, (width, height) = page_of(self.root, name=self.name)
        moved = Affine.scaling(PX) @ window.inner
        if np.abs(np.array(moved) - np.array(to_mm)).max() > STILL:
            self.root.attrib.clear()
            self.root.attrib.update(list(before.items()))
            return
        self.window, self.page = window, (width * PX, height * PX)

    def to_bytes(self) -> bytes:
        """The file in UTF-8: the same tree gives the same bytes; comments around the root and the DOCTYPE are kept."""
        declaration = b""
        if self.declared:
            standalone = self.tree.docinfo.standalone
            alone = "" if standalone is None else f' standalone="{"yes" if standalone else "no"}"'
            declaration = f'<?xml version="1.0" encoding="UTF-8"{alone}?>\n'.encode()
        return declaration + etree.tostring(self.tree, encoding="UTF-8", xml_declaration=False) + b"\n"

    def _by_id(self) -> dict[str, etree._Element]:
        """Every id with the first element that has it."""
        found: dict[str, etree._Element] = {}
        for element in self.root.iter(etree.Element):
            key = element.get("id")
            if key is not None:
                found.setdefault(key, element)
        return found

    def _walk(self, only: Container[etree._Element] | None = None) -> list[tuple[etree._Element, Place]]:
        index: dict[str, etree._Element] = {}

        def find(name: str) -> etree._Element | None:
            if not index:
                index.update(self._by_id())
            return index.get(name)

        start = Place(self.to_mm, self.window.size)
        return list(walk(self.root, start, Sheet(rules(self.root)), find, only))

    def _in_mm(self, found: Sequence[tuple[etree._Element, Place]], own: Sequence[Sequence[Strokes]]) -> Spans:
        """The spans of all elements, each through its own map."""
        spans = gather([part for parts in own for part in parts])
        per_element = np.array([len(parts) for parts in own], dtype=np.intp)
        element_of = np.repeat(np.repeat(np.arange(len(own)), per_element), spans.counts)
        maps = np.array([place.matrix for _, place in found], dtype=float).reshape(-1, 6)[element_of]
        a, b, c, d, e, f = (maps[:, k, None] for k in range(6))
        x, y = spans.controls[..., 0], spans.controls[..., 1]
        with np.errstate(all="ignore"):
            controls = np.stack([a * x + c * y + e, b * x + d * y + f], axis=-1)
            wrong = ~(np.abs(controls) <= LARGEST).all(axis=(1, 2))
        if wrong.any():
            element = found[int(element_of[np.argmax(wrong)])][0]
            raise InputError(f"{described(element)} reaches farther than a kilometre; delete it or draw it smaller")
        return spans._replace(controls=controls)


class _Namer:
    """Ids, and names for elements without one, counted by kind; of elements with the same id the first has it.

    An element that shows several shapes has one name for all of them.
    """

    def __init__(self) -> None:
        self._counts: dict[str, int] = {}
        self._names: dict[etree._Element, str] = {}
        self._ids: set[str] = set()

    def __call__(self, element: etree._Element) -> str:
        found = self._names.get(element)
        if found is None:
            own = element.get("id", "")
            found = self._names[element] = own if own and own not in self._ids else self._numbered(local(element))
            self._ids.add(own)
        return found

    def _numbered(self, kind: str) -> str:
        self._counts[kind] = self._counts.get(kind, 0) + 1
        return f"unnamed-{kind}-{self._counts[kind]}"
