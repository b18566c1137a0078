"""Pieces laid on cloth: nothing over another, nothing missing, on the grain; held by polygons of our own making here.

Published: the instance `shirts` of irregular strip packing, and its best length, from M. Gardeyn, G. Vanden Berghe and
T. Wauters, An open-source heuristic to reboot 2D nesting research, arXiv 2509.13329 (2025), records of its repository.
"""

from __future__ import annotations

import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely
from lxml import etree

from flatcut.cli import main
from flatcut.errors import GeometryError, UsageError
from flatcut.formats.svg.read import read
from flatcut.lay.gate import hold
from flatcut.lay.nesting import nested
from flatcut.lay.placing import Repeat, placed_in_turn
from flatcut.lay.values import Item, Lay, Placed, lower_bound
from flatcut.marking.derived import derive
from flatcut.pattern.values import Pattern

Told = pytest.CaptureFixture[str]
DATA = Path(__file__).parent / "data"
PANELS = Path(__file__).parents[1] / "samples" / "panels" / "armhole-panels.recipe"
SIZES = PANELS.parent / "sizes.toml"


@pytest.fixture(scope="module")
def sizes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bodice in panels in two sizes."""
    folder = tmp_path_factory.mktemp("lay")
    table = SIZES.read_text(encoding="utf-8")
    parts = re.split(r"(?m)^(?=\[)", table)
    two = parts[0] + "".join(part for part in parts[1:] if part.startswith(("[bust-90]", "[bust-106]")))
    (folder / "two.toml").write_text(two, encoding="utf-8")
    assert main(["run", str(PANELS), f"--sizes={folder / 'two.toml'}", f"--into={folder}"]) == 0
    return folder


def drawing(sizes: Path, bust: int) -> Path:
    return sizes / f"armhole-panels-bust-{bust}.svg"


def pattern_of(path: Path) -> Pattern:
    return read(path.read_bytes())[1]


def square(side: float = 100.0, high: float | None = None) -> np.ndarray:
    return np.array([[0.0, 0], [side, 0], [side, high or side], [0, high or side]])


def shirts(scale: float = 20.0) -> tuple[list[Item], float, float]:
    """The instance, its width and its best known length, mm."""
    read_ = json.loads((DATA / "nesting" / "shirts.json").read_text(encoding="utf-8"))
    items = [
        Item(name=f"shirt part {k}", ring=np.array(one["points"]) * scale, turns=tuple(one["turns"]), source=k)
        for k, one in enumerate(read_["items"])
        for _ in range(one["demand"])
    ]
    return items, read_["width"] * scale, read_["best_length"] * scale


def judged(lay: Lay, gap: float) -> None:
    """No overlap, no pair too near, all on the cloth: by shapely on polygons placed here, not by the gate's own."""
    polygons = []
    for placed in lay.placed:
        turn, ring = math.radians(placed.turn), lay.items[placed.item].ring
        x = ring[:, 0] * math.cos(turn) - ring[:, 1] * math.sin(turn) + placed.at[0]
        y = ring[:, 0] * math.sin(turn) + ring[:, 1] * math.cos(turn) + placed.at[1]
        polygons.append(shapely.Polygon(np.stack([x, y], axis=1)))
    assert Counter(placed.item for placed in lay.placed) == Counter(range(len(lay.items)))
    x0, y0, x1, y1 = shapely.total_bounds(polygons)
    assert x0 > -0.01
    assert y0 > -0.01
    assert y1 < lay.width + 0.01
    assert x1 == pytest.approx(lay.length, abs=1e-6)
    for k, one in enumerate(polygons):
        for two in polygons[k + 1 :]:
            assert one.intersection(two).area <= 0.01
            assert one.distance(two) >= gap - 0.01


def test_a_published_instance(capsys: Told) -> None:
    items, width, best = shirts()
    lay = nested(items, width, gap=0.0, seconds=4)
    hold(lay, gap=0.0)
    judged(lay, 0.0)
    # cutting corners would make it shorter than the best that is published; a search that fails leaves it far longer
    assert 0.999 * best < lay.length < 1.3 * best
    with capsys.disabled():
        print(f"\nshirts: {lay.length / best:.3f} of the best published length after 4 s", end="")


def test_a_plain_lay_of_it() -> None:
    items, width, best = shirts()
    lay = placed_in_turn(items, width, gap=5.0, tries=1)
    hold(lay, gap=5.0)
    judged(lay, 5.0)
    assert best < lay.length < 1.5 * best
    assert placed_in_turn(items, width, gap=5.0, tries=1) == lay, "the same again"


