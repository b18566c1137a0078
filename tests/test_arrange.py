"""`arrange`: pieces side by side on the page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.formats.svg.read import read
from flatcut.geometry.affine import Affine
from flatcut.operations.arrange import box
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Pattern
from tests import by_hand as hand


@pytest.fixture
def pattern() -> Pattern:
    return read(hand.two_pieces())[1]


def corners(pattern: Pattern) -> np.ndarray:
    return np.array([box(piece) for piece in pattern.pieces])


def test_the_first_piece_stays_and_none_touches_another(pattern: Pattern) -> None:
    before, after = corners(pattern), corners(load("arrange")(gap=20.0)(pattern))
    assert after[0, :2] == pytest.approx(before[0, :2], abs=1e-9)
    assert after[1, 0] == pytest.approx(after[0, 2] + 20, abs=1e-9)


def test_a_piece_that_left_the_page_comes_back(pattern: Pattern) -> None:
    away = Affine.translation(-900.0, -700.0)
    off = replace(pattern, pieces=tuple(moved(piece, away) for piece in pattern.pieces))
    assert corners(load("arrange")(gap=20.0)(off))[:, :2].min(axis=0) == pytest.approx([20.0, 20.0], abs=1e-9)
