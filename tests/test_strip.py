"""Strips: as long as what they are sewn to, with their notches, folds, joins and buttons."""

from __future__ import annotations

import math

import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.comparing import differences
from flatcut.pattern.runs import ends, run_sewn
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

SKIRT = """
block skirt --size=bust-90
edge skirt-back.centre --use=seam
seam skirt-back.centre ~skirt-back.centre
label skirt-back --cut=pair
"""
BODICE = "block bodice --size=bust-90\nedge front.waist back.waist --use=finished\nblock sleeve\n"
DONE = "\nlabel all --material=shell\nallowance all --width=1cm"


def notches(piece: Piece, edge: str) -> list[float]:
    """mm from the edge's start of its notches, ascending."""
    held = piece.edge(edge)
    return sorted(n.at.along(sewn_length(held)) for n in piece.notches if n.edge == held.uid)


def told(pattern: Pattern) -> list[str]:
    return [f.text for f in run_checks(pattern)]


def test_a_waistband_is_as_long_as_the_waist_and_its_overlap() -> None:
    """Half waist 37 cm with ease, 8 mm eased in, 3 cm of underlap: 740 - 8 + 30 (arithmetic)."""
    pattern = made(
        f"{SKIRT}strip waistband --kind=waistband --to=skirt-back.waist+skirt-front.waist --both --ease=8{DONE}"
    )
    band = pattern.piece("waistband")
    assert [e.name for e in band.edges] == ["seam", "start", "top", "end"]
    assert drawn_length(band.edge("seam")) == pytest.approx(740 - 8 + 30, abs=1e-6)
    assert drawn_length(band.edge("start")) == pytest.approx(70)
    back = sewn_length(pattern.piece("skirt-back").edge("waist")) * 732 / 740
    # from the overlap: its end, a side, the centre front, the other side
    assert notches(band, "seam") == pytest.approx([30, 30 + back, 30 + 366, 762 - back], abs=1e-6)
    mine = [s for s in pattern.seams if s.b[0].piece != band.uid and s.a[0].piece == band.uid]
    assert sum(s.ease for s in mine) == pytest.approx(8, abs=1e-6)
    assert told(pattern) == []


@pytest.mark.parametrize("order", ["skirt-back.waist+skirt-front.waist", "-skirt-front.waist+skirt-back.waist"])
def test_parts_written_in_another_way_are_walked_as_the_garment_goes(order: str) -> None:
    """A band goes over the fold in front and opens at the seam behind, so it has the side seam first, however its edges
    are written."""
    pattern = made(f"{SKIRT}strip waistband --kind=waistband --to={order} --both --overlap=0")
    at = sewn_length(pattern.piece("skirt-back").edge("waist"))
    band = pattern.piece("waistband")
    assert notches(band, "seam")[0] == pytest.approx(at, abs=1e-6)


@pytest.mark.parametrize("order", ["skirt-back.waist+skirt-front.waist", "skirt-front.waist+skirt-back.waist"])
def test_a_band_opens_where_the_garment_does(order: str) -> None:
    """A skirt with a seam behind that is open in front: the middle of its band is behind."""
    open_in_front = "edge skirt-front.centre --use=finished\nlabel skirt-front --cut=pair\n"
    pattern = made(f"{SKIRT}{open_in_front}strip band --kind=waistband --overlap=0 --to={order} --both")
    at = sewn_length(pattern.piece("skirt-front").edge("waist"))
    assert notches(pattern.piece("band"), "seam")[0] == pytest.approx(at, abs=1e-6)
    assert not [text for text in told(pattern) if "halves" in text]


