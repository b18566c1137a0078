"""The first page: test squares, what to do before cutting, and a map of the sheets."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words, together
from flatcut.drawing.roles import Role
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import polyline
from flatcut.marking.labels import block
from flatcut.marking.lettering import LEADING, LETTER
from flatcut.marking.room import roomiest, segments
from flatcut.printing.layout import Layout
from flatcut.printing.page import AT_FULL_SIZE, CAUTIONS
from flatcut.printing.tiling import meets, sheet_name

SQUARES = ((50.0, "5 cm"), (50.8, "2 in"))
"""Sides of the test squares, mm."""
TITLE, TEXT, SMALL = 6.0, 3.5, 3.5
"""mm: letter heights."""
GAP = 5.0
"""mm between the parts of the page."""
LINE, FAINT = Role(name="figure", width=0.3), Role(name="frame", width=0.15)
"""Test squares and pieces on the map; sheets on the map and the frame of these words."""
MAP_NAME, MAP_PIECE, LEAST_MAP_NAME = 4.0, 3.2, 1.8
"""mm: letter heights on the map of the names of sheets and of pieces, and the least of both."""
MAP_CELL = 12.0
"""mm: width of a sheet on the map that is read with ease."""
LEAST_MAP = 80.0
"""mm: where less is left of a page the map goes on the next."""

SCALE = (
    "The sides of the squares must measure 5 cm and 2 in, across and down. If one is off by more than 0.25 mm "
    "(0.5 %), set the printer to 100 % and print again; off by 0.5 mm (1 %), nothing cut from it will fit."
)
"""Limits: 0.5 % to warn, 1 % to refuse (trade custom, no source)."""
JOIN = (
    "Trim each sheet along the dashed lines at its left and top. Lay it on its neighbours up to their thin lines, "
    "so that both marks of each side meet, and tape it."
)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a first page says: a heading, lines under it, cautions, and notes on what to know before cutting."""

    heading: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    controls: tuple[str, ...] = ()


def cover(
    told: Told, maps: Sequence[tuple[str, Layout]], width: float, height: float, *, going_on: bool = True
) -> list[Ink]:
    """The first page, from (0, 0) to (width, height) at most; it may be going on, on further ones.

    maps: names and layouts of more than one sheet.
    """
    pages: list[list[Ink]] = [[]]
    y = 0.0

    def put(ink: Ink, deep: float, after: float) -> None:
        nonlocal y
        if y and y + deep > height and going_on:
            pages.append([])
            y = 0.0
        pages[-1].append(ink.moved(0.0, y))
        y += deep + after

    def say(text: str, size: float, after: float = 0.0) -> None:
        lines = wrapped(text, width, size)
        rows = tuple(_line(words, 0.0, k * LEADING * size, size) for k, words in enumerate(lines))
        put(Ink(items=rows), len(lines) * LEADING * size, after)

    say(told.heading, TITLE)
    for k, text in enumerate(told.lines, start=1):
        say(text, TEXT, after=0.4 * GAP if k == len(told.lines) else 0.0)
    for text in (AT_FULL_SIZE, *CAUTIONS):
        say(text, TEXT, after=GAP if text == CAUTIONS[-1] else 0.0)
    for squares, deep in test_squares(width):
        put(squares, deep, GAP)
    say(SCALE, SMALL)
    if maps:
        say(JOIN, SMALL)
    for text in (*told.cautions, *told.controls, *(f"Note: {note}." for note in told.notes)):
        say(text, SMALL)
    if maps:
        y += 0.6 * GAP
        deep = height if going_on and not _fits(maps, width, height - y, height) else height - y
        put(sheet_maps(maps, width, deep), deep, 0.0)
    return [together(parts) for parts in pages]


def wrapped(text: str, width: float, size: float) -> list[str]:
    """A text in lines no longer than `width` mm at a letter height of `size` mm.

    >>> wrapped("Measure the test square before cutting.", 60.0, 4.0)
    ['Measure the test square', 'before cutting.']
    """
    return textwrap.wrap(text, max(8, int(width / (LETTER * size)))) or [""]


def _line(text: str, x: float, y: float, size: float) -> Words:
    """One line of words whose upper left corner is at (x, y)."""
    return Words(lines=(text,), at=np.array([x, y + LEADING * size / 2]), height=size, align="start")


def test_squares(width: float) -> list[tuple[Ink, float]]:
    """The squares side by side, or on narrow paper in rows of their own; each row with its height."""
    beside = sum(side for side, _ in SQUARES) + 2 * GAP <= width
    squares = [_square(side, name) for side, name in SQUARES]
    heights = [side for side, _ in SQUARES]
    if not beside:
        return list(zip(squares, heights, strict=True))
    return [(together([squares[0], squares[1].moved(heights[0] + 2 * GAP, 0.0)]), max(heights))]


