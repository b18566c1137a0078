"""The cut list: totals by hand for two sets, every sample against its pieces, and the bound on the cloth."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.formats.opening import read
from flatcut.geometry.curves import chain, flatten
from flatcut.listing.cloth import joined
from flatcut.marking.derived import derive
from flatcut.pattern.values import Pattern, Piece, outline

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "samples"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">{}</svg>'


def pieces(file: Path) -> Pattern:
    return read(file.read_bytes(), name=file.name)[1]


def listed(file: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    capsys.readouterr()
    assert main(["list", str(file), "--json", *words]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.fixture(scope="module")
def shirt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rectangles with 1 cm all round: a front on the fold, a pair with buttons, a strip across the grain."""
    folder = tmp_path_factory.mktemp("list")
    drawn, out = folder / "drawn.svg", folder / "set.svg"
    drawn.write_text(
        SVG.format(
            '<path id="front" d="M 20,20 H 220 V 420 H 20 Z"/>'
            '<path id="cuff" d="M 300,20 H 400 V 120 H 300 Z"/>'
            '<path id="tier" d="M 300,200 H 880 V 260 H 300 Z"/>'
        )
    )
    steps = [
        ["piece", "--names=front,cuff,tier"],
        ["edge", "front.e4", "--names=centre", "--use=fold"],
        ["edge", "cuff.e2", "--names=slit", "--use=opening"],
        ["edge", "tier.e3", "--names=hem", "--use=finished"],
        ["allowance", "all", "--width=10"],
        ["allowance", "front.centre", "--width=0"],
        ["allowance", "tier.hem", "--width=0"],
        ["label", "front", "--quantity=1", "--cut=fold", "--material=shell"],
        ["label", "cuff", "--quantity=2", "--cut=pair", "--material=shell"],
        ["label", "tier", "--quantity=3", "--material=lining"],
        ["notch", "cuff.slit@30mm"],
        ["button", "cuff.e4", "--count=2", "--first=20mm", "--last=20mm", "--size=12mm", "--inset=15mm"],
    ]
    assert main([*steps[0], "-i", str(drawn), "-o", str(out)]) == 0
    for step in steps[1:]:
        assert main([*step, "-i", str(out), "--in-place"]) == 0, step
    return out


def test_totals_by_hand(shirt, capsys):
    """The front is 200 x 400 mm on the fold with 10 mm on three sides: 2 x 210 wide and 420 long, and so on."""
    found = listed(shirt, capsys, "--widths=90cm", "--selvedge=0mm", "--used=80")
    rows = {row["piece"]: row for row in found["pieces"]}
    front, cuff, tier = rows["front"], rows["cuff"], rows["tier"]
    assert (front["count"], front["cut_as"], front["material"]) == (1, "fold", "shell")
    assert (front["along"], front["across"]) == pytest.approx((420, 420), abs=0.01)
    assert front["area"] == pytest.approx(420 * 420, abs=1)
    assert (cuff["count"], cuff["area"]) == (2, pytest.approx(120 * 120, abs=1))
    assert (tier["count"], tier["material"], tier["area"]) == (3, "lining", pytest.approx(600 * 70, abs=1))
    cloth = {one["material"]: one for one in found["cloth"]}
    # 420 x 420 + 2 x 120 x 120 = 205200 mm² over 900 mm is 228 mm: the front's own 420 mm is more
    assert cloth["shell"]["least"] == pytest.approx(420, abs=0.01)
    assert cloth["lining"]["least"] == pytest.approx(max(3 * 600 * 70 / 900, tier["along"]), abs=0.01)


def test_notions_by_hand(shirt, capsys):
    found = listed(shirt, capsys)["notions"]
    told = {(one["what"], one["where"]): one for one in found}
    assert told["button", "cuff"]["count"] == 4  # two on each of the pair
    assert told["button", "cuff"]["size"] == 12
    slit = told["opening", "cuff.slit"]
    assert slit["size"] == pytest.approx(30)  # from the end to the notch
    hem = told["finished edge", "tier.hem"]
    assert hem["count"] * hem["size"] == pytest.approx(3 * 580)


def test_the_demo_by_hand(tmp_path, capsys):
    """A front on the fold and a pair of backs: in all as much as twice the front and two backs."""
    top = tmp_path / "top.svg"
    assert main(["run", str(SAMPLES / "demo" / "top.recipe"), str(SAMPLES / "demo" / "top.svg"), "-o", str(top)]) == 0
    found = listed(top, capsys, "--widths=115cm")
    assert [(row["piece"], row["count"], row["cut_as"]) for row in found["pieces"]] == [
        ("front", 1, "fold"),
        ("back", 2, "pair"),
    ]
    front, back = (_shoelace(piece) for piece in pieces(top).pieces)
    areas = [row["count"] * row["area"] for row in found["pieces"]]
    assert areas == pytest.approx([2 * front, 2 * back], rel=1e-4)
    (cloth,) = found["cloth"]
    assert cloth["width"] == 1150 - 2 * 15
    assert cloth["least"] == pytest.approx(max(sum(areas) / 1120, *(row["along"] for row in found["pieces"])), abs=0.01)


def _shoelace(piece: Piece) -> float:
    """mm² of a cut line, or an outline without one, by the surveyor's formula."""
    cut = derive(piece).cut
    points = flatten(chain(outline(piece), within=1e-3) if cut is None else cut.curve, tolerance=0.005)
    x, y = points.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


