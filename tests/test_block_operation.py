"""The operation `block`: its parameters, its errors, what it leaves in the pattern and in a document."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from shapely.geometry import Polygon

from flatcut.blocks.body import MEASUREMENTS, SIZES
from flatcut.declared.declared import kinds
from flatcut.declared.kinds import Length
from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import chain, flatten, same
from flatcut.operations.operation import load
from flatcut.pattern.places import read_run
from flatcut.pattern.runs import found_run, run_sewn, show_run
from flatcut.pattern.values import Pattern, Piece, area, outline
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay, write_recipe

EMPTY_PAGE = b'<svg xmlns="http://www.w3.org/2000/svg" width="1500mm" height="1000mm" viewBox="0 0 1500 1000"></svg>'


def done(*lines: str, on: Pattern | None = None) -> Pattern:
    """The pattern after recipe lines."""
    return replay(read_recipe("\n".join(lines)), on or Pattern())


@pytest.fixture(scope="module")
def wardrobe() -> Pattern:
    """A bodice by each method, the sleeve, and a skirt, in one pattern."""
    return done(
        "block bodice --size=bust-90",
        "block sleeve",
        "block skirt",
        "block bodice --method=bust-only --names=b-back,b-front",
    )


def shape(piece: Piece) -> Polygon:
    return Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


def test_a_block_may_be_the_first_line_of_a_recipe(wardrobe: Pattern) -> None:
    assert [p.name for p in wardrobe.pieces] == [
        "back",
        "front",
        "sleeve",
        "skirt-back",
        "skirt-front",
        "b-back",
        "b-front",
    ]
    again = replay(read_recipe(write_recipe(wardrobe.steps)), Pattern())
    for a, b in zip(wardrobe.pieces, again.pieces, strict=True):
        assert same(chain(outline(a), within=1e-6), chain(outline(b), within=1e-6), tolerance=1e-12)
        assert a.uid == b.uid


def test_measurements_are_kept_in_the_pattern() -> None:
    pattern = done("block bodice --size=bust-90 --bust=91cm")
    assert pattern.body["bust"] == 910.0
    assert pattern.body["waist"] == SIZES["bust-90"]["waist"]
    taller = done(
        "block bodice --names=b,f --nape-to-waist=nape-to-waist+1cm".replace("+", " + ").replace(
            "=nape-to-waist + 1cm", '="nape-to-waist + 1cm"'
        ),
        on=pattern,
    )
    assert taller.body["nape-to-waist"] == pytest.approx(pattern.body["nape-to-waist"] + 10)
    # given here goes before the size, the size before what the pattern has
    sized = done("block skirt --size=bust-78 --hip=90cm", on=pattern)
    assert (sized.body["hip"], sized.body["waist"]) == (900.0, SIZES["bust-78"]["waist"])


def test_pieces_lie_side_by_side_and_run_clockwise(wardrobe: Pattern) -> None:
    assert all(area(p) > 0 for p in wardrobe.pieces)
    for a, b in combinations(wardrobe.pieces, 2):
        assert shape(a).distance(shape(b)) > 30
    assert min(shape(p).bounds[0] for p in wardrobe.pieces) == pytest.approx(20)
    assert min(shape(p).bounds[1] for p in wardrobe.pieces) == pytest.approx(20)


def test_every_seam_walks(wardrobe: Pattern) -> None:
    assert len(wardrobe.seams) == 2 + 5 + 1 + 3
    for seam in wardrobe.seams:
        a, b = run_sewn(wardrobe, seam.a), run_sewn(wardrobe, seam.b)
        assert b - a == pytest.approx(seam.ease, abs=1e-6), (show_run(wardrobe, seam.a), show_run(wardrobe, seam.b))


def test_every_seam_edge_is_sewn_to_something_but_the_waists(wardrobe: Pattern) -> None:
    sewn = {part.of for seam in wardrobe.seams for part in (*seam.a, *seam.b)}
    loose = {f"{p.name}.{e.name}" for p in wardrobe.pieces for e in p.edges if e.use == "seam" and e.uid not in sewn}
    waists = {f"{p}.waist" for p in ("back", "front", "b-back", "b-front", "skirt-back", "skirt-front")}
    necks = {f"{p}.neck" for p in ("back", "front", "b-back", "b-front")}
    assert loose == waists | necks | {"b-back.armhole", "b-front.armhole"}


def test_sleeve_takes_the_armholes_as_drafted(wardrobe: Pattern) -> None:
    holes = sum(run_sewn(wardrobe, found_run(wardrobe, read_run(f"{p}.armhole"))) for p in ("back", "front"))
    cap = sewn_length(wardrobe.piece("sleeve").edge("cap"))
    assert cap - holes == pytest.approx(30.0, abs=1e-6)
    into = [s for s in wardrobe.seams if any(p.piece == wardrobe.piece("sleeve").uid for p in s.b)]
    eases = sorted(s.ease for s in into)
    # none below the notches and on the underarm; 45 % in the front, 55 % in the back
    assert eases == pytest.approx([0, 0, 0, 13.5, 16.5], abs=1e-6)


def test_sleeve_on_other_armholes_and_on_measured_ones(wardrobe: Pattern) -> None:
    other = done("block sleeve --armholes=b-back.armhole,b-front.armhole --cap-ease=2cm --names=s2", on=wardrobe)
    holes = sum(run_sewn(other, found_run(other, read_run(f"b-{p}.armhole"))) for p in ("back", "front"))
    assert sewn_length(other.piece("s2").edge("cap")) - holes == pytest.approx(20.0, abs=1e-6)
    alone = done("block sleeve --size=bust-90 --back-armhole=22cm --front-armhole=21cm --cap-ease=0")
    assert sewn_length(alone.pieces[0].edge("cap")) == pytest.approx(430.0, abs=1e-6)
    assert len(alone.seams) == 1


def test_a_sleeve_goes_round_the_arm_and_says_what_gave_way() -> None:
    line = "block sleeve --size=bust-90 --back-armhole=22cm --front-armhole=21cm"
    step = done(f"{line} --top-arm=32cm").steps[-1]
    assert {f.label: f.value for f in step.figures}["bicep width"] == pytest.approx(370.0, abs=1e-3)
    assert any("the cap is" in said for said in step.warnings)
    slim = done(f"{line} --top-arm=24cm").steps[-1]
    assert not slim.warnings
    assert {f.label: f.value for f in slim.figures}["cap height"] == pytest.approx(430 / 3)
    with pytest.raises(UsageError, match=r"too small for top-arm 46 cm"):
        done(f"{line} --top-arm=46cm")
    assert any("unusual" in said for said in done(f"{line} --cap-ease=6cm").steps[-1].warnings)


def test_uses_darts_marks_and_points_are_named(wardrobe: Pattern) -> None:
    back, front = wardrobe.piece("back"), wardrobe.piece("front")
    assert [e.name for e in back.edges] == ["neck", "shoulder", "armhole", "side", "waist", "centre"]
    assert [e.name for e in front.edges] == ["shoulder", "neck", "centre", "waist", "side", "armhole"]
    assert {d.name for d in front.darts} == {"bust-dart", "waist-dart"}
    assert {d.name for d in back.darts} == {"shoulder-dart", "waist-dart"}
    assert front.edge("centre").use == back.edge("centre").use == "fold"
    assert (front.cut_as, back.cut_as) == ("fold", "fold")
    # the other method shapes the centre back, so it is a seam and the back a pair
    assert (wardrobe.piece("b-back").cut_as, wardrobe.piece("b-back").edge("centre").use) == ("pair", "seam")
    assert [p.name for p in front.points] == ["bust-point"]
    assert [p.name for p in back.points] == ["shoulder-blade-point"]
    counts = {p.name: sorted(n.count for n in p.notches) for p in wardrobe.pieces}
    # of the sleeve's, one stands at the elbow on each side of its seam
    assert (counts["front"], counts["back"], counts["sleeve"]) == ([1], [2], [1, 1, 1, 1, 2])
    assert all(e.allowance is None for p in wardrobe.pieces for e in p.edges)
    for piece in wardrobe.pieces:
        assert piece.grain is not None
        tall = shape(piece).bounds[3] - shape(piece).bounds[1]
        assert piece.grain.start[0] == piece.grain.end[0]
        assert abs(piece.grain.end[1] - piece.grain.start[1]) >= tall * 2 / 3
        assert shape(piece).covers(Polygon([piece.grain.start, piece.grain.end, piece.grain.end + np.array([0.01, 0])]))


def test_girths_as_a_user_measures_them() -> None:
    pattern = done("block torso --size=bust-94")
    body = SIZES["bust-94"]
    for run, half in (
        ("back.bust-line+front.bust-line", (body["bust"] + 100) / 2),
        ("back.waist-line+front.waist-line", (body["waist"] + 60) / 2),
        ("back.hip+front.hip", (body["hip"] + 50) / 2),
    ):
        assert run_sewn(pattern, found_run(pattern, read_run(run))) == pytest.approx(half, abs=0.5)
    bodice = done("block bodice --size=bust-94 --waist-ease=4cm")
    assert run_sewn(bodice, found_run(bodice, read_run("back.waist+front.waist"))) == pytest.approx(
        (body["waist"] + 40) / 2, abs=0.5
    )


def test_a_dress_is_its_torso_carried_down() -> None:
    torso, dress = done("block torso --size=bust-86"), done("block dress --size=bust-86 --length=70cm")
    for name in ("back", "front"):
        short, long = shape(torso.piece(name)), shape(dress.piece(name))
        box = short.bounds
        above = long.intersection(Polygon([(box[0], 0), (box[2], 0), (box[2], box[3]), (box[0], box[3])]))
        assert short.symmetric_difference(above).area < 1.0
    hem = dress.piece("front").edge("hem").start[1]
    waist = next(line for line in dress.piece("front").lines if line.name == "waist-line").curve.start[1]
    assert hem - waist == pytest.approx(700.0)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("block", "block takes one of bodice, dress, skirt, sleeve, torso, trousers"),
        ("block jacket", "not 'jacket'"),
        ("block bodice", "bodice needs bust .*usually 76 to 122 cm"),
        ("block bodice --bust=88cm --waist=70cm", "bodice needs nape-to-waist .*usually 36 to 46 cm"),
        ("block bodice --size=bust-90 --bust=90", "bust is 9 cm, and no body has that; it is usually 76 to 122 cm"),
        ("block bodice --size=bust-90 --neck=2m", "neck is 200 cm, .*usually 32 to 47 cm"),
        (
            "block torso --method=bust-only --bust=88cm --waist=70cm --nape-to-waist=40cm",
            "torso needs hip .*80 to 132 cm",
        ),
        ("block skirt --size=bust-90 --waist=98cm", "waist 98 cm is not smaller than hip 97 cm"),
        ("block skirt --waist=70cm --hip=95cm --waist-to-hip=20cm", "without --length needs waist-to-knee"),
        ("block skirt --size=bust-90 --length=20cm", "ends above its hip; give --length of"),
        ("block dress --size=bust-90 --length=20cm", "ends above its hip; give --length of"),
        ("block sleeve --size=bust-90", "sleeve needs its armholes"),
        ("block sleeve --size=bust-90 --armholes=a.b", "there is no piece .a."),
        ("block bodice --size=bust-90 --across-back=46cm", "leave no room for the arm at bust 90 cm; check that"),
        ("block bodice --size=bust-90 --names=a,b,c", "3 names for 2 pieces"),
        ("block bodice --size=bust-90 --method=bust-only --bust-dart=6cm", "goes with --method=neck-and-across"),
        ("block bodice --size=huge", "takes one of"),
        (
            "block bodice --size=bust-90 --shoulder=7cm",
            "shoulder 7 cm does not reach beyond .*; check shoulder, which is 7 cm and usually 11 to 14.5 cm",
        ),
    ],
)
def test_one_sentence_for_what_is_wrong(line: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said) as caught:
        done(line)
    assert "\n" not in str(caught.value)


def test_a_name_that_is_taken(wardrobe: Pattern) -> None:
    with pytest.raises(UsageError, match="there is a piece 'back' already"):
        done("block torso", on=wardrobe)


def test_unusual_measurements_warn() -> None:
    step = done("block skirt --size=bust-90 --hip=140cm").steps[-1]
    assert step.warnings[0] == "hip is 140 cm; it is usually 80 to 132 cm"
    line = "block bodice --bust=112cm --waist=96cm --nape-to-waist=43cm --method=bust-only"
    assert "104 cm" in done(line).steps[-1].warnings[0]


def test_every_measurement_has_a_field() -> None:
    fields = kinds(load("block"))
    for name, known in MEASUREMENTS.items():
        field = fields[name.replace("-", "_")]
        assert isinstance(field, Length)
        assert field.optional
        assert known.usual in field.help


def test_through_a_document(wardrobe: Pattern) -> None:
    drawing, empty, _ = read(EMPTY_PAGE)
    pattern = done("block bodice --size=bust-90", "block sleeve", on=empty)
    _, back, findings = read(write(drawing, pattern))
    assert findings == []
    assert len(back.pieces) == 3
    for a, b in zip(pattern.pieces, back.pieces, strict=True):
        assert same(chain(outline(a), within=1e-6), chain(outline(b), within=1e-6), tolerance=1e-6)
        assert [e.name for e in a.edges] == [e.name for e in b.edges]
        assert sorted(d.name for d in a.darts) == sorted(d.name for d in b.darts)
        assert [line.name for line in a.lines] == [line.name for line in b.lines]
    assert dict(back.body) == pytest.approx(dict(pattern.body))
    assert len(back.seams) == len(pattern.seams)


def test_torso_through_a_document() -> None:
    drawing, empty, _ = read(EMPTY_PAGE)
    pattern = done("block torso --size=bust-90 --method=bust-only", on=empty)
    _, back, findings = read(write(drawing, pattern))
    assert findings == []
    for a, b in zip(pattern.pieces, back.pieces, strict=True):
        for dart in a.darts:
            (again,) = [d for d in b.darts if d.name == dart.name]
            assert np.allclose(again.points, dart.points, atol=1e-6)
            assert again.double == dart.double


def test_blocks_take_their_allowance() -> None:
    pattern = done("block bodice --size=bust-90", "block sleeve", "block skirt", "allowance all --width=1cm")
    drawing, _, _ = read(EMPTY_PAGE)
    assert b"cut" in write(drawing, pattern)