def test_squares_fill_the_cloth() -> None:
    # four squares of 10 cm on cloth of 20 cm: 20 cm of it, all used (counted by hand)
    items = [Item(name="square", ring=square()) for _ in range(4)]
    plain = placed_in_turn(items, 200.0, gap=0.0)
    hold(plain, gap=0.0)
    assert plain.length == pytest.approx(200.0, abs=1e-6)
    # how short a searched one gets depends on the machine, but never shorter than there is cloth for
    searched = nested(items, 201.0, gap=0.0, seconds=2)
    hold(searched, gap=0.0)
    assert 199.9 < searched.length < 402.0
    assert lower_bound(tuple(items), 200.0) == 200.0


@pytest.mark.parametrize(
    ("placed", "said"),
    [
        ([(0, 0, 0, 0)], "two was laid 0 times"),
        ([(0, 0, 0, 0), (0, 0, 150, 0)], "one was laid 2 times"),
        ([(0, 0, 0, 0), (1, 0, 99, 0)], "one and two were laid over each other, by 100.00 mm²"),
        ([(0, 0, 0, 0), (1, 0, 101, 0)], "one and two were laid 1.00 mm apart instead of 2"),
        ([(0, 0, 0, 0), (1, 0, 102, 101)], "two was laid beyond the edge"),
        ([(0, 0, -1, 0), (1, 0, 102, 0)], "one was laid beyond the edge"),
        ([(0, 0, 0, 0), (1, 90, 250, 0)], "two was laid turned by 90°, off its grain"),
    ],
)
def test_the_gate_refuses(placed: list[tuple[int, float, float, float]], said: str) -> None:
    items = (Item(name="one", ring=square()), Item(name="two", ring=square()))
    lay = Lay(items=items, placed=tuple(Placed(item=i, turn=t, at=(x, y)) for i, t, x, y in placed), width=200.0)
    with pytest.raises(GeometryError, match=re.escape(said)):
        hold(lay, gap=2.0)


def test_wider_than_the_cloth() -> None:
    item = Item(name="front", ring=square(100.0, 300.0), turns=(0.0, 180.0))
    for search in (lambda: nested([item], 200.0, gap=0, seconds=1), lambda: placed_in_turn([item], 200.0, gap=0)):
        with pytest.raises(UsageError, match=re.escape("front is 30.0 cm wide across its grain and the cloth 20.0 cm")):
            search()


def test_a_garment_as_often_as_it_is_cut(sizes: Path, capsys: Told) -> None:
    out = sizes / "lay.svg"
    assert main(["lay", str(drawing(sizes, 90)), "--seconds=3", "--json", "-o", str(out)]) == 0
    told = capsys.readouterr()
    (record,) = json.loads(told.out)
    counted = Counter(one["name"].removesuffix(" mirrored") for one in record["placed"])
    pattern = pattern_of(drawing(sizes, 90))
    assert counted == {piece.name: piece.quantity for piece in pattern.pieces}
    assert {one["turn"] for one in record["placed"]} <= {0.0, 180.0}
    # the cloth taken by one set: each piece's cut line, twice for a pair and for a half on the fold
    area = sum(
        abs(shapely.Polygon(_dense(derive(piece).cut.curve)).area)  # type: ignore[union-attr]  # all have a cut line
        * (piece.quantity if piece.cut_as != "fold" else 2 * piece.quantity)
        for piece in pattern.pieces
    )
    assert record["efficiency"] * record["length"] * 1400 == pytest.approx(area, rel=2e-4)
    assert record["least"] <= record["length"]
    root = etree.fromstring(out.read_bytes())
    names = ["".join(text.itertext()) for text in root.iter("{*}text")]
    assert sum(name in {one["name"] for one in record["placed"]} for name in names) == 6


