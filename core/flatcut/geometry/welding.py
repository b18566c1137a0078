"""Curves laid end to start: joined to one, or an end put elsewhere with its handle."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, chain, line, split_spans

SAME = 1e-6
"""mm: two spans that one span replaces this closely were one before they were cut."""


def joined(before: Curve, after: Curve) -> Curve:
    """Two curves end to start as one; the two spans at the joint become one span where they were one before.

    The start of the second is put on the end of the first.

    >>> from flatcut.geometry.curves import cubic, split
    >>> whole = cubic((0, 0), (3, 9), (20, 9), (30, 0))
    >>> again = joined(*split(whole, 0.3))
    >>> len(again), bool(np.abs(again.controls - whole.controls).max() < 1e-9)
    (1, True)
    >>> len(joined(line((0, 0), (9, 0)), line((9, 0), (9, 5))))
    2
    """
    after = starting_at(after, before.end)
    one = _one_span(before, after)
    if one is None:
        return chain([before, after])
    pieces = [Curve(before.controls[:-1], before.straight[:-1])] if len(before) > 1 else []
    pieces.append(one)
    if len(after) > 1:
        pieces.append(Curve(after.controls[1:], after.straight[1:]))
    return chain(pieces)


def _one_span(before: Curve, after: Curve) -> Curve | None:
    p, q = before.controls[-1], after.controls[0]
    if before.straight[-1] != after.straight[0]:
        return None
    if before.straight[-1]:
        along = q[3] - p[0]
        size = float(np.hypot(*along))
        if size < SAME or abs(float(cross(along, p[3] - p[0]))) > SAME * size or (p[3] - p[0]) @ (q[3] - q[0]) <= 0:
            return None
        return line(p[0], q[3])
    into, out = float(np.hypot(*(p[3] - p[2]))), float(np.hypot(*(q[1] - q[0])))
    if min(into, out) < SAME:
        return None
    # de Casteljau at t leaves handles in the ratio t : 1 - t at the new node, and t of the first handle
    t = into / (into + out)
    whole = np.array([[p[0], p[0] + (p[1] - p[0]) / t, q[3] + (q[2] - q[3]) / (1 - t), q[3]]])
    first, second = split_spans(whole, [t])
    if max(np.abs(first[0] - p).max(), np.abs(second[0] - q).max()) > SAME:
        return None
    return Curve(whole, np.zeros(1, dtype=np.bool_))


def starting_at(curve: Curve, at: Array) -> Curve:
    """The curve with its start put elsewhere, the first handle carried along."""
    controls = np.array(curve.controls)
    if curve.straight[0]:
        controls[:1] = line(at, curve.controls[0, 3]).controls
    else:
        controls[0, :2] += at - curve.start
        controls[0, 0] = at
    return Curve(controls, curve.straight)


def ending_at(curve: Curve, at: Array) -> Curve:
    """The curve with its end put elsewhere, the last handle carried along."""
    controls = np.array(curve.controls)
    if curve.straight[-1]:
        controls[-1:] = line(curve.controls[-1, 0], at).controls
    else:
        controls[-1, 2:] += at - curve.end
        controls[-1, 3] = at
    return Curve(controls, curve.straight)
