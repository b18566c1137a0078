"""`arrange`: pieces side by side on the page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
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


SMALL = '<svg xmlns="http://www.w3.org/2000/svg" {}>{}</svg>'
PATHS = "".join(f'<path id="p{k}" d="M {300 * k},5 h 90 v 120 h -90 Z"/>' for k in range(5))
PAGES = {
    "mm": ('width="210mm" height="297mm" viewBox="0 0 210 297"', 1.0),
    "another scale": ('width="210mm" height="297mm" viewBox="-5 -5 420 594"', 0.5),
    "px": ('width="500" height="700"', 25.4 / 96),
    "no size": ('viewBox="0 0 500 700"', 25.4 / 96),
    "a part of the window": ('width="100%" height="100%" viewBox="0 0 500 700"', 25.4 / 96),
}


@pytest.mark.parametrize("kind", PAGES)
def test_pieces_stay_within_the_page_which_grows(kind: str) -> None:
    attributes, scale = PAGES[kind]
    drawing, pattern, _ = read(SMALL.format(attributes, PATHS).encode())
    pieces = load("piece")()(pattern)
    arranged = load("arrange")(gap=10.0)(pieces)
    data = write(drawing, arranged)
    document, again, findings = read(data)
    assert not findings
    boxes, (wide, high) = corners(again), document.document.page
    assert boxes[:, :2].min() >= -1e-6
    assert boxes[:, 2].max() <= wide + 1e-6
    assert boxes[:, 3].max() <= high + 1e-6
    assert wide == pytest.approx(max(pattern.page[0], boxes[:, 2].max() + 10))
    assert (boxes[:, 2:] - boxes[:, :2]) == pytest.approx(np.tile([90 * scale, 120 * scale], (5, 1)), abs=1e-6)
    assert len({round(float(x), 3) for x in boxes[:, 0]}) > 1, "as many beside each other as the page is wide"


def test_a_page_that_is_large_enough_stays(pattern: Pattern) -> None:
    drawing, before, _ = read(hand.two_pieces())
    after = load("arrange")(gap=20.0)(before)
    assert after.page == before.page
    assert read(write(drawing, after))[1].page == before.page


def test_a_drawing_fitted_into_its_page_with_room_to_spare_is_left(pattern: Pattern) -> None:
    attributes = 'width="300mm" height="300mm" viewBox="0 0 100 200"'
    drawing, pattern, _ = read(SMALL.format(attributes, PATHS).encode())
    arranged = load("arrange")(gap=10.0)(load("piece")()(pattern))
    again = read(write(drawing, arranged))[1]
    assert np.allclose(corners(again), corners(arranged), atol=1e-6), "nothing has moved"