def _dense(curve: object) -> np.ndarray:
    """Points of a curve by its Bernstein form, 200 a span."""
    t = np.linspace(0, 1, 200, endpoint=False)[:, None]
    spans = [
        (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
        for p in curve.controls  # type: ignore[attr-defined]  # a curve
    ]
    return np.concatenate(spans)


def test_two_sizes_in_one_lay_are_told_apart(sizes: Path, capsys: Told) -> None:
    words = [str(drawing(sizes, bust)) for bust in (90, 106)]
    assert main(["lay", *words, "--seconds=3", "--json", "-o", str(sizes / "two.svg")]) == 0
    (record,) = json.loads(capsys.readouterr().out)
    assert len(record["placed"]) == 12
    assert {one["name"].split()[1] for one in record["placed"]} == {"bust-90", "bust-106"}


def test_with_nap_all_lie_one_way(sizes: Path, capsys: Told) -> None:
    assert main(["lay", str(drawing(sizes, 90)), "--nap", "--seconds=2", "--json", "-o", str(sizes / "nap.svg")]) == 0
    (record,) = json.loads(capsys.readouterr().out)
    assert {one["turn"] for one in record["placed"]} == {0.0}


def test_on_the_fold(sizes: Path, capsys: Told) -> None:
    words = ["lay", str(drawing(sizes, 90)), "--folded", "--width=90cm", "--json", "-o", str(sizes / "fold.svg")]
    assert main(words) == 0
    (record,) = json.loads(capsys.readouterr().out)
    # a pair is cut in one from two layers, so four pieces are laid
    assert Counter(one["name"] for one in record["placed"]) == Counter(
        ["back-centre", "back-side", "front-centre", "front-side"]
    )
    # the halves lie with their centre on the fold, which is the line y = 0 of the cloth
    root = etree.fromstring((sizes / "fold.svg").read_bytes())
    assert "fold of the cloth" in {"".join(text.itertext()) for text in root.iter("{*}text")}


def test_checks_meet(sizes: Path) -> None:
    """Places of the pieces that are to match lie whole repeats apart, both ways."""
    rings = [square(), square(130.0, 70.0), square(90.0, 111.0)]
    anchors = {0: np.array([30.0, 20.0]), 1: np.array([100.0, 0.0]), 2: np.array([0.0, 100.0])}
    items = [Item(name=f"piece {k}", ring=ring) for k, ring in enumerate(rings)]
    lay = placed_in_turn(items, 300.0, gap=2.0, repeat=Repeat(along=50.0, across=37.0, anchors=anchors))
    hold(lay, gap=2.0)
    at = {one.item: one.matrix.apply(anchors[one.item]) for one in lay.placed}
    for k in (1, 2):
        apart = at[k] - at[0]
        assert abs(math.remainder(apart[0], 50.0)) < 1e-6
        assert abs(math.remainder(apart[1], 37.0)) < 1e-6


def test_checks_meet_on_a_garment(sizes: Path, capsys: Told) -> None:
    match = "front-centre.centre/waist,back-centre.centre/waist,front-side.side/waist,back-side.side/waist"
    words = ["lay", str(drawing(sizes, 90)), "--along=6cm", "--across=4cm", "--json", "-o", str(sizes / "checks.svg")]
    assert main([*words, f"--match={match}"]) == 0
    assert main(words) == 2
    assert "a repeat wants a place on each piece" in capsys.readouterr().err


def test_a_pdf_at_true_scale(sizes: Path) -> None:
    out = sizes / "lay.pdf"
    assert main(["lay", str(drawing(sizes, 90)), "--seconds=2", "--paper=a0", "-o", str(out)]) == 0
    assert out.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["-o", "lay.txt"], "ends in none of .pdf, .svg"),
        (["--width=9"], "width"),
        (["--match=front-side.side/waist"], "places on the repeat want to know it"),
        (["--tilt=2", "--folded"], "--tilt goes with plain single cloth only"),
        (["--pieces=frond"], "frond"),
        (["--paper=a11"], "a11"),
        (["--width=30cm"], "cm wide across its grain and the cloth 30.0 cm"),
        (["--along=6cm", "--match=front-side.side/waist,front-side.side/armhole"], "two places on the repeat"),
    ],
)
def test_calls_that_are_wrong(words: list[str], said: str, sizes: Path, tmp_path: Path, capsys: Told) -> None:
    words = [str(tmp_path / word) if word.startswith("lay.") else word for word in words]
    output = [] if "-o" in words else ["-o", str(tmp_path / "lay.svg")]
    assert main(["lay", str(drawing(sizes, 90)), "--seconds=1", *words, *output]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_stopped_with_the_best_so_far(sizes: Path) -> None:
    out = sizes / "stopped.svg"
    words = [sys.executable, "-m", "flatcut", "lay", str(drawing(sizes, 90)), "--seconds=600", "-o", str(out)]
    # a shell's background job ignores Ctrl-C and hands that on
    process = subprocess.Popen(
        words, stderr=subprocess.PIPE, text=True, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)
    )
    try:
        time.sleep(8)
        process.send_signal(signal.SIGINT)
        told = process.communicate(timeout=60)[1]
    finally:
        process.kill()
    assert "stopped: this is the best lay so far" in told
    assert process.returncode == 1
    assert out.read_bytes().startswith(b"<?xml")


def test_a_search_whose_process_dies_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("flatcut.lay.nesting.sys.executable", "/bin/false" if os.path.exists("/bin/false") else "false")
    with pytest.raises(GeometryError, match="no lay was found for one"):
        nested([Item(name="one", ring=square())], 200.0, gap=0.0, seconds=1)
