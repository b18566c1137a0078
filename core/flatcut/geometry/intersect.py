"""Crossings of curves with each other and with themselves.

`meeting` finds the raw hits of single spans; here they become crossings of whole curves: ends and joints that touch the
other curve are added, and hits between which the curves stay within the tolerance of each other are taken together.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.arrays import Ints as Indices
from flatcut.geometry.curves import JOINT, Curve, point, section, tangent
from flatcut.geometry.meeting import meet
from flatcut.geometry.nearest import nearest

PARALLEL = 1e-4
"""Sine of the angle below which two tangents count as parallel: such a meeting is called a contact."""
ITSELF = 1e-6
"""Places of a curve on itself, in spans, that differ by less are one place, which rounding has told apart."""
STRETCH = 1.0
"""mm: curves that run within the tolerance of each other for longer than this share a stretch, not a point."""
FEW = 12
"""So many pairs of straight spans are looked at one by one: more are quicker all at once."""
CLEAR = 100.0
"""Ends farther from the other line than this times the tolerance, and angles wider than this times PARALLEL, are no
ends on it and no contacts."""
FINE = 1e-9
"""Places that differ by less than this are the same raw hit, found twice."""


class Crossing(NamedTuple):
    """Place u on the first curve and v on the second, the point (2,) in mm, and whether the tangents are parallel.

    Where `contact` is set the curves touch, or cross so flatly that they part by no more than the tolerance in between.
    """

    u: float
    v: float
    point: Array
    contact: bool


def crossings(a: Curve, b: Curve, *, tolerance: float = 1e-6) -> list[Crossing]:
    """Every crossing of two curves, ordered along `a`; points right to `tolerance` mm.

    - Near a tangent: both hits where the curves part by more than `tolerance` between them, else one contact.
    - An end or a joint within `tolerance` of the other curve is a hit, given once, at the end or joint itself; of a
      curve that ends where it begins the place 0 is given, never the place at its end.
    - Curves that run within `tolerance` of each other over more than STRETCH mm share that stretch: its two ends are
      given, as contacts.

    >>> from flatcut.geometry.curves import cubic, line
    >>> [h] = crossings(line((0, 0), (10, 10)), line((0, 10), (10, 0)))
    >>> h.u, h.v, h.point, h.contact
    (0.5, 0.5, array([5., 5.]), False)
    >>> [h.contact for h in crossings(cubic((-3, 9), (-1, -3), (1, -3), (3, 9)), line((-5, 0), (5, 0)))]
    [True]
    """
    i, j = _near_pairs(a, b, tolerance)
    if not len(i):
        return []
    plain = _straight_hits(a, b, i, j, tolerance)
    if plain is not None:
        return _sorted(plain)
    hits = meet(a.controls[i], a.straight[i], b.controls[j], b.straight[j], tolerance=tolerance)
    u, v, close = i[hits.pair] + hits.t, j[hits.pair] + hits.s, hits.close
    on_b = _ends_on(a, b, tolerance)
    on_a = _ends_on(b, a, tolerance)
    u = np.concatenate([u, on_b[0], on_a[1]])
    v = np.concatenate([v, on_b[1], on_a[0]])
    close = np.concatenate([close, np.zeros(len(on_b[0]) + len(on_a[0]), dtype=np.bool_)])
    places = [place for group in _groups(a, b, u, v, close, tolerance) for place in _places(a, b, group)]
    return _sorted(_without_seams(a, b, _settled(a, b, places, tolerance)))


def _straight_hits(a: Curve, b: Curve, i: Indices, j: Indices, tolerance: float) -> list[Crossing] | None:
    """The hits of straight spans whose ends lie clearly on the other line, or off it; None where one is not so clear.

    None too for curves that end where they begin.
    """
    if len(i) > FEW or not (a.straight[i].all() and b.straight[j].all()):
        return None
    if min(float(np.abs(c.end - c.start).max()) for c in (a, b)) <= JOINT:
        return None
    found: dict[tuple[float, float], Crossing] = {}
    for k, m in zip(i.tolist(), j.tolist(), strict=True):
        (px, py), (qx, qy) = a.controls[k, 0].tolist(), a.controls[k, 3].tolist()
        (rx, ry), (sx, sy) = b.controls[m, 0].tolist(), b.controls[m, 3].tolist()
        ax, ay, bx, by = qx - px, qy - py, sx - rx, sy - ry
        size_a, size_b, turn = math.hypot(ax, ay), math.hypot(bx, by), ax * by - ay * bx
        if abs(turn) <= CLEAR * PARALLEL * size_a * size_b:
            return None
        u, v = ((rx - px) * by - (ry - py) * bx) / turn, ((rx - px) * ay - (ry - py) * ax) / turn
        # how far the ends of each lie from the other's line
        off = [abs(w) for w in (u * turn / size_b, (u - 1) * turn / size_b, v * turn / size_a, (v - 1) * turn / size_a)]
        if any(tolerance / CLEAR < away <= CLEAR * tolerance for away in off):
            return None
        on = [away <= tolerance / CLEAR for away in off]
        u, v = (0.0 if on[0] else 1.0 if on[1] else u), (0.0 if on[2] else 1.0 if on[3] else v)
        if 0 <= u <= 1 and 0 <= v <= 1:
            at = [rx + v * bx, ry + v * by] if on[2] or on[3] else [px + u * ax, py + u * ay]
            if on[0] or on[1]:
                at = [px, py] if on[0] else [qx, qy]
            found[k + u, m + v] = Crossing(k + u, m + v, np.array(at), False)
    return list(found.values())


def self_crossings(curve: Curve, *, closed: bool, tolerance: float = 1e-6) -> list[Crossing]:
    """Every crossing of a curve with itself, with u < v, ordered by u; the rules are those of `crossings`.

    Neighbouring spans meet at their joint, and so do the last and the first of a `closed` curve: that is no crossing.
    Two spans that run back along each other from their joint are given by the far end of the shared stretch.

    >>> from flatcut.geometry.curves import cubic
    >>> [h] = self_crossings(cubic((0, 0), (150, 100), (-50, 100), (100, 0)), closed=False)
    >>> h.point.round(9), round(h.u + h.v, 9)
    (array([50.        , 42.85714286]), 1.0)
    """
    n = len(curve)
    i, j = _near_pairs(curve, curve, tolerance)
    i, j = i[i < j], j[i < j]
    hits = meet(curve.controls[i], curve.straight[i], curve.controls[j], curve.straight[j], tolerance=tolerance)
    loops = _loops(curve, tolerance)
    ends = [_node_on_others(curve, k, closed, tolerance) for k in range(n + 1)]
    u = np.concatenate([i[hits.pair] + hits.t, loops[0], *(e[0] for e in ends)])
    v = np.concatenate([j[hits.pair] + hits.s, loops[1], *(e[1] for e in ends)])
    u, v = np.minimum(u, v), np.maximum(u, v)
    close = np.zeros(len(u), dtype=np.bool_)
    close[: len(hits.pair)] = hits.close
    apart = v - u > ITSELF
    u, v, close = u[apart], v[apart], close[apart]
    joints = np.arange(1, n, dtype=float)
    seam = np.array([float(n)] if closed else [])
    u, v = np.concatenate([u, joints, 0 * seam]), np.concatenate([v, joints, seam])
    close = np.concatenate([close, np.zeros(len(joints) + len(seam), dtype=np.bool_)])
    found: list[tuple[float, float, bool]] = []
    for group in _groups(curve, curve, u, v, close, tolerance):
        at_joint = (group.u == group.v) | ((group.u == 0) & (group.v == n) & closed)
        places = _places(curve, curve, group)
        if at_joint.any():
            shared = set(zip(group.u[at_joint], group.v[at_joint], strict=True))
            places = [p for p in places if len(places) == 2 and p[:2] not in shared]
        found.extend(places)
    return _sorted(_settled(curve, curve, found, tolerance))


class _Group(NamedTuple):
    """Raw hits that belong together: places on both curves and the marks of a closest approach."""

    u: Array
    v: Array
    close: BoolArray


def _near_pairs(a: Curve, b: Curve, tolerance: float) -> tuple[Indices, Indices]:
    """Span numbers of both curves whose boxes overlap."""
    low_a, high_a = a.controls.min(axis=1) - tolerance, a.controls.max(axis=1) + tolerance
    low_b, high_b = b.controls.min(axis=1), b.controls.max(axis=1)
    overlap = (low_a[:, None] <= high_b[None]) & (low_b[None] <= high_a[:, None])
    i, j = np.nonzero(overlap.all(axis=2))
    return i, j


def _ends_on(a: Curve, b: Curve, tolerance: float) -> tuple[Array, Array]:
    """Ends and joints of `a` within `tolerance` of `b`: their places on both."""
    nodes = a.nodes
    low, high = b.controls.min(axis=1) - tolerance, b.controls.max(axis=1) + tolerance
    inside = ((nodes[:, None] >= low) & (nodes[:, None] <= high)).all(axis=2).any(axis=1)
    k = np.flatnonzero(inside)
    if not k.size:
        return np.zeros(0), np.zeros(0)
    places, distances = nearest(b, nodes[k])
    touching = distances <= tolerance
    return k[touching].astype(float), places[touching]


def _node_on_others(curve: Curve, k: int, closed: bool, tolerance: float) -> tuple[Array, Array]:
    """Where node `k` touches spans that do not begin or end in it."""
    n = len(curve)
    at = curve.nodes[k]
    inside = (curve.controls.min(axis=1) - tolerance <= at) & (at <= curve.controls.max(axis=1) + tolerance)
    near = inside.all(axis=1)
    own = {k - 1, k} | ({n - 1, 0} if closed and k in (0, n) else set())
    touched = []
    for j in np.flatnonzero(near):
        if int(j) not in own:
            places, distances = nearest(_span(curve, int(j)), at[None])
            if distances[0] <= tolerance:
                touched.append(j + float(places[0]))
    return np.full(len(touched), float(k)), np.array(touched, dtype=float)


def _span(curve: Curve, j: int) -> Curve:
    return Curve(curve.controls[j : j + 1], curve.straight[j : j + 1])


def _loops(curve: Curve, tolerance: float) -> tuple[Array, Array]:
    """Places (u, v) where single cubics cross themselves.

    With B(t) = c0 + c1 t + c2 t² + c3 t³, B(t) = B(s) for t ≠ s means c3 (t² + t s + s²) + c2 (t + s) + c1 = 0. Crossed
    with c3 this gives the sum of t and s, along c3 their product: t and s are the roots of one quadratic.
    """
    p = curve.controls
    c1, c2 = 3 * (p[:, 1] - p[:, 0]), 3 * (p[:, 0] - 2 * p[:, 1] + p[:, 2])
    c3 = p[:, 3] - p[:, 0] + 3 * (p[:, 1] - p[:, 2])
    turn, size = cross(c3, c2), (c3 * c3).sum(axis=1)
    usable = (np.abs(turn) > 1e-14 * np.abs(c3).sum(axis=1) * np.abs(c2).sum(axis=1)) & (size > 0) & ~curve.straight
    total = np.divide(-cross(c3, c1), turn, out=np.zeros(len(p)), where=usable)
    along = ((total[:, None] * c2 + c1) * c3).sum(axis=1)
    product = total * total + np.divide(along, size, out=np.zeros(len(p)), where=usable)
    disc = total * total - 4 * product
    t = (total - np.sqrt(np.maximum(disc, 0))) / 2
    s = total - t
    slack = 1e-9
    found = np.flatnonzero(usable & (disc > 0) & (t >= -slack) & (s <= 1 + slack))
    u, v = found + np.clip(t[found], 0, 1), found + np.clip(s[found], 0, 1)
    # a loop smaller than the tolerance is a cusp
    opened = np.linalg.norm(point(curve, (u + v) / 2) - point(curve, u), axis=-1) > tolerance
    return u[opened], v[opened]


def _groups(a: Curve, b: Curve, u: Array, v: Array, close: BoolArray, tolerance: float) -> list[_Group]:
    """Raw hits put together when the curves stay within the tolerance of each other between them."""
    u, v = (np.where(np.abs(w - np.round(w)) <= FINE, np.round(w), w) for w in (u, v))
    order = np.lexsort((v, u))
    u, v, close = u[order], v[order], close[order]
    fresh = np.ones(len(u), dtype=np.bool_)
    fresh[1:] = (np.diff(u) > FINE) | (np.abs(np.diff(v)) > FINE) | (close[1:] != close[:-1])
    u, v, close = u[fresh], v[fresh], close[fresh]
    if len(u) == 1:
        return [_Group(u, v, close)]
    group = np.arange(len(u))
    at = point(a, u)
    parallel = close | (_least_sine(a, b, u, v) <= PARALLEL)
    for p in range(len(u)):
        gap = np.hypot(*(at[p + 1 :] - at[p]).T)
        may = (gap <= STRETCH) | (parallel[p + 1 :] & parallel[p])
        for q in p + 1 + np.flatnonzero(may):
            on_itself = a is b and u[p] == v[p] and u[q] == v[q]
            if not on_itself and group[q] != group[p] and _together(a, u[p], u[q], b, v[p], v[q], tolerance):
                group[group == group[q]] = group[p]
    return [_Group(u[group == g], v[group == g], close[group == g]) for g in np.unique(group)]


def _together(a: Curve, u0: float, u1: float, b: Curve, v0: float, v1: float, tolerance: float) -> bool:
    """Whether the stretches of both curves between two hits stay within twice `tolerance` of each other."""
    return _along(a, u0, u1, b, v0, v1, 2 * tolerance) and _along(b, v0, v1, a, u0, u1, 2 * tolerance)


def _along(a: Curve, u0: float, u1: float, b: Curve, v0: float, v1: float, tolerance: float) -> bool:
    part = np.array([0.5, 0.25, 0.75, 0.1, 0.9])
    samples = point(a, u0 + (u1 - u0) * part)
    if np.hypot(*(samples - point(b, v0 + (v1 - v0) * part)).T).max() <= tolerance:
        return True
    if abs(v1 - v0) <= FINE:
        return bool(np.hypot(*(samples - point(b, v0)).T).max() <= tolerance)
    return bool(nearest(section(b, min(v0, v1), max(v0, v1)), samples)[1].max() <= tolerance)


def _least_sine(a: Curve, b: Curve, u: Array, v: Array) -> Array:
    """Sine of the angle between the curves at places u and v; at joints the least of all sides."""
    if not len(u):
        return np.zeros(0)
    sides_a = [tangent(a, u)] + ([tangent(a, u, before=True)] if (u == np.round(u)).any() else [])
    sides_b = [tangent(b, v)] + ([tangent(b, v, before=True)] if (v == np.round(v)).any() else [])
    return np.asarray(np.min([np.abs(cross(p, q)) for p in sides_a for q in sides_b], axis=0))


def _places(a: Curve, b: Curve, group: _Group) -> list[tuple[float, float, bool]]:
    """The one place (u, v, contact) of a group of raw hits, or the two ends of a shared stretch."""
    if len(group.u) == 1:
        return [(float(group.u[0]), float(group.v[0]), bool(group.close[0]))]
    at = point(a, group.u)
    if np.hypot(*(at[-1] - at[0])) > STRETCH:
        return [(float(group.u[k]), float(group.v[k]), True) for k in (0, -1)]
    gaps = np.hypot(*(at - point(b, group.v)).T)
    nodes = (group.u == np.round(group.u)).astype(int) + (group.v == np.round(group.v))
    inner = np.flatnonzero((nodes == 0) & ~group.close)
    if group.close.any() and (len(inner) != 1 or nodes.any()):
        best = int(np.where(group.close, gaps, np.inf).argmin())
    elif len(inner):
        best = int(inner[len(inner) // 2])
    else:  # of ends and joints the one that is an end or joint of both curves, else the nearest
        best = int(np.lexsort((gaps, -nodes))[0])
    return [(float(group.u[best]), float(group.v[best]), bool(group.close.any()) or len(inner) > 1)]


def _settled(a: Curve, b: Curve, places: list[tuple[float, float, bool]], tolerance: float) -> list[Crossing]:
    """The crossings at places u and v, moved onto joints where these lie within the tolerance of both.

    They are few, and one by one they are had several times as fast.
    """
    found = []
    for u, v, contact in places:
        at_u, at_v = _onto_joint(a, u, tolerance), _onto_joint(b, v, tolerance)
        if math.dist(point(a, at_u), point(b, at_v)) <= tolerance:
            u, v = at_u, at_v
        at = point(b, v) if v == round(v) and u != round(u) else point(a, u)
        found.append(Crossing(u, v, at, contact or _sine_at(a, b, u, v) <= PARALLEL))
    return found


def _onto_joint(curve: Curve, u: float, tolerance: float) -> float:
    joint, at = float(round(u)), point(curve, u)
    near = all(math.dist(point(curve, place), at) <= tolerance for place in (joint, (joint + u) / 2))
    return joint if near else u


def _sine_at(a: Curve, b: Curve, u: float, v: float) -> float:
    """As `_least_sine`, of one place on each."""
    sides_a, sides_b = (
        [tangent(curve, at, before=before) for before in ((False, True) if at == round(at) else (False,))]
        for curve, at in ((a, u), (b, v))
    )
    return min(abs(float(cross(p, q))) for p in sides_a for q in sides_b)


def _without_seams(a: Curve, b: Curve, hits: list[Crossing]) -> list[Crossing]:
    """Hits at the end of a curve that ends where it begins are moved to its start, and given once."""
    ring_a = bool(np.abs(a.end - a.start).max() <= JOINT)
    ring_b = bool(np.abs(b.end - b.start).max() <= JOINT)
    kept: dict[tuple[float, float], Crossing] = {}
    for hit in hits:
        u = 0.0 if ring_a and hit.u == len(a) else hit.u
        v = 0.0 if ring_b and hit.v == len(b) else hit.v
        twin = kept.get((u, v))
        kept[u, v] = Crossing(u, v, hit.point, hit.contact or (twin is not None and twin.contact))
    return list(kept.values())


def _sorted(hits: list[Crossing]) -> list[Crossing]:
    return sorted(hits, key=lambda hit: (hit.u, hit.v))
