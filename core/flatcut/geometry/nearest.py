"""The nearest place on a curve.

At the nearest place inside a cubic the way to the point is square to the curve: (B(t) - p)·B'(t) = 0, a polynomial of
degree 5 with up to five roots. They are all found, none guessed at: in Bernstein form a polynomial has no root inside
where its coefficients have one sign, and exactly one where the signs change once, so pieces are halved until one of the
two holds.
"""

from __future__ import annotations

import math
from itertools import pairwise
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, as_complex
from flatcut.geometry.arrays import Ints as Indices
from flatcut.geometry.bernstein import halve, root
from flatcut.geometry.curves import Curve, point

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


DEPTH = 40
"""Rounds of halving before a piece counts as one place: 2^-40 of a span is far below a nanometre."""
FLAT = 1e-15
"""Coefficients below this part of (size of the span)² are rounding noise: the distance does not change there."""
FEW = 12
"""So many point and span pairs are looked at one by one, in plain numbers: more are quicker all at once."""
BATCH = 20_000
"""Point and span pairs worked on at a time, which bounds the memory to some tens of MB."""

# (cubic × quadratic) in Bernstein form: coefficient k of the product is the sum over i + j = k of these weights
_PRODUCT = np.zeros((6, 4, 3))
for _i in range(4):
    for _j in range(3):
        _PRODUCT[_i + _j, _i, _j] = comb(3, _i) * comb(2, _j) / comb(5, _i + _j)

_WEIGHTS = _PRODUCT.sum(axis=0).tolist()


