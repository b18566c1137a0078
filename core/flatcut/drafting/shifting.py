"""A stretch of a line moved at one end, less and less toward the other."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, derivative, line, point
from flatcut.geometry.length import length, lengths_to
from flatcut.geometry.welding import ending_at, starting_at

PIECES = 2
"""Cubics in place of each of several spans beside a moved place: with one it would stray by a pencil's width."""
NODE = 0.01
"""mm: nodes so near to a chord lie on it."""


def shifted(curve: Curve, move: Array, *, rising: bool, straight: bool) -> Curve:
    """A stretch of which one end goes all the way, the other one stays, and what lies between goes less and less.

    It keeps its direction at both ends. rising: whether its end is what moves; straight: whether a line stays one.

    >>> from flatcut.geometry.curves import tangent
    >>> moved = shifted(line((0, 0), (90, 0)), np.array([0.0, 9.0]), rising=True, straight=False)
    >>> moved.end, tangent(moved, 1.0, before=True)
    (array([90.,  9.]), array([1., 0.]))
    """
    ends = curve.start + (0 if rising else 1) * move, curve.end + (1 if rising else 0) * move
    if straight and curve.straight.all() and _is_line(curve):
        return line(*ends)
    if len(curve) == 1:
        controls = np.array(curve.controls)
        controls[0, 2 if rising else 0 : 4 if rising else 2] += move
        return Curve(controls, np.array([False]))
    total = length(curve)
    cuts = [j / PIECES for j in range(PIECES * len(curve) + 1)]
    s = lengths_to(curve, np.array(cuts))
    t = s / total if rising else 1 - s / total
    sign = 1.0 if rising else -1.0
    shares, slopes = t * t * (3 - 2 * t), sign * 6 * t * (1 - t) / total
    points = point(curve, np.array(cuts)) + shares[:, None] * move
    spans = []
    for j, (low, high) in enumerate(pairwise(cuts)):
        d = derivative(curve, np.array([low + 1e-12, high - 1e-12]))
        d = d + (slopes[[j, j + 1]] * np.hypot(*d.T))[:, None] * move
        p, q, span = points[j], points[j + 1], high - low
        spans.append([p, p + d[0] * span / 3, q - d[1] * span / 3, q])
    found = Curve(np.array(spans), np.zeros(len(spans), dtype=bool))
    return ending_at(starting_at(found, ends[0]), ends[1])


def _is_line(curve: Curve) -> bool:
    """Whether all of a curve of straight spans lies on its chord."""
    chord = curve.end - curve.start
    size = float(np.hypot(*chord))
    return size > NODE and float(np.abs(cross(chord, curve.nodes - curve.start)).max()) / size <= NODE
