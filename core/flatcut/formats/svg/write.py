"""From a pattern back into its document: changed pieces are written, everything else stays byte for byte."""

from __future__ import annotations

from collections.abc import Iterable

from lxml import etree

from flatcut.drawing.ink import Ink
from flatcut.drawing.pieces import piece_ink
from flatcut.drawing.roles import DART, FOLD_LINE, GRAIN, LINE, OUTLINE, PLACEMENT, STITCH
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.drawing import Drawing, Held
from flatcut.formats.svg.elements import INKSCAPE, SODIPODI, tag
from flatcut.formats.svg.metadata import read_metadata, write_metadata
from flatcut.formats.svg.painting import Painter, draw_derived
from flatcut.formats.svg.pathdata import unparse
from flatcut.formats.svg.plausible import hold_readable
from flatcut.formats.svg.records import group_attributes, outline_attributes
from flatcut.formats.svg.sheets import LAYERS, lies_in
from flatcut.formats.svg.told_layer import Told, put_told
from flatcut.formats.svg.transforms import parse_transform, unparse_transform
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.geometry.affine import IDENTITY
from flatcut.geometry.arrays import Array
from flatcut.marking.derived import Derived, derive_all
from flatcut.pattern.marks import written
from flatcut.pattern.values import DrawnPath, Pattern, Piece

_SHAPES = {
    "rect": ("x", "y", "width", "height", "rx", "ry"),
    "circle": ("cx", "cy", "r"),
    "ellipse": ("cx", "cy", "rx", "ry"),
    "polygon": ("points",),
    "polyline": ("points",),
    "use": ("x", "y", "width", "height", "href", "{http://www.w3.org/1999/xlink}href"),
}
"""Geometry attributes of each shape: they go when the shape becomes a path."""

GROUP_ATTRIBUTES = ("piece", "name", "data", *(kind.table for kind in written()), "inner")
INNER_ATTRIBUTES = ("line", "name", "kind", "dart", "grain", "ways", "of", "last")
"""What a piece's group and a path inside it bear; all of it goes before the new is written."""
COPIED = (*GROUP_ATTRIBUTES[1:], "edges", "darts")
"""What the document keeps a copy of, beside where the outline was drawn."""

OUTLINES, INNER = (OUTLINE, STITCH), (LINE, FOLD_LINE, PLACEMENT, DART, GRAIN)
"""Roles of what is read back with the piece as it is drawn; all else follows from the piece."""

_LIVE = ("path-effect", "original-d", "connector-curvature", "transform-center-x", "transform-center-y")
"""The editor's own recipes for a path, which would draw over a path that is written."""


def write(drawing: Drawing, pattern: Pattern, told: Told | None = None) -> bytes:
    """The document with the pattern in it. The drawing's tree is changed; read it again to go on.

    told: what is said beside the pieces; what was said before goes.
    A piece that can have no cut line is written without one, and `drawing.faults` says why; `drawing.notes` is what
    the cut lines that are drawn say of their shape. Errors: GeometryError when all pieces that changed can have none;
    OutputError for a piece that could not be read again.
    """
    if any(_was_drawn(piece, drawing) for piece in pattern.pieces):
        _ = drawing.drawn  # found now, while the tree is as it was read
    spent = _spent(drawing, pattern)
    writer = _Writer(drawing, pattern)
    restyled = pattern.style != drawing.pattern.style
    kept = {piece.uid for piece in pattern.pieces}
    for uid, held in drawing.held.items():
        if uid not in kept:
            writer.remove(held)
    changed = [piece for piece in pattern.pieces if restyled or _is_changed(drawing.held.get(piece.uid), piece)]
    for piece in changed:
        hold_readable(piece)
    lettering = _lettering(drawing) if changed else []
    derived = derive_all(changed, pattern.style, lettering=lettering, made=pattern.cuts)
    faults = [result.fault for result in derived if result.fault is not None]
    if faults and len(faults) == len(changed):
        raise faults[0]
    drawing.faults = [str(fault) for fault in faults]
    drawing.notes = list(dict.fromkeys(text for result in derived if result.cut for text in result.cut.shaped))
    for piece, result in zip(changed, derived, strict=True):
        writer.put(piece, result)
    writer.tidy()
    writer.clear(spent)
    if pattern.names_shown or drawing.pattern.names_shown:
        from flatcut.formats.svg.names_layer import put_names

        # what stands beside the pieces is not said twice, and nothing of it where figures are hidden
        put_names(drawing.document, pattern, figures=told is None and not pattern.told_hidden)
    if told is not None:
        told = told._replace(looked=tuple(dict.fromkeys((*told.looked, *drawing.faults, *drawing.notes))))
    put_told(drawing.document, pattern, told)
    writer.put_metadata(pattern)
    drawing.document.grow(pattern.page)
    return drawing.document.to_bytes()


