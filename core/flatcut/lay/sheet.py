"""A lay as it is drawn: the cloth, its pieces with their names, and what was reached."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words, together
from flatcut.drawing.roles import ARROW, CUT, FOLD, GRAIN, LABEL, LINE, OUTLINE, WORDS
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line, section
from flatcut.lay.pieces import ON_FOLD, Source
from flatcut.lay.values import Lay

HEADING = 14.0
"""mm: letter height of the words above a lay."""
ROOM = 40.0
"""mm between the words, one lay and the next."""


def drawn(lay: Lay, sources: Sequence[Source], heading: Sequence[str], *, folded: bool = False) -> Ink:
    """A lay, its heading above the cloth."""
    parts = [Ink(items=tuple(_placed(source, placed.matrix)), rings=(ring,), names=(source.name,))
             for placed, ring in zip(lay.placed, lay.rings(), strict=True)
             for source in (sources[lay.items[placed.item].source],)]  # fmt: skip
    return together([Ink(items=(*_cloth(lay, folded=folded), *_said(heading))), *parts])


def stacked(lays: Sequence[Ink]) -> Ink:
    """Lays below each other, the first one's heading at the top."""
    found: list[Ink] = []
    top = 0.0
    for ink in lays:
        x0, y0, _, y1 = ink.box
        found.append(ink.moved(-x0, top - y0))
        top += y1 - y0 + ROOM
    return together(found)


def _cloth(lay: Lay, *, folded: bool) -> Iterator[Stroke | Words]:
    """The edges of the cloth, its fold, and the line at which it is cut off."""
    far = lay.length
    low, high = (np.array([[0.0, y], [far, y]]) for y in (0.0, lay.width))
    yield Stroke(role=FOLD if folded else LINE, curves=(line(*low),))
    yield Stroke(role=LINE, curves=(line(*high), line(low[0], high[0]), line(low[1], high[1])))
    if folded:
        yield Words(lines=("fold of the cloth",), at=np.array([0.0, -6.0]), height=6.0, align="start")


def _said(heading: Sequence[str]) -> Iterator[Words]:
    if heading:
        at = np.array([0.0, -ROOM / 2 - HEADING * len(heading) / 2])
        yield Words(lines=tuple(heading), at=at, height=HEADING, align="start", role=WORDS)


def _placed(source: Source, matrix: Affine) -> Iterator[Stroke | Words]:
    """The lines of a piece where it lies; its name is never mirrored, and reads from the left."""
    opened = len(source.matrices) > 1
    for number, half in enumerate(source.matrices):
        for stroke in source.ink.strokes:
            if opened and (stroke.role is FOLD or (number and stroke.role in (GRAIN, ARROW))):
                continue
            shown = _off_fold(stroke, source.matrices) if opened and stroke.role in (CUT, OUTLINE) else stroke
            yield shown.under(matrix @ half)
    first = matrix @ source.matrices[0]
    along = first.apply(
        np.array([[0.0, 0.0], [math.cos(math.radians(source.angle)), math.sin(math.radians(source.angle))]])
    )
    angle = math.degrees(math.atan2(*(along[1] - along[0])[::-1]))
    angle = (angle + 90.0) % 180.0 - 90.0
    yield Words(lines=(source.name,), at=first.apply(source.at), height=source.height, angle=angle, role=LABEL)


def _off_fold(stroke: Stroke, halves: Sequence[Affine]) -> Stroke:
    """The outline of a half without what lies on the fold, where nothing is cut."""
    over = halves[0].inverse() @ halves[1]
    (curve,) = stroke.curves
    nodes = curve.nodes
    on = np.hypot(*(over.apply(nodes) - nodes).T) < ON_FOLD
    kept = [k for k in range(len(curve)) if not (on[k] and on[k + 1])]
    return stroke._replace(curves=tuple(section(curve, k, k + 1) for k in kept), closed=False)
