"""flatcut's own drawing changed by hand: marks that were deleted, ticks that were moved, a cut line that was edited."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.marked import mark_of, mean_of
from flatcut.formats.svg.matching import match
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.symbols import MOVED, shift_between
from flatcut.formats.svg.vocabulary import own, unpack
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, transform
from flatcut.pattern.values import Notch, Piece


@dataclass(kw_only=True, eq=False, repr=False)
class Said:
    """Names of what was changed by hand, as the steps tell it."""

    moved: list[str] = field(default_factory=list)
    edited: list[str] = field(default_factory=list)
    deleted: list[str] = field(default_factory=list)


def changed_by_hand(
    document: Document, derived: list[etree._Element], piece: Piece, motion: Affine
) -> tuple[Piece, Said]:
    """The piece as its drawing says that it is wanted, and what was changed.

    derived: flatcut's own drawing of the piece; motion: of the piece's outline since it was drawn. A mark that the
    group lists as drawn and that is not there was deleted, and its data go; a deleted cut line is none of them and
    comes again.
    """
    said = Said()
    elements = [element for group in derived for element in group.iter(etree.Element)]
    piece = _without_deleted(derived, elements, piece, said)
    piece = _with_moved_ticks(document, elements, piece, motion, said)
    return _with_cut(document, elements, piece, motion, said), said


def _without_deleted(derived: list[etree._Element], elements: list[etree._Element], piece: Piece, said: Said) -> Piece:
    listed: Counter[str] = Counter()
    for group in derived:
        known = unpack(group.get(own("marks"), "{}"), where=piece.name)
        if isinstance(known, dict):
            listed.update({uid: count for uid, count in known.items() if type(count) is int})
    there = Counter(mark_of(element) for element in elements)
    gone = {uid for uid, count in listed.items() if count and not there[uid]}
    if not gone and not any(there[uid] < count for uid, count in listed.items()):
        return piece
    said.deleted += [mark.told(piece) for mark in piece.marks() if mark.uid in gone and not mark.single]
    kept = piece.with_marks(lambda mark: mark.deleted() if mark.uid in gone else mark)
    notches = tuple(_fewer(n, there[n.uid], listed[n.uid]) for n in kept.notches)
    said.deleted += [f"a mark of {n.told(piece)}" for n in notches if n not in piece.notches]
    return replace(kept, notches=notches)


def partly_gone(derived: list[etree._Element], piece: Piece) -> list[str]:
    """References of what is drawn with several strokes of which some are gone: the edge of a notch at a dart's feet.

    derived: flatcut's own drawing of the piece. What has lost all its strokes was deleted, and so was a mark of a
    double notch; the one tick of a dart alone is neither.
    """
    there = Counter(mark_of(element) for group in derived for element in group.iter(etree.Element))
    return [
        f"{piece.name}.{piece.edge_of(notch.edge).name}"
        for notch in piece.notches
        if 0 < there[notch.uid] < _count(piece, notch)
    ]


def _count(piece: Piece, notch: Notch) -> int:
    """How many ticks a notch has: more than marks only at the feet of a dart and at the folds of a pleat."""
    from flatcut.marking.ticks import places, ticks  # a check asks, and no press

    if not piece.darts and not piece.edge_of(notch.edge).takeups:
        return len(places(piece.edge_of(notch.edge), notch))
    return len(ticks(piece, notch, None))


def _fewer(notch: Notch, there: int, drawn: int) -> Notch:
    """A double or triple notch that has lost a mark; at the feet of a dart each is drawn twice, and comes again."""
    return replace(notch, count=there) if there < drawn == notch.count else notch


def _with_moved_ticks(
    document: Document, elements: list[etree._Element], piece: Piece, motion: Affine, said: Said
) -> Piece:
    """A tick that was moved takes a new place: the one on the edge nearest to where it was put."""
    shifts: dict[str, Array] = {}
    for element in elements:
        if element.get(own("drawn")) == "notch":
            shift = _shift(document, element, motion)
            if shift is not None and float(np.linalg.norm(shift)) > MOVED:
                shifts.setdefault(element.get(own("of"), ""), shift)
    notches = []
    for notch in piece.notches:
        if notch.uid in shifts:
            said.moved.append(notch.told(piece))
            notch = notch.put(piece, notch.place(piece) + shifts[notch.uid])
        notches.append(notch)
    return replace(piece, notches=tuple(notches)) if shifts else piece


def _shift(document: Document, element: etree._Element, motion: Affine) -> Array | None:
    try:
        drawn = np.array([float(v) for v in unpack(element.get(own("at"), "[]"), where="a notch")])
        now = document.matrix_of(element).apply(mean_of(sub.curve for sub in parse(element.get("d", ""))))
        return shift_between(now, motion.apply(drawn), drawn) if drawn.shape == (2,) else None
    except (InputError, TypeError, ValueError):
        return None


def _with_cut(document: Document, elements: list[etree._Element], piece: Piece, motion: Affine, said: Said) -> Piece:
    """The piece with its cut line as drawn by hand, if it is: nodes were edited, or it was so when it was written."""
    cuts = [element for element in elements if element.get(own("drawn")) == "cut"]
    if len(cuts) != 1 or not cuts[0].get(own("last")):
        return piece
    by_hand, written = cuts[0].get(own("by-hand")) is not None, cuts[0].get("d") == cuts[0].get(own("last"))
    try:
        if written and not by_hand and document.matrix_of(cuts[0]) == IDENTITY:
            return piece  # to the letter as it was, which most are
        (last,), (drawn,) = parse(cuts[0].get(own("last"), "")), parse(cuts[0].get("d", ""))
        if not drawn.closed or not last.closed:
            return piece
        now = transform(drawn.curve, document.matrix_of(cuts[0]))
    except (InputError, ValueError):
        return piece  # what is no closed line any more is drawn anew
    carried = transform(last.curve, motion)
    if not _edited(last.curve, carried, now):
        now = carried
        if not by_hand:
            return piece
    else:
        said.edited.append("cut line")
    return replace(piece, cut_by_hand=now)


def _edited(last: Curve, carried: Curve, now: Curve) -> bool:
    """Whether a ring is another one, not only moved or left behind by its piece."""
    for before in (last, carried):
        try:
            found = match(before, [0], now)
        except InputError:
            continue
        if found.how in ("same", "renoded") or (found.how == "moved" and found.motion.is_rigid(tolerance=1e-4)):
            return False
    return True
