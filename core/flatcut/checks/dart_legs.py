"""The two legs of every dart are equally long, so that they can be sewn to each other."""

from __future__ import annotations

from collections.abc import Iterator

from flatcut.checks.check import FAULT, Finding
from flatcut.geometry.length import length
from flatcut.pattern.values import Pattern
from flatcut.units import plain

TOLERANCE = 0.5
"""mm (common practice, no source)."""


def check(pattern: Pattern) -> Iterator[Finding]:
    """Darts whose legs differ by more than TOLERANCE."""
    for piece in pattern.pieces:
        for dart in piece.darts:
            first, second = (length(leg) for leg in dart.legs)
            if abs(first - second) > TOLERANCE:
                name = f"{piece.name}.{dart.name}"
                yield Finding(
                    check="dart-legs",
                    severity=FAULT,
                    where=(name,),
                    text=f"the legs of {name} are {plain(first)} and {plain(second)} mm long; make them equal",
                    figure=first - second,
                )
