"""What a plotter or a laser cuts, and nothing else: one path for each piece, without words, marks or test squares."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, together
from flatcut.drawing.roles import Role
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line
from flatcut.geometry.rows import rows
from flatcut.marking.derived import Derived
from flatcut.marking.room import as_ring
from flatcut.marking.symbols import symbol
from flatcut.pattern.values import Piece, outline
from flatcut.printing.page import Page, Part
from flatcut.printing.paper import LONGEST, Paper
from flatcut.units import plain

HAIR = Role(name="cut-only", width=0.1)
"""The line that is cut: programs for lasers take lines as thin as this for cuts (common practice, no source)."""


def cut_path(piece: Piece, derived: Derived) -> Ink:
    """All that is cut of a piece as one path: its cut line or outline, notches as deep as they are, cut-outs, holes."""
    ring = chain(outline(piece), within=1e-3) if derived.cut is None else derived.cut.curve
    cuts: list[Curve] = [ring]
    cuts += [inner.curve for inner in piece.lines if inner.kind == "cut-out"]
    for tick in derived.ticks:
        # a slit is drawn along the line to the stitch line, and cut as deep as it is stated
        notch = tick.notch
        cuts += tick.shape or _slit(tick.foot, tick.tip, notch.depth)
    for hole in piece.holes:
        cuts += symbol(piece, hole)
    stroke = Stroke(role=HAIR, curves=tuple(cuts), of=piece.uid)
    return Ink(items=(stroke,), rings=(as_ring([ring]),), names=(piece.name,))


def _slit(foot: Array, tip: Array, depth: float) -> tuple[Curve, ...]:
    long = float(np.hypot(*(foot - tip)))
    return (line(tip, tip + (foot - tip) * min(depth / long, 1.0)),) if long > 1e-6 else ()


def cut_pages(parts: Sequence[Ink], sheet: Paper | None, *, margin: float, gap: float) -> list[Page]:
    """The pieces on sheets, whole ones only, or each on a page of its own size without a sheet; in their order.

    A roll is one page as long as the pieces take. Errors: UsageError for a piece that is larger than the sheet.
    """
    if sheet is None:
        return [_page([part], [(0.0, 0.0)], None, margin, part.names[0]) for part in parts]
    wide, high = sheet.width - 2 * margin, (sheet.height or LONGEST) - 2 * margin
    for part in parts:
        x0, y0, x1, y1 = part.box
        if x1 - x0 > wide + 1e-6 or y1 - y0 > high + 1e-6:
            raise UsageError(
                f"{part.names[0]} is {plain(x1 - x0)} by {plain(y1 - y0)} mm and is cut whole, and the sheet has "
                f"{plain(wide)} by {plain(high)} mm between its margins; take a larger one, such as a roll"
            )
    pages: list[Page] = []
    waiting: list[Ink] = []
    for part in parts:
        if waiting and _deep([*waiting, part], wide, gap) > high + 1e-6:
            pages.append(_laid(waiting, sheet, wide, margin, gap, len(pages)))
            waiting = []
        waiting.append(part)
    return [*pages, _laid(waiting, sheet, wide, margin, gap, len(pages))]


def _deep(parts: Sequence[Ink], wide: float, gap: float) -> float:
    boxes = [part.box for part in parts]
    return max(y + box[3] - box[1] for (_, y), box in zip(rows(boxes, wide, gap), boxes, strict=True))


def _laid(parts: Sequence[Ink], sheet: Paper, wide: float, margin: float, gap: float, number: int) -> Page:
    places = rows([part.box for part in parts], wide, gap)
    return _page(parts, places, sheet, margin, f"sheet {number + 1}")


def _page(
    parts: Sequence[Ink], places: Sequence[tuple[float, float]], sheet: Paper | None, margin: float, name: str
) -> Page:
    ink = together(part.moved(x - part.box[0], y - part.box[1]) for part, (x, y) in zip(parts, places, strict=True))
    _, _, x1, y1 = ink.box
    width = x1 + 2 * margin if sheet is None else sheet.width
    height = y1 + 2 * margin if sheet is None or sheet.height is None else sheet.height
    return Page(width=width, height=height, parts=(Part(ink=ink, shift=(margin, margin)),), name=name)
