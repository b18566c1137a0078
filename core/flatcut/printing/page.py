"""Pages: what a format turns into a file, sheet by sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.geometry.arrays import Array
from flatcut.marking.labels import block
from flatcut.printing.layout import Layout
from flatcut.printing.marks import REACH, free_words, sheet_marks
from flatcut.printing.tiling import Box, meets, sheet_name

CAUTIONS = ("Measure the test square before cutting.", "Make a toile first.")
AT_FULL_SIZE = "Print at 100 %, not fitted to the page."
MARGIN_WORDS, LEAST_MARGIN_WORDS = 3.5, 1.5
"""mm: letter height of the words in the margins, and the smallest that is read at all, for titles that are long."""
AWAY = 0.6
"""Middle of the words in a margin from its edge, as a part of their height."""
LEAST_MARGIN = 1.4 * MARGIN_WORDS
"""mm: words are not set in margins narrower than this."""
LONGEST_LINE = 44
"""Letters in a line of words among the pieces."""
BLEED = 0.5
"""mm beyond its window that a sheet is drawn to, so that a line along its edge has its whole width."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """Ink set down on a page, moved by `shift`; clip: what is seen of it, mm of the page, or None for all."""

    ink: Ink
    shift: tuple[float, float] = (0.0, 0.0)
    clip: Box | None = None

    def visible(self) -> Iterator[Stroke]:
        """The strokes that a clipped part may show."""
        if self.clip is None:
            yield from self.ink.strokes
            return
        x, y = self.shift
        for stroke in self.ink.strokes:
            x0, y0, x1, y1 = stroke.box
            if x0 + x <= self.clip[2] and x1 + x >= self.clip[0] and y0 + y <= self.clip[3] and y1 + y >= self.clip[1]:
                yield stroke

    def legible(self) -> Iterator[Words]:
        """The words that a clipped part may show."""
        for words in self.ink.words:
            if self.clip is None:
                yield words
                continue
            points = words.outline.nodes + np.array(self.shift)
            (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
            if x0 <= self.clip[2] and x1 >= self.clip[0] and y0 <= self.clip[3] and y1 >= self.clip[1]:
                yield words


@dataclass(frozen=True, kw_only=True)
class Page:
    """A page of paper, mm; name: of the sheet, as it is told apart from the others."""

    width: float
    height: float
    parts: tuple[Part, ...]
    name: str = ""


def sheet_pages(layout: Layout, title: str) -> Iterator[Page]:
    """One page for each sheet of a layout, in rows; title: words that tell this set of sheets from others."""
    tiling, margin = layout.tiling, layout.margin
    drawn, lettered = layout.ink.chords(), Ink(items=layout.ink.words).chords()
    alone = len(tiling.kept) == 1
    for number, (column, row) in enumerate(tiling.kept, start=1):
        box = tiling.window(column, row)
        chords = drawn[meets((box[0] - REACH, box[1] - REACH, box[2] + REACH, box[3] + REACH), drawn)]
        shift = (margin - box[0], margin - box[1])
        clip = (margin - BLEED, margin - BLEED, box[2] + shift[0] + BLEED, box[3] + shift[1] + BLEED)
        name = sheet_name(column, row)
        marks = Ink() if alone else sheet_marks(tiling, column, row, chords, lettered)
        where = f"sheet {name} (column {name.rstrip('0123456789')}, row {row + 1}), {number} of {len(tiling.kept)}"
        below = "; ".join(text for text in ("" if alone else where, title) if text)
        parts = [Part(ink=layout.ink, shift=shift, clip=clip), Part(ink=marks, shift=shift, clip=clip)]
        if margin >= LEAST_MARGIN:
            parts.append(Part(ink=_in_margins(layout.page, margin, below)))
        else:
            walls = np.concatenate([chords, marks.chords()])
            parts.append(Part(ink=_inside(box, tiling.overlap, below, walls), shift=shift))
        yield Page(width=layout.page[0], height=layout.page[1], parts=tuple(parts), name=name)


def _in_margins(page: tuple[float, float], margin: float, below: str) -> Ink:
    """A line of words above and one below what is printed, close to it: the rim of the paper takes no ink."""
    wide = page[0] - 2 * margin
    words = []
    above = next(text for text in _shorter() if text == CAUTIONS[0] or block((text,), MARGIN_WORDS)[0] <= wide)
    for text, y in ((above, margin), (below, page[1] - margin)):
        if text:
            height = max(min(MARGIN_WORDS, wide / block((text,), 1.0)[0]), LEAST_MARGIN_WORDS)
            away = AWAY * height if y > margin else -AWAY * height
            words.append(Words(lines=(text,), at=np.array([margin, y + away]), height=height, align="start"))
    return Ink(items=tuple(words))


def _shorter() -> Iterator[str]:
    """What every sheet says, and less and less of it: the words are to be read, and narrow paper has room for few."""
    yield " ".join((AT_FULL_SIZE, *CAUTIONS))
    yield " ".join(("Print at 100 %.", *CAUTIONS))
    yield " ".join(("Print at 100 %.", CAUTIONS[0]))
    yield CAUTIONS[0]


def _inside(box: Box, overlap: float, below: str, chords: Array) -> Ink:
    """The same words among the pieces, where they are free of lines, for margins too narrow for them."""
    lines = (AT_FULL_SIZE, *CAUTIONS, *wrap(below, LONGEST_LINE))
    height, least = MARGIN_WORDS, LEAST_MARGIN_WORDS
    return Ink(items=free_words(lines, box, chords, inset=overlap + 2, height=height, least=least))
