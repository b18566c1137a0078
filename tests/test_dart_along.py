"""`pivot` and `divide` along lines: the legs are the line and its image turned by its angle; nothing else changes.

Judged by rotations reckoned here and shapely's areas.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, reverse
from flatcut.operations.operation import load
from flatcut.pattern.values import Line, Pattern, Piece, outline
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay
from tests.test_line_closed import APEX, TURN, bare, turned


def with_lines(*curves: Curve) -> Pattern:
    pattern = bare()
    lines = tuple(Line(uid=f"l{k}", name=f"l{k}", curve=curve) for k, curve in enumerate(curves))
    return pattern.with_piece(replace(pattern.pieces[0], lines=lines))


def shape(piece: Piece) -> float:
    return float(shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.001)).area)


def close(a: Curve, b: Array, atol: float = 0.01) -> None:
    np.testing.assert_allclose(point(a, np.linspace(0, len(a), 20)), b, atol=atol)


BOWED = cubic(APEX, (60, 60), (30, 20), (40, 0))
"""From the dart's point to the top, in an S."""


@pytest.mark.parametrize("turned_round", [False, True])
def test_a_dart_opens_along_a_curve(turned_round: bool) -> None:
    start = with_lines(reverse(BOWED) if turned_round else BOWED)
    done = load("pivot")(target="p.dart", along="p.l0", hold="p.right")(start)  # type: ignore[call-arg]
    piece, was = done.pieces[0], start.pieces[0]
    (dart,) = piece.darts
    assert piece.edge_of(dart.host).name == "top"
    assert piece.lines == ()  # it is the dart's legs now
    # the held side keeps the line, the other has its image, turned about the point
    curve = point(BOWED, np.linspace(0, 1, 20))
    legs = [reverse(dart.legs[0]), dart.legs[1]]
    images = sorted(legs, key=lambda leg: float(np.abs(point(leg, np.linspace(0, 1, 20)) - curve).max()))
    close(images[0], curve)
    spun = min(
        (turned(curve, TURN), turned(curve, -TURN)), key=lambda at: float(np.abs(at - images[1].nodes[-1]).min())
    )
    close(images[1], spun)
    feet = dart.feet - APEX
    wide = abs(math.atan2(feet[0][0] * feet[1][1] - feet[0][1] * feet[1][0], float(feet[0] @ feet[1])))
    assert wide == pytest.approx(TURN, abs=1e-9)
    assert shape(piece) == pytest.approx(shape(was), abs=0.05)
    for name in ("top", "right", "left", "foot"):
        assert sewn_length(piece.edge(name)) == pytest.approx(sewn_length(was.edge(name)), abs=1e-6)


def test_a_line_over_the_point_opens_to_the_stated_end_and_the_rest_of_it_stays() -> None:
    across = line((0, 20), (200, 80))
    start = with_lines(across)
    with pytest.raises(FlatcutError, match=r"leads to edges both ways.*--to"):
        load("pivot")(target="p.dart", along="p.l0")(start)  # type: ignore[call-arg]
    done = load("pivot")(target="p.dart", along="p.l0", to="p.left@90%", hold="p.right")(start)  # type: ignore[call-arg]
    (rest,) = done.pieces[0].lines
    assert rest.name == "l0"
    assert float(np.hypot(*(rest.curve.start - APEX))) < 1e-6


def test_divide_along_two_lines_shares_the_angle() -> None:
    start = with_lines(BOWED, cubic(APEX, (130, 30), (150, 40), (160, 0)))
    done = load("divide")(target="p.dart", along=("p.l0", "p.l1"), shares=(1, 1), names=("one", "two"))(start)  # type: ignore[call-arg]
    piece = done.pieces[0]
    assert sorted(d.name for d in piece.darts) == ["one", "two"]
    for dart in piece.darts:
        feet = dart.feet - APEX
        wide = abs(math.atan2(feet[0][0] * feet[1][1] - feet[0][1] * feet[1][0], float(feet[0] @ feet[1])))
        assert wide == pytest.approx(TURN / 2, abs=1e-9)
    assert sewn_length(piece.edge("top")) == pytest.approx(200, abs=1e-6)
    assert shape(piece) == pytest.approx(shape(start.pieces[0]), abs=0.05)


@pytest.mark.parametrize(
    ("curve", "said"),
    [
        (line((100, 45), (40, 0)), r"l0 passes the point of p.dart .* mm off.*back-off"),
        (line((100, 50), (40, 10)), "does not lead from the point of p.dart to an edge"),
        (cubic(APEX, (90, 300), (20, 260), (40, 0)), "the line from the point to the target crosses p.dart"),
    ],
)
def test_lines_that_no_dart_opens_along(curve: Curve, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        load("pivot")(target="p.dart", along="p.l0")(with_lines(curve))  # type: ignore[call-arg]


@pytest.mark.parametrize("bust", [78, 102, 118])
def test_large_sums_go_to_the_neck_in_one_place_and_the_neck_stays_as_long(bust: int) -> None:
    """Bust and waist dart together are 30 to 42 degrees: what is folded there has no end, and nobody folds it."""
    text = f"""block bodice --size=bust-{bust}
    edge front.centre --use=seam
    back-off front.waist-dart --to=front.bust-point
    """
    start = replay(read_recipe(text), Pattern())
    neck = sewn_length(start.piece("front").edge("neck"))
    for dart in ("bust-dart", "waist-dart"):
        to = "front.neck@1/2" if dart == "bust-dart" else "front.bust-dart"
        start = replay(read_recipe(f"pivot front.{dart} --to={to} --hold=front.centre"), start)
    (dart,) = start.piece("front").darts
    for kind in ("pleat", "tuck", "ease --either-side=3cm", "gathers --either-side=3cm"):
        done = replay(read_recipe(f"release front.bust-dart --to={kind}"), start)
        assert sewn_length(done.piece("front").edge("neck")) == pytest.approx(neck, abs=0.01), kind
