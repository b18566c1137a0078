"""Buttons and buttonholes: evenly spaced along what they were set on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import WARNING, Finding
from flatcut.pattern.runs import as_edge
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Button, Edge, Line, Piece
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Buttons(Check):
    """Three or more buttons or buttonholes along one edge or line are evenly spaced."""

    apart: float = length(1.0, ("buttons: spaces differ by", "how much their spaces may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Rows of buttons whose spaces differ."""
        for piece in subject.pattern.pieces:
            rows: dict[tuple[str, str], list[Button]] = {}
            for button in piece.buttons:
                rows.setdefault((button.kind, button.on), []).append(button)
            for (kind, on), row in rows.items():
                things: tuple[Edge | Line, ...] = (*piece.edges, *piece.lines)
                for thing in things:
                    if thing.uid == on and len(row) > 2:
                        yield from self._row(piece, thing, kind, row)

    def _row(self, piece: Piece, thing: Edge | Line, kind: str, row: list[Button]) -> Iterator[Finding]:
        edge = as_edge(piece, thing) if isinstance(thing, Line) else thing
        places = sorted(nearest_drawn(edge, button.at) for button in row)
        gaps = [after - before for before, after in pairwise(places)]
        differ = max(gaps) - min(gaps)
        if differ > self.apart:
            name = f"{piece.name}.{thing.name}"
            yield Finding(
                check=self.name,
                severity=WARNING,  # two groups along one edge may be meant
                where=(name,),
                text=f"the spaces of the {kind}s along {name} differ by {plain(differ)} mm, from {plain(min(gaps))} to "
                f"{plain(max(gaps))} mm; set them anew with button",
                figure=differ,
                passes=self.apart,
            )
