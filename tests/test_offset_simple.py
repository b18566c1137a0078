"""Rings that are proved simple by the hulls of their spans, against shapely on many chords of them."""

from __future__ import annotations

import numpy as np
import shapely

from flatcut.geometry.arrays import Array, Ints
from flatcut.geometry.curves import Curve, flatten
from flatcut.geometry.offset_simple import proved_simple


def ring(rng: np.random.Generator, sides: int, wild: float) -> Array:
    """Spans (sides, 4, 2) of a closed ring: nodes round a centre, handles more or less astray."""
    angle = np.sort(rng.uniform(0, 2 * np.pi, sides))
    nodes = rng.uniform(40, 160, (sides, 1)) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    after = np.roll(nodes, -1, axis=0)
    astray = wild * rng.normal(0, 40, (sides, 2, 2))
    handles = [nodes + (after - nodes) / 3 + astray[:, 0], nodes + (after - nodes) * 2 / 3 + astray[:, 1]]
    return np.stack([nodes, *handles, after], axis=1)


def simple_on_chords(spans: Array) -> bool:
    """Whether many chords of a ring neither cross nor touch."""
    points = flatten(Curve(spans, np.zeros(len(spans), dtype=bool)), tolerance=0.0005)
    return bool(shapely.is_simple(shapely.LinearRing(points[:-1])))


def together(rings: list[Array]) -> tuple[Array, Ints]:
    """Spans of many rings one after the other, and the ring of each."""
    return np.concatenate(rings), np.repeat(np.arange(len(rings)), [len(r) for r in rings])


def test_what_is_proved_is_simple_on_chords_too():
    rng = np.random.default_rng(11)
    rings = [ring(rng, int(rng.integers(3, 9)), wild) for wild in (0.0, 0.1, 0.3, 0.6, 1.0) for _ in range(60)]
    proved = proved_simple(*together(rings), len(rings))
    simple = np.array([simple_on_chords(spans) for spans in rings])
    assert not (proved & ~simple).any()
    assert (~simple).sum() > 50  # and there are rings that cross themselves among them
    assert proved[:60].mean() > 0.9  # straight ones are nearly all proved
    assert proved[simple].mean() > 0.4


def test_each_ring_is_told_as_alone():
    rng = np.random.default_rng(12)
    rings = [ring(rng, int(rng.integers(3, 9)), 0.3) for _ in range(40)]
    proved = proved_simple(*together(rings), len(rings))
    alone = [proved_simple(spans, np.zeros(len(spans), dtype=np.intp), 1)[0] for spans in rings]
    assert proved.tolist() == alone


def test_nothing_is_proved_of_rings_that_touch_or_cross_themselves():
    def straight(nodes: Array) -> Array:
        step = (np.roll(nodes, -1, axis=0) - nodes) / 3
        return np.stack([nodes + k * step for k in range(4)], axis=1)

    eight = straight(np.array([[0.0, 0], [40, 30], [40, 0], [0, 30]]))
    pinched = straight(np.array([[0.0, 0], [20, 10], [40, 0], [40, 30], [20, 10], [0, 30]]))
    back = straight(np.array([[0.0, 0], [40, 0], [20, 0]]))
    square = straight(np.array([[0.0, 0], [40, 0], [40, 30], [0, 30]]))
    loop = square.copy()
    loop[0, 1], loop[0, 2] = (120, -60), (-80, -60)
    two = square[:2]
    rings = [eight, pinched, back, loop, two, square, np.full((3, 4, 2), np.nan)]
    assert proved_simple(*together(rings), 8).tolist() == [False, False, False, False, False, True, False, False]
