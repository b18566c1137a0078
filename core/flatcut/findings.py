"""What does not fit, as a value: found by a check, or on reading a drawing."""

from __future__ import annotations

import math
from typing import NamedTuple

FAULT, WARNING = "fault", "warning"
READING = "reading"
"""The check under which that is told which was found on reading a drawing."""


class Finding(NamedTuple):
    """Something that does not fit. where: what it touches, as written references, most at fault first.

    figure: by how much, in `unit`; passes: how much of it passes, 0 where nothing does. about: uid of the seam that it
    is about, '' for none. grave: nothing else that is found on the piece can be relied on until it is put right.
    aside: it only tells what was done, so that all that does not fit goes before it.
    """

    check: str
    severity: str
    where: tuple[str, ...]
    text: str
    figure: float = 0.0
    unit: str = "mm"
    passes: float = 0.0
    about: str = ""
    grave: bool = False
    aside: bool = False

    @property
    def weight(self) -> float:
        """How many times over what passes; what has no measure weighs as much as what is twice over."""
        if self.grave:
            return math.inf
        if self.aside:
            return 0.0
        return abs(self.figure) / self.passes if self.passes > 0 else 2.0

    def __str__(self) -> str:
        return self.text


def on_reading(text: str, *where: str) -> Finding:
    """What reading a drawing found: a fault of the pieces or edges that it is said of.

    >>> str(on_reading("front is no longer in the drawing", "front"))
    'front is no longer in the drawing'
    """
    return Finding(check=READING, severity=FAULT, where=where, text=text, grave=True)


def plural(count: int, what: str) -> str:
    """A count with its word.

    >>> plural(1, "fault"), plural(2, "fault")
    ('1 fault', '2 faults')
    """
    return f"{count} {what}{'' if count == 1 else 's'}"
