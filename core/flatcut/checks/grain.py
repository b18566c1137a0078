"""Grain lines: there, on the piece, and in the right direction."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, Finding
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.region import contains
from flatcut.marking.cutline import wants_cut
from flatcut.pattern.graining import STRAIGHT, TURNS, chord_way
from flatcut.pattern.seam_ends import tilt
from flatcut.pattern.values import Grain, Piece, outline
from flatcut.pattern.walking import drawn_length
from flatcut.units import plain

SEWN = ("seam", "opening")
SHAPED = 3.0
"""Degrees by which a seam at the centre may lean from the grain, shaped to the body (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class GrainLines(Check):
    """Every piece that is cut has a grain line that lies on it, as the edge on the fold or in the centre wants it."""

    off: float = length(
        1.0, ("grain lines: out of true by", "how far out of parallel they may be, over the whole grain line"), high=100
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Pieces without a grain line, with one beside the piece, or with one that lies off its direction."""
        pieces = subject.pattern.pieces
        bare = tuple(piece.name for piece in pieces if piece.grain is None and wants_cut(piece))
        if bare:
            have = "have" if len(bare) > 1 else "has"
            text = f"{', '.join(bare)} {have} no grain line; draw it with grain"
            yield Finding(check=self.name, severity=FAULT, where=bare, text=text, figure=float(len(bare)), unit="")
        for piece in pieces:
            if piece.grain is None:
                continue
            ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.05)
            ends = np.array([piece.grain.start, piece.grain.end])
            if not contains(ring, np.concatenate([ends, ends.mean(axis=0)[None]])).all():
                text = f"the grain line of {piece.name} runs off the piece; draw it anew with grain"
                yield Finding(check=self.name, severity=FAULT, where=(piece.name,), text=text)
            yield from self._direction(piece, piece.grain)

    def _direction(self, piece: Piece, grain: Grain) -> Iterator[Finding]:
        along = grain.end - grain.start
        long = float(np.linalg.norm(along))
        for use in ("fold", "centre", "seam"):
            for edge in piece.edges:
                # a long straight seam at the centre is one to which the grain lies, shaped a little at most
                sewn = edge.use in SEWN and edge.centre and drawn_length(edge) > long / 3
                if not (sewn if use == "seam" else edge.use == use) or long < 1e-6:
                    continue
                way, bow = chord_way(edge)
                if bow > STRAIGHT:
                    continue
                angle = math.degrees(math.acos(min(1.0, abs(float(along @ way)) / long)))
                off = max(abs(angle - TURNS.get(grain.kind, 0.0)) - abs(tilt(piece, edge)), 0.0)
                if sewn and off < SHAPED:
                    continue
                if math.radians(off) * long > self.off:
                    name = f"{piece.name}.{edge.name}"
                    yield Finding(
                        check=self.name,
                        severity=FAULT,
                        where=(piece.name, name),
                        text=f"the {grain.kind} grain of {piece.name} lies {plain(off)}° off {name}; draw it anew with "
                        f"grain",
                        figure=off,
                        unit="°",
                        passes=math.degrees(self.off / long),
                    )
