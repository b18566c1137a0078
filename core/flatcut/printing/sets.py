"""Sets of pages: all pieces on one set of sheets, or each by itself; the first page, or its words in a free corner."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, together
from flatcut.geometry.curves import polyline
from flatcut.printing.control import ControlLine, control_lines
from flatcut.printing.corner import free_corner
from flatcut.printing.cover import FAINT, GAP, Told, cover
from flatcut.printing.layout import Layout, arranged, as_drawn, own_size, window
from flatcut.printing.page import Page, Part, sheet_pages
from flatcut.printing.paper import Paper, paper
from flatcut.printing.settling import settled
from flatcut.units import plain

LARGE = 395.0
"""mm: between the margins of paper from A2 on there is room for the first page's words beside the pieces."""
BLOCK = 190.0
"""mm: width of those words."""
BLOCK_MAP = 150.0
"""mm: height of a map among them."""
MAP = "Map of the sheets"


@dataclass(frozen=True, kw_only=True)
class Setting:
    """How pieces go on paper; sheet: None for pages as large as their pieces; lengths in mm."""

    sheet: Paper | None
    margin: float
    overlap: float
    gap: float
    as_drawn: bool = False


def set_pages(parts: Sequence[Ink], told: Told, title: str, setting: Setting) -> Iterator[Page]:
    """All parts on one set of sheets. Large paper has the first page's words in a free corner, or beside the pieces
    unless that takes more of it.

    told: what the first page says; title: words on every sheet.
    """
    assert setting.sheet is not None
    layout = _laid(parts, setting)
    if _large(setting):
        wanted = [_cornered(layout, told), None if setting.as_drawn else _framed(parts, told, setting)]
        best = min((made for made in wanted if made is not None), key=_paper_taken, default=None)
        if best is not None and (setting.sheet.height is None or len(best.tiling.kept) <= len(layout.tiling.kept)):
            yield from sheet_pages(best, title)
            return
    layout, controls = _controlled(layout)
    yield from _first(layout.page, replace(told, controls=_said(controls)), _maps([(MAP, layout)]), setting)
    yield from sheet_pages(layout, title)


def piece_pages(parts: Sequence[Ink], told: Told, title: str, setting: Setting) -> Iterator[Page]:
    """Each part by itself, after one first page for all: on a page of its own size, or on sheets of its own."""
    layouts: list[tuple[str, Layout]] = []
    for part in parts:
        if setting.sheet is None:
            layout = own_size(part, margin=setting.margin, overlap=setting.overlap)
        else:
            layout = _laid([part], setting)
        layouts.append((part.names[0], _controlled(layout)[0]))
    first = setting.sheet if setting.sheet is not None and setting.sheet.height is not None else paper("a4")
    assert first.height is not None
    yield from _first((first.width, first.height), told, _maps(layouts), setting)
    for name, layout in layouts:
        yield from sheet_pages(layout, ", ".join(filter(None, (name, title))))


def _laid(parts: Sequence[Ink], setting: Setting) -> Layout:
    assert setting.sheet is not None
    if setting.as_drawn:
        return as_drawn(parts, setting.sheet, margin=setting.margin, overlap=setting.overlap)
    return arranged(parts, setting.sheet, margin=setting.margin, overlap=setting.overlap, gap=setting.gap)


def _paper_taken(layout: Layout) -> tuple[int, float]:
    """How many sheets a layout takes, and mm of their length."""
    return len(layout.tiling.kept), layout.page[1]


def _cornered(layout: Layout, told: Told) -> Layout | None:
    """The layout with the words of the first page in a free corner of one of its sheets; None where none is free."""
    deep = _depth(told) + (BLOCK_MAP if len(layout.tiling.kept) > 1 else 0.0)
    at = free_corner(layout, (BLOCK + 2 * GAP, deep + 2 * GAP))
    if at is None:
        return None
    frame = _frame(deep).moved(*at)
    controlled, controls = _controlled(replace(layout, ink=together([layout.ink, frame])))
    (words,) = cover(replace(told, controls=_said(controls)), _maps([(MAP, layout)]), BLOCK, deep, going_on=False)
    return replace(controlled, ink=together([controlled.ink, words.moved(at[0] + GAP, at[1] + GAP)]))


def _framed(parts: Sequence[Ink], told: Told, setting: Setting) -> Layout:
    """The layout with the words of the first page in a frame beside the pieces."""
    deep = _depth(told)
    layout = _laid([_frame(deep), *parts], setting)
    if len(layout.tiling.kept) > 1:
        deep += BLOCK_MAP
        layout = _laid([_frame(deep), *parts], setting)
    layout, controls = _controlled(layout)
    said = replace(told, controls=_said(controls))
    (words,) = cover(said, _maps([(MAP, layout)]), BLOCK, deep, going_on=False)
    x, y = layout.places[0]
    return replace(layout, ink=together([layout.ink, words.moved(x + GAP, y + GAP)]))


def _first(page: tuple[float, float], told: Told, maps: list[tuple[str, Layout]], setting: Setting) -> Iterator[Page]:
    wide, high = window(page, setting.margin)
    shift = (setting.margin, setting.margin)
    for ink in cover(told, maps, min(wide, 2 * BLOCK), high):
        yield Page(width=page[0], height=page[1], parts=(Part(ink=ink, shift=shift),))


def _maps(layouts: list[tuple[str, Layout]]) -> list[tuple[str, Layout]]:
    """Those that a map is of use for."""
    return [(name, layout) for name, layout in layouts if len(layout.tiling.kept) > 1]


def _controlled(layout: Layout) -> tuple[Layout, list[ControlLine]]:
    """A layout with its words set aside from where sheets join, with its control lines, and those."""
    layout = settled(layout)
    lines = control_lines(layout.tiling, layout.ink.chords(), list(layout.ink.rings))
    return replace(layout, ink=together([layout.ink, *(line.ink for line in lines)])), lines


def _large(setting: Setting) -> bool:
    """Whether the frame of the first page's words surely lies within one sheet."""
    assert setting.sheet is not None
    wide, high = window((setting.sheet.width, setting.sheet.height or np.inf), setting.margin)
    return wide >= BLOCK + 2 * GAP if setting.sheet.height is None else min(wide, high) >= LARGE


def _said(controls: list[ControlLine]) -> tuple[str, ...]:
    """What the control lines must measure, in a sentence."""
    if not controls:
        return ()
    lengths = sorted({f"{plain(line.long)} mm" for line in controls})
    some = "control lines" if len(controls) > 1 else "control line"
    return (f"The {some} must measure {' and '.join(lengths)} within 2 mm, across the sheets once they are joined.",)


def _frame(deep: float) -> Ink:
    """The frame that the words of the first page are set in."""
    x, y = BLOCK + 2 * GAP, deep + 2 * GAP
    ring = polyline([(0, 0), (x, 0), (x, y), (0, y), (0, 0)])
    return Ink(items=(Stroke(role=FAINT, curves=(ring,), closed=True),))


def _depth(told: Told) -> float:
    """Height of the words of the first page without a map, with what will be said of the control lines."""
    said = _said([ControlLine(start=np.zeros(2), end=np.array([500.0, 0.0]), long=500.0)] * 2)
    return cover(replace(told, controls=said), [], BLOCK, np.inf, going_on=False)[0].box[3] + GAP
