"""What a sheet bears beside the pieces: corner ticks, match marks, where to trim and where to lay on, its name.

A sheet is trimmed along the dashed lines on its left and at its top, and laid on its neighbours there up to the thin
lines that they show. Two match marks on each shared side make a skew seen: of each, one half is on the sheet below and
one on the sheet laid on it, and on the line where they join the two make one figure. Both halves bear the names of the
two sheets.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import Role
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, polyline
from flatcut.marking.labels import block
from flatcut.marking.room import clearance, roomiest
from flatcut.printing.tiling import Box, Tiling, meets, sheet_name

MATCH, TICK = Role(name="match", width=0.2), Role(name="corner", width=0.3)
"""Match lines and corner ticks are no wider than 0.3 mm, or they could not be laid on each other closely."""
TRIM = Role(name="trim", width=MATCH.width, dashes=(2.0, 2.0))
NO_CHORDS = np.zeros((0, 2, 2))
CORNER = 6.0
"""mm: each arm of a corner tick."""
MARK = 4.0
"""mm: half the width of a match mark."""
MARK_WORDS, BESIDE = 3.5, 1.0
"""mm: letter height of the names beside the half of a match mark, and how far they stand off it."""
LEAST_NAMES = 2.3
"""mm: the same where the words of a label leave no more room."""
SIDE_WORDS = 3.5
"""mm: letter height of the words along a side; they stand in the overlap, and are left out where it is narrower."""
NAME, LEAST_NAME = 9.0, 3.0
"""mm: letter height of a sheet's name."""
AT = (0.25, 0.75)
"""Where the match marks of a side stand, as parts of its length; they give way to lines by up to GIVE.

No farther toward a corner of an A4 sheet, for there the names beside the marks of two sides would meet.
"""
GIVE = np.array([0.0, *(sign * 0.02 * k for k in range(1, 7) for sign in (1, -1))])
WORDS_GIVE = np.array([0.0, 0.03, -0.03, 0.06, -0.06, 0.09, -0.09, 0.12, -0.12, 0.15, -0.15])
"""How far words along a side give way to lines, from its middle."""
ROOM = 1.6
"""How much larger than a mark the box is that should be free of lines."""
LONGEST_NAMES = 9
"""Letters in the names of two sheets, such as AA9-AB10."""
REACH = ROOM * (MARK + BESIDE + block(("A" * LONGEST_NAMES,), MARK_WORDS)[0]) + 1.0
"""mm around a sheet within which lines matter for its marks: both sheets of a side then find the same places."""


def sheet_marks(tiling: Tiling, column: int, row: int, chords: Array, lettered: Array = NO_CHORDS) -> Ink:
    """The marks of one sheet; chords: (n, 2, 2) of all that is drawn on the layout, lettered: of its words alone."""
    box = tiling.window(column, row)
    x0, y0, x1, y1 = box
    strokes = [Stroke(role=TICK, curves=tuple(_corners(box)))]
    words: list[Words] = []
    along: list[tuple[str, float, tuple[float, float], bool]] = []
    for side, other_column, other_row in tiling.beside(column, row):
        other = sheet_name(other_column, other_row)
        before = side in ("left", "top")
        at = {"left": x0, "top": y0, "right": x1 - tiling.overlap, "bottom": y1 - tiling.overlap}[side]
        upright = side in ("left", "right")
        guide = line((at, y0), (at, y1)) if upright else line((x0, at), (x1, at))
        strokes.append(Stroke(role=TRIM if before else MATCH, curves=(guide,)))
        shared = (y0, y1) if upright else (x0, x1)
        pair = (other, sheet_name(column, row)) if before else (sheet_name(column, row), other)
        names = "-".join(pair)
        for place in match_places(at, shared, upright, names, chords):
            strokes.append(Stroke(role=MATCH, curves=tuple(_half(place, upright, before))))
            words.append(_beside(names, place, upright, before, lettered))
        said = f"trim, lay on {other}" if before else f"{other} up to this line"
        taken = 2 * MARK if upright else block((names,), MARK_WORDS)[0]
        between = (AT[1] - AT[0]) * (shared[1] - shared[0]) - taken
        if tiling.overlap >= SIDE_WORDS + 1 and block((said,), SIDE_WORDS)[0] <= between:
            along.append((said, at + tiling.overlap / 2, shared, upright))
    for one in along:  # when the marks of all sides have their names
        words.append(_along(*one, np.concatenate([chords, Ink(items=tuple(words)).chords()])))
    marks = Ink(items=(*strokes, *words))
    walls = np.concatenate([chords, marks.chords()])
    name = free_words((sheet_name(column, row),), box, walls, inset=tiling.overlap + 2, height=NAME, least=LEAST_NAME)
    return Ink(items=(*marks.items, *name))


