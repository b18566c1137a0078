"""Darts with curved legs: pivoted with their bow, their caps folded over the direction of the leg at its foot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.darts.darting import angle
from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, cubic, line, tangent
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.marking.caps import AFTER, BEFORE, cap
from flatcut.marking.cutline import cut_line
from flatcut.marking.pressed import beside
from flatcut.marking.rims import rims
from flatcut.operations.operation import load
from flatcut.pattern.values import Allowance, Pattern, area
from tests.dart_pieces import controls, dart, front, rigid_rest, shape, the
from tests.test_dart_pivot import where

INWARD, OUTWARD, ONE_WAY = (4.0, 4.0), (-4.0, -4.0), (3.0, -3.0)
"""mm that the two legs bow toward the axis of the dart at a third of their length and beyond."""


def bowed(a: Array, b: Array, by: float, toward: Array) -> Curve:
    """A leg from a to b whose handles stand `by` mm toward a point."""
    across = np.array([-(b - a)[1], (b - a)[0]]) / float(np.hypot(*(b - a)))
    side = 1.0 if across @ (toward - a) > 0 else -1.0
    return cubic(a, a + (b - a) / 3 + side * by * across, b - (b - a) / 3 + side * by * across, b)


def curved(bow: tuple[float, float]) -> Pattern:
    """The front with curved legs on its waist dart."""
    pattern = front(centre="seam")
    piece, one = the(pattern), dart(pattern, "waist-dart")
    apex, (foot_1, foot_2) = one.points[0], one.feet
    legs = (bowed(foot_1, apex, bow[0], foot_2), bowed(apex, foot_2, bow[1], foot_1))
    return replace(pattern, pieces=(replace(piece, darts=(replace(one, legs=legs),)),))


def pivot(pattern: Pattern, to: str, of: str = "waist-dart", **options: object) -> Pattern:
    return load("pivot")(target=(f"front.{of}",), to=to, **options)(pattern)


def bow_of(leg: Curve) -> float:
    """The largest distance of a leg from its chord as a part of the chord."""
    chord = line(leg.start, leg.end)
    away = nearest(chord, np.array([leg.controls[0, 1], leg.controls[0, 2]]))[1].max()
    return float(away) / length(chord)


@pytest.mark.parametrize("bow", [INWARD, OUTWARD, ONE_WAY])
@pytest.mark.parametrize("place", ["front.side@40%", "front.armhole@62%", "front.shoulder@1/2", "front.neck/shoulder"])
def test_there_and_back_is_the_same_net(bow, place):
    start = curved(bow)
    there = pivot(start, place)
    assert angle(dart(there, "waist-dart")) == pytest.approx(angle(dart(start, "waist-dart")), abs=1e-9)
    for old, new in zip(dart(start, "waist-dart").legs, dart(there, "waist-dart").legs, strict=True):
        assert bow_of(new) == pytest.approx(bow_of(old), abs=1e-9)
    back = pivot(there, where(start, "waist-dart"))
    assert shape(the(back)) == shape(the(start))
    assert rigid_rest(controls(the(back)), controls(the(start))) <= 1e-6


@pytest.mark.parametrize("bow", [INWARD, OUTWARD, ONE_WAY])
def test_a_part_leaves_the_legs_as_they_are(bow):
    start = curved(bow)
    found = pivot(start, "front.side@40%", share=0.4, name="side-dart")
    for old, new in zip(dart(start, "waist-dart").legs, dart(found, "waist-dart").legs, strict=True):
        assert rigid_rest(new.controls[0], old.controls[0]) <= 1e-9
    assert all(leg.straight.all() for leg in dart(found, "side-dart").legs)
    assert abs(area(the(found))) == pytest.approx(abs(area(the(start))), rel=1e-9)
    back = pivot(found, "front.waist-dart", of="side-dart")
    assert rigid_rest(controls(the(back)), controls(the(start))) <= 1e-6


def test_another_dart_carries_it_along():
    start = load("divide")(target="front.waist-dart", to=("front.side@40%",), names=("side-dart",))(
        front(centre="seam")
    )
    piece = the(start)
    one = dart(start, "side-dart")
    legs = tuple(bowed(leg.start, leg.end, 2.0, one.feet.mean(axis=0)) for leg in one.legs)
    darts = tuple(replace(d, legs=legs) if d.uid == one.uid else d for d in piece.darts)
    start = replace(start, pieces=(replace(piece, darts=darts),))
    found = pivot(start, "front.shoulder@1/2", hold="neck")
    for old, new in zip(legs, dart(found, "side-dart").legs, strict=True):
        assert rigid_rest(new.controls[0], old.controls[0]) <= 1e-9


def test_legs_that_would_cross_are_refused():
    with pytest.raises(GeometryError, match=r"curved legs of front\.waist-dart would cross") as caught:
        pivot(curved((9.0, 9.0)), "front.side@40%", share=0.9, name="side-dart")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("bow", [INWARD, OUTWARD, ONE_WAY])
@pytest.mark.parametrize("toward", [BEFORE, AFTER])
def test_the_cap_leaves_a_curved_leg_as_the_edge_does(bow, toward):
    """At the foot (closed form): mirrored across the leg's own direction there, the cap is the seam edge."""
    pattern = curved(bow)
    piece, one = the(pattern), dart(pattern, "waist-dart")
    _, before, _, after = beside(piece, one)
    first, second = cap(one, before, after, toward=toward)
    if toward == BEFORE:
        leg, edge, half = tangent(one.legs[0], 0.0), -tangent(before, float(len(before)), before=True), first
        leaving = tangent(half, 0.0)
    else:
        end = float(len(one.legs[1]))
        leg, edge, half = tangent(one.legs[1], end, before=True), tangent(after, 0.0), second
        leaving = -tangent(half, float(len(half)), before=True)
    image = Affine.reflection(np.zeros(2), leg).apply(edge)
    assert abs(float(cross(unit(image), unit(leaving)))) < 1e-9
    assert image @ leaving > 0
    assert np.allclose(first.end, second.start)


@pytest.mark.parametrize("bow", [INWARD, OUTWARD])
def test_it_has_a_cut_line(bow):
    pattern = pivot(curved(bow), "front.side@40%")
    piece = the(pattern)
    piece = replace(piece, edges=tuple(replace(e, allowance=Allowance(width=10.0)) for e in piece.edges))
    assert cut_line(piece) is not None
    assert len([rim for rim in rims(piece) if rim.dart is not None]) in (2, 3)
