"""A judge of cut lines that knows nothing of how they are made: numbers in, sentences out.

It sees the control points of the stitch line, widths, kinds of corners, and the control points of the ring. It
evaluates cubics itself, densely, and asks shapely (GEOS) for distances, validity and areas. What it rules:

1. One ring: closed, simple, walked in the sense of the outline, with the outline on its inner side (inward: outer).
2. Nowhere too near. The allowance of an edge is what its width covers square to it, from its start to its end, on the
   side that is asked for (common practice, no source). The ring enters no allowance by more than WITHIN: of a place
   that is nearer than the width all that lies WITHIN around it must be so too. (Where an edge is bent more tightly than
   its width its normals cross, and past the line where they do there is no allowance though its edge is near.) Excused
   is
   - what lies on the other side of the cloth: an allowance ends where it would go through the stitch line;
   - at a corner that turns outward by SMOOTH or more with unequal widths and is not stepped: the straight line in which
     the cut line of the narrower edge runs on from its end, up to the corner's limit (handbooks draw a mitre of unequal
     widths so: both cut lines run straight to where they meet). At a flatter corner the widths step, square to it;
   - at a squared corner: the line in which the cut line of the edge sewn first runs on, for the same stretch;
   - at a turned corner, in the hem's allowance: the mirror image, about the hem's stitch line run on, of the cut line
     of the other edge (handbooks: a hem folded up lies on the garment).
   Nothing is excused at hollow corners: allowances that overlap are trimmed where they meet, which enters neither.
   At a corner that turns outward the triangle between the seam end and the ends of both allowances belongs to them too
   (not where it is squared or turned, or a cut line runs on over it), and where an edge turns back at a cusp, END and
   more to either side, what lies ahead of it up to its width.
3. Nowhere too far. Every place of the ring is as far from some edge, square to it or from its end, as that edge's
   width, within WITHIN, but for the tips of corners. A tip stays within limit x the larger width of its corner and the
   half width of its blunt end: of bevelled corners with equal widths within one width. A hollow corner with equal
   widths has no tip. A hem folded up may reach four limits. A place where the stitch line turns back within WITHIN is a
   corner, bevelled. Where a width that tapers meets a bend tighter than itself, two branches of a cut line may end on
   one normal at two widths: it runs along that from one to the other, at the side of an allowance that 2. forbids to
   enter, and is not too far there.
4. No crumbs: a span shorter than SHORT is there because without it the line would be elsewhere.
5. No spikes: where the ring turns outward by more than SPIKE there is the tip of a corner, and it never turns straight
   back, but where there is no allowance and the stitch line does.

A width that tapers runs evenly along the length of its edge; where it does, WITHIN grows with its slope.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import shapely

from tests.wild_outlines import Array, Wild, along, directions, turns

WITHIN = 0.05
"""mm that a cut line may be nearer or farther than its width."""
SMOOTH = 15.0
"""Degrees: where the stitch line turns by less it runs on, and each edge keeps its width to the joint."""
SPIKE = 140.0
"""Degrees: an outward turn of a ring beyond it is a tip, and belongs to a corner."""
BACK = 179.0
"""Degrees: a turn beyond it goes straight back."""
SHORT = 0.3
"""mm: no span is shorter without a reason: ..."""
LEAST = 0.005
"""... mm by which the ends of its neighbours would move sideways if these were led to one place instead."""
END = 0.5
"""mm: a foot this near to the end of an edge (in a tiny one its last quarter) is its end: allowances end square there,
and that an edge curls within less than this is no concern of a cutter."""
FOLDED = 0.02
"""1 + bend x width below which a parallel line has no direction of its own."""
BEYOND = 1.0
"""mm beyond its width at which an edge is not looked for any more."""
HEM = 4
"""Limits that the end of a hem folded up may reach."""


def plain_ring(wild: Wild) -> bool:
    """Whether a polygon library leaves one ring without a hole: outward the outline united with all that lies within
    the width of each edge, square to it (flat ends), inward the outline without it; one width all round by its own
    mitred offset. There is none where the outline crosses itself, looked at finely."""
    lines = [shapely.LineString(along(s, 1 if f else 60)) for s, f in zip(wild.spans, wild.straight, strict=True)]
    outline = shapely.Polygon(np.concatenate([shapely.get_coordinates(x)[:-1] for x in lines]))
    if not shapely.Polygon(_stitch(wild, 2000)).is_valid:
        return False
    if len({w for both in wild.widths for w in both}) == 1:
        by = wild.widths[0][0]
        left = outline.buffer(-by if wild.inward else by, join_style="mitre", mitre_limit=wild.limits[0])
    else:
        swept = shapely.union_all([x.buffer(max(w), cap_style="flat") for x, w in zip(lines, wild.widths, strict=True)])
        left = outline.difference(swept) if wild.inward else outline.union(swept)
    return left.geom_type == "Polygon" and left.area > 1 and len(left.interiors) == 0


def _stitch(wild: Wild, count: int) -> Array:
    return np.concatenate([along(s, 1 if f else count)[:-1] for s, f in zip(wild.spans, wild.straight, strict=True)])


class _Corner:
    """The corner after edge k, as the rules see it."""

    def __init__(self, wild: Wild, k: int, turn: float, side: float):
        n = len(wild.spans)
        self.kind, self.limit, self.turn = wild.kinds[k], wild.limits[k], turn
        self.before, self.after = k, (k + 1) % n
        self.node = wild.spans[k][-1, 3]
        self.widths = wild.widths[k][1], wild.widths[self.after][0]
        self.wide, self.uneven = max(self.widths), self.widths[0] != self.widths[1]
        self.ways = directions(wild.spans[k])[1], directions(wild.spans[self.after])[0]
        normals = [side * np.array([w[1], -w[0]]) for w in self.ways]
        slopes = [(wild.widths[e][1] - wild.widths[e][0]) / _length(wild.spans[e]) for e in (k, self.after)]
        factors = [1 + w * side * b for w, b in zip(self.widths, _bends(wild.spans[k][-1], wild.spans[self.after][0]),
                                                    strict=True)]  # fmt: skip
        self.ends = [self.node + w * m for w, m in zip(self.widths, normals, strict=True)]
        # the direction in which each cut line runs on beyond its end at this corner: d/ds of x + w n, which is
        # (1 + bend w) along + slope n; where that folds back, as if the edge ran straight on
        on = [(f if f > FOLDED else 1) * w + s * m for f, w, s, m in
              zip(factors, self.ways, slopes, normals, strict=True)]  # fmt: skip
        self.on = [sign * v / np.hypot(*v) for sign, v in zip((1, -1), on, strict=True)]
        self.turned = self.kind.startswith("turned")
        self.ended = self.turned or self.kind.startswith("squared")
        blunt = 1.0 if self.kind == "bevelled" and not self.uneven else self.limit
        self.reach = self.wide * np.hypot(blunt, 1) * 1.01 + WITHIN
        if self.turned:
            self.reach *= HEM
        self.tipped = turn > 0 or self.uneven or self.ended or self.kind == "stepped"

    def rays(self) -> list[tuple[int, Any]]:
        """(edge that may be entered, line) of what runs on over the other edge's allowance."""
        found = []
        if self.turn < SMOOTH or self.kind == "stepped":
            return []
        for mine, other in enumerate((self.after, self.before)):
            first = self.kind.endswith("first") == (mine == 0)
            if self.widths[mine] < self.widths[1 - mine] or (self.kind.startswith("squared") and first):
                a = self.ends[mine]
                far = a + self.on[mine] * np.hypot(self.limit, 1) * self.wide
                found.append((other, shapely.LineString([a, far])))
        return found

    def hem(self) -> tuple[int, int, Array, int] | None:
        """Of a turned corner that spreads out: hem, side, the hem's direction and the side's end (0 or 1)."""
        if not self.turned or self.turn <= 0:
            return None
        if self.kind.endswith("first"):
            return self.before, self.after, self.ways[0], 1
        return self.after, self.before, self.ways[1], 0


