"""Replayed sizes as a rule table, and the sizes that it gives: both held against each other on one bodice."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely

from flatcut.cli import main
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import flatten
from flatcut.grading.rules import rules_of_text
from flatcut.grading.written import toml_of
from flatcut.operations.operation import load
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Edge, Pattern
from flatcut.sizes.proposed import proposed
from flatcut.sizes.ruled import held_against, ruled

Told = pytest.CaptureFixture[str]
NAMES = ("bust-86", "bust-94", "bust-102")


@cache
def replayed(size: str) -> Pattern:
    pattern = load("block")(target=("bodice",), size=size)(Pattern())
    return load("style")(size=size)(pattern)


def sizes() -> list[tuple[str, Pattern]]:
    return [(size, replayed(size)) for size in NAMES]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("rules")
    for size, pattern in sizes():
        (made / f"{size}.svg").write_bytes(write(new_drawing()[0], pattern))
    return made


def net(edge: Edge) -> shapely.MultiLineString:
    return shapely.MultiLineString([flatten(part, tolerance=1e-3) for part in edge.parts])


def test_each_cardinal_point_of_a_size_is_that_of_the_base_size_and_its_rule() -> None:
    found = ruled(sizes(), "bust-94")
    assert found.said == ()
    names = {str(rule.place) for rule in found.rules.rules}
    assert {"front.neck/centre", "front.bust-dart.foot-1", "front.bust-point", "back.armhole@1/3"} <= names
    # laid where the fold begins: as the figures of the drawings themselves say
    for rule in found.rules.rules:
        piece = rule.place.piece
        fold = {"front": "front.neck/centre", "back": "back.waist/centre"}[piece]
        away = [spot(p, rule.place).point - spot(p, fold).point for _, p in sizes()]
        assert rule.shifts == pytest.approx((np.array(away) - away[1]) * [1, -1], abs=1e-6), rule.place


def test_a_size_by_its_rules_lies_near_the_one_that_was_drafted() -> None:
    """Cardinal points are the same; between them rules keep the shape of the base size, and a draft draws it anew."""
    found = ruled(sizes(), "bust-94")
    assert max(off.far for off in held_against(sizes(), found)) < 1.0
    few = ruled(sizes(), "bust-94", between=0)
    far = max(held_against(sizes(), few), key=lambda off: off.far)
    assert far.edge.endswith(".armhole")
    assert 1.0 < far.far < 6.0
    # the same by shapely, from the drawings laid on each other
    go = few.rules.between("bust-94", far.size)
    rows = "|".join(f"{one.place},{one.by[0]},{one.by[1]}" for one in go)
    made = load("grade")(rules=f"point,right,up|{rows}", size=far.size)(replayed("bust-94"))
    piece, edge = far.edge.split(".")
    fold = {"front": "front.neck/centre", "back": "back.waist/centre"}[piece]
    laid = [
        shapely.affinity.translate(net(p.piece(piece).edge(edge)), *-spot(p, fold).point)
        for p in (replayed(far.size), made)
    ]
    measured = max(shapely.Point(at).distance(laid[1]) for line in laid[0].geoms for at in line.coords)
    assert measured == pytest.approx(far.far, abs=0.1)


def test_a_table_is_read_as_it_was_written() -> None:
    rules = ruled(sizes(), "bust-94").rules
    again = rules_of_text(toml_of(rules))
    assert again.sizes == rules.sizes
    assert [str(rule.place) for rule in again.rules] == [str(rule.place) for rule in rules.rules]
    for one, two in zip(rules.rules, again.rules, strict=True):
        assert two.shifts == pytest.approx(one.shifts, abs=1e-4)


def test_written_and_graded_from_files(folder: Path, capsys: Told) -> None:
    """By a TOML table, and by a rule file with the rules of its points: the same piece."""
    drawings = [str(folder / f"{size}.svg") for size in NAMES]
    assert main(["rules", *drawings, "--on=front.waist/centre", "-o", str(folder / "r.toml")]) == 0
    assert main(["rules", *drawings, "-o", str(folder / "r.rul"), f"--points={folder / 'p.toml'}"]) == 0
    said = capsys.readouterr().err
    assert "points with rules" in said
    assert "farthest that a size as drawn lies from the graded one" in said
    assert "RULE: DELTA 1\n0.0000,0.0000 0.0000,0.0000 0.0000,0.0000\n" in (folder / "r.rul").read_text("ascii")
    start = str(folder / "bust-94.svg")
    by = ["--size=bust-86", "-i", start]
    assert main(["grade", f"--rules={folder / 'r.toml'}", *by, "-o", str(folder / "one.svg")]) == 0
    with_file = [f"--rules={folder / 'r.rul'}", f"--points={folder / 'p.toml'}"]
    assert main(["grade", *with_file, *by, "-o", str(folder / "two.svg")]) == 0
    one, two = (read((folder / name).read_bytes())[1] for name in ("one.svg", "two.svg"))
    for name in ("side", "armhole", "shoulder"):
        lengths = [net(p.piece("front").edge(name)).length for p in (one, two)]
        assert lengths[0] == pytest.approx(lengths[1], abs=0.01)
    # the place that stays is where it was
    was = read(Path(start).read_bytes())[1]
    assert spot(one, "front.waist/centre").point == pytest.approx(spot(was, "front.waist/centre").point, abs=1e-6)
    capsys.readouterr()


def test_pieces_that_differ_are_named() -> None:
    other = load("edge")(target=("front.side@1/2",), split=True, names=("side", "low"))(replayed("bust-86"))
    found = ruled([("bust-86", other), *sizes()[1:]], "bust-94")
    assert found.said == ("front has other edges in one size than in another, so it has no rules",)
    assert {rule.place.piece for rule in found.rules.rules} == {"back"}
    alone = Pattern(pieces=other.pieces[:1], style=other.style)
    found = ruled([("bust-86", alone), *sizes()[1:]], "bust-94")
    assert found.said == ("front is not there in size bust-86, so it has no rules",)


def test_a_place_that_stays_may_be_named() -> None:
    found = ruled(sizes(), "bust-94", [parse_place("back.armhole/side")])
    (rule,) = [rule for rule in found.rules.rules if str(rule.place) == "back.armhole/side"]
    assert np.abs(rule.shifts).max() < 1e-9


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["bust-86.svg"], "rules tell how sizes differ"),
        (["bust-86.svg", "bust-86.svg"], "rules tell how sizes differ"),
        (["bust-86.svg", "bust-94.svg", "--base=12"], "there is no drawing of size '12'"),
        (["bust-86.svg", "bust-94.svg", "--on=front.side/waist,front.neck/centre"], "two places that stay"),
        (["bust-86.svg", "bust-94.svg", "--on=front.nothing"], "nothing"),
    ],
)
def test_calls_that_are_wrong(words: list[str], said: str, folder: Path, tmp_path: Path, capsys: Told) -> None:
    files = [str(folder / word) if word.endswith(".svg") else word for word in words]
    assert main(["rules", *files, "-o", str(tmp_path / "r.toml")]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "r.toml").exists()


def test_a_rule_file_wants_the_rules_of_its_points(folder: Path, tmp_path: Path, capsys: Told) -> None:
    drawings = [str(folder / f"{size}.svg") for size in NAMES]
    assert main(["rules", *drawings, "-o", str(tmp_path / "r.rul")]) == 2
    assert "--points" in capsys.readouterr().err
    assert main(["grade", f"--rules={tmp_path / 'none.rul'}", "--size=a", "-i", drawings[0], "-o", "x.svg"]) == 2
    assert "--points" in capsys.readouterr().err


# --- proposed from a table of measurements


def test_proposed_rules_are_those_of_common_practice_for_a_step_of_4_cm() -> None:
    """Across to the side and up, cm, for 4 cm of bust (common practice, no source)."""
    body = {"bust": 900.0, "waist": 720.0, "hip": 960.0, "neck": 370.0, "shoulder": 122.5, "nape-to-waist": 410.0}
    next_ = {"bust": 940.0, "waist": 760.0, "hip": 1000.0, "neck": 380.0, "shoulder": 125.0, "nape-to-waist": 415.0}
    table = proposed(replayed("bust-94"), {"S": body, "M": next_}, "S").rules
    found = {str(rule.place): (rule.shifts[1] / 10).tolist() for rule in table.rules}
    for place, cm in {
        "back.neck/centre": [0, 0.4],
        "back.neck/shoulder": [0.2, 0.4],
        "back.shoulder/armhole": [0.45, 0.35],
        "back.armhole@1/2": [0.5, 0.2],
        "back.armhole/side": [1.0, 0],
        "back.side/waist": [1.0, -0.1],
        "back.waist-dart.mouth": [0.5, -0.1],
        "front.neck/centre": [0, 0.2],
        "front.armhole@1/2": [-0.6, 0.2],
        "front.bust-point": [-0.3, 0],
        "front.waist/centre": [0, -0.1],
    }.items():
        assert found[place] == pytest.approx(cm, abs=1e-9), place


def test_a_pattern_graded_by_proposed_rules_goes_together(folder: Path, tmp_path: Path, capsys: Told) -> None:
    """Girth by 4 cm, seams as they were; and nothing that fitted fits no longer."""
    table = tmp_path / "sizes.toml"
    table.write_text(
        'units = "cm"\n[bust-94]\nbust = 94\nwaist = 76\n[larger]\nbust = 98\nwaist = 80\n', encoding="utf-8"
    )
    start = str(folder / "bust-94.svg")
    assert main(["rules", start, f"--measures={table}", "-o", str(tmp_path / "r.toml")]) == 0
    assert "look at them before you cut" in capsys.readouterr().err
    words = [f"--rules={tmp_path / 'r.toml'}", "--size=larger", "-i", start, "-o", str(tmp_path / "l.svg")]
    assert main(["grade", *words]) == 0
    assert "no longer" not in capsys.readouterr().err
    was, now = (read(Path(name).read_bytes())[1] for name in (start, tmp_path / "l.svg"))
    lines = [[net(p.piece(n).edge("side")).length for n in ("front", "back")] for p in (was, now)]
    assert lines[1][0] - lines[1][1] == pytest.approx(lines[0][0] - lines[0][1], abs=0.5)
    wide = [
        sum(abs(float(spot(p, f"{n}.armhole/side").point[0] - spot(p, f"{n}.waist/centre").point[0])) for n in N)
        for p in (was, now)
    ]
    assert 2 * (wide[1] - wide[0]) == pytest.approx(40.0, abs=1e-6)
    assert main(["rules", start, start, f"--measures={table}", "-o", str(tmp_path / "x.toml")]) == 2
    assert "for one drawing" in capsys.readouterr().err


N = ("front", "back")
