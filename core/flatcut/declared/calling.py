"""What a drawn object is called in a sentence: by its label, else by what it is and where it lies."""

from __future__ import annotations

from flatcut.geometry.curves import bounds
from flatcut.geometry.length import length
from flatcut.pattern.places import Drawn
from flatcut.pattern.values import DrawnPath, DrawnText
from flatcut.units import plain

LETTERS = 30
"""Of a text that is quoted."""


def called(thing: DrawnPath | DrawnText, given: Drawn | None = None) -> str:
    """A drawn object as a person knows it. given: as it was typed, which a person knows too.

    >>> from numpy import zeros
    >>> called(DrawnText(id="t1", text="toile", at=zeros(2)))
    "the text 'toile'"
    """
    known = f" ({given})" if given is not None else ""
    if isinstance(thing, DrawnText):
        shown = thing.text if len(thing.text) <= LETTERS else thing.text[:LETTERS] + "..."
        return f"the text '{shown}'{known}"
    what = "closed path" if thing.closed and all(thing.closed) else "line"
    if thing.label:
        return f"the {what} '{thing.label}'{known}"
    boxes = [bounds(curve) for curve in thing.curves]
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    long = sum(length(curve) for curve in thing.curves)
    where = f"{plain(left, 0)} mm from the left and {plain(top, 0)} mm from the top"
    return f"the {what} of {plain(long, 0)} mm, {where}{known}"