def _square(side: float, name: str) -> Ink:
    """One test square with its sides named, its upper left corner at (0, 0)."""
    ring = polyline([(0, 0), (side, 0), (side, side), (0, side), (0, 0)])
    middle = np.array([side / 2, side / 2])
    half = np.array([0.0, side / 2 - 4.0])
    words = (
        Words(lines=("test square", name), at=middle, height=TEXT),
        Words(lines=(f"{name} across",), at=middle - half, height=SMALL),
        Words(lines=(f"{name} down",), at=middle - half[::-1], height=SMALL, angle=-90.0),
    )
    return Ink(items=(Stroke(role=LINE, curves=(ring,), closed=True), *words))


def sheet_maps(maps: Sequence[tuple[str, Layout]], width: float, height: float) -> Ink:
    """Small pictures of the layouts with their sheets, in as many columns as makes them largest."""
    scale, columns = _largest(maps, width, height)
    wide, high = _cell(len(maps), columns, width, height)
    return together(
        _map(name, layout, scale).moved(k % columns * (wide + GAP), k // columns * (high + GAP))
        for k, (name, layout) in enumerate(maps)
    )


def _largest(maps: Sequence[tuple[str, Layout]], width: float, height: float) -> tuple[float, int]:
    """The largest scale that the maps can have in a space, and in how many columns they then stand."""
    best: tuple[float, int] = (0.0, 1)
    for columns in range(1, len(maps) + 1):
        cell = _cell(len(maps), columns, width, height)
        scale = min(_scale(layout, cell) for _, layout in maps)
        best = max(best, (scale, columns), key=lambda found: found[0])
    return best


def _fits(maps: Sequence[tuple[str, Layout]], width: float, left: float, whole: float) -> bool:
    """Whether the maps can be read in what is left of a page, or would gain little from a page of their own."""
    if left < LEAST_MAP:
        return False
    scale, most = (_largest(maps, width, deep)[0] for deep in (left, whole))
    narrowest = min(layout.tiling.width for _, layout in maps) * scale
    return narrowest >= MAP_CELL or most < 1.3 * scale


def _cell(count: int, columns: int, width: float, height: float) -> tuple[float, float]:
    rows = -(-count // columns)
    return (width - GAP * (columns - 1)) / columns, (height - GAP * (rows - 1)) / rows


def _scale(layout: Layout, cell: tuple[float, float]) -> float:
    x0, y0, x1, y1 = layout.tiling.box
    return max(min(cell[0] / (x1 - x0), (cell[1] - LEADING * TEXT) / (y1 - y0)), 1e-3)


def _map(name: str, layout: Layout, scale: float) -> Ink:
    """One layout: its sheets with their names in the corner, its pieces with theirs where they have room."""
    tiling = layout.tiling
    x0, y0, _, _ = tiling.box
    shrink = Affine.translation(0.0, LEADING * TEXT) @ Affine.scaling(scale) @ Affine.translation(-x0, -y0)
    rings = [shrink.apply(ring) for ring in layout.ink.rings]
    strokes = [Stroke(role=LINE, curves=(polyline(ring),), closed=True) for ring in rings]
    walls = segments(curve for stroke in strokes for curve in stroke.curves)
    words = [_line(name, 0.0, 0.0, TEXT)]
    for column, row in tiling.kept:
        left, upper, right, lower = tiling.cell(column, row)
        cell = shrink.apply(np.array([(left, upper), (right, upper), (right, lower), (left, lower), (left, upper)]))
        strokes.append(Stroke(role=FAINT, curves=(polyline(cell),), closed=True))
        words += _sheet_name(sheet_name(column, row), cell, walls)
    sheets = Ink(items=(*strokes, *words))
    return Ink(items=(*sheets.items, *_piece_names(layout.ink.names, rings, sheets)))


def _sheet_name(called: str, cell: Array, walls: Array) -> list[Words]:
    """The name of a sheet in its cell, as near to the upper left corner as it stands free of outlines."""
    size = block((called,), 1.0)
    near = meets((*cell[0].tolist(), *cell[2].tolist()), walls)
    lines = np.concatenate([walls[near], np.stack([cell[:-1], cell[1:]], axis=1)])
    corner = cell[0] + np.array(size) * MAP_NAME / 2
    at, height = roomiest(cell, lines, size, 0.0, enough=MAP_NAME, near=corner, least=0.75 * MAP_NAME)
    return [Words(lines=(called,), at=at, height=min(height, MAP_NAME))] if height >= LEAST_MAP_NAME else []


def _piece_names(names: Sequence[str], rings: Sequence[Array], sheets: Ink) -> Iterator[Words]:
    """The name of each piece inside it, free of every line, or at least of every other word."""
    lines = sheets.chords()
    taken = segments(wall for words in sheets.words for wall in words.walls)
    for name, ring in zip(names, rings, strict=True):
        edges = np.stack([ring[:-1], ring[1:]], axis=1)
        around = (*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist())
        for others in (lines, taken):
            walls = np.concatenate([others[meets(around, others)], edges])
            size = block((name,), 1.0)
            at, height = roomiest(ring, walls, size, 0.0, enough=MAP_PIECE)
            if height >= LEAST_MAP_NAME:
                yield Words(lines=(name,), at=at, height=min(height, MAP_PIECE))
                break