def _lettering(drawing: Drawing) -> list[Array]:
    """About where the texts stand that are a person's own, (4, 2) each."""
    ours = {element for held in drawing.held.values() for element in held.derived} | set(drawing.orphans)

    def foreign(element: etree._Element) -> bool:
        layers = (a.get(own(mark)) for mark in LAYERS for a in element.iterancestors())
        return element.get(own("drawn")) is None and not any(layers) and not lies_in(element, ours)

    if not any(foreign(element) for element in drawing.document.root.iter(tag("text"))):
        return []  # most drawings: then nothing of them is walked through
    return [text.box for text in drawing.document.texts() if text.text and foreign(text.element)]


def _spent(drawing: Drawing, pattern: Pattern) -> list[etree._Element]:
    """What shows drawn lines that were taken into pieces; found while the tree is as it was read."""
    if pattern.drawn is drawing.pattern.drawn:
        return []
    left = {thing.id for thing in pattern.drawn}
    taken = [thing for thing in drawing.pattern.drawn if isinstance(thing, DrawnPath) and thing.id not in left]
    return [drawing.drawn[thing.id] for thing in taken if not any(thing.closed)]


def _was_drawn(piece: Piece, drawing: Drawing) -> bool:
    """Whether a piece, or a line, dart or point of it, takes the place of something drawn."""
    origins = [thing.origin for things in (piece.points, piece.lines, piece.darts) for thing in things]
    return piece.uid not in drawing.held or any(origins)


def _is_changed(held: Held | None, piece: Piece) -> bool:
    return held is None or held.piece is not piece or held.stale


