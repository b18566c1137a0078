"""Notches: mate against mate, and not too deep."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.errors import UsageError
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.marking.cutline import wants_cut
from flatcut.marking.ticks import AT_FOOT, at_dart
from flatcut.pattern.mating import along, sides
from flatcut.pattern.runs import Walked
from flatcut.pattern.values import Edge, Notch, Piece, Seam
from flatcut.pattern.walking import sewn_at, sewn_length, to_drawn
from flatcut.pattern.widths import width_at
from flatcut.units import plain

BELONG = 25.0
"""mm: notches farther apart than this were not meant for each other."""


class _On(NamedTuple):
    """A notch on a run: how far along it, how it is written, and whether it marks a dart, where its mate is.

    Without a notch it is the seam at which the run goes on from one piece to the next: mark enough for its mate.
    """

    at: float
    name: str
    notch: Notch | None
    darts: bool


@dataclass(frozen=True, kw_only=True)
class Notches(Check):
    """Every notch on a seam has a mate at the same place on the other side, and none is cut too deep."""

    apart: float = length(1.0, ("notches: mates lie apart by", "how far they may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Notches without a mate or beside it, beyond their edge, or deeper than half the allowance."""
        pattern = subject.pattern
        found: dict[str, Finding] = {}
        for seam in pattern.seams:
            here, there = sides(pattern, seam)[0]
            one, two = _notches(here), _notches(there)
            for finding in (
                *self._unmatched(seam, one, two, here, there),
                *self._unmatched(seam, two, one, there, here),
            ):
                found.setdefault("|".join(sorted(finding.where)), finding)
        yield from found.values()
        for piece in pattern.pieces:
            yield from self._own(piece)
            yield from self._feet(piece)

    def _feet(self, piece: Piece) -> Iterator[Finding]:
        """Darts in a corner whose feet lie on two edges: both have a notch at the dart, or neither."""
        for dart in piece.darts:
            host = piece.edge_of(dart.host) if dart.host else None
            if host is None or dart.form != "cut" or dart.after < len(host.parts) - 1:
                continue
            feet = ((host, sewn_length(host)), (piece.after(host), 0.0))
            marked = [any(_stands(notch, edge, at) for notch in piece.notches) for edge, at in feet]
            if marked[0] != marked[1]:
                bare, other = (f"{piece.name}.{feet[k][0].name}" for k in (marked.index(False), marked.index(True)))
                yield Finding(
                    check=self.name,
                    severity=WARNING,
                    where=(f"{piece.name}.{dart.name}", bare),
                    text=f"{piece.name}.{dart.name} has a notch at its foot on {other} and none at that on {bare}; set "
                    f"it with notch",
                )

    def _own(self, piece: Piece) -> Iterator[Finding]:
        for notch in piece.notches:
            edge = piece.edge_of(notch.edge)
            name = f"{piece.name}.{edge.name}"
            try:
                at = sewn_at(edge, notch.at)
            except UsageError as error:
                yield Finding(check=self.name, severity=FAULT, where=(name,), text=f"a notch stands nowhere: {error}")
                continue
            width = width_at(edge, to_drawn(edge, at))
            if wants_cut(piece) and notch.into == "in" and 0 < width / 2 < notch.depth - 1e-6:
                yield Finding(
                    check=self.name,
                    severity=WARNING,
                    where=(f"{name}@{plain(at)}", name),
                    text=f"the notch at {name}@{plain(at)} is {plain(notch.depth)} mm deep in {plain(width)} mm of "
                    f"allowance; cut it at most half as deep as that",
                    figure=notch.depth - width / 2,
                )

    def _unmatched(
        self, seam: Seam, one: list[_On], two: list[_On], here: list[Walked], there: list[Walked]
    ) -> Iterator[Finding]:
        total, other = (sum(step.sewn for step in run) for run in (here, there))
        edges = "+".join(f"{step.piece.name}.{step.edge.name}" for step in there)
        if all(step.edge.uid not in {edge.uid for edge in step.piece.edges} for step in there):
            return  # a line inside a piece, as a binding is sewn along, takes no notch
        for on in one:
            if on.darts or min(on.at, total - on.at) <= self.apart:
                continue  # at the end of a seam that end is the mate: the shoulder seam is that of a sleeve's top
            wanted = on.at if on.at <= total / 2 else other - (total - on.at)
            # inside an unplaced ease either count is right
            loose = abs(other - total)
            near = min((*two, *_joints(there)), key=lambda mate: abs(mate.at - wanted), default=None)
            away = None if near is None else max(0.0, abs(near.at - wanted) - (loose if _middle(on.at, total) else 0.0))
            if near is None or away is None or away > BELONG:
                yield Finding(
                    check=self.name,
                    severity=WARNING,
                    where=(on.name, edges),
                    text=f"the notch at {on.name} has no mate on {edges}; set it with --mates",
                    about=seam.uid,
                )
            elif away > self.apart:
                yield Finding(
                    check=self.name,
                    severity=WARNING if seam.suggested else FAULT,
                    where=(on.name, near.name),
                    text=f"the notches at {on.name} and {near.name} miss each other by {plain(away)} mm; set one anew"
                    if near.notch
                    else f"the notch at {on.name} misses the seam of {near.name} by {plain(away)} mm; set it anew",
                    figure=away,
                    passes=self.apart,
                    about=seam.uid,
                )
            elif near.notch is not None and on.notch is not None and near.notch.count != on.notch.count:
                yield Finding(
                    check=self.name,
                    severity=WARNING,
                    where=(on.name, near.name),
                    text=f"{on.name} has {_marks(on)}, its mate at {near.name} has {_marks(near)}; set one notch anew",
                    about=seam.uid,
                )


def _notches(run: list[Walked]) -> list[_On]:
    """The notches on a run."""
    found = []
    for step in run:
        for notch in step.piece.notches:
            total = sewn_length(step.edge) if notch.edge == step.edge.uid else -1.0
            at = notch.at.along(total)
            if not 0 <= at <= total:
                continue
            name = f"{step.piece.name}.{step.edge.name}@{plain(at)}"
            darts = at_dart(step.piece, step.edge, at)
            found += [_On(place, name, notch, darts) for place in along(run, notch.edge, at)]
    return list({(on.notch.uid if on.notch else "", round(on.at, 3)): on for on in found}.values())


def _joints(run: list[Walked]) -> list[_On]:
    """Where a run goes on from one edge to the next."""
    found, walked = [], 0.0
    for one, two in pairwise(run):
        walked += one.sewn
        found.append(_On(walked, f"{one.piece.name}.{one.edge.name} and {two.piece.name}.{two.edge.name}", None, False))
    return found


def _stands(notch: Notch, edge: Edge, at: float) -> bool:
    return notch.edge == edge.uid and abs(notch.at.along(sewn_length(edge)) - at) <= AT_FOOT


def _marks(on: _On) -> str:
    return "1 mark" if on.notch is None or on.notch.count == 1 else f"{on.notch.count} marks"


def _middle(at: float, total: float) -> bool:
    """Whether a place is in the middle third of a seam, where neither end is clearly the nearer."""
    return total / 3 < at < 2 * total / 3
