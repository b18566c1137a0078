"""`grain`: direction, length, place, arrow."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import UsageError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, cubic, flatten, line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Edge, Line, Pattern, Piece, outline
from tests.seeding import made


def front(use: str = "fold", lean: float = 0.0) -> Piece:
    """A skirt front whose centre leans by so many degrees; hem below."""
    foot = 600 * math.tan(math.radians(lean))
    curves = [
        line((0, 0), (180, 8)),
        cubic((180, 8), (230, 150), (240, 200), (260, 590)),
        cubic((260, 590), (170, 600), (90, 600), (foot, 600)),
        line((foot, 600), (0, 0)),
    ]
    uses = ["seam", "seam", "hem", use]
    names = ["waist", "side", "hem", "centre"]
    edges = tuple(Edge(uid=n, name=n, parts=(c,), use=u) for n, c, u in zip(names, curves, uses, strict=True))
    across = Line(uid="hip", name="hip-line", curve=line((0, 200), (240, 200)), kind="balance")
    return Piece(uid="front", name="front", edges=edges, lines=(across,))


def grained(piece: Piece, **fields):
    made = load("grain")(target=("front",), **fields)(Pattern(pieces=(piece,)))
    found = made.pieces[0].grain
    assert found is not None
    return found, made


def angle(grain, way) -> float:
    """Degrees between a grain line and a direction, 0 to 90."""
    along = grain.end - grain.start
    cos = abs(along @ np.asarray(way)) / np.linalg.norm(along) / np.linalg.norm(way)
    return math.degrees(math.acos(min(1.0, float(cos))))


def within(piece: Piece, grain) -> bool:
    ring = shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))
    return bool(ring.contains(shapely.LineString([grain.start, grain.end])))


@pytest.mark.parametrize(("kind", "degrees"), [("straight", 0), ("cross", 90), ("bias", 45)])
@pytest.mark.parametrize("lean", [0, 7, -20])
def test_the_angle_to_the_fold(kind, degrees, lean):
    """Common practice, no source: parallel to the centre within 1 mm over its length, bias 45° ± 0.5°; here exact."""
    piece = front(lean=lean)
    grain, _ = grained(piece, kind=kind)
    centre = piece.edge("centre")
    assert angle(grain, centre.end - centre.start) == pytest.approx(degrees, abs=1e-5)
    assert within(piece, grain)


def test_two_thirds_of_the_piece_in_its_middle():
    """Common practice, no source: at least two thirds of the piece along it."""
    grain, made = grained(front())
    assert np.linalg.norm(grain.end - grain.start) == pytest.approx(400, abs=0.2)
    assert grain.start[0] == pytest.approx(130, abs=15)
    assert (grain.start[1] + grain.end[1]) / 2 == pytest.approx(300, abs=6)
    assert made.steps[-1].warnings == ()
    assert grained(front(), length=250)[0].end[1] - grained(front(), length=250)[0].start[1] == pytest.approx(250)


def test_one_way_points_to_the_hem():
    upside_down = moved(front(), Affine.rotation(math.pi))
    for piece, way in ((front(), 1), (upside_down, -1)):
        grain, _ = grained(piece, ways="one")
        assert np.sign(grain.end[1] - grain.start[1]) == way
        back, _ = grained(piece, ways="one", reverse=True)
        assert np.sign(back.end[1] - back.start[1]) == -way


def test_along_a_line_and_through_places():
    grain, _ = grained(front(), along="front.hip-line")
    assert angle(grain, (1, 0)) == pytest.approx(0, abs=1e-9)
    grain, made = grained(front(), through=("front.waist@1/2", "front.hem@1/2"))
    ends = [made.pieces[0].edge("waist").parts[0].nodes.mean(axis=0)]
    way = (grain.end - grain.start) / np.linalg.norm(grain.end - grain.start)
    off = ends[0] - grain.start
    assert abs(off[0] * way[1] - off[1] * way[0]) < 1e-6
    assert made.steps[-1].line == "grain front --through=front.waist@1/2,front.hem@1/2"


def test_a_piece_without_a_centre_is_asked_about():
    grain, made = grained(front(use="seam"))
    assert angle(grain, (0, 1)) == pytest.approx(0, abs=1e-9)
    assert "is that right?" in made.steps[-1].warnings[0]
    # what lies already is kept in its direction
    turned = moved(made.pieces[0], Affine.rotation(0.3))
    again, after = grained(turned)
    assert angle(again, turned.grain.end - turned.grain.start) == pytest.approx(0, abs=1e-5)
    assert after.steps[-1].warnings == ()
    bias, _ = grained(turned, kind="bias")
    assert angle(bias, turned.grain.end - turned.grain.start) == pytest.approx(45, abs=1e-5)


def test_kept_in_the_document():
    _, made = grained(front(), kind="bias", ways="one", lean="left")
    drawing, _, _ = new_drawing()
    assert differences(made, read(write(drawing, made))[1], tolerance=1e-6) == []


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-math.pi, math.pi),
    st.booleans(),
    st.sampled_from(["straight", "cross", "bias"]),
    st.sampled_from(["both", "one"]),
)
def test_grain_turns_with_the_piece(turn, mirrored, kind, ways):
    motion = Affine.rotation(turn, (100.0, 50.0))
    if mirrored:
        motion = motion @ Affine.scaling(-1, 1)
    one, _ = grained(front(lean=3), kind=kind, ways=ways)
    two, _ = grained(moved(front(lean=3), motion), kind=kind, ways=ways)
    if kind == "straight":
        assert motion.apply(one.start) == pytest.approx(two.start, abs=0.5)
        assert motion.apply(one.end) == pytest.approx(two.end, abs=0.5)
    else:
        # across there is no hem to point to: the arrow follows the drawing
        ends = sorted(motion.apply(np.array([one.start, one.end])).tolist())
        assert np.allclose(ends, sorted([two.start.tolist(), two.end.tolist()]), atol=1.0)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"through": ("front.waist@1/2",)}, "two places"),
        ({"through": ("front.waist@1/2", "front.waist@1/2")}, "two places"),
        ({"kind": "diagonal"}, "straight, cross, bias"),
        ({"along": "front.dart"}, "no edge, dart, line or point"),
    ],
)
def test_bad_input_gets_one_sentence(fields, said):
    with pytest.raises(UsageError, match=said):
        grained(front(), **fields)


@pytest.mark.parametrize("lean", ["left", "right"])
def test_a_grain_line_does_not_cross_the_mark_of_the_fold(lean):
    """The mark stands 12 mm off the middle half of the edge on the fold, x 0, y 0 to 600."""
    grain, _ = grained(front(), kind="bias", lean=lean)
    mark = shapely.box(0, 150, 12, 450)
    assert shapely.LineString([grain.start, grain.end]).distance(mark) > 2.5


@pytest.mark.parametrize("kind", ["waistband", "cuff", "strap", "tie"])
def test_the_grain_line_of_what_is_folded_lies_beside_its_fold(kind):
    strip = made(f"strip {kind} --kind={kind} --length=40cm --width=3cm").piece(kind)
    folds = [
        line.curve.start[1] for line in strip.lines if line.kind == "fold" and np.ptp(line.curve.nodes[:, 0]) > 300
    ]
    assert folds
    assert min(abs(strip.grain.start[1] - y) for y in folds) > 4


@pytest.mark.parametrize("count", range(1, 9))
def test_the_grain_line_lies_between_pleats(count):
    """A grain line drawn before the pleats were put in, which no line along it lies nearer to than 4 mm after."""
    skirt = made(
        "block skirt --size=bust-90 --front-darts=1\ndart skirt-front.waist-dart --remove\ntrue skirt-front.waist\n"
        f"grain skirt-front\npleat skirt-front.waist@2cm..-2cm --count={count} --depth=1cm"
    ).piece("skirt-front")
    along = [item.curve.nodes[:, 0] for item in skirt.lines if item.kind != "balance" and len(item.name) > 5]
    assert len(along) >= count
    for x in along:
        if np.ptp(x) < 20:
            assert np.abs(x - skirt.grain.start[0]).min() > 3.99, count