class _Writer:
    def __init__(self, drawing: Drawing, pattern: Pattern) -> None:
        self._drawing = drawing
        self._document: Document = drawing.document
        self._order = pattern.pieces

    def remove(self, held: Held) -> None:
        """Take a piece out: its outline, inner lines and derived drawing; foreign objects in its group stay."""
        for element in (held.outline, *held.inner.values()):
            _drop(element)
        for element in held.derived:
            self._drop_derived(element)
        if held.group is not None:
            self._release(held.group)

    def tidy(self) -> None:
        """Take away flatcut's own drawing of pieces that are gone, and the marks of their groups."""
        for element in self._drawing.orphans:
            self._drop_derived(element)
        for group in self._drawing.husks:
            self._release(group)

    def clear(self, spent: Iterable[etree._Element]) -> None:
        """Take away drawn lines that were taken into pieces and are on none any more, as those that were cut along."""
        kept = {element for held in self._drawing.held.values() for element in (held.outline, *held.inner.values())}
        for element in spent:
            if element not in kept and element.getparent() is not None:
                _drop(element)

    def _release(self, group: etree._Element) -> None:
        """A group that is no piece's any more: what a person put in it stays."""
        if not len(group):
            _drop(group)
            return
        for name in GROUP_ATTRIBUTES:
            group.attrib.pop(own(name), "")

    def _drop_derived(self, element: etree._Element) -> None:
        """Remove flatcut's own drawing; what a person put into its group is set beside it."""
        foreign = [e for e in element if isinstance(e.tag, str) and e.get(own("drawn")) is None]
        if element.tag == tag("g") and foreign:
            matrix = parse_transform(element.get("transform", ""))
            for child in foreign:
                inside = parse_transform(child.get("transform", ""))
                if matrix != IDENTITY:
                    child.set("transform", unparse_transform(matrix @ inside))
                element.addprevious(child)
        _drop(element)

    def put(self, piece: Piece, derived: Derived) -> None:
        """Write one piece, whole."""
        held = self._drawing.held.get(piece.uid) or self._made(piece)
        if held.group is None:
            held.group = self._wrapped(held.outline, piece)
            for element in held.inner.values():
                _drop(element)
                element.tail = None
                held.group.append(element)
        group = held.group
        self._make_rigid(group, held)
        for name in GROUP_ATTRIBUTES:
            group.attrib.pop(own(name), "")
        for name, value in group_attributes(piece).items():
            group.set(own(name), value)
        ink = piece_ink(piece, derived)
        self._put_outline(held.outline, piece, ink)
        self._put_inner(group, held, piece, ink)
        for element in held.derived:
            self._drop_derived(element)
        for point in piece.points:
            if point.origin and point.origin in self._drawing.drawn:
                _drop(self._drawing.drawn[point.origin])  # its cross stands there now
        follows = [item for item in ink.items if item.role not in (*OUTLINES, *INNER)]
        held.derived = [draw_derived(group, piece, follows, self._painter(group))]

    def _made(self, piece: Piece) -> Held:
        """Elements for a piece that the document does not hold yet."""
        source = self._drawing.drawn.get(piece.origin)
        cut = self._drawing.drawn.get(piece.cut_drawn)
        if source is not None:
            group = self._wrapped(source, piece)
        else:
            group = self._home_of(piece, cut)
            source = etree.SubElement(group, tag("path"))
            source.set("id", self._document.fresh_id(f"{piece.name}-outline"))
        held = Held(piece=piece, group=group, outline=source)
        self._drawing.held[piece.uid] = held
        return held

    def _home_of(self, piece: Piece, cut: etree._Element | None) -> etree._Element:
        """A new group for a piece: beside the cut line it was drawn as, which is hidden; else before the piece that
        follows it, for drawings are read in their order; or on the pieces' layer.
        """
        group = etree.Element(tag("g"), nsmap={PREFIX: NAMESPACE})
        follower = self._follower(piece)
        if cut is not None:
            cut.addprevious(group)
            shown = [part for part in cut.get("style", "").split(";") if part.partition(":")[0].strip() != "display"]
            cut.set("style", ";".join([*filter(None, shown), "display:none"]))
            cut.set(own("cut"), piece.uid)
        elif follower is not None:
            follower.addprevious(group)
        else:
            self._home().append(group)
        group.set("id", self._document.fresh_id(piece.name))
        return group

    def _follower(self, piece: Piece) -> etree._Element | None:
        """What shows the next piece that the document holds already, or what it is to be made of."""
        for later in self._order[self._order.index(piece) + 1 :]:
            held = self._drawing.held.get(later.uid)
            if held is not None:
                return held.outline if held.group is None else held.group
            if later.origin in self._drawing.drawn:
                return self._drawing.drawn[later.origin]
        return None

    def _home(self) -> etree._Element:
        """The layer that new pieces are put on."""
        root = self._document.root
        for layer in root.iterchildren(tag("g")):
            if layer.get(own("layer")) == "pieces":
                return layer
        layer = etree.SubElement(root, tag("g"), nsmap={PREFIX: NAMESPACE})
        layer.set("id", self._document.fresh_id("pieces"))
        layer.set(own("layer"), "pieces")
        layer.set(f"{{{INKSCAPE}}}groupmode", "layer")
        layer.set(f"{{{INKSCAPE}}}label", "pieces")
        return layer

    def _wrapped(self, element: etree._Element, piece: Piece) -> etree._Element:
        """A group in the element's place, with the element in it. What the element's own map was is in its data now."""
        parent = element.getparent()
        assert parent is not None
        group = etree.Element(tag("g"), nsmap={PREFIX: NAMESPACE})
        group.set("id", self._document.fresh_id(piece.name))
        group.tail, element.tail = element.tail, None
        parent.replace(element, group)
        group.append(element)
        return group

    def _make_rigid(self, group: etree._Element, held: Held) -> None:
        """Take a scale or skew out of the group's own transform; foreign objects in it keep their place."""
        text = group.get("transform")
        if not text or parse_transform(text).is_rigid(tolerance=1e-6):
            return
        matrix = parse_transform(text)
        del group.attrib["transform"]
        ours = {held.outline, *held.inner.values(), *held.derived}
        for child in group:
            if isinstance(child.tag, str) and child not in ours:
                inner = parse_transform(child.get("transform", "")) if child.get("transform") else IDENTITY
                child.set("transform", unparse_transform(matrix @ inner))

    def _painter(self, around: etree._Element | None) -> Painter:
        """What paints in the space of a group."""
        return Painter(self._document.to_mm if around is None else self._document.matrix_of(around))

    def _put_outline(self, element: etree._Element, piece: Piece, ink: Ink) -> None:
        _become_path(element)
        (drawn,) = (stroke for stroke in ink.strokes if stroke.role in OUTLINES)
        self._painter(element.getparent()).shape(element, drawn)
        for name in ("darts",):
            element.attrib.pop(own(name), "")
        for name, value in outline_attributes(piece).items():
            element.set(own(name), value)
        element.set(own("last"), unparse(list(drawn.curves), True))
        element.set(own("at"), unparse_transform(self._document.matrix_of(element)))

    def _put_inner(self, group: etree._Element, held: Held, piece: Piece, ink: Ink) -> None:
        """Lines, darts drawn inside and the grain line, as paths with a uid that are read back as drawn."""
        wanted = {stroke.of: stroke for stroke in ink.strokes if stroke.role in INNER}
        for uid in [uid for uid in held.inner if uid not in wanted]:
            _drop(held.inner.pop(uid))
        origins = {inner.uid: inner.origin.split() for inner in piece.lines}
        origins.update({dart.uid: dart.origin.split() for dart in piece.darts})
        attributes = _inner_attributes(piece)
        for uid, stroke in wanted.items():
            element = held.inner.get(uid)
            if element is None:
                element = held.inner[uid] = self._taken_in(group, origins.get(uid, []))
            _become_path(element)
            self._painter(element.getparent()).shape(element, stroke)
            for name in INNER_ATTRIBUTES:
                element.attrib.pop(own(name), "")
            last = unparse(list(stroke.curves), stroke.closed)
            for name, value in {**attributes[uid], "of": piece.uid, "last": last}.items():
                element.set(own(name), value)
        # they are read in the order of the document: a part of a line that was cut keeps the place of the whole one
        inside = [held.inner[uid] for uid in wanted if held.inner[uid].getparent() is group]
        slots = sorted(map(group.index, inside))
        if list(map(group.index, inside)) != slots:
            for element in inside:
                group.remove(element)
            for slot, element in zip(slots, inside, strict=True):
                group.insert(slot, element)

    def _taken_in(self, group: etree._Element, origins: list[str]) -> etree._Element:
        """The element of a line or dart in a piece's group: the first of those it was drawn as, or a new one."""
        found = [self._drawing.drawn[origin] for origin in origins if origin in self._drawing.drawn]
        for element in found:
            _drop(element)
            element.tail = None
        element = found[0] if found else etree.Element(tag("path"))
        group.append(element)
        return element

    def put_metadata(self, pattern: Pattern) -> None:
        """The document's own record, and a copy of what each piece's elements could lose."""
        copies = {}
        for piece in pattern.pieces:
            held = self._drawing.held[piece.uid]
            stands = held.records and held.piece is piece and not held.stale
            attributes = held.records if stands else {**group_attributes(piece), **outline_attributes(piece)}
            copies[piece.uid] = {key: attributes[key] for key in COPIED if key in attributes}
            for name in ("last", "at"):
                copies[piece.uid][name] = str(held.outline.get(own(name), ""))
        for uid, copy in self._unread_copies():
            copies[uid] = copy
        seams = (*pattern.seams, *self._drawing.aside)
        write_metadata(self._document.root, pattern, seams, copies)

    def _unread_copies(self) -> Iterable[tuple[str, dict[str, str]]]:
        """The copies of pieces that could not be read: they stay as they were."""
        if not self._drawing.unread:
            return []
        before = read_metadata(self._document.root).copies
        return [(uid, copy) for uid, copy in before.items() if uid in self._drawing.unread]


