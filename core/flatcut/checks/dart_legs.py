"""Dart legs: one against the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, Finding
from flatcut.geometry.length import length as length_of
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class DartLegs(Check):
    """The two legs of every dart are equally long, so that they can be sewn to each other."""

    apart: float = length(0.5, ("darts: legs differ by", "how much they may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Darts whose legs differ."""
        for piece in subject.pattern.pieces:
            for dart in piece.darts:
                first, second = (length_of(leg) for leg in dart.legs)
                if abs(first - second) > self.apart:
                    name = f"{piece.name}.{dart.name}"
                    yield Finding(
                        check=self.name,
                        severity=FAULT,
                        where=(name,),
                        text=f"the legs of {name} are {plain(first)} and {plain(second)} mm long; make them equal",
                        figure=first - second,
                        passes=self.apart,
                    )
