"""Several sizes in an exchange file: every point of a size is that of the sample size and its grade rule."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.formats.opening import read
from flatcut.geometry.curves import flatten
from flatcut.geometry.nearest import nearest
from flatcut.marking.derived import derive

ezdxf = pytest.importorskip("ezdxf")

SIZES = {"36": (880, 700, 940), "38": (920, 740, 980), "40": (960, 780, 1020)}
RECIPE = """block skirt --waist={waist} --hip={hip} --waist-to-hip=206 --waist-to-knee=580
style --name=trial --size={size}
allowance all --width=10
"""


@pytest.fixture(scope="module")
def sizes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a skirt in three sizes, an exchange file of them, and their rule table."""
    folder = tmp_path_factory.mktemp("sizes")
    for size, (_, waist, hip) in SIZES.items():
        recipe = folder / f"{size}.recipe"
        recipe.write_text(RECIPE.format(waist=waist, hip=hip, size=size))
        assert main(["run", str(recipe), "-o", str(folder / f"{size}.svg")]) == 0
    drawings = [str(folder / f"{size}.svg") for size in SIZES]
    assert main(["exchange", *drawings, f"--rules={folder / 'skirt.rul'}", "-o", str(folder / "skirt.dxf")]) == 0
    return folder


def rules(file: Path) -> tuple[list[str], dict[int, list[tuple[float, float]]]]:
    """The sizes and the rules of a table, read as the page on exchange files says."""
    lines = file.read_text("ascii").splitlines()
    assert lines[-1] == "END"
    names = next(line for line in lines if line.startswith("SIZE LIST: ")).removeprefix("SIZE LIST: ").split()
    found = {}
    for k, line in enumerate(lines):
        if line.startswith("RULE: DELTA "):
            pairs = [tuple(map(float, pair.split(","))) for pair in lines[k + 1].split()]
            found[int(line.removeprefix("RULE: DELTA "))] = pairs
    return names, found


def test_the_table_says_what_it_is_of(sizes):
    names, found = rules(sizes / "skirt.rul")
    assert names == list(SIZES)
    assert sorted(found) == list(range(1, len(found) + 1))
    assert all(len(pairs) == len(names) for pairs in found.values())
    assert found[1] == [(0.0, 0.0)] * 3  # rule 1 moves nothing
    assert all(pairs[1] == (0.0, 0.0) for pairs in found.values())  # 38 is the sample size
    text = (sizes / "skirt.rul").read_text("ascii")
    assert "SAMPLE SIZE: 38\n" in text
    assert "UNITS: METRIC\n" in text
    drawn = ezdxf.readfile(sizes / "skirt.dxf")
    heads = [text.dxf.text for text in drawn.modelspace().query("TEXT")]
    assert "SAMPLE SIZE: 38" in heads
    assert f"GRADE RULE TABLE: {re.search('GRADE RULE TABLE: (.*)', text)[1]}" in heads


def test_every_size_follows_from_the_sample_size_and_its_rules(sizes):
    names, found = rules(sizes / "skirt.rul")
    drawing = ezdxf.readfile(sizes / "skirt.dxf")
    for size in names:
        _, pattern, _ = read((sizes / f"{size}.svg").read_bytes(), name=size)
        for piece in pattern.pieces:
            block = next(b for b in drawing.blocks if b.name == piece.name.upper())
            numbers = {
                (round(t.dxf.insert.x, 4), round(t.dxf.insert.y, 4), t.dxf.layer): int(t.dxf.text.removeprefix("# "))
                for t in block.query("TEXT")
                if t.dxf.text.startswith("# ")
            }
            boundary = next(e for e in block.query("POLYLINE") if e.dxf.layer == "1")
            points = []
            for vertex in boundary.vertices:
                x, y, _ = vertex.dxf.location
                at = (round(x, 4), round(y, 4))
                number = numbers.get((*at, "2"), numbers.get((*at, "3")))
                assert number is not None, f"{piece.name} {at} has no rule"
                dx, dy = found[number][names.index(size)]
                points.append((x + dx, -(y + dy)))
            curve = derive(piece).cut.curve
            # the sizes lie on each other where the boundary begins
            graded = np.array(points) - points[0]
            away = nearest(curve, graded + curve.start)[1]
            starts = [curve.start, *curve.nodes]
            least = min(nearest(curve, graded + start)[1].max() for start in starts)
            assert min(least, away.max()) < 0.01
            assert len(flatten(curve, tolerance=0.05)) > 4


def test_without_a_table_every_size_is_a_block(sizes, tmp_path):
    out = tmp_path / "all.dxf"
    assert main(["exchange", *(str(sizes / f"{size}.svg") for size in SIZES), "-o", str(out)]) == 0
    names = [block.name for block in ezdxf.readfile(out).blocks if not block.name.startswith("*")]
    pieces = len(read((sizes / "38.svg").read_bytes())[1].pieces)
    assert len(names) == 3 * pieces
    assert {name.rpartition("-")[2] for name in names} == set(SIZES)
    counts = {}
    for block in ezdxf.readfile(out).blocks:
        if not block.name.startswith("*"):
            kinds = sorted((e.dxf.layer, e.dxftype()) for e in block if e.dxftype() == "POINT")
            counts.setdefault(block.name.rpartition("-")[0], []).append(kinds)
    assert all(one == rows[0] for rows in counts.values() for one in rows)  # the same points in every size
    _, pattern, findings = read(out.read_bytes(), name="all.dxf")
    assert len(pattern.pieces) == 3 * pieces
    assert findings == []


def test_a_size_that_differs_stands_by_itself_and_is_named(sizes, tmp_path, capsys):
    other = tmp_path / "40.svg"
    assert main(["notch", "skirt-front.side@10cm", "-i", str(sizes / "40.svg"), "-o", str(other)]) == 0
    capsys.readouterr()
    drawings = [str(sizes / "36.svg"), str(sizes / "38.svg"), str(other)]
    rul, out = tmp_path / "t.rul", tmp_path / "t.dxf"
    assert main(["exchange", *drawings, f"--rules={rul}", "-o", str(out)]) == 0
    said = capsys.readouterr().err
    assert "skirt-front of size 40 has other points than the other sizes, and stands by itself" in said
    names = [block.name for block in ezdxf.readfile(out).blocks if not block.name.startswith("*")]
    assert sum(name.startswith("SKIRT-FRONT") for name in names) == 3
    assert sum(name.startswith("SKIRT-BACK") for name in names) == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["36.svg", "--rules=r.rul"], "give the drawings of two sizes or more"),
        (["36.svg", "36.svg"], "two drawings of size 36 have a piece called"),
        (["36.svg", "38.svg", "--sample=44"], "there is no drawing of size '44'"),
        (["36.svg", "--pieces=sleeve"], "there is no piece 'sleeve'"),
        (["36.svg", "--file-units=cubit"], "mm"),
    ],
)
def test_what_does_not_go_together_is_one_sentence(words, said, sizes, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(sizes)
    assert main(["exchange", *words, "-o", str(tmp_path / "no.dxf")]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not (tmp_path / "no.dxf").exists()
    assert not (sizes / "r.rul").exists()