def _length(spans: Array) -> float:
    return float(np.hypot(*np.diff(along(spans, 400), axis=0).T).sum())


def _bends(before: Array, after: Array) -> list[float]:
    """Curvature at the end of one cubic and the start of another, positive clockwise on the screen."""
    found = []
    for p, sign in ((before[::-1], -1), (after, 1)):
        v, w = 3 * (p[1] - p[0]), 6 * (p[0] - 2 * p[1] + p[2])
        speed = np.hypot(*v)
        found.append(0.0 if speed < 1e-6 else float(sign * (v[0] * w[1] - v[1] * w[0]) / speed**3))
    return found


def judged(wild: Wild, ring: Array) -> list[str]:
    """What is wrong with a cut line, spans (n, 4, 2): nothing, or a sentence for each fault."""
    faults = []
    points = np.concatenate([along(p[None], _chords(p))[:-1] for p in ring])
    shape = shapely.Polygon(np.concatenate([along(p[None], 4 * _chords(p))[:-1] for p in ring]))
    stitch = _stitch(wild, 250)
    outline, sense = shapely.Polygon(stitch), np.sign(_area(stitch))
    if not np.array_equal(ring[:, 3], np.roll(ring[:, 0], -1, axis=0)):
        faults.append("it is open")
    if not shape.is_valid:
        return [*faults, f"it meets itself: {shapely.is_valid_reason(shape)}"]
    if np.sign(_area(points)) != sense:
        faults.append("it runs the other way")
    inner, outer = (shape, outline) if wild.inward else (outline, shape)
    beyond = inner.difference(outer)
    if not beyond.is_empty:
        beyond = beyond.difference(outer.buffer(WITHIN))
    if not beyond.is_empty:
        faults.append(f"the stitch line is cut into near {_xy(beyond.representative_point())}")
    cloth, side = _Cloth(outline, wild.inward), -sense if wild.inward else sense
    corners = [_Corner(wild, k, float(t), float(side)) for k, t in enumerate(turns(wild) * side)]
    cusps = _cusps(wild)
    lines = [_Line(along(s, 1 if f else 250)) for s, f in zip(wild.spans, wild.straight, strict=True)]
    feet = [_Feet(line, both, points) for line, both in zip(lines, wild.widths, strict=True)]
    for cusp in cusps:  # both branches end there
        for foot in feet:
            foot.ends_at(cusp.place)
    faults += _too_far(feet, corners, cusps, points, cloth, side)
    faults += _at_ends(corners, cusps, points, shape, cloth)
    for k, foot in enumerate(feet):
        faults += _too_near(k, foot, lines, wild.widths, corners, cloth, side)
    faults += _spikes(ring, side, corners, cusps, wild)
    faults += _crumbs(ring)
    return faults


