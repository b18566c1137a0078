"""A worn garment as line drawings from the front, the side and the back, hidden lines left out: for paper."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.region import Ints
from flatcut.worn.showing import both_sides, form_mesh
from flatcut.worn.wearing import Worn

LOOKS = {
    "front": np.array([(1.0, 0.0, 0.0), (0.0, 0.0, 1.0)]),
    "side": np.array([(0.0, 0.0, -1.0), (1.0, 0.0, 0.0)]),
    "back": np.array([(-1.0, 0.0, 0.0), (0.0, 0.0, -1.0)]),
}
"""What goes to the right, and what comes toward the eye: from before, from the wearer's left, from behind."""
CELL = 3.0
"""mm of the grid in which it is told what lies in front."""
BEHIND = 7.0
"""mm that a line may lie behind what is in front there and still be seen."""
SHORTEST = 12.0
"""mm: shorter pieces of outlines are specks."""


class View(NamedTuple):
    """A drawing: name of the look; seams, outlines of the cloth and of the form as polylines (n, 2), mm, y up."""

    name: str
    seams: list[Array]
    cloth: list[Array]
    form: list[Array]


def views(worn: Worn) -> list[View]:
    """The three drawings of a worn garment."""
    cloth = both_sides(worn)
    at, triangles, lines = cloth["at"], cloth["triangles"], cloth["lines"]
    body, _, drawn = form_mesh(worn.form)
    faces: Ints = drawn.astype(np.intp)
    found = []
    for name, (right, toward) in LOOKS.items():
        cloth_flat, body_flat = (np.column_stack([points @ right, points[:, 1]]) for points in (at, body))
        deep = at @ toward, body @ toward
        front = _Front(
            np.vstack([cloth_flat, body_flat]),
            np.concatenate([deep[0], deep[1]]),
            np.vstack([triangles, faces + len(at)]),
        )
        seams = list(_chains(lines[front.sees(cloth_flat, deep[0], lines)], cloth_flat))
        rims = []
        for points, depth, mesh in ((cloth_flat, deep[0], triangles), (body_flat, deep[1], faces)):
            edges = _turning(points, mesh)
            seen = edges[front.sees(points, depth, edges)]
            rims.append([p for p in _chains(seen, points) if _long(p) > SHORTEST])
        found.append(View(name, seams, rims[0], rims[1]))
    return found


def _long(course: Array) -> float:
    return float(np.linalg.norm(np.diff(course, axis=0), axis=1).sum())


class _Front:
    """How near to the eye the nearest cloth or form is, cell by cell."""

    def __init__(self, flat: Array, deep: Array, triangles: Ints) -> None:
        self.low = flat.min(axis=0) - CELL
        self.size = np.ceil((flat.max(axis=0) + CELL - self.low) / CELL).astype(int) + 1
        self.near = np.full(int(self.size.prod()), -np.inf)
        corners = flat[triangles]
        across = np.ptp(corners, axis=1).max(axis=1)
        for parts in (4, 8, 16, 32):
            mine = triangles[(across <= parts * CELL) & (across > (0.0 if parts == 4 else 0.5 * parts * CELL))]
            u, v = np.meshgrid(np.linspace(0, 1, parts + 1), np.linspace(0, 1, parts + 1))
            inside = u + v <= 1 + 1e-9
            weight = np.column_stack([1 - u[inside] - v[inside], u[inside], v[inside]])
            spots = np.einsum("wk,tkx->twx", weight, flat[mine]).reshape(-1, 2)
            depth = np.einsum("wk,tk->tw", weight, deep[mine]).ravel()
            np.maximum.at(self.near, self._cell(spots), depth)

    def _cell(self, spots: Array) -> Ints:
        at = np.clip(((spots - self.low) / CELL).astype(int), 0, self.size - 1)
        return np.asarray(at[:, 1] * self.size[0] + at[:, 0])

    def sees(self, flat: Array, deep: Array, pairs: Ints) -> BoolArray:
        """Which of pairs of points are seen, by their middles."""
        if not len(pairs):
            return np.zeros(0, dtype=bool)
        middle = flat[pairs].mean(axis=1)
        return np.asarray(deep[pairs].mean(axis=1) >= self.near[self._cell(middle)] - BEHIND)


def _turning(flat: Array, triangles: Ints) -> Ints:
    """Pairs of points between a triangle that faces the eye and one that does not."""
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    faces = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0] > 0
    pairs = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    pairs.sort(axis=1)
    order = np.lexsort(pairs.T)
    pairs, facing = pairs[order], np.tile(faces, 3)[order]
    twice = (pairs[1:] == pairs[:-1]).all(axis=1) & (facing[1:] != facing[:-1])
    return np.asarray(pairs[1:][twice])


def _chains(pairs: Ints, flat: Array) -> Iterator[Array]:
    """Pairs of points joined to polylines (n, 2)."""
    near: dict[int, list[int]] = defaultdict(list)
    for a, b in pairs.tolist():
        near[a].append(b)
        near[b].append(a)
    for start in sorted(near, key=lambda v: len(near[v]) == 2):
        while near[start]:
            course = [start]
            while near[course[-1]]:
                here = course[-1]
                there = near[here].pop()
                near[there].remove(here)
                course.append(there)
            yield _fair(flat[course])


def _fair(course: Array) -> Array:
    """A polyline with each inner point drawn half-way to the middle of its neighbours: nets are coarser than pens."""
    if len(course) < 3:
        return course
    found: Array = course.copy()
    found[1:-1] = 0.5 * course[1:-1] + 0.25 * (course[:-2] + course[2:])
    return found


def box_of(drawings: Sequence[View]) -> tuple[Array, Array]:
    """The smallest and the largest x and y of drawings, each about its own middle."""
    points = np.vstack([line for one in drawings for line in (*one.seams, *one.cloth, *one.form)])
    return points.min(axis=0), points.max(axis=0)
