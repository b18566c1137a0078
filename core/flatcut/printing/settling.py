"""Words of the pieces set aside from the lines where sheets join, so that none is read from two halves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.drawing.ink import Ink, Words
from flatcut.drawing.roles import LABEL
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.region import contains
from flatcut.marking.labels import BESIDE
from flatcut.marking.room import AIR, clearance, frame
from flatcut.printing.layout import Layout
from flatcut.printing.tiling import Tiling, meets

NEARBY = 160.0
"""mm that words are moved at most: what is farther off is no longer beside what it speaks of."""
STEP = 4.0
"""mm between the places that are tried."""
OFF = 1.0
"""mm that words stand off a line where sheets join."""
SHRINK = 0.8
"""A label that finds no place is tried in smaller letters, each so much of the last, down to those beside a piece."""


def settled(layout: Layout) -> Layout:
    """The layout with no label and no other words of a piece across two sheets, where a place nearby avoids it."""
    joins = _joins(layout.tiling)
    if not any(len(lines) for lines in joins):
        return layout
    items = list(layout.ink.items)
    for k, item in enumerate(items):
        if isinstance(item, Words) and _split(item.outline.nodes, joins).any():
            others = Ink(items=tuple(items[:k] + items[k + 1 :]))
            items[k] = _set_aside(item, layout.ink.rings, others, joins) or item
    return replace(layout, ink=layout.ink._replace(items=tuple(items)))


def _joins(tiling: Tiling) -> tuple[Array, Array]:
    """x of the upright lines and y of the level ones where a sheet is laid on another."""
    x = [tiling.window(column, 0)[0] for column in range(1, tiling.columns)]
    y = [tiling.window(0, row)[1] for row in range(1, tiling.rows)]
    return np.array(x), np.array(y)


def _split(boxes: Array, joins: tuple[Array, Array]) -> BoolArray:
    """Which boxes, (..., m, 2) by their corners, lie across a line where sheets join."""
    low, high = boxes.min(axis=-2) - OFF, boxes.max(axis=-2) + OFF
    found = np.zeros(low.shape[:-1], dtype=np.bool_)
    for axis, lines in enumerate(joins):
        found |= ((low[..., axis, None] < lines) & (high[..., axis, None] > lines)).any(axis=-1)
    return found


def _set_aside(words: Words, rings: tuple[Array, ...], others: Ink, joins: tuple[Array, Array]) -> Words | None:
    """The words at the nearest place that is clear of all else; None without one. Only labels leave their own line."""
    home = next((ring for ring in rings if contains(ring, words.at[None])[0]), None)
    if home is None:
        return None  # a label beside its piece has a line to it
    turn = frame(words.angle)
    steps = np.arange(-NEARBY, NEARBY + STEP, STEP)
    free = words.role is LABEL
    ways = np.stack(np.meshgrid(steps, steps if free else [0.0]), axis=-1).reshape(-1, 2) @ turn.T
    ways = ways[np.argsort(np.linalg.norm(ways, axis=1), kind="stable")]
    ways = ways[np.linalg.norm(ways, axis=1) <= NEARBY]
    x, y = words.at
    reach = NEARBY + np.ptp(words.outline.nodes, axis=0).max()
    walls = others.chords()
    walls = walls[meets((x - reach, y - reach, x + reach, y + reach), walls)]
    walls = np.concatenate([walls, np.stack([home[:-1], home[1:]], axis=1)])
    while True:
        corners = words.outline.nodes[:4]
        places = corners + ways[:, None]
        good = ~_split(places, joins)
        good[good] = contains(home, places[good].reshape(-1, 2)).reshape(-1, 4).all(axis=1)
        size = (float(np.linalg.norm(corners[1] - corners[0])), float(np.linalg.norm(corners[2] - corners[1])))
        middles = corners.mean(axis=0) + ways[good]
        for first in range(0, len(middles), 64):
            room = clearance(middles[first : first + 64] @ turn, size, walls @ turn)
            # words that stand close to a line from the first may do so again
            clear = np.flatnonzero(room >= (AIR if free else 1.0))
            if len(clear):
                return words._replace(at=words.at + ways[good][first + clear[0]])
        if not free or words.height * SHRINK < BESIDE:
            return None
        words = words._replace(height=words.height * SHRINK)
