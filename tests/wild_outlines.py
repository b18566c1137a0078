"""Outlines far wilder than any garment's, and a judge of their cut lines that knows nothing of how these are made.

The judge sees numbers only: control points of the stitch line, widths, kinds of corners, and control points of the
ring. It evaluates cubics itself, and asks shapely (GEOS) for distances, validity and what an offset leaves over.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

WITHIN = 0.05
"""mm that a cut line may be nearer or farther than its width."""
SMOOTH = 15.0
"""Degrees: where the stitch line turns by less it runs on, and each edge keeps its width to the joint."""
SPIKE = 140.0
"""Degrees: an outward turn of a ring beyond it is a tip, and belongs to a corner."""
SHORT = 0.3
"""mm: no span is shorter, where no span of the stitch line and no step is."""
KINDS = ("mitred", "mitred", "mitred", "bevelled", "squared-first", "squared-second", "turned-first", "turned-second",
         "stepped")  # fmt: skip

Array = np.ndarray[Any, np.dtype[np.float64]]


@dataclass
class Wild:
    """spans: one array (n, 4, 2) for each edge; widths: at the start and end of each; kind and limit of the corner at
    the end of each; inward: the side."""

    spans: list[Array]
    straight: list[bool]
    widths: list[tuple[float, float]]
    kinds: list[str]
    limits: list[float]
    inward: bool = False
    notes: list[str] = field(default_factory=list)


def along(spans: Array, count: int) -> Array:
    """Points of a chain of cubics, `count` chords to each."""
    t = np.arange(count)[:, None] / count
    s = 1 - t
    parts = [s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3] for p in spans]
    return np.concatenate([*parts, spans[-1:, 3]])


def directions(spans: Array) -> tuple[Array, Array]:
    """Unit directions in which a chain starts and ends: towards the first control point that is not its end."""
    found = []
    for points in (spans[0], spans[-1][::-1]):
        far = next((p for p in points[1:] if np.hypot(*(p - points[0])) > 1e-9), points[0] + (1, 0))
        found.append((far - points[0]) / np.hypot(*(far - points[0])))
    return found[0], -found[1]


def turns(wild: Wild) -> Array:
    """Degrees by which the stitch line turns at the corner after each edge, positive clockwise on the screen."""
    ends = [directions(s) for s in wild.spans]
    answer = []
    for (_, u), (v, _) in zip(ends, ends[1:] + ends[:1], strict=True):
        answer.append(np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)))
    return np.array(answer)


def _turned(v: Array, by: float) -> Array:
    c, s = np.cos(by), np.sin(by)
    return np.array([v[0] * c - v[1] * s, v[0] * s + v[1] * c])


def _edge(rng: np.random.Generator, a: Array, b: Array, arriving: Array | None) -> tuple[Array, bool]:
    """One edge from a to b of a random sort; `arriving`: a direction to go on in, where the joint is to be smooth."""
    chord = b - a
    size = np.hypot(*chord)
    t = chord / size
    n = np.array([t[1], -t[0]])
    sort = rng.integers(0, 12)
    if sort <= 2 and arriving is None:
        return np.array([[a, a + chord / 3, b - chord / 3, b]]), True
    lean, reach = rng.uniform(-0.4, 0.4, 2) * size, rng.uniform(0.08, 0.55, 2) * size
    p1, p2 = a + reach[0] * t + lean[0] * n, b - reach[1] * t + lean[1] * n
    if sort == 4:  # S
        p1, p2 = a + 0.4 * chord + abs(lean[0]) * n, b - 0.4 * chord - abs(lean[1]) * n
    if sort == 5:  # hook: it curls back at its end
        p2 = b + rng.uniform(0.05, 0.35) * size * _turned(t, rng.uniform(-1.2, 1.2))
    if sort in (6, 7):  # a retracted handle, or both
        p1, p2 = ((a, p2), (p1, b), (a, b))[int(rng.integers(0, 3))]
    if sort == 8:  # a cusp, exact or near
        p1, p2 = b + 0.02 * lean[0] * n * rng.integers(0, 2) + 0.3 * n * size, a + 0.3 * n * size
    if sort == 9:  # tight at one end
        p1 = a + rng.uniform(0.01, 0.06) * size * _turned(t, rng.uniform(-1.3, 1.3))
    if arriving is not None:
        p1 = a + max(np.hypot(*(p1 - a)), 0.1 * size) * arriving
    if sort == 10:
        m = (a + b) / 2 + 0.12 * lean[0] * n
        w = _turned(t, rng.uniform(-0.5, 0.5))
        k = 0.2 * size
        return np.array([[a, p1, m - k * w, m], [m, m + k * w, p2, b]]), False
    return np.array([[a, p1, p2, b]]), False


def wild_outline(rng: np.random.Generator) -> Wild:
    """A simple outline of 4 to 14 corners with random widths, tapers, stretches and kinds of corners."""
    while True:
        count = int(rng.integers(4, 15))
        turn = np.sort(rng.uniform(0, 2 * np.pi, count))
        if np.diff(np.append(turn, turn[0] + 2 * np.pi)).min() < 0.04:
            continue
        size = rng.uniform(60, 300)
        low = rng.uniform(0.3, 0.9)
        nodes = size * rng.uniform(low, 1, count)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        if rng.random() < 0.15:  # a tiny edge
            k = int(rng.integers(0, count))
            nodes[k] = nodes[k - 1] + rng.uniform(0.2, 3, 2) * rng.choice([-1, 1], 2)
        spans, straight, kinds = [], [], []
        for k in range(count):
            arriving = directions(spans[-1])[1] if spans and rng.random() < 0.2 else None
            if arriving is not None:
                arriving = _turned(arriving, rng.choice([0.0, 0.0, rng.uniform(-0.1, 0.1)]))
            s, flat = _edge(rng, nodes[k], nodes[(k + 1) % count], arriving)
            spans.append(s)
            straight.append(flat)
        ring = np.concatenate([along(s, 1 if f else 200)[:-1] for s, f in zip(spans, straight, strict=True)])
        if not shapely.Polygon(ring).is_valid:
            continue
        sort = rng.random()
        top = rng.choice([8.0, 15.0, 25.0, 60.0], p=[0.3, 0.4, 0.2, 0.1])
        w = rng.uniform(0, top, count)
        w[rng.random(count) < 0.1] = 0
        widths = [(x, x) for x in w]
        if sort < 0.45:
            widths = [(w[0] + 1, w[0] + 1)] * count
        elif sort > 0.8:
            widths = [(x, float(rng.uniform(0, top)) if rng.random() < 0.4 else x) for x in w]
        kinds = [str(rng.choice(KINDS)) for _ in range(count)] if rng.random() < 0.4 else ["mitred"] * count
        limits = [float(rng.choice([1.5, 3, 5]))] * count
        wild = Wild(spans, straight, widths, kinds, limits, bool(rng.random() < 0.3))
        if rng.random() < 0.15:
            _stretch(rng, wild)
        return wild


def _stretch(rng: np.random.Generator, wild: Wild) -> None:
    """An edge cut in two (de Casteljau), with another width on its second half."""
    k = int(rng.integers(0, len(wild.spans)))
    if len(wild.spans[k]) > 1:
        return
    p, t = wild.spans[k][0], rng.uniform(0.2, 0.8)
    a, b, c = (p[i] + t * (p[i + 1] - p[i]) for i in range(3))
    d, e = a + t * (b - a), b + t * (c - b)
    m = d + t * (e - d)
    wild.spans[k : k + 1] = [np.array([[p[0], a, d, m]]), np.array([[m, e, c, p[3]]])]
    wild.straight.insert(k, wild.straight[k])
    x = float(rng.uniform(0, 25))
    wild.widths[k : k + 1] = [wild.widths[k], (x, x)]
    wild.kinds.insert(k, "stepped")
    wild.limits.insert(k, wild.limits[k])


def plain_ring(wild: Wild) -> bool:
    """Whether a polygon library leaves one ring without a hole: outward the outline united with all that lies within
    the width of each edge, inward the outline without it; one width all round by its own mitred offset."""
    lines = [shapely.LineString(along(s, 1 if f else 60)) for s, f in zip(wild.spans, wild.straight, strict=True)]
    outline = shapely.Polygon(np.concatenate([shapely.get_coordinates(x)[:-1] for x in lines]))
    if len({w for both in wild.widths for w in both}) == 1:
        by = wild.widths[0][0]
        left = outline.buffer(-by if wild.inward else by, join_style="mitre", mitre_limit=wild.limits[0])
    else:
        swept = shapely.union_all([x.buffer(max(w)) for x, w in zip(lines, wild.widths, strict=True)])
        left = outline.difference(swept) if wild.inward else outline.union(swept)
    return left.geom_type == "Polygon" and left.area > 1 and len(left.interiors) == 0


def judged(wild: Wild, ring: Array) -> list[str]:
    """What is wrong with a cut line, spans (n, 4, 2): nothing, or a sentence for each fault."""
    faults = []
    points = np.concatenate([along(p[None], _chords(p))[:-1] for p in ring])
    shape = shapely.Polygon(np.concatenate([along(p[None], 4 * _chords(p))[:-1] for p in ring]))
    lines = [shapely.LineString(along(s, 1 if f else 250)) for s, f in zip(wild.spans, wild.straight, strict=True)]
    stitch = np.concatenate([shapely.get_coordinates(x)[:-1] for x in lines])
    outline = shapely.Polygon(stitch)
    sense = np.sign(_area(stitch))
    if not np.array_equal(ring[:, 3], np.roll(ring[:, 0], -1, axis=0)):
        faults.append("it is open")
    if not shape.is_valid:
        return [*faults, f"it meets itself: {shapely.is_valid_reason(shape)}"]
    if np.sign(_area(points)) != sense:
        faults.append("it runs the other way")
    inner, outer = (shape, outline) if wild.inward else (outline, shape)
    beyond = inner.difference(outer.buffer(WITHIN))
    if not beyond.is_empty:
        faults.append(f"the stitch line is cut into near {_xy(beyond.representative_point())}")
    side = -sense if wild.inward else sense
    turn = turns(wild) * side
    n = len(lines)
    nodes = [s[-1, 3] for s in wild.spans]
    far = [max(wild.widths[k][1], wild.widths[(k + 1) % n][0]) for k in range(n)]
    reach = [f * np.hypot(lim if kind != "bevelled" else 1, 1) * 1.01 + WITHIN for f, lim, kind in
             zip(far, wild.limits, wild.kinds, strict=True)]  # fmt: skip
    at = shapely.points(points)
    distance = np.array([shapely.distance(at, x) for x in lines])
    foot = np.array([shapely.line_locate_point(x, at) for x in lines])
    size = np.array([x.length for x in lines])
    first, last = (np.array([w[k] for w in wild.widths]) for k in (0, 1))
    width = first[:, None] + (last - first)[:, None] * foot / size[:, None]
    # the direction of the last chord differs a little from that of the curve's end: a foot this near to it is the end
    margin = np.minimum(0.02 * size, 0.5)[:, None]
    inside = (foot > margin) & (foot < size[:, None] - margin)
    away = np.array([np.hypot(*(points - v).T) for v in nodes])
    steep = np.abs(last - first) / size
    over = distance - width - WITHIN * (1 + steep[:, None])
    tip = np.zeros(len(points), dtype=bool)
    for k in range(n):
        if wild.kinds[k] in ("turned-first", "turned-second"):
            tip |= away[k] <= 4 * reach[k]
        elif (
            turn[k] > 0
            or wild.kinds[k] not in ("mitred", "bevelled")
            or abs(wild.widths[k][1] - wild.widths[(k + 1) % n][0]) > 0
        ):
            tip |= away[k] <= reach[k]
    for line, both in zip(lines, wild.widths, strict=True):  # a cusp within an edge is a corner as well
        p = shapely.get_coordinates(line)
        v = np.diff(p, axis=0)
        v /= np.maximum(np.hypot(*v.T), 1e-300)[:, None]
        for k in np.flatnonzero((v[1:] * v[:-1]).sum(axis=1) < -0.5):
            tip |= np.hypot(*(points - p[k + 1]).T) <= 1.6 * max(both)
    wrong = (over > 0).all(axis=0) & ~tip
    if wrong.any():
        worst = np.argmax(np.where(wrong, over.min(axis=0), -1))
        faults.append(f"it is {over[:, worst].min() + WITHIN:.2f} mm too far near {_xy(at[worst])}")
    least = np.minimum(first, last)
    for i in range(n):
        # square to the edge, or beyond its end where nothing excuses it
        short = np.where(inside[i], width[i], np.where(foot[i] < size[i] / 2, first[i], last[i])) - distance[i]
        for k, other in ((i - 1, i - 1), (i, (i + 1) % n)):
            here = away[k % n] <= max(reach[k % n], far[k % n] * 1.1)
            floor = min(wild.widths[k % n][1], wild.widths[(k + 1) % n][0])
            uneven = wild.widths[k % n][1] != wild.widths[(k + 1) % n][0]
            ended = wild.kinds[k % n].startswith(("squared", "turned"))
            excused = ended or (uneven and abs(turn[k]) >= SMOOTH and wild.kinds[k % n] != "stepped")
            if excused:
                short = np.where(here, np.minimum(short, min(floor, least[other], least[i]) - distance[i]), short)
            elif uneven and _curls(lines[i], nodes[k % n], far[k % n], side):
                short = np.where(here, np.minimum(short, floor - distance[i]), short)
            elif uneven:  # beyond the very end of the wider edge its step stands
                short = np.where(~inside[i] & here, np.minimum(short, floor - distance[i]), short)
        # beyond the end of its edge an allowance is the neighbours', and ends with them where these step
        for k in range(n):
            if wild.widths[k][1] != wild.widths[(k + 1) % n][0]:
                short = np.where(~inside[i] & (away[k] <= far[k]), 0, short)
        # what is near to an edge through the cloth is no concern of its allowance
        a, b = (shapely.get_coordinates(shapely.line_interpolate_point(lines[i], foot[i] + by)) for by in (-0.01, 0.01))
        middle, v = (a + b) / 2, b - a
        beside = (v[:, 0] * (points - middle)[:, 1] - v[:, 1] * (points - middle)[:, 0]) * side
        short = np.where((beside < 0) | ~inside[i], short, 0)
        short -= WITHIN * (1 + 2 * steep[i])
        worst = int(np.argmax(short))
        if short[worst] > 0:
            faults.append(f"it is {short[worst] + WITHIN:.2f} mm too near edge {i} at {_xy(at[worst])}")
    faults += _spikes(wild, ring, side, nodes, reach, turn)
    return faults


def _curls(line: Any, node: Array, width: float, side: float) -> bool:
    """Whether an edge is bent more tightly than its width, hollow towards it, within two widths of a node."""
    p = shapely.get_coordinates(line)
    v = np.diff(p, axis=0)
    size = np.hypot(*v.T)
    turn = np.arctan2(v[:-1, 0] * v[1:, 1] - v[:-1, 1] * v[1:, 0], (v[:-1] * v[1:]).sum(axis=1)) * side
    bend = -turn * 2 / (size[:-1] + size[1:])
    return bool((bend[np.hypot(*(p[1:-1] - node).T) < 2 * width + 5] > 0.8 / width).any())


def short_spans(wild: Wild, ring: Array) -> list[float]:
    """Lengths of spans shorter than SHORT that no tiny edge and no small step of the widths explains, mm."""
    sizes = [float(np.hypot(*np.diff(along(p[None], 16), axis=0).T).sum()) for p in ring]
    tiny = min(float(np.hypot(*np.diff(along(s, 16), axis=0).T).sum()) / len(s) for s in wild.spans) < 6 * SHORT
    return [] if tiny else [s for s in sizes if s < SHORT]


def _spikes(wild: Wild, ring: Array, side: float, nodes: list[Array], reach: list[float], turn: Array) -> list[str]:
    ends = [directions(p[None]) for p in ring]
    found = []
    for k, ((_, u), (v, _)) in enumerate(zip(ends, ends[1:] + ends[:1], strict=True)):
        bend = np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)) * side
        p = ring[k, 3]
        far = [4 * r if "turned" in kind else r for r, kind in zip(reach, wild.kinds, strict=True)]
        tips = [np.hypot(*(p - node)) <= f for node, f in zip(nodes, far, strict=True)]
        if bend > SPIKE and not any(tips):
            found.append(f"it turns by {bend:.0f}° near {p.round(1)} and no corner is there")
    return found


def _chords(p: Array) -> int:
    size = np.hypot(*np.diff(p, axis=0).T).sum()
    return int(np.clip(size / 2, 5, 150))


def _area(ring: Array) -> float:
    x, y = (ring - ring[0]).T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _xy(p: Any) -> str:
    return f"{shapely.get_x(p):.1f}, {shapely.get_y(p):.1f}"
