"""Path data: the grammar of the standard, and an independent parser."""

from __future__ import annotations

import math

import numpy as np
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import GeometryError, InputError
from flatcut.formats.svg.numbers import number, numbers
from flatcut.formats.svg.pathdata import SubPath, parse, parse_all, unparse
from flatcut.geometry.curves import Curve, bounds, cubic, line, point, polyline, same, signed_area

ARC = 4.3e-6  # of the larger radius: 2/27·sin⁶(θ/4)/cos²(θ/4) at θ = 45°, the error of a cubic for an arc


def nodes(d: str) -> list[list[list[float]]]:
    return [s.curve.nodes.tolist() for s in parse(d)]


# SVG 1.1, section 8.3 and 8.3.9; SVG 2, section 9.3: what the texts themselves give as equal
EQUAL = [
    ("M 100 100 L 200 200", "M100 100L200 200"),
    ("M 100 200 L 200 100 L -100 -200", "M 100 200 L 200 100 -100 -200"),
    ("M 100-200L1 1", "M 100,-200 L 1,1"),
    ("M 0.6.5L1 1", "M 0.6,0.5 L 1,1"),
    ("M 1 2 3 4 5 6", "M 1 2 L 3 4 L 5 6"),
    ("m 1 2 3 4 5 6", "M 1 2 L 4 6 L 9 12"),
    ("M0 0h1-2 3v4 5", "M0 0 L1 0 L-1 0 L2 0 L2 4 L2 9"),
    ("M0 0a1 1 0 0110 10", "M0 0 A 1 1 0 0 1 10 10"),
    ("M0 0a25,26 -30 0110,0", "M0 0 a 25 26 -30 0 1 10 0"),
    ("M0 0a1 1 0 00.5.5", "M0 0 a 1 1 0 0 0 .5 .5"),
    ("M1e1 1E-1L1.e+1-.5e0", "M10 .1 L 10 -0.5"),
    ("\tM\n1\r\n2 , 3 4", "M1 2L3 4"),
    ("M0 0 L 4 0 L 4 3 z l 1 1", "M0 0 L 4 0 L 4 3 z M 0 0 L 1 1"),
    ("m 5 5 l 4 0 0 3 z m 1 1 l 1 0", "M 5 5 L 9 5 9 8 Z M 6 6 L 7 6"),
    ("M0 0S1 1 2 0 3-1 4 0", "M0 0C0 0 1 1 2 0C 3 -1 3 -1 4 0"),
    ("M0 0C0 1 1 1 1 0S2-1 2 0", "M0 0C0 1 1 1 1 0C 1 -1 2 -1 2 0"),
    ("M0 0Q1 2 2 0T4 0 6 0", "M0 0Q1 2 2 0Q3 -2 4 0Q5 2 6 0"),
    ("M0 0L1 0T4 0", "M0 0L1 0Q1 0 4 0"),
    ("M0 0Q1 2 2 0S3 3 4 0", "M0 0Q1 2 2 0C2 0 3 3 4 0"),
    ("M0 0C0 1 1 1 1 0T3 0", "M0 0C0 1 1 1 1 0Q1 0 3 0"),
]


@pytest.mark.parametrize(("one", "other"), EQUAL)
def test_the_grammar_of_the_standard(one: str, other: str) -> None:
    found, wanted = parse(one), parse(other)
    assert len(found) == len(wanted) > 0
    for a, b in zip(found, wanted, strict=True):
        assert a.closed == b.closed
        assert same(a.curve, b.curve, tolerance=1e-12)
        assert (a.curve.straight == b.curve.straight).all()


def test_a_number_may_end_in_a_point_as_svg_1_1_allows() -> None:
    assert nodes("M10.,2.L2. 3") == [[[10, 2], [2, 3]]]


