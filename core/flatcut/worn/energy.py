"""The energy of cloth on a form: stretch along warp and weft, shear, bending, weight, and the form that holds it.

Units: mm and N, so energies are N mm. Stretch and shear of a triangle of flat area A, with w_u and w_v what weft and
warp threads of unit length have become:

    A/2 (k_u (|w_u| - 1)^2 + k_v (|w_v| - 1)^2 + G (w_u . w_v)^2)

Bending by the squared mean curvature of the pairs of triangles at each edge, a constant matrix (quadratic bending for
surfaces that bend without stretching: Bergou, Wardetzky, Harmon, Zorin and Grinspun 2006). The form pushes back what
comes nearer than a gap.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.region import Ints
from flatcut.worn.cloth import GRAVITY, SQUEEZE, Cloth

GAP = 1.0
"""mm between the form and the middle of the cloth."""
PUSH = 0.02
"""N/mm³: how hard the form pushes back."""
HELD = 0.2
"""N/mm that holds a vertex at its height."""
PLANE = 50.0
"""N/mm that holds a vertex in the plane of the mirror."""


class Ground(Protocol):
    """What the cloth lies on."""

    def each(self, points: Array) -> Sequence[tuple[Array, Array]]:
        """Of each of its bodies the distance (n,) mm of points (n, 3), negative inside, and the directions outward
        (n, 3). Bodies are kept apart so that the energy is smooth where two of them meet."""


class Nowhere:
    """No ground: cloth in the air."""

    def each(self, points: Array) -> Sequence[tuple[Array, Array]]:
        """No bodies."""
        return ()


class Strain(NamedTuple):
    """Per triangle: stretch of weft and warp threads (0.01 is 1 %), and the cosine of the angle between them."""

    weft: Array
    warp: Array
    shear: Array


@dataclass(frozen=True, kw_only=True)
class Net:
    """Triangles (t, 3) of vertices; flat (t, 3, 2): their corners in the flat cloth, mm along weft and warp.

    held: vertices whose height is held, and at which height. kept: vertices kept lying on the first body of the ground.
    plane: vertices that stay in the plane x = 0, beyond which the mirror image of the net goes on; empty for a net
    without one. off (count,): mm more between a vertex and the form, where other cloth lies below it; empty for none.
    creased (k, 2): edges along which the cloth is pressed over, and bends freely.
    """

    count: int
    triangles: Ints
    flat: Array
    held: Ints
    height: Array
    plane: Ints
    kept: Ints = field(default_factory=lambda: np.array([], dtype=np.intp))
    off: Array = field(default_factory=lambda: np.array([]))
    creased: Ints = field(default_factory=lambda: np.empty((0, 2), dtype=np.intp))


class Energy:
    """The energy of a net of one cloth over a ground, with its slope and a positive matrix of its curvature.

    stiffer: factor of its bending, to smooth a first shape.
    """

    def __init__(self, net: Net, cloth: Cloth, ground: Ground, *, stiffer: float = 1.0) -> None:
        self.net, self.ground = net, ground
        self.gap = GAP + (net.off if len(net.off) else np.zeros(net.count))
        one, two = net.flat[:, 1] - net.flat[:, 0], net.flat[:, 2] - net.flat[:, 0]
        twice = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        self.area = 0.5 * np.abs(twice)
        # rows: what each corner gives to w_u and to w_v
        u1, u2 = two[:, 1] / twice, -one[:, 1] / twice
        v1, v2 = -two[:, 0] / twice, one[:, 0] / twice
        self.to_weft = np.column_stack([-u1 - u2, u1, u2])
        self.to_warp = np.column_stack([-v1 - v2, v1, v2])
        self.stiff = cloth.weft / 1000.0, cloth.warp / 1000.0
        self.skew = cloth.shear / 1000.0
        self.owned = np.bincount(net.triangles.ravel(), np.repeat(self.area / 3.0, 3), net.count)
        self.load = self.owned * cloth.weight * 1e-9 * GRAVITY
        self.mass = self.owned * cloth.weight * 1e-9 / 1000.0  # N s²/mm
        self.bend = _bending(net, self.area, stiffer * 1000.0 * cloth.bending)
        self._pattern()

    def strain(self, at: Array) -> Strain:
        """How the threads of each triangle lie."""
        weft, warp = self._threads(at)
        a, b = np.linalg.norm(weft, axis=1), np.linalg.norm(warp, axis=1)
        return Strain(a - 1.0, b - 1.0, np.einsum("ij,ij->i", weft, warp) / (a * b))

    def _threads(self, at: Array) -> tuple[Array, Array]:
        corners = at[self.net.triangles]
        return np.einsum("ti,tij->tj", self.to_weft, corners), np.einsum("ti,tij->tj", self.to_warp, corners)

    def _away(self, at: Array) -> tuple[Array, Array]:
        """mm by which the vertices that are kept on the form stand off, and the directions outward."""
        near, out = self.ground.each(at[self.net.kept])[0]
        return np.where(np.isfinite(near), np.maximum(near - GAP, 0.0), 0.0), out

    def value(self, at: Array) -> float:
        """N mm."""
        weft, warp = self._threads(at)
        total = 0.0
        for thread, k in zip((weft, warp), self.stiff, strict=True):
            e = np.linalg.norm(thread, axis=1) - 1.0
            total += float((0.5 * self.area * k * np.where(e > 0, 1.0, SQUEEZE) * e * e).sum())
        s = np.einsum("ij,ij->i", weft, warp)
        total += float((0.5 * self.area * self.skew * s * s).sum())
        total += 0.5 * sum(float(at[:, k] @ (self.bend[k] @ at[:, k])) for k in range(3))
        total += float((self.load * at[:, 1]).sum())
        for near, _ in self.ground.each(at):
            total += float((0.5 * PUSH * self.owned * np.maximum(self.gap - near, 0.0) ** 2).sum())
        if len(self.net.kept):
            total += 0.5 * HELD * float((self._away(at)[0] ** 2).sum())
        off = at[self.net.held, 1] - self.net.height
        total += 0.5 * PLANE * float((at[self.net.plane, 0] ** 2).sum())
        return total + 0.5 * HELD * float((off**2).sum())

    def stored(self, at: Array) -> float:
        """N mm without the weight."""
        return self.value(at) - float((self.load * at[:, 1]).sum())

    def slope(self, at: Array) -> tuple[Array, Any]:
        """The slope (n, 3), N, and a positive curvature as a sparse matrix over x0 y0 z0 x1 ..., N/mm."""
        weft, warp = self._threads(at)
        m = len(self.area)
        pull = np.zeros((2, m, 3))
        blocks = np.zeros((2, 2, m, 3, 3))
        eye = np.eye(3)
        for k, (thread, stiff) in enumerate(zip((weft, warp), self.stiff, strict=True)):
            size = np.maximum(np.linalg.norm(thread, axis=1), 1e-9)
            n = thread / size[:, None]
            e = size - 1.0
            hard = self.area * stiff * np.where(e > 0, 1.0, SQUEEZE)
            pull[k] += (hard * e)[:, None] * n
            across = hard * np.maximum(e, 0.0) / size
            outer = n[:, :, None] * n[:, None, :]
            blocks[k, k] += (hard - across)[:, None, None] * outer + across[:, None, None] * eye
        s = np.einsum("ij,ij->i", weft, warp)
        skew = self.area * self.skew
        pull[0] += (skew * s)[:, None] * warp
        pull[1] += (skew * s)[:, None] * weft
        blocks[0, 0] += skew[:, None, None] * warp[:, :, None] * warp[:, None, :]
        blocks[1, 1] += skew[:, None, None] * weft[:, :, None] * weft[:, None, :]
        blocks[0, 1] += skew[:, None, None] * warp[:, :, None] * weft[:, None, :]
        blocks[1, 0] += skew[:, None, None] * weft[:, :, None] * warp[:, None, :]
        to = (self.to_weft, self.to_warp)
        corner = sum(to[k][:, :, None] * pull[k][:, None, :] for k in range(2))
        slope = np.zeros((self.net.count, 3))
        for axis in range(3):
            slope[:, axis] = np.bincount(
                self.net.triangles.ravel(), np.asarray(corner)[:, :, axis].ravel(), self.net.count
            )
            slope[:, axis] += self.bend[axis] @ at[:, axis]
        slope[:, 1] += self.load
        push = np.zeros((self.net.count, 3, 3))
        for near, out in self.ground.each(at):
            into = np.maximum(self.gap - near, 0.0)
            slope -= (PUSH * self.owned * into)[:, None] * out
            hard = np.where(into > 0, PUSH * self.owned, 0.0)
            push += hard[:, None, None] * out[:, :, None] * out[:, None, :]
        if len(self.net.kept):
            kept = self.net.kept
            away, out = self._away(at)
            slope[kept] += HELD * away[:, None] * out
            push[kept] += HELD * out[:, :, None] * out[:, None, :]
        slope[self.net.plane, 0] += PLANE * at[self.net.plane, 0]
        slope[self.net.held, 1] += HELD * (at[self.net.held, 1] - self.net.height)
        push[self.net.held, 1, 1] += HELD
        push[self.net.plane, 0, 0] += PLANE
        values = np.zeros((m, 3, 3, 3, 3))
        for a in range(2):
            for b in range(2):
                values += np.einsum("ti,tj,tpq->tipjq", to[a], to[b], blocks[a, b])
        return slope, self._matrix(values, push)

    def _pattern(self) -> None:
        """Where the numbers of the curvature go: worked out once."""
        n, tri = self.net.count, self.net.triangles
        axes = np.arange(3)
        rows = np.broadcast_to((3 * tri[:, :, None] + axes)[:, :, :, None, None], (len(tri), 3, 3, 3, 3)).ravel()
        cols = np.broadcast_to((3 * tri[:, :, None] + axes)[:, None, None, :, :], (len(tri), 3, 3, 3, 3)).ravel()
        bend = [one.tocoo() for one in self.bend]
        more = [(3 * one.row + k, 3 * one.col + k) for k, one in enumerate(bend)]
        whole = np.arange(n)
        own_rows = np.broadcast_to((3 * whole[:, None] + axes)[:, :, None], (n, 3, 3)).ravel()
        own_cols = np.broadcast_to((3 * whole[:, None] + axes)[:, None, :], (n, 3, 3)).ravel()
        rows = np.concatenate([rows, *(r for r, _ in more), own_rows])
        cols = np.concatenate([cols, *(c for _, c in more), own_cols])
        key = cols.astype(np.int64) * (3 * n) + rows
        unique, self._into = np.unique(key, return_inverse=True)
        self._rows = (unique % (3 * n)).astype(np.int32)
        ends = np.searchsorted(unique // (3 * n), np.arange(3 * n + 1))
        self._ends = ends.astype(np.int32)
        self._bend = np.concatenate([one.data for one in bend])
        self._size = len(unique)
        self.diagonal = np.searchsorted(unique, np.arange(3 * n, dtype=np.int64) * (3 * n + 1))

    def _matrix(self, values: Array, push: Array) -> Any:
        from scipy.sparse import csc_array

        data = np.bincount(self._into, np.concatenate([values.ravel(), self._bend, push.ravel()]), self._size)
        n = 3 * self.net.count
        return csc_array((data, self._rows, self._ends), shape=(n, n))


def _bending(net: Net, area: Array, stiff: float) -> list[Any]:
    """For each axis the matrix (n, n) whose half product with the points is the bending energy. stiff: N mm."""
    from scipy.sparse import coo_array, diags_array

    tri, flat = net.triangles, net.flat
    cot = np.empty((len(tri), 3))  # of the angle at each corner
    for k in range(3):
        p, q = flat[:, (k + 1) % 3] - flat[:, k], flat[:, (k + 2) % 3] - flat[:, k]
        cot[:, k] = (p * q).sum(axis=1) / np.abs(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])
    edges: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for t, corners in enumerate(tri.tolist()):
        for k in range(3):
            a, b = corners[(k + 1) % 3], corners[(k + 2) % 3]
            edges.setdefault((a, b) if a < b else (b, a), []).append((t, k))
    plane = set(net.plane.tolist())
    creased = {(min(a, b), max(a, b)) for a, b in net.creased.tolist()}
    whole = [(*key, *found[0], *found[1]) for key, found in edges.items() if len(found) == 2 and key not in creased]
    # at the mirror a triangle bends against its own image
    halves = [(*key, *found[0], *found[0]) for key, found in edges.items() if len(found) == 1 and plane.issuperset(key)]
    a, b, t0, k0, t1, k1 = np.array(whole + halves, dtype=int).reshape(-1, 6).T
    c, d = tri[t0, k0], tri[t1, k1]

    def at(t: Array, k: Array, vertex: Array) -> Array:
        """The cotangent at the corner of a triangle that stands on a vertex of its edge."""
        one = tri[t, (k + 1) % 3] == vertex
        return np.asarray(np.where(one, cot[t, (k + 1) % 3], cot[t, (k + 2) % 3]))

    a0, b0, a1, b1 = at(t0, k0, a), at(t0, k0, b), at(t1, k1, a), at(t1, k1, b)
    count = len(a)
    rows = np.tile(np.arange(count), 4)
    cols = np.concatenate([a, b, c, d])
    weight = stiff / (area[t0] + area[t1])
    weight[len(whole) :] *= 0.5  # the other half of such an edge belongs to the image
    matrices = []
    for axis in range(3):
        image = np.where(np.arange(count) < len(whole), 1.0, -1.0 if axis == 0 else 1.0)
        data = np.concatenate([b0 + b1, a0 + a1, -(a0 + b0), -image * (a1 + b1)])
        mean = coo_array((data, (rows, cols)), shape=(count, net.count)).tocsr()
        matrices.append((mean.T @ diags_array(weight) @ mean).tocsr())
    return matrices


def bent(stiff: float, radius: float, area: float) -> float:
    """N mm that a sheet bent to a cylinder holds: half its stiffness times the curvature squared, for comparison."""
    return 0.5 * stiff * area / radius**2 if math.isfinite(radius) else 0.0
