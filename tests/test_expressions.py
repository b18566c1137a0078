"""Lengths as they are typed: their value, their recorded form, their errors."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.svg.read import read
from flatcut.pattern.expressions import evaluate, parse_length
from flatcut.pattern.values import Pattern
from tests import by_hand as hand
from tests import strategies as own

BODY = {"wrist": 160.0, "bust": 880.0, "a": 50.0, "nape-to-waist": 410.0}


@lru_cache
def pattern() -> Pattern:
    return replace(read(hand.two_pieces())[1], body=BODY, measures={"cap": 420.0})


# value in mm by hand: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
@pytest.mark.parametrize(
    ("text", "mm", "shown"),
    [
        ("10mm", 10.0, "10"),
        ("10", 10.0, "10"),
        ("1cm", 10.0, "1cm"),
        ("1.5cm", 15.0, "1.5cm"),
        (".5in", 12.7, ".5in"),
        ("3/8in", 9.525, "3/8in"),
        ("1 1/2in", 38.1, "1 1/2in"),
        ("1 1/2 in", 38.1, "1 1/2in"),
        ("2ft", 609.6, "2ft"),
        ("1yd", 914.4, "1yd"),
        ("0.1m", 100.0, "0.1m"),
        ("-2cm", -20.0, "-2cm"),
        ("a/2/5", 5.0, "a/2/5"),
        ("a/(1/2)", 100.0, "a/(1/2)"),
        ("((a)/1)/2", 25.0, "a/1/2"),
        ("a/1 1/2 + 1", 103 / 3, "a/(1 1/2) + 1mm"),
        ("a*1/2", 25.0, "a*1/2"),
        ("wrist", 160.0, "wrist"),
        ("wrist + 5cm", 210.0, "wrist + 5cm"),
        ("wrist+5cm", 210.0, "wrist + 5cm"),
        ("wrist + 5", 165.0, "wrist + 5mm"),
        ("2*(a - 1cm)/3", 80 / 3, "2*(a - 1cm)/3"),
        ("bust/4 + 1cm", 230.0, "bust/4 + 1cm"),
        ("bust/(2*4)", 110.0, "bust/(2*4)"),
        ("(bust - wrist)*1/2", 360.0, "(bust - wrist)*1/2"),
        ("nape-to-waist - 1cm", 400.0, "nape-to-waist - 1cm"),
        ("-(a + 1cm)", -60.0, "-(a + 1cm)"),
        ("a - (wrist - bust)", 770.0, "a - (wrist - bust)"),
        ("cap/2", 210.0, "cap/2"),
        ("3*1/4in", 19.05, "3*1/4in"),
        ("2*3", 6.0, "2mm*3"),
    ],
)
def test_values_and_their_recorded_form(text: str, mm: float, shown: str) -> None:
    expression = parse_length(text)
    assert evaluate(expression, pattern()) == pytest.approx(mm, abs=1e-9)
    assert expression.text == shown
    again = parse_length(expression.text)
    assert again.text == shown
    assert evaluate(again, pattern()) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "units", "shown", "mm"),
    [
        ("4", "cm", "4cm", 40.0),
        ("4mm", "cm", "4", 4.0),
        ("wrist + 5", "cm", "wrist + 5cm", 210.0),
        ("1/2", "in", "1/2in", 12.7),
        ("2*wrist", "in", "2*wrist", 320.0),
        ("-3", "cm", "-3cm", -30.0),
        ("(1 + 2)*3", "cm", None, 90.0),
        ("wrist/2 - 1", "in", "wrist/2 - 1in", 54.6),
    ],
)
def test_the_units_of_a_call_are_written_into_the_recorded_form(
    text: str, units: str, shown: str | None, mm: float
) -> None:
    expression = parse_length(text, units=units)
    assert evaluate(expression, pattern()) == pytest.approx(mm, abs=1e-9)
    if shown is not None:
        assert expression.text == shown
    assert evaluate(parse_length(expression.text), pattern()) == pytest.approx(mm, abs=1e-9)


def test_lengths_of_runs_and_distances() -> None:
    p = pattern()
    # the front's side is drawn from (243, 173) to (238, 418), 4 mm of it eased
    side = math.hypot(5, 245) - 4
    assert evaluate(parse_length("length(front.side)"), p) == pytest.approx(side, abs=1e-6)
    both = evaluate(parse_length("length(front.side+back.side) + 1cm"), p)
    assert both == pytest.approx(side + math.hypot(5, 245) + 10, abs=1e-6)
    half = evaluate(parse_length("length(front.side@0..1/2)"), p)
    assert half == pytest.approx(side / 2, abs=1e-6)
    wide = evaluate(parse_length("distance(front.side/waist, front.waist/centre)/2"), p)
    assert wide == pytest.approx(215 / 2, abs=1e-6)
    nested = "distance(at(front.waist/centre,front.side/waist,0.5,0), front.waist/centre)"
    assert evaluate(parse_length(nested), p) == pytest.approx(215 / 2, abs=1e-6)
    assert parse_length(nested).text == nested


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "empty"),
        ("  ", "empty"),
        ("1,5cm", "write 1.5cm"),
        ("wrist + 1,5cm", "1.5cm"),
        ("3furlong", "furlong"),
        ("3 + 4ell", "ell"),
        ("wrist +", "not a length"),
        ("(wrist", "close the bracket"),
        ("wrist)", "not a length"),
        ("*3", "missing"),
        ("wrist wrist", "not a length"),
        ("3/0in", "zero"),
        ("wrist/0", "zero"),
        ("wrist/(1 - 1)", "zero"),
        ("wrist*bust", "multiplies two lengths"),
        ("2/wrist", "divides"),
        ("wrists", "did you mean 'wrist'"),
        ("bust-wrist", "space on each side of the minus"),
        ("sin(3)", "sin"),
        ("length(front.sied)", "did you mean 'side'"),
        ("length()", ""),
        ("length(front.side", "bracket"),
        ("distance(front.side/waist)", "two places"),
        ("1e9", "not a length"),
        ("bust*1e9", "not a length"),
        ("1e400cm", "not a length"),
        ("nan", "nan"),
        ("1 2cm", ""),
        ("--", ""),
        ("3'", ""),
    ],
)
def test_errors_are_one_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        evaluate(parse_length(text), pattern())
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


@given(own.expressions(names=tuple(BODY)))
def test_the_recorded_form_has_the_same_value(written: tuple[str, float]) -> None:
    text, value = written
    p = Pattern(body=BODY)
    try:
        expression = parse_length(text)
    except UsageError:
        return  # a product of lengths, or a sum that no pattern has
    try:
        mm = evaluate(expression, p)
    except UsageError:
        return
    assert mm == pytest.approx(value, rel=1e-9, abs=1e-6)
    again = parse_length(expression.text)
    assert evaluate(again, p) == pytest.approx(mm, rel=1e-12, abs=1e-9)
    assert parse_length(again.text).text == again.text


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_a_sentence(text: str) -> None:
    try:
        expression = parse_length(text)
    except FlatcutError:
        return
    assert expression.constant is None or math.isfinite(expression.constant)
