"""Printed pages measured from outside: poppler draws them, svgelements reads what it drew, in mm."""

from __future__ import annotations

import re
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from svgelements import SVG, Close, CubicBezier, Line, Move, Point
from svgelements import Path as DrawnPath

MM = 25.4 / 96
"""svgelements counts in px, 96 to the inch."""
STEPS = np.linspace(0, 1, 33).tolist()
"""Places on a cubic: far closer than any tolerance here."""


@dataclass(frozen=True)
class Drawn:
    """A stroke on a page: its pen's width and its points (n, 2), mm; closed; cubics: how many spans are curves."""

    width: float
    points: np.ndarray
    closed: bool
    dashed: bool
    cubics: int

    @property
    def size(self) -> np.ndarray:
        return np.ptp(self.points, axis=0)


def sizes(pdf: Path) -> list[tuple[float, float]]:
    """Width and height of every page, mm."""
    said = run("pdfinfo", "-l", "9999", str(pdf))
    found = re.findall(r"^Page +\d+ size: +([\d.]+) x ([\d.]+) pts", said, flags=re.M)
    return [(float(w) * 25.4 / 72, float(h) * 25.4 / 72) for w, h in found]


def text(pdf: Path, page: int) -> str:
    """The words of a page, single-spaced."""
    return " ".join(run("pdftotext", "-f", str(page), "-l", str(page), str(pdf), "-").split())


def strokes(pdf: Path, page: int) -> list[Drawn]:
    """All strokes of a page. Not shrunk: poppler else makes a page 0.12 % smaller to fit its own frame."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "page.svg"
        run("pdftocairo", "-svg", "-noshrink", "-f", str(page), "-l", str(page), str(pdf), str(file))
        return svg_strokes(file)


def svg_strokes(file: Path) -> list[Drawn]:
    """All strokes of an SVG."""
    drawing = SVG.parse(str(file), reify=True)
    found = []
    for element in drawing.elements():
        if isinstance(element, DrawnPath) and element.stroke is not None and element.stroke.value is not None:
            found += [_drawn(element, DrawnPath(sub)) for sub in element.as_subpaths()]
    return [stroke for stroke in found if stroke is not None]


def _drawn(element: DrawnPath, sub: DrawnPath) -> Drawn | None:
    at, cubics = sampled(sub)
    if len(at) < 2:
        return None  # poppler repeats the first point of a closed path as a path of its own
    closed = any(isinstance(segment, Close) for segment in sub)
    dashed = element.values.get("stroke-dasharray") not in (None, "", "none")
    return Drawn(float(element.stroke_width) * MM, at, closed, dashed, cubics)


def sampled(path: DrawnPath) -> tuple[np.ndarray, int]:
    """Points on a path, (n, 2) mm, every node among them; and how many of its spans are cubics."""
    points: list[Point] = []
    cubics = 0
    for segment in path:
        if isinstance(segment, CubicBezier):
            points += [segment.point(t) for t in STEPS[1:]]
            cubics += 1
        elif isinstance(segment, (Move, Line, Close)):
            points.append(segment.end)
    return np.array([[p.x, p.y] for p in points]).reshape(-1, 2) * MM, cubics


def run(*words: str) -> str:
    return subprocess.run(words, check=True, capture_output=True, text=True).stdout
