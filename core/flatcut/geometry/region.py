"""Questions about areas, answered by shapely: the only module that imports it, and only when it is asked.

Loading it takes longer than a few questions; as long as it is not there, those whose answer is beyond doubt are
answered without it (`surely`).

Points are arrays (n, 2) in mm. A ring is its points in order, the first point repeated at the end or not.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.arrays import Ints as Ints
from flatcut.geometry.surely import surely_inside, surely_simple

GRID = 1e-7
"""mm: areas whose sides all but coincide are united on a grid where GEOS cannot without one. It moves points by
half of this, far less than a boundary may lie from what it follows."""

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from shapely import Geometry  # type: ignore[import-untyped]  # shapely ships no types


FEW = 24
"""Rings that are looked at one by one in less time than shapely takes to load."""


def _may_do_without(rings: int) -> bool:
    return rings <= FEW and "shapely" not in sys.modules


def is_simple_ring(points: Array) -> bool:
    """Whether a ring neither crosses nor touches itself.

    >>> is_simple_ring(np.array([[0, 0], [4, 0], [4, 3]])), is_simple_ring(np.array([[0, 0], [4, 3], [4, 0], [0, 3]]))
    (True, False)
    """
    return bool(simple_rings([points])[0])


def simple_rings(rings: Sequence[Array]) -> BoolArray:
    """`is_simple_ring` of many rings in one call; without three points or with a NaN a ring is not simple."""
    owner = np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    return simple_owned(np.concatenate([*rings, np.zeros((0, 2))]), owner, len(rings))


def simple_owned(points: Array, owner: Ints, count: int) -> BoolArray:
    """As `simple_rings` for the points (n, 2) of `count` rings, one after the other; owner (n,): the ring of each."""
    fit = np.asarray(np.bincount(owner, minlength=count) >= 3)
    if not np.isfinite(points).all():
        fit[owner[~np.isfinite(points).all(axis=1)]] = False
    there = np.flatnonzero(fit).tolist()
    if _may_do_without(len(there)) and all(surely_simple(points[owner == i]) for i in there):
        return fit
    import shapely

    if there:
        if len(there) < count:
            mine = fit[owner]
            points, owner = points[mine], (np.cumsum(fit) - 1)[owner[mine]]
        fit[fit] = shapely.is_simple(shapely.linearrings(points, indices=owner))
    return fit


def crossing_place(points: Array) -> Array | None:
    """A place (2,) where a ring meets itself, or None when it is simple.

    >>> crossing_place(np.array([[0., 0], [4, 4], [4, 0], [0, 4]]))
    array([2., 2.])
    """
    import shapely

    polygon = shapely.polygons(points)
    # GEOS tells the place in this sentence and in no other way; the example above holds the form that it has
    reason = str(shapely.is_valid_reason(polygon))
    if "[" not in reason:
        return None
    return np.array([float(word) for word in reason.partition("[")[2].rstrip("]").split()])


def ring_area(points: Array) -> float:
    """mm² inside a ring, positive when it runs clockwise on the screen (y down).

    >>> ring_area(np.array([[0, 0], [4, 0], [4, 3]]))
    6.0
    """
    x, y = (points - points[:1]).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def ring_centroid(points: Array) -> Array:
    """The centre of area (2,) of a ring (n, 2) that encloses some.

    >>> ring_centroid(np.array([[0.0, 0], [4, 0], [4, 3]])).round(3)
    array([2.667, 1.   ])
    """
    p, q = points, np.roll(points, -1, axis=0)
    weight = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    return np.asarray(((p + q) * weight[:, None]).sum(axis=0) / (3 * weight.sum()))


def contains(ring: Array, points: Array) -> BoolArray:
    """Whether points (n, 2) lie inside a ring; on the ring itself counts as outside.

    >>> contains(np.array([[0, 0], [4, 0], [4, 3]]), np.array([[3., 1.], [1., 2.]]))
    array([ True, False])
    """
    sure = surely_inside(np.asarray(ring, dtype=float), points) if _may_do_without(1) else None
    if sure is not None:
        return sure
    import shapely

    polygon = shapely.polygons(ring)
    shapely.prepare(polygon)
    return np.asarray(shapely.contains_xy(polygon, points[:, 0], points[:, 1]))


class Part(NamedTuple):
    """One connected part of a region: its outer ring and its holes, each closed (first point repeated)."""

    ring: Array
    holes: tuple[Array, ...]


def shared_place(ring: Array, other: Array) -> Array | None:
    """The middle (2,) of what two areas share, were it only a point in which they touch; None where they lie apart.

    >>> shared_place(np.array([[0, 0], [4, 0], [0, 4]]), np.array([[2, 0], [6, 0], [6, -4]])).tolist()
    [3.0, 0.0]
    """
    import shapely

    shared = shapely.intersection(shapely.Polygon(ring), shapely.Polygon(other))
    return None if shared.is_empty else np.array(shapely.get_coordinates(shared.centroid)[0])


def united(rings: Sequence[Array]) -> list[Part]:
    """The union of the areas inside rings; a ring that crosses itself counts by its even-odd faces.

    >>> square = np.array([[0., 0], [2, 0], [2, 2], [0, 2]])
    >>> [abs(ring_area(part.ring)) for part in united([square, square + 1])]
    [7.0]
    """
    return _parts(_union(rings))


def subtracted(ring: Array, rings: Sequence[Array]) -> list[Part]:
    """The area inside a ring without the areas inside the others."""
    import shapely

    whole, taken = _union([ring]), _union(rings)
    try:
        return _parts(shapely.difference(whole, taken))
    except shapely.GEOSException:
        return _parts(shapely.difference(whole, taken, grid_size=GRID))


def _union(rings: Sequence[Array]) -> Geometry:
    import shapely

    number = np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    polygons = shapely.polygons(shapely.linearrings(np.concatenate(rings), indices=number))
    valid = shapely.make_valid(polygons)
    try:
        return shapely.union_all(valid)
    except shapely.GEOSException:
        return shapely.union_all(valid, grid_size=GRID)


def _parts(shape: Geometry) -> list[Part]:
    import shapely

    parts = []
    for polygon in shapely.get_parts(shape):
        if shapely.get_type_id(polygon) != 3 or polygon.is_empty:
            continue
        holes = tuple(shapely.get_coordinates(h) for h in polygon.interiors)
        parts.append(Part(shapely.get_coordinates(polygon.exterior), holes))
    return sorted(parts, key=lambda part: -abs(ring_area(part.ring)))


def near_segments(starts: Array, ends: Array, points: Array, *, within: float) -> tuple[Ints, Ints]:
    """Pairs (point number, segment number) of points (k, 2) within `within` mm of segments (n, 2) to (n, 2)."""
    import shapely

    tree = shapely.STRtree(shapely.linestrings(np.stack([starts, ends], axis=1)))
    pairs = tree.query(shapely.points(points), predicate="dwithin", distance=within)
    return pairs[0], pairs[1]


def distance_to(ring: Array, points: Array) -> Array:
    """mm from points (n, 2) to the line of a ring, whichever side they lie on.

    >>> distance_to(np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]]), np.array([[2.0, 1], [2, -3]])).tolist()
    [1.0, 3.0]
    """
    import shapely

    return np.asarray(shapely.distance(shapely.LinearRing(ring), shapely.points(points)))


def overlap_area(ring: Array, other: Array) -> float:
    """mm² that two areas share.

    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> overlap_area(square, square + [1.5, 0])
    1.0
    """
    import shapely

    return float(shapely.area(shapely.intersection(shapely.Polygon(ring), shapely.Polygon(other))))


def nearest_pairs(rings: Sequence[Array], *, within: float) -> list[tuple[int, int, float]]:
    """Pairs of areas nearer than `within` mm, each once, with their distance, 0 where they touch or overlap.

    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> nearest_pairs([square, square + [3, 0], square + [9, 0]], within=1.5)
    [(0, 1, 1.0)]
    """
    import shapely

    polygons = np.array([shapely.Polygon(ring) for ring in rings])
    tree = shapely.STRtree(polygons)
    one, two = tree.query(polygons, predicate="dwithin", distance=within)
    kept = one < two
    one, two = one[kept], two[kept]
    distances = shapely.distance(polygons[one], polygons[two])
    return [(int(a), int(b), float(d)) for a, b, d in zip(one, two, distances, strict=True)]


def swollen(ring: Array, *, by: float) -> Array:
    """A ring (n, 2) round an area that holds every point within `by` mm of it, and little more.

    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> bool(4 + 8 + np.pi < abs(ring_area(swollen(square, by=1.0))) < 15.2)
    True
    """
    import shapely

    # its arcs are drawn as chords inside them, by a part of 1 - cos(90° / 32) of the radius
    outer = shapely.buffer(shapely.Polygon(ring), 1.0013 * by, quad_segs=16)
    return np.asarray(shapely.get_coordinates(outer.exterior))


def covered(ring: Array, x: Array, y: Array, size: ArrayLike) -> BoolArray:
    """Which cells (len(x), len(y)) of a grid an area reaches into. x, y: their low corners; size: (2,) their sides, mm.

    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> covered(square, np.array([-1.0, 0, 1, 2]), np.array([1.5]), (1.0, 1.0)).ravel().tolist()
    [False, True, True, False]
    """
    import shapely

    polygon = shapely.Polygon(ring)
    shapely.prepare(polygon)
    wide, high = np.asarray(size, dtype=float)
    # an area that only touches a cell does not reach into it
    boxes = shapely.box(x[:, None] + GRID, y[None] + GRID, x[:, None] + wide - GRID, y[None] + high - GRID)
    return np.asarray(shapely.intersects(polygon, boxes))


def round_about(ring: Array, *, by: float) -> Array:
    """A ring of few points (n, 2) that holds an area whole and leaves at most twice `by` mm of room round it.

    Errors: ValueError where that has not come out as one ring without holes.

    >>> ring = np.array([[np.cos(t), np.sin(t)] for t in np.linspace(0, 2 * np.pi, 500)]) * 100
    >>> len(round_about(ring, by=0.5)) < 80
    True
    """
    import shapely

    inner = shapely.Polygon(ring)
    outer = shapely.simplify(shapely.buffer(inner, by, join_style="mitre"), 0.8 * by)
    if outer.geom_type != "Polygon" or not outer.is_valid or not outer.contains(inner):
        raise ValueError("no ring round it")
    return np.asarray(shapely.get_coordinates(outer.exterior))[:-1]
