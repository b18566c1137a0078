"""The garments of `samples/garments`, drafted once for a body, shared by all tests of it, and how they are measured.

Lengths are those of the chords of fine polylines, less what is taken up.
"""

from __future__ import annotations

import math
import os
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

import numpy as np

from flatcut.blocks.body import sizes_or_errors
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten, tangent
from flatcut.pattern.values import Edge, Line, Pattern, Piece
from flatcut.recipe import read_recipe, replay

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "samples" / "garments"
TABLE = sizes_or_errors((ROOT / "samples" / "panels" / "sizes.toml").read_text())
"""Bodies from bust 76 to 122."""
ROW_A = "A"
"""Aldrich, Metric Pattern Cutting for Women's Wear, size 10 (as restated publicly; in part from memory)."""
BODIES = {**sizes_or_errors((ROOT / "tests" / "data" / "trade_bodies.toml").read_text()), **TABLE}
SIZES = tuple(TABLE) if os.environ.get("FLATCUT_GARMENTS") == "all" else ("bust-76", "bust-122")
"""FLATCUT_GARMENTS=all drafts each garment for every body of the table, which takes minutes."""
ALL = (ROW_A, *SIZES)
NAMES = sorted(path.stem for path in FOLDER.glob("*.recipe"))


def text_of(name: str) -> str:
    """The recipe of a garment."""
    if name == SHAWL:
        return shawl_jacket()
    return (FOLDER / f"{name}.recipe").read_text(encoding="utf-8")


SHAWL = "rowan-jacket-shawl"


def shawl_jacket() -> str:
    """The jacket of the samples with a shawl collar grown on to its front in place of the one turned over."""
    text = text_of("rowan-jacket")
    before, _, rest = text.partition("# a front edge 2.5 cm beyond")
    after = "lining front" + rest.partition("lining front")[2]
    collar = (
        "# a shawl collar grown on to the front, with its facing; a facing behind\n"
        "collar shawl --neck=back.neck+front.neck --extension=25mm --break-point=14cm\n"
        'facing back.neck --width=6cm --at-seam="length(shawl-facing.shoulder)"\n'
    )
    after = after.replace("button front.centre@3cm", "button front.front-edge@1cm")
    after = after.replace("copy front-facing back-facing fall", "copy shawl-facing back-facing")
    steps = [line for line in after.splitlines() if not line.startswith("corner ")]
    return before + collar + "\n".join(steps) + "\n"


def drafted(text: str, size: str) -> Pattern:
    """A recipe drafted for a body, whose name is the size on the labels."""
    body = BODIES[size]
    assert isinstance(body, dict)
    text = text.replace(" --size=bust-90", "").replace(" --size=90", "")
    sized = f"\n{text}".replace("\nstyle ", f"\nstyle --size={size} ")
    return replay(read_recipe(sized), Pattern(body=MappingProxyType(body)))


@cache
def garment(name: str, size: str = ROW_A) -> Pattern:
    """A garment for a body."""
    return drafted(text_of(name), size)


@cache
def block(line: str, size: str) -> Pattern:
    """The block that a garment is drafted from, by itself."""
    return drafted(line, size)


def body(size: str, name: str) -> float:
    """A measurement of a body, mm."""
    found = BODIES[size]
    assert isinstance(found, dict)
    return found[name]


# How they are measured ------------------------------------------------------------------------------------------------


def edge_of(pattern: Pattern, name: str) -> Edge:
    """An edge by PIECE.EDGE."""
    piece, _, edge = name.partition(".")
    return pattern.piece(piece).edge(edge)


def line_of(pattern: Pattern, name: str) -> Line:
    """A line by PIECE.LINE."""
    piece, _, line = name.partition(".")
    return next(one for one in pattern.piece(piece).lines if one.name == line)


def chords(*curves: Curve) -> float:
    """mm along fine polylines."""
    return sum(math.dist(a, b) for curve in curves for a, b in pairwise(flatten(curve, tolerance=0.0005)))


def drawn(pattern: Pattern, *names: str) -> float:
    """mm of edges as they lie flat, without their darts."""
    return sum(chords(*edge_of(pattern, name).parts) for name in names)


def sewn(pattern: Pattern, *names: str) -> float:
    """mm of edges as they are sewn: without darts and what is gathered, folded or eased."""
    return drawn(pattern, *names) - sum(t.amount for name in names for t in edge_of(pattern, name).takeups)


def _ways(piece: Piece, edge: str) -> tuple[Array, Array]:
    """Unit directions of an edge away from its start and from its end."""
    parts = piece.edge(edge).parts
    return tangent(parts[0], 0.0), -tangent(parts[-1], float(len(parts[-1])), before=True)


def inside(pattern: Pattern, *corners: str) -> float:
    """Degrees inside the pieces at corners PIECE.EDGE/NEXT, summed: 180 where a line runs on over a seam."""
    total = 0.0
    for corner in corners:
        name, _, edges = corner.partition(".")
        first, _, second = edges.partition("/")
        piece = pattern.piece(name)
        assert piece.after(piece.edge(first)).name == second, corner
        a, b = _ways(piece, first)[1], _ways(piece, second)[0]
        total += math.degrees(math.acos(float(np.clip(a @ b, -1, 1))))
    return total
