"""Where each piece lies on the paper, and the sheets that come of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.drawing.ink import Ink, together
from flatcut.geometry.arrays import Array
from flatcut.geometry.rows import rows
from flatcut.printing.paper import LONGEST, Paper
from flatcut.printing.tiling import Tiling, tiling

CLOSE = 0.01
"""mm: sheets that reach beyond a layout by less than this need not be centred on it."""
SPRAWL = 0.01
"""How much dearer a layout counts for being once longer than it is wide: it lies badly on a table and on the map."""
MOST_COLUMNS = 24
"""Widths of a row that are tried, in sheets: wider than any cutting table."""


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Pieces on paper, and the sheets they are cut up into; page: width and height of every sheet of paper, mm.

    places: where the upper left corner of each part went.
    """

    ink: Ink
    page: tuple[float, float]
    margin: float
    tiling: Tiling
    places: tuple[tuple[float, float], ...] = ()


def window(page: tuple[float, float], margin: float) -> tuple[float, float]:
    """Width and height between the margins.

    >>> window((210, 297), 10)
    (190, 277)
    """
    return page[0] - 2 * margin, page[1] - 2 * margin


def arranged(parts: Sequence[Ink], sheet: Paper, *, margin: float, overlap: float, gap: float) -> Layout:
    """Parts side by side in rows, in their order, in the width that takes the fewest sheets."""
    boxes = [part.box for part in parts]
    chords = [part.chords() for part in parts]
    rings = [part.rings for part in parts]
    wide = window((sheet.width, 0.0), margin)[0]
    whole = sum(x1 - x0 + gap for x0, _, x1, _ in boxes) - gap
    widest = max(x1 - x0 for x0, _, x1, _ in boxes)
    best: tuple[float, list[tuple[float, float]], Tiling] | None = None
    seen = set()
    for columns in range(1, MOST_COLUMNS + 1):
        across = wide + (columns - 1) * (wide - overlap)
        places = rows(boxes, max(across, widest), gap)
        shape = tuple(places)
        if shape not in seen:
            seen.add(shape)
            moves = np.array(places) - np.array([box[:2] for box in boxes])
            lines = np.concatenate([part + move for part, move in zip(chords, moves, strict=True)])
            inside = [ring + move for some, move in zip(rings, moves, strict=True) for ring in some]
            cut_up = _cut_up(_around(boxes, places), sheet, margin, overlap, lines, inside)
            x0, y0, x1, y1 = cut_up.box
            aspect = max((x1 - x0) / (y1 - y0), (y1 - y0) / (x1 - x0))
            score = len(cut_up.kept) * (1 + SPRAWL * aspect)
            if best is None or score < best[0]:
                best = score, places, cut_up
        if sheet.height is None or across >= whole:
            break  # a roll is as wide as it is; one row is as wide as it gets
    assert best is not None
    _, places, cut_up = best
    laid = together(part.moved(x - box[0], y - box[1]) for part, box, (x, y) in zip(parts, boxes, places, strict=True))
    return Layout(ink=laid, page=_page(cut_up, margin), margin=margin, tiling=cut_up, places=tuple(places))


def as_drawn(parts: Sequence[Ink], sheet: Paper, *, margin: float, overlap: float) -> Layout:
    """Parts where they lie."""
    ink = together(parts)
    cut_up = _cut_up(ink.box, sheet, margin, overlap, ink.chords(), list(ink.rings))
    return Layout(ink=ink, page=_page(cut_up, margin), margin=margin, tiling=cut_up)


def own_size(part: Ink, *, margin: float, overlap: float) -> Layout:
    """One part on a page of its own size; beyond the longest page it is cut up."""
    x0, y0, x1, y1 = part.box
    sheet = Paper(name="own", width=min(x1 - x0 + 2 * margin, LONGEST), height=min(y1 - y0 + 2 * margin, LONGEST))
    return as_drawn([part], sheet, margin=margin, overlap=overlap)


def _cut_up(
    extent: tuple[float, float, float, float],
    sheet: Paper,
    margin: float,
    overlap: float,
    chords: Array,
    rings: list[Array],
) -> Tiling:
    """The sheets for an extent: centred on it, so that no edge runs along a margin, unless that takes more of them.

    A roll is cut off where the pieces end; a longer one than a page can be is cut into equal lengths.
    """
    x0, y0, x1, y1 = extent
    height = sheet.height
    if height is None:
        longest = LONGEST - 2 * margin
        lengths = max(1, int(np.ceil((y1 - y0 - overlap) / (longest - overlap))))
        height = (y1 - y0 - overlap) / lengths + overlap + 2 * margin
    wide, high = window((sheet.width, height), margin)
    flush = tiling(extent, (wide, high), overlap, chords, rings)
    left, top, right, bottom = flush.box
    aside, above = (right - left - (x1 - x0)) / 2, (bottom - top - (y1 - y0)) / 2
    if aside < CLOSE and above < CLOSE:
        return flush
    centred = tiling((left - aside, top - above, right - aside, bottom - above), (wide, high), overlap, chords, rings)
    return centred if len(centred.kept) <= len(flush.kept) else flush


def _page(cut_up: Tiling, margin: float) -> tuple[float, float]:
    return cut_up.width + 2 * margin, cut_up.height + 2 * margin


def _around(
    boxes: Sequence[tuple[float, float, float, float]], places: Sequence[tuple[float, float]]
) -> tuple[float, float, float, float]:
    far = np.array([(x + x1 - x0, y + y1 - y0) for (x0, y0, x1, y1), (x, y) in zip(boxes, places, strict=True)])
    return 0.0, 0.0, float(far[:, 0].max()), float(far[:, 1].max())
