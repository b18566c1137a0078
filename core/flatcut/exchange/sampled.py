"""Curves as turn points and curve points, alike in every size: each stretch of a line at equal parts of its length."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatcut.exchange.planned import Plan, Stretch, Track
from flatcut.exchange.through import through
from flatcut.exchange.values import Course, Nick, Note, Part
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point, polyline
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.marking.lettering import LEADING
from flatcut.marking.room import frame

SPACING = 5.0
"""mm between points of a curve at most: a reader that draws curves through them then strays little."""
CHORD = 0.02
"""mm that a chord may leave its curve: a fifth of what a reader that draws chords should get (common practice), so that
a curve through the points is the one that was drawn within 0.01 mm."""
READ = 0.008
"""mm that the curve which a reader draws through the points may leave the one that was drawn: what is read back within
0.01 mm is promised, and coordinates are rounded."""
MOST = 4000
"""Points of one stretch: a curve that wants more is wilder than any seam."""


def sampled(plans: Sequence[Plan], *, sizes: Sequence[str]) -> list[Part]:
    """One part for each plan, all with the same points. plans: of one piece in several sizes, of one form."""
    counts = [
        [
            _count([plan.tracks[k].stretches[j].curve for plan in plans])
            for j in range(len(plans[0].tracks[k].stretches))
        ]
        for k in range(len(plans[0].tracks))
    ]
    return [_part(plan, counts, size) for plan, size in zip(plans, sizes, strict=True)]


def _part(plan: Plan, counts: list[list[int]], size: str) -> Part:
    piece = plan.piece
    courses = tuple(_course(track, count) for track, count in zip(plan.tracks, counts, strict=True))
    nicks = tuple(Nick(layer=s.layer, at=s.at, into=s.into, depth=s.depth, width=s.width) for s in plan.spots)
    return Part(
        name=piece.name,
        size=size,
        quantity=piece.quantity,
        cut_as="single" if piece.cut_as == "fold" and plan.mirror is None else piece.cut_as,
        material=piece.material,
        courses=courses,
        nicks=nicks,
        holes=np.array(plan.holes).reshape(-1, 2),
        grain=plan.grain,
        mirror=plan.mirror,
        notes=tuple(note for words in plan.words for note in _notes(words.lines, words.at, words.height, words.angle)),
    )


def _notes(lines: Sequence[str], at: Array, height: float, angle: float) -> list[Note]:
    """Lines of words one below the other, each about its own middle."""
    first = -(len(lines) - 1) / 2 * LEADING * height
    rows = [np.array([0.0, first + k * LEADING * height]) @ frame(angle).T + at for k in range(len(lines))]
    return [Note(text=text, at=row, height=0.7 * height, angle=angle) for text, row in zip(lines, rows, strict=True)]


def _count(curves: Sequence[Curve]) -> int:
    """Into how many parts a stretch is cut, so that the points do for every size."""
    if all(bool(curve.straight.all()) and _one_line(curve) for curve in curves):
        return 1
    count = max(2, max(math.ceil(length(curve) / SPACING) for curve in curves))
    while count < MOST and any(_stray(curve, count) > CHORD or _read(curve, count) > READ for curve in curves):
        count = math.ceil(1.3 * count)
    return count


def _one_line(curve: Curve) -> bool:
    chord = curve.end - curve.start
    size = float(np.hypot(*chord))
    off = np.abs((curve.nodes - curve.start) @ np.array([-chord[1], chord[0]])) / max(size, 1e-12)
    return bool(off.max() <= 1e-4)


def _points(curve: Curve, count: int) -> Array:
    """The ends of so many parts of equal length, (count + 1, 2)."""
    if count == 1:
        return np.array([curve.start, curve.end])
    places = places_at(curve, np.linspace(0.0, length(curve), count + 1)[1:-1])
    return np.concatenate([curve.start[None], point(curve, places), curve.end[None]])


def _stray(curve: Curve, count: int) -> float:
    """mm from the curve to its chords: from points on it, many to each chord."""
    places = np.linspace(0.0, len(curve), 8 * max(count, len(curve)) + 1)
    return float(nearest(polyline(_points(curve, count)), point(curve, places))[1].max())


def _read(curve: Curve, count: int) -> float:
    """mm from the curve to the one that is read from its points."""
    places = np.linspace(0.0, len(curve), 8 * max(count, len(curve)) + 1)
    points = _points(curve, count)
    ring = bool(np.abs(points[0] - points[-1]).max() < 1e-9)
    (read,) = through([(points[:-1], True) if ring else (points, False)])
    return float(nearest(read, point(curve, places))[1].max())


def _course(track: Track, counts: Sequence[int]) -> Course:
    rows, turns = [], []
    for one, count in zip(track.stretches, counts, strict=True):
        rows.append(_points(one.curve, count)[:-1])
        turns += [True] + [False] * (count - 1)
    if not track.closed:
        rows.append(_end(track.stretches))
        turns.append(True)
    return Course(layer=track.layer, points=np.concatenate(rows), turn=np.array(turns), closed=track.closed)


def _end(stretches: Sequence[Stretch]) -> Array:
    return np.asarray(stretches[-1].curve.end[None])
