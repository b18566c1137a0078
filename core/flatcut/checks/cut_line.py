"""Cut lines: one ring outside the stitch line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.errors import GeometryError
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains, crossing_place
from flatcut.pattern.values import Piece, outline
from flatcut.units import plain

STEP = 5.0
"""mm between the places of a cut line that are looked at: far shorter than anything that one could cut wrong."""


@dataclass(frozen=True, kw_only=True)
class CutLines(Check):
    """Every piece with allowances has a cut line: one ring that does not cross itself, outside the stitch line."""

    inside: float = length(0.1, ("cut lines: lie inside by", "how far inside the stitch line they may"), high=10)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Pieces whose cut line cannot be made, crosses itself, runs inside, or was made with a warning."""
        for piece in subject.pattern.pieces:
            cut = subject.cuts[piece.uid]
            if isinstance(cut, GeometryError):
                yield Finding(check=self.name, severity=FAULT, where=(piece.name,), text=str(cut))
                continue
            if cut is None:
                continue
            ring = flatten(cut.curve, tolerance=0.02)
            at = crossing_place(ring[:-1])
            if at is not None:
                text = f"the cut line of {piece.name} crosses itself near x {plain(at[0])}, y {plain(at[1])} mm"
                yield Finding(
                    check=self.name, severity=FAULT, where=(piece.name,), text=f"{text}; redraw the outline there"
                )
            yield from self._inside(piece, ring)
            for warning in cut.warnings:
                yield Finding(check=self.name, severity=WARNING, where=(piece.name,), text=warning)

    def _inside(self, piece: Piece, ring: Array) -> Iterator[Finding]:
        around = chain(outline(piece), within=1e-6)
        dense = _dense(ring)
        within = dense[contains(flatten(around, tolerance=0.02), dense)]
        if not len(within):
            return
        deep = nearest(around, within)[1]
        worst = int(np.argmax(deep))
        if deep[worst] > self.inside:
            x, y = within[worst]
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(piece.name,),
                text=f"the cut line of {piece.name} runs {plain(float(deep[worst]))} mm inside the stitch line near "
                f"x {plain(x)}, y {plain(y)} mm; give its edges another allowance there",
                figure=float(deep[worst]),
                passes=self.inside,
            )


def _dense(ring: Array) -> Array:
    """The corners of a ring (n, 2) and places between them, no farther apart than STEP."""
    steps = np.diff(ring, axis=0)
    counts = np.maximum(np.ceil(np.hypot(steps[:, 0], steps[:, 1]) / STEP), 1).astype(int)
    which = np.repeat(np.arange(len(counts)), counts)
    share = (np.arange(len(which)) - (np.cumsum(counts) - counts)[which]) / counts[which]
    return np.asarray(ring[which] + share[:, None] * steps[which])