class _Line:
    """An edge as chords: points (n, 2), the length before each, and its chords in a tree."""

    def __init__(self, points: Array):
        self.points = points
        self.before = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        self.length = float(self.before[-1])
        self.box = points.min(axis=0), points.max(axis=0)
        self.tree = shapely.STRtree(shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1)))

    def at(self, share: Array) -> Array:
        """Points at lengths."""
        return np.stack([np.interp(share, self.before, x) for x in self.points.T], axis=-1)

    def nearest(self, points: Array, within: float) -> tuple[Array, Array]:
        """Of points: the distance, and the length at which the nearest place lies; where that is farther than
        `within`, the distance is infinite."""
        low, high = self.box
        close = np.flatnonzero(((points >= low - within) & (points <= high + within)).all(axis=1))
        (of, chord), found = self.tree.query_nearest(
            shapely.points(points[close]), max_distance=within, return_distance=True, all_matches=False
        )
        of = close[of]
        way, size = np.diff(self.points, axis=0)[chord], np.diff(self.before)[chord]
        along = ((points[of] - self.points[chord]) * way).sum(axis=1) / np.maximum(size, 1e-300)
        distance, at = np.full(len(points), np.inf), np.zeros(len(points))
        distance[of], at[of] = found, self.before[chord] + np.clip(along, 0, size)
        return distance, at


