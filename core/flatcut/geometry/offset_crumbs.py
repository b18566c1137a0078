"""Rings without spans too short to be drawn: a node fewer, where the line hardly moves.

Where allowances are trimmed, tips cut off or boundaries followed, spans of a tenth of a millimetre are left over. They
are nodes that a person would delete: both neighbours are led to one place instead, wherever that moves the line by no
more than is allowed. What is left is short for a reason: the line turns there, or an edge of the stitch line is as
short, and without the span it would not be where the allowances say.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, cross, unit
from flatcut.geometry.offset_feet import nearer
from flatcut.geometry.offset_gate import directions, paces
from flatcut.geometry.offset_ring import Spans

SHORT = 0.3
"""mm: no shorter span is left without a reason."""

LOOKS = np.linspace(0.0, 1.0, 33)
"""Where old and new spans are held against each other."""

ALONG = 1e-3
"""Part of a handle by which a place may lie beside its line and still be said to lie on it."""

BESIDE = 0.005
"""mm by which the far end of a short span may lie beside the line of the curve that runs into it."""

TAKEN = 4.0
"""Times its own length that a short straight span takes of the curve that runs into it; SHORT if that is too much."""

ROUNDS = 4
"""Rounds of fitting one curve along two: the lengths of its handles, then the places nearest to the course."""

FEWEST = 3
"""Spans of a ring."""


def tidied(spans: Spans, within: float, kept: Sequence[Array] = ()) -> Spans:
    """Rings with the spans shorter than SHORT left out where no place moves by more than `within` mm. kept: where spans
    begin that are not to be left out.

    >>> import numpy as np
    >>> nodes = np.array([(0, 0), (10, 0), (10.2, 0.001), (30, 0), (30, 20)])
    >>> ring = np.stack([nodes + k / 3 * (np.roll(nodes, -1, axis=0) - nodes) for k in range(4)], axis=1)
    >>> plain = Spans(ring, np.ones(5, bool), np.zeros(5, int), np.array([0, 0, -1, 1, 2]))
    >>> tidied(plain, 0.01).controls[:, 0].round(3).tolist()
    [[0.0, 0.0], [10.1, 0.0], [30.0, 0.0], [30.0, 20.0]]
    """
    chord = spans.controls[:, 3] - spans.controls[:, 0]
    short = chord[:, 0] ** 2 + chord[:, 1] ** 2 < SHORT**2
    if not short.any():
        return spans
    concerned = np.unique(spans.chain[short])
    cuts = np.flatnonzero(np.diff(spans.chain)) + 1
    rings = [Spans(*part) for part in zip(*(np.split(array, cuts) for array in spans), strict=True)]
    done = [_one(ring, within, kept) if ring.chain[0] in concerned else ring for ring in rings]
    return Spans(*(np.concatenate(arrays) for arrays in zip(*done, strict=True)))


def short_starts(spans: Spans, chain: int) -> Array:
    """Where the short spans of one ring begin, (n, 2)."""
    mine = spans.controls[spans.chain == chain]
    return np.asarray(mine[np.hypot(*(mine[:, 3] - mine[:, 0]).T) < SHORT, 0])


def _one(ring: Spans, within: float, kept: Sequence[Array]) -> Spans:
    """One ring, its shortest span first."""
    needed = {p.tobytes() for p in ring.controls for place in kept if (p[0] == place).all()}
    while len(ring.controls) > FEWEST:
        size = np.sqrt((np.diff(_points(ring.controls), axis=1) ** 2).sum(axis=2)).sum(axis=1)
        short = [k for k in np.flatnonzero(size < SHORT).tolist() if ring.controls[k].tobytes() not in needed]
        if not short:
            break
        k = min(short, key=size.__getitem__)
        found = _left_out(ring.controls, ring.straight, k, within)
        if found is None:
            longer = _made_longer(ring, k, within)
            needed.add(ring.controls[k].tobytes())
            ring = longer or ring
            continue
        controls = ring.controls.copy()
        controls[k - 1], controls[(k + 1) % len(controls)] = found
        keep = np.arange(len(controls)) != k
        ring = Spans(controls[keep], ring.straight[keep], ring.chain[keep], ring.source[keep])
    return ring


def _left_out(controls: Array, straight: BoolArray, k: int, within: float) -> tuple[Array, Array] | None:
    """The spans before and after span k, led to one place in its stead; None where each way moves the line too far."""
    n = len(controls)
    before, span, after = controls[k - 1], controls[k], controls[(k + 1) % n]
    flat = bool(straight[k - 1]), bool(straight[(k + 1) % n])
    old = np.concatenate(_points(np.stack([before, span, after])))
    best, least = None, within
    for place in _places(before, span, after):
        seconds = _forward(_ending(after[::-1], place, flat[1]), after[::-1])
        for first in _forward(_ending(before, place, flat[0]), before):
            for second in seconds:
                made = np.stack([first, second[::-1]])
                away = _apart(old, np.concatenate(_points(made)), least)
                if away <= least:
                    best, least = (made[0], made[1]), away
    return best


def _places(before: Array, span: Array, after: Array) -> list[Array]:
    """Where two spans may be led to: either end of the one between, its middle, where their directions meet."""
    a, b = span[0], span[3]
    found = [a, b, (a + b) / 2]
    u, v = -directions(before[None, ::-1])[0], directions(after[None])[0]
    sine = float(cross(u, v))
    if abs(sine) > 1e-6:
        by = float(cross(b - a, v)) / sine
        if abs(by) < SHORT:
            found.append(a + by * u)
    return found


def _forward(made: list[Array], span: Array) -> list[Array]:
    """Those that end in the direction of the span they are made from: one that runs past its end and back to it lies
    where it should, and crosses itself."""
    back = directions(span[None, ::-1])[0]
    return [one for one in made if directions(one[None, ::-1])[0] @ back > 0]


def _ending(span: Array, place: Array, flat: bool) -> list[Array]:
    """A span made to end at a place: a line; a curve whose last handle goes along, one that runs on by so much, and,
    where it runs straight to the place, one whose handle stays."""
    if flat:
        step = (place - span[0]) / 3
        return [np.stack([span[0], span[0] + step, place - step, place])]
    found = [span.copy()]
    pace = 3 * (span[3] - span[2])
    if pace @ pace > SHORT**2:
        u = 1 + float((place - span[3]) @ pace) / float(pace @ pace)
        a, b, c = ((1 - u) * p + u * q for p, q in pairwise(span))
        d, e = (1 - u) * a + u * b, (1 - u) * b + u * c
        found.append(np.stack([span[0], a, d, (1 - u) * d + u * e]))
    for one in found:
        one[2:] += place - one[3]
    if pace @ pace > SHORT**2 and abs(cross(pace, place - span[3])) < ALONG * (pace @ pace):
        found.append(np.concatenate([span[:3], place[None]]))
    return found


def _made_longer(ring: Spans, k: int, within: float) -> Spans | None:
    """A ring whose straight span k, on which a curve runs straight on, takes so much of that curve that it is short no
    more; None where there is no such curve, or the line would move too far."""
    n = len(ring.controls)
    for j, step in ((k - 1) % n, 1), ((k + 1) % n, -1):
        span, onward = ring.controls[j][::step], ring.controls[k][::step]
        way, on = -directions(span[None, ::-1])[0], onward[3] - onward[0]
        straight_on = abs(cross(way, on)) < max(ALONG * np.sqrt(on @ on), BESIDE) and way @ on > 0
        if ring.straight[j] or not ring.straight[k] or not straight_on:
            continue
        left = np.sqrt((np.diff(_points(span[None])[0], axis=0) ** 2).sum(axis=1))[::-1].cumsum()
        for part in (TAKEN * float(np.sqrt(on @ on)), SHORT):
            chords = int(np.searchsorted(left, part)) + 1
            if chords > len(left) or left[-1] - left[chords - 1] < SHORT:
                continue
            first, last = _parted(span, float(LOOKS[-1 - chords]))
            made = _fitted(last, onward)
            if _apart(np.concatenate(_points(np.stack([last, onward]))), _points(made[None])[0]) <= within:
                controls, straight, source = ring.controls.copy(), ring.straight.copy(), ring.source.copy()
                controls[j], controls[k], straight[k], source[k] = first[::step], made[::step], False, source[j]
                return Spans(controls, straight, ring.chain, source)
    return None


def _parted(span: Array, t: float) -> tuple[Array, Array]:
    """A span in two, at t (de Casteljau)."""
    a, b, c = (p + t * (q - p) for p, q in pairwise(span))
    d, e = a + t * (b - a), b + t * (c - b)
    m = d + t * (e - d)
    return np.stack([span[0], a, d, m]), np.stack([m, e, c, span[3]])


def _fitted(span: Array, onward: Array) -> Array:
    """One cubic along two spans, with the directions at their ends: the lengths of its handles by least squares."""
    course = np.concatenate([_points(span[None])[0], _points(onward[None])[0, 8::8]])
    leave, arrive = directions(span[None])[0], directions(onward[None, ::-1])[0]
    made = np.concatenate([span[:3], onward[3:]])
    t = np.append(LOOKS, np.ones(4))
    for _ in range(ROUNDS):
        t, _ = nearer(np.broadcast_to(made, (len(course), 4, 2)), course, t, 3)
        s = 1 - t
        legs = 3 * np.stack([s * s * t, s * t * t], axis=1)
        rest = course - np.outer(s**3 + legs[:, 0], span[0]) - np.outer(t**3 + legs[:, 1], onward[3])
        # across the line alone: along it every place has another parameter to go to
        way = unit(paces(np.broadcast_to(made, (len(course), 4, 2)), t))
        across = np.stack([cross(way, np.broadcast_to(v, way.shape)) for v in (leave, arrive)], axis=1)
        found = np.linalg.lstsq(legs * across, cross(way, rest), rcond=None)[0]
        one, two = np.maximum(found, 1e-3 * np.sqrt(((onward[3] - span[0]) ** 2).sum()))
        made = np.stack([span[0], span[0] + one * leave, onward[3] + two * arrive, onward[3]])
    return made


def _points(controls: Array) -> Array:
    """Points on spans (n, 4, 2) at LOOKS, (n, 33, 2)."""
    t, s = LOOKS[:, None], 1 - LOOKS[:, None]
    p = controls[:, :, None]
    return np.asarray(s**3 * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t**3 * p[:, 3])


def _apart(one: Array, other: Array, most: float = np.inf) -> float:
    """mm between two courses of points, the farthest that a place of one lies from the other; beyond `most` only one of
    them is looked at."""
    away = _from(one, other)
    return away if away > most else max(away, _from(other, one))


def _from(points: Array, course: Array) -> float:
    start, way = course[:-1], np.diff(course, axis=0)
    to = points[:, None] - start
    part = np.clip((to * way).sum(axis=2) / np.maximum((way**2).sum(axis=1), 1e-300), 0.0, 1.0)
    return float(np.sqrt(((to - part[..., None] * way) ** 2).sum(axis=2).min(axis=1).max()))
