"""Every reader at growing sizes: time, and how it grows with the size.

Run: PYTHONPATH=core python tests/bench/bench_readers.py [READER...]

Four sizes, each three times as large as the one before; the last column is the power of the size that the time of the
last two grows with: 1.0 is in proportion, 2.0 with the square. n log n reads as 1.1. Seconds are the processor's own.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable

import numpy as np

from flatcut.arguments import parse_line
from flatcut.blocks.body import read_measures, sizes_or_errors
from flatcut.errors import FlatcutError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load
from flatcut.outlines.piece_table import rows
from flatcut.pattern.expressions import parse_length
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay

STEP = 3
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">{}</svg>'


def ring(n: int, *, rough: float = 0.0, seed: int = 0) -> np.ndarray:
    """Points of a smooth outline of about a metre, without a corner."""
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    r = 150 * (1 + 0.15 * np.cos(3 * t) + 0.05 * np.sin(5 * t))
    points = np.stack([450 + r * np.cos(t), 450 + r * np.sin(t)], axis=1)
    return points + np.random.default_rng(seed).normal(0, rough, points.shape) if rough else points


def drawn(d: str) -> bytes:
    return SVG.format(f'<path id="a" d="{d}"/>').encode()


def points(p: np.ndarray) -> str:
    return "M " + " L ".join(f"{x:.4f},{y:.4f}" for x, y in p) + " Z"


def teeth(n: int) -> bytes:
    """An outline of n corners, all of them meant."""
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    r = 350 + 8 * (np.arange(n) % 2)
    return drawn(points(np.stack([450 + r * np.cos(t), 450 + r * np.sin(t)], axis=1)))


def cubics(n: int) -> bytes:
    """A smooth outline of n curves."""
    t = np.linspace(0, 2 * np.pi, 3 * n, endpoint=False)
    p = np.stack([450 + 300 * np.cos(t), 450 + 200 * np.sin(t)], axis=1)
    return drawn(f"M {p[0, 0]:.4f},{p[0, 1]:.4f} C " + " ".join(f"{x:.4f},{y:.4f}" for x, y in [*p[1:], p[0]]) + " Z")


def made(data: bytes) -> Pattern:
    return load("piece")()(read(data)[1])


def kept(data: bytes) -> Pattern:
    return load("piece")(keep_points=True)(read(data)[1])


def replayed(lines: list[str]) -> Pattern:
    return replay(read_recipe("\n".join(["block bodice --size=bust-94", *lines])), new_drawing()[1])


def own(n: int) -> bytes:
    """A drawing of flatcut's own with n pieces in it."""
    squares = "".join(f'<path id="p{k}" d="M {9 * (k % 90)},{9 * (k // 90)} h 8 v 8 h -8 Z"/>' for k in range(n))
    drawing, pattern, _ = read(SVG.format(squares).encode())
    return write(drawing, load("piece")()(pattern))


def refused(call: Callable[[], object]) -> None:
    """A call that must end in a sentence."""
    try:
        call()
    except FlatcutError:
        return
    raise AssertionError("taken")


