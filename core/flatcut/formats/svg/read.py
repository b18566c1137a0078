"""From an SVG to a pattern: the pieces in it, found again after editing by hand, and what else is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.document import Document, Drawn, load
from flatcut.formats.svg.drawing import Drawing, Held
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.matching import SAME, Match, match
from flatcut.formats.svg.metadata import Metadata, read_metadata
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.records import Records, built, marks, read_records
from flatcut.formats.svg.transforms import parse_transform
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.curves import Curve
from flatcut.pattern.renewing import free_name, renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import DrawnPath, DrawnText, Grain, Line, Pattern, Piece, RunPart, Seam, Step

STILL = 1e-3
"""mm: a transform that moves no node farther than this is the rounding of the editor."""


def read(data: bytes, *, name: str = "the file") -> tuple[Drawing, Pattern, list[str]]:
    """The drawing, its pattern, and what was found on reading, as sentences.

    Errors: InputError for what is no SVG, or was written by a newer flatcut.
    """
    return read_document(load(data, name=name))


def read_document(document: Document) -> tuple[Drawing, Pattern, list[str]]:
    """The same for a document that is loaded already."""
    reader = _Reader(document)
    pattern = reader.pattern()
    drawing = Drawing(
        document=document,
        pattern=pattern,
        held=reader.held,
        drawn=reader.ids,
        first=reader.metadata.first,
        unread=reader.unread,
    )
    return drawing, pattern, reader.findings


@dataclass
class _Sheet:
    """What lies in one piece's group, or bears its uid, before it is joined to a piece."""

    outline: Drawn
    group: etree._Element | None
    inner: list[Drawn] = field(default_factory=list)


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.metadata: Metadata = read_metadata(document.root)
        self.findings: list[str] = []
        self.held: dict[str, Held] = {}
        self.unread: set[str] = set()
        self.loose: list[Drawn] = []
        self.ids: dict[str, etree._Element] = {}
        self._derived: dict[str, list[etree._Element]] = {}
        self._ours: set[etree._Element] = set()
        self._pieces: list[Piece] = []
        self._by_hand: list[Step] = []

    def pattern(self) -> Pattern:
        self._find_derived()
        sheets = self._sheets()
        uids = Uids([*self.metadata.copies, *(seam.uid for seam in self.metadata.seams)])
        for sheet in sheets:
            self._add(sheet, uids)
        self._report_missing()
        return Pattern(
            pieces=tuple(self._pieces),
            seams=self._seams(),
            style=self.metadata.style,
            body=self.metadata.body,
            measures=self.metadata.measures,
            steps=(*self.metadata.steps, *self._by_hand),
            names_shown=self.metadata.names_shown,
            drawn=tuple(self._drawn()),
            user_unit=abs(self.document.to_mm.determinant) ** 0.5,
        )

    def _sheets(self) -> list[_Sheet]:
        """Sort what is drawn: outlines, what lies inside pieces, derived drawing, and the rest."""
        sheets: list[_Sheet] = []
        inner: list[Drawn] = []
        lost: list[Drawn] = []
        for drawn in self.document.drawn():
            element = drawn.element
            if self._is_derived(element):
                continue
            if element.get(own("outline")) is not None:
                parent = element.getparent()
                grouped = parent is not None and parent.get(own("piece")) is not None
                sheets.append(_Sheet(outline=drawn, group=parent if grouped else None))
            elif any(element.get(own(kind)) is not None for kind in ("line", "dart", "grain")):
                inner.append(drawn)
            else:
                lost.append(drawn)
        by_group = {id(sheet.group): sheet for sheet in sheets if sheet.group is not None}
        by_uid = {sheet.outline.element.get(own("outline"), ""): sheet for sheet in sheets}
        for drawn in lost:
            parent = drawn.element.getparent()
            bare = parent is not None and parent.get(own("piece")) is not None and id(parent) not in by_group
            if bare and len(drawn.subpaths) == 1 and drawn.subpaths[0].closed:
                # a boolean operation or break apart has taken the path's own attributes
                sheet = _Sheet(outline=drawn, group=parent)
                sheets.append(sheet)
                by_group[id(parent)] = sheet
            else:
                self.loose.append(drawn)
        for drawn in inner:
            home = by_group.get(id(drawn.element.getparent())) or by_uid.get(drawn.element.get(own("of"), ""))
            if home is not None:
                home.inner.append(drawn)
            else:
                self.loose.append(drawn)
        return sheets

    def _find_derived(self) -> None:
        """Note flatcut's own drawing and whose it is, so that it can be drawn anew; also what was ungrouped."""
        for element in self.document.root.iter(tag("g"), tag("path"), tag("text")):
            owner = element.get(own("derived"))
            if owner is None and element.get(own("drawn")) is not None:
                owner = element.get(own("piece-of"), "")
                if any(above.get(own("derived")) is not None for above in element.iterancestors()):
                    continue
            if owner is not None:
                self._derived.setdefault(owner, []).append(element)
        self._ours = {element for found in self._derived.values() for element in found}

    def _is_derived(self, element: etree._Element) -> bool:
        """Whether an element is flatcut's own drawing."""
        if not self._ours and not self.metadata.names_shown:
            return False
        return any(e in self._ours or e.get(own("names")) is not None for e in (element, *element.iterancestors()))

    def _add(self, sheet: _Sheet, uids: Uids) -> None:
        records = self._records(sheet)
        try:
            piece, how = self._joined(sheet, records)
        except InputError as error:
            self.findings.append(f"{records.name} is left as it is: {error}")
            self.unread.add(records.uid)
            return
        taken = {other.name for other in self._pieces}
        stale = sheet.group is None or sheet.outline.element.get(own("last")) is None
        if piece.uid in self.held:
            name = free_name(piece.name, taken)
            self.findings.append(f"{name} is a copy of {piece.name}: it has names of its own and no seams")
            piece, stale = renewed(piece, uids, name=name), True
        elif piece.name in taken:
            name = free_name(piece.name, taken)
            self.findings.append(f"a second piece called {piece.name} is now {name}")
            piece, stale = replace(piece, name=name), True
        self._pieces.append(piece)
        derived = [e for e in self._derived.get(records.uid, []) if _lies_with(e, sheet.group)]
        self.held[piece.uid] = Held(
            piece=piece,
            group=sheet.group,
            outline=sheet.outline.element,
            inner={_inner_uid(drawn.element): drawn.element for drawn in sheet.inner},
            derived=derived,
            stale=stale or how != "same",
        )

    def _records(self, sheet: _Sheet) -> Records:
        """What was written on the piece; what its own elements have lost is taken from the document's copy."""
        element, group = sheet.outline.element, sheet.group
        uid = element.get(own("outline"), "") or (group.get(own("piece"), "") if group is not None else "")
        copy = self.metadata.copies.get(uid, {})

        def attribute(name: str) -> str | None:
            if name == "piece":
                return uid
            for place in (element, group):
                if place is not None and place.get(own(name)) is not None:
                    return str(place.get(own(name)))
            return copy.get(name)

        return read_records(attribute, where=attribute("name") or sheet.outline.id or "a piece")

    def _joined(self, sheet: _Sheet, records: Records) -> tuple[Piece, str]:
        element = sheet.outline.element
        if len(sheet.outline.subpaths) != 1 or not sheet.outline.subpaths[0].closed:
            raise InputError("its outline is no longer one closed path; undo the change or make the piece anew")
        copy = self.metadata.copies.get(records.uid, {})
        last_text = element.get(own("last")) or copy.get("last")
        if not last_text or not records.edges:
            raise InputError("it has lost the names of its edges; make the piece anew")
        last = parse(last_text, name=records.name)[0].curve
        moved = self._moved(element, element.get(own("at")) or copy.get("at"), last)
        starts = marks(records.edges, records.darts)
        found = match(last, starts, sheet.outline.subpaths[0].curve, moved=moved)
        darts = _drawn_darts(sheet.inner, records)
        piece = built(records, found.curve, found.starts, drawn_darts=darts, motion=found.motion)
        self._tell(piece, found)
        return replace(piece, lines=_lines(sheet.inner), grain=_grain(sheet.inner)), found.how

    def _moved(self, element: etree._Element, at: str | None, last: Curve) -> Affine:
        """What transforms on the element and above it have done since it was written."""
        if not at:
            return IDENTITY
        now, then = self.document.matrix_of(element), parse_transform(at)
        moved = now @ then.inverse()
        still = np.abs(moved.apply(last.nodes) - last.nodes).max() <= STILL
        return IDENTITY if still else moved

    def _tell(self, piece: Piece, found: Match) -> None:
        if found.how == "edited":
            where = ", ".join(f"{piece.name}.{name}" for name in _touched(piece, found))
            self._by_hand.append(Step(line=f"# by hand: {where}, largest {found.largest:.1f} mm"))
        elif found.how == "moved" and not found.motion.is_rigid(tolerance=1e-4):
            across = abs(found.motion.determinant) ** 0.5
            self.findings.append(f"{piece.name} was scaled by hand, {across:.3f} times in the mean")

    def _report_missing(self) -> None:
        """Pieces that the document knows of and that are not drawn: hidden ones stay, deleted ones are told."""
        present = {*self.held, *self.unread}
        missing = {uid: copy.get("name", uid) for uid, copy in self.metadata.copies.items() if uid not in present}
        if not missing:
            return
        hidden = {element.get(own("outline")) for element in self.document.root.iter(tag("path"))}
        for uid, name in missing.items():
            if uid in hidden:
                self.unread.add(uid)
                self.findings.append(f"{name} is hidden and stays as it is; show it to work on it")
            else:
                self.findings.append(f"{name} is no longer in the drawing")

    def _seams(self) -> tuple[Seam, ...]:
        kept = []
        things = {p.uid: {t.uid for t in p.things()} for p in self._pieces}
        for seam in self.metadata.seams:
            whole = all(part.of in things.get(part.piece, ()) for part in (*seam.a, *seam.b))
            if whole:
                kept.append(seam)
            elif not self._unread_part((*seam.a, *seam.b)):
                self.findings.append("a seam has lost one of its edges and is open")
        return tuple(kept)

    def _unread_part(self, parts: tuple[RunPart, ...]) -> bool:
        return any(part.piece in self.unread for part in parts)

    def _drawn(self) -> list[DrawnPath | DrawnText]:
        found: list[DrawnPath | DrawnText] = []
        for drawn in self.loose:
            if not drawn.subpaths:
                continue
            self.ids[drawn.id] = drawn.use if drawn.use is not None else drawn.element
            found.append(
                DrawnPath(
                    id=drawn.id,
                    curves=tuple(sub.curve for sub in drawn.subpaths),
                    closed=tuple(sub.closed for sub in drawn.subpaths),
                    label=drawn.label,
                    group=drawn.group_id,
                )
            )
        for text in self.document.texts():
            if not self._is_derived(text.element):
                self.ids[text.id] = text.element
                found.append(DrawnText(id=text.id, text=text.text, at=text.at, group=text.group_id))
        return found


