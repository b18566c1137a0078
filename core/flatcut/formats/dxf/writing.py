"""A set of pieces as an exchange file: ASTM D6673 on DXF R12, and its rule table as text.

The words and the places of values are those of the standard from memory; samples/docs/exchange.md lists them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from flatcut.exchange.layers import ANNOTATION, BOUNDARY, CURVE, DRILL, GRAIN, LAYERS, MIRROR, STANDARD, TURN
from flatcut.exchange.letters import block_name, plain_letters
from flatcut.exchange.values import Course, Part, Set
from flatcut.formats.dxf import library
from flatcut.geometry.arrays import Array

INCH = 25.4
DIGITS = {False: 4, True: 6}
"""Decimals of a coordinate in mm and in inches: a ten-thousandth of a mm, and less."""
TEXT = 5.0
"""mm: letter height of the texts that say what a piece is."""
SMALL = 1.5
"""mm: of the numbers of rules."""
NAMED_SIZE = "{name} {size}"


def exchange_file(held: Set) -> bytes:
    """The DXF file. Errors: MissingPackageError."""
    drawing = library.new()
    drawing.layers.remove("Defpoints")
    for layer in LAYERS:
        drawing.layers.add(str(layer))
    write = _Writer(held.inch)
    space = library.model(drawing)
    for k, line in enumerate(head(held)):
        write.text(space, BOUNDARY, line, np.array([0.0, -20.0 - 8.0 * k]))
    taken: set[str] = set()
    alone = _several(held.parts)
    for part in held.parts:
        called = NAMED_SIZE.format(name=part.name, size=part.size) if part.name in alone else part.name
        block = drawing.blocks.new(block_name(called, taken))
        write.part(block, part)
        space.add_blockref(block.name, (0, 0), dxfattribs={"layer": str(BOUNDARY)})
    return library.written(drawing)


def _several(parts: Sequence[Part]) -> set[str]:
    """Names of pieces that are there in more than one size."""
    names = [part.name for part in parts]
    return {name for name in names if names.count(name) > 1}


def head(held: Set) -> Iterator[str]:
    """The texts that say what the set is."""
    yield f"{STANDARD} VERSION: D6673-10"
    if held.author:
        yield f"AUTHOR: {plain_letters(held.author)}"
    if held.date:
        yield f"CREATION DATE: {plain_letters(held.date)}"
    yield f"STYLE NAME: {plain_letters(held.style)}"
    if held.sample:
        yield f"SAMPLE SIZE: {plain_letters(held.sample)}"
    if held.table:
        yield f"GRADE RULE TABLE: {plain_letters(held.table)}"
    yield f"UNITS: {'ENGLISH' if held.inch else 'METRIC'}"


def rule_file(held: Set) -> bytes:
    """The rule table: for each rule how far a point of each size lies from that of the sample size."""
    unit = INCH if held.inch else 1.0
    digits = DIGITS[held.inch]
    sizes = [plain_letters(size).replace(" ", "_") for size in held.sizes]
    rows = [*(line for line in head(held) if not line.startswith("STYLE NAME")), f"NUMBER OF SIZES: {len(sizes)}"]
    rows.append(f"SIZE LIST: {' '.join(sizes)}")
    for number, deltas in enumerate(held.rules, start=1):
        rows.append(f"RULE: DELTA {number}")
        rows.append(" ".join(f"{x / unit + 0.0:.{digits}f},{-y / unit + 0.0:.{digits}f}" for x, y in deltas.tolist()))
    return "".join(f"{row}\n" for row in [*rows, "END"]).encode("ascii")


class _Writer:
    """Puts values into the library's drawing, in the units of the file and y up."""

    def __init__(self, inch: bool) -> None:
        self._unit = INCH if inch else 1.0
        self._digits = DIGITS[inch]

    def _at(self, point: Array) -> tuple[float, float]:
        x, y = (point * [1.0, -1.0] / self._unit).tolist()
        return round(x, self._digits) + 0.0, round(y, self._digits) + 0.0

    def _size(self, mm: float) -> float:
        return round(mm / self._unit, self._digits)

    def text(
        self, block: library.Layout, layer: int, text: str, at: Array, high: float = TEXT, angle: float = 0.0
    ) -> None:
        """One text; at: its middle is not told, its start is."""
        form = {"layer": str(layer), "height": self._size(high), "insert": self._at(at), "rotation": -angle}
        block.add_text(text, dxfattribs={key: value for key, value in form.items() if value or key != "rotation"})

    def part(self, block: library.Layout, part: Part) -> None:
        """All of a piece in its block."""
        for course in part.courses:
            self._course(block, course)
        for nick in part.nicks:
            x, y = self._at(nick.at)
            angle = math.degrees(math.atan2(-nick.into[1], nick.into[0])) % 360.0
            form = {"layer": str(nick.layer), "angle": round(angle, 4)}
            if nick.width:
                form["thickness"] = self._size(nick.width)
            block.add_point((x, y, self._size(nick.depth)), dxfattribs=form)
            self._rule(block, nick.layer, nick.at, nick.rule)
        for k, hole in enumerate(part.holes):
            block.add_point((*self._at(hole), 0.0), dxfattribs={"layer": str(DRILL)})
            self._rule(block, DRILL, hole, part.hole_rules[k] if part.hole_rules else 0)
        for layer, line, rules in ((GRAIN, part.grain, part.grain_rules), (MIRROR, part.mirror, part.mirror_rules)):
            if line is None:
                continue
            block.add_line(self._at(line[0]), self._at(line[1]), dxfattribs={"layer": str(layer)})
            for at, rule in zip(line, rules, strict=False):
                self._rule(block, layer, at, rule)
        self._texts(block, part)

    def _course(self, block: library.Layout, course: Course) -> None:
        points = [self._at(point) for point in course.points]
        block.add_polyline2d(points, close=course.closed, dxfattribs={"layer": str(course.layer)})
        for k, (point, turn) in enumerate(zip(course.points, course.turn, strict=True)):
            layer = TURN if turn else CURVE
            block.add_point((*self._at(point), 0.0), dxfattribs={"layer": str(layer)})
            self._rule(block, layer, point, course.rules[k] if course.rules else 0)

    def _rule(self, block: library.Layout, layer: int, at: Array, rule: int) -> None:
        if rule:
            self.text(block, layer, f"# {rule}", at, SMALL)

    def _texts(self, block: library.Layout, part: Part) -> None:
        middle = part.courses[0].points.mean(axis=0)
        rows = [f"PIECE NAME: {plain_letters(part.name)}", f"SIZE: {plain_letters(part.size)}"]
        rows.append(f"QUANTITY: {part.quantity}")
        rows += [f"CATEGORY: {plain_letters(part.category)}"] if part.category else []
        rows += [f"MATERIAL: {plain_letters(part.material)}"] if part.material else []
        rows += [f"ANNOTATION: {part.cut_as.upper()}"] if part.cut_as != "single" else []
        for k, row in enumerate(rows):
            self.text(block, BOUNDARY, row, middle + np.array([0.0, 8.0 * k]))
        for note in part.notes:
            text = plain_letters(note.text)
            if text:
                # about its middle as it is drawn; where a text starts is all that every reader knows
                along = np.array([math.cos(math.radians(note.angle)), math.sin(math.radians(note.angle))])
                start = note.at - along * 0.31 * note.height / 0.7 * len(text)
                self.text(block, ANNOTATION, text, start, note.height, note.angle)