LINE = "allowance front.side --width=1cm # a note\n"
READERS: dict[str, tuple[int, Callable[[int], object], Callable[[object], object]]] = {
    "outline of points": (1000, lambda n: drawn(points(ring(n))), made),
    "outline of rough points": (1000, lambda n: drawn(points(ring(n, rough=0.02))), made),
    "outline of points, kept": (300, lambda n: drawn(points(ring(n))), kept),
    "outline of corners": (100, teeth, made),
    "outline of curves": (100, cubics, made),
    "drawing: many paths": (1000, lambda n: SVG.format("<path d='M0 0h9v9z'/>" * n).encode(), read),
    "drawing: one long path": (3000, lambda n: drawn(points(ring(n))), lambda d: read(d)[1].drawn),
    "drawing: styles": (300, lambda n: SVG.format(
        "<style>" + "".join(f".c{k}{{display:none}}" for k in range(n)) + "</style>"
        + "".join(f"<path class='c{k}' d='M0 0h9v9z'/>" for k in range(n))).encode(), lambda d: list(read(d)[1].drawn)),
    "drawing: clones": (300, lambda n: SVG.format(
        "<path id='a' d='M0 0h9v9z'/>" + "<use href='#a'/>" * n).encode(), lambda d: list(read(d)[1].drawn)),
    "drawing: a long transform": (3000, lambda n: SVG.format(
        f"<path transform='{'translate(1,1) ' * n}' d='M0 0h9v9z'/>").encode(),
        lambda d: read_or_refused(lambda: list(read(d)[1].drawn))),
    "drawing: a wrong path": (3000, lambda n: drawn("M0 0" + " 1.5" * (2 * n) + "e"),
                              lambda d: refused(lambda: list(read(d)[1].drawn))),
    "drawing: a DOCTYPE": (1000, lambda n: ("<!DOCTYPE svg [" + "".join(
        f'<!ENTITY e{k} "x">' for k in range(n)) + "]>" + SVG.format("&e0;")).encode(),
        lambda d: read_or_refused(lambda: read(d))),
    "drawing: own pieces": (30, own, read),
    "recipe: lines": (1000, lambda n: LINE * n, read_recipe),
    "recipe: an open mark": (1000, lambda n: 'style --name="open\n' + LINE * n,
                             lambda t: refused(lambda: read_recipe(t))),
    "recipe: marks in every line": (1000, lambda n: "style --name=\"it's\"\n" * n, read_recipe),
    "recipe: a text of many lines": (1000, lambda n: 'style --name="' + "a\n" * n + '"', read_recipe),
    "recipe: one line": (300_000, lambda n: "style --name=" + "a" * n, read_recipe),
    "recipe: many words": (1000, lambda n: "allowance " + "front.side " * n, read_recipe),
    "recipe: replayed": (10, lambda n: [f"allowance front.side --width={k % 9 + 1}" for k in range(n)],
                         replayed),
    "command: many targets": (1000, lambda n: "allowance " + " ".join(["a.b"] * n), parse_line),
    "table of pieces": (1000, lambda n: "name,width\n" + "".join(f"p{k},1\n" for k in range(n)), rows),
    "table of pieces, one line": (1000, lambda n: "name,width" + "".join(f"|p{k},1" for k in range(n)), rows),
    "table: an open mark": (1000, lambda n: 'name,width\n"p' + "\np,1" * n, lambda t: refused(lambda: rows(t))),
    "measurements": (1000, lambda n: "# no\n" * n + "bust = 900\n", read_measures),
    "sizes": (300, lambda n: "".join(f"[s{k}]\nbust = 900\n" for k in range(n)), sizes_or_errors),
    "length: a sum": (300, lambda n: "1cm" + "+1cm" * n, lambda t: read_or_refused(lambda: parse_length(t))),
    "length: brackets": (300, lambda n: "(" * n + "1cm" + ")" * n, lambda t: read_or_refused(lambda: parse_length(t))),
    "length: a call": (1000, lambda n: "length(" + "a.b+" * n + "a.b)", parse_length),
}  # fmt: skip
"""Name: the smallest size, what makes the text or bytes of that size, and what reads them."""


def read_or_refused(call: Callable[[], object]) -> None:
    """A call that may end in a sentence where the size is beyond a bound."""
    try:
        call()
    except FlatcutError:
        return


def seconds(call: Callable[[object], object], given: object) -> float:
    began = time.process_time()
    call(given)
    return max(time.process_time() - began, 1e-4)


def main(wanted: list[str]) -> None:
    """Print the table."""
    print(f"{'reader':<30} {'sizes and seconds':<64} power")
    for name, (least, make, reader) in READERS.items():
        if wanted and not any(word in name for word in wanted):
            continue
        sizes = [least * STEP**k for k in range(4)]
        reader(make(least))  # loaded once
        times = [seconds(reader, make(size)) for size in sizes]
        power = math.log(times[-1] / times[-2]) / math.log(STEP)
        shown = "  ".join(f"{size:>7}: {took:6.2f}" for size, took in zip(sizes, times, strict=True))
        print(f"{name:<30} {shown} {power:5.2f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
