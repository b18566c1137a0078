"""Places: every form is read, written again and found where it lies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.svg.read import read
from flatcut.pattern.places import Place, parse_place, read_reference
from flatcut.pattern.spots import spot, spots
from flatcut.pattern.values import Pattern
from tests import by_hand as hand
from tests import strategies as own


@pytest.fixture(scope="module")
def pattern() -> Pattern:
    return read(hand.two_pieces())[1]


@pytest.mark.parametrize(
    ("text", "normal"),
    [
        ("front", "front"),
        ("front.side", "front.side"),
        ("front.side@1/2", "front.side@1/2"),
        ("front.side@0.5", "front.side@0.5"),
        ("front.side@50%", "front.side@1/2"),
        ("front.side@1/3", "front.side@1/3"),
        ("front.side@1/4", "front.side@25%"),
        ("front.side@37.5%", "front.side@37.5%"),
        ("front.side@5cm", "front.side@50"),
        ("front.side@-5cm", "front.side@-50"),
        ("front.side@1 1/2in", "front.side@38.1"),
        ("front.side/hem", "front.side/hem"),
        ("front.side/hem@5cm", "front.side/hem@50"),
        ("front.side@5cm..-8cm", "front.side@50..-80"),
        ("front.side@0..1/2", "front.side@0..1/2"),
        ("front.side/waist-line", "front.side/waist-line"),
        ("front.bust-point", "front.bust-point"),
        ("front.waist-dart.point", "front.waist-dart.point"),
        ("front.waist-dart.upper", "front.waist-dart.upper"),
        ("front.waist-dart.foot-1", "front.waist-dart.foot-1"),
        ("~front.neck", "~front.neck"),
        ("~front.neck@1cm..2cm", "~front.neck@10..20"),
        ("at(front.neck/side, front.bust-point, 0.5, -0.1)", "at(front.neck/side,front.bust-point,0.5,-0.1)"),
        ("at(at(a.b/c,a.c/d,1,0),a.e,.25,1e-1)", "at(at(a.b/c,a.c/d,1,0),a.e,0.25,0.1)"),
        ("id:guide1", "id:guide1"),
        ("drawn:3", "drawn:3"),
        ("front.neck + -back.neck@0..5cm", "front.neck+-back.neck@0..50"),
        ("  front.side  ", "front.side"),
        ("größe.ärmel@1cm", "größe.ärmel@10"),
        ("vorne.naht_2-b", "vorne.naht_2-b"),
    ],
)
def test_every_form_has_a_normal_form_that_reads_back(text: str, normal: str) -> None:
    assert str(read_reference(text)) == normal
    assert str(read_reference(normal)) == normal


@given(own.places())
def test_what_is_written_is_read_back(place: Place) -> None:
    again = parse_place(str(place))
    assert str(again) == str(place)
    assert (again.piece, again.name, again.part, again.other, again.mirror) == (
        place.piece,
        place.name,
        place.part,
        place.other,
        place.mirror,
    )
    for mine, other in ((place.at, again.at), (place.to, again.to)):
        assert (mine is None) == (other is None)
        if mine is not None and other is not None:
            assert mine.mode == other.mode
            assert other.value == pytest.approx(mine.value, abs=1e-6 if mine.mode != "fraction" else 1e-9)


@pytest.mark.parametrize(
    "text",
    [
        *("", ".", "front.", ".side", "front..side", "front.side@", "front.side@@1", "front.side@1cm..", "1front.side"),
        *("front.side@3/2", "front.side@150%", "front.side@1/0", "front.side@1,5cm", "front.side@wide", "front side"),
        *("at(front.a/b)", "at(front.a/b,front.b/c,x,1)", "at(a.b/c,a.c/d,nan,0)", "at(a.b/c,a.c/d,inf,0)", "id:"),
        *("at(a.b/c,a.c/d,0,0", "front.side/", "front.side@1cm..2cm..3cm", "a.b.c.d", "at(id:x,a.b/c,0,0)"),
    ],
)
def test_what_is_no_place_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        parse_place(text)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=40))
def test_any_text_is_a_place_or_a_sentence(text: str) -> None:
    try:
        place = parse_place(text)
    except FlatcutError:
        return
    assert str(parse_place(str(place))) == str(place)


# where they lie; the front is drawn with its waist from (238, 418) to (23, 418), its side 245.05 mm from (243, 173),
# eased by 4 mm between 20 and 80 mm; its dart's feet are at (158, 418) and (133, 418), its point at (145.5, 288)
@pytest.mark.parametrize(
    ("text", "x", "y"),
    [
        ("front.side/waist", 238, 418),
        ("front.waist/side", 238, 418),
        ("front.centre/neck", 23, 58),
        ("front.waist@1cm", 228, 418),
        ("front.waist@-1cm", 33, 418),
        ("front.waist/side@1cm", 228, 418),
        ("front.waist/centre@1cm", 33, 418),
        ("front.dart-1.point", 145.5, 288),
        ("front.dart-1.foot-1", 158, 418),
        ("front.dart-1.foot-2", 133, 418),
        ("front.waist-fish.upper", 90, 200),
        ("front.waist-fish.lower", 90, 330),
        ("front.bust-point", 140, 230),
        ("at(front.side/waist,front.waist/centre,0.5,0)", 130.5, 418),
        ("at(front.side/waist,front.waist/centre,0,0.1)", 238, 396.5),
        ("front.centre/balance", 23, None),
        # the mouth of the dart is no part of the waist: 190 mm of 215 are drawn, the half is 95 from the side
        ("front.waist@1/2", 118, 418),
    ],
)
def test_where_a_place_lies(pattern: Pattern, text: str, x: float, y: float | None) -> None:
    if y is None:
        with pytest.raises(UsageError, match="does not reach"):
            spot(pattern, text)
        return
    assert np.allclose(spot(pattern, text).point, [x, y], atol=1e-6)


def test_inside_ease_places_count_linearly(pattern: Pattern) -> None:
    """60 mm of cloth make 56 mm of seam: 48 mm along the seam are 20 + 28 · 60/56 = 50 mm along the cloth."""
    along = np.array([-5.0, 245.0]) / np.hypot(5, 245)
    assert np.allclose(spot(pattern, "front.side@48").point, [243, 173] + 50 * along, atol=1e-6)


def test_a_place_on_a_mouth_is_both_feet(pattern: Pattern) -> None:
    assert [tuple(s.point.round(6)) for s in spots(pattern, "front.dart-1.mouth")] == [(158, 418), (133, 418)]
    assert np.allclose(spot(pattern, "front.dart-1.mouth").point, [145.5, 418])


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("fornt.side@1/2", "did you mean 'front'"),
        ("front.sied@1/2", "did you mean 'side'"),
        ("front.side", "whole edge"),
        ("front.side/neck", "do not meet"),
        ("front.side@1cm..2cm", "stretch"),
        ("front.side@3m", "beyond"),
        ("front.side@-3m", "beyond"),
        ("front.balance", "is a line"),
        ("front.waist-fish", "two points"),
        ("front.waist-fish.foot-1", "no place of this dart"),
        ("front.dart-1.leg-1", "no place of this dart"),
        ("front.dart-1.pont", "did you mean 'point'"),
        ("front", "does not name"),
        ("id:p1", "is not a place"),
    ],
)
def test_places_that_cannot_be(pattern: Pattern, text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        spots(pattern, text)
    assert part in str(caught.value)
