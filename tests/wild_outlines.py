"""Outlines far wilder than any garment's: what is asked of a cut line, as numbers only (see cut_line_judge)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

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
