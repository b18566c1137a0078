"""Maps of the plane against numpy's linear algebra on 3 x 3 matrices."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flatcut.geometry.affine import Affine

MAPS = [(2.0, 0.5, -0.75, 1.5, 7.0, -3.0), (0.6, 0.8, 0.8, -0.6, 1.0, 2.0), (1.0, 0.0, 3.0, -0.25, -40.0, 9.0)]


def matrix(m: Affine) -> np.ndarray:
    return np.array([[m.a, m.c, m.e], [m.b, m.d, m.f], [0, 0, 1]])


@pytest.mark.parametrize("values", MAPS)
def test_determinant_and_inverse(values: tuple[float, ...]) -> None:
    m = Affine(*values)
    assert m.determinant == pytest.approx(np.linalg.det(matrix(m)), abs=1e-12)
    assert matrix(m.inverse()) == pytest.approx(np.linalg.inv(matrix(m)), abs=1e-12)


@pytest.mark.parametrize("one", MAPS)
@pytest.mark.parametrize("two", MAPS)
def test_one_map_after_another(one: tuple[float, ...], two: tuple[float, ...]) -> None:
    assert matrix(Affine(*one) @ Affine(*two)) == pytest.approx(matrix(Affine(*one)) @ matrix(Affine(*two)))
    assert Affine(*one).apply([3.0, -5.0]) == pytest.approx((matrix(Affine(*one)) @ [3.0, -5.0, 1.0])[:2])


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0, 100.0, 170.0])
def test_a_mirror_image_is_householders(degrees: float) -> None:
    """I - 2 n n' with the unit normal n of the line, about a point of it; its square is the identity."""
    p = np.array([3.0, -2.0])
    way = np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])
    n = np.array([-way[1], way[0]])
    mirrored = Affine.reflection(p, p + 7 * way)
    for point in np.array([[0.0, 0.0], [10.0, 4.0], [-6.0, 11.0]]):
        assert mirrored.apply(point) == pytest.approx(p + (np.eye(2) - 2 * np.outer(n, n)) @ (point - p), abs=1e-12)
    assert mirrored.determinant == pytest.approx(-1)
    assert mirrored.is_rigid()


def test_a_turn_a_scale_and_a_shift_take_two_points_to_two_others() -> None:
    was, now = (np.array([1.0, 2.0]), np.array([4.0, 6.0])), (np.array([-3.0, 0.0]), np.array([3.0, 8.0]))
    m = Affine.similarity(was, now)
    assert [m.apply(point).tolist() for point in was] == [pytest.approx(point.tolist()) for point in now]
    assert m.determinant == pytest.approx(4)  # twice as long
    assert not m.is_rigid()
