"""From an SVG to a pattern: the pieces in it, found again after editing by hand, and what else is drawn."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from lxml import etree

from flatcut.errors import FlatcutError, InputError
from flatcut.findings import Finding, on_reading
from flatcut.formats.svg.document import Document, Drawn, load
from flatcut.formats.svg.drawing import Drawing, Held, Loose
from flatcut.formats.svg.fitting import fitted
from flatcut.formats.svg.inner import Inner, read_inner
from flatcut.formats.svg.matching import SAME, Match, match, off
from flatcut.formats.svg.metadata import Metadata, read_metadata
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.records import built, damaged, marks, read_records, shown
from flatcut.formats.svg.redrawn import changed_by_hand
from flatcut.formats.svg.sheets import Sheet, lies_in, sort
from flatcut.formats.svg.symbols import taken_along
from flatcut.formats.svg.transforms import parse_transform
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.curves import Curve
from flatcut.pattern.later import Later
from flatcut.pattern.renewing import free_name, renewed
from flatcut.pattern.sewing_order import with_sewing_order
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import BY_HAND, DrawnPath, DrawnText, Pattern, Piece, RunPart, Seam, Step

if TYPE_CHECKING:
    from flatcut.formats.svg.moved_nodes import NodeMove

STILL = 1e-3
"""mm: a transform that moves no node farther than this is the rounding of the editor."""
RIGID = 1e-4
"""A motion whose axes differ from unit ones by less is no scaling: the editor's numbers are as far off."""


def read(data: bytes, *, name: str = "the file") -> tuple[Drawing, Pattern, list[Finding]]:
    """The drawing, its pattern, and what was found on reading.

    Errors: InputError for what is no SVG, or was written by a newer flatcut.
    """
    return read_document(load(data, name=name))


