"""What was drawn on one block is drawn by its steps on a block of another size, with no drawing."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.cli.main import main
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import point
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Line, Pattern
from flatcut.recipe import read_recipe, replay, write_recipe

SMALL = "M 20,60 C 40,64 60,52 75,25 L 190,60 C 175,120 190,160 240,175 L 235,420 L 20,420 Z"
LARGE = "M 18,58 C 44,63 68,50 86,20 L 220,62 C 203,131 220,178 278,194 L 272,480 L 18,480 Z"
"""The same block in two sizes: not an enlargement of each other, as sizes are not."""


def block(outline: str) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" viewBox="0 0 600 600">'
        f'<path id="outline" d="{outline}"/></svg>'
    ).encode()


def with_guide(data: bytes, drawn: str) -> bytes:
    """A line drawn by hand over what is there."""
    return data.replace(b"</svg>", f'<path id="guide1" d="{drawn}"/></svg>'.encode())


EDGES = {
    "target": tuple(f"front.e{k}" for k in range(1, 7)),
    "names": ("neck", "shoulder", "armhole", "side", "waist", "centre"),
}


@lru_cache
def prepared() -> bytes:
    drawing, pattern, _ = read(block(SMALL))
    pattern = load("piece")(target=("id:outline",), names=("front",))(pattern)  # type: ignore[call-arg]
    return write(drawing, load("edge")(**EDGES)(pattern))  # type: ignore[arg-type]


def guided(drawn: str, **more: str) -> Pattern:
    """The small block after its drawn line was kept."""
    pattern = read(with_guide(prepared(), drawn))[1]
    return load("line")(drawn="id:guide1", name="yoke", **more)(pattern)  # type: ignore[call-arg]


def on_large(pattern: Pattern) -> Pattern:
    recipe = read_recipe(write_recipe(pattern.steps))
    return replay(recipe, read(block(LARGE))[1])


def the_line(pattern: Pattern) -> Line:
    return pattern.piece("front").lines[0]


def figure(pattern: Pattern, part: str) -> float:
    return next(f.value for f in pattern.steps[-1].figures if part in f.label)


GUIDES = {
    "from edge to edge": "M 20,180 L 245,200",
    "from corner to corner": "M 75.6,25.7 L 234,419",
    "overshooting both edges": "M 5,180 L 270,200",
    "curved": "M 20,180 C 80,160 170,240 245,210",
    "curved through several nodes": "M 20,180 C 60,170 80,190 110,200 S 170,240 245,210",
    "bent": "M 20,180 L 120,240 L 245,210",
    "ending inside": "M 20,300 L 130,250",
    "inside at both ends": "M 60,150 C 90,140 120,160 150,150",
    "closed, with corners": "M 80,250 L 150,250 L 150,320 L 80,320 Z",
    "closed and round": "M 115,250 C 135,250 150,265 150,285 S 135,320 115,320 S 80,305 80,285 S 95,250 115,250 Z",
}


@pytest.mark.parametrize("what", GUIDES)
def test_a_drawn_line_replays_on_another_size_without_a_drawing(what: str) -> None:
    small = guided(GUIDES[what])
    away = figure(small, "differs")
    assert away <= (0.05 if "corner to corner" not in what else 2.0), f"{away} mm"
    line = small.steps[-1].line
    assert "id:" not in line
    assert "guide" not in line
    large = on_large(small)
    mine, other = the_line(small), the_line(large)
    assert other.name == "yoke"
    assert len(mine.curve) == len(other.curve)
    assert (mine.curve.straight == other.curve.straight).all()
    closed = "closed" in what
    assert bool((other.curve.start == other.curve.end).all()) == closed
    # what lay on the outline lies on the outline of the other size, at the same share of the same edge
    for k in (0, -1):
        end = mine.curve.nodes[k]
        for edge in small.piece("front").edges:
            if nearest(edge.parts[0], end)[1] < 1e-6:
                there = large.piece("front").edge(edge.name)
                assert nearest(there.parts[0], other.curve.nodes[k])[1] < 1e-6


def test_the_ends_are_places_that_mean_the_same() -> None:
    small = guided(GUIDES["overshooting both edges"])
    large = on_large(small)
    for pattern, left, right in ((small, 20, 235), (large, 18, 272)):
        line = the_line(pattern)
        assert line.curve.start[0] == pytest.approx(left, abs=1e-6)
        assert right <= line.curve.end[0]
    # 1/3 of the centre edge from the neck, walked clockwise from the waist: the edge runs upward
    share = (420 - the_line(small).curve.start[1]) / 360
    assert (480 - the_line(large).curve.start[1]) / 422 == pytest.approx(share, abs=1e-6)


def test_a_corner_is_snapped_to_within_2_mm_and_no_farther() -> None:
    near = guided("M 76,26 L 130,250").steps[-1].line
    assert "--start=front.neck/shoulder" in near
    far = guided("M 70,34 L 130,250").steps[-1].line
    assert "--start=front.neck@" in far


def test_a_line_inside_hangs_on_the_corners_next_to_it() -> None:
    line = guided("M 40,90 L 60,300").steps[-1].line
    assert "--start=at(front.centre/neck,front.neck/shoulder," in line.replace('"', "")
    assert "--end=at(front." in line.replace('"', "")


def test_by_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Draw, keep, take the recipe, run it on the other size."""
    small, large = tmp_path / "small.svg", tmp_path / "large.svg"
    small.write_bytes(block(SMALL))
    large.write_bytes(block(LARGE))
    steps = [
        ["piece", "id:outline", "--names=front"],
        ["edge", *EDGES["target"], "--names=" + ",".join(EDGES["names"])],
        ["line", "--drawn=id:guide1", "--name=yoke", "--kind=balance"],
        ["point", "--at=at(front.neck/shoulder,front.side/waist,0.5,0.1)", "--name=bust-point"],
        ["edge", "front.side@1/2", "--split", "--names=side-up,side-down"],
        ["measure", "front.side-up", "--as=half-side"],
        ["allowance", "all", "--width=half-side/12"],
    ]
    for words in steps:
        if words[0] == "line":
            small.write_bytes(with_guide(small.read_bytes(), GUIDES["curved"]))
        assert main([*words, "-i", str(small), "--in-place"]) == 0, capsys.readouterr().err
    capsys.readouterr()
    assert main(["steps", str(small)]) == 0
    recipe = tmp_path / "style.recipe"
    recipe.write_text(capsys.readouterr().out, encoding="utf-8")
    assert main(["run", str(recipe), str(large), "-o", str(tmp_path / "out.svg")]) == 0
    found = read((tmp_path / "out.svg").read_bytes())[1]
    front = found.piece("front")
    assert [line.name for line in front.lines] == ["yoke"]
    assert front.lines[0].kind == "balance"
    assert [step.line for step in found.steps] == recipe.read_text(encoding="utf-8").splitlines()
    half = spot(found, "front.side-up/side-down").point
    assert np.allclose(half, [(278 + 272) / 2, (194 + 480) / 2])
    width = np.hypot(6, 286) / 2 / 12
    assert front.edge("waist").allowance is not None
    assert front.edge("waist").allowance.width == pytest.approx(width, abs=1e-6)
    # the recipe on the small block's own drawing gives the small block again
    again = tmp_path / "again.svg"
    (tmp_path / "first.svg").write_bytes(block(SMALL))
    assert main(["run", str(recipe), str(tmp_path / "first.svg"), "-o", str(again)]) == 0
    assert not differences(read(again.read_bytes())[1], read(small.read_bytes())[1], tolerance=1e-3)


