"""Pictures of a check: a seam with its pieces laid along it, and a finding marked where it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.laying import Laid, Side
from flatcut.drawing.numbered import RED, Marks
from flatcut.drawing.roles import Role
from flatcut.drawing.seams import SEAM, piece_strokes, seam_strokes
from flatcut.findings import FAULT, Finding
from flatcut.formats.svg.elements import SVG
from flatcut.formats.svg.inline import Box, picture
from flatcut.formats.svg.painting import Painter
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, polyline
from flatcut.geometry.nearest import nearest
from flatcut.pattern.mating import along
from flatcut.pattern.places import split_outside
from flatcut.pattern.pointing import middle, pointed
from flatcut.pattern.runs import run_curves, written
from flatcut.pattern.seaming import Verdict, walked
from flatcut.pattern.values import Pattern, Seam
from flatcut.pattern.walking import point_at, sewn_length, to_drawn
from flatcut.units import plain

SURPLUS = Role(name="surplus", width=2.2, colour=RED)
"""What one side is longer."""
RUNGS = Role(name="rung", width=0.3, dashes=(2.0, 1.5))
"""Lines between places walked equally far."""
CUT = ("allowances", "corners", "cut-line", "out-of-date")
"""Checks whose pictures show the cut lines too."""
RUNG = 50.0
"""mm between the lines that join places walked equally far."""
ACROSS, DOWN = 32.0, 14.0
"""Marks and letters are as large as on a picture so many marks wide, or so many high, as the page shows it."""
NEAR = 60.0
"""mm round the marks of a finding, and round a seam, that its picture shows."""


@dataclass(frozen=True, kw_only=True)
class Number:
    """A finding and its number in the report."""

    number: int
    finding: Finding


class _Sheet:
    """A picture being drawn, in mm."""

    def __init__(self) -> None:
        self.items: list[Stroke | Words] = []

    def stroke(self, role: Role, curves: Sequence[Curve], *, closed: bool = False) -> None:
        self.items.append(Stroke(role=role, curves=tuple(curves), closed=closed))

    def words(self, text: str, at: Array, height: float) -> None:
        self.items.append(Words(lines=(text,), at=at, height=height))

    @property
    def box(self) -> Box:
        strokes = [item for item in self.items if isinstance(item, Stroke) and item.role is not RUNGS]
        every = np.concatenate([curve.nodes for stroke in strokes for curve in stroke.curves])
        (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def finished(self, label: str, description: str, box: Box) -> str:
        x0, y0, x1, y1 = box
        root = etree.fromstring(f'<svg xmlns="{SVG}"/>')
        root.set("width", f"{x1 - x0}mm")
        root.set("height", f"{y1 - y0}mm")
        root.set("viewBox", f"0 0 {x1 - x0} {y1 - y0}")
        painter = Painter(Affine.translation(x0, y0))
        for item in self.items:
            painter.paint(root, item)
        data = etree.tostring(root)
        return picture(data, label=label, description=description, box=(0.0, 0.0, x1 - x0, y1 - y0))


def seam_picture(pattern: Pattern, seam: Seam, verdict: Verdict, about: Sequence[Number]) -> str:
    """The pieces of a seam laid along it, places walked equally far joined, what one side is longer drawn heavy."""
    sheet, one, two = _sheet_of(pattern, seam)
    shares = np.linspace(0.0, 1.0, 13)
    box = _round([*one.places(shares * one.sewn), *two.places(shares * two.sewn)], NEAR, sheet.box)
    size = _size(box)
    _names(sheet, (one, two), size, box)
    _, _, rest = walked(pattern, seam)
    _rungs(sheet, one, two)
    _notches(sheet, one, two, size)
    longer, excess = (two, rest) if rest > 0 else (one, -rest)
    if verdict(rest) not in ("aim", "pass"):
        _surplus(sheet, longer, excess, size, below=longer is one)
    _mark(sheet, pattern, seam, (one, two), about, size)
    a, b = written(pattern, seam.a), written(pattern, seam.b)
    label = f"{a}, below, and {b}, above, laid along each other"
    ended = longer_side(a, b, rest)
    return sheet.finished(label, f"Dashed lines join places walked equally far every 5 cm; {ended}.", box)


def longer_side(one: str, two: str, rest: float) -> str:
    """Which side of a seam is longer than wanted, and by how much. rest: mm that the second is longer.

    >>> longer_side("front.side", "back.side", -3.0), longer_side("front.side", "back.side", 0.001)
    ('front.side is 3 mm longer than wanted', 'both sides end together')
    """
    if abs(rest) < 0.005:
        return "both sides end together"
    return f"{two if rest > 0 else one} is {plain(abs(rest))} mm longer than wanted"


def finding_picture(pattern: Pattern, shown: Number) -> str:
    """A finding marked where it is; '' for one that touches no piece that is there.

    One at the end of a seam is shown close, with the pieces laid along each other; any other on its whole pieces.
    """
    finding = shown.finding
    seam = next((seam for seam in pattern.seams if seam.uid == finding.about), None)
    label = f"{finding.severity} {shown.number}, marked at {', '.join(finding.where)}"
    if seam is not None:
        sheet, one, two = _sheet_of(pattern, seam, cut=finding.check in CUT)
        places = _places(pattern, seam, (one, two), finding)
        if not places:
            return ""
        box = _round([at for at, _ in places], NEAR, sheet.box)
        size = _size(box)
        _names(sheet, (one, two), size, box)
        _notches(sheet, one, two, size)
        _marks(sheet, places, shown, size)
        return sheet.finished(label, finding.text, box)
    names = dict.fromkeys(piece for text in finding.where for piece, _ in pointed(pattern, text))
    if not names:
        return ""
    sheet = _Sheet()
    pieces = [piece for piece in pattern.pieces if piece.name in names]
    for piece in pieces:
        sheet.items += piece_strokes(piece, IDENTITY, cut=finding.check in CUT)
    size = _size(sheet.box)
    for piece in pieces:
        sheet.words(piece.name, middle(piece), 0.8 * size)
    _marks(sheet, [(at, False) for text in finding.where for _, at in pointed(pattern, text)], shown, size)
    return sheet.finished(label, finding.text, _padded(sheet.box, 2.6 * size))


def _sheet_of(pattern: Pattern, seam: Seam, *, cut: bool = False) -> tuple[_Sheet, Side, Side]:
    """A sheet with the pieces of a seam laid along it and the seam itself bold."""
    sheet = _Sheet()
    strokes, one, two = seam_strokes(pattern, seam, cut=cut)
    sheet.items += strokes
    return sheet, one, two


def _names(sheet: _Sheet, sides: tuple[Side, Side], size: float, box: Box) -> None:
    """The name of each piece beside the middle of its part, or where the picture ends before that."""
    for side, away in zip(sides, (1.0, -1.0), strict=True):
        for part in (part for part in side.parts if part.first):
            half = to_drawn(part.step.edge, (part.step.start + part.step.end) / 2)
            at = part.to.apply(point_at(part.step.edge, half)[0]) + np.array([0.0, 2.5 * away * size])
            low, high = np.array([box[0], box[1]]) + 2 * size, np.array([box[2], box[3]]) - 2 * size
            sheet.words(part.step.piece.name, np.clip(at, low, high), 0.8 * size)


def _rungs(sheet: _Sheet, one: Side, two: Side) -> None:
    """Lines between places that are walked equally far, from each end to the middle as notches are counted."""
    shorter = min(one.sewn, two.sewn)
    far = np.arange(0.0, shorter, RUNG)
    ends = [np.where(far <= shorter / 2, far, side.sewn - (shorter - far)) for side in (one, two)]
    for mine, mate in zip(one.places(ends[0]), two.places(ends[1]), strict=True):
        sheet.stroke(RUNGS, [line(mine, mate)])
    sheet.stroke(RUNGS, [line(one.at(one.sewn), two.at(two.sewn))])


def _notches(sheet: _Sheet, one: Side, two: Side, size: float) -> None:
    """A dot on each stitch line where a notch is."""
    for side in (one, two):
        for at in _notched(side):
            centre, half = side.at(at), 0.16 * size
            corners = np.array([(0, -half), (half, 0), (0, half), (-half, 0), (0, -half)])
            sheet.stroke(SEAM, [polyline(corners + centre)], closed=True)


def _notched(side: Side) -> list[float]:
    run = [part.step for part in side.parts]
    found: set[float] = set()
    for step in run:
        for notch in step.piece.notches:
            if notch.edge == step.edge.uid:
                at = notch.at.along(sewn_length(step.edge))
                found.update(round(place, 3) for place in along(run, notch.edge, at))
    return sorted(found)


def _surplus(sheet: _Sheet, longer: Side, excess: float, size: float, *, below: bool) -> None:
    """What a side is longer, at its end, and the figure beside it, where no mark stands."""
    ends = longer.places(longer.sewn - excess * np.linspace(1.0, 0.0, 9))
    sheet.stroke(SURPLUS, [polyline(ends)])
    words = f"{plain(excess)} mm longer"
    away = np.array([-0.25 * len(words) * size, (1.2 if below else -1.2) * size])
    sheet.words(words, ends[-1] + away, 0.7 * size)


def _mark(
    sheet: _Sheet, pattern: Pattern, seam: Seam, sides: tuple[Side, Side], about: Sequence[Number], size: float
) -> None:
    marks = Marks()
    for shown in about:
        for at, down in _places(pattern, seam, sides, shown.finding):
            sheet.items += marks.mark(at, shown.number, fault=shown.finding.severity == FAULT, size=size, down=down)


def _marks(sheet: _Sheet, places: Iterable[tuple[Array, bool]], shown: Number, size: float) -> None:
    marks = Marks()
    for at, down in places:
        sheet.items += marks.mark(at, shown.number, fault=shown.finding.severity == FAULT, size=size, down=down)


def _places(pattern: Pattern, seam: Seam, sides: tuple[Side, Side], finding: Finding) -> list[tuple[Array, bool]]:
    """Where a finding points on the laid pieces, and whether its mark goes below, as on the lower side of the seam.

    A whole side is pointed at by its middle, or where it is too long by its end.
    """
    runs = written(pattern, seam.a), written(pattern, seam.b)
    found = []
    for text in finding.where:
        if text in runs:
            side = sides[runs.index(text)]
            found.append((side.at(side.sewn if finding.check == "seam-walk" else side.sewn / 2), side is sides[0]))
            continue
        for part_text in split_outside(text, "+"):
            for name, at in pointed(pattern, part_text):
                part = _part(sides, name, part_text, at)
                if part is not None:
                    found.append((part.to.apply(at), part in sides[0].parts))
    return found


def _part(sides: tuple[Side, Side], name: str, text: str, at: Array) -> Laid | None:
    """The laid part of a piece that a reference speaks of: that of its own edge where the piece is laid twice.

    at: the place (2,) that it speaks of; of a part that is laid in several the nearest is meant.
    """
    parts = [part for side in sides for part in side.parts if part.step.piece.name == name]
    edge = text.partition(".")[2].partition("@")[0].split("/")
    named = [part for part in parts if part.step.edge.name in edge]

    def away(part: Laid) -> float:
        return round(min(float(nearest(curve, at)[1]) for curve in run_curves(part.step)), 3) if part.broken else 0.0

    return min(named or parts, key=away, default=None)


def _size(box: Box) -> float:
    """Side of a mark in mm, so that it is read on a picture of that width."""
    return max((box[2] - box[0]) / ACROSS, (box[3] - box[1]) / DOWN)


def _padded(box: Box, room: float = 0.0) -> Box:
    """A box with room about it, where nothing is said a twelfth of its longer side."""
    room = room or 0.08 * max(box[2] - box[0], box[3] - box[1])
    return box[0] - room, box[1] - room, box[2] + room, box[3] + room


def _round(places: Sequence[Array], room: float, whole: Box) -> Box:
    """The box round some places with room about them, no larger than the whole."""
    every, outer = np.array(places), _padded(whole)
    low, high = every.min(axis=0) - room, every.max(axis=0) + room
    return (
        max(float(low[0]), outer[0]),
        max(float(low[1]), outer[1]),
        min(float(high[0]), outer[2]),
        min(float(high[1]), outer[3]),
    )
