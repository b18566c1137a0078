"""The neckline that a collar is sewn to: one half of it, from the fold of the collar to its opening."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import cross
from flatcut.geometry.curves import Curve, chain, tangent, transform
from flatcut.geometry.length import length
from flatcut.pattern.run_order import in_order, joints, refuse_double, turned_round
from flatcut.pattern.runs import run_curves, run_sewn, walk
from flatcut.pattern.seam_ends import SeamEnd, seam_end
from flatcut.pattern.values import Pattern, RunPart, area
from flatcut.pattern.walking import drawn_length

FRONT, BACK = "CF", "CB"
"""Words along the centre edges, by which front and back are told."""


@dataclass(frozen=True, kw_only=True)
class Neckline:
    """long: sewn mm of the half; joints: mm from the fold at which seams meet it, or that of the shoulder.

    run: its edges, walked from the fold to the opening, on `pattern`; () where lengths were given.
    beyond: mm at the opening's end that lie beyond the centre, on a button stand; they are part of `long`.
    free: no such stand is drawn on the garment: what lies beyond is sewn to nothing.
    """

    long: float
    joints: tuple[float, ...]
    run: tuple[RunPart, ...] = ()

    beyond: float = 0.0
    free: bool = False
    pattern: Pattern = field(default_factory=Pattern)

    @property
    def centre(self) -> float:
        """mm from the fold to the centre at the opening."""
        return self.long - self.beyond


@dataclass(frozen=True, kw_only=True)
class Laid:
    """The neckline with the shoulder closed: its curve from the fold on, and mm along it to the shoulder.

    kink: degrees by which it bends in the shoulder, above 0 toward the body.
    """

    curve: Curve
    shoulder: float
    kink: float


def measured(pattern: Pattern, run: Sequence[RunPart], *, opening: str, beyond: float) -> Neckline:
    """The neckline of a run that is written from the centre back on, or from where its edges say.

    opening: 'front' or 'back'. Errors: UsageError.
    """
    refuse_double(run, "the neckline")
    found = in_order(pattern, run)
    if not found.known:
        raise UsageError(
            "the edges of the neckline do not meet at seams, so nobody knows where the shoulder lies; state the seams "
            "between them with seam"
        )
    fold, other = (BACK, FRONT) if opening == "front" else (FRONT, BACK)
    ends = [_words(pattern, found.run, first=first) for first in (True, False)]
    # as written from the centre back, where the edges at the centres say nothing
    backwards = opening == "back"
    if fold in ends or other in ends:
        backwards = ends[1] == fold or ends[0] == other
    run = turned_round(found.run) if backwards else found.run
    free = beyond > 0 and _ends_at_centre(pattern, run)
    return Neckline(
        long=run_sewn(pattern, run) + (beyond if free else 0.0),
        joints=tuple(joints(pattern, run)),
        run=run,
        beyond=beyond,
        free=free,
        pattern=pattern,
    )


def stated(*, back: float, front: float, opening: str, beyond: float) -> Neckline:
    """The neckline of two lengths, each from the shoulder to its centre; the button stand is beyond the front one."""
    first = back if opening == "front" else front
    return Neckline(long=back + front + beyond, joints=(first,), beyond=beyond, free=beyond > 0)


def laid(neck: Neckline, overlap: float) -> Laid:
    """The edges of a neckline laid together at the shoulder, whose tips overlap by mm. Errors: UsageError."""
    steps = walk(neck.pattern, neck.run)
    if len(steps) != 2:
        raise UsageError(
            "a flat collar is drafted on two edges that meet at the shoulder; name them, such as back.neck+front.neck"
        )
    whole = [_closed(run_curves(step)) for step in steps]
    first, last = seam_end(steps[:1], first=False), seam_end(steps[1:], first=True)
    if first is None or last is None:
        raise UsageError("the two edges of the neckline do not end at the shoulder; name whole edges")
    turn = 2 * math.asin(min(overlap / (2 * drawn_length(first.across)), 1.0))
    angle = first.angle + last.angle - math.degrees(turn)
    left = _body_to_the_left(first, forward=steps[0].forward)
    bend = math.radians(180.0 - angle) * (-1 if left else 1)
    one, two = whole
    along = tangent(one, float(len(one)), before=True)
    start = tangent(two, 0.0)
    now = math.atan2(float(cross(start, along)), float(start @ along))
    motion = Affine.translation(*(one.end - two.start)) @ Affine.rotation(now + bend, tuple(two.start))
    curve = chain([one, transform(two, motion)], within=1e-6)
    if left:  # drawn with the body to the right, as every collar here
        curve = transform(curve, Affine.scaling(1.0, -1.0))
    return Laid(curve=curve, shoulder=length(one), kink=180.0 - angle)


def _closed(curves: Sequence[Curve]) -> Curve:
    """The curves between the darts of an edge with these closed: each goes on where the last ends, without a kink."""
    curve = curves[0]
    for part in curves[1:]:
        along, start = tangent(curve, float(len(curve)), before=True), tangent(part, 0.0)
        turn = math.atan2(float(cross(start, along)), float(start @ along))
        onto = Affine.translation(*(curve.end - part.start)) @ Affine.rotation(turn, tuple(part.start))
        curve = chain([curve, transform(part, onto)], within=1e-6)
    return curve


def level(curve: Curve) -> Curve:
    """The curve moved so that it leaves the origin along +x: the fold is then upright."""
    way = tangent(curve, 0.0)
    turn = Affine.rotation(-math.atan2(float(way[1]), float(way[0])), (float(curve.start[0]), float(curve.start[1])))
    return transform(curve, Affine.translation(*(-np.asarray(curve.start))) @ turn)


def _body_to_the_left(end: SeamEnd, *, forward: bool) -> bool:
    return (area(end.piece) > 0) != forward


def _words(pattern: Pattern, run: Sequence[RunPart], *, first: bool) -> str:
    """What is written along the edge that a run ends at."""
    end = seam_end(walk(pattern, tuple(run)), first=first)
    return "" if end is None else end.across.words


def _ends_at_centre(pattern: Pattern, run: Sequence[RunPart]) -> bool:
    """Whether the run ends at a centre edge, and not on a button stand beyond it."""
    end = seam_end(walk(pattern, tuple(run)), first=False)
    return end is not None and (end.across.use in ("fold", "centre") or end.across.words in (FRONT, BACK))


def refuse_short(neck: Neckline, least: float) -> None:
    """GeometryError for a neckline too short to carry a collar."""
    if neck.centre < least:
        raise GeometryError(f"half a neckline of {neck.centre:.1f} mm is too short for this collar; measure it anew")