def test_a_cuff_laps_within_the_hem_and_buttons() -> None:
    """The sleeve's hem goes into the cuff with the overlap; button and buttonhole meet when the overlap is closed."""
    pattern = made(f"{BODICE}edge front.neck back.neck --use=finished\nstrip cuff --kind=cuff --to=sleeve.hem{DONE}")
    cuff, hem = pattern.piece("cuff"), pattern.piece("sleeve").edge("hem")
    assert drawn_length(cuff.edge("seam")) == pytest.approx(sewn_length(hem), abs=1e-6)
    assert (cuff.cut_as, cuff.quantity, hem.use) == ("pair", 2, "seam")
    button, hole = (next(b for b in cuff.buttons if b.kind == kind) for kind in ("button", "buttonhole"))
    left = cuff.edge("start").start[0]
    girth = drawn_length(cuff.edge("seam")) - 20
    assert button.at[0] - left - girth == pytest.approx(hole.at[0] - left, abs=1e-6)
    assert told(pattern) == []


def test_a_binding_is_cut_four_times_its_width_and_bound_edges_have_no_allowance() -> None:
    """a²/b of cloth gives a bias strip: from a square of 50, 625 long and 4 wide (arithmetic)."""
    pattern = made(f"{BODICE}strip bind --kind=binding --width=6 --to=front.neck+back.neck --both{DONE}")
    piece = pattern.piece("bind")
    assert drawn_length(piece.edge("start")) == pytest.approx(24)
    assert {pattern.piece(n).edge("neck").use for n in ("front", "back")} == {"finished"}
    assert piece.grain is not None
    way = piece.grain.end - piece.grain.start
    assert abs(math.degrees(math.atan2(way[1], way[0]))) == pytest.approx(45)
    figures = {f.label: f.value for step in pattern.steps for f in step.figures}
    long = drawn_length(piece.edge("seam"))
    assert figures["bind square of cloth that gives it"] ** 2 / 24 == pytest.approx(long)
    assert told(pattern) == []


def test_a_bias_strip_out_of_a_square() -> None:
    """625 cm long and 4 wide come out of a square of 50 cm: a²/b (arithmetic)."""
    pattern = made("strip bind --kind=strip --length=625cm --width=4cm --fold=none --grain=bias")
    figures = {f.label: f.value for f in pattern.steps[-1].figures}
    assert figures["bind square of cloth that gives it"] == pytest.approx(500.0, abs=0.1)


def test_tiers_each_longer_than_the_last() -> None:
    """96 x 1.6 -> 153.6 -> 245.76 -> 393.216 cm (arithmetic), joined where that is wider than the cloth."""
    lines = ["strip top --kind=strip --length=96cm --width=20cm --grain=cross"]
    above = "top"
    for k in (1, 2, 3):
        lines.append(
            f"strip tier-{k} --kind=tier --to={above}.{'seam' if k == 1 else 'top'} --gathers=1.6 --cloth=140cm"
        )
        above = f"tier-{k}"
    pattern = made("\n".join(lines))
    tiers = [pattern.piece(f"tier-{k}").edge("seam") for k in (1, 2, 3)]
    assert [drawn_length(e) for e in tiers] == pytest.approx([1536.0, 2457.6, 3932.16])
    assert [sewn_length(e) for e in tiers] == pytest.approx([960.0, 1536.0, 2457.6])
    joins = [
        [line.name for line in pattern.piece(f"tier-{k}").lines if line.name.startswith("join")] for k in (1, 2, 3)
    ]
    assert [len(row) for row in joins] == [1, 1, 2]
    after = made("cut tier-1.join --names=left.start,right.end", pattern)
    assert sum(drawn_length(after.piece(n).edge("top")) for n in ("left", "right")) == pytest.approx(1536.0)


@pytest.mark.parametrize("kind", ["strip", "waistband", "cuff", "binding", "strap", "tie", "tier"])
def test_every_kind_from_a_length_alone(kind: str) -> None:
    pattern = made(f'measure skirt-front.waist --as=half\nstrip --kind={kind} --length="2*half + 3cm"', made(SKIRT))
    piece = pattern.piece(kind)
    wanted = 2 * pattern.measures["half"] + 30
    over = drawn_length(piece.edge("seam")) - wanted
    assert over == pytest.approx({"waistband": 30, "cuff": 20}.get(kind, 0), abs=1e-6)