def read_document(document: Document) -> tuple[Drawing, Pattern, list[Finding]]:
    """The same for a document that is loaded already."""
    reader = _Reader(document)
    pattern = reader.pattern()
    drawing = Drawing(
        document=document,
        pattern=pattern,
        held=reader.held,
        loose=reader.loose,
        unread=reader.unread,
        aside=reader.aside,
        orphans=reader.sorted.orphans,
        husks=reader.sorted.husks,
    )
    return drawing, pattern, reader.findings


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.metadata: Metadata = read_metadata(document.root)
        self.sorted = sort(document, whole=False)
        self.loose = Loose(self._drawn)
        self.findings: list[Finding] = []
        self.held: dict[str, Held] = {}
        self.unread: dict[str, str] = {}
        self.aside: list[Seam] = []
        self._pieces: list[Piece] = []
        self._names: set[str] = set()
        self._by_hand: list[Step] = []
        self._corners: dict[str, dict[str, list[float]]] = {}
        self._moves: list[Edited] = []

    def pattern(self) -> Pattern:
        uids = Uids([*self.metadata.copies, *(seam.uid for seam in self.metadata.seams)])
        names = {uid: copy.get("name", "") for uid, copy in self.metadata.copies.items()}
        for sheet in self.sorted.sheets:
            self._add(sheet, uids)
        self._report_missing(names)
        self._report_clones()
        found = Pattern(
            pieces=tuple(self._pieces),
            seams=self._seams(),
            style=self.metadata.style,
            body=self.metadata.body,
            measures=self.metadata.measures,
            steps=(*self.metadata.steps, *self._by_hand),
            names_shown=self.metadata.names_shown,
            told_hidden=self.metadata.told_hidden,
            drawn=Later(lambda: self.loose.things),
            user_unit=abs(self.document.to_mm.determinant) ** 0.5,
            page=self.document.page,
        )
        moves: list[Step] = []
        if self._moves:
            found, moves = self._moved_nodes(found)
            found = replace(found, steps=(*self.metadata.steps, *moves, *self._by_hand))
        if self._corners:
            from flatcut.formats.svg.making_corners import with_corners

            found, steps, said = with_corners(found, self._corners)
            # what was done by hand stays last: a check tells of it until the next step
            found = replace(found, steps=(*self.metadata.steps, *moves, *steps, *self._by_hand))
            self.findings += [on_reading(one, *step.about) for one, step in zip(said, steps, strict=False)]
        return with_sewing_order(found)

    def _moved_nodes(self, pattern: Pattern) -> tuple[Pattern, list[Step]]:
        """The pattern with the nodes that a hand has moved, and the steps that move them."""
        # what moves edges and carries what stands on them is loaded for the few drawings that want it
        from flatcut.formats.svg.moving_nodes import with_moves

        steps: list[Step] = []
        for edited in self._moves:
            done = with_moves(pattern, edited.before, edited.now, edited.moves)
            if done is None:
                self._note(edited.said, *edited.about)
                continue
            pattern, more = done
            steps += more
        return pattern, steps

    def _add(self, sheet: Sheet, uids: Uids) -> None:
        records = self._records(sheet, sheet.outline)
        name = records.get("name") or sheet.outline.id or "a piece"
        try:
            outline, piece, found, inner, before = self._found(sheet)
        except FlatcutError as error:
            self.findings.append(on_reading(f"{shown(name)} is left as it is: {error}", name))
            self.unread[sheet.uid] = name
            return
        scaled = found.how == "moved" and not found.motion.is_rigid(tolerance=RIGID)
        drawn = piece
        piece, said = fitted(piece, scale=abs(found.motion.determinant) ** 0.5 if scaled else 1.0)
        self.findings += said
        element = outline.element
        stale = sheet.group is None or element.get(own("last")) is None or found.how != "same" or bool(said)
        stale = stale or bool(inner.moved or inner.edited or inner.deleted or inner.copied)
        made: dict[str, list[float]] = {}
        if found.how == "edited":
            from flatcut.formats.svg.new_corners import new_corners

            made = new_corners(piece, found)
        moves: tuple[NodeMove, ...] = ()
        if before is not None and not said and not made and piece.uid not in self.held:
            from flatcut.formats.svg.moved_nodes import moved_nodes

            moves = moved_nodes(before, piece)
        self._tell(drawn, found, inner, moves=bool(moves))
        fresh = self._named_apart(piece, uids)
        if before is not None and moves:
            about = _references(piece, found)
            self._moves.append(Edited(before=before, now=fresh, moves=moves, said=_edited(about, found), about=about))
        if made:
            known = {old.uid: new.uid for old, new in zip(piece.edges, fresh.edges, strict=True)}
            self._corners[fresh.uid] = {known[uid]: places for uid, places in made.items()}
        self._pieces.append(fresh)
        self.held[fresh.uid] = Held(
            piece=fresh,
            group=sheet.group,
            outline=element,
            inner=_of_piece(inner.elements, piece, fresh),
            derived=sheet.derived,
            stale=stale or fresh is not piece,
            records=records if outline is sheet.outline else self._records(sheet, outline),
        )

    def _named_apart(self, piece: Piece, uids: Uids) -> Piece:
        """The piece with a uid and a name that no other one has; what was brought in or copied becomes a step."""
        name = free_name(piece.name, self._names)
        self._names.add(name)
        if piece.uid in self.held:
            self.findings.append(
                on_reading(f"{name} is a copy of {piece.name}: it has names of its own and no seams", name)
            )
            self._note(f"{name} is a copy of {piece.name}", name)
            return renewed(piece, uids, name=name)
        if name != piece.name:
            self.findings.append(on_reading(f"a second piece called {piece.name} is now {name}", name))
        if piece.uid not in self.metadata.copies:
            self._note(f"{name} was brought in from another drawing", name)
        return piece if name == piece.name else replace(piece, name=name)

    def _note(self, what: str, *about: str) -> None:
        """A step that no command can repeat."""
        self._by_hand.append(Step(line=f"{BY_HAND} {what}", about=about))

    def _found(self, sheet: Sheet) -> tuple[Drawn, Piece, Match, Inner, Piece | None]:
        """The piece of a sheet; where its outline lost its mark, the one closed path of its group that fits."""
        if not sheet.others:
            return (sheet.outline, *self._joined(sheet, sheet.outline))
        found = []
        for outline in (sheet.outline, *sheet.others):
            try:
                found.append((outline, *self._joined(sheet, outline)))
            except FlatcutError:
                continue
        if len(found) != 1:
            raise InputError(
                "its outline has lost its mark, and which path of its group it is cannot be told; "
                "undo the change or make the piece anew"
            )
        self.sorted.loose += [drawn for drawn in (sheet.outline, *sheet.others) if drawn is not found[0][0]]
        return found[0]

    def _records(self, sheet: Sheet, outline: Drawn) -> dict[str, str]:
        """What was written on a piece; what its own elements have lost is taken from the document's copy."""
        found = dict(self.metadata.copies.get(sheet.uid, {}))
        ours = own("")
        for place in (sheet.group, outline.element):
            for key, value in () if place is None else place.attrib.items():
                name = str(key)
                if name.startswith(ours):
                    found[name[len(ours) :]] = str(value)
        found["piece"] = sheet.uid
        return found

    def _joined(self, sheet: Sheet, outline: Drawn) -> tuple[Piece, Match, Inner, Piece | None]:
        """The piece as it is drawn, how it was found, what lies inside; and as it was before nodes were moved."""
        element = outline.element
        if len(outline.subpaths) != 1 or not outline.subpaths[0].closed:
            raise InputError("its outline is no longer one closed path; undo the change or make the piece anew")
        attribute = self._records(sheet, outline).get
        records = read_records(attribute, where=attribute("name") or outline.id or "a piece")
        last_text = attribute("last")
        if not last_text or not records.edges:
            raise InputError("it has lost the names of its edges; make the piece anew")
        drawn = outline.subpaths[0].curve
        # most outlines stand as they were written: their own data says so without being read a second time
        still = last_text == element.get("d") and outline.matrix == IDENTITY
        last = drawn if still else one_ring(last_text, name=records.name)
        moved = self._moved(outline, attribute("at"), last)
        found = match(last, marks(records), drawn, moved=moved)
        inner = read_inner(sheet.inner, records, found.motion)
        piece = built(records, found.curve, found.starts, drawn_darts=inner.darts, motion=found.motion)
        before = None
        if found.how == "edited" and len(found.last) == len(found.curve):
            before = built(records, found.last, list(found.marks), drawn_darts=inner.darts, motion=found.motion)
        piece, shifted = taken_along(self.document, sheet.derived, piece, found.motion)
        inner.moved += shifted
        piece, said = changed_by_hand(self.document, sheet.derived, piece, found.motion)
        inner.moved += said.moved
        inner.edited += said.edited
        inner.deleted += said.deleted
        if inner.lines or inner.grain is not None:
            piece = replace(piece, lines=inner.lines, grain=inner.grain)
        return piece, found, inner, before

    def _moved(self, outline: Drawn, at: str | None, last: Curve) -> Affine:
        """What transforms on the element and above it have done since it was written."""
        if not at:
            return IDENTITY
        now, then = outline.matrix, parse_transform(at, name="its last place")
        if then.determinant == 0:
            raise InputError("its last place is damaged; undo the change or make the piece anew")
        if now == then:
            return IDENTITY
        moved = now @ then.inverse()
        still = np.abs(moved.apply(last.nodes) - last.nodes).max() <= STILL
        return IDENTITY if still else moved

    def _tell(self, piece: Piece, found: Match, inner: Inner, *, moves: bool) -> None:
        """Note what was done by hand. moves: whether the outline was edited by moves that a step repeats."""
        if found.how == "edited" and not moves:
            touched = _references(piece, found)
            self._note(_edited(touched, found), *touched)
        for names, what in (
            (inner.moved, "moved"),
            (inner.edited, "drawn anew"),
            (inner.deleted, "deleted"),
            (inner.copied, "added as a copy"),
        ):
            if names:
                said = ", ".join(f"{piece.name}.{name}" for name in names)
                own_names = piece.names()  # a cut line or a label has none, and is spoken of as its piece
                where = [f"{piece.name}.{name}" if name in own_names else piece.name for name in names]
                self._note(f"{said} {what}", *dict.fromkeys(where))
        if found.motion.determinant < 0 and piece.one_sided:
            said = (
                f"{piece.name} was turned over by hand, and it is cut single: it is for the other side of the body now"
            )
            self.findings.append(on_reading(said, piece.name))
            self._note(f"{piece.name} turned over", piece.name)
        if not found.motion.is_rigid(tolerance=RIGID):
            how = _stretching(found.motion)
            said = how.replace(",", " by hand,", 1)
            self.findings.append(on_reading(f"{piece.name} was {said}", piece.name))
            self._note(f"{piece.name}, {how}", piece.name)

    def _report_missing(self, names: dict[str, str]) -> None:
        """Pieces that the document knows of and that are not drawn: hidden ones stay, deleted ones are told."""
        for uid, name in names.items():
            if uid in self.held or uid in self.unread:
                continue
            if uid in self.sorted.hidden:
                self.unread[uid] = name
                self.findings.append(
                    on_reading(f"{name or uid} is hidden and stays as it is; show it to work on it", name)
                )
            else:
                self.findings.append(on_reading(f"{name or uid} is no longer in the drawing"))
                self._note(f"{name or uid} was deleted")

    def _report_clones(self) -> None:
        for piece in self._pieces:
            if piece.uid in self.sorted.clones:
                said = f"a clone of {piece.name} is a picture of it and no piece; unlink it to make it one"
                self.findings.append(on_reading(said, piece.name))

    def _seams(self) -> tuple[Seam, ...]:
        kept = []
        things = {p.uid: {t.uid for t in p.things()} for p in self._pieces}
        for seam in self.metadata.seams:
            here = [part.of in things.get(part.piece, ()) for part in (*seam.a, *seam.b)]
            whole = all(here) and bool(seam.a and seam.b)
            if whole:
                kept.append(seam)
            elif self._unread_part((*seam.a, *seam.b)):
                self.aside.append(seam)
            else:
                self.findings.append(on_reading("a seam has lost one of its edges and is open"))
        return tuple(kept)

    def _unread_part(self, parts: tuple[RunPart, ...]) -> bool:
        return any(part.piece in self.unread for part in parts)

    def _drawn(self) -> tuple[tuple[DrawnPath | DrawnText, ...], dict[str, etree._Element]]:
        """What belongs to no piece, and its elements by id."""
        from flatcut.pattern.tracing import shut  # most presses ask for the pieces alone

        whole = self.sorted if self.sorted.whole else sort(self.document)
        found: list[DrawnPath | DrawnText] = []
        elements: dict[str, etree._Element] = {}
        for drawn in whole.loose:
            if not drawn.subpaths:
                continue
            elements[drawn.id] = drawn.use if drawn.use is not None else drawn.element
            parts = [(sub.curve, True) if sub.closed else shut(sub.curve) for sub in drawn.subpaths]
            found.append(
                DrawnPath(
                    id=drawn.id,
                    curves=tuple(curve for curve, _ in parts),
                    closed=tuple(closed for _, closed in parts),
                    label=drawn.label,
                    group=drawn.group_id,
                )
            )
        for text in self.document.texts():
            if not lies_in(text.element, whole.derived):
                elements[text.id] = text.element
                found.append(DrawnText(id=text.id, text=text.text, at=text.at, group=text.group_id))
        return tuple(found), elements