class _Feet:
    """Of points: distance to an edge, where on it the foot lies, whether that is inside, and the width there."""

    def __init__(self, line: _Line, both: tuple[float, float], points: Array):
        self.points, self.line, self.both = points, line, both
        self.distance, self.foot = line.nearest(points, max(both) + BEYOND)
        self.width = both[0] + (both[1] - both[0]) * self.foot / line.length
        self.steep = abs(both[1] - both[0]) / line.length
        self.margin = min(END, line.length / 4)
        self.inside = (self.foot > self.margin) & (self.foot < line.length - self.margin)

    def ends_at(self, place: Array) -> None:
        """Feet near a place are not inside any more."""
        (distance,), (at,) = self.line.nearest(place[None], 1e-3)
        if distance < 1e-3:
            self.inside &= np.abs(self.foot - at) > END

    def square(self, point: Array, cloth: _Cloth, side: float) -> bool:
        """Whether a point lies as far from the edge as its width at some place, square to it; or where that tapers,
        whether a place WITHIN of the point lies in its allowance."""
        low, high = self.line.box
        apart = np.maximum(np.maximum(low - point, point - high), 0.0)
        if np.hypot(*apart) > max(self.both) + WITHIN * (1 + self.steep):
            return False
        share = np.linspace(0, self.line.length, 20 * len(self.line.points))
        p = self.line.at(share)
        to, width = self._feet(point, p, share)[1:]
        slack = WITHIN * (1 + self.steep)
        if (np.abs(np.hypot(*to.T) - width) <= slack).any():
            return True
        if self.steep == 0:
            return False
        for a in np.arange(16) * np.pi / 8:
            near = point + slack * np.array([np.cos(a), np.sin(a)])
            foot, to, width = self._feet(near, p, share)
            v = p[foot + 1] - p[foot]
            held = (np.hypot(*to.T) < width) & ((v[:, 0] * to[:, 1] - v[:, 1] * to[:, 0]) * side < 0)
            held &= (share[foot] > self.margin) & (share[foot] < self.line.length - self.margin)
            at = p[foot[held]]
            if (~cloth.in_the_way(at, np.broadcast_to(near, at.shape))).any():
                return True
        return False

    def _feet(self, point: Array, p: Array, share: Array) -> tuple[Array, Array, Array]:
        """Chords of p on which a point has feet, the ways from there to it, and the widths there."""
        to = point - p[:-1]
        dot = (to * np.diff(p, axis=0)).sum(axis=1)
        foot = np.flatnonzero((dot[1:] <= 0) != (dot[:-1] <= 0))
        return foot, to[foot], self.both[0] + (self.both[1] - self.both[0]) * share[foot] / self.line.length

    def beside(self, which: Array, side: float) -> Array:
        """Whether points lie on the side of the allowance."""
        a, b = (self.line.at(np.clip(self.foot[which] + by, 0, self.line.length)) for by in (-0.01, 0.01))
        v, to = b - a, self.points[which] - (a + b) / 2
        return (v[:, 0] * to[:, 1] - v[:, 1] * to[:, 0]) * side < 0


def _too_far(
    feet: list[_Feet],
    corners: list[_Corner],
    cusps: list[_Cusp],
    points: Array,
    cloth: _Cloth,
    side: float,
) -> list[str]:
    over = np.min([f.distance - f.width - WITHIN * (1 + f.steep) for f in feet], axis=0)
    for node, reach in [(c.node, c.reach) for c in corners if c.tipped] + [(c.place, c.reach) for c in cusps]:
        over = np.where(np.hypot(*(points - node).T) <= reach, 0, over)
    # a foot that is not the nearest one may be the one that counts, where a width tapers
    for k in np.flatnonzero(over > 0):
        over[k] = 0.0 if any(f.square(points[k], cloth, side) for f in feet) else over[k]
    worst = int(np.argmax(over))
    if over[worst] <= 0:
        return []
    much = f"{over[worst] + WITHIN:.2f}" if over[worst] < BEYOND else f"more than {BEYOND:g}"
    return [f"it is {much} mm too far near {points[worst, 0]:.1f}, {points[worst, 1]:.1f}"]


