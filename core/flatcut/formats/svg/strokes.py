"""Subpaths on their way from numbers to curves, many at once.

A file may hold ten thousand paths; their numbers are gathered in plain lists, and all of them become arrays together.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, frozen
from flatcut.geometry.curves import Curve, unchecked

CLOSING = 1e-6
"""A closing line shorter than this part of its subpath's larger side is the rounding of numbers in the file: the last
point is put on the first. Larger, and drawn edges would be lost; smaller, and numbers of seven digits would leave
specks of edges."""


class SubPath(NamedTuple):
    """What one M of a path draws, or a shape. closed: the curve ends on its start, the closing line included.

    dropped: segments of no length that the drawing holds and the curve does not.
    """

    curve: Curve
    closed: bool
    dropped: int = 0


class Strokes(NamedTuple):
    """A subpath as numbers.

    points: x, y of the start, then of the end of each straight span or of both handles and the end of each curved one.
    straight: a mark for each span; closed: whether it was closed; closing: whether a line was added for that.
    """

    points: list[float]
    straight: list[bool]
    closed: bool
    closing: bool


class Spans(NamedTuple):
    """The spans of many subpaths, one after the other.

    controls: (n, 4, 2); straight: (n,); counts: how many spans each subpath has, which may be none; dropped: how many
    segments without length each one lost; closed: a mark for each subpath.
    """

    controls: Array
    straight: BoolArray
    counts: Ints
    dropped: Ints
    closed: list[bool]


def gather(strokes: Sequence[Strokes]) -> Spans:
    """The arrays of many subpaths: specks of closing lines welded, segments without length left out.

    Numbers that are not finite are passed on.

    >>> spans = gather([Strokes([0, 0, 3, 0, 3, 0, 3, 6, 0, 1e-9], [True] * 4, True, False)])
    >>> spans.counts, spans.dropped, spans.controls[0].tolist()
    (array([3]), array([1]), [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [3.0, 0.0]])
    """
    counts = np.array([len(s.straight) for s in strokes], dtype=np.intp)
    if not counts.any():
        return Spans(np.zeros((0, 4, 2)), np.zeros(0, dtype=np.bool_), counts, counts, [s.closed for s in strokes])
    points = np.array(list(chain.from_iterable(s.points for s in strokes)), dtype=np.float64).reshape(-1, 2)
    straight = np.array(list(chain.from_iterable(s.straight for s in strokes)), dtype=np.bool_)
    owner = np.repeat(np.arange(len(strokes)), counts)
    step = np.where(straight, 1, 3)
    ends = np.cumsum(step) + owner
    begins = ends - step
    with np.errstate(all="ignore"):
        specks = _weld(points, strokes, counts, begins, ends)
        p0, p1, p2, p3 = points[begins], points[ends - 2], points[ends - 1], points[ends]
        third = (p3 - p0) / 3
        p1 = np.where(straight[:, None], p0 + third, p1)
        p2 = np.where(straight[:, None], p3 - third, p2)
    void = ((p0 == p1) & (p0 == p2) & (p0 == p3)).all(axis=1)
    controls = np.stack([p0, p1, p2, p3], axis=1)
    if not void.any():
        return Spans(controls, straight, counts, np.zeros_like(counts), [s.closed for s in strokes])
    dropped = np.bincount(owner[void], minlength=len(strokes)).astype(np.intp)
    return Spans(controls[~void], straight[~void], counts - dropped, dropped - specks, [s.closed for s in strokes])


def _weld(
    points: Array,
    strokes: Sequence[Strokes],
    counts: Ints,
    begins: Ints,
    ends: Ints,
) -> Ints:
    """Put the last drawn point on the first where the closing line is a speck; 1 for each subpath where it was."""
    specks = np.zeros(len(strokes), dtype=np.intp)
    marked = np.flatnonzero([s.closing and len(s.straight) > 1 for s in strokes])
    if not len(marked):
        return specks
    last = (np.cumsum(counts) - 1)[marked]
    gaps = np.abs(points[ends[last]] - points[begins[last]]).max(axis=1)
    for k in np.flatnonzero(gaps <= CLOSING * (points.max() - points.min())):
        own = np.reshape(strokes[marked[k]].points, (-1, 2))
        if gaps[k] <= CLOSING * (own.max(axis=0) - own.min(axis=0)).max():
            specks[marked[k]] = 1
            points[begins[last[k]]] = points[ends[last[k]]]
    return specks


def subpaths(spans: Spans) -> list[SubPath | None]:
    """The subpaths, in order; None for one that has no spans left. The controls must be finite."""
    controls = frozen(spans.controls)
    straight = np.array(spans.straight, dtype=np.bool_)
    straight.flags.writeable = False
    result: list[SubPath | None] = []
    place = 0
    for count, dropped, closed in zip(spans.counts.tolist(), spans.dropped.tolist(), spans.closed, strict=True):
        end = place + count
        curve = unchecked(controls[place:end], straight[place:end]) if count else None
        result.append(SubPath(curve, closed, dropped) if curve is not None else None)
        place = end
    return result