def nearest(curve: Curve, points: ArrayLike) -> tuple[Array, Array]:
    """Places on the curve nearest to `points` (..., 2) and their distances in mm, both of shape (...).

    Distances are right to 1e-9 mm on curves of pattern size. Of several places at the same distance the first is given.

    >>> from flatcut.geometry.curves import line
    >>> nearest(line((0, 0), (10, 0)), [(5, 3), (12, 0)])
    (array([0.5, 1. ]), array([3., 2.]))
    """
    asked = np.asarray(points, dtype=float)
    if asked.shape == (2,):
        u, away = _nearest_one(curve, complex(*asked.tolist()))
        return np.asarray(u), np.asarray(away)
    flat = asked.reshape(-1, 2)
    if len(flat) * len(curve) <= FEW:
        one_by_one = [_nearest_one(curve, to) for to in as_complex(flat).tolist()]
        found = np.array(one_by_one, dtype=float).reshape(*asked.shape[:-1], 2)
        return found[..., 0], found[..., 1]
    places, distances = np.zeros(len(flat)), np.zeros(len(flat))
    step = max(1, BATCH // len(curve))
    for first in range(0, len(flat), step):
        part = slice(first, first + step)
        places[part], distances[part] = _nearest(curve, flat[part])
    return places.reshape(asked.shape[:-1]), distances.reshape(asked.shape[:-1])


def nearest_place(curve: Curve, to: ArrayLike) -> tuple[float, float]:
    """The place nearest to one point (2,), and its distance in mm.

    >>> from flatcut.geometry.curves import line
    >>> nearest_place(line((0, 0), (10, 0)), (2.5, -3))
    (0.25, 3.0)
    """
    return _nearest_one(curve, complex(*np.asarray(to, dtype=float).tolist()))


def _nearest(curve: Curve, points: Array) -> tuple[Array, Array]:
    """As `nearest`, for points (m, 2)."""
    nodes = curve.nodes
    to_nodes = np.hypot(*np.moveaxis(nodes[None] - points[:, None], -1, 0))
    place = to_nodes.argmin(axis=1).astype(float)
    distance = to_nodes.min(axis=1)
    # a span whose box is farther off than the best node needs no look
    low, high = curve.controls.min(axis=1), curve.controls.max(axis=1)
    outside = np.maximum(np.maximum(low[None] - points[:, None], points[:, None] - high[None]), 0)
    row, span = np.nonzero(np.hypot(outside[..., 0], outside[..., 1]) < distance[:, None])
    rows, places = [], []
    is_straight = curve.straight[span]
    for found, t, chosen in (
        (*_feet_on_lines(curve.controls[span[is_straight]], points[row[is_straight]]), is_straight),
        (*_feet_on_cubics(curve.controls[span[~is_straight]], points[row[~is_straight]]), ~is_straight),
    ):
        rows.append(row[chosen][found])
        places.append(span[chosen][found] + t)
    candidates, u = np.concatenate(rows), np.concatenate(places)
    gaps = points[candidates] - point(curve, u)
    away = np.hypot(gaps[:, 0], gaps[:, 1])
    # the best of each point, the first along the curve among equals
    order = np.lexsort((u, away, candidates))
    owner, at = np.unique(candidates[order], return_index=True)
    best = order[at]
    better = (away[best] < distance[owner]) | ((away[best] == distance[owner]) & (u[best] < place[owner]))
    place[owner[better]], distance[owner[better]] = u[best[better]], away[best[better]]
    return place, distance


def _nearest_one(curve: Curve, to: complex) -> tuple[float, float]:
    """As `nearest` for one place, in plain numbers: several times as fast."""
    spans = as_complex(curve.controls).tolist()
    nodes = [span[0] for span in spans] + [spans[-1][3]]
    gaps = [abs(node - to) for node in nodes]
    best = min(gaps)
    found = best, float(gaps.index(best))
    for k, (span, straight) in enumerate(zip(spans, curve.straight.tolist(), strict=True)):
        offset = [p - to for p in span]
        x, y = [p.real for p in offset], [p.imag for p in offset]
        aside, above = max(min(x), -max(x), 0.0), max(min(y), -max(y), 0.0)
        if math.hypot(aside, above) >= found[0]:
            continue
        if straight:
            along = span[3] - span[0]
            size = along.real * along.real + along.imag * along.imag
            t = -(offset[0].real * along.real + offset[0].imag * along.imag) / size if size > 0 else 0.0
            feet = [t] if 0 < t < 1 else []
        else:
            feet = _feet_on_one(offset)
        for t in feet:
            s = 1 - t
            a, b, c, d = offset
            away = abs(s * s * (s * a + 3 * t * b) + t * t * (3 * s * c + t * d))
            found = min(found, (away, k + t))
    return found[1], found[0]


def _feet_on_one(p: list[complex]) -> list[float]:
    """Parameters of every least distance inside a cubic from nought: see `_feet_on_cubics`."""
    d = [3 * (p[k + 1] - p[k]) for k in range(3)]
    g = [0.0] * 6
    for i in range(4):
        for j in range(3):
            g[i + j] += _WEIGHTS[i][j] * (p[i].real * d[j].real + p[i].imag * d[j].imag)
    noise = FLAT * max(max(abs(q.real), abs(q.imag)) for q in d) ** 2
    feet: list[float] = []
    waiting = [(g, 0.0, 1.0, 0)]
    while waiting:
        g, low, width, depth = waiting.pop()
        signs = [v > 0 for v in g if abs(v) > noise]
        changes = sum(a != b for a, b in pairwise(signs))
        if not signs or depth == DEPTH:
            feet.append(low + width / 2)
        elif changes == 1 and not signs[0]:
            feet.append(low + width * _rising(g))
        elif changes > 1:
            half = width / 2
            left, right = _halves(g)
            feet.append(low + half)  # a root on the cut itself is inside neither half
            waiting += [(right, low + half, half, depth + 1), (left, low, half, depth + 1)]
    return feet


def _halves(g: list[float]) -> tuple[list[float], list[float]]:
    """As `halve`, of one polynomial."""
    left, right = [g[0]], [g[-1]]
    while len(g) > 1:
        g = [(a + b) / 2 for a, b in pairwise(g)]
        left.append(g[0])
        right.append(g[-1])
    return left, right[::-1]


def _rising(g: list[float]) -> float:
    """As `root` over 0..1, of one polynomial."""
    low, high, t = 0.0, 1.0, 0.5
    for _ in range(100):
        s, h = 1 - t, g
        while len(h) > 2:
            h = [s * a + t * b for a, b in pairwise(h)]
        height, rise = s * h[0] + t * h[1], 5 * (h[1] - h[0])
        if height > 0:
            high = t
        else:
            low = t
        newton = t - height / rise if rise > 0 else math.inf
        before, t = t, newton if low <= newton <= high else (low + high) / 2
        if height == 0 or abs(t - before) <= 1e-15 or high - low <= 1e-15:
            break
    return t


def _feet_on_lines(controls: Array, points: Array) -> tuple[Indices, Array]:
    """Rows and parameters of the feet of perpendiculars from points (m, 2) onto straight spans (m, 4, 2)."""
    start, along = controls[:, 0], controls[:, 3] - controls[:, 0]
    size = (along * along).sum(axis=1)
    reach = ((points - start) * along).sum(axis=1)
    t = np.divide(reach, size, out=np.zeros(len(points)), where=size > 0)
    found = np.flatnonzero((t > 0) & (t < 1))
    return found, t[found]


def _feet_on_cubics(controls: Array, points: Array) -> tuple[Indices, Array]:
    """Rows and parameters of every least distance inside cubics (m, 4, 2) from points (m, 2), row by row.

    A row may come several times, and where all is flat (a curve of no length) with places that are no least distance.
    """
    offset = controls - points[:, None]
    slope = 3 * np.diff(controls, axis=1)
    g = np.einsum("kij,mic,mjc->mk", _PRODUCT, offset, slope, optimize=False)
    noise = FLAT * (np.abs(slope).max(axis=(1, 2)) ** 2)
    row, a, width = np.arange(len(g)), np.zeros(len(g)), np.ones(len(g))
    brackets: list[tuple[Indices, Array, Array, Array]] = []
    feet: list[tuple[Indices, Array]] = []
    for _ in range(DEPTH):
        signs = np.where(np.abs(g) <= noise[row][:, None], 0, np.sign(g))
        changes, rises = _sign_changes(signs)
        # a least distance is where the derivative g of half the squared distance changes from minus to plus
        single = (changes == 1) & rises
        brackets.append((row[single], a[single], width[single], g[single]))
        flat = (signs == 0).all(axis=1)
        feet.append((row[flat], a[flat] + width[flat] / 2))
        many = changes > 1
        if not many.any():
            break
        row, a, width, left, right = row[many], a[many], width[many] / 2, *halve(g[many])
        feet.append((row, a + width))  # a root on the cut itself is inside neither half
        row, a, width = np.tile(row, 2), np.concatenate([a, a + width]), np.tile(width, 2)
        g = np.concatenate([left, right])
    else:
        feet.append((row, a))
    row, a, width, g = (np.concatenate(parts) for parts in zip(*brackets, strict=True))
    feet.append((row, a + width * root(g, np.zeros(len(g)), np.ones(len(g)))))
    rows, t = (np.concatenate(parts) for parts in zip(*feet, strict=True))
    return rows, t


def _sign_changes(signs: Array) -> tuple[Indices, BoolArray]:
    """How often the signs (m, 6) change, zeros left out, and whether the first change goes up."""
    count = np.zeros(len(signs), dtype=np.intp)
    first_up = np.zeros(len(signs), dtype=np.bool_)
    last = signs[:, 0]
    for column in range(1, signs.shape[1]):
        now = signs[:, column]
        change = (now * last) < 0
        first_up |= change & (count == 0) & (now > 0)
        count += change
        last = np.where(now == 0, last, now)
    return count, first_up