def _too_near(
    k: int,
    foot: _Feet,
    lines: list[_Line],
    widths: list[tuple[float, float]],
    corners: list[_Corner],
    cloth: _Cloth,
    side: float,
) -> list[str]:
    slack = WITHIN * (1 + 2 * foot.steep)
    which = np.flatnonzero(foot.inside & (foot.width - foot.distance > slack))
    which = which[foot.beside(which, side)]
    if len(which) == 0:
        return []
    here = shapely.points(foot.points[which])
    ok = np.zeros(len(which), dtype=bool)
    for corner in (corners[k - 1], corners[k]):
        for entered, ray in corner.rays():
            if entered == k:
                ok |= shapely.distance(here, ray) <= WITHIN
        turned = corner.hem()
        if turned and turned[0] == k:
            _, other, way, end = turned
            to = foot.points[which] - corner.node
            image = corner.node + 2 * (to @ way)[:, None] * way - to
            f = _Feet(lines[other], widths[other], image)
            a = corner.ends[end]
            on = shapely.LineString([a, a + corner.on[end] * corner.reach])
            ok |= np.abs(f.distance - f.width) <= WITHIN * (1 + 2 * f.steep)
            ok |= shapely.distance(shapely.points(image), on) <= WITHIN
    which = which[~ok]
    for a in np.arange(16) * np.pi / 8:
        if len(which) == 0:
            break
        f = _Feet(lines[k], widths[k], foot.points[which] + slack * np.array([np.cos(a), np.sin(a)]))
        which = which[f.inside & (f.distance < f.width) & f.beside(np.arange(len(which)), side)]
    if len(which) == 0:
        return []
    start = lines[k].at(foot.foot[which])
    which = which[~cloth.in_the_way(start, foot.points[which])]
    if len(which) == 0:
        return []
    worst = which[np.argmax((foot.width - foot.distance)[which])]
    short = foot.width[worst] - foot.distance[worst]
    return [f"it is {short:.2f} mm too near edge {k} at {foot.points[worst, 0]:.1f}, {foot.points[worst, 1]:.1f}"]


def _at_ends(corners: list[_Corner], cusps: list[_Cusp], points: Array, shape: Any, cloth: _Cloth) -> list[str]:
    """Faults at the ends of seams that turn outward, and at cusps. shape: the inside of the ring."""
    found = []
    for c in corners:
        if c.turn <= 0 or c.ended or min(c.widths) < WITHIN or c.rays():
            continue
        close = np.flatnonzero(((points - c.node) ** 2).sum(axis=1) <= c.wide**2)
        triangle = shapely.Polygon([c.node, *c.ends]).buffer(-WITHIN)
        which = close[shapely.covers(triangle, shapely.points(points[close]))]
        which = which[~cloth.in_the_way(np.broadcast_to(c.node, (len(which), 2)), points[which])]
        if len(which):
            found.append(f"it comes between the allowances of {c.before} and {c.after} at {points[which[0]].round(1)}")
    for cusp in cusps:
        places = np.array([cusp.place + f * cusp.width * cusp.way for f in (0.3, 0.6, 0.95)])
        free = ~cloth.holds(places) & ~cloth.in_the_way(np.broadcast_to(cusp.place, places.shape), places)
        covered = shapely.covers(shape, shapely.points(places)) != cloth.inward
        if cusp.seen and cusp.width > 2 * WITHIN and free.all() and not covered.all():
            found.append(f"it has no allowance ahead of the cusp at {cusp.place.round(1)}")
    return found


class _Cloth:
    """What an allowance does not go through: what lies inside the stitch line, inward what lies outside."""

    def __init__(self, outline: Any, inward: bool):
        self.outline, self.inward = outline, inward

    @cached_property
    def _within(self) -> Any:
        """The outline moved by WITHIN, so that a way may begin on it."""
        moved = self.outline.buffer(WITHIN if self.inward else -WITHIN)
        shapely.prepare(moved)
        return moved

    def holds(self, points: Array) -> Any:
        """Which points lie in it."""
        return shapely.covers(self.outline, shapely.points(points)) != self.inward

    def in_the_way(self, start: Array, end: Array) -> Any:
        """Which ways from the stitch line to a point go through it."""
        if len(start) == 0:
            return np.zeros(0, dtype=bool)
        way = shapely.linestrings(np.stack([start, end], axis=1))
        return ~shapely.covers(self._within, way) if self.inward else shapely.intersects(self._within, way)


