"""What of a drawing is an outline, and what lies inside one: closed paths, open lines, texts.

A closed path inside another of its group is no piece of its own: it is a double-pointed dart, a cut-out or a placement
line. One that is nearly as large as what it lies in is another size of it, or its stitch line, and stays an outline.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten
from flatcut.geometry.region import contains, ring_area
from flatcut.pattern.values import DrawnPath, DrawnText

ON = 2.0
"""mm: what ends this far outside an outline still is meant to end on it."""
OVER = 10.0
"""mm that an open line may be drawn beyond an outline; it is cut back to it."""
NEARLY = 0.5
"""A closed path with more than this part of the area around it is no detail of it."""


@dataclass(kw_only=True)
class Gathered:
    """An outline with what lies in it. curve: its outer ring as drawn; inner: rings of the same path inside that."""

    path: DrawnPath
    curve: Curve
    inner: list[Curve] = field(default_factory=list)
    closed: list[DrawnPath] = field(default_factory=list)
    open: list[DrawnPath] = field(default_factory=list)
    texts: list[DrawnText] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Shape:
    """A ring of points about a curve, and its area in mm²."""

    points: Array
    area: float

    def holds(self, points: Array, *, over: float = ON) -> bool:
        """Whether all points lie inside, or outside by no more than `over` mm."""
        outside = points[~contains(self.points, points)]
        if not len(outside):
            return True
        # one point tells most of them apart
        if len(outside) == len(points) and not _near(self.points, outside[:1], over):
            return False
        return _near(self.points, outside, over)


def _near(ring: Array, points: Array, within: float) -> bool:
    """Whether all points (m, 2) lie within so many mm of a ring (n, 2), its first point repeated at the end."""
    start, along = ring[:-1], np.diff(ring, axis=0)
    size = np.maximum((along * along).sum(axis=1), 1e-30)
    for k in range(0, len(points), 64):
        to = points[k : k + 64, None] - start
        t = np.clip((to * along).sum(axis=-1) / size, 0.0, 1.0)
        if (np.hypot(*np.moveaxis(to - t[..., None] * along, -1, 0)).min(axis=1) > within).any():
            return False
    return True


class _Boxes:
    """The boxes of many shapes, asked all at once."""

    def __init__(self, shapes: list[_Shape]) -> None:
        self._low = np.array([shape.points.min(axis=0) for shape in shapes]).reshape(-1, 2)
        self._high = np.array([shape.points.max(axis=0) for shape in shapes]).reshape(-1, 2)

    def around(self, points: Array, *, over: float = ON) -> list[int]:
        """The shapes whose box holds all points, within `over` mm."""
        low, high = points.min(axis=0) + over, points.max(axis=0) - over
        inside = ((self._low <= low) & (self._high >= high)).all(axis=1)
        return [int(k) for k in np.flatnonzero(inside)]


def is_outline(path: DrawnPath) -> bool:
    """Whether a drawn path can be one: every part of it is closed."""
    return bool(path.curves) and all(path.closed)


def gather(paths: list[DrawnPath], things: list[DrawnPath | DrawnText]) -> list[Gathered]:
    """The outlines among closed `paths`, in order, each with what of `things` lies in it.

    A path of several rings is the largest of them, with those that lie inside it.
    """
    outers = [_outer(path) for path in paths]
    shapes = [_shape(outer.curve) for outer in outers]
    boxes = _Boxes(shapes)
    parents = [_parent(k, outers, shapes, boxes) for k in range(len(outers))]
    found = [outers[k] for k, parent in enumerate(parents) if parent is None]
    for k, parent in enumerate(parents):
        if parent is not None:
            outers[parent].closed.append(outers[k].path)
    chosen = {path.id for path in paths}
    for thing in things:
        if thing.id in chosen:
            continue
        points = thing.at[None] if isinstance(thing, DrawnText) else _points(thing)
        over = ON if isinstance(thing, DrawnText) or is_outline(thing) else OVER
        homes = [
            k for k in boxes.around(points, over=over) if parents[k] is None and shapes[k].holds(points, over=over)
        ]
        if isinstance(thing, DrawnText):
            homes = [k for k in homes if contains(shapes[k].points, points)[0]]
        if not homes:
            continue
        same = [k for k in homes if outers[k].path.group == thing.group]
        k = min(same or homes, key=lambda k: shapes[k].area)
        if isinstance(thing, DrawnText):
            outers[k].texts.append(thing)
        elif not is_outline(thing):
            outers[k].open.append(thing)
        elif same and _area(thing) <= NEARLY * shapes[k].area:
            outers[k].closed.append(thing)
    return found


def _outer(path: DrawnPath) -> Gathered:
    if len(path.curves) == 1:
        return Gathered(path=path, curve=path.curves[0])
    shapes = [_shape(curve) for curve in path.curves]
    largest = max(range(len(shapes)), key=lambda k: shapes[k].area)
    gathered = Gathered(path=path, curve=path.curves[largest])
    beside = 0
    for k, shape in enumerate(shapes):
        if k != largest and shapes[largest].holds(shape.points):
            gathered.inner.append(path.curves[k])
        elif k != largest:
            beside += 1
    if beside:
        rings = "ring that does" if beside == 1 else "rings that do"
        gathered.warnings.append(
            f"'{path.id}' has {beside} more {rings} not lie inside its largest; break the path apart to use them"
        )
    return gathered


def _parent(k: int, outers: list[Gathered], shapes: list[_Shape], boxes: _Boxes) -> int | None:
    """The outline that the path of number k is a detail of, the outermost of several."""
    best: int | None = None
    for i in boxes.around(shapes[k].points):
        shape = shapes[i]
        if i == k or shapes[k].area >= shape.area or not shape.holds(shapes[k].points):
            continue
        name, other = outers[k].path.id, outers[i].path.id
        if outers[i].path.group != outers[k].path.group:
            outers[k].warnings.append(
                f"'{name}' lies inside '{other}' but is of another group, so it became a piece of its own"
            )
        elif shapes[k].area > NEARLY * shape.area:
            outers[k].warnings.append(
                f"'{name}' lies inside '{other}' and is nearly as large, so it became a piece of its own; "
                "if one is the stitch line of the other, take only one of them"
            )
        elif best is None or shape.area > shapes[best].area:
            best = i
    return best


def _shape(curve: Curve) -> _Shape:
    points = flatten(curve, tolerance=0.2)
    return _Shape(points, abs(ring_area(points)))


def _points(path: DrawnPath) -> Array:
    return np.concatenate([flatten(curve, tolerance=0.5) for curve in path.curves])


def _area(path: DrawnPath) -> float:
    return max(_shape(curve).area for curve in path.curves)
