"""The pieces of a seam laid together, as a picture on paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.laying import Laid, Side, laid_on
from flatcut.drawing.roles import DART, GRAIN, Role
from flatcut.drawing.seams import INNER, SEAM, piece_strokes, seam_strokes
from flatcut.errors import FlatcutError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, flatten, polyline, transform
from flatcut.geometry.nearest import nearest
from flatcut.lesson.naming import NAME, SMALL
from flatcut.lesson.pictures import ROOM, WIDE, Frame, fine
from flatcut.lesson.room import LETTER, Room
from flatcut.lesson.values import Card
from flatcut.lesson.words import called
from flatcut.pattern.runs import owner, run_curves, written
from flatcut.pattern.values import Pattern, RunPart, Seam
from flatcut.pattern.walking import point_at, to_drawn

HIGH = 58.0
"""mm of the page: how high a picture of a seam is at most."""
BESIDE = 0.3
"""Of what lies beyond a seam, this part of its length is shown at either end."""
OFF, LEAST = 0.3, 9.0
"""How far off the seam the pieces are shown: a part of its length, and mm at least."""
WORTH = 1.25
"""A picture is cut off about its seam only where that makes it so many times larger."""
FINE = 0.1
"""mm that a line which is cut off may leave its curve."""
BOLD, OPEN = SEAM._replace(width=0.9), Role(name="open", width=0.5, dashes=(0.8, 0.8))
"""The stitch line of the seam, and a part of it that stays open."""


def seam_card(pattern: Pattern, seam: Seam, number: int) -> Card | None:
    """Both sides of a seam along each other; None for one that cannot be laid so."""
    try:
        onto = laid_on(pattern, seam)
        strokes, one, two = seam_strokes(pattern, seam) if onto is None else (_onto_strokes(*onto), *onto)
    except FlatcutError:
        return None
    low, high, cut = _window(strokes)
    frame = Frame.of(low, high, alone=True, high_at_most=HIGH)
    left = {part.of for part in stays_open(pattern, seam)}
    if cut:
        parts = [
            stroke._replace(curves=(part,), closed=False)
            for stroke in strokes
            for curve in stroke.curves
            for part in _within(curve, low, high)
        ]
        strokes = parts if onto is not None else _joined(parts)
    items: list[Stroke | Words] = []
    for stroke in strokes:
        pen = (OPEN if stroke.of in left else BOLD) if stroke.role == SEAM else fine(stroke.role)
        items.append(frame.stroke(pen, stroke.curves, closed=stroke.closed))
    room = Room(frame.size, [item for item in items if isinstance(item, Stroke)])
    items += room.kept(frame.bar())
    if onto is not None:
        items += _named_on(frame, one, two, room)
        label = f"seam {number}: {two.parts[0].step.piece.name} laid on {one.parts[0].step.piece.name}"
        return Card(ink=Ink(items=tuple(items)), size=frame.size, label=label, scale=frame.scale)
    for side, away in ((one, 1.0), (two, -1.0)):
        items += _names(frame, side, away, room)
    label = f"seam {number}: {written(pattern, seam.a)}, below, and {written(pattern, seam.b)}, above, laid together"
    return Card(ink=Ink(items=tuple(items)), size=frame.size, label=label, scale=frame.scale)


def stays_open(pattern: Pattern, seam: Seam) -> list[RunPart]:
    """The parts of a seam that are openings on both sides, as where a zip is set in."""
    found = [
        [part for part in run if getattr(owner(pattern, part)[1], "use", "") == "opening"] for run in (seam.a, seam.b)
    ]
    return [*found[0], *found[1]] if all(found) else []


def _onto_strokes(ground: Side, own: Side) -> list[Stroke]:
    """The strokes of a piece and of the one that is sewn onto it, the seam bold."""
    without = (*INNER, GRAIN)
    strokes = [*piece_strokes(ground.parts[0].step.piece, Affine(), without=without)]
    strokes += piece_strokes(own.parts[0].step.piece, own.parts[0].to, without=without)
    return strokes + [Stroke(role=SEAM, curves=_course(part), of=part.step.edge.uid) for part in own.parts]


def _course(part: Laid) -> tuple[Curve, ...]:
    return tuple(transform(curve, part.to) for curve in run_curves(part.step))


def _joined(parts: list[Stroke]) -> list[Stroke]:
    """The parts of lines that the seam runs on into: of what comes back into the picture elsewhere nobody could tell
    what it is. Each part is one curve."""
    lines = [part.curves[0] for part in parts]
    kept = {k for k, part in enumerate(parts) if part.role == SEAM}
    fresh = set(kept)
    while fresh:
        found = set[int]()
        for k, part in enumerate(parts):
            # outlines of two pieces may cross: a part goes on in its own line, a dart from the edge that it stands on
            near = [n for n in fresh if parts[n].role == SEAM or part.role == DART or parts[n].of == part.of]
            if k not in kept and any(_touch(lines[k], lines[n]) for n in near):
                found.add(k)
        kept |= found
        fresh = found
    return [part for k, part in enumerate(parts) if k in kept]


def _touch(one: Curve, two: Curve) -> bool:
    """Whether a node of one lies on the other."""
    return any(float(nearest(a, b.nodes)[1].min()) < 2 * FINE for a, b in ((one, two), (two, one)))


def _box(strokes: Iterable[Stroke]) -> tuple[Array, Array]:
    boxes = np.array([bounds(curve) for stroke in strokes for curve in stroke.curves])
    return boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)


def _window(strokes: list[Stroke]) -> tuple[Array, Array, bool]:
    """What is to be seen, (2,) and (2,) mm, and whether the pieces are cut off there: else a short seam on a long
    piece could not be made out."""
    low, high = _box(strokes)
    start, end = _box(stroke for stroke in strokes if stroke.role == SEAM)
    long = float(end[0] - start[0])
    margin = np.array([max(BESIDE * long, LEAST), max(OFF * long, LEAST)])
    near, far = np.maximum(low, start - margin), np.minimum(high, end + margin)
    room = np.array([WIDE, HIGH]) - 2 * ROOM
    before, after = (float((room / np.maximum(size, 1.0)).min()) for size in (high - low, far - near))
    if after < WORTH * before:
        return low, high, False
    # what room is left beside it shows more of the pieces
    spare = np.maximum(room / after - (far - near), 0.0) / 2
    return np.maximum(low, near - spare), np.minimum(high, far + spare), True


def _within(curve: Curve, low: Array, high: Array) -> Iterator[Curve]:
    """The parts of a curve in a box, as lines (C. Liang and B. Barsky, A new concept and method for line clipping,
    ACM Transactions on Graphics 3, 1984).

    >>> [part.nodes.tolist() for part in _within(polyline([[-1, 1], [3, 1]]), np.zeros(2), np.array([2, 2]))]
    [[[0.0, 1.0], [2.0, 1.0]]]
    """
    points = flatten(curve, tolerance=FINE)
    part: list[Array] = []
    for a, b in pairwise(points):
        way = b - a
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.stack([(low - a) / way, (high - a) / way])
        still = way == 0
        t[:, still] = np.where((a >= low) & (a <= high), [[-np.inf] * 2, [np.inf] * 2], [[np.inf] * 2] * 2)[:, still]
        first, last = max(0.0, float(t.min(axis=0).max())), min(1.0, float(t.max(axis=0).min()))
        if first < last:
            if not part or first > 0:
                if len(part) > 1:
                    yield polyline(part)
                part = [a + first * way]
            part.append(a + last * way)
        elif len(part) > 1:
            yield polyline(part)
            part = []
    if len(part) > 1:
        yield polyline(part)


def _named_on(frame: Frame, ground: Side, own: Side, room: Room) -> list[Stroke | Words]:
    low, high = _box(Stroke(role=SEAM, curves=_course(part)) for part in own.parts)
    below = frame.to.apply(np.array([(low[0] + high[0]) / 2, high[1]])) + np.array([0.0, 4.0])
    return [
        *_put(room, own.parts[0].step.piece.name, frame.to.apply((low + high) / 2)),
        *_put(room, ground.parts[0].step.piece.name, below),
    ]


def _put(room: Room, name: str, at: Array) -> list[Stroke | Words]:
    for letter in (LETTER, SMALL):
        put = room.put((name,), at, role=NAME, letter=letter, inside=True, most=0 if letter == LETTER else 12)
        if put:
            return put
    return []


def _names(frame: Frame, side: Side, away: float, room: Room) -> list[Stroke | Words]:
    items: list[Stroke | Words] = []
    for part in (part for part in side.parts if part.first):
        half = to_drawn(part.step.edge, (part.step.start + part.step.end) / 2)
        at = frame.to.apply(part.to.apply(point_at(part.step.edge, half)[0])) + np.array([0.0, 4.0 * away])
        items += _put(room, f"{part.step.piece.name}: {called(part.step.edge.name)}", at)
    return items