@pytest.mark.parametrize("sample", ["demo/top.recipe", "by_hand/bodice.recipe"])
def test_every_piece_is_listed_as_often_as_it_is_cut(sample, tmp_path, capsys):
    out = tmp_path / "set.svg"
    recipe = SAMPLES / sample
    assert main(["run", str(recipe), str(recipe.with_suffix(".svg")), "-o", str(out)]) in (0, 1)
    found = listed(out, capsys)
    pattern = pieces(out)
    assert [(r["piece"], r["count"], r["cut_as"]) for r in found["pieces"]] == [
        (p.name, p.quantity, p.cut_as) for p in pattern.pieces
    ]
    for row, piece in zip(found["pieces"], pattern.pieces, strict=True):
        halves = 2 if piece.cut_as == "fold" else 1
        assert row["area"] == pytest.approx(halves * _shoelace(piece), rel=1e-3)
        assert row["area"] <= row["along"] * row["across"] + 1


def test_the_table_and_the_text_say_the_same(shirt, tmp_path, capsys):
    table = tmp_path / "list.csv"
    capsys.readouterr()
    assert main(["list", str(shirt), f"--csv={table}"]) == 0
    said = capsys.readouterr().out
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["piece"] for row in rows] == ["front", "cuff", "tier"]
    assert {row["material"] for row in rows} == {"shell", "lining"}
    for row in rows:
        assert row["piece"] in said
        assert float(row["along mm"]) > 0
    assert "make a toile first" in said
    assert "1 pair" in said


@pytest.mark.parametrize(
    ("long", "joins"), [(1400.0, 0), (1400.1, 1), (2457.6, 1), (2780.0, 1), (2780.1, 2), (3932.16, 2)]
)
def test_joins_of_a_strip(long, joins):
    """Two strips of 1400 mm give 2780 mm sewn, since each side of the join takes 10 mm; three give 4160 mm."""
    assert joined(long, 1400.0, 10.0) == joins
    assert (joins + 1) * 1400 - 2 * 10 * joins >= long - 1e-6
    assert joins == 0 or joins * 1400 - 2 * 10 * (joins - 1) < long
    assert math.isfinite(long)


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        (["--kind=tier", "--length=245.76cm", "--width=24cm"], 2),  # 2457.6 mm out of cloth 1400 mm wide
        (["--kind=tier", "--length=300cm", "--width=24cm"], 3),
        (["--kind=tier", "--length=245.76cm", "--width=24cm", "--cut=fold"], 2),  # joined at the fold
        (["--kind=tier", "--length=300cm", "--width=24cm", "--cut=fold"], 3),
        (["--kind=tier", "--length=100cm", "--width=24cm"], 1),
        (["--kind=waistband", "--length=200cm", "--width=4cm"], 1),  # along the cloth, which is long enough
    ],
)
def test_joins_of_a_strip_stand_in_the_list(words, parts, tmp_path, capsys):
    """As many as the strip was drafted with: each part of cloth 1400 mm wide gives 1380 mm."""
    drawing = tmp_path / "set.svg"
    assert main(["block", "skirt", "--size=bust-90", "-o", str(drawing)]) == 0
    assert main(["strip", "band", *words, "-i", str(drawing), "--in-place"]) == 0
    told = capsys.readouterr().err
    row = next(row for row in listed(drawing, capsys)["pieces"] if row["piece"] == "band")
    assert row["parts"] == parts
    assert (f"band joins: {parts - 1}" in told) == (parts > 1)
    assert main(["list", str(drawing)]) == 0
    said = capsys.readouterr().out
    assert (f"joined out of {parts} parts" in said) == (parts > 1)


def test_a_piece_wider_than_the_cloth_is_told(shirt, capsys):
    capsys.readouterr()
    assert main(["list", str(shirt), "--widths=40cm"]) == 0
    said = capsys.readouterr().out
    assert "front is wider" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--widths=12cm", "--selvedge=3cm"], "no room between selvedges"),
        (["--used=0"], "--used"),
        (["-o", "x"], "--csv"),
    ],
)
def test_what_cannot_be_is_one_sentence(words, said, shirt, capsys):
    assert main(["list", str(shirt), *words]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1


def test_a_lay_stands_beside_the_least_length(shirt, capsys):
    pytest.importorskip("spyrrow")
    words = ("--widths=150cm", "--lay=1")
    record = listed(shirt, capsys, *words)
    assert main(["list", str(shirt), *words]) == 0
    said = capsys.readouterr().out
    for cloth in record["cloth"]:
        assert cloth["laid"] >= cloth["least"] - 0.1
        area = sum(row["count"] * row["area"] for row in record["pieces"] if row["material"] == cloth["material"])
        used = float(f"{100 * area / cloth['width'] / cloth['laid']:.1f}")
        assert f"; laid in {round(cloth['laid'] / 1000, 2):g} m, {used:g} % used" in said


def test_a_lay_that_cannot_be_is_told(shirt, capsys):
    assert main(["list", str(shirt), "--widths=20cm", "--lay=1"]) == 1
    said = capsys.readouterr()
    assert "no lay on 17 cm: " in said.err
    assert "laid in" not in said.out