def _inner_attributes(piece: Piece) -> dict[str, dict[str, str]]:
    """What tells the paths inside a piece apart, by the uid of what they show."""
    found = {inner.uid: {"line": inner.uid, "name": inner.name, "kind": inner.kind} for inner in piece.lines}
    found.update({dart.uid: {"dart": dart.uid} for dart in piece.darts})
    if piece.grain is not None:
        found[GRAIN.name] = {"grain": piece.grain.kind, "ways": piece.grain.ways}
    return found


def _become_path(element: etree._Element) -> None:
    """Make an element a plain path whose data alone says where it lies."""
    name = etree.QName(element).localname
    for attribute in _SHAPES.get(name, ()):
        element.attrib.pop(attribute, "")
    element.tag = tag("path")
    element.attrib.pop("transform", "")
    for attribute in _LIVE:
        element.attrib.pop(f"{{{INKSCAPE}}}{attribute}", "")
    for attribute in map(str, list(element.attrib)):
        # stars, spirals and arcs are redrawn by the editor from these, and node types belong to the old nodes
        if attribute.startswith(f"{{{SODIPODI}}}"):
            del element.attrib[attribute]


def _drop(element: etree._Element) -> None:
    """Remove an element, leaving the text that follows it."""
    parent = element.getparent()
    if parent is None:
        return
    if element.tail and element.tail.strip():
        before = element.getprevious()
        if before is not None:
            before.tail = (before.tail or "") + element.tail
        else:
            parent.text = (parent.text or "") + element.tail
    parent.remove(element)
