"""What is told of areas without the library: wherever an answer is given it is the library's."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from flatcut.geometry.surely import surely_inside, surely_simple


def ring(kind, rng):
    """A ring of random points: any, on a grid, round a centre, with points that stand twice or on a straight line."""
    count = int(rng.integers(3, 24))
    if kind == "any":
        return rng.normal(size=(count, 2)) * 100
    if kind == "on a grid":
        return rng.integers(0, 8, size=(count, 2)).astype(float)
    turn = np.sort(rng.uniform(0, 2 * np.pi, count))
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(50, 100, (count, 1))
    if kind == "round":
        return points
    if kind == "twice":
        return np.repeat(points, 1 + (rng.random(count) < 0.1), axis=0)
    return np.concatenate([np.linspace(a, b, 4)[:-1] for a, b in zip(points, np.roll(points, -1, axis=0), strict=True)])


@pytest.mark.parametrize("kind", ["any", "on a grid", "round", "twice", "straight"])
def test_what_is_sure_is_what_the_library_says(kind):
    """Against shapely 2, whose predicates are exact: points in the open, on corners, on sides and on a grid."""
    rng = np.random.default_rng(5)
    simple = answered = 0
    for _ in range(150):
        points = ring(kind, rng)
        truth = bool(shapely.is_simple(shapely.linearrings(points)))
        sure = surely_simple(points)
        assert truth or not sure
        simple += sure
        polygon = shapely.polygons(points)
        middles = (points + np.roll(points, -1, axis=0)) / 2
        places = np.concatenate(
            [rng.normal(size=(6, 2)) * 80, rng.integers(0, 8, size=(6, 2)), points[:3], middles[:3]]
        )
        for place in places:
            inside = surely_inside(points, place[None])
            if inside is not None:
                answered += 1
                assert inside[0] == shapely.contains_xy(polygon, *place)
    assert answered > 1000
    assert simple > (0 if kind in ("on a grid", "any") else 30)


def test_what_touches_is_not_sure():
    square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])
    back = np.array([[0.0, 0], [4, 0], [2, 0], [2, 3]])
    pinched = np.array([[0.0, 0], [4, 0], [4, 4], [2, 0], [0, 4]])
    assert [surely_simple(one) for one in (square, back, pinched)] == [True, False, False]
    assert surely_inside(square, np.array([[2.0, 2], [2, 4], [4, 4], [0.1 + 0.2, 0.3]])).tolist() == [
        True,
        False,
        False,
        True,
    ]
    assert surely_inside(square, np.full((200, 2), 4.0)) is None
