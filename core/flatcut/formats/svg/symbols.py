"""Symbols moved by hand: the marks of points, drill holes and buttons, and the label, take their data along."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.texts import first_place
from flatcut.formats.svg.vocabulary import own, unpack
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.marking.holes import hole_place
from flatcut.pattern.values import Button, Hole, NamedPoint, Piece

MOVED = 0.05
"""mm: a symbol nearer to its place has not been moved; the editor's own rounding is a thousandth of that."""


def taken_along(
    document: Document, derived: list[etree._Element], piece: Piece, motion: Affine
) -> tuple[Piece, list[str]]:
    """The piece with the data of moved symbols where the symbols are, and the names of what was moved, the label not.

    derived: flatcut's own drawing of the piece; motion: of the piece's outline since it was drawn. A symbol that stayed
    behind when the outline alone was moved has not been moved itself: its data go with the outline.
    """
    shifts: dict[str, Array] = {}
    for element in (e for group in derived for e in group.iter(etree.Element)):
        role, uid = element.get(own("drawn")), element.get(own("of"), "")
        if role in ("point", "hole", "button"):
            shift = _of_symbol(document, element, piece, uid, motion)
        elif role == "label":
            uid, shift = role, _of_label(document, element, motion)
        else:
            continue
        if shift is not None and float(np.linalg.norm(shift)) > MOVED:
            shifts.setdefault(uid, shift)
            if role == "label":
                centre = motion.apply(unpack(element.get(own("at"), ""), where=piece.name)[:2])
                piece = replace(piece, caption=replace(piece.caption, at=centre + shift))
    if not shifts:
        return piece, []
    points = tuple(replace(p, at=p.at + shifts[p.uid]) if p.uid in shifts else p for p in piece.points)
    holes = tuple(_put(h, _place(piece, h), shifts[h.uid]) if h.uid in shifts else h for h in piece.holes)
    buttons = tuple(
        replace(b, at=b.at + shifts[b.uid], slit=None if b.slit is None else b.slit + shifts[b.uid])
        if b.uid in shifts
        else b
        for b in piece.buttons
    )
    names = [p.name for p in points if p.uid in shifts]
    names += ["a drill hole" for h in holes if h.uid in shifts] + [f"a {b.kind}" for b in buttons if b.uid in shifts]
    return replace(piece, points=points, holes=holes, buttons=buttons), names


def _of_symbol(document: Document, element: etree._Element, piece: Piece, uid: str, motion: Affine) -> Array | None:
    """How far a symbol lies from its place, (2,) mm, or None when it is where it was drawn."""
    things: tuple[NamedPoint | Hole | Button, ...] = (*piece.points, *piece.holes, *piece.buttons)
    places = [_place(piece, thing) for thing in things if thing.uid == uid]
    if len(places) != 1 or places[0] is None:
        return None
    try:
        nodes = np.concatenate([sub.curve.nodes for sub in parse(element.get("d", ""))])
        # every symbol is its own image when turned half about its middle, so the middle of its box is that
        middle = document.matrix_of(element).apply((nodes.min(axis=0) + nodes.max(axis=0)) / 2)
    except (InputError, ValueError):
        return None
    return shift_between(middle, places[0], motion.inverse().apply(places[0]))


def _put(hole: Hole, place: Array | None, shift: Array) -> Hole:
    """A hole where it was put; one that was bound to a dart is bound no more."""
    return hole if place is None else replace(hole, at=place + shift, dart="", of="", by=0.0)


def _place(piece: Piece, thing: NamedPoint | Hole | Button) -> Array | None:
    """The middle of what is drawn for a thing, (2,) mm."""
    if isinstance(thing, Hole):
        return hole_place(piece, thing)
    if isinstance(thing, Button) and thing.slit is not None:
        return np.asarray(thing.slit.mean(axis=0))
    return thing.at


def shift_between(now: Array, carried: Array, drawn: Array) -> Array | None:
    """From where the piece has carried it to where it is now; None when it still stands where it was drawn."""
    return None if float(np.linalg.norm(now - drawn)) <= MOVED else np.asarray(now - carried)


def _of_label(document: Document, element: etree._Element, motion: Affine) -> Array | None:
    """How far a label was moved, (2,) mm, or None when it is where it was drawn."""
    try:
        _, _, x, y = unpack(element.get(own("at"), "[]"), where="a label")
        now = document.matrix_of(element).apply(first_place(element, document.window.size))
        drawn = np.array([float(x), float(y)])
        return shift_between(now, motion.apply(drawn), drawn)
    except (InputError, TypeError, ValueError):
        return None
