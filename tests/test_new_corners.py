"""A corner that a hand makes inside an edge is a corner of the piece at the next step; or it is said."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load
from flatcut.recipe import read_recipe, replay

OUTLINE = "M 20,20 H 320 V 420 H 20 Z"
SVG = f'''<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="500mm" viewBox="0 0 400 500">
<path id="front" d="{OUTLINE}" style="fill:none;stroke:#000000"/></svg>'''
MADE = """piece id:front --names=front
edge front.e1 front.e2 front.e3 front.e4 --names=top,side,hem,centre
allowance front --width=10
allowance front.hem --width=40
notch front.hem@25%
"""


@pytest.fixture
def made() -> str:
    drawing, pattern, _ = read(SVG.encode())
    return write(drawing, replay(read_recipe(MADE), pattern)).decode()


def drawn(svg: str, outline: str) -> bytes:
    """The drawing with another outline, as the node tool leaves it: all else as it was."""
    found = svg.index(' d="M 20,20')
    end = svg.index('"', found + 4)
    return f'{svg[:found]} d="{outline}{svg[end:]}'.encode()


def test_a_node_that_is_put_in_and_pulled_out_is_a_corner(made: str) -> None:
    svg = drawn(made, "M 20,20 H 320 V 420 L 140,460 L 20,420 Z")
    drawing, pattern, findings = read(svg)
    front = pattern.piece("front")
    assert [edge.name for edge in front.edges] == ["top", "side", "hem", "hem-2", "centre"]
    assert [edge.allowance.width for edge in front.edges if edge.allowance] == [10, 10, 40, 40, 10]
    # the hem is walked clockwise, from (320, 420); its notch is 75 mm of 300 along it, and keeps its share of the edge
    assert np.allclose(front.edge("hem").end, (140, 460))
    assert [front.edge_of(notch.edge).name for notch in front.notches] == ["hem"]
    assert [str(finding) for finding in findings] == [
        "a corner was made in front.hem by hand: it is now front.hem and front.hem-2"
    ]
    # 184.39 and 126.49 mm by Pythagoras
    share = np.hypot(180, 40) / (np.hypot(180, 40) + np.hypot(120, 40))
    added = [step.line for step in pattern.steps[-2:]]
    assert added == [f"edge front.hem@{round(100 * share, 4):g}% --split=true", "# by hand: front.hem, largest 40.0 mm"]
    again = read(write(drawing, load("allowance")(target=("front.hem-2",), width=20)(pattern)))  # type: ignore[call-arg]
    assert [edge.name for edge in again[1].piece("front").edges] == ["top", "side", "hem", "hem-2", "centre"]
    assert again[2] == []


def test_the_split_replays_on_another_drawing(made: str) -> None:
    pattern = read(drawn(made, "M 20,20 H 320 V 420 L 140,460 L 20,420 Z"))[1]
    lines = "\n".join(step.line for step in pattern.steps)
    after = replay(read_recipe(lines), read(SVG.encode())[1])
    assert [edge.name for edge in after.piece("front").edges] == ["top", "side", "hem", "hem-2", "centre"]


def test_several_corners_are_numbered_in_the_edges_direction(made: str) -> None:
    pattern = read(drawn(made, "M 20,20 H 320 V 420 L 220,460 L 120,460 L 20,420 Z"))[1]
    front = pattern.piece("front")
    assert [edge.name for edge in front.edges] == ["top", "side", "hem", "hem-2", "hem-3", "centre"]
    assert np.allclose(front.edge("hem-2").end, (120, 460))


def test_a_node_on_the_line_or_a_bend_is_no_corner(made: str) -> None:
    for outline in ("M 20,20 H 320 V 420 L 140,420 L 20,420 Z", "M 20,20 H 320 V 420 C 220,460 120,460 20,420 Z"):
        _, pattern, findings = read(drawn(made, outline))
        assert [edge.name for edge in pattern.piece("front").edges] == ["top", "side", "hem", "centre"]
        assert findings == []


def test_a_command_says_so(made: str, tmp_path, capsys) -> None:
    file = tmp_path / "edited.svg"
    file.write_bytes(drawn(made, "M 20,20 H 320 V 420 L 140,460 L 20,420 Z"))
    assert main(["grain", "front", "-i", str(file), "-o", str(tmp_path / "after.svg")]) == 1
    assert "note: a corner was made in front.hem by hand" in capsys.readouterr().err


BENT = "M 20,20 H 320 V 420 L 170,460 L 20,420 Z"
"""Its hem has a corner inside: it turns 2 arctan(40 / 150), 29.9 degrees."""


@pytest.fixture
def bent() -> str:
    drawing, pattern, _ = read(SVG.replace(OUTLINE, BENT).encode())
    steps = MADE.replace("--names=front", "--names=front --corner-angle=40", 1)
    made = write(drawing, replay(read_recipe(steps), pattern)).decode()
    assert [edge.name for edge in read(made.encode())[1].piece("front").edges] == ["top", "side", "hem", "centre"]
    return made


@pytest.mark.parametrize(
    ("outline", "names", "step"),
    [
        # the corner that was there is dragged: it is the same one, and the move is a step
        ("M 20,20 H 320 V 420 L 180,480 L 20,420 Z", ["top", "side", "hem", "centre"], "move"),
        # so it is while a hand makes another one elsewhere
        ("M 20,20 H 320 L 380,200 L 320,420 L 180,480 L 20,420 Z", ["top", "side", "side-2", "hem", "centre"], "edge"),
        # or on the same edge where it stays
        ("M 20,20 H 320 V 420 L 250,470 L 170,460 L 20,420 Z", ["top", "side", "hem", "hem-2", "centre"], "edge"),
        # both at once on one edge cannot be told apart, and the edge stays whole
        ("M 20,20 H 320 V 420 L 250,470 L 160,480 L 20,420 Z", ["top", "side", "hem", "centre"], "#"),
    ],
)
def test_a_corner_inside_an_edge_that_was_there_is_no_new_one(bent: str, outline: str, names: list, step: str) -> None:
    pattern = read(drawn(bent, outline))[1]
    assert [edge.name for edge in pattern.piece("front").edges] == names
    added = [one.line for one in pattern.steps[5:]]
    assert added
    assert added[0].startswith(step)
