"""The drawing commands of SVG paths, one method each; shapes are drawn with them too."""

from __future__ import annotations

from flatcut.formats.svg.strokes import Strokes


class Pen:
    """Takes commands with their numbers and gathers subpaths in `done`.

    A method takes the numbers of one or more segments of its kind and whether they are relative to the current point.
    Source: SVG 2, section 9.3.

    >>> pen = Pen()
    >>> pen.move([1, 1], False)
    >>> pen.line([2, 0, 0, 2], True)
    >>> pen.close([], False)
    >>> pen.done
    [Strokes(points=[1, 1, 3, 1, 3, 3, 1, 1], straight=[True, True, True], closed=True, closing=True)]
    """

    __slots__ = ("after", "done", "hx", "hy", "points", "straight", "sx", "sy", "x", "y")

    def __init__(self) -> None:
        self.done: list[Strokes] = []
        self.points: list[float] = []
        self.straight: list[bool] = []
        self.x = self.y = 0.0  # the current point
        self.sx = self.sy = 0.0  # the start of the subpath
        self.hx = self.hy = 0.0  # the last handle, which S or T mirrors
        self.after = ""  # "C" or "Q" when that handle is one for S or T

    def end(self) -> None:
        """Put the subpath being drawn away, open."""
        if self.points:
            self.done.append(Strokes(self.points, self.straight, False, False))
            self.points, self.straight = [], []

    def move(self, values: list[float], relative: bool) -> None:
        """M, and the L of all pairs after the first."""
        self.end()
        x, y = values[0], values[1]
        if relative:
            x, y = x + self.x, y + self.y
        self.x, self.y = self.sx, self.sy = x, y
        self.points += (x, y)
        self.after = ""
        if len(values) > 2:
            self.line(values[2:], relative)

    def line(self, values: list[float], relative: bool) -> None:
        """L. After Z it starts where that ended, as C does."""
        if not self.points:
            self.points += (self.x, self.y)
        if relative:
            x, y = self.x, self.y
            for i in range(0, len(values), 2):
                x, y = x + values[i], y + values[i + 1]
                self.points += (x, y)
        else:
            self.points += values
        self.straight += [True] * (len(values) // 2)
        self.x, self.y = self.points[-2:]
        self.after = ""

    def horizontal(self, values: list[float], relative: bool) -> None:
        """H."""
        for value in values:
            self.line([value, 0.0 if relative else self.y], relative)

    def vertical(self, values: list[float], relative: bool) -> None:
        """V."""
        for value in values:
            self.line([0.0 if relative else self.x, value], relative)

    def cubic(self, values: list[float], relative: bool) -> None:
        """C."""
        if not self.points:
            self.points += (self.x, self.y)
        if relative:
            x, y = self.x, self.y
            for i in range(0, len(values), 6):
                x1, y1, x2, y2, x3, y3 = values[i : i + 6]
                self.points += (x + x1, y + y1, x + x2, y + y2, x + x3, y + y3)
                x, y = x + x3, y + y3
        else:
            self.points += values
        self.straight += [False] * (len(values) // 6)
        self.hx, self.hy, self.x, self.y = self.points[-4:]
        self.after = "C"

    def smooth(self, values: list[float], relative: bool) -> None:
        """S."""
        for i in range(0, len(values), 4):
            dx, dy = (self.x - self.hx, self.y - self.hy) if self.after == "C" else (0.0, 0.0)
            ox, oy = (0.0, 0.0) if relative else (self.x, self.y)
            self.cubic([ox + dx, oy + dy, *values[i : i + 4]], relative)

    def quadratic(self, values: list[float], relative: bool) -> None:
        """Q, raised to a cubic: exact, with handles two thirds of the way to the one given."""
        for i in range(0, len(values), 4):
            x1, y1, x, y = values[i : i + 4]
            x0, y0 = self.x, self.y
            if relative:
                x1, y1, x, y = x1 + x0, y1 + y0, x + x0, y + y0
            x2, y2 = x + (x1 - x) * 2 / 3, y + (y1 - y) * 2 / 3
            self.cubic([x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3, x2, y2, x, y], False)
            self.hx, self.hy, self.after = x1, y1, "Q"

    def smooth_quadratic(self, values: list[float], relative: bool) -> None:
        """T."""
        for i in range(0, len(values), 2):
            dx, dy = (self.x - self.hx, self.y - self.hy) if self.after == "Q" else (0.0, 0.0)
            ox, oy = (0.0, 0.0) if relative else (self.x, self.y)
            self.quadratic([ox + dx, oy + dy, *values[i : i + 2]], relative)

    def arc(self, values: list[float], relative: bool) -> None:
        """A, as cubics (`arcs`)."""
        for i in range(0, len(values), 7):
            rx, ry, degrees, large, sweep, x, y = values[i : i + 7]
            if relative:
                x, y = x + self.x, y + self.y
            from flatcut.formats.svg.arcs import arc  # few drawings have any

            cubics = arc(self.x, self.y, rx, ry, degrees, large != 0, sweep != 0, x, y)
            if not cubics:
                self.line([x, y], False)
            for cubic in cubics:
                self.cubic([*cubic], False)
            self.after = ""

    def close(self, values: list[float], relative: bool) -> None:
        """Z, with the line back to the start unless the pen is there."""
        closing = self.x != self.sx or self.y != self.sy
        if closing:
            self.line([self.sx, self.sy], False)
        if self.points:
            self.done.append(Strokes(self.points, self.straight, True, closing))
            self.points, self.straight = [], []
        self.x, self.y, self.after = self.sx, self.sy, ""
