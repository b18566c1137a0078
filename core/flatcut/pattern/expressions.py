"""Lengths as they are typed: figures with units, sums and products of them, body measurements, ``length(RUN)``.

What they are made of is said in `sums`, which only those load that are more than a figure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from flatcut.pattern.places import Rename, lengths_are_read_by
from flatcut.pattern.values import Pattern
from flatcut.units import LARGEST, UNITS, checked

if TYPE_CHECKING:
    from flatcut.pattern.sums import Node


@dataclass(frozen=True)
class Expression:
    """A typed length. text: how it is recorded, units made explicit; constant: its mm when it needs no pattern."""

    text: str
    constant: float | None
    _node: Node | None = None

    def __str__(self) -> str:
        return self.text

    def renamed(self, name: Rename) -> Expression:
        """The same length where pieces have other names; measurements keep theirs.

        >>> parse_length("wrist + length(front.side)/2").renamed(lambda piece: f"a-{piece}").text
        'wrist + length(a-front.side)/2'
        """
        if self._node is None:
            return self
        from flatcut.pattern.sums import with_names

        text, node = with_names(self._node, name)
        return self if node == self._node else Expression(text, None, node)

    def on(self, pattern: Pattern) -> float:
        """mm on a pattern. Errors: UsageError for an unknown name or a length that no pattern can have."""
        if self._node is None:
            assert self.constant is not None  # what is no figure is made of something
            return checked(self.constant, self.text)
        from flatcut.pattern.sums import length_of

        return checked(length_of(self._node, pattern), self.text)


def parse_length(text: str, *, units: str = "mm") -> Expression:
    """Read a typed length. Errors: UsageError with one sentence.

    >>> parse_length("wrist + 5", units="cm").text, parse_length("3/8in").constant
    ('wrist + 5cm', 9.524999999999999)
    >>> parse_length("bust*bust")
    Traceback (most recent call last):
    ...
    flatcut.errors.UsageError: 'bust*bust' multiplies two lengths; multiply a length by a number
    """
    bare = text.strip()
    unit = next((one for one in UNITS if one.isalpha() and bare.endswith(one)), "")
    figured = bare.removesuffix(unit).strip()
    figure = float(figured) if figured.isascii() and figured.replace(".", "", 1).isdigit() else math.inf
    unit = unit or units
    if figure * UNITS.get(unit, math.inf) <= LARGEST:  # the most usual one: a figure and no more
        return Expression(figured + (unit if unit != "mm" else ""), figure * UNITS[unit])
    from flatcut.pattern.sums import read_length

    return Expression(*read_length(text, units=units))


lengths_are_read_by(parse_length)


def evaluate(expression: Expression, pattern: Pattern) -> float:
    """mm of an expression on a pattern. Errors: UsageError for an unknown name or a length that no pattern can have."""
    return expression.on(pattern)
