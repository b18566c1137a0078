"""Outlines that are sound: simple, not empty, without points on top of each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, Finding, plural
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.values import Piece, area
from flatcut.units import plain

EMPTY = 1.0
"""mm²: an outline that encloses less is a line."""


@dataclass(frozen=True, kw_only=True)
class Shape(Check):
    """Every outline is one closed ring that does not cross itself, encloses cloth and has no doubled points."""

    doubled: float = length(0.05, ("outlines: doubled points within", "nearer than this they are the same"), high=10)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Outlines that cross themselves, are empty, or have doubled points."""
        for piece in subject.pattern.pieces:
            if abs(area(piece)) < EMPTY:
                text = f"{piece.name} encloses no cloth; draw its outline anew"
                yield Finding(check=self.name, severity=FAULT, where=(piece.name,), text=text, grave=True)
                continue
            at = outline_crossing(piece)
            if at is not None:
                yield Finding(
                    check=self.name,
                    severity=FAULT,
                    where=(piece.name,),
                    text=f"the outline of {piece.name} crosses itself near x {plain(at[0])}, y {plain(at[1])} mm; draw "
                    f"it anew there",
                    grave=True,
                )
            yield from self._doubled(piece)

    def _doubled(self, piece: Piece) -> Iterator[Finding]:
        for edge in piece.edges:
            controls = np.concatenate([part.controls for part in edge.parts])
            # a loop comes back to where it began, so the handles count too
            short = np.abs(controls - controls[:, :1]).max(axis=(1, 2)) < self.doubled
            if short.any():
                name = f"{piece.name}.{edge.name}"
                yield Finding(
                    check=self.name,
                    severity=FAULT,
                    where=(name,),
                    text=f"{name} has {plural(int(short.sum()), 'point')} on top of another; delete all but one",
                    figure=float(short.sum()),
                    unit="",
                )
