"""Button stands with their facings: what is folded back is the mirror image of what it lies on."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import flatten
from flatcut.geometry.nearest import nearest
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

START = "block bodice --size=bust-90\nedge front.waist back.waist --use=hem\n"
LINE = "placket front.centre --stand=15 --facing=45 --buttons=5 --first=2cm --last=6cm"


def front(pattern: Pattern) -> Piece:
    return pattern.piece("front")


def test_the_neck_runs_on_over_the_stand_and_the_facing_is_a_mirror_image() -> None:
    before, after = made(START), made(START + LINE)
    old, new = front(before), front(after)
    assert [e.name for e in new.edges] == ["shoulder", "neck", "facing-top", "facing", "waist", "side", "armhole"]
    assert drawn_length(new.edge("neck")) == pytest.approx(drawn_length(old.edge("neck")) + 15, abs=0.01)
    fold = next(line for line in new.lines if line.name == "front-edge").curve
    mirror = Affine.reflection(fold.start, fold.end)
    folded = mirror.apply(flatten(new.edge("facing-top").parts[0], tolerance=0.01))
    assert nearest(new.edge("neck").parts[-1], folded)[1].max() < 0.02
    # the free edge lies 45 mm from the fold, the fold 15 mm from the old centre
    centre = next(line for line in new.lines if line.name == "centre").curve
    free = new.edge("facing").parts[0]
    assert np.abs(free.nodes[:, 0] - fold.start[0]) == pytest.approx([45, 45])
    assert abs(fold.start[0] - centre.start[0]) == pytest.approx(15)
    assert (new.cut_as, new.quantity) == ("pair", 2)


def test_the_facing_is_sewn_to_what_it_is_folded_onto() -> None:
    pattern = made(START + LINE)
    seam = pattern.seams[-1]
    assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b))


def test_buttons_stand_evenly_on_the_centre_line_with_their_holes() -> None:
    """Buttons to holes at one place, spaces alike (common practice, no source)."""
    piece = front(made(START + LINE))
    centre = next(line for line in piece.lines if line.name == "centre").curve
    rows = {kind: [b for b in piece.buttons if b.kind == kind] for kind in ("button", "buttonhole")}
    assert {kind: len(row) for kind, row in rows.items()} == {"button": 5, "buttonhole": 5}
    assert np.allclose([b.at for b in rows["button"]], [b.at for b in rows["buttonhole"]])
    y = np.array([b.at[1] for b in rows["button"]]) - centre.start[1]
    assert y[0] == pytest.approx(20)
    assert centre.end[1] - centre.start[1] - y[-1] == pytest.approx(60)
    assert np.diff(y) == pytest.approx(np.diff(y)[0])


def test_a_blouse_front_is_sound() -> None:
    pattern = made(
        START + LINE + "\ncollar band --neck=back.neck+front.neck --extension=15\n"
        "edge front.armhole back.armhole --use=finished\nallowance all --width=1cm\nlabel all --material=shell"
    )
    assert [f.text for f in run_checks(pattern)] == []
    # the stand is part of the neckline, so that the collar ends at the front edge
    neck = drawn_length(front(pattern).edge("neck")) + drawn_length(pattern.piece("back").edge("neck"))
    assert drawn_length(pattern.piece("band").edge("neck")) == pytest.approx(neck, abs=1e-6)


SLEEVE = "block bodice --size=bust-90\nblock sleeve --cap-ease=15\n"


def test_a_slit_is_bound_up_one_side_and_down_the_other() -> None:
    """The binding twice as long as the slit is deep, folded, its middle marked; the slit along the grain (common
    practice, no source)."""
    pattern = made(SLEEVE + "placket sleeve.hem@3/4 --kind=bound --slit=8cm --binding=12mm")
    sleeve, strip = pattern.piece("sleeve"), pattern.piece("slit-binding")
    slit = next(one for one in sleeve.lines if one.name == "slit").curve
    assert float(np.hypot(*(slit.end - slit.start))) == pytest.approx(80)
    assert slit.end[0] == pytest.approx(float(slit.start[0]), abs=1e-6)
    assert slit.start[1] - slit.end[1] == pytest.approx(80)
    assert drawn_length(strip.edge("seam")) == pytest.approx(160)
    assert drawn_length(strip.edge("start")) == pytest.approx(24)
    assert [n.at.value for n in strip.notches if n.edge == strip.edge("seam").uid] == pytest.approx([80])
    assert (strip.cut_as, strip.quantity) == ("pair", 2)
    seam = next(s for s in pattern.seams if s.a[0].piece == strip.uid and len(s.b) == 2)
    assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b))
    hem = sleeve.edge("hem")
    assert any(
        n.edge == hem.uid and n.at.along(sewn_length(hem)) == pytest.approx(sewn_length(hem) * 0.75)
        for n in sleeve.notches
    )


def test_a_bound_slit_above_a_pleated_cuff_is_sound_and_is_drawn_anew() -> None:
    done = made(
        SLEEVE
        + "placket sleeve.hem@3/4 --kind=bound\nedge front.waist back.waist front.neck back.neck --use=finished\n"
        "pleat sleeve.hem@30%..60% --from-width --count=2 --depth=15\n"
        "strip cuff --kind=cuff --to=sleeve.hem --width=6cm --overlap=2cm\nallowance all --width=1cm\n"
        "label all --material=shell"
    )
    assert [f.text for f in run_checks(done)] == []
    again = made("placket sleeve.hem@3/4 --kind=bound --slit=6cm", done)
    assert len(again.pieces) == len(done.pieces)
    assert len(again.piece("sleeve").notches) == len(done.piece("sleeve").notches)
    assert drawn_length(again.piece("slit-binding").edge("seam")) == pytest.approx(120)
    assert again.piece("slit-binding").edge("seam").allowance == done.piece("slit-binding").edge("seam").allowance


BAD_SLITS = {
    "placket sleeve.hem --kind=bound": "wants where it opens",
    "placket sleeve.hem@1/2": "give --kind=bound",
    "placket sleeve.hem@3/4 --kind=bound --stand=2cm": "of kind stand",
    "placket sleeve.hem@3/4 --slit=5cm": "place|of kind bound",
    "placket sleeve.hem@1% --kind=bound": "leaves sleeve",
    "placket sleeve.hem@3/4 --kind=bound --slit=35cm --name=back": "already",
    "placket sleeve.hem@3/4 sleeve.hem@1/4 --kind=bound": "one edge",
}


@pytest.mark.parametrize("line", BAD_SLITS)
def test_a_bad_slit_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD_SLITS[line]):
        made(line, made(SLEEVE))


BAD = {
    "placket": "name",
    "placket front.armhole": "bent",
    "placket front.centre --facing=30cm": "narrower than the facing",
    "placket front.centre --stand=5 --buttons=3 --size=20": "stands out",
    "placket front.centre --buttons=40": "do not fit",
    "placket front.centre back.centre": "one edge",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, made(START))
