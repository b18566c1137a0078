"""The symbol of a balance mark."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import Curve, line
from flatcut.pattern.marks.balance import Balance
from flatcut.pattern.values import Piece

LONG = 5.0
"""mm: length of the stroke on each leg, on the side of the cloth that stays."""


def drawn(piece: Piece, mark: Balance) -> list[Curve]:
    """A stroke on each leg, away from the other one; nothing where its dart is gone."""
    places = mark.places(piece)
    if places is None or np.linalg.norm(places[1] - places[0]) < 1e-6:
        return []
    way = LONG * unit(places[0] - places[1])
    return [line(places[0], places[0] + way), line(places[1], places[1] - way)]
