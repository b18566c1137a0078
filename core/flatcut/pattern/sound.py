"""What every value of a pattern holds to: data from a file may have been damaged by other programs and by hand."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.pattern.finish import Position
from flatcut.units import LARGEST


def hold(condition: bool) -> None:
    """Errors: ValueError, without words: who reads a file knows what it is called."""
    if not condition:
        raise ValueError


def hold_finite(*values: float | Array) -> None:
    """Errors: ValueError for a number or an array that is not finite, or larger than any pattern.

    >>> hold_finite(3.0, np.array([0.0, 2.0]))
    >>> hold_finite(np.inf)
    Traceback (most recent call last):
    ...
    ValueError
    """
    for value in values:
        size = np.abs(value).max(initial=0.0) if isinstance(value, np.ndarray) else abs(value)
        hold(bool(size <= LARGEST))


def hold_place(at: Array | None) -> None:
    """Errors: ValueError for what is no point, (2,); None is one that was never set."""
    if at is not None:
        hold(at.shape == (2,))
        hold_finite(at)


def hold_position(at: Position) -> None:
    """Errors: ValueError for what is no place along an edge."""
    most = 1.0 if at.mode == "fraction" else LARGEST
    hold(at.mode in ("fraction", "start", "end") and 0 <= at.value <= most)