def _stretching(motion: Affine) -> str:
    """What a motion that keeps no lengths does to them.

    >>> _stretching(Affine.scaling(1.1))
    'scaled, 1.1000 times'
    >>> _stretching(Affine.scaling(1.1, 1.0))
    'stretched, 1.1000 times across and 1.0000 times down the drawing'
    >>> _stretching(Affine(1.0, 0.0, 0.3, 1.0, 0.0, 0.0))
    'skewed, 16.7°: its lengths are now 0.8612 to 1.1612 times what they were'
    """
    x, y = np.array([motion.a, motion.b]), np.array([motion.c, motion.d])
    along, down = float(np.linalg.norm(x)), float(np.linalg.norm(y))
    square = abs(float(x @ y)) <= RIGID * along * down
    if square and abs(along - down) <= RIGID:
        return f"scaled, {along:.4f} times"
    if square:
        return f"stretched, {along:.4f} times across and {down:.4f} times down the drawing"
    most, least = np.linalg.svd(np.column_stack([x, y]), compute_uv=False)
    lean = math.degrees(math.asin(min(1.0, abs(float(x @ y)) / (along * down))))
    return f"skewed, {lean:.1f}°: its lengths are now {least:.4f} to {most:.4f} times what they were"


class Edited(NamedTuple):
    """A piece of which nodes were moved: as it was, as it is, and what is said where no steps repeat it."""

    before: Piece
    now: Piece
    moves: tuple[NodeMove, ...]
    said: str
    about: tuple[str, ...]


