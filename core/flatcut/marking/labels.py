"""The label of a piece: what it is and how it is cut, set where there is room, along the grain, never mirrored."""

from __future__ import annotations

import math
import textwrap
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, frozen
from flatcut.geometry.curves import Curve, line
from flatcut.geometry.region import contains
from flatcut.marking.lettering import LEADING, LETTER
from flatcut.marking.room import as_ring, clearance, frame, readable, room_at, roomiest
from flatcut.pattern.values import Piece, Style, outline
from flatcut.pattern.widths import bands
from flatcut.units import plain

HEIGHT, LEAST = 7.0, 2.5
"""mm: letter height where there is room, and the smallest that is set inside a piece (common practice, no source)."""
BESIDE = 4.0
"""mm: letter height of a label beside its piece, and of one inside it that is read with ease."""
LONGEST = 36
"""Letters of a line that lists edges, so that a label with many of them is not small."""
NO_ALLOWANCE = "stitch line, no allowance"
"""On the label of a piece without the cut line that it should have."""
_CROSS = 2.5
"""mm: what the cross on a named point covers to each side, with some air."""
AWAY = 15.0
"""mm that a label beside its piece stands off."""


class Label(NamedTuple):
    """Lines of text about a centre, turned by `angle` degrees (clockwise); leader: from text to piece, or None."""

    lines: tuple[str, ...]
    centre: Array
    angle: float
    height: float
    leader: tuple[Array, Array] | None = None

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the text block in mm, on the wide side."""
        return block(self.lines, self.height)


def block(lines: tuple[str, ...], height: float) -> tuple[float, float]:
    """Width and height in mm of lines of text, on the wide side.

    >>> block(("front", "cut 1"), 10.0)
    (31.0, 24.0)
    """
    return max(len(text) for text in lines) * LETTER * height, (1 + LEADING * (len(lines) - 1)) * height


def cutting(piece: Piece) -> str:
    """How many are cut, in words.

    >>> cutting(Piece(uid="p", name="front", edges=(), cut_as="pair", quantity=2, material="shell"))
    'cut 2 (1 pair) shell'
    """
    count = {
        "single": f"cut {piece.quantity}",
        "pair": f"cut {piece.quantity} ({piece.quantity // 2} pair{'s' if piece.quantity > 3 else ''})",
        "fold": f"cut {piece.quantity} on fold",
    }[piece.cut_as]
    return f"{count} {piece.material}".strip()


def included(piece: Piece) -> tuple[str, ...]:
    """The allowance in words: in a line where it is the same on every edge that has one, else edge by edge.

    >>> included(Piece(uid="p", name="front", edges=()))
    ()
    """
    said: dict[str, list[str]] = {}
    for edge in piece.edges:
        if edge.allowance is not None:
            ends = [(plain(band.width), plain(band.end_width)) for band in bands(edge)]
            told = [start if start == end else f"{start} to {end}" for start, end in ends]
            said.setdefault(" and ".join(dict.fromkeys(told)), []).append(edge.name)
    bare = said.pop("0", [])
    if len(said) < 2:
        return tuple(f"{told} mm allowance included" for told in said)
    most = max(said, key=lambda told: len(said[told]))
    rows = [f"{told} mm: {', '.join(names)}" for told, names in said.items() if told != most]
    # of the edges that `other` speaks of, those that are bound, or face one, have none
    bound = [name for name in bare if piece.edge(name).use not in ("fold", "centre")]
    rows += [f"none: {', '.join(bound)}"] if bound else []
    wrapped = [line for row in rows for line in textwrap.wrap(row, LONGEST, break_long_words=False)]
    return ("allowance included", *wrapped, f"{most} mm: other edges")


def words(piece: Piece, style: Style, *, cut: bool = True) -> tuple[str, ...]:
    """The lines of a label: name, cutting, side, style and size, allowance, further words.

    cut: whether there is a cut line; without one no allowance is included, whatever the edges say.
    """
    told = [text for text in (style.name, f"size {style.size}" if style.size else "") if text]
    side = f"{piece.side}, right side up" if piece.side and piece.cut_as == "single" else piece.side
    further = [part.strip() for part in piece.caption.text.split(";")]
    allowance = included(piece) if cut else (NO_ALLOWANCE,)
    every = [piece.name, cutting(piece), side, " ".join(told), *allowance, *further]
    return tuple(text for text in every if text)


def label(piece: Piece, style: Style, walls: Array, cut: Curve | None = None, *, lost: bool = False) -> Label:
    """The label of a piece, placed; walls: chords (n, 2, 2) of all that it must not cross.

    lost: that the piece should have a cut line and can have none.
    """
    lines = words(piece, style, cut=not lost)
    ring = as_ring(outline(piece))
    angles = [0.0, -90.0] if piece.grain is None else [_along_grain(piece)]
    size = block(lines, 1.0)
    wanted = piece.caption.at
    if wanted is not None and lies_beside(wanted, ring):
        return _beside(lines, angles[0], ring if cut is None else as_ring([cut]), wanted)
    for least in (BESIDE, LEAST):
        for angle in angles:
            height = 0.0 if wanted is None else room_at(wanted, size, angle, ring, walls)
            if wanted is not None and height >= least:
                return Label(lines=lines, centre=frozen(wanted), angle=angle, height=min(height, HEIGHT))
    roomy: dict[float, tuple[Array, float]] = {}
    for least in (BESIDE, LEAST):
        for angle in angles:
            if wanted is not None or angle not in roomy:  # what is enough has a say only where a place is wanted
                roomy[angle] = roomiest(ring, walls, size, angle, enough=HEIGHT, near=wanted, least=least)
            centre, height = roomy[angle]
            if height >= least:
                return Label(lines=lines, centre=frozen(centre), angle=angle, height=min(height, HEIGHT))
    return _beside(lines, angles[0], ring if cut is None else as_ring([cut]), wanted)


def lies_beside(at: Array, ring: Array) -> bool:
    """Whether a place lies well outside a ring: there is where the label is wanted, not as near as it fits inside."""
    away = float(np.linalg.norm(ring - at, axis=1).min())
    return away > AWAY and not contains(ring, at[None])[0]


def lines_of(piece: Piece) -> list[Curve]:
    """The lines of a piece itself: outline, inner lines, legs of darts, crosses on points, grain line."""
    curves = [*outline(piece), *(inner.curve for inner in piece.lines)]
    curves += [leg for dart in piece.darts for leg in dart.legs if dart.form != "cut"]
    for point in piece.points:
        for arm in (np.array([_CROSS, 0.0]), np.array([0.0, _CROSS])):
            curves.append(line(point.at - arm, point.at + arm))
    if piece.grain is not None:
        curves.append(line(piece.grain.start, piece.grain.end))
    return curves


def _along_grain(piece: Piece) -> float:
    """Degrees of the text's reading direction: along the grain, upright or rising, never upside down."""
    assert piece.grain is not None
    dx, dy = piece.grain.end - piece.grain.start
    return readable(math.degrees(math.atan2(dy, dx)))