@pytest.mark.parametrize(
    ("d", "part"),
    [
        ("L 1 1", "'L', where only M can stand, at character 1"),
        ("  5 5", "'5', where only M can stand, at character 3"),
        ("M 1", "numbers missing in command M at character 1"),
        ("M0 0 L 5", "numbers missing in command L at character 6"),
        ("M0 0 C 1 2 3 4 5", "numbers missing in command C at character 6"),
        ("M0 0 L", "numbers missing in command L at character 6"),
        ("M0 0 L 1 1 z 3", "numbers after command z at character 12"),
        ("M0 0 L 1,,2", "a comma too many at character 9"),
        ("M0 0, L 1 2", "a comma too many at character 5"),
        ("M0 0 L, 1 2", "a comma too many at character 7"),
        ("M0 0 L 1 2,", "a comma too many at character 11"),
        ("M0 0 L 1 x", "'x', which is no path data, at character 10"),
        ("M0 0 L nan 1", "'n', which is no path data, at character 8"),
        ("M0 0 L 1_0 1", "'_', which is no path data, at character 9"),
        ("M0 0 L ١ 1", "which is no path data, at character 8"),
        ("M0 0 L 1e 1", "'e' in command L at character 6"),
        ("M0 0 L . 1", "'.' in command L at character 6"),
        ("M0 0 L 1 +", "'+' in command L at character 6"),
        ("M0 0 A 1 1 0 2 0 5 5", "a radius, flag or number wrong or missing in command A at character 6"),
        ("M0 0 a 1 1 0 1 0 5", "a radius, flag or number wrong or missing in command a at character 6"),
        ("M 0 0 L 1e999 1", "too large to draw"),
        ("M 0 0 A 1 1 0 0 1 1e999 0", "too large to draw"),
        ("M 1e308 0 l 1e308 1e308 q 1 1 1e308 2", "too large to draw"),
    ],
)
def test_a_fault_is_one_sentence_with_its_place(d: str, part: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(d, name="path 'p1'")
    text = str(caught.value)
    assert part in text
    assert text.startswith("path 'p1' has ")
    assert "\n" not in text


@pytest.mark.parametrize("d", ["", "  ", "M 1 1", "M 1 1 z", "M 1 1 z m 2 2", "M1 1L1 1", "M1 1 a 5 5 0 0 1 0 0 z"])
def test_what_has_no_length_draws_nothing(d: str) -> None:
    assert parse(d) == []


def test_a_number_is_never_taken_apart_to_make_an_arc_fit() -> None:
    for digit in "12":  # also: no search through the ways to take it apart, which would be without end
        with pytest.raises(InputError, match="a radius, flag or number wrong or missing"):
            parse("M0 0 A" + digit * 20_000)


def test_segments_without_length_are_left_out_and_counted() -> None:
    (found,) = parse("M0 0 L0 0 4 0 C 4 0 4 0 4 0 L 4 3 h0 v0 q0 0 0 0 a 1 1 0 0 1 0 0 Z")
    assert found.curve.nodes.tolist() == [[0, 0], [4, 0], [4, 3], [0, 0]]
    assert found.dropped == 6


def test_a_loop_that_ends_where_it_starts_is_kept() -> None:
    (found,) = parse("M0 0 C 5 5 -5 5 0 0")
    assert (len(found.curve), found.closed, found.dropped) == (1, False, 0)


@pytest.mark.parametrize("gap", [0.0, 1e-12, 1e-7, -4e-6])
def test_no_speck_closes_a_path_that_is_back_at_its_start(gap: float) -> None:
    (found,) = parse(f"M 10 10 L 20 10 20 20 {10 + gap:.12f} {10 - gap:.12f} Z")
    assert len(found.curve) == 3
    assert found.closed
    assert found.curve.end.tolist() == found.curve.start.tolist() == [10, 10]
    assert found.dropped == 0
    assert same(found.curve, polyline([(10, 10), (20, 10), (20, 20), (10, 10)]), tolerance=1e-9)


def test_a_short_drawn_closing_line_is_kept() -> None:
    (found,) = parse("M 10 10 L 20 10 20 20 10 10.0001 Z")
    assert len(found.curve) == 4


def test_handles_are_where_the_standard_says() -> None:
    # degree elevation of a quadratic (any text on Béziers): handles at two thirds of the way to its own
    (found,) = parse("M0 0Q3 6 6 0")
    assert found.curve.controls.tolist() == [[[0, 0], [2, 4], [4, 4], [6, 0]]]
    assert not found.curve.straight.any()


# Arcs ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("flags", ["0 0", "0 1", "1 0", "1 1"])
def test_the_four_arcs_between_two_points(flags: str) -> None:
    """SVG 2, section 9.5.1: flags choose the large or small arc and its direction (y down: sweep 1 is clockwise)."""
    large, sweep = (flag == "1" for flag in flags.split())
    (found,) = parse(f"M 0 0 A 5 5 0 {flags} 6 0")
    centre = (3.0, -4.0) if large == sweep else (3.0, 4.0)  # a circle of radius 5 on a chord of 6 (3-4-5)
    points = point(found.curve, np.linspace(0, len(found.curve), 101))
    radii = np.hypot(*(points - centre).T)
    assert abs(radii - 5).max() < 5 * ARC
    small = 2 * math.asin(0.6)
    turn = (2 * math.pi - small if large else small) * (1 if sweep else -1)
    segment = 25 / 2 * (abs(turn) - math.sin(abs(turn))) * (1 if sweep else -1)
    assert signed_area(found.curve) == pytest.approx(segment, rel=1e-5)
    assert len(found.curve) == math.ceil(abs(turn) / (math.pi / 4))


def test_radii_too_small_are_enlarged() -> None:
    """SVG 2, appendix B.2.5: scaled up uniformly until there is exactly one solution, here a half ellipse 2:1."""
    (found,) = parse("M 0 0 A 2 1 0 0 1 10 0")
    assert bounds(found.curve) == pytest.approx((0, -2.5, 10, 0), abs=5 * ARC)


def test_radii_without_size_make_a_line_and_signs_do_not_count() -> None:
    """SVG 2, appendix B.2.5, steps 1 and 2."""
    (found,) = parse("M 0 0 A 0 5 0 0 1 10 0")
    assert found.curve.straight.tolist() == [True]
    assert same(parse("M0 0 A -5 -5 0 0 1 6 0")[0].curve, parse("M0 0 A 5 5 0 0 1 6 0")[0].curve, tolerance=1e-12)


@pytest.mark.parametrize("d", ["M 0 0 A 1e-300 1 0 0 1 5 5", "M 0 0 A 1e15 1e15 0 0 1 5 5", "M0 0A9 9 0 1 1 1e-12 0"])
def test_arcs_at_the_end_of_the_numbers(d: str) -> None:
    (found,) = parse(d)
    assert np.isfinite(found.curve.controls).all()


# Against an independent parser ---------------------------------------------------------------------------------------

FIGURE = st.integers(-400, 400).map(lambda k: k / 4)
RADIUS = st.integers(1, 200).map(lambda k: k / 4)
COUNTS = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0}


