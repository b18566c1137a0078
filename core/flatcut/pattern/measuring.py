"""Figures asked of a pattern by name: the length of a run, the distance of two places."""

from __future__ import annotations

import numpy as np

from flatcut.pattern.runs import parse_run, run_sewn
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Pattern


def run_length(pattern: Pattern, text: str) -> float:
    """Sewn mm of a run as written. Errors: UsageError, UnknownNameError."""
    return run_sewn(pattern, parse_run(pattern, text))


def distance(pattern: Pattern, p: str, q: str) -> float:
    """Straight mm between two places as written."""
    return float(np.linalg.norm(spot(pattern, q).point - spot(pattern, p).point))
