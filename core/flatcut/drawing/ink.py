"""Strokes and words in mm, and drawings made of them: what an output paints."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from flatcut.drawing.roles import WORDS, Role
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, line, polyline, transform
from flatcut.marking.labels import block
from flatcut.marking.lettering import LEADING
from flatcut.marking.room import frame, segments

BASELINE = 0.35
"""Half the height of a small letter with its rise, as a part of the letter height: sets a line about its middle."""


class Stroke(NamedTuple):
    """Curves in one role; closed: every one ends where it began; of: uid of what it shows, '' for no one thing."""

    role: Role
    curves: tuple[Curve, ...]
    closed: bool = False
    of: str = ""

    @property
    def box(self) -> tuple[float, float, float, float]:
        """A box that holds the stroke: of its control points."""
        points = np.concatenate([curve.controls.reshape(-1, 2) for curve in self.curves])
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def under(self, matrix: Affine) -> Stroke:
        """The same in other coordinates; its pen stays as wide as it is."""
        return self._replace(curves=tuple(transform(curve, matrix) for curve in self.curves))


class Words(NamedTuple):
    """Lines of text about a place `at` (2,), turned clockwise by `angle` degrees; of: uid of what they speak of.

    height: mm of a capital letter with its air; align: which part of the lines stands there, 'middle' or 'start';
    either way the lines are centred on it up and down.
    """

    lines: tuple[str, ...]
    at: Array
    height: float
    angle: float = 0.0
    align: str = "middle"
    role: Role = WORDS
    of: str = ""

    @property
    def rows(self) -> tuple[float, ...]:
        """How far below `at` the foot of each line stands, mm along the turned text."""
        first = BASELINE - LEADING * (len(self.lines) - 1) / 2
        return tuple((first + k * LEADING) * self.height for k in range(len(self.lines)))

    @property
    def outline(self) -> Curve:
        """The box of the text, turned, on the wide side."""
        wide, high = block(self.lines, self.height)
        left = 0.0 if self.align == "start" else -wide / 2
        box = [[left, -high / 2], [left + wide, -high / 2], [left + wide, high / 2], [left, high / 2]]
        return polyline(np.array([*box, box[0]]) @ frame(self.angle).T + self.at)

    @property
    def walls(self) -> tuple[Curve, ...]:
        """What other words keep clear of: the box, and the middle of each line, so that none fits in between."""
        wide, _ = block(self.lines, self.height)
        left = 0.0 if self.align == "start" else -wide / 2
        turn = frame(self.angle).T
        rows = (np.arange(len(self.lines)) - (len(self.lines) - 1) / 2) * LEADING * self.height
        return (self.outline, *(line(*(np.array([[left, y], [left + wide, y]]) @ turn + self.at)) for y in rows))


class Ink(NamedTuple):
    """Strokes and words in the order in which they are painted.

    rings: closed rings of points, the paper inside which belongs to a piece, and the names of those pieces.
    """

    items: tuple[Stroke | Words, ...] = ()
    rings: tuple[Array, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """The strokes alone."""
        return tuple(item for item in self.items if isinstance(item, Stroke))

    @property
    def words(self) -> tuple[Words, ...]:
        """The words alone."""
        return tuple(item for item in self.items if isinstance(item, Words))

    def moved(self, x: float, y: float) -> Ink:
        """The same elsewhere."""
        shift, way = Affine.translation(x, y), np.array([x, y])
        return Ink(
            items=tuple(
                item.under(shift) if isinstance(item, Stroke) else item._replace(at=item.at + way)
                for item in self.items
            ),
            rings=tuple(ring + way for ring in self.rings),
            names=self.names,
        )

    def chords(self) -> Array:
        """All that is drawn as chords, (n, 2, 2); words as their boxes."""
        drawn = [curve for stroke in self.strokes for curve in stroke.curves]
        return segments([*drawn, *(wall for words in self.words for wall in words.walls)])

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Smallest x, y and largest x, y of all that is drawn, exactly."""
        drawn = [curve for stroke in self.strokes for curve in stroke.curves]
        boxes = np.array([bounds(curve) for curve in (*drawn, *(words.outline for words in self.words))])
        (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)


def together(parts: Iterable[Ink]) -> Ink:
    """Several as one."""
    inks = list(parts)
    return Ink(
        items=tuple(item for ink in inks for item in ink.items),
        rings=tuple(ring for ink in inks for ring in ink.rings),
        names=tuple(name for ink in inks for name in ink.names),
    )
