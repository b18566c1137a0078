"""Every piece with allowances has a cut line: one ring that does not cross itself."""

from __future__ import annotations

from collections.abc import Iterator

from flatcut.checks.check import FAULT, WARNING, Finding
from flatcut.derive.cutline import cut_line
from flatcut.errors import GeometryError
from flatcut.geometry.curves import flatten
from flatcut.geometry.region import crossing_place
from flatcut.pattern.values import Pattern
from flatcut.units import plain


def check(pattern: Pattern) -> Iterator[Finding]:
    """Pieces whose cut line cannot be made, crosses itself, or was made with a warning."""
    for piece in pattern.pieces:
        try:
            cut = cut_line(piece)
        except GeometryError as error:
            yield Finding(check="cut-line", severity=FAULT, where=(piece.name,), text=str(error))
            continue
        if cut is None:
            continue
        where = crossing_place(flatten(cut.curve, tolerance=0.02)[:-1])
        if where is not None:
            text = f"the cut line of {piece.name} crosses itself near x {plain(where[0])}, y {plain(where[1])} mm"
            yield Finding(
                check="cut-line", severity=FAULT, where=(piece.name,), text=f"{text}; redraw the outline there"
            )
        for warning in cut.warnings:
            yield Finding(check="cut-line", severity=WARNING, where=(piece.name,), text=warning)