def test_a_recipe_is_its_own_replay() -> None:
    small = guided(GUIDES["curved"])
    text = write_recipe(small.steps)
    once = replay(read_recipe(text), read(block(SMALL))[1])
    assert write_recipe(once.steps) == text
    twice = replay(read_recipe(write_recipe(once.steps)), read(block(SMALL))[1])
    assert not differences(once, twice, tolerance=0.0)
    assert not differences(small, once, tolerance=5e-4)


COORDINATE = st.tuples(st.floats(60, 180), st.floats(110, 380))


@settings(max_examples=25, deadline=None)
@given(st.lists(COORDINATE, min_size=2, max_size=5, unique=True), st.booleans())
def test_any_line_is_recorded_within_a_twentieth_of_a_millimetre(
    nodes: list[tuple[float, float]], closed: bool
) -> None:
    pairs = [np.hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(nodes, nodes[1:] + nodes[:1], strict=True)]
    if min(pairs) < 5 or (closed and len(nodes) < 3):
        return
    text = "M " + " L ".join(f"{x},{y}" for x, y in nodes) + (" Z" if closed else "")
    small = guided(text)
    assert figure(small, "differs") <= 0.05
    drawn = np.array([*nodes, *(nodes[:1] if closed else [])])
    again = replay(read_recipe(write_recipe(small.steps)), read(block(SMALL))[1])
    assert nearest(the_line(again).curve, drawn)[1].max() <= 0.05
    assert np.isfinite(point(the_line(on_large(small)).curve, np.linspace(0, 1, 9))).all()


QUOTED = (
    'a "quoted" name',
    "back\\slash",
    "it's",
    "$HOME `date`",
    "größe 38 – ü",
    "#5",
    "two\nlines",
    " spaces ",
    "日本",
)


@pytest.mark.parametrize("name", QUOTED)
def test_texts_of_any_kind_replay(name: str) -> None:
    pattern = load("style")(name=name, size="38")(read(block(SMALL))[1])  # type: ignore[call-arg]
    text = write_recipe(pattern.steps)
    again = replay(read_recipe(text), read(block(SMALL))[1])
    assert again.style.name == name
    assert write_recipe(again.steps) == text


@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30))
def test_any_text_replays(name: str) -> None:
    pattern = load("style")(name=name)(Pattern())  # type: ignore[call-arg]
    assert replay(read_recipe(write_recipe(pattern.steps)), Pattern()).style.name == name


def test_comments_and_steps_done_by_hand_are_passed_over() -> None:
    text = (
        "# a style, for people who don't sew\n\n# by hand: front.side, largest 3.2 mm\nstyle --name=a  # its name\r\n"
    )
    assert [line.number for line in read_recipe(text)] == [4]
