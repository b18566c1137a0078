"""A designer at the window, with the pattern beside it that each press must come to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from lxml import etree

from flatcut.arguments import parse_line
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.arrays import Array
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Pattern
from tests.editor.designer import Designer


class Cutter:
    """A designer, with the pattern as it must be by now beside the window.

    first: the press that is done first; those before it are followed only. seen: the pattern as the editor has it;
    saved: the drawing after the last press.
    """

    def __init__(self, designer: Designer, pattern: Pattern, seen: Pattern, shots: Path, first: int) -> None:
        self.designer = designer
        self.pattern, self.seen = pattern, seen
        self.saved = b""
        self._shots, self._first, self._number = shots, first, 0

    def _begun(self) -> bool:
        """Count a press; whether it is done at the window."""
        self._number += 1
        return self._number >= self._first

    def press(self, line: str, more: Mapping[str, str] | None = None) -> None:
        """What the line says, by its dialog. more: what is filled in on its second tab."""
        if not self._begun():
            self._follow(" ".join([line, *(f"--{name}={value}" for name, value in (more or {}).items())]))
            return
        words = re.findall(r"(?:[^\s\"]|\"[^\"]*\")+", line)
        fill = {"target": " ".join(w for w in words[1:] if not w.startswith("--"))}
        for word in words[1:]:
            if word.startswith("--"):
                name, _, value = word[2:].partition("=")
                fill[name.replace("-", "_")] = value
        self.designer.press(words[0], {key: value for key, value in fill.items() if value}, more=more or {})
        self._follow(" ".join([line, *(f"--{name}={value}" for name, value in (more or {}).items())]))
        self._look(line)

    def draw(self, start: str, end: str, bow: float, line: str) -> None:
        """A stroke from place to place with the pen, pulled into a bow by a share of its length; kept as a line.

        line: what constructs about the same line, for where to draw next.
        """
        if not self._begun():
            self._follow(line)
            return
        ends = [spot(self.seen, at).point for at in (start, end)]
        middle = (ends[0] + ends[1]) / 2
        way = ends[1] - ends[0]
        pulled = middle + bow * np.array([-way[1], way[0]])
        one = self.designer
        one.draw([_at(p) for p in ends], closed=False)
        one.select(_at(middle))
        one.keys("n")
        one.drag(_at(middle), _at(pulled))
        one.keys("s", "Escape")
        one.select(_at(pulled))
        one.press("line")
        self._follow(line)
        self._look(line)

    def _look(self, line: str) -> None:
        """Fail at a press that did not do what its line does, with what the window says."""
        svg = self.saved = self.designer.window.saved(self._shots / f"{self._number:02}.svg")
        _, pattern, findings = read(svg)
        said = [" ".join("".join(e.itertext()).split()) for e in etree.fromstring(svg).iter() if e.get(own("told"))]
        what = f"press {self._number}, {line}\nsaid: {said}\nfound: {[str(found) for found in findings]}"
        # no value in these is long to tell of
        before, after, right = len(self.seen.steps), len(pattern.steps), named(pattern) == named(self.pattern)
        assert after > before, f"nothing was done: {what}"
        assert right, f"{what}\nit has: {named(pattern)}\nwanted: {named(self.pattern)}"
        self.seen = pattern

    def _follow(self, line: str) -> None:
        operation = parse_line(line)
        assert operation is not None
        self.pattern = operation(self.pattern)

    def press_on(self, places: Sequence[str], line: str, fill: Mapping[str, str] | None = None) -> None:
        """What the line says, with its pieces clicked at these places and its target left empty.

        fill: what is filled in.
        """
        if self._begun():
            self.designer.select(*(_at(spot(self.seen, at).point) for at in places))
            self.designer.press(line.split()[0], fill or {})
        self._follow(line)
        if self._number >= self._first:
            self._look(line)

    def stage(self, name: str) -> None:
        if self._number < self._first:
            return
        self.designer.photograph(f"stage-{name}")


def named(pattern: Pattern) -> list[tuple[str, list[str]]]:
    """The pieces, and the names on each."""
    return [(piece.name, sorted(piece.names())) for piece in pattern.pieces]


def _at(place: Array) -> tuple[float, float]:
    return float(place[0]), float(place[1])
