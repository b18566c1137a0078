"""The two sides of a seam laid along each other, as paper is laid to walk it: darts closed, pleats folded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import tangent
from flatcut.geometry.length import length
from flatcut.geometry.rigid import brought
from flatcut.pattern.runs import Walked, run_curves, walk
from flatcut.pattern.seam_ends import end_way
from flatcut.pattern.values import Pattern, Seam, area
from flatcut.pattern.walking import all_drawn, points_at, to_sewn

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

GAP = 12.0
"""mm between the two stitch lines where they come nearest, so that both are seen."""
HAIR = 1e-5
"""mm: far less than anyone sews, and more than what a place on an edge is rounded to."""
LEAST = 0.5
"""mm: a shorter stretch beside a dart is not laid by itself."""
ON_LINE = 1.0
"""mm that a piece sewn onto a line may stray from it, to be laid there."""
SAMPLES = 60
"""Places along a seam that are looked at to keep its sides apart."""


@dataclass(frozen=True, kw_only=True)
class Laid:
    """One walked part and where its piece is laid: the map from the drawing to the picture.

    A part with darts or pleats on it is laid in several, which meet as they do once those are closed. first: whether it
    is the first of them, or the only one; broken: whether there are others.
    """

    step: Walked
    to: Affine
    first: bool = True
    broken: bool = False


@dataclass(frozen=True, kw_only=True)
class Side:
    """A side of a seam, its parts laid end to end."""

    parts: tuple[Laid, ...]

    @property
    def sewn(self) -> float:
        """mm."""
        return sum(part.step.sewn for part in self.parts)

    def at(self, walked: float) -> Array:
        """The point (2,) at a walked distance from the start."""
        return np.asarray(self.places([walked])[0])

    def places(self, walked: ArrayLike) -> Array:
        """The points (n, 2) at walked distances (n,) from the start."""
        far = np.asarray(walked, dtype=float)
        found, left = np.empty((len(far), 2)), np.ones(len(far), dtype=bool)
        before = 0.0
        for part in self.parts:
            step = part.step
            mine = left & ((far <= before + step.sewn + 1e-9) | (part is self.parts[-1]))
            if mine.any():
                inside = np.clip(far[mine] - before, 0.0, step.sewn)
                sewn = step.start + inside if step.forward else step.end - inside
                found[mine] = part.to.apply(points_at(step.edge, all_drawn(step.edge, sewn)))
            left &= ~mine
            before += step.sewn
        return found


def laid(pattern: Pattern, seam: Seam) -> tuple[Side, Side]:
    """Both sides, the seam running from left to right, the first side's piece below it and the second's above.

    Where the pieces do not lie that way the second is turned over, as it is when right side is put to right side.
    """
    first = _end_to_end(walk(pattern, seam.a))
    second = _end_to_end(walk(pattern, seam.b, reversed=seam.reversed))
    one, two = _along(first, below=True), _along(second, below=False)
    shares = np.linspace(0.0, 1.0, SAMPLES)
    # each place of one side is held against its mate of the other
    apart = float((two.places(shares * two.sewn) - one.places(shares * one.sewn))[:, 1].max())
    shift = Affine.translation(0.0, -apart - GAP)
    return one, Side(parts=tuple(replace(part, to=shift @ part.to) for part in two.parts))


def laid_on(pattern: Pattern, seam: Seam) -> tuple[Side, Side] | None:
    """A piece that is sewn onto a line inside another, as a patch pocket is: that line as it is drawn, the piece on it.

    None for any other seam, where the piece strays from its line by more than ON_LINE, and on a straight line, as a
    flap's, which does not tell to which side the piece lies.
    """
    lines = {line.uid for piece in pattern.pieces for line in piece.lines}
    for ground, own, turned in ((seam.a, seam.b, False), (seam.b, seam.a, True)):
        if not all(part.of in lines for part in ground) or any(part.of in lines for part in own):
            continue
        first, second = (
            Side(parts=tuple(Laid(step=step, to=Affine()) for step in walk(pattern, run, reversed=back)))
            for run, back in ((ground, turned and seam.reversed), (own, not turned and seam.reversed))
        )
        if len({part.step.piece.uid for part in (*first.parts, *second.parts)}) != 2:
            continue
        shares = np.linspace(0.0, 1.0, SAMPLES)
        there, here = first.places(shares * first.sewn), second.places(shares * second.sewn)
        ways = [brought(flip.apply(here), there) @ flip for flip in (Affine(), Affine.scaling(1, -1))]
        fits = [to for to in ways if float(np.hypot(*(to.apply(here) - there).T).max()) < ON_LINE]
        if len(fits) == 1:
            return first, Side(parts=tuple(replace(part, to=fits[0]) for part in second.parts))
    return None


def _closed(step: Walked) -> list[Walked]:
    """A walked part in stretches between the darts and pleats on it, which sewing takes out, in walking order."""
    edge = step.edge
    drawn, places = 0.0, []
    for part in edge.parts[:-1]:
        drawn += length(part)
        places.append(to_sewn(edge, drawn))
    folded = [take for take in edge.takeups if take.amount >= take.end - take.start - HAIR]
    places += [to_sewn(edge, take.start) for take in folded]
    inside: list[float] = []
    for at in sorted(places):
        # not rounded: a hair more would be beyond the fold
        if max([step.start, *inside[-1:]]) + LEAST < at < step.end - LEAST:
            inside.append(at)
    # a stretch starts beyond what is taken out, and not at its first end, which is the same sewn place
    starts, ends = [step.start, *(at + HAIR for at in inside)], [*inside, step.end]
    found = [replace(step, start=a, end=b) for a, b in zip(starts, ends, strict=True)]
    return found if step.forward else found[::-1]


def _end_to_end(run: Sequence[Walked]) -> Side:
    """The parts of a run: the first where it is drawn, each further one turned so that the stitch line runs on."""
    parts: list[Laid] = []
    stretches = [(step, k, len(some)) for some in map(_closed, run) for k, step in enumerate(some)]
    for step, k, count in stretches:
        kind = {"first": k == 0, "broken": count > 1}
        curves = run_curves(step)
        if not parts:
            parts.append(Laid(step=step, to=Affine(), **kind))
            continue
        before = parts[-1]
        last = run_curves(before.step)[-1]
        end = before.to.apply(last.end)
        way = before.to.apply(last.end + end_way(last)) - end
        own = tangent(curves[0], 0.0)
        flip = Affine()
        if _right(before.step) != _right(step):
            flip = Affine.scaling(1, -1)
            own = own * np.array([1.0, -1.0])
        turn = math.atan2(way[1], way[0]) - math.atan2(own[1], own[0])
        start = (Affine.rotation(turn) @ flip).apply(curves[0].start)
        to = Affine.translation(*(end - start)) @ Affine.rotation(turn) @ flip
        parts.append(Laid(step=step, to=to, **kind))
    return Side(parts=tuple(parts))


def _right(step: Walked) -> bool:
    """Whether the piece lies to the right of someone who walks the part."""
    return (area(step.piece) > 0) == step.forward


def _along(side: Side, *, below: bool) -> Side:
    """The side with its chord from left to right, starting at x 0, its first piece below or above it."""
    start, end = side.places([0.0, side.sewn])
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    # walking to the right with the piece at one's right hand, it lies below, y down
    flip = Affine() if _right(side.parts[0].step) == below else Affine.scaling(1, -1)
    to = flip @ Affine.rotation(-angle) @ Affine.translation(-start[0], -start[1])
    return Side(parts=tuple(replace(part, to=to @ part.to) for part in side.parts))
