"""Symbols moved by hand: the marks that they show, and the label, take their data along."""

from __future__ import annotations

import math

import numpy as np
from lxml import etree

from flatcut.drawing.roles import LABEL, NOTCH
from flatcut.errors import InputError
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.texts import first_place
from flatcut.formats.svg.vocabulary import own, unpack
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.marks import written
from flatcut.pattern.values import Mark, Piece

MOVED = 0.05
"""mm: a symbol nearer to its place has not been moved; the editor's own rounding is a thousandth of that."""


def taken_along(
    document: Document, derived: list[etree._Element], piece: Piece, motion: Affine
) -> tuple[Piece, list[str]]:
    """The piece with the data of moved symbols where the symbols are, and the names of what was moved, the label not.

    derived: flatcut's own drawing of the piece; motion: of the piece's outline since it was drawn. A symbol that stayed
    behind when the outline alone was moved has not been moved itself: its data go with the outline.
    """
    puts: dict[str, Mark] = {}
    symbols = {kind.role for kind in written()} - {NOTCH.name}
    for element in (e for group in derived for e in group.iter(etree.Element)):
        role, uid = element.get(own("drawn")), element.get(own("of"), "")
        if role == LABEL.name:
            found = _of_label(document, element, piece, motion)
        elif role in symbols:
            found = _of_symbol(document, element, piece, uid, motion)
        else:
            continue
        if found is not None and float(np.linalg.norm(found[1])) > MOVED:
            mark, shift, place = found
            puts.setdefault(mark.uid, mark.put(piece, place + shift))
    if not puts:
        return piece, []
    names = [mark.told(piece) for mark in piece.marks() if mark.uid in puts and not mark.single]
    return piece.with_marks(lambda mark: puts.get(mark.uid, mark)), names


def _of_symbol(
    document: Document, element: etree._Element, piece: Piece, uid: str, motion: Affine
) -> tuple[Mark, Array, Array] | None:
    """The mark of a symbol, how far the symbol lies from its place, and that, (2,) mm; None when it is where it was."""
    marks = [mark for mark in piece.marks() if mark.uid == uid]
    place = marks[0].place(piece) if len(marks) == 1 else None
    if place is None:
        return None
    try:
        nodes = np.concatenate([sub.curve.nodes for sub in parse(element.get("d", ""))])
        # every symbol is its own image when turned half about its middle, so the middle of its box is that
        middle = document.matrix_of(element).apply((nodes.min(axis=0) + nodes.max(axis=0)) / 2)
    except (InputError, ValueError):
        return None
    shift = shift_between(middle, place, motion.inverse().apply(place))
    return None if shift is None else (marks[0], shift, place)


def shift_between(now: Array, carried: Array, drawn: Array) -> Array | None:
    """From where the piece has carried it to where it is now; None when it still stands where it was drawn."""
    return None if math.dist(now, drawn) <= MOVED else np.asarray(now - carried)


def _of_label(
    document: Document, element: etree._Element, piece: Piece, motion: Affine
) -> tuple[Mark, Array, Array] | None:
    """The caption, how far its label was moved, and from where, (2,) mm; None when the label is where it was drawn."""
    try:
        cx, cy, x, y = unpack(element.get(own("at"), "[]"), where="a label")
        now = document.matrix_of(element).moved(*first_place(element, document.window.size))
        if math.dist(now, (float(x), float(y))) <= MOVED:
            return None
        drawn = np.array([float(x), float(y)])
        shift = shift_between(np.array(now), motion.apply(drawn), drawn)
        return None if shift is None else (piece.caption, shift, motion.apply([float(cx), float(cy)]))
    except (InputError, TypeError, ValueError):
        return None
