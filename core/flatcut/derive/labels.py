"""The label of a piece: what it is and how it is cut, set where there is room, along the grain, never mirrored."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array, frozen
from flatcut.geometry.curves import chain, flatten
from flatcut.pattern.values import Piece, Style, outline

HEIGHT, LEAST = 7.0, 2.5
"""mm: letter height where there is room, and the smallest that is set inside a piece (common practice, no source)."""
LETTER = 0.62
"""Width of a letter as a part of its height, on the wide side for a plain sans serif, so that no text is longer."""
LEADING = 1.4
"""Line distance as a part of the letter height."""
AIR = 1.25
"""How much larger than the text the box is that must be free."""
CELLS = 20
"""Places tried across the piece: fewer, and narrow pieces find no room; more, and fifty pieces take long."""
_CROSS = np.array([[0.0, 0.0], [2.5, 0.0], [-2.5, 0.0], [0.0, 2.5], [0.0, -2.5]])
"""mm: what the cross on a named point covers, with some air."""
AWAY = 15.0
"""mm that a label beside its piece stands off."""


@dataclass(frozen=True, kw_only=True)
class Label:
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


def label(piece: Piece, style: Style) -> Label:
    """The label of a piece, placed."""
    told = [text for text in (style.name, f"size {style.size}" if style.size else "") if text]
    lines = (piece.name, cutting(piece), *((" ".join(told),) if told else ()))
    angle = _angle(piece)
    walls, ring = _walls(piece)
    for turned in (angle, angle - 90 if angle > 0 else angle + 90):
        centre, height = _room(ring, walls, block(lines, 1.0), turned)
        if height >= LEAST:
            return Label(lines=lines, centre=centre, angle=turned, height=min(height, HEIGHT))
    low, high = ring.min(axis=0), ring.max(axis=0)
    width, _ = block(lines, LEAST * 1.6)
    centre = np.array([high[0] + AWAY + width / 2, (low[1] + high[1]) / 2])
    nearest = ring[np.argmin(np.linalg.norm(ring - (centre - [width / 2, 0]), axis=1))]
    leader = (frozen(centre - [width / 2 + 2, 0]), frozen(nearest))
    return Label(lines=lines, centre=frozen(centre), angle=0.0, height=LEAST * 1.6, leader=leader)


def _angle(piece: Piece) -> float:
    """Degrees of the text's reading direction: along the grain, upright or rising, never upside down."""
    if piece.grain is None:
        return 0.0
    dx, dy = piece.grain.end - piece.grain.start
    angle = math.degrees(math.atan2(dy, dx))
    angle = (angle + 90) % 180 - 90
    return -90.0 if angle > 89.9 else angle


def _walls(piece: Piece) -> tuple[Array, Array]:
    """Points that the label keeps away from, and the outline as a ring of points."""
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.5)
    curves = [line.curve for line in piece.lines] + [leg for dart in piece.darts for leg in dart.legs]
    lines = [_dense(flatten(curve, tolerance=0.5)) for curve in curves]
    for point in piece.points:
        lines.append(point.at + _CROSS)
    if piece.grain is not None:
        lines.append(_dense(np.array([piece.grain.start, piece.grain.end])))
    return np.concatenate([_dense(ring), *lines]), ring


def _dense(points: Array, step: float = 6.0) -> Array:
    """The polyline with points at most `step` mm apart."""
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1)
    counts = np.maximum(1, np.ceil(legs / step)).astype(int)
    pieces = [p + np.arange(k)[:, None] / k * (q - p) for p, q, k in zip(points[:-1], points[1:], counts, strict=True)]
    return np.concatenate([*pieces, points[-1:]])


def _room(ring: Array, walls: Array, size: tuple[float, float], angle: float) -> tuple[Array, float]:
    """Where a box of the shape `size` can be largest, and how many times `size` it is there, with AIR around it.

    Of all places where it can be HEIGHT times as large the one nearest to the middle is taken.
    """
    turn = math.radians(angle)
    frame = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    turned, kept = ring @ frame, walls @ frame
    low, high = turned.min(axis=0), turned.max(axis=0)
    share = (np.arange(CELLS) + 0.5) / CELLS
    grid = np.stack(np.meshgrid(*(low + share[:, None] * (high - low)).T), axis=-1).reshape(-1, 2)
    grid = grid[_inside(grid, turned)]
    if not len(grid):
        return frozen(walls[0]), 0.0
    # how far the nearest wall is, in half boxes: a box of text is wide and low, so x and y are measured apart
    x, y = (np.abs(grid[:, None, k] - kept[None, :, k]) / (size[k] / 2) for k in (0, 1))
    fits = np.maximum(x, y).min(axis=1) / AIR
    off_centre = np.linalg.norm((grid - (low + high) / 2) / (high - low), axis=1)
    best = int(np.argmax(np.minimum(fits, HEIGHT) - off_centre * 0.01 * HEIGHT))
    return frozen(frame @ grid[best]), float(fits[best])


def _inside(points: Array, ring: Array) -> np.ndarray:
    """Even-odd rule, for every point at once."""
    a, b = ring[:-1], ring[1:]
    x, y = points[:, None, 0], points[:, None, 1]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return np.asarray((spans & (x < at)).sum(axis=1) % 2 == 1)
