"""Transforms and lengths: the standard's examples, an independent parser, and the way back."""

from __future__ import annotations

import math

import numpy as np
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import InputError
from flatcut.formats.svg.lengths import PX, user_units
from flatcut.formats.svg.transforms import parse_transform, unparse_transform
from flatcut.geometry.affine import IDENTITY, Affine

FIGURE = st.integers(-4000, 4000).map(lambda k: k / 16)


def test_a_list_is_nested_groups() -> None:
    """SVG 1.1, section 7.6: translate(-10,-20) scale(2) rotate(45) translate(5,10), as nested groups."""
    whole = parse_transform("translate(-10,-20) scale(2) rotate(45) translate(5,10)")
    nested = IDENTITY
    for part in ("translate(-10,-20)", "scale(2)", "rotate(45)", "translate(5,10)"):
        nested = nested @ parse_transform(part)
    assert whole == pytest.approx(nested, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # SVG 1.1, section 7.6: the matrix of each kind
        ("matrix(1 2 3 4 5 6)", (1, 2, 3, 4, 5, 6)),
        ("translate(7)", (1, 0, 0, 1, 7, 0)),
        ("translate(7 -8)", (1, 0, 0, 1, 7, -8)),
        ("scale(3)", (3, 0, 0, 3, 0, 0)),
        ("scale(3,-2)", (3, 0, 0, -2, 0, 0)),
        ("rotate(90)", (0, 1, -1, 0, 0, 0)),
        ("rotate(-90)", (0, -1, 1, 0, 0, 0)),
        ("rotate(540)", (-1, 0, 0, -1, 0, 0)),
        ("rotate(180 2 3)", (-1, 0, 0, -1, 4, 6)),
        ("rotate(30)", (math.cos(math.pi / 6), 0.5, -0.5, math.cos(math.pi / 6), 0, 0)),
        ("skewX(45)", (1, 0, 1, 1, 0, 0)),
        ("skewY(45)", (1, 1, 0, 1, 0, 0)),
        # its grammar: commas, spaces, lines, glued numbers, several in a row
        ("  translate (1,2)scale( 2 ) ", (2, 0, 0, 2, 1, 2)),
        ("translate(1-2),\n scale(2)", (2, 0, 0, 2, 1, -2)),
        ("matrix(1.5.5.5.5 1e1-1)", (1.5, 0.5, 0.5, 0.5, 10, -1)),
        ("", (1, 0, 0, 1, 0, 0)),
    ],
)
def test_each_kind(text: str, wanted: tuple[float, ...]) -> None:
    assert parse_transform(text) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "turn(5)",
        "translate()",
        "translate(1,,2)",
        "translate(1 2 3)",
        "rotate(1 2)",
        "scale(2",
        "scale 2",
        "scale(2),",
        "scale(2),,scale(2)",
        "matrix(1 2 3 4 5)",
        "scale(nan)",
        "scale(1e999)",
        "rotate(1e999)",
        "translate(1px)",
        "SCALE(2)",
        "translate(1,2) x",
    ],
)
def test_a_transform_that_cannot_be_read_is_one_sentence(text: str) -> None:
    with pytest.raises(InputError, match=r"path 'p1' has a transform that cannot be read, '.*'; undo it") as caught:
        parse_transform(text, name="path 'p1'")
    assert "\n" not in str(caught.value)


@st.composite
def lists(draw: st.DrawFn) -> str:
    counts = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}
    parts: list[str] = []
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(sorted(counts)))
        figures = st.integers(-80, 80) if kind.startswith("skew") else FIGURE
        values = [repr(draw(figures)) for _ in range(draw(st.sampled_from(counts[kind])))]
        parts.append(f"{kind}({draw(st.sampled_from([' ', ',', ', '])).join(values)})")
    return draw(st.sampled_from([" ", ",", ""])).join(parts)


@given(lists())
@settings(deadline=None)
def test_lists_are_what_svgelements_reads(text: str) -> None:
    """svgelements, an independent parser of SVG."""
    found = np.array(parse_transform(text))
    theirs = svgelements.Matrix(text)
    wanted = np.array([theirs.a, theirs.b, theirs.c, theirs.d, theirs.e, theirs.f], dtype=float)
    assert np.abs(found - wanted).max() <= 1e-9 * max(1.0, np.abs(wanted).max())


@given(st.tuples(*[st.floats(-1e3, 1e3).filter(lambda v: v == 0 or abs(v) > 1e-3)] * 6))
def test_a_map_reads_back(values: tuple[float, ...]) -> None:
    matrix = Affine(*values)
    back = parse_transform(unparse_transform(matrix))
    points = np.array([[0, 0], [1e3, 0], [0, -1e3]])
    assert np.abs(back.apply(points) - matrix.apply(points)).max() <= 1e-8


def test_maps_are_written_short() -> None:
    turn = parse_transform("rotate(90)")
    assert unparse_transform(turn) == "matrix(0,1,-1,0,0,0)"
    assert unparse_transform(turn @ turn @ turn @ turn) == ""
    assert unparse_transform(Affine.translation(0.1 + 0.2, -1e-17)) == "translate(0.3,0)"
    assert unparse_transform(Affine.rotation(math.pi / 4)).startswith("matrix(0.70710678118654")
    assert "e" not in unparse_transform(Affine.scaling(1e-7)).replace("matrix", "")
    assert parse_transform(unparse_transform(Affine.scaling(1 / 3e7))).a == pytest.approx(1 / 3e7, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        # CSS Values and Units Level 3, section 6.2: 1in = 2.54cm = 96px = 72pt = 6pc, 1Q = 1/40 cm
        ("96px", 25.4),
        ("96", 25.4),
        ("1in", 25.4),
        ("2.54cm", 25.4),
        ("25.4mm", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("40Q", 10.0),
        ("10MM", 10.0),
        ("-.5e1mm", -5.0),
        (" 12 mm ", 12.0),
    ],
)
def test_the_sizes_of_the_units(text: str, mm: float) -> None:
    assert user_units(text) * PX == pytest.approx(mm, rel=1e-12)
    assert user_units(text) == pytest.approx(mm * 96 / 25.4, rel=1e-12)


def test_percentages_are_of_something() -> None:
    assert user_units("12.5%", whole=80) == 10
    with pytest.raises(InputError, match="'50%' and nothing to take it of; write a length in mm"):
        user_units("50%")


@pytest.mark.parametrize(
    "text", ["", "wide", "5em", "5furlong", "1,5mm", "1e", "nan", "inf", "5%%", "calc(1px)", "1" * 99999 + "x"]
)
def test_a_length_that_is_none_is_one_sentence(text: str) -> None:
    with pytest.raises(InputError, match=r"rect 'r' has '.*' where a length is expected; write a number in px, mm"):
        user_units(text, name="rect 'r'")
