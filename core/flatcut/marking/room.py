"""Room for words: where a box of text stands free of every line, and how large it can be there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.geometry.region import contains

CHORD = 0.4
"""mm that the chords of a line may stray from it: less than the air around the smallest text."""
AIR = 1.25
"""How much larger than the text the box is that must be free."""
CELLS = 16
"""Places tried across the piece: fewer, and narrow pieces find no room; more, and fifty pieces take long."""
CLOSER = 7
"""Places tried across about the best one, so that it need not stand on the grid."""


def segments(curves: Iterable[Curve]) -> Array:
    """Curves as chords, (n, 2, 2) mm: start and end of each."""
    items = list(curves)
    if not items:
        return np.zeros((0, 2, 2))
    controls = np.concatenate([curve.controls for curve in items])
    straight = np.concatenate([curve.straight for curve in items])
    # as many chords as `flatten` takes, for all curves at once
    bend = np.linalg.norm(np.diff(controls, n=2, axis=1), axis=-1).max(axis=1)
    counts = np.where(straight, 1, np.maximum(1, np.ceil(np.sqrt(0.75 * bend / CHORD)))).astype(int)
    span = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(span)) - np.repeat(np.cumsum(counts) - counts, counts)
    ends, p = [], controls[span]
    for k in (step, step + 1):
        t = (k / counts[span])[:, None]
        s = 1 - t
        ends.append(s * s * s * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t * t * t * p[:, 3])
    return np.stack(ends, axis=1)


def frame(degrees: float) -> Array:
    """The matrix (2, 2) that takes points, as rows, into axes turned clockwise by so many degrees."""
    turn = math.radians(degrees)
    return np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])


def clearance(centres: Array, size: tuple[float, float], lines: Array) -> Array:
    """How many times as large as `size` (width, height) a box about each centre (m, 2) can be before it meets a line.

    lines: (n, 2, 2) chords; box and lines in the same axes. Exact: the largest of |x| / half width and |y| / half
    height is least on a chord at one of its ends, on an axis, or on a diagonal of the box.

    >>> clearance(np.array([[0.0, 0.0]]), (4.0, 2.0), np.array([[[-9.0, 3.0], [9.0, 3.0]]]))
    array([3.])
    """
    if not len(lines):
        return np.full(len(centres), np.inf)
    half = np.array(size) / 2
    p, d = (lines[None, :, 0] - centres[:, None]) / half, (lines[:, 1] - lines[:, 0]) / half
    return _clear(p[..., 0], p[..., 1], d[None, :, 0], d[None, :, 1])


def _clear(x: Array, y: Array, dx: Array, dy: Array) -> Array:
    """As `clearance`, of chords from x, y (m, n) by dx, dy (m or 1, n), in half sizes of the box about each centre."""
    first, last = np.maximum(np.abs(x), np.abs(y)), np.maximum(np.abs(x + dx), np.abs(y + dy))
    least = np.minimum(first, last).min(axis=1)
    # no place on a chord is nearer than half of what its two ends together are farther than it is long
    long = np.maximum(np.abs(dx), np.abs(dy))
    row, k = np.nonzero(first + last - long <= 2 * least[:, None] + 1e-9)
    of = row if len(dx) > 1 else np.zeros_like(row)
    x, y, dx, dy = x[row, k], y[row, k], dx[of, k], dy[of, k]
    best = np.full(len(row), np.inf)
    for at, by in ((x, dx), (y, dy), (x - y, dx - dy), (x + y, dx + dy)):
        t = np.clip(np.divide(-at, by, out=np.zeros_like(at), where=np.abs(by) > 1e-12), 0.0, 1.0)
        np.minimum(best, np.maximum(np.abs(x + t * dx), np.abs(y + t * dy)), out=best)
    np.minimum.at(least, row, best)
    return np.asarray(least)


def room_at(centre: Array, size: tuple[float, float], degrees: float, ring: Array, lines: Array) -> float:
    """How many times `size` a text about a place inside a ring can be, with AIR around it; 0 outside the ring."""
    return float(rooms_at(centre[None], size, [degrees], ring, lines)[0])


def rooms_at(centres: Array, size: tuple[float, float], degrees: Sequence[float], ring: Array, lines: Array) -> Array:
    """As `room_at` about many places (m, 2), the text turned by an angle of its own at each."""
    room, within = np.zeros(len(centres)), contains(ring, centres)
    k = np.flatnonzero(within)
    if not len(k):
        return room
    room[k] = np.inf
    if len(lines):
        turns = np.stack([frame(degrees[i]) for i in k.tolist()]) / (np.array(size) / 2)
        p = (lines[None, :, 0] - centres[k, None]) @ turns
        d = (lines[:, 1] - lines[:, 0]) @ turns
        room[k] = _clear(p[..., 0], p[..., 1], d[..., 0], d[..., 1]) / AIR
    return room


def roomiest(
    ring: Array,
    lines: Array,
    size: tuple[float, float],
    degrees: float,
    *,
    enough: float,
    near: Array | None = None,
    least: float = 0.0,
) -> tuple[Array, float]:
    """Where inside a ring a text of the shape `size` can be largest, and how many times `size` it is there.

    Of all places where it can be `enough` times as large the one nearest to the middle is taken; with `near`, of all
    where it can be `least` times as large the one nearest to that.
    """
    turn = frame(degrees)
    turned, kept = ring @ turn, lines @ turn
    low, high = turned.min(axis=0), turned.max(axis=0)
    span = np.maximum(high - low, 1e-9)
    target = (low + high) / 2 if near is None else near @ turn

    def rank(places: Array) -> tuple[Array, Array]:
        fits, within = np.zeros(len(places)), contains(turned, places)
        fits[within] = clearance(places[within], size, kept) / AIR
        away = np.linalg.norm((places - target) / span, axis=1)
        if near is None:
            return np.minimum(fits, enough) - away * 0.01 * enough, fits
        return np.where(fits >= least, enough - away, -1.0 / np.maximum(fits, 1e-9)), fits

    share = (np.arange(CELLS) + 0.5) / CELLS
    places = np.stack(np.meshgrid(*(low + share[:, None] * span).T), axis=-1).reshape(-1, 2)
    score, fits = rank(places)
    best = int(np.argmax(score))
    around = np.linspace(-1.0, 1.0, CLOSER)
    closer = places[best] + np.stack(np.meshgrid(*(around[:, None] * span / CELLS).T), axis=-1).reshape(-1, 2)
    score_2, fits_2 = rank(closer)
    second = int(np.argmax(score_2))
    if score_2[second] > score[best]:
        return turn @ closer[second], float(fits_2[second])
    return turn @ places[best], float(fits[best])


def readable(degrees: float) -> float:
    """The angle at which words along a direction are read from below or from the right, never upside down.

    >>> readable(170.0), readable(90.0), readable(-45.0)
    (-10.0, -90.0, -45.0)
    """
    angle = (degrees + 90) % 180 - 90
    return -90.0 if angle > 89.9 else angle


def as_ring(curves: Sequence[Curve]) -> Array:
    """Curves end to start as one closed ring of points."""
    points = segments(curves)[:, 0]
    return np.concatenate([points, points[:1]])
