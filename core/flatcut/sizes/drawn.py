"""A nest as it is drawn: a line style and a letter for each size, all in black."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from string import ascii_uppercase

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.pieces import piece_ink
from flatcut.drawing.roles import CUT, LABEL, NOTCH, OUTLINE, STITCH, WORDS, Role
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten, line, point, section
from flatcut.geometry.length import length, place_at, places_at
from flatcut.geometry.region import distance_to
from flatcut.marking.derived import Derived
from flatcut.sizes.over import Over

DASHES: tuple[tuple[float, ...], ...] = (
    (), (6.0, 2.0), (1.2, 1.2), (9.0, 2.0, 1.5, 2.0), (3.0, 1.5), (9.0, 2.0, 1.5, 2.0, 1.5, 2.0), (12.0, 3.0),
    (5.0, 1.5, 1.5, 1.5),
)  # fmt: skip
"""Line styles one after the other; told apart by the letters too, so from the ninth size on they come again."""
LETTER = 4.0
"""mm: height of the letters on the lines."""
SPREAD = 28.0
"""mm along the outline from the letter of one size to that of the next."""
TRIED = 48
"""Places along its outline at which the letters of a piece may begin."""
APART = 0.25
"""The part of the outline that lies between the two rows of letters at least."""


def pen(number: int, width: float = OUTLINE.width) -> Role:
    """The pen of a size."""
    return Role(name=f"size-{letter(number).lower()}", width=width, dashes=DASHES[number % len(DASHES)])


def letter(number: int) -> str:
    """The letter of a size.

    >>> letter(0), letter(27)
    ('A', 'AB')
    """
    first, last = divmod(number, len(ascii_uppercase))
    return (ascii_uppercase[first - 1] if first else "") + ascii_uppercase[last]


def nested(over: Sequence[Over], found: Sequence[Derived], numbers: Sequence[int], *, lines: str = "cut") -> Ink:
    """One piece in all its sizes. numbers: of the sizes, for their pens and letters; lines: as `piece_ink` takes them.

    Notches stand on the line of each size; grain, label and lines inside are those of the first.
    """
    items: list[Stroke | Words] = []
    rings: list[Array] = []
    outlines = [
        _outline(piece_ink(one.piece, derived, lines=lines), one) for one, derived in zip(over, found, strict=True)
    ]
    places = _roomy(outlines, numbers)
    for k, (one, derived, number) in enumerate(zip(over, found, numbers, strict=True)):
        ink = piece_ink(one.piece, derived, lines=lines)
        for stroke in ink.strokes:
            moved = stroke.under(one.matrix)
            if stroke.role in (CUT, OUTLINE):
                items += _lettered(moved.curves[0], number, places)
                rings.append(flatten(moved.curves[0], tolerance=0.1))
            elif stroke.role is STITCH:
                items.append(Stroke(role=pen(number, STITCH.width), curves=moved.curves, closed=moved.closed))
            elif stroke.role is NOTCH or k == 0:
                items.append(moved)
        if k == 0:
            items += _named(one, derived)
    return Ink(items=tuple(items), rings=tuple(rings), names=(over[0].piece.name,) * len(rings))


def _outline(ink: Ink, one: Over) -> Curve:
    """The line of a piece that leads the eye, where it lies."""
    return next(s.under(one.matrix).curves[0] for s in ink.strokes if s.role in (CUT, OUTLINE))


def _roomy(outlines: Sequence[Curve], numbers: Sequence[int]) -> tuple[float, ...]:
    """Parts of the outline at which the letters begin: where each is farthest from the lines of the other sizes."""
    rings = [flatten(outline, tolerance=0.2) for outline in outlines]
    wholes = [length(outline) for outline in outlines]
    shares = np.arange(TRIED) / TRIED
    room = np.full(TRIED, np.inf)
    for k, (outline, number) in enumerate(zip(outlines, numbers, strict=True)):
        along = (shares * wholes[k] + SPREAD * number) % wholes[k]
        at = point(outline, places_at(outline, along))
        for other in (ring for j, ring in enumerate(rings) if j != k):
            room = np.minimum(room, distance_to(other, at))
    first = int(room.argmax())
    off = np.abs((shares - shares[first] + 0.5) % 1.0 - 0.5)
    second = int(np.where(off >= APART, room, -1.0).argmax())
    return float(shares[first]), float(shares[second])


def _lettered(outline: Curve, number: int, places: Sequence[float]) -> Iterator[Stroke | Words]:
    """The outline with its letter in gaps of it."""
    whole = length(outline)
    name = letter(number)
    half = LETTER * (0.35 + 0.31 * len(name))
    cuts = sorted(((share * whole + SPREAD * number) % whole) for share in places)
    cuts = [min(max(cut, half), whole - half) for cut in cuts]
    ends = [0.0, *(end for cut in cuts for end in (cut - half, cut + half)), whole]
    along = [place_at(outline, end) for end in ends]
    parts = [section(outline, start, end) for start, end in zip(along[::2], along[1::2], strict=True) if end > start]
    yield Stroke(role=pen(number), curves=tuple(parts))
    for cut in cuts:
        yield Words(lines=(name,), at=point(outline, place_at(outline, cut)), height=LETTER, role=LABEL)


def _named(one: Over, derived: Derived) -> Iterator[Words]:
    """The name of the piece, where the label of the first size stands."""
    nodes = np.concatenate([part.nodes for edge in one.piece.edges for part in edge.parts])
    label = derived.label
    at = nodes.mean(axis=0) if label is None or label.leader is not None else label.centre
    yield Words(lines=(one.piece.name,), at=one.matrix.apply(at), height=8.0, role=LABEL)


def legend(sizes: Sequence[str]) -> Ink:
    """Which line and letter is which size, a row each, from the origin down."""
    items: list[Stroke | Words] = []
    for number, size in enumerate(sizes):
        y = 8.0 * number
        items.append(Stroke(role=pen(number), curves=(line(np.array([0.0, y]), np.array([45.0, y])),)))
        words = f"{letter(number)}  {size}"
        items.append(Words(lines=(words,), at=np.array([50.0, y]), height=5.0, align="start", role=WORDS))
    return Ink(items=tuple(items))


def moved_to(ink: Ink, x: float, y: float) -> Ink:
    """The ink with the low corner of its box at a place."""
    x0, y0, _, _ = ink.box
    return ink.moved(x - x0, y - y0)
