"""What the checks are told of a drawing beside its pattern."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.checks.check import Subject
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.curves import Curve
from flatcut.pattern.values import Pattern


def subject(drawing: Drawing, pattern: Pattern, notes: Sequence[str]) -> Subject:
    """What is checked. notes: what reading the drawing found."""
    cuts: dict[str, list[Curve]] = {uid: [] for uid in drawing.held}
    for drawn in drawing.document.drawn():
        uid = drawn.element.get(own("of"), "")
        if drawn.element.get(own("drawn")) == "cut" and uid in cuts:
            cuts[uid] += [sub.curve for sub in drawn.subpaths]
    stale = frozenset(uid for uid, held in drawing.held.items() if held.stale)
    return Subject(pattern=pattern, notes=tuple(notes), drawn_cuts=cuts, stale=stale, in_drawing=True)
