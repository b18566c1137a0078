"""Figures asked of a pattern by name: the length of a run, the distance of two places."""

from __future__ import annotations

import numpy as np

from flatcut.pattern.places import Place, Run
from flatcut.pattern.runs import found_run, run_drawn, run_sewn
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Pattern


def run_length(pattern: Pattern, run: Run) -> float:
    """Sewn mm of a run. Errors: UsageError, UnknownNameError."""
    return run_sewn(pattern, found_run(pattern, run))


def drawn_run_length(pattern: Pattern, run: Run) -> float:
    """Drawn mm of a run, its fullness lying flat. Errors: UsageError, UnknownNameError."""
    return run_drawn(pattern, found_run(pattern, run))


def distance(pattern: Pattern, p: Place, q: Place) -> float:
    """Straight mm between two places. Errors: UsageError, UnknownNameError."""
    return float(np.linalg.norm(spot(pattern, q).point - spot(pattern, p).point))
