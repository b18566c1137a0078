"""Pages of instructions that go with a printed pattern: what is cut, and in which order it is sewn."""

from __future__ import annotations

from collections.abc import Iterator

from flatcut.errors import GeometryError
from flatcut.lesson.cautions import cautions
from flatcut.lesson.pages import PAGES, sewing_pages
from flatcut.lesson.sewing import sewing
from flatcut.listing.cut_list import rows
from flatcut.pattern.values import Pattern
from flatcut.printing.page import Page
from flatcut.units import plain


def instruction_pages(pattern: Pattern, title: str, paper: str) -> Iterator[Page]:
    """The pages; where the paper is none that is read by hand they are on A4."""
    said = " ".join((title, *(piece.caption.text for piece in pattern.pieces)))
    lines = [*cautions(said), *_cut(pattern)]
    order = sewing(pattern)
    if not order:
        lines.append("No seam is stated, so that the order of sewing is not known.")
    yield from sewing_pages(title, lines, order, paper if paper in PAGES else "a4")


def _cut(pattern: Pattern) -> Iterator[str]:
    """What is cut: of each material, each piece with how often and how large."""
    try:
        every = rows(pattern)
    except GeometryError as error:
        yield f"Cut list: {error}."
        return
    for material in dict.fromkeys(row.material for row in every):
        told = [
            f"{row.piece} {row.words} ({plain(row.along / 10, 1)} by {plain(row.across / 10, 1)} cm)"
            for row in every
            if row.material == material
        ]
        yield f"Cut{f' from {material}' if material else ''}, along the grain and across it: {', '.join(told)}."
