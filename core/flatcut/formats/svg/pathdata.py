"""Path data, the `d` of an SVG path, as curves and back.

Every command is read (M L H V C S Q T A Z, absolute and relative); quadratics are raised to cubics exactly, arcs become
cubics within 4.3e-6 of their larger radius (`arcs`). What a line command draws is marked straight, and so is the line
that Z draws; a C or an arc never is, however flat.
Left out and counted: segments whose points all coincide, and subpaths of which nothing else remains.
Sources: SVG 2, section 9.3, and SVG 1.1, section 8.3.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import repeat

import numpy as np

from flatcut.errors import GeometryError, InputError
from flatcut.formats.svg.arcs import arc
from flatcut.formats.svg.numbers import NUMBER, number, split_numbers
from flatcut.geometry.curves import JOINT, Curve

CLOSING = 1e-6
"""A closing line shorter than this part of its subpath's larger side is the rounding of numbers in the file: the last
point is taken for the first. Larger, and drawn edges would be lost; smaller, and numbers of seven digits would leave
specks of edges."""

FAR = 1e12
"""No number in path data is larger, whatever the user unit; beyond, the arithmetic of arcs would overflow."""


@dataclass(frozen=True, eq=False)
class SubPath:
    """What one M draws. closed: ended by Z, so that the curve ends on its start, the closing line included.

    dropped: segments of no length that the data held and the curve does not.
    """

    curve: Curve
    closed: bool
    dropped: int = 0


class Strokes:
    """A subpath while it is being read: plain floats, which are faster here than small arrays.

    points: eight floats for each span, in the order of a Curve's controls; straight: a mark for each span.
    """

    __slots__ = ("closed", "dropped", "points", "straight")

    def __init__(self) -> None:
        self.points: list[float] = []
        self.straight: list[bool] = []
        self.closed = False
        self.dropped = 0

    def line(self, x0: float, y0: float, x: float, y: float) -> None:
        """Add a straight span, unless it has no length."""
        if x == x0 and y == y0:
            self.dropped += 1
            return
        dx, dy = (x - x0) / 3, (y - y0) / 3
        self.points += (x0, y0, x0 + dx, y0 + dy, x - dx, y - dy, x, y)
        self.straight.append(True)

    def cubic(self, x0: float, y0: float, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        """Add a cubic span, unless its four points are one."""
        if x == x0 == x1 == x2 and y == y0 == y1 == y2:
            self.dropped += 1
            return
        self.points += (x0, y0, x1, y1, x2, y2, x, y)
        self.straight.append(False)

    def close(self) -> None:
        """Draw the line back to the start, or put the last point on it where that line would be a speck."""
        self.closed = True
        points = self.points
        if not points:
            return
        sx, sy, x, y = points[0], points[1], points[-2], points[-1]
        if x == sx and y == sy:
            return
        gap = max(abs(x - sx), abs(y - sy))
        xs, ys = points[0::2], points[1::2]
        if gap > CLOSING * max(max(xs) - min(xs), max(ys) - min(ys)):
            self.line(x, y, sx, sy)
            return
        points[-2:] = sx, sy
        if self.straight[-1]:
            x0, y0 = points[-8], points[-7]
            dx, dy = (sx - x0) / 3, (sy - y0) / 3
            points[-6:-2] = x0 + dx, y0 + dy, sx - dx, sy - dy


def parse(d: str, *, name: str = "the path") -> list[SubPath]:
    """The subpaths of path data, in the units of the data.

    Errors: InputError when the data break off or hold what is no path data; the sentence begins with `name` and gives
    the character, counted from 1. (SVG has a path with an error drawn up to it; a pattern must not lose edges.)

    >>> square, = parse("m10 10h20v20h-20z")
    >>> square.closed, len(square.curve), square.curve.straight.all(), square.curve.end
    (True, 4, np.True_, array([10., 10.]))
    >>> parse("M0 0 L 5")
    Traceback (most recent call last):
    ...
    flatcut.errors.InputError: the path has numbers missing in command L at character 6; redraw or correct it
    """
    subpaths, _ = read(d, name=name)
    return [
        SubPath(Curve(np.array(s.points).reshape(-1, 4, 2), np.array(s.straight, dtype=np.bool_)), s.closed, s.dropped)
        for s in subpaths
    ]


def read(d: str, *, name: str = "the path") -> tuple[list[Strokes], int]:
    """As `parse`, but as plain floats, and with the number of segments and subpaths that have no length.

    >>> strokes, dropped = read("M1 1z M5 5 l0 0 2 0")
    >>> [s.points[-2:] for s in strokes], dropped
    ([[7.0, 5.0]], 2)
    """
    if not _well_formed(d):
        raise _fault(d, name)
    pen = _Pen()
    for index, (letter, text) in enumerate(_COMMAND.findall(d)):
        upper = letter.upper()
        values = _arc_numbers(text) if upper == "A" else split_numbers(text)
        arity = _ARITY[upper]
        if values is None or (len(values) % arity or not values if arity else values):
            raise _fault(d, name, index)
        if values and (max(values) > FAR or min(values) < -FAR):
            raise InputError(f"{name} has a number too large to draw in command {letter}; redraw it smaller")
        _DRAW[upper](pen, values, letter != upper)
    pen.end()
    return pen.done, pen.dropped


_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_CHARACTERS = re.compile(r"[-+0-9.eE,\sMmZzLlHhVvCcSsQqTtAa]*", re.ASCII)
_BAD_COMMA = re.compile(r",\s*(?:[,A-DF-Za-df-z]|$)|[A-DF-Za-df-z]\s*,", re.ASCII)
_ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_ARC = re.compile(
    r"\s*,?\s*".join([f"({NUMBER.pattern})"] * 3 + ["([01])"] * 2 + [f"({NUMBER.pattern})"] * 2), re.ASCII
)
_BETWEEN = re.compile(r"\s*,?\s*", re.ASCII)


def _well_formed(d: str) -> bool:
    """Whether the data hold the characters of path data alone, commas where they may stand, and M first."""
    return (
        _CHARACTERS.fullmatch(d) is not None
        and d.lstrip()[:1] in ("", "M", "m")
        and not ("," in d and _BAD_COMMA.search(d))
    )


def _arc_numbers(text: str) -> list[float] | None:
    """The numbers of arcs, whose flags may be glued to each other and to what follows; None when there is a fault."""
    values: list[float] = []
    place = len(text) - len(text.lstrip())
    end = len(text.rstrip())
    while place < end:
        found = _ARC.match(text, place)
        if found is None:
            return None
        values += map(float, found.groups())
        between = _BETWEEN.match(text, found.end())
        place = between.end() if between else found.end()
    return values


def _fault(d: str, name: str, command: int | None = None) -> InputError:
    """The error for data that cannot be read: in the command of that number, or found by looking."""
    repair = "redraw or correct it"
    if command is not None:
        found = list(_COMMAND.finditer(d))[command]
        letter, text, at = found[1], found[2], found.start() + 1
        arity = _ARITY[letter.upper()]
        if arity == 0:
            return InputError(f"{name} has numbers after {letter} at character {at}; {repair}")
        left = NUMBER.sub("", text).replace(",", " ").split()
        if left and letter not in "aA":
            return InputError(f"{name} has '{left[0]}' in command {letter} at character {at}; {repair}")
        what = "a radius, angle, flag or end wrong or missing" if letter in "aA" else "numbers missing"
        return InputError(f"{name} has {what} in command {letter} at character {at}; {repair}")
    good = _CHARACTERS.match(d)
    place = good.end() if good else 0
    if place < len(d):
        return InputError(f"{name} has '{d[place]}' at character {place + 1}, which is no path data; {repair}")
    comma = _BAD_COMMA.search(d)
    if comma is not None and d.lstrip()[:1] in ("M", "m"):
        return InputError(f"{name} has a comma too many at character {d.index(',', comma.start()) + 1}; {repair}")
    place = len(d) - len(d.lstrip()) + 1
    return InputError(f"{name} has '{d[place - 1]}' at character {place}, where path data must begin with M; {repair}")


class _Pen:
    """Where the drawing stands between two commands."""

    def __init__(self) -> None:
        self.done: list[Strokes] = []
        self.dropped = 0
        self.now: Strokes | None = None
        self.x = self.y = 0.0  # the current point
        self.sx = self.sy = 0.0  # the start of the subpath
        self.hx = self.hy = 0.0  # the last handle, which S or T mirrors
        self.after = ""  # "C" or "Q" when that handle is one for S or T

    def end(self) -> None:
        """Put the subpath being drawn away."""
        now = self.now
        if now is not None:
            self.dropped += now.dropped
            if now.points:
                self.done.append(now)
            elif now.dropped == 0:
                self.dropped += 1
        self.now = None

    def strokes(self) -> Strokes:
        """The subpath being drawn; after Z a new one from the same start."""
        if self.now is None:
            self.now = Strokes()
        return self.now

    def move(self, values: list[float], relative: bool) -> None:
        self.end()
        x, y = values[0], values[1]
        if relative:
            x, y = x + self.x, y + self.y
        self.x, self.y = self.sx, self.sy = x, y
        self.after = ""
        self.now = Strokes()
        if len(values) > 2:
            self.line(values[2:], relative)

    def line(self, values: list[float], relative: bool) -> None:
        line, x0, y0 = self.strokes().line, self.x, self.y
        for i in range(0, len(values), 2):
            x, y = values[i], values[i + 1]
            if relative:
                x, y = x + x0, y + y0
            line(x0, y0, x, y)
            x0, y0 = x, y
        self.x, self.y, self.after = x0, y0, ""

    def horizontal(self, values: list[float], relative: bool) -> None:
        for value in values:
            self.line([value, 0.0 if relative else self.y], relative)

    def vertical(self, values: list[float], relative: bool) -> None:
        for value in values:
            self.line([0.0 if relative else self.x, value], relative)

    def cubic(self, values: list[float], relative: bool) -> None:
        cubic, x0, y0 = self.strokes().cubic, self.x, self.y
        for i in range(0, len(values), 6):
            x1, y1, x2, y2, x, y = values[i : i + 6]
            if relative:
                x1, y1, x2, y2, x, y = x1 + x0, y1 + y0, x2 + x0, y2 + y0, x + x0, y + y0
            cubic(x0, y0, x1, y1, x2, y2, x, y)
            x0, y0, self.hx, self.hy = x, y, x2, y2
        self.x, self.y, self.after = x0, y0, "C"

    def smooth(self, values: list[float], relative: bool) -> None:
        for i in range(0, len(values), 4):
            dx, dy = (self.x - self.hx, self.y - self.hy) if self.after == "C" else (0.0, 0.0)
            ox, oy = (0.0, 0.0) if relative else (self.x, self.y)
            self.cubic([ox + dx, oy + dy, *values[i : i + 4]], relative)

    def quadratic(self, values: list[float], relative: bool) -> None:
        strokes = self.strokes()
        for i in range(0, len(values), 4):
            x1, y1, x, y = values[i : i + 4]
            x0, y0 = self.x, self.y
            if relative:
                x1, y1, x, y = x1 + x0, y1 + y0, x + x0, y + y0
            strokes.cubic(
                x0, y0, x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3, x + (x1 - x) * 2 / 3, y + (y1 - y) * 2 / 3, x, y
            )
            self.x, self.y, self.hx, self.hy, self.after = x, y, x1, y1, "Q"

    def smooth_quadratic(self, values: list[float], relative: bool) -> None:
        for i in range(0, len(values), 2):
            dx, dy = (self.x - self.hx, self.y - self.hy) if self.after == "Q" else (0.0, 0.0)
            ox, oy = (0.0, 0.0) if relative else (self.x, self.y)
            self.quadratic([ox + dx, oy + dy, *values[i : i + 2]], relative)

    def arc(self, values: list[float], relative: bool) -> None:
        strokes = self.strokes()
        for i in range(0, len(values), 7):
            rx, ry, degrees, large, sweep, x, y = values[i : i + 7]
            x0, y0 = self.x, self.y
            if relative:
                x, y = x + x0, y + y0
            cubics = arc(x0, y0, rx, ry, degrees, large != 0, sweep != 0, x, y)
            if not cubics:
                strokes.line(x0, y0, x, y)
            for cubic in cubics:
                strokes.cubic(x0, y0, *cubic)
                x0, y0 = cubic[4], cubic[5]
            self.x, self.y, self.after = x, y, ""

    def close(self, values: list[float], relative: bool) -> None:
        self.strokes().close()
        self.end()
        self.x, self.y, self.after = self.sx, self.sy, ""


_DRAW = {
    "M": _Pen.move,
    "L": _Pen.line,
    "H": _Pen.horizontal,
    "V": _Pen.vertical,
    "C": _Pen.cubic,
    "S": _Pen.smooth,
    "Q": _Pen.quadratic,
    "T": _Pen.smooth_quadratic,
    "A": _Pen.arc,
    "Z": _Pen.close,
}


def unparse(curves: Iterable[Curve], closed: bool | Iterable[bool]) -> str:
    """Path data of curves, one subpath each: absolute M, L, C and Z, numbers with at most nine decimals.

    Straight spans are written L and curved ones C; the last span of a closed curve, when straight, is what Z draws.
    closed: one mark for all curves or one for each.
    Errors: GeometryError when a curve to be closed does not end on its start.

    >>> data = "M 10,10 L 30,10 C 40,10 40,30 30,30 Z"
    >>> unparse([s.curve for s in parse(data)], True) == data
    True
    """
    marks = repeat(closed) if isinstance(closed, bool) else closed
    return " ".join(_written(curve, mark) for curve, mark in zip(curves, marks, strict=False))


def _written(curve: Curve, closed: bool) -> str:
    if closed and abs(curve.end - curve.start).max() > JOINT:
        raise GeometryError("a closed path must end where it starts; close the gap between its last and first node")
    texts = [number(value) for value in curve.controls.ravel().tolist()]
    pairs = [f"{x},{y}" for x, y in zip(texts[0::2], texts[1::2], strict=True)]
    straight = curve.straight.tolist()
    if closed:
        pairs[-1] = pairs[0]
    parts = [f"M {pairs[0]}"]
    letter = "M"
    for k, flat in enumerate(straight):
        if flat and closed and k == len(straight) - 1:
            break
        command, shown = ("L", pairs[4 * k + 3 : 4 * k + 4]) if flat else ("C", pairs[4 * k + 1 : 4 * k + 4])
        parts += [command, *shown] if command != letter else shown
        letter = command
    return " ".join([*parts, "Z"] if closed else parts)