@st.composite
def commands(draw: st.DrawFn) -> str:
    """One command. A smooth one comes after its own kind: after the other, svgelements mirrors that one's handle,
    where the standard takes the current point (SVG 2, sections 9.3.6 and 9.3.7; EQUAL holds that case).
    """
    letter = draw(st.sampled_from(["m", "l", "h", "v", "c", "cs", "q", "qt", "a", "z"]))
    if len(letter) == 2:
        return " ".join(draw(command(single)) for single in letter)
    return draw(command(letter))


@st.composite
def command(draw: st.DrawFn, letter: str) -> str:
    shown = letter.upper() if draw(st.booleans()) else letter
    parts: list[str] = []
    for _ in range(1 if letter == "z" else draw(st.integers(1, 3))):
        if letter == "a":
            rx, ry = draw(RADIUS), draw(RADIUS)
            flags = draw(st.sampled_from(["0 0 ", "01", "1,0 ", "1 1,"]))
            parts.append(f"{rx} {ry} {draw(st.integers(-180, 180))} {flags}{draw(FIGURE)} {draw(FIGURE)}")
        else:
            parts += [repr(draw(FIGURE)) for _ in range(COUNTS[letter])]
    text = parts[0] if parts else ""
    for part in parts[1:]:
        text += draw(st.sampled_from([" ", ",", "\n", " , "] + ([""] if part.startswith("-") else []))) + part
    return shown + draw(st.sampled_from(["", " "])) + text


PATHS = st.lists(commands(), min_size=1, max_size=8).map(lambda items: "M 3.5-2 " + " ".join(items))


def ours(d: str) -> tuple[np.ndarray, list[bool]]:
    found = parse(d)
    controls = np.concatenate([s.curve.controls for s in found]) if found else np.zeros((0, 4, 2))
    return controls, [bool(flat) for s in found for flat in s.curve.straight]


@given(PATHS)
@settings(deadline=None, max_examples=200)
def test_every_segment_is_where_svgelements_sees_it(d: str) -> None:
    """svgelements, an independent parser of SVG: segment by segment, sampled along both."""
    controls, straight = ours(d)
    size = max(1.0, np.abs(controls).max()) if len(controls) else 1.0
    place = 0
    for segment in svgelements.Path(d):
        if isinstance(segment, svgelements.Move):
            continue
        ends = [complex(p) for p in (segment.start, segment.end)]
        flat = isinstance(segment, (svgelements.Line, svgelements.Close))
        if ends[0] == ends[1] and (flat or isinstance(segment, svgelements.Arc)):
            continue
        if isinstance(segment, svgelements.Arc):
            count = max(1, math.ceil(abs(float(segment.sweep)) / (math.pi / 4) - 1e-6))
            check_arc(segment, controls[place : place + count], size)
            place += count
            continue
        t = np.linspace(0, 1, 5)
        wanted = np.array([[p.x, p.y] for p in map(segment.point, t)])
        if np.abs(wanted - wanted[0]).max() == 0:
            continue
        span = Curve(controls[place : place + 1], np.array([straight[place]]))
        assert straight[place] == flat
        assert np.abs(point(span, t) - wanted).max() <= 1e-9 * size
        place += 1
    assert place == len(controls)