def _touched(piece: Piece, found: Match) -> list[str]:
    """The edges and darts with a node that is not where it was."""
    touched = []
    for edge in piece.edges:
        if any(_differs(part, found.last) for part in edge.parts):
            touched.append(edge.name)
    touched += [d.name for d in piece.darts if d.form == "cut" and any(_differs(leg, found.last) for leg in d.legs)]
    return touched or [edge.name for edge in piece.edges]


def _differs(curve: Curve, last: Curve) -> bool:
    """Whether a span of a curve is none of the spans of the outline as last written, either way round."""
    before = np.concatenate([last.controls, last.controls[:, ::-1]])
    away = np.abs(curve.controls[:, None] - before[None]).max(axis=(-2, -1)).min(axis=1)
    return bool((away > SAME).any())


def _lies_with(element: etree._Element, group: etree._Element | None) -> bool:
    return group is None or any(above is group for above in element.iterancestors())


def _inner_uid(element: etree._Element) -> str:
    return element.get(own("line")) or element.get(own("dart")) or "grain"


def _lines(inner: list[Drawn]) -> tuple[Line, ...]:
    found = []
    for drawn in inner:
        uid = drawn.element.get(own("line"))
        if uid is not None:
            name, kind = drawn.element.get(own("name"), uid), drawn.element.get(own("kind"), "line")
            found.append(Line(uid=uid, name=name, kind=kind, curve=drawn.subpaths[0].curve))
    return tuple(found)


def _grain(inner: list[Drawn]) -> Grain | None:
    for drawn in inner:
        kind = drawn.element.get(own("grain"))
        if kind is not None:
            curve = drawn.subpaths[0].curve
            return Grain(start=curve.start, end=curve.end, kind=kind, ways=drawn.element.get(own("ways"), "both"))
    return None


def _drawn_darts(inner: list[Drawn], records: Records) -> dict[str, tuple[Curve, Curve]]:
    """The legs of darts drawn inside, cut at the point by the number of spans of the first."""
    spans = {dart["uid"]: dart["spans"] for dart in records.darts}
    found = {}
    for drawn in inner:
        uid = drawn.element.get(own("dart"), "")
        if uid in spans:
            curve = drawn.subpaths[0].curve
            first = spans[uid][0] if len(curve) == sum(spans[uid]) else len(curve) // 2
            found[uid] = (
                Curve(curve.controls[:first], curve.straight[:first]),
                Curve(curve.controls[first:], curve.straight[first:]),
            )
    return found
