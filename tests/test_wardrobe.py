"""The pattern maker's job from start to end: fifty digitised outlines, made from flatcut's own blocks with six faults.

The outlines are flatcut's own blocks, so what comes back is held against what was sampled, and against nothing from
outside; the faults were put in by hand. What needs the smooth outlines is sampled anew, since blocks may come to be
drafted otherwise; the script works on the files as they are kept.
"""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flatcut.formats.svg.read import read
from flatcut.geometry.curves import chain, flatten, point
from flatcut.geometry.length import place_at
from flatcut.geometry.nearest import nearest
from flatcut.operations.piece import MakePieces
from flatcut.pattern.values import Pattern, outline
from flatcut.pattern.walking import point_at, sewn_at, to_drawn
from flatcut.sewing.suggesting import suggested
from tests import wardrobe as source
from tests.digitising import DIGITS, NOISE

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "samples" / "digitised"
OFF = 0.1 + np.hypot(NOISE, NOISE) + np.hypot(25.4, 25.4) / 2 / 10**DIGITS
"""mm: the fit's tolerance, the noise that was put in, and the rounding of the file, both across and down."""


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that the script has written."""
    into = tmp_path_factory.mktemp("wardrobe")
    calls = {
        "FLATCUT": f"{sys.executable} -m flatcut",
        "PYTHONPATH": os.pathsep.join([str(ROOT / "core"), os.environ.get("PYTHONPATH", "")]),
    }
    subprocess.run(
        ["sh", str(SAMPLES / "wardrobe.sh"), str(into)], env={**os.environ, **calls}, check=True, timeout=600
    )
    return into


@pytest.fixture(scope="module")
def smooth() -> source.Wardrobe:
    """What was sampled."""
    return source.wardrobe()


@pytest.fixture(scope="module")
def fresh(smooth: source.Wardrobe) -> Pattern:
    """The pieces of what was sampled."""
    drawn = read(source.svg(smooth).encode())[1]
    return MakePieces(table=source.table(smooth))(drawn)


def record(done: Path) -> Any:
    return json.loads((done / "set.json").read_text())


def test_names_widths_quantities_and_cloth_are_those_of_the_table(done: Path) -> None:
    with (SAMPLES / "wardrobe.csv").open(newline="") as file:
        rows = {row["name"]: row for row in csv.DictReader(file) if row["cut"]}
    pieces = record(done)["pieces"]
    assert {piece["name"] for piece in pieces} == set(rows)
    assert len(pieces) == 50
    # 1 in = 25.4 mm (international yard and pound agreement, 1959)
    widths = {"hem": 1.5 * 25.4, "centre": 0, "neck": 0}
    for piece in pieces:
        row = rows[piece["name"]]
        assert (piece["cut_as"], piece["material"]) == (row["cut"], "cotton, printed")
        assert piece["quantity"] == (2 if row["cut"] == "pair" else 1)
        for edge in piece["edges"]:
            assert edge["allowance"] == pytest.approx(widths.get(edge["name"], 9.525))
        assert piece["cut"] is not None
        assert piece["grain"] is not None


def test_outlines_corners_and_notches_are_those_that_were_sampled(fresh: Pattern, smooth: source.Wardrobe) -> None:
    count = 0
    for sheet in smooth.sheets:
        piece = fresh.piece(sheet.name)
        ring = chain(outline(piece), within=1e-6)
        away = nearest(sheet.ring, flatten(ring, tolerance=0.01))[1].max()
        back = nearest(ring, flatten(sheet.ring, tolerance=0.01))[1].max()
        assert max(away, back) < OFF, sheet.name
        assert len(piece.edges) == len(sheet.edges)
        assert len(piece.darts) == sum(len(edge.legs) for edge in sheet.edges)
        corners = np.array([edge.start for edge in piece.edges])
        places = [
            (point_at(edge, to_drawn(edge, sewn_at(edge, notch.at)))[0], notch)
            for notch in piece.notches
            for edge in [piece.edge_of(notch.edge)]
        ]
        for edge in sheet.edges:
            assert np.hypot(*(corners - edge.curves[0].start).T).min() < 0.15
            for mark in edge.marks:
                part, at = edge.place(mark)
                where = point(edge.curves[part], place_at(edge.curves[part], at))
                off, notch = min(((float(np.hypot(*(p - where))), n) for p, n in places), key=lambda item: item[0])
                assert off < 0.3
                assert (notch.kind, notch.into, notch.count) == ("v", "in", mark.count)
                count += 1
    assert count == sum(len(piece.notches) for piece in fresh.pieces) == 109


def test_seams_are_found_each_within_its_dress(fresh: Pattern, smooth: source.Wardrobe) -> None:
    found = suggested(fresh, most=20.0)
    assert len(found) == 60
    edges = [stitch.key for one in found for run in (one.a, one.b) for stitch in run.stitches]
    assert len(edges) == len(set(edges))
    # every edge that is sewn has its seam: all but hems, folds and necklines
    assert len(edges) == sum(edge.use == "seam" for piece in fresh.pieces for edge in piece.edges)
    for one in found:
        assert len(set(re.findall("|".join(source.DRESSES), one.a.text + one.b.text))) == 1
        kinds = [{_kind(smooth, stitch) for stitch in run.stitches} for run in (one.a, one.b)]
        assert kinds[0] == kinds[1] or kinds == [{"armhole"}, {"cap"}] or kinds == [{"underarm"}] * 2


def _kind(smooth: source.Wardrobe, stitch: Any) -> str:
    """The name that an edge had before it was sampled."""
    (sheet,) = [sheet for sheet in smooth.sheets if sheet.name == stitch.piece.name]
    near = min(sheet.edges, key=lambda edge: float(np.hypot(*(edge.curves[0].start - stitch.edge.start))))
    far = min(sheet.edges, key=lambda edge: float(np.hypot(*(edge.curves[-1].end - stitch.edge.start))))
    # an outline that was drawn for the other hand runs the other way now
    name = (near if np.hypot(*(near.curves[-1].end - stitch.edge.end)) < 1 else far).name
    return "underarm" if name.startswith("underarm") else name


def test_confirmed_seams_are_no_longer_suggested(done: Path) -> None:
    seams = record(done)["seams"]
    assert [seam["suggested"] for seam in seams] == [False] * 60
    assert sorted(round(seam["ease"], 1) for seam in seams if seam["ease"]) == [13.5] * 5 + [16.5] * 5
    told = json.loads(
        subprocess.run(
            [sys.executable, "-m", "flatcut", "pieces", str(done / "suggested.svg"), "--json"],
            env={**os.environ, "PYTHONPATH": str(ROOT / "core")},
            capture_output=True,
            check=True,
        ).stdout
    )
    assert all(seam["suggested"] for seam in told["seams"])


FOUND = {
    "side too long": r"clover-skirt-side-back.e\d is 5\.\d+ mm longer than ~?clover-skirt-side-front",
    "seam too short": r"aster-sleeve-front.e\d is 4\.\d+ mm longer than ~?aster-sleeve-back",
    "notch out of place": r"notches at dune-centre-front.*dune-side-front.* miss each other by (5\.9|6)",
    "notch left out": r"notch at elm-side-front.* has no mate on ~?elm-side-back",
    "double for single": r"birch-centre-back.* has 2 marks, its mate at birch-side-back.* has 1 mark",
    "legs unequal": r"legs of birch-skirt-side-front.dart-1 are 95\.\d+ and 93\.\d+ mm long",
}
"""How the report words each fault that was put in."""


def test_every_fault_that_was_put_in_is_in_the_report(done: Path, smooth: source.Wardrobe) -> None:
    report = (done / "check.txt").read_text()
    assert set(FOUND) == set(smooth.faults)
    for fault, words in FOUND.items():
        assert len(re.findall(words, report)) == 1, fault
    # and no other seam or notch is called wrong
    assert len(re.findall("mm longer than", report)) == 2
    assert len(re.findall("miss each other", report)) == 1
    assert len(re.findall("has no mate", report)) == 1


def test_the_files_are_of_the_makers_pieces(smooth: source.Wardrobe) -> None:
    assert (SAMPLES / "wardrobe.csv").read_text() == source.table(smooth)
    drawn = read((SAMPLES / "wardrobe.svg").read_bytes())[1].drawn
    again = read(source.svg(smooth).encode())[1].drawn
    assert [thing.id for thing in drawn] == [thing.id for thing in again]
