"""A lesson on pages of paper: words, pictures and figures one below the other, no picture cut in two."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words, together
from flatcut.drawing.roles import Role
from flatcut.geometry.curves import line
from flatcut.lesson.telling import shown
from flatcut.lesson.values import Card, Lesson, Plot, Said, Sewn, Stage
from flatcut.marking.lettering import LEADING
from flatcut.printing.cover import wrapped
from flatcut.printing.page import Page, Part
from flatcut.worn.caution import CAUTION

PAGES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm (ISO 216; ANSI/ASME Y14.1)."""
MARGIN = 16.0
ACROSS = 178.0
"""mm of words and pictures: as wide as a picture that stands alone, on either paper."""
TITLE, CHAPTER, HEAD, TEXT, SMALL = 6.0, 4.8, 4.0, 3.4, 2.6
"""mm: letter heights."""
GAP = 3.0
COLUMNS, PLOT_COLUMNS = 2, 3
COLUMN, MOST_COLUMNS = 13.5, 8
"""mm of a column of a table, and how many stand side by side."""
FRAME, RULE = Role(name="frame", width=0.15), Role(name="rule", width=0.3)

Block = tuple[Ink, float]
"""Ink from (0, 0) on, and how deep it is, mm."""


class _Flow:
    """Blocks set one below the other, on as many pages as that takes."""

    def __init__(self, size: tuple[float, float], title: str) -> None:
        self._size, self._title = size, title
        self._pages: list[list[Ink]] = [[]]
        self._y = 0.0

    @property
    def _deep(self) -> float:
        return self._size[1] - 2 * MARGIN

    def put(self, blocks: Sequence[Block], *, after: float = 0.0) -> None:
        """Blocks that stay together where a page has room for them all."""
        whole = sum(deep for _, deep in blocks)
        if self._y + whole > self._deep and (whole <= self._deep or self._y > self._deep / 2):
            self._turn()
        for ink, deep in blocks:
            if self._y + deep > self._deep:
                self._turn()
            self._pages[-1].append(ink.moved(MARGIN, MARGIN + self._y))
            self._y += deep
        self._y += after

    def _turn(self) -> None:
        if self._pages[-1]:
            self._pages.append([])
        self._y = 0.0

    def pages(self) -> Iterator[Page]:
        """The pages, each with its number."""
        for number, parts in enumerate(self._pages, start=1):
            foot = _line(f"{self._title}: {number} of {len(self._pages)}", MARGIN, self._size[1] - 11.0, SMALL)
            ink = together([*parts, Ink(items=(foot,))])
            yield Page(width=self._size[0], height=self._size[1], parts=(Part(ink=ink),))


def lesson_pages(lesson: Lesson, paper: str = "a4") -> Iterator[Page]:
    """The whole lesson. paper: one of PAGES."""
    flow = _Flow(PAGES[paper], lesson.title)
    flow.put([_words(lesson.title, TITLE)], after=1.0)
    for text in (*lesson.introduction, *(f"! {caution}" for caution in lesson.cautions)):
        flow.put([_words(text.replace("`", ""), TEXT)], after=1.5)
    if lesson.stages:
        flow.put([_words("The figures in the pictures are millimetres.", SMALL)], after=GAP)
    for number, stage in enumerate(lesson.stages, start=1):
        _put_stage(flow, stage, number, lesson.sizes)
    if lesson.sewing:
        put_sewing(flow, lesson.sewing)
    if lesson.worn is not None:
        flow.put([_chapter("Worn on a form"), _words(f"! {CAUTION}", SMALL), *_pictures([lesson.worn])])
    yield from flow.pages()


def _put_stage(flow: _Flow, stage: Stage, number: int, sizes: Sequence[str]) -> None:
    blocks: list[Block] = []
    if stage.heading:
        blocks += [_chapter(stage.heading), *(_words(text.replace("`", ""), TEXT) for text in stage.text)]
    blocks.append(_words(f"{number}. {stage.title}", HEAD))
    for said in stage.said:
        blocks.append(_words(said.words, TEXT))
        blocks += [_words(f"! {warning}", SMALL) for warning in said.warnings]
    blocks += _pictures([card for card in (stage.before, stage.after) if card is not None])
    flow.put(blocks, after=1.0)
    for plot in stage.plots:
        flow.put([_words(f"{plot.head}:", SMALL), *_plotted(plot)], after=1.0)
    for said in stage.said:
        flow.put(list(_figures(said, sizes)), after=1.0)
    flow.put([], after=GAP)


