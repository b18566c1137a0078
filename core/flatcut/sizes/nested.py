"""Sizes of a piece laid on each other: a kind of line and a letter for each, all in black."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.pieces import piece_ink
from flatcut.drawing.roles import DART, Role
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, point, tangent
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import ring_area
from flatcut.marking.derived import Derived
from flatcut.marking.room import as_ring
from flatcut.sizes.over import Over

KINDS: tuple[tuple[float, ...], ...] = (
    (),
    (9.0, 3.0),
    (3.0, 2.0),
    (9.0, 2.0, 2.0, 2.0),
    (9.0, 2.0, 2.0, 2.0, 2.0, 2.0),
    (1.0, 1.5),
    (16.0, 3.0),
    (16.0, 2.0, 2.0, 2.0),
    (5.0, 5.0),
    (16.0, 2.0, 2.0, 2.0, 2.0, 2.0),
    (5.0, 1.5, 1.0, 1.5),
    (5.0, 1.5, 1.0, 1.5, 1.0, 1.5),
)
"""mm: dashes and gaps of the lines of each size, from the first on."""
WIDTH = 0.35
"""mm: of these lines."""
OUTER = ("cut", "outline")
"""Roles of the line that a size is cut along."""
OWN = ("notch", "hole", "button", "balance", "line", "fold-line", "placement-line")
"""Roles of what is drawn of every size beside that line; labels, grain and fold are those of one size alone."""
LETTER, STANDS_OFF, EACH = 4.0, 3.2, 8
"""mm: height of a letter, how far inside its line it stands; how many times each size has one."""
CLEAR = 2.2
"""mm: from the middle of a letter to any line, so that none runs over it."""
APART = 1.0
"""mm: where the line of another size is nearer than this, they are one line to the eye and have no letter."""


@dataclass(frozen=True, kw_only=True)
class Size:
    """A size: its name, its letter and the kind of its lines."""

    name: str
    letter: str
    dashes: tuple[float, ...]

    @property
    def role(self) -> Role:
        """The pen of its outer line."""
        return Role(name=f"size-{self.letter}", width=WIDTH, dashes=self.dashes)


def sizes_of(names: Sequence[str]) -> list[Size]:
    """The sizes with their letters and lines. Errors: UsageError for too many, or two of one name.

    >>> [(size.name, size.letter, size.dashes) for size in sizes_of(["36", "38"])]
    [('36', 'A', ()), ('38', 'B', (9.0, 3.0))]
    """
    if len(set(names)) < len(names) or "" in names:
        raise UsageError("sizes are nested by their names, and each drawing needs one of its own; tell it with 'style'")
    if not 2 <= len(names) <= len(KINDS):
        raise UsageError(f"2 to {len(KINDS)} sizes can be nested, each with a kind of line; there are {len(names)}")
    letters = "ABCDEFGHJKLM"
    return [Size(name=name, letter=letters[k], dashes=KINDS[k]) for k, name in enumerate(names)]


def nested_ink(sizes: Sequence[Size], over: Sequence[Over], found: Sequence[Derived], lines: str = "cut") -> Ink:
    """A piece in its sizes, laid over each other; grain, fold and label are those of the middle one.

    lines: 'stitch' for the stitch lines, anything else for the cut lines: both of every size could not be told apart.
    """
    drawn = "stitch" if lines == "stitch" else "cut"
    base = (len(over) - 1) // 2
    inks = [_laid(piece_ink(one.piece, derived, lines=drawn), one) for one, derived in zip(over, found, strict=True)]
    outer = [_outer(ink) for ink in inks]
    items: list[Stroke | Words] = []
    letters: list[Words] = []
    for k, (size, ink) in enumerate(zip(sizes, inks, strict=True)):
        others = [one for j, one in enumerate(outer) if j != k]
        for item in ink.items:
            name = item.role.name if isinstance(item, Stroke) else ""
            if isinstance(item, Stroke) and name in (*OUTER, "dart"):
                role = size.role if name in OUTER else size.role._replace(width=DART.width)
                items.append(item._replace(role=role))
                if name in OUTER:
                    put = [*_letters(size, k, len(sizes), item.curves[0], others, letters)]
                else:
                    put = [*_at_point(size, item, letters)]
                items += put
                letters += put
            elif k == base or name in OWN:
                items.append(item)
    rings = [ring for ink in inks for ring in ink.rings]
    largest = max(rings, key=lambda ring: abs(ring_area(ring)))
    return Ink(items=tuple(items), rings=(largest,), names=(over[base].piece.name,))


def _laid(ink: Ink, one: Over) -> Ink:
    """The ink of a size where it lies; words turn with the piece."""
    turn = math.degrees(math.atan2(one.matrix.b, one.matrix.a))
    items = (
        item.under(one.matrix)
        if isinstance(item, Stroke)
        else item._replace(at=one.matrix.apply(item.at), angle=item.angle + turn)
        for item in ink.items
    )
    return Ink(items=tuple(items), rings=tuple(one.matrix.apply(ring) for ring in ink.rings), names=ink.names)


def legend(sizes: Sequence[Size]) -> Ink:
    """Which line and letter is which size, a row each, from the origin down."""
    items: list[Stroke | Words] = []
    for k, size in enumerate(sizes):
        ends = np.array([[0.0, 8.0 * k], [60.0, 8.0 * k]])
        items.append(Stroke(role=size.role, curves=(line(*ends),)))
        items.append(Words(lines=(f"{size.letter}  {size.name}",), at=ends[1] + [5.0, 0.0], height=5.0, align="start"))
    return Ink(items=tuple(items))


def _outer(ink: Ink) -> Curve:
    """The line that a size is cut along."""
    return next(stroke.curves[0] for stroke in ink.strokes if stroke.role.name in OUTER)


def _off(spots: Array, letters: Sequence[Words]) -> Array:
    """How far places (n, 2) are from the nearest letter: (n,) mm."""
    taken = np.array([one.at for one in letters]).reshape(-1, 2)
    away = np.hypot(*np.moveaxis(spots[:, None] - taken[None], -1, 0))
    return np.asarray(away.min(axis=1, initial=np.inf))


def _at_point(size: Size, dart: Stroke, letters: Sequence[Words]) -> Iterator[Words]:
    """The letter of a size beyond the point of its dart: the place farthest from the dart's mouth, and as much farther
    as other letters need."""
    nodes = dart.curves[0].nodes
    mouth = (nodes[0] + nodes[-1]) / 2
    away = np.hypot(*(nodes - mouth).T)
    tip = nodes[int(np.argmax(away))]
    if np.hypot(*(nodes[0] - nodes[-1])) > 1e-6:  # a double-pointed one has no mouth
        spots = tip + LETTER * np.arange(1, len(KINDS) + 1)[:, None] * (tip - mouth) / away.max()
        spot = spots[int(np.argmax(_off(spots, letters) >= LETTER))]
        yield Words(lines=(size.letter,), at=spot, height=LETTER, of=size.letter)


def _letters(
    size: Size, k: int, count: int, ring: Curve, others: Sequence[Curve], letters: Sequence[Words]
) -> Iterator[Words]:
    """The letter of a size inside its line, at places that are no other size's, and where no other size runs."""
    whole = length(ring)
    shares = (np.arange(EACH) + (k + 0.5) / count) / EACH
    turn = float(np.sign(ring_area(as_ring([ring])[:-1])))
    places = places_at(ring, shares * whole)
    ways = np.array([tangent(ring, u) for u in places.tolist()])
    at = point(ring, places) + STANDS_OFF * turn * np.stack([-ways[:, 1], ways[:, 0]], axis=1)
    apart = np.min([nearest(other, point(ring, places))[1] for other in others], axis=0)
    free = np.min([nearest(other, at)[1] for other in (*others, ring)], axis=0)
    kept = (apart > APART) & (free > CLEAR)
    at = at[kept if kept.any() else apart >= apart.max()]
    off = _off(at, letters)
    for spot in at[off >= min(LETTER, off.max())]:
        yield Words(lines=(size.letter,), at=spot, height=LETTER, of=size.letter)
