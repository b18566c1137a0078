"""Plain DXF drawings, drawn by a general-purpose library and by the editor, become pieces at true size."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("ezdxf")

from flatcut.cli import main  # what they need was looked for first
from flatcut.formats.opening import read
from flatcut.geometry.curves import bounds, chain, line
from flatcut.geometry.length import length
from flatcut.operations.operation import load
from flatcut.outlines.joining import joined
from flatcut.pattern.values import Pattern, area, outline
from tests.dxf_files import AREA, GIRTH, HIGH, VERSIONS, WAYS, WIDE, drawn, new, text_of


def made(data: bytes, **options: object) -> tuple[Pattern, list[str]]:
    _, pattern, findings = read(data, name="in.dxf")
    return load("piece")(**options)(pattern), [str(found) for found in findings]


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("way", WAYS)
def test_an_outline_in_any_way_and_version_is_a_piece_at_true_size(way, version):
    if version == "R12" and way in ("spline", "ellipse"):
        pytest.skip("R12 has no such entity")
    pattern, said = made(drawn(way, version))
    (piece,) = pattern.pieces
    # the spline is drawn as one cubic, which leaves a quarter circle by 2.7e-4 of its radius
    assert abs(area(piece)) == pytest.approx(AREA, abs=2.0 if way == "spline" else 0.1)
    assert length(chain(outline(piece), within=1e-3)) == pytest.approx(GIRTH, abs=0.02)
    assert len(piece.edges) == 6 - 1
    assert sum(edge.segments for edge in piece.edges) <= 6  # few curves, however many points
    unknown = [text for text in said if "does not say what its units are" in text]
    assert bool(unknown) == (version == "R12")  # it has no unit in its header


@pytest.mark.parametrize("unit", ["mm", "cm", "in", "m"])
def test_units_are_those_of_the_header(unit):
    pattern, said = made(drawn("lines and arc", unit=unit))
    assert said == []
    x0, y0, x1, y1 = bounds(chain(outline(pattern.pieces[0]), within=1e-3))
    assert (x1 - x0, y1 - y0) == pytest.approx((WIDE, HIGH), abs=1e-4)


def test_units_that_the_file_does_not_say_are_asked():
    drawing, _ = new("R12")
    WAYS["bulged"](drawing.modelspace(), 1 / 25.4)
    data = text_of(drawing)
    small, said = made(data)
    assert "does not say what its units are" in said[0]
    assert abs(area(small.pieces[0])) == pytest.approx(AREA / 25.4**2, rel=1e-5)
    right, _ = made(data, drawing_unit="in")
    assert abs(area(right.pieces[0])) == pytest.approx(AREA, rel=1e-5)


def test_a_unit_that_is_wrong_in_the_header_can_be_told():
    pattern, _ = made(drawn("bulged", unit="in"), drawing_unit="cm")
    assert abs(area(pattern.pieces[0])) == pytest.approx(AREA * (10 / 25.4) ** 2, rel=1e-5)


def test_a_binary_file_is_read_as_well():
    drawing, scale = new("R2010")
    WAYS["lines and arc"](drawing.modelspace(), scale)
    pattern, _ = made(text_of(drawing, binary=True))
    assert abs(area(pattern.pieces[0])) == pytest.approx(AREA, abs=0.1)


def test_blocks_name_their_pieces_and_texts_too():
    drawing, scale = new("R2010")
    for k, name in enumerate(("FRONT", "BACK")):
        block = drawing.blocks.new(name)
        WAYS["bulged"](block, scale)
        drawing.modelspace().add_blockref(name, (500 * k * scale, 0))
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 600), (200, 600), (200, 700), (0, 700)], close=True)
    space.add_text("cuff", dxfattribs={"height": 10, "insert": (80, 640)})
    pattern, said = made(text_of(drawing))
    assert said == []
    assert {piece.name for piece in pattern.pieces} == {"FRONT", "BACK", "cuff"}


def test_darts_drawn_up_to_an_outline_of_single_lines_do_not_part_it():
    """The legs meet the waist where its lines are parted: three ends lie at one point."""
    corners = [(0.0, 0.0), (130.0, 0.0), (160.0, 0.0), (300.0, 0.0), (300.0, 400.0), (0.0, 400.0)]
    sides = [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    legs = [line((130.0, 0.0), (145.0, 120.0)), line((145.0, 120.0), (160.0, 0.0))]
    loose = line((20.0, 390.0), (300.0, 400.0))
    found = joined([legs[0], *sides[::2], loose, legs[1], *sides[1::2]])
    rings = [one for one in found if one.closed]
    assert len(rings) == 1
    x0, y0, x1, y1 = bounds(rings[0].curve)
    assert (x0, y0, x1, y1) == (0.0, 0.0, 300.0, 400.0)
    assert len(rings[0].curve) == 6
    left = sorted(len(one.curve) for one in found if not one.closed)
    assert left == [1, 2]  # the loose line, and the legs as one


@pytest.mark.parametrize("seed", range(20))
def test_lines_in_any_order_and_direction_come_together(seed):
    chance = np.random.default_rng(seed)
    angles = np.sort(chance.uniform(0, 2 * np.pi, 30))
    points = np.stack([np.cos(angles), np.sin(angles)], axis=1) * chance.uniform(200, 400, (30, 1))
    sides = []
    for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
        near = a + chance.uniform(-0.01, 0.01, 2)  # ends do not meet exactly
        sides.append(line(near, b) if chance.random() < 0.5 else line(b, near))
    chance.shuffle(sides)
    (one,) = joined(sides)
    assert one.closed
    assert 0 < one.gap < 0.05
    assert len(one.curve) == 30


def test_a_file_is_read_wherever_a_drawing_is(tmp_path, capsys):
    file = tmp_path / "front.dxf"
    file.write_bytes(drawn("bulged"))
    svg = tmp_path / "front.svg"
    assert main(["piece", "-i", str(file), "-o", str(svg)]) == 0
    assert main(["pieces", str(file)]) == 0
    assert main(["collect", str(file), str(svg), "-o", str(tmp_path / "both.svg")]) == 0
    recipe = tmp_path / "steps.recipe"
    recipe.write_text("piece --names=front\nallowance all --width=10\n")
    assert main(["run", str(recipe), str(file), "-o", str(tmp_path / "run.svg")]) == 0
    assert "front" in (tmp_path / "run.svg").read_text()


@pytest.mark.editor
@pytest.mark.skipif(not shutil.which("inkscape"), reason="inkscape is missing")
def test_what_the_editor_exports_comes_back_as_large(tmp_path):
    drawing = tmp_path / "drawn.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="500mm" viewBox="0 0 400 500">'
        '<path id="front" style="fill:none;stroke:#000" '
        'd="M 20,20 H 320 V 340 C 275,340 240,376 240,420 H 20 Z"/></svg>'
    )
    out = tmp_path / "drawn.dxf"
    call = ["inkscape", "--export-type=dxf", f"--export-filename={out}", str(drawing)]
    Path(tmp_path / "profile").mkdir()
    subprocess.run(["timeout", "-s", "KILL", "120", *call], check=False, capture_output=True)
    if not out.exists():
        pytest.skip("this build of the editor has no DXF export without a window")
    pattern, _ = made(out.read_bytes())
    (piece,) = pattern.pieces
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-2))
    assert (x1 - x0, y1 - y0) == pytest.approx((300.0, 400.0), abs=0.01)
