"""A photograph of a paper piece made an outline in mm."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import Any

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, polyline, transform
from flatcut.pattern.values import DrawnPath, Figure
from flatcut.photograph.camera import Camera, Seen, fitted
from flatcut.photograph.finding import squares_in
from flatcut.photograph.library import picture
from flatcut.photograph.marks import corners
from flatcut.photograph.paper import paper_edge

COARSEST = 0.6
"""mm of the table in one point of the picture at most: a notch is then some five points wide."""
TOLD = 120
"""Places along the edge at which the deviation is computed."""
SQUARE_OFF = 1.5
"""Points of the picture by which marks may miss the square that they should be on (root mean square)."""
MOST_TILT = 20.0
"""Degrees of tilt above which paper and table, by the paper's thickness alone, no longer lie as on one plane."""
GOAL = 1.0
"""mm: a deviation above this is said to be large."""


@dataclass(frozen=True, kw_only=True)
class Photographed:
    """outline: closed, of many points, mm, as seen from above with the first control square upright.

    squares: numbers of the control squares, from 1; tilt: degrees of the camera from upright; bend: how far the lens
    moves the corner of the picture, as a part of its distance from the middle; grain: mm of the table in a point of the
    picture, where that is most; off: mm by which the marks miss; deviation: mm that the edge may be off.
    """

    outline: Curve
    squares: tuple[int, ...]
    tilt: float
    bend: float
    grain: float
    off: float
    deviation: float

    def figures(self, side: float) -> tuple[Figure, ...]:
        """What is to be told of it. side: of the control squares, mm."""
        x0, y0, x1, y1 = bounds(self.outline)
        longest = max(x1 - x0, y1 - y0)
        return (
            Figure("photograph: control squares", len(self.squares), ""),
            Figure("photograph: camera tilted by", self.tilt, "°"),
            Figure("photograph: one point is", self.grain),
            Figure("photograph: marks miss by", self.off),
            Figure("photograph: the outline may be off by", self.deviation),
            Figure("photograph: 0.1 mm in the side of the square is, over the piece", 0.1 * longest / side),
        )

    def warnings(self) -> tuple[str, ...]:
        """What a person should know before trusting it."""
        said = []
        if self.deviation > GOAL and len(self.squares) == 1:
            said.append(
                "one control square does not tell how the lens bends lines far away from it: the outline may be off by "
                f"{self.deviation:.1f} mm; lay squares 2 to 4 about the paper too"
            )
        elif self.deviation > GOAL:
            said.append(
                f"the outline may be off by {self.deviation:.1f} mm; lay the control squares on all sides of the "
                "paper, and take the picture from nearer"
            )
        if self.tilt > MOST_TILT:
            said.append(f"the camera was tilted by {self.tilt:.0f}°; hold it more nearly above the middle of the paper")
        return tuple(said)


def photographed(name: str, side: float) -> Photographed:
    """The outline of the paper in a photograph. name: of the file; side: of the control squares, mm, as measured.

    Errors: InputError with a sentence for what is in the way, MissingPackageError.
    """
    return outlined(picture(name), side)


def outlined(seen: Any, side: float) -> Photographed:
    """The same of a picture, (height, width, 3) numbers from 0 to 255. Errors: InputError, MissingPackageError."""
    squares = squares_in(seen)
    high, wide = seen.shape[:2]
    half = float(np.hypot(wide, high) / 2)
    middle = np.array([wide - 1, high - 1]) / 2

    def parts(points: Array) -> Array:
        return (points - middle) / half

    marks = [
        Seen(
            picture=parts(np.concatenate(list(square.values()))),
            square=np.concatenate([corners(mark, side) for mark in square]),
        )
        for square in squares.values()
    ]
    camera = fitted(marks, half)
    if camera.off * half > SQUARE_OFF:
        raise InputError(
            f"the marks of the control squares miss each other by {camera.off * half:.1f} points of the picture; lay "
            "the squares flat on the table, all printed alike, and take the whole picture, not a part of it"
        )
    edge = parts(paper_edge(seen, [np.concatenate(list(square.values())) for square in squares.values()]))
    grain = _grain(camera, edge, half)
    if grain > COARSEST:
        raise InputError(
            f"the picture is too small: one point of it is {grain:.2f} mm on the table, and {COARSEST} mm is the most; "
            "take it from nearer, or with more points"
        )
    ring = camera.on_table(edge)
    some = np.concatenate([edge[:: max(1, len(edge) // TOLD)], *(one.picture[:1] for one in marks)])
    return Photographed(
        outline=polyline([*ring, ring[0]]),
        squares=tuple(number + 1 for number in squares),
        tilt=camera.tilt,
        bend=camera.bend,
        grain=grain,
        off=camera.off * half * grain,
        deviation=float(camera.deviation(some).max()),
    )


def drawn_at(found: Photographed, corner: tuple[float, float], taken: set[str]) -> DrawnPath:
    """The outline as a drawn path whose box begins at a corner; taken: ids that are in use."""
    x0, y0, _, _ = bounds(found.outline)
    name = next(f"photograph-{k}" for k in count(1) if f"photograph-{k}" not in taken)
    curve = transform(found.outline, Affine.translation(corner[0] - x0, corner[1] - y0))
    return DrawnPath(id=name, curves=(curve,), closed=(True,))


def _grain(camera: Camera, edge: Array, half: float) -> float:
    """mm of the table in one point of the picture, at most along the edge."""
    some = edge[:: max(1, len(edge) // 40)]
    steps = [np.hypot(*(camera.on_table(some + way) - camera.on_table(some)).T) for way in np.eye(2) / half]
    return float(np.max(steps))