def put_sewing(flow: _Flow, sewing: Sequence[Sewn]) -> None:
    """The order of sewing."""
    for number, one in enumerate(sewing, start=1):
        blocks = [_chapter("The order of sewing")] if number == 1 else []
        blocks.append(_words(f"{number}. {one.words}", TEXT))
        blocks += _pictures([one.card]) if one.card is not None else []
        flow.put(blocks, after=1.5)


def sewing_pages(title: str, lines: Sequence[str], sewing: Sequence[Sewn], paper: str = "a4") -> Iterator[Page]:
    """A page, or more, of instructions: lines of words, then the order of sewing."""
    flow = _Flow(PAGES[paper], title)
    flow.put([_words(title, TITLE)], after=1.0)
    for text in lines:
        flow.put([_words(text, TEXT)], after=1.0)
    if sewing:
        put_sewing(flow, sewing)
    yield from flow.pages()


def _pictures(cards: Sequence[Card]) -> list[Block]:
    """Pictures in frames, side by side where there is room for both."""
    if sum(card.size[0] for card in cards) <= ACROSS:
        x, parts = 0.0, []
        for card in cards:
            parts.append(_framed(card).moved(x, 0.0))
            x = ACROSS - cards[-1].size[0]
        return [(together(parts), max(card.size[1] for card in cards) + 1.5)]
    return [(_framed(card), card.size[1] + 1.5) for card in cards]


def _framed(card: Card) -> Ink:
    wide, high = card.size
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high), (0.0, 0.0)]
    sides = tuple(line(a, b) for a, b in pairwise(corners))
    return Ink(items=(*card.ink.items, Stroke(role=FRAME, curves=sides)))


def _figures(said: Said, sizes: Sequence[str]) -> Iterator[Block]:
    """The command and its figures, in columns, or with sizes as a table."""
    yield _words(f"flatcut {said.line}", SMALL)
    if sizes and said.figures:
        for k in range(0, len(sizes), MOST_COLUMNS):
            yield from _table(said, sizes, slice(k, k + MOST_COLUMNS))
        return
    texts = [str(figure) for figure in said.figures]
    wide = ACROSS / COLUMNS
    for k in range(0, len(texts), COLUMNS):
        parts = [_words(text, SMALL, width=wide - 4.0) for text in texts[k : k + COLUMNS]]
        yield together(ink.moved(n * wide, 0.0) for n, (ink, _) in enumerate(parts)), max(deep for _, deep in parts)


def _plotted(plot: Plot) -> Iterator[Block]:
    """Points to draw by, in columns read downward."""
    deep = -(-len(plot.rows) // PLOT_COLUMNS)
    wide = ACROSS / PLOT_COLUMNS
    for k in range(deep):
        parts = [_words(f"{name}: {one}, {two}", SMALL, width=wide - 3.0) for name, one, two in plot.rows[k::deep]]
        yield together(ink.moved(n * wide, 0.0) for n, (ink, _) in enumerate(parts)), max(part[1] for part in parts)


def _table(said: Said, sizes: Sequence[str], some: slice) -> Iterator[Block]:
    """A row a figure and a column a size, with a rule under the head; units stand with the figure."""
    columns = sizes[some]
    first = ACROSS - len(columns) * COLUMN

    def row(label: str, cells: Sequence[str]) -> Block:
        ink, deep = _words(label, SMALL, width=first - 2.0)
        y = LEADING * SMALL / 2
        words = (
            Words(lines=(cell,), at=np.array([first + (k + 0.5) * COLUMN, y]), height=SMALL)
            for k, cell in enumerate(cells)
        )
        return Ink(items=(*ink.items, *words)), deep

    head, deep = row("figure", [wrapped(size, COLUMN, SMALL)[0] for size in columns])
    rule = Stroke(role=RULE, curves=(line((0.0, deep), (ACROSS, deep)),))
    yield Ink(items=(*head.items, rule)), deep + 0.8
    for figure in said.figures:
        unit = f", {figure.unit}" if figure.unit else ""
        values = said.sizes.get(figure.label, (shown(figure),) * len(sizes))[some]
        yield row(f"{figure.label}{unit}", [value.removesuffix(figure.unit).strip() for value in values])


def _chapter(text: str) -> Block:
    ink, deep = _words(text, CHAPTER)
    rule = Stroke(role=RULE, curves=(line((0.0, deep), (ACROSS, deep)),))
    return Ink(items=(*ink.items, rule)), deep + 1.5


def _words(text: str, size: float, *, width: float = ACROSS) -> Block:
    rows = wrapped(text, width, 0.92 * size)
    high = LEADING * size
    return Ink(items=tuple(_line(row, 0.0, k * high, size) for k, row in enumerate(rows))), len(rows) * high


def _line(text: str, x: float, y: float, size: float) -> Words:
    return Words(lines=(text,), at=np.array([x, y + LEADING * size / 2]), height=size, align="start")
