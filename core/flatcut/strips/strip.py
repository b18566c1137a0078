"""A strip: a rectangle along what it is sewn to, with folds, joins, an overlap with its buttons, and notches.

Drawn with its seam edge below, from the left as the run goes; mm, y down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line
from flatcut.pattern.assembling import Mark, Side, assembled
from flatcut.pattern.graining import laid
from flatcut.pattern.marks.button import slit_across
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Button, Grain, Line, Piece, Position, RunPart, Seam, TakeUp

JOIN = 10.0
"""mm of allowance at each end of a part that is joined to the next (common practice, no source)."""
SAME = 1.0
"""mm: a notch this near to an end of the strip is left out; the corner is mark enough."""


@dataclass(frozen=True, kw_only=True)
class Cutting:
    """What a strip is cut like.

    long: mm from its start to where its overlap begins, or to its end if that lies within; width: mm, finished;
    layers: how often the width goes into it; overlap: mm; within: the overlap is part of `long`; half: drawn from the
    fold in its middle; ring: its ends are sewn to each other; grain: of its length; drawn_up: what `long` is gathered
    to, as long where it is not; buttons, across: how many, and mm across one; cloth: mm of width, None for endless.
    """

    long: float
    width: float
    layers: int = 1
    overlap: float = 0.0
    within: bool = False
    half: bool = False
    ring: bool = False
    grain: str = "straight"
    drawn_up: float | None = None
    buttons: int = 0
    across: float = 15.0
    cloth: float | None = None

    @property
    def whole(self) -> float:
        """mm of the whole strip, both halves."""
        return self.long + (0.0 if self.within else self.overlap)

    @property
    def high(self) -> float:
        """mm of the width as cut."""
        return self.width * self.layers


def drafted(name: str, cut: Cutting, places: Sequence[float], uids: Uids) -> Piece:
    """The piece, laid at the origin. places: mm from its start at which seams of the garment meet it."""
    whole, high = cut.whole / (2 if cut.half else 1), cut.high
    corners = [np.array(at) for at in ((whole, high), (0.0, high), (0.0, 0.0), (whole, 0.0))]
    names = ("seam", "start", "top", "centre" if cut.half else "end")
    plain = cut.layers == 4
    uses = ["finished" if plain else "seam", "seam", "finished" if plain else "seam", "fold" if cut.half else "seam"]
    sides = [
        Side(name=text, parts=(line(corners[k], corners[(k + 1) % 4]),), use=uses[k]) for k, text in enumerate(names)
    ]
    marks = [Mark(edge="seam", at=at, from_end=True) for at in _marked(cut, places, whole)]
    if cut.layers == 2:  # its inner edge comes to lie on the same seam
        marks += [Mark(edge="top", at=mark.at) for mark in marks]
    piece = assembled(
        name,
        sides,
        uids,
        marks=marks,
        grain=(corners[1], corners[0]),
        cut_as="fold" if cut.half else "single",
    )
    lines = [Line(uid=uids.fresh("line", piece.uid, n), name=n, curve=c, kind=k) for n, c, k in _lines(cut, whole)]
    piece = replace(piece, lines=tuple(lines), buttons=tuple(_buttons(cut, piece, uids)))
    if cut.drawn_up is not None:
        seam = piece.edges[0]
        share = 0.5 if cut.half else 1.0
        amount = (cut.long - cut.drawn_up) * share
        up = TakeUp(uid=uids.fresh("gathers", seam.uid), kind="gathers", start=0.0, end=whole, amount=amount)
        piece = replace(piece, edges=(replace(seam, takeups=(up,)), *piece.edges[1:]))
    return replace(piece, grain=_grain(piece, cut))


def folded_seams(piece: Piece, cut: Cutting, uids: Uids) -> list[Seam]:
    """The seams of a strip with itself: its ends closed over the fold, its top sewn down, or its ends to each other."""
    edges = {edge.name: edge.uid for edge in piece.edges}

    def part(name: str, start: float | None = None, end: float | None = None) -> RunPart:
        first, last = (None if at is None else Position(mode="fraction", value=at) for at in (start, end))
        return RunPart(piece=piece.uid, of=edges[name], start=first, end=last)

    def seam(name: str, a: RunPart, b: RunPart) -> Seam:
        return Seam(uid=uids.fresh("seam", piece.uid, name), a=(a,), b=(b,), reversed=True)

    if cut.ring:
        closing = part("start") if cut.half else part("end")
        mate = replace(part("start"), mirrored=cut.half)
        return [seam("ends", closing, mate)]
    if cut.layers == 1:
        return []
    ends = ["start", *(["end"] if "end" in edges else [])]
    made = [seam(name, part(name, 0.0, 0.5), part(name, 0.5, 1.0)) for name in ends]
    return made if cut.layers == 4 else [*made, seam("top", part("top"), part("seam"))]


def sewn_part(piece: Piece, cut: Cutting, start: float, end: float) -> RunPart:
    """The stretch of a strip's seam line between two places, mm from its start as the garment is walked, start < end.

    Of a strip folded in quarters it is the line in its first fold. Walked along the outline, that is from its end.
    """
    line = next((one for one in piece.lines if one.name == "seam-line"), None)
    edge = piece.edges[0]
    whole = cut.whole / (2 if cut.half else 1)
    if start <= 1e-9 and end >= whole - 1e-9:
        return RunPart(piece=piece.uid, of=line.uid if line else edge.uid)
    if cut.drawn_up is not None:  # the whole of it is gathered
        return RunPart(piece=piece.uid, of=edge.uid)
    places = Position(mode="end", value=end), Position(mode="end", value=start)
    return RunPart(piece=piece.uid, of=line.uid if line else edge.uid, start=places[0], end=places[1])


def parts_of_cloth(cut: Cutting) -> int:
    """How many parts the strip is joined from, so that each comes out of the cloth.

    A strip along the warp is as long as the cloth. Across it the width of the cloth is the most; on the bias, of a
    cloth W wide, W·√2 less the strip's own width, its ends being cut on the grain.

    >>> parts_of_cloth(Cutting(long=2457.6, width=240.0, grain="cross", cloth=1400.0))
    2
    """
    if cut.cloth is None or cut.grain == "straight":
        return 1
    most = cut.cloth - 2 * JOIN if cut.grain == "cross" else cut.cloth * math.sqrt(2) - cut.high - 2 * JOIN
    return max(1, math.ceil(cut.whole / most - 1e-9)) if most > 0 else 0


def square_of_cloth(cut: Cutting) -> float:
    """mm of the side of a square of cloth that gives the strip on the bias: a² / b long from a square of side a.

    >>> round(square_of_cloth(Cutting(long=6250.0, width=10.0, layers=4, grain="bias")))
    500
    """
    return math.sqrt(cut.whole * cut.high)


def _marked(cut: Cutting, places: Sequence[float], whole: float) -> list[float]:
    lap = [cut.long] if cut.overlap and not cut.within else []
    share = 1.0 if cut.drawn_up is None else cut.drawn_up / cut.long
    found = [at for at in (*places, *(at * share for at in lap)) if SAME < at < whole * share - SAME]
    return sorted({round(at, 6) for at in found})


def _lines(cut: Cutting, whole: float) -> list[tuple[str, Curve, str]]:
    """Names, courses and kinds of the lines inside."""
    high = cut.high

    def level(y: float) -> Curve:
        return line((whole, y), (0.0, y))

    found: list[tuple[str, Curve, str]] = []
    if cut.layers == 4:
        found += [("seam-line", level(high * 3 / 4), "fold"), ("top-line", level(high / 4), "fold")]
    if cut.layers > 1:
        found.append(("fold", level(high / 2), "fold"))
    if cut.overlap and not cut.half:
        begin = cut.long - (cut.overlap if cut.within else 0.0)
        found.append(("lap-line", line((begin, 0.0), (begin, high)), "placement"))
    count = parts_of_cloth(cut)
    lean = high / 2 if cut.grain == "bias" else 0.0
    for k in range(1, count):
        at = cut.whole * k / count
        # of a half, the join at the fold is drawn too, or nobody would know of it
        if at < whole - lean or (cut.half and abs(at - whole) < SAME):
            name = "join" if count == 2 else f"join-{k}"
            lean_here = lean if at < whole - lean else 0.0
            found.append((name, line((at + lean_here, 0.0), (at - lean_here, high)), "line"))
    return found


def _buttons(cut: Cutting, piece: Piece, uids: Uids) -> list[Button]:
    """Buttonholes at the start, which laps over, and buttons on the overlap, each in the middle of it."""
    if not cut.buttons or not cut.overlap or cut.half:
        return []
    low = cut.high if cut.layers != 4 else cut.high * 3 / 4
    found = []
    seam = piece.edges[0].uid
    for k in range(cut.buttons):
        y = low - cut.width * (k + 0.5) / cut.buttons
        hole, button = np.array([cut.overlap / 2, y]), np.array([cut.whole - cut.overlap / 2, y])
        slit = slit_across(hole, np.array([-1.0, 0.0]), cut.across)
        uid = uids.fresh("buttonhole", piece.uid, str(k))
        found.append(Button(uid=uid, kind="buttonhole", at=hole, size=cut.across, slit=slit, on=seam))
        found.append(
            Button(uid=uids.fresh("button", piece.uid, str(k)), kind="button", at=button, size=cut.across, on=seam)
        )
    return found


def _grain(piece: Piece, cut: Cutting) -> Grain:
    ways: dict[str, Array] = {
        "straight": np.array([1.0, 0.0]),
        "cross": np.array([0.0, 1.0]),
        "bias": np.array([1.0, 1.0]) / math.sqrt(2),
    }
    start, end, _ = laid(piece, ways[cut.grain])
    # the kind of a grain line is told from the fold, where a half has one
    kind = {"straight": "cross", "cross": "straight"}.get(cut.grain, cut.grain) if cut.half else cut.grain
    return Grain(start=start, end=end, kind=kind)