def check_arc(arc: svgelements.Arc, spans: np.ndarray, size: float) -> None:
    """The spans of an arc end where it is at equal parts of its turn, and stay on its ellipse."""
    curve = Curve(spans, np.zeros(len(spans), dtype=bool))
    parts = np.array([[p.x, p.y] for p in (arc.point(k / len(spans)) for k in range(len(spans) + 1))])
    # a chord as long as the ellipse leaves half the digits to the centre, in svgelements too
    assert np.abs(curve.nodes - parts).max() <= 1e-6 * size
    turn = float(arc.get_rotation())
    offset = point(curve, np.linspace(0, len(curve), 8 * len(curve) + 1)) - [arc.center.x, arc.center.y]
    x = offset @ [math.cos(turn), math.sin(turn)] / float(arc.rx)
    y = offset @ [-math.sin(turn), math.cos(turn)] / float(arc.ry)
    radius = max(float(arc.rx), float(arc.ry))
    assert np.abs(np.hypot(x, y) - 1).max() * radius <= ARC * radius + 1e-6 * size


# Writing ------------------------------------------------------------------------------------------------------------

COORDINATE = st.floats(-1e4, 1e4, allow_nan=False).map(lambda v: round(v, 6))
POINT = st.tuples(COORDINATE, COORDINATE)


@st.composite
def curves(draw: st.DrawFn) -> SubPath:
    closed = draw(st.booleans())
    last = start = draw(POINT)
    spans: list[Curve] = []
    for _ in range(draw(st.integers(1, 6))):
        end = draw(POINT.filter(lambda p, q=last: math.dist(p, q) > 0.1))
        spans.append(cubic(last, draw(POINT), draw(POINT), end) if draw(st.booleans()) else line(last, end))
        last = end
    if closed and math.dist(last, start) > 0:
        if math.dist(last, start) < 1:
            closed = False
        else:
            spans.append(line(last, start))
    controls = np.concatenate([c.controls for c in spans])
    return SubPath(Curve(controls, np.concatenate([c.straight for c in spans])), closed)


@given(st.lists(curves(), min_size=1, max_size=3))
@settings(deadline=None)
def test_what_is_written_reads_back(items: list[SubPath]) -> None:
    text = unparse([s.curve for s in items], [s.closed for s in items])
    found = parse(text)
    assert [s.closed for s in found] == [s.closed for s in items]
    for a, b in zip(found, items, strict=True):
        assert same(a.curve, b.curve, tolerance=1e-9)
        assert (a.curve.straight == b.curve.straight).all()
    assert unparse([s.curve for s in found], [s.closed for s in found]) == text


@given(PATHS)
@settings(deadline=None, max_examples=100)
def test_any_path_reads_back(d: str) -> None:
    found = parse(d)
    again = parse(unparse([s.curve for s in found], [s.closed for s in found]))
    assert len(found) == len(again)
    for a, b in zip(found, again, strict=True):
        assert a.closed == b.closed
        assert same(a.curve, b.curve, tolerance=1e-9)


def test_the_text_is_plain() -> None:
    square = polyline([(0, 0), (10, 0), (10, 0.1 + 0.2), (1e-17, 5), (0, 0)])
    assert unparse([square], True) == "M 0,0 L 10,0 10,0.3 0,5 Z"
    assert unparse([square], False) == "M 0,0 L 10,0 10,0.3 0,5 0,0"
    assert unparse([square, line((1, 2), (3, 4))], [True, False]).endswith("Z M 1,2 L 3,4")
    assert unparse([], True) == ""


def test_a_closed_path_must_end_on_its_start() -> None:
    with pytest.raises(GeometryError, match="close the gap"):
        unparse([polyline([(0, 0), (1, 0), (1, 1)])], True)


def test_many_paths_at_once_are_as_one_by_one() -> None:
    data = ["M0 0L4 0 4 3z", "", "M0 0h0", "M1 1 C 2 2 3 3 4 1 z M 9 9 h1", "M5 5z"]
    together = parse_all(data)
    for d, found in zip(data, together, strict=True):
        alone = parse(d)
        assert len(alone) == len(found)
        for a, b in zip(alone, found, strict=True):
            assert (a.closed, a.dropped) == (b.closed, b.dropped)
            assert same(a.curve, b.curve, tolerance=0)
            assert not b.curve.controls.flags.writeable
            Curve(b.curve.controls, b.curve.straight)  # its own checks hold


@given(st.text(alphabet="MmLlCcAaZzHvQt0123456789.,-+eE \n", max_size=40))
@settings(deadline=None, max_examples=500)
def test_any_text_gives_curves_or_one_sentence(text: str) -> None:
    try:
        found = parse("M" + text)
    except InputError as error:
        found = []
        sentence = str(error)
    else:
        sentence = ""
    assert "\n" not in sentence
    for subpath in found:
        Curve(subpath.curve.controls, subpath.curve.straight)


@given(st.floats(-1e6, 1e6))
def test_numbers_are_written_short_and_read_back(value: float) -> None:
    text = number(value)
    assert "e" not in text
    assert numbers(text) == [pytest.approx(value, abs=0.65e-9)]
