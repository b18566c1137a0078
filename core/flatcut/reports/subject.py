"""What the checks are told of a drawing beside its pattern."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.checks.check import Subject
from flatcut.errors import InputError
from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing, Held
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.redrawn import partly_gone
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.curves import Curve, transform
from flatcut.pattern.values import Pattern


def subject(drawing: Drawing, pattern: Pattern, notes: Sequence[Finding]) -> Subject:
    """What is checked. notes: what reading the drawing found."""
    cuts = {uid: _cuts(drawing, held) for uid, held in drawing.held.items()}
    lost = {
        piece.uid: partly_gone(drawing.held[piece.uid].derived, piece)
        for piece in pattern.pieces
        if piece.uid in drawing.held
    }
    return Subject(pattern=pattern, notes=tuple(notes), drawn_cuts=cuts, lost_ticks=lost, in_drawing=True)


def _cuts(drawing: Drawing, held: Held) -> list[Curve]:
    """The cut lines that are drawn for a piece; one whose data was damaged is none."""
    found: list[Curve] = []
    for element in (e for group in held.derived for e in group.iter() if e.get(own("drawn")) == "cut"):
        try:
            matrix = drawing.document.matrix_of(element)
            found += [transform(sub.curve, matrix) for sub in parse(element.get("d", ""))]
        except InputError:
            continue
    return found