def match_places(middle: float, shared: tuple[float, float], upright: bool, names: str, chords: Array) -> list[Array]:
    """Where the two marks of a shared side stand, (2,) each, on the line where the sheets join: the same seen from
    either sheet.
    """
    start, end = shared
    wide, high = block((names,), MARK_WORDS)
    size = (2 * (MARK + BESIDE + wide), 2 * MARK) if upright else (max(wide, 2 * MARK), 2 * (MARK + BESIDE + high))
    found = []
    for share in AT:
        along = start + (share + GIVE) * (end - start)
        spots = np.stack([np.full(len(along), middle), along] if upright else [along, np.full(len(along), middle)], 1)
        free = np.minimum(clearance(spots, size, chords), ROOM)
        found.append(spots[int(np.argmax(free))])  # of equal ones the first, which gives way least
    return found


def _corners(box: Box) -> Iterator[Curve]:
    x0, y0, x1, y1 = box
    for x, y, dx, dy in ((x0, y0, 1, 1), (x1, y0, -1, 1), (x1, y1, -1, -1), (x0, y1, 1, -1)):
        yield polyline([(x + dx * CORNER, y), (x, y), (x, y + dy * CORNER)])


def _half(at: Array, upright: bool, before: bool) -> Iterator[Curve]:
    """One half of a diamond with a cross in it, cut along the line where the sheets join. before: the half of the sheet
    that is laid on the other, to the right of that line or below it.
    """
    across = np.array([1.0, 0.0]) if upright else np.array([0.0, 1.0])
    along, out = across[::-1] * MARK, across * (MARK if before else -MARK)
    yield polyline([at - along, at + out, at + along])
    yield line(at, at + out)
    yield line(at - along, at + along)


def _beside(names: str, at: Array, upright: bool, before: bool, lettered: Array) -> Words:
    """The names of two sheets beside one half of their mark, smaller where they would lie on other words."""
    across = np.array([1.0, 0.0]) if upright else np.array([0.0, 1.0])
    for height in np.linspace(MARK_WORDS, LEAST_NAMES, 5).tolist():
        wide, high = block((names,), height)
        away = MARK + BESIDE + (wide if upright else high) / 2
        found = Words(lines=(names,), at=at + across * (away if before else -away), height=height)
        if clearance(found.at[None], (wide, high), lettered)[0] > 1.0:
            break
    return found


def _along(said: str, middle: float, shared: tuple[float, float], upright: bool, chords: Array) -> Words:
    """Words in the overlap, between the marks, where they are free of lines if there is such a place."""
    start, end = shared
    along = start + (0.5 + WORDS_GIVE) * (end - start)
    spots = np.stack([np.full(len(along), middle), along] if upright else [along, np.full(len(along), middle)], 1)
    wide, high = block((said,), SIDE_WORDS)
    free = np.minimum(clearance(spots, (high, wide) if upright else (wide, high), chords), 1.2)
    at = spots[int(np.argmax(free))]
    return Words(lines=(said,), at=at, height=SIDE_WORDS, angle=-90.0 if upright else 0.0)


def free_words(
    lines: tuple[str, ...], box: Box, chords: Array, *, inset: float, height: float, least: float
) -> tuple[Words, ...]:
    """Words as near to the upper left corner of a box as they stand free of chords (n, 2, 2); none without any room.

    inset: mm that they keep from the sides; height, least: of the letters, at most and at least.
    """
    x0, y0, x1, y1 = box
    ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], dtype=float)
    ring += inset * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1), (1, 1)])
    walls = np.concatenate([chords[meets(box, chords)], np.stack([ring[:-1], ring[1:]], axis=1)])
    size = block(lines, 1.0)
    corner = ring[0] + np.array(size) * height / 2
    at, found = roomiest(ring, walls, size, 0.0, enough=height, near=corner, least=0.75 * height)
    return (Words(lines=lines, at=at, height=min(found, height)),) if found >= least else ()
