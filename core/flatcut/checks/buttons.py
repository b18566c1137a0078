"""Buttons and buttonholes: evenly spaced along what they were set on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.checks.pairs import pairs
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding, plural
from flatcut.geometry.nearest import nearest
from flatcut.pattern.runs import as_edge
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Button, Edge, Line, Piece
from flatcut.pattern.walking import drawn_length, point_at
from flatcut.units import plain

NEAR = 25.0
"""mm: a button so near to a hole is meant to stand at the same place."""
START, LAP = "start", "lap-line"
"""The edge of a strip that laps over, and the line on which it comes to lie."""


@dataclass(frozen=True, kw_only=True)
class Buttons(Check):
    """Three or more buttons or buttonholes along one edge or line are evenly spaced, and each has its mate.

    Where they stand at the two ends of a cuff or band, button and buttonhole are as far from the edge, and come to lie
    on each other when its start is laid on the line of the overlap. Those of a left piece are held against those of the
    right one that laps over it.
    """

    apart: float = length(1.0, ("buttons: spaces differ by", "how much their spaces may"), high=100)
    missed: float = length(1.0, ("buttons: miss their holes by", "how far they may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Rows of buttons whose spaces differ, and buttons that miss their holes."""
        for left, right in pairs(subject.pattern):
            yield from self._over_each_other(left, right)
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
            missed = max(missed, _lapped(piece, buttons, holes))
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

    def _over_each_other(self, left: Piece, right: Piece) -> Iterator[Finding]:
        """Buttons on one of a left and a right piece, holes on the other: equally far along what they were set on."""
        for one, two in ((left, right), (right, left)):
            rows = {thing.name: thing for thing in _things(two)}
            for thing in _things(one):
                buttons, other = _on(one, thing, "button"), rows.get(thing.name)
                if not buttons or _on(one, thing, "buttonhole") or other is None or _on(two, other, "button"):
                    continue
                holes = _on(two, other, "buttonhole")
                name, mate = f"{one.name}.{thing.name}", f"{two.name}.{other.name}"
                if holes and len(buttons) != len(holes):
                    yield Finding(
                        check=self.name,
                        severity=WARNING,
                        where=(name, mate),
                        text=f"along {name} stand {plural(len(buttons), 'button')} and along {mate} "
                        f"{plural(len(holes), 'buttonhole')}; set as many of each with button",
                    )
                elif holes:
                    places, there = _along(one, thing, buttons), _along(two, other, holes)
                    total = drawn_length(as_edge(two, other) if isinstance(other, Line) else other)
                    turned = sorted(total - at for at in there)
                    missed = min(_apart(places, there), _apart(places, turned))
                    if missed > self.missed:
                        yield Finding(
                            check=self.name,
                            severity=FAULT,
                            where=(name, mate),
                            text=f"a button along {name} misses its buttonhole along {mate} by {plain(missed)} mm; set "
                            "both anew with button",
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


def _things(piece: Piece) -> tuple[Edge | Line, ...]:
    return (*piece.edges, *piece.lines)


def _on(piece: Piece, thing: Edge | Line, kind: str) -> list[Button]:
    return [button for button in piece.buttons if button.kind == kind and button.on == thing.uid]


def _along(piece: Piece, thing: Edge | Line, row: list[Button]) -> list[float]:
    """mm along what buttons were set on, ascending."""
    edge = as_edge(piece, thing) if isinstance(thing, Line) else thing
    return sorted(nearest_drawn(edge, button.at) for button in row)


def _apart(one: list[float], two: list[float]) -> float:
    return max(abs(p - q) for p, q in zip(one, two, strict=True))


def _lapped(piece: Piece, buttons: list[Button], holes: list[Button]) -> float:
    """mm by which buttons miss their holes along a strip when its start is laid on the line of its overlap."""
    start = next((edge for edge in piece.edges if edge.name == START), None)
    lap = next((line for line in piece.lines if line.name == LAP), None)
    if start is None or lap is None:
        return 0.0
    far, near = (
        sorted(float(nearest(curve, one.at)[1]) for one in row)
        for curve, row in ((lap.curve, buttons), (start.parts[0], holes))
    )
    return _apart(far, near)
