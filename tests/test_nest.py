"""All sizes over each other: on the place that was named, told apart without colour, and steps out of line told."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from flatcut.cli import main
from flatcut.formats.svg.read import read
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Pattern
from flatcut.sizes.nested import KINDS, legend, sizes_of
from flatcut.sizes.over import differences, laid_over, uneven

Told = pytest.CaptureFixture[str]
SIZES = Path(__file__).parents[1] / "samples" / "panels" / "sizes.toml"
RECIPE = "block skirt --length=60cm\nallowance all --width=1cm\nlabel all\n"


@pytest.fixture(scope="module")
def sizes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("nest")
    (folder / "skirt.recipe").write_text(RECIPE, encoding="utf-8")
    assert main(["run", str(folder / "skirt.recipe"), f"--sizes={SIZES}", f"--into={folder}"]) == 0
    return folder


def drawings(sizes: Path) -> list[str]:
    """Smallest first."""
    return sorted(map(str, sizes.glob("skirt-*.svg")), key=lambda name: int(re.findall(r"\d+", name)[-1]))


def patterns(sizes: Path) -> list[tuple[str, Pattern]]:
    read_ = [read(Path(name).read_bytes())[1] for name in drawings(sizes)]
    return [(pattern.style.size, pattern) for pattern in read_]


def test_the_place_is_shared_and_the_grain_upright(sizes: Path) -> None:
    on, toward = parse_place("skirt-front.centre/waist"), parse_place("skirt-front.side/hem")
    over = laid_over(patterns(sizes), "skirt-front", on)
    assert len(over) == len(drawings(sizes))
    for one in over:
        assert one.matrix.apply(spot(one.pattern, on).point) == pytest.approx([0, 0], abs=1e-9)
        grain = one.piece.grain
        assert grain is not None
        along = one.matrix.apply(grain.end) - one.matrix.apply(grain.start)
        assert along[0] == pytest.approx(0, abs=1e-6)
    ways = [
        one.matrix.apply(spot(one.pattern, toward).point)
        for one in laid_over(patterns(sizes), "skirt-front", on, toward)
    ]
    angles = [np.arctan2(*way[::-1]) for way in ways]
    assert np.ptp(angles) < 1e-9
    assert np.hypot(*ways[-1]) > np.hypot(*ways[0]) + 20, "a larger size is larger"


def test_lines_and_letters_tell_sizes_apart(sizes: Path) -> None:
    names = drawings(sizes)
    out = sizes / "nest.svg"
    on = "--on=skirt-front.centre/waist,skirt-back.centre/waist"
    assert main(["nest", *names, on, "-o", str(out)]) == 0
    root = etree.fromstring(out.read_bytes())
    words = Counter("".join(text.itertext()) for text in root.iter("{*}text"))
    for k in range(len(names)):
        assert words["ABCDEFGHJK"[k]] >= 2, "on each of two pieces"
    dashes = {re.search(r"stroke-dasharray:([^;]+)", path.get("style", ""))[1] for path in root.iter("{*}path")}  # type: ignore[index]  # each has one
    assert len(dashes) >= len(names)
    colours = {re.search(r"stroke:([^;]+)", path.get("style", ""))[1] for path in root.iter("{*}path")}  # type: ignore[index]  # each has one
    assert colours == {"#000000"}
    assert len(set(KINDS)) == len(KINDS)
    assert len(legend(sizes_of(["S", "M"])).words) == 2


def test_letters_at_points_that_all_sizes_share_stand_apart(sizes: Path) -> None:
    """Each is 4 mm high with its air."""
    out = sizes / "points.svg"
    on = "--on=skirt-front.waist-dart.point,skirt-back.waist-dart.point"
    assert main(["nest", *drawings(sizes), on, "-o", str(out)]) == 0
    root = etree.fromstring(out.read_bytes())
    at = [
        [float(number) for number in re.findall(r"-?\d[\d.]*", text.get("transform", ""))[-2:]]
        for text in root.iter("{*}text")
        if len("".join(text.itertext())) == 1
    ]
    places = np.array(at)
    away = np.hypot(*np.moveaxis(places[:, None] - places[None], -1, 0)) + 99 * np.eye(len(places))
    assert len(places) > 50
    assert away.min() > 3.9


def test_even_steps_are_not_told_and_a_step_out_of_line_is(sizes: Path, tmp_path: Path, capsys: Told) -> None:
    names = drawings(sizes)
    assert main(["nest", *names, "-o", str(tmp_path / "even.svg")]) == 0
    assert "warning" not in capsys.readouterr().err
    off = tmp_path / Path(names[3]).name
    moved = ["move", "skirt-front.side/hem", "--by=12mm", "-i", names[3], "-o", str(off)]
    assert main(moved) == 0
    capsys.readouterr()
    assert main(["nest", *names[:3], str(off), *names[4:], "-o", str(tmp_path / "off.svg")]) == 0
    told = capsys.readouterr().err
    assert "skirt-front.side/hem goes" in told or "skirt-front.hem/side goes" in told
    assert "skirt-back" not in told
    over = laid_over(patterns(sizes), "skirt-front", None)
    assert uneven([over]) == []
    assert uneven([over[:2]]) == [], "two sizes have one step, and nothing to hold it against"


def test_what_a_size_lacks_is_told(sizes: Path, tmp_path: Path, capsys: Told) -> None:
    names = drawings(sizes)
    short = tmp_path / "short.svg"
    assert main(["drop", "skirt-back", "-i", names[0], "-o", str(short)]) == 0
    assert main(["nest", str(short), *names[1:], "-o", str(tmp_path / "nest.svg")]) == 0
    assert "skirt-back is not there in size bust-76" in capsys.readouterr().err
    assert differences(patterns(sizes)) == []


def test_a_pdf(sizes: Path) -> None:
    out = sizes / "nest.pdf"
    assert main(["nest", *drawings(sizes), "--paper=a0", "-o", str(out)]) == 0
    assert out.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["{0}"], "2 to 12 sizes can be nested"),
        (["{0}", "{0}"], "each drawing needs one of its own"),
        (["{0}", "{1}", "--on=front.centre/waist"], "front"),
        (["{0}", "{1}", "--on=skirt-front.side/hem,skirt-front.centre/hem"], "skirt-front has two places to lie on"),
        (["{0}", "{1}", "--toward=skirt-front.side/hem"], "skirt-front has a second place and no first"),
        (["{0}", "{1}", "--on=skirt-front.side/neck"], "neck"),
        (
            ["{0}", "{1}", "--on=skirt-front.side/hem", "--toward=skirt-front.side/hem"],
            "shows no direction; name another place",
        ),
        (["{0}", "{1}", "--pieces=sleeve"], "sleeve"),
    ],
)
def test_calls_that_are_wrong(words: list[str], said: str, sizes: Path, tmp_path: Path, capsys: Told) -> None:
    filled = [word.format(*drawings(sizes)) for word in words]
    assert main(["nest", *filled, "-o", str(tmp_path / "nest.svg")]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