def _references(piece: Piece, found: Match) -> tuple[str, ...]:
    return tuple(f"{piece.name}.{name}" for name in _touched(piece, found))


def _edited(where: tuple[str, ...], found: Match) -> str:
    return f"{', '.join(where)}, largest {found.largest:.1f} mm"


def _touched(piece: Piece, found: Match) -> list[str]:
    """The edges and darts with a node that is not where it was."""
    touched = []
    for edge in piece.edges:
        if any(_differs(part, found.last) for part in edge.parts):
            touched.append(edge.name)
    touched += [d.name for d in piece.darts if d.form == "cut" and any(_differs(leg, found.last) for leg in d.legs)]
    return touched or [edge.name for edge in piece.edges]


def _differs(curve: Curve, last: Curve) -> bool:
    """Whether a part of an edge is none of the outline as last written, either way round, with other nodes or not."""
    before = np.concatenate([last.controls, last.controls[:, ::-1]])
    away = np.abs(curve.controls[:, None] - before[None]).max(axis=(-2, -1)).min(axis=1)
    if not (away > SAME).any():
        return False
    ends = np.array([curve.start, curve.end])
    slid = np.abs(ends[:, None] - last.controls[None, :, 0]).max(axis=-1).min(axis=1).max() > SAME
    return bool(slid) or off(last, curve) > SAME


def _of_piece(elements: dict[str, etree._Element], old: Piece, new: Piece) -> dict[str, etree._Element]:
    """Elements by the uids of a piece that may have got new ones."""
    fresh = {a.uid: b.uid for a, b in zip(old.things(), new.things(), strict=True)}
    return {fresh.get(uid, uid): element for uid, element in elements.items()}


def one_ring(text: str, *, name: str) -> Curve:
    """The outline as last written. Errors: InputError when it was damaged."""
    rings = parse(text, name=f"the last outline of {shown(name)}")
    if len(rings) != 1 or not rings[0].closed:
        raise damaged(name)
    return rings[0].curve
