"""The centre line is a fact beside what an edge is for: it is not forgotten where it becomes a seam."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from flatcut.cli.main import main
from flatcut.errors import FlatcutError
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from tests.test_cut import made

BACK = "block torso --size=bust-90\n"


def test_a_centre_that_becomes_a_seam_is_the_centre_still_and_the_piece_a_pair() -> None:
    after = made(BACK + "edge back.centre --use=seam")
    back = after.piece("back")
    assert (back.edge("centre").use, back.edge("centre").middle) == ("seam", True)
    assert (back.cut_as, back.quantity) == ("pair", 2)
    assert after.steps[-1].warnings == ("back has no fold any more and is cut as a pair",)
    # a centre that is no fold leaves no 'cut on fold' either
    after = made(BACK + "edge back.centre --use=centre")
    assert (after.piece("back").cut_as, after.piece("back").edge("centre").use) == ("pair", "centre")
    # a side never was the centre
    assert not made(BACK + "edge back.side --use=opening").piece("back").edge("side").middle


def test_what_holds_the_centre_still_holds_it_as_a_seam() -> None:
    """A pivot across the piece turns the side, in a fold piece and in the pair that it becomes."""
    turn = "pivot back.shoulder-dart --to=back.armhole@1/2"
    for before in ("", "edge back.centre --use=seam\n"):
        start = made(BACK + before)
        after = made(turn, start)
        for name in ("centre", "hip"):
            old, new = (p.piece("back").edge(name) for p in (start, after))
            assert np.allclose(old.parts[0].controls, new.parts[0].controls, atol=1e-9)


@pytest.mark.parametrize("use", ["fold", "seam", "centre"])
def test_a_flare_leaves_the_centre_upright_whatever_it_is_for(use: str) -> None:
    start = made(BACK + (f"edge back.centre --use={use}\n" if use != "fold" else ""))
    after = made("extend back.hip --by=10cm --flare=2cm", start)
    x = {name: after.piece("back").edge(name).parts[-1].controls[..., 0] for name in ("centre", "side")}
    assert np.ptp(x["centre"]) < 1e-6
    assert np.ptp(x["side"]) > 20 - 1e-6


def test_the_centre_is_kept_in_the_drawing_and_told() -> None:
    pattern = made(BACK + "edge back.centre --use=seam\nseam back.centre ~back.centre")
    drawing, _, _ = new_drawing()
    _, again, findings = read(write(drawing, pattern))
    assert findings == []
    assert again.piece("back").edge("centre").middle
    told = pattern_record(again)
    back = next(p for p in told["pieces"] if p["name"] == "back")
    assert [e["name"] for e in back["edges"] if e.get("centre")] == ["centre"]


def test_halves_of_a_centre_are_centres_and_one_that_is_none_can_be_told() -> None:
    after = made(BACK + "edge back.centre --use=seam\nedge back.centre@1/2 --split --names=zip,below")
    assert [after.piece("back").edge(name).middle for name in ("zip", "below")] == [True, True]
    after = made("edge back.zip --centre=no", after)
    assert not after.piece("back").edge("zip").middle
    with pytest.raises(FlatcutError, match="fold edge, so it lies on the centre line"):
        made("edge front.centre --centre=no", after)


def test_check_finds_no_fault_in_a_back_with_a_seam(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recipe = tmp_path / "back.recipe"
    recipe.write_text(
        "block bodice --size=bust-90\nedge back.centre --use=seam\nseam back.centre ~back.centre\n"
        "edge back.neck back.armhole back.waist front.neck front.armhole front.waist --use=finished\n"
        "allowance all --width=1cm\nlabel all --material=shell\narrange\n"
    )
    out = tmp_path / "back.svg"
    assert main(["run", str(recipe), "-o", str(out)]) == 0
    capsys.readouterr()
    assert main(["check", str(out)]) == 0, capsys.readouterr().out
