"""Every piece that is cut has a grain line that lies on it, as the edge on the fold or in the centre wants it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from flatcut.checks.check import FAULT, WARNING, Finding
from flatcut.derive.cutline import wants_cut
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.region import contains
from flatcut.pattern.graining import STRAIGHT, TURNS, chord_way
from flatcut.pattern.values import Grain, Pattern, Piece, outline
from flatcut.units import plain

OFF = 1.0
"""mm that a grain line may be out of parallel over its length (common practice, no source)."""


def check(pattern: Pattern) -> Iterator[Finding]:
    """Pieces without a grain line, with one beside the piece, or with one that lies off its direction."""
    bare = tuple(piece.name for piece in pattern.pieces if piece.grain is None and wants_cut(piece))
    if bare:
        have = "have" if len(bare) > 1 else "has"
        text = f"{', '.join(bare)} {have} no grain line; draw it with grain"
        yield Finding(check="grain", severity=WARNING, where=bare, text=text, figure=len(bare), unit="")
    for piece in pattern.pieces:
        if piece.grain is None:
            continue
        ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.05)
        ends = np.array([piece.grain.start, piece.grain.end])
        if not contains(ring, np.concatenate([ends, ends.mean(axis=0)[None]])).all():
            text = f"the grain line of {piece.name} runs off the piece; draw it anew with grain"
            yield Finding(check="grain", severity=FAULT, where=(piece.name,), text=text)
        yield from _direction(piece, piece.grain)


def _direction(piece: Piece, grain: Grain) -> Iterator[Finding]:
    along = grain.end - grain.start
    long = float(np.linalg.norm(along))
    for use in ("fold", "centre"):
        for edge in piece.edges:
            way, bow = chord_way(edge)
            if edge.use != use or bow > STRAIGHT or long < 1e-6:
                continue
            angle = math.degrees(math.acos(min(1.0, abs(float(along @ way)) / long)))
            off = abs(angle - TURNS.get(grain.kind, 0.0))
            if math.radians(off) * long > OFF:
                name = f"{piece.name}.{edge.name}"
                yield Finding(
                    check="grain",
                    severity=WARNING,
                    where=(piece.name, name),
                    text=f"the {grain.kind} grain of {piece.name} lies {plain(off)}° off {name}; draw it anew",
                    figure=off,
                    unit="°",
                )
                return
