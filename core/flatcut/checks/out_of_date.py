"""Drawing that is older than its data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import WARNING, Finding
from flatcut.geometry.curves import Curve, flatten, same
from flatcut.geometry.nearest import nearest


@dataclass(frozen=True, kw_only=True)
class OutOfDate(Check):
    """Cut lines and ticks in the drawing are those that follow from the pieces as they are now."""

    apart: float = length(0.1, ("drawing: cut line strays by", "how far it may lie from the right one"), high=10)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Pieces whose derived drawing is older than their outline or data."""
        for piece in subject.pattern.pieces:
            for name in subject.lost_ticks.get(piece.uid, ()):
                text = f"a notch on {name} has lost one of its ticks; draw it anew with redraw, or delete all"
                yield Finding(check=self.name, severity=WARNING, where=(name, piece.name), text=text, aside=True)
            if piece.cut_by_hand is not None:
                continue  # cut-line says that it stands as it was drawn
            if self._differs(subject, piece.uid):
                text = f"what is drawn round {piece.name} is older than {piece.name} itself; draw it anew with redraw"
                yield Finding(check=self.name, severity=WARNING, where=(piece.name,), text=text, aside=True)

    def _differs(self, subject: Subject, uid: str) -> bool:
        if uid not in subject.drawn_cuts:
            return False
        drawn, cut = subject.drawn_cuts[uid], subject.cut(uid)
        if cut is None or len(drawn) != 1:
            return len(drawn) != (0 if cut is None else 1)
        if same(drawn[0], cut.curve, tolerance=self.apart / 2):
            return False  # no place of a curve is farther from another than their control points are
        return self._far(drawn[0], cut.curve) or self._far(cut.curve, drawn[0])

    def _far(self, one: Curve, other: Curve) -> bool:
        away = nearest(other, flatten(one, tolerance=self.apart / 2))[1]
        return bool((away > self.apart).any())