def _beside(lines: tuple[str, ...], angle: float, ring: Array, wanted: Array | None) -> Label:
    """A label outside its piece, at its right or where it is wanted, with a leader to the nearest place of the ring."""
    size = block(lines, BESIDE)
    turn = math.radians(angle)
    across = (abs(math.cos(turn)) * size[0] + abs(math.sin(turn)) * size[1]) / 2
    low, high = ring.min(axis=0), ring.max(axis=0)
    centre = np.array([high[0] + AWAY + across, (low[1] + high[1]) / 2])
    axes = frame(angle)
    if wanted is not None:
        chords = np.stack([ring[:-1], ring[1:]], axis=1)
        free = clearance(wanted[None] @ axes, size, chords @ axes)[0] >= 1.0
        centre = np.asarray(wanted) if free else centre
    nearest = ring[np.argmin(np.linalg.norm(ring - centre, axis=1))]
    # the leader leaves the text at the edge of its box
    way = (nearest - centre) @ axes
    grow = 1 / max(np.abs(way / (np.array(size) / 2 + 2.0)).max(), 1.0)
    return Label(
        lines=lines,
        centre=frozen(centre),
        angle=angle,
        height=BESIDE,
        leader=(frozen(centre + grow * (nearest - centre)), frozen(nearest)),
    )