class _Cusp(NamedTuple):
    """place; way: where the tip points; width there; reach: mm that a bevelled tip goes; seen: whether the edge turns
    back as far as END on either side too, so that a cutter sees it."""

    place: Array
    way: Array
    width: float
    reach: float
    seen: bool


def _cusps(wild: Wild) -> list[_Cusp]:
    """Places within edges where the stitch line turns back within WITHIN, and how far a bevelled tip reaches."""
    found = []
    for spans, both in zip(wild.spans, wild.widths, strict=True):
        ways = np.diff(spans, axis=1).reshape(-1, 2)
        if (ways @ ways.T).min() > 0:
            continue  # a cubic's direction lies between those of its legs: it turns by less than a right angle
        p = along(spans, 4000)
        v = np.diff(p, axis=0)
        size = np.hypot(*v.T)
        p, v, size = p[:-1][size > 0], v[size > 0], size[size > 0]
        after = np.searchsorted(np.cumsum(size), np.cumsum(size) + WITHIN)
        after = np.minimum(np.maximum(after, np.arange(len(v)) + 1), len(v) - 1)
        turn = (v * v[after]).sum(axis=1) / (size * size[after])
        if turn.min() < 0:
            start = int(np.argmin(turn))
            k, before = int(after[start]), np.cumsum(size)
            width = float(both[0] + (both[1] - both[0]) * size[:k].sum() / size.sum())
            to, on = (p[np.searchsorted(before, before[k] + by).clip(0, len(p) - 1)] - p[k] for by in (-END, END))
            seen = END < before[k] < before[-1] - END and bool(to @ on > 0)
            way = v[start] / size[start] - v[k] / size[k]
            found.append(_Cusp(p[k], way / np.hypot(*way), width, 1.45 * width + 2 * WITHIN, seen))
    return found


def _crumbs(ring: Array) -> list[str]:
    """Spans shorter than SHORT that could be left out: led to one place instead, both neighbours would hardly move."""
    ends = [directions(p[None]) for p in ring]
    found = []
    for k, p in enumerate(ring):
        size = float(np.hypot(*np.diff(along(p[None], 16), axis=0).T).sum())
        if size >= SHORT:
            continue
        (_, u), (v, _) = ends[k - 1], ends[(k + 1) % len(ring)]
        chord = p[3] - p[0]
        # a neighbour that runs back along the span would lose its tip, not move sideways
        a, b = (abs(w[0] * chord[1] - w[1] * chord[0]) if w @ chord > 0 else size for w in (u, v))
        if min(a, b, max(a, b) / 2) < LEAST and u @ v > 0:
            found.append(f"a span of {size:.2f} mm near {p[0, 0]:.1f}, {p[0, 1]:.1f} is there for no reason")
    return found


def _spikes(ring: Array, side: float, corners: list[_Corner], cusps: list[_Cusp], wild: Wild) -> list[str]:
    ends = [directions(p[None]) for p in ring]
    found = []
    tips = [(c.node, c.reach) for c in corners if c.tipped] + [(c.place, c.reach) for c in cusps]
    bare = [s[e] for s, both in zip(wild.spans, wild.widths, strict=True) if min(both) == 0 for e in ((0, 0), (-1, 3))]
    bare += [c.place for c in cusps if c.width < WITHIN]
    for k, ((_, u), (v, _)) in enumerate(zip(ends, ends[1:] + ends[:1], strict=True)):
        bend = np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)) * side
        p = ring[k, 3]
        near = any(np.hypot(*(p - node)) <= reach for node, reach in tips)
        straight_back = abs(bend) > BACK and not any(np.hypot(*(p - node)) <= WITHIN for node in bare)
        if straight_back or (bend > SPIKE and not near):
            found.append(f"it turns by {bend:.0f}° near {p[0]:.1f}, {p[1]:.1f} and no corner is there")
    return found


def _chords(p: Array) -> int:
    size = np.hypot(*np.diff(p, axis=0).T).sum()
    return int(np.clip(size / 2, 5, 150))


def _area(ring: Array) -> float:
    x, y = (ring - ring[0]).T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _xy(p: Any) -> str:
    return f"{shapely.get_x(p):.1f}, {shapely.get_y(p):.1f}"