def test_half_of_a_strip_is_drawn_from_the_fold() -> None:
    line = "strip band --kind=waistband --overlap=0 --cut=fold --to=skirt-back.waist+skirt-front.waist"
    half, whole = (made(f"{SKIRT}{line}{both}{DONE}") for both in ("", " --both"))
    for pattern in (half, whole):
        band = pattern.piece("band")
        assert (band.cut_as, band.edge("centre").use) == ("fold", "fold")
        assert drawn_length(band.edge("seam")) == pytest.approx(370, abs=1e-6)
        assert told(pattern) == []


def test_the_seam_it_states_lies_on_the_same_stretch_after_the_garment_is_walked() -> None:
    pattern = made(f"{SKIRT}strip waistband --kind=waistband --to=skirt-back.waist+skirt-front.waist --both")
    band = pattern.piece("waistband")
    seam = next(s for s in pattern.seams if s.a[0].piece == band.uid and s.b[0].piece != band.uid)
    assert ends(pattern, seam.a[0]) == pytest.approx((30, 770), abs=1e-6)
    assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b), abs=1e-6)


def test_what_does_not_come_to_the_fold_is_there_twice() -> None:
    """An armhole of pieces on the fold is bound on either side; a neckline goes over the fold (common practice, no
    source)."""
    start = "block bodice --size=bust-90\nstrip {} --kind=binding --to={}"
    for run, more, kind in (
        ("front.armhole+back.armhole", "", "pair"),
        ("back.neck+front.neck", " --both", "single"),
        ("back.neck+front.neck", "", "single"),
    ):
        assert made(start.format("edging", run) + more).piece("edging").cut_as == kind, run


def test_one_of_a_length_alone_is_drawn_anew_too() -> None:
    first = made("strip belt --length=90cm --width=3cm\nallowance belt --width=8mm")
    again = made("strip belt --length=80cm --width=3cm", first)
    assert [piece.name for piece in again.pieces] == ["belt"]
    assert drawn_length(again.piece("belt").edge("seam")) == pytest.approx(800)
    assert again.piece("belt").edge("seam").allowance == first.piece("belt").edge("seam").allowance
    drawing, _, _ = new_drawing()
    assert differences(again, read(write(drawing, again))[1], tolerance=1e-4) == []


BAD = {
    "strip": "wants a length",
    "strip --both --length=5cm": "nothing to fit",
    "strip a b --length=5cm": "one piece",
    "strip skirt-back --length=5cm": "already",
    "strip --kind=cuff --length=5cm --buttons=7": "no room",
    "strip --length=5cm --buttons=1": "want an overlap",
    "strip --kind=waistband --length=50cm --overlap=3cm --cut=fold": "two halves unlike",
    "strip --to=skirt-back.waist+skirt-back.waist": "twice",
    "strip --to=skirt-back.waist+skirt-front.nape": "nape",
    "strip --kind=binding --to=skirt-back.waist --gathers=2": "not gathered",
    "strip --kind=cuff --length=20cm --overlap=30cm": "200 mm long, its overlap 300 mm",
    "strip --kind=binding --to=skirt-back.hem@5cm..10cm --both": "the two halves do not meet",
    "strip --kind=binding --to=skirt-back.side --both": "state the seam first",
    "flounce --to=skirt-back.side --both --circles=0.5 --high=30cm": "the two halves do not meet",
    "gore --to=skirt-back.side --both --high=30cm": "the two halves do not meet",
    "strip --kind=tier --length=9m --width=2.9m --grain=bias --cloth=1m": "does not come out",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, made(SKIRT))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("strip --kind=binding --to=skirt-front.waist+skirt-back.hem", "skirt-back.hem does not go on where"),
        ("strip --length=1m --width=90cm --fold=half --cloth=140cm", "1800 mm wide as cut, and the cloth 1400 mm"),
        ("strip --kind=waistband --to=skirt-back.waist+skirt-front.waist --both", ""),
        ("strip --length=1m --width=90cm --fold=half --cloth=190cm", ""),
    ],
)
def test_what_cannot_be_sewn_or_cut_so_is_told(line: str, said: str) -> None:
    told = [text for text in made(line, made(SKIRT)).steps[-1].warnings if "of use" not in text]
    assert len(told) == bool(said)
    assert said in "".join(told)
