"""Closing an edge over the mouth of a notch, so that neither a bump nor a needless node stays behind."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line, point, polyline, tangent
from flatcut.geometry.nearest import nearest

AS_ONE = 0.02
"""mm: what stands on both sides of a mouth becomes one span again when that moves it by no more than this."""
CLOSED = 0.2
"""mm: a mouth narrower than this needs no span of its own; its sides are drawn together."""
SAMPLES = 9
"""Places on each side at which one cubic for both is held against them; a cubic has no more than three bends."""
ROUNDS = 12
"""Steps of Gauss and Newton for that cubic; four or five are the rule."""


def mended(before: Curve, after: Curve, *, plainly: bool = False) -> Curve:
    """One curve over a mouth.

    before, after: single spans; the mouth lies between the end of the one and the start of the other. Straight sides
    are drawn on until they meet, curved ones are joined by the fair curve that both run into; plainly: a chord, for
    sides that are samples of a curve and are fitted later.

    >>> len(mended(line((0, 0), (10, 0)), line((14, 0), (30, 0))))
    1
    """
    gap = after.start - before.end
    middle = (before.end + after.start) / 2
    if plainly:
        return chain([before, *([line(before.end, after.start)] if np.hypot(*gap) > 1e-6 else []), after])
    if before.straight[0] and after.straight[0]:
        return _straight(before, after)
    if np.hypot(*gap) < CLOSED:
        parts = [_ending_at(before, middle), _starting_at(after, middle)]
        one = None if before.straight[0] or after.straight[0] else _one_cubic(*parts)
        return one or chain(parts)
    bridge = fair(before.end, tangent(before, 1.0, before=True), after.start, tangent(after, 0.0))
    one = None if before.straight[0] or after.straight[0] else _one_cubic(before, after)
    return one or chain([before, bridge, after])


def fair(start: Array, leaving: Array, end: Array, arriving: Array) -> Curve:
    """One span between two points with given unit tangents, a circular arc's handles where it can be one.

    Handles of (2/3) chord · tan(θ/4) / sin(θ/2) for a turn θ: the usual cubic of an arc, exact to 3e-5 of the radius
    at 60°.

    >>> flat = fair(np.array([0., 0]), np.array([1., 0]), np.array([6., 0]), np.array([1., 0]))
    >>> bool(flat.straight[0])
    True
    """
    chord = end - start
    if max(abs(cross(leaving, chord)), abs(cross(arriving, chord))) < 1e-3:
        return line(start, end)
    turn = np.arccos(np.clip(np.dot(leaving, arriving), -1.0, 1.0))
    share = 1 / 3 if turn < 1e-4 else 2 / 3 * np.tan(turn / 4) / np.sin(turn / 2)
    reach = share * np.hypot(*chord)
    controls = np.array([[start, start + reach * leaving, end - reach * arriving, end]])
    return Curve(controls, np.zeros(1, dtype=np.bool_))


def _straight(before: Curve, after: Curve) -> Curve:
    a, p, q, b = before.start, before.end, after.start, after.end
    middle = (p + q) / 2
    whole = line(a, b)
    if nearest(whole, np.array([p, q]))[1].max() <= AS_ONE:
        return whole
    along, onward = unit(p - a), unit(b - q)
    turn = float(cross(along, onward))
    wide = np.hypot(*(q - p))
    if abs(turn) > 1e-9:
        meet = p + float(cross(q - p, onward)) / turn * along
        reach = max(wide, CLOSED)
        if max(np.hypot(*(meet - p)), np.hypot(*(meet - q))) <= reach and np.dot(meet - p, along) >= -AS_ONE:
            return polyline([a, meet, b])
    return polyline([a, middle, b]) if wide < CLOSED else polyline([a, p, q, b])


def _ending_at(curve: Curve, at: Array) -> Curve:
    controls = np.array(curve.controls)
    controls[-1, 2:] += at - curve.end
    return line(curve.start, at) if curve.straight[0] else Curve(controls, curve.straight)


def _starting_at(curve: Curve, at: Array) -> Curve:
    controls = np.array(curve.controls)
    controls[0, :2] += at - curve.start
    return line(at, curve.end) if curve.straight[0] else Curve(controls, curve.straight)


def _one_cubic(before: Curve, after: Curve) -> Curve | None:
    """One cubic that runs along both spans within AS_ONE, with their outer ends and tangents, or None."""
    share = np.linspace(0.0, 1.0, SAMPLES)
    wanted = np.concatenate([point(before, share), point(after, share)])[1:-1]
    start, end = before.start, after.end
    leaving, arriving = tangent(before, 0.0), tangent(after, 1.0, before=True)
    reach = np.full(2, float(np.hypot(*(end - start))) / 3)
    for _ in range(ROUNDS):
        controls = np.array([[start, start + reach[0] * leaving, end - reach[1] * arriving, end]])
        whole = Curve(controls, np.zeros(1, dtype=np.bool_))
        t, away = nearest(whole, wanted)
        direction = tangent(whole, t)
        normal = np.stack([-direction[:, 1], direction[:, 0]], axis=1)
        off = ((wanted - point(whole, t)) * normal).sum(axis=1)
        weights = np.stack(
            [3 * (1 - t) ** 2 * t * (normal @ leaving), -3 * (1 - t) * t**2 * (normal @ arriving)], axis=1
        )
        step, *_ = np.linalg.lstsq(weights, off, rcond=None)
        if not np.isfinite(step).all() or away.max() > 1e6:
            return None
        reach = np.maximum(reach + step, 1e-3)
        if np.abs(step).max() < 1e-6:
            break
    return whole if away.max() <= AS_ONE else None
