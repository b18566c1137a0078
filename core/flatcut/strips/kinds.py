"""The kinds of strip, and what each has where nothing is stated: common practice of the trade, no source."""

from __future__ import annotations

from typing import NamedTuple


class Usual(NamedTuple):
    """width: mm, finished; folds: how often its width lies over itself; overlap: mm; within: part of what is sewn.

    ring: its ends are sewn to each other; across: mm across a button, 0 for no button.
    """

    width: float
    fold: str
    grain: str
    overlap: float = 0.0
    within: bool = False
    ring: bool = False
    across: float = 0.0


KINDS: dict[str, Usual] = {
    "strip": Usual(40.0, "none", "straight"),
    "waistband": Usual(35.0, "half", "straight", overlap=30.0, across=15.0),
    "cuff": Usual(60.0, "half", "straight", overlap=20.0, within=True, across=11.0),
    "binding": Usual(6.0, "quarters", "bias"),
    "strap": Usual(10.0, "half", "straight"),
    "tie": Usual(25.0, "half", "straight"),
    "tier": Usual(240.0, "none", "cross", ring=True),
}

LAYERS = {"none": 1, "half": 2, "quarters": 4}
"""How often the finished width goes into the strip as it is cut, by how it is folded."""
