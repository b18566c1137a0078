"""Buttons and buttonholes: evenly spaced along what they were set on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding, plural
from flatcut.pattern.runs import as_edge
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Button, Edge, Line, Piece
from flatcut.pattern.walking import point_at
from flatcut.units import plain

NEAR = 25.0
"""mm: a button so near to a hole is meant to stand at the same place."""


@dataclass(frozen=True, kw_only=True)
class Buttons(Check):
    """Three or more buttons or buttonholes along one edge or line are evenly spaced, and each has its mate.

    Where they stand at the two ends of a cuff or band, button and buttonhole are as far from the edge.
    """

    apart: float = length(1.0, ("buttons: spaces differ by", "how much their spaces may"), high=100)
    missed: float = length(1.0, ("buttons: miss their holes by", "how far they may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Rows of buttons whose spaces differ."""
        for piece in subject.pattern.pieces:
            rows: dict[tuple[str, str], list[Button]] = {}
            for button in piece.buttons:
                rows.setdefault((button.kind, button.on), []).append(button)
            for (kind, on), row in rows.items():
                things: tuple[Edge | Line, ...] = (*piece.edges, *piece.lines)
                for thing in things:
                    if thing.uid != on:
                        continue
                    if len(row) > 2:
                        yield from self._row(piece, thing, kind, row)
                    holes = rows.get(("buttonhole", on), [])
                    if kind == "button" and holes:
                        yield from self._mates(piece, thing, row, holes)

    def _mates(self, piece: Piece, thing: Edge | Line, buttons: list[Button], holes: list[Button]) -> Iterator[Finding]:
        """Buttons and buttonholes along one thing: equally many, and each where the other comes to lie."""
        name = f"{piece.name}.{thing.name}"
        if len(buttons) != len(holes):
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=(name,),
                text=f"along {name} stand {plural(len(buttons), 'button')} and {plural(len(holes), 'buttonhole')}; set "
                "as many of each with button",
            )
            return
        edge = as_edge(piece, thing) if isinstance(thing, Line) else thing
        away = np.array([[float(np.hypot(*(b.at - h.at))) for h in holes] for b in buttons])
        if away.min(axis=1).max() > NEAR:  # at the two ends: laid over each other they differ by their heights alone
            heights = [
                sorted(float(np.hypot(*(point_at(edge, nearest_drawn(edge, b.at))[0] - b.at))) for b in row)
                for row in (buttons, holes)
            ]
            missed = max(abs(one - two) for one, two in zip(*heights, strict=True))
        else:
            missed = float(away.min(axis=1).max())
        if missed > self.missed:
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(name,),
                text=f"a button along {name} misses its buttonhole by {plain(missed)} mm; set both anew with button",
                figure=missed,
                passes=self.missed,
            )

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
