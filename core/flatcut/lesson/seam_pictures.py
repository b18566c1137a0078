"""The pieces of a seam laid together, as a picture on paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.laying import Side
from flatcut.drawing.seams import SEAM, seam_strokes
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import bounds
from flatcut.lesson.pictures import NAME, Frame, fine
from flatcut.lesson.room import Room
from flatcut.lesson.values import Card
from flatcut.pattern.runs import written
from flatcut.pattern.values import Pattern, Seam
from flatcut.pattern.walking import point_at, to_drawn

HIGH = 52.0
"""mm of the page: how high a picture of a seam is at most."""


def seam_card(pattern: Pattern, seam: Seam, number: int) -> Card | None:
    """Both sides of a seam along each other; None for one that cannot be laid so."""
    try:
        strokes, one, two = seam_strokes(pattern, seam)
    except FlatcutError:
        return None
    boxes = np.array([bounds(curve) for stroke in strokes for curve in stroke.curves])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    frame = Frame.of(low, high, alone=True, high_at_most=HIGH)
    items: list[Stroke | Words] = []
    for stroke in strokes:
        pen = replace(SEAM, width=0.9) if stroke.role == SEAM else fine(stroke.role)
        items.append(frame.stroke(pen, stroke.curves, closed=stroke.closed))
    room = Room(frame.size, [item for item in items if isinstance(item, Stroke)])
    items += frame.bar()
    for side, away in ((one, 1.0), (two, -1.0)):
        items += _names(frame, side, away, room)
    label = f"seam {number}: {written(pattern, seam.a)}, below, and {written(pattern, seam.b)}, above, laid together"
    return Card(ink=Ink(items=tuple(items)), size=frame.size, label=label, scale=frame.scale)


def _names(frame: Frame, side: Side, away: float, room: Room) -> list[Stroke | Words]:
    items: list[Stroke | Words] = []
    for part in (part for part in side.parts if part.first):
        half = to_drawn(part.step.edge, (part.step.start + part.step.end) / 2)
        at = frame.to.apply(part.to.apply(point_at(part.step.edge, half)[0])) + np.array([0.0, 4.0 * away])
        items += room.put((f"{part.step.piece.name}.{part.step.edge.name}",), at, role=NAME, inside=True)
    return items
