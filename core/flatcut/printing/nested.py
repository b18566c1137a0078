"""Sizes of a piece laid on each other: a kind of line and a letter for each, all in black."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.pieces import piece_ink
from flatcut.drawing.roles import DART, Role
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point, tangent
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.marking.derived import Derived
from flatcut.marking.room import as_ring
from flatcut.pattern.values import Piece

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


def nested_ink(sizes: Sequence[Size], pieces: Sequence[Piece], found: Sequence[Derived], lines: str) -> Ink:
    """A piece in its sizes, laid on each other where `meeting` says; grain, fold and label are those of the middle one.

    lines: 'stitch' for the stitch lines, anything else for the cut lines: both of every size could not be told apart.
    """
    drawn = "stitch" if lines == "stitch" else "cut"
    inks = [piece_ink(piece, derived, lines=drawn) for piece, derived in zip(pieces, found, strict=True)]
    base = (len(pieces) - 1) // 2
    at = meeting(pieces[base])
    moves = [at - meeting(piece) for piece in pieces]
    inks = [ink.moved(*move.tolist()) for ink, move in zip(inks, moves, strict=True)]
    outer = [_outer(ink) for ink in inks]
    items: list[Stroke | Words] = []
    for k, (size, ink) in enumerate(zip(sizes, inks, strict=True)):
        others = [one for j, one in enumerate(outer) if j != k]
        for item in ink.items:
            name = item.role.name if isinstance(item, Stroke) else ""
            if isinstance(item, Stroke) and name in (*OUTER, "dart"):
                role = size.role if name in OUTER else replace(size.role, width=DART.width)
                items.append(replace(item, role=role))
                items += (
                    _letters(size, k, len(sizes), item.curves[0], others) if name in OUTER else _at_point(size, item)
                )
            elif k == base or name in OWN:
                items.append(item)
    rings = [ring for ink in inks for ring in ink.rings]
    largest = max(rings, key=_area)
    return Ink(items=tuple(items), rings=(largest,), names=(pieces[base].name,))


def meeting(piece: Piece) -> Array:
    """Where the sizes of a piece lie on each other, (2,): where its fold or centre begins, else its first edge."""
    edge = next((edge for edge in piece.edges if edge.use in ("fold", "centre")), piece.edges[0])
    return edge.start


def _outer(ink: Ink) -> Curve:
    """The line that a size is cut along."""
    return next(stroke.curves[0] for stroke in ink.strokes if stroke.role.name in OUTER)


def _at_point(size: Size, dart: Stroke) -> Iterator[Words]:
    """The letter of a size beyond the point of its dart: the place farthest from the dart's mouth."""
    nodes = dart.curves[0].nodes
    mouth = (nodes[0] + nodes[-1]) / 2
    away = np.hypot(*(nodes - mouth).T)
    tip = nodes[int(np.argmax(away))]
    if np.hypot(*(nodes[0] - nodes[-1])) > 1e-6:  # a double-pointed one has no mouth
        yield Words(lines=(size.letter,), at=tip + LETTER * (tip - mouth) / away.max(), height=LETTER, of=size.letter)


def _letters(size: Size, k: int, count: int, ring: Curve, others: Sequence[Curve]) -> Iterator[Words]:
    """The letter of a size inside its line, at places that are no other size's, and where no other size runs."""
    whole = length(ring)
    shares = (np.arange(EACH) + (k + 0.5) / count) / EACH
    inside = as_ring([ring])
    x, y = inside[:-1].T
    turn = float(np.sign(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    places = places_at(ring, shares * whole)
    apart = np.min([nearest(other, point(ring, places))[1] for other in others], axis=0)
    places = places[apart > APART] if (apart > APART).any() else places
    for u in places.tolist():
        way = tangent(ring, u)
        at = point(ring, u) + STANDS_OFF * turn * np.array([-way[1], way[0]])
        yield Words(lines=(size.letter,), at=at, height=LETTER, of=size.letter)


def _area(ring: Array) -> float:
    x, y = ring[:-1].T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
