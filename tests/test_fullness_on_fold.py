"""Half a box or inverted pleat at the fold of a piece: closed forms, and the pleat folded in the test by reflection."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError, GeometryError
from flatcut.findings import FAULT
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, reverse, section, transform
from flatcut.geometry.length import place_at
from flatcut.marking.ticks import ticks
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.mating import mates
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Line, Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, sewn_at, sewn_length
from flatcut.recipe import read_recipe, replay
from tests.dart_pieces import the
from tests.fullness_pieces import panel, skirt, told

EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900"/>'

RECIPE = """
block skirt --size={size}
allowance skirt-back skirt-front --width=10
edge skirt-{half}.centre --use=fold
notch skirt-{half}.hem@1/3
pleat skirt-{half}.waist --kind={kind} --depth=25 --on-fold
"""


def pleat(pattern: Pattern, target: str = "skirt.waist", **options: object) -> Pattern:
    return load("pleat")(target=target, on_fold=True, **{"kind": "inverted", **options})(pattern)


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=1e-3))


def on_fold(pattern: Pattern) -> Pattern:
    """The panel with its centre edge as fold."""
    edges = tuple(replace(e, use="fold") if e.name == "centre" else e for e in the(pattern).edges)
    return replace(pattern, pieces=(replace(the(pattern), edges=edges),))


def overleaf(pattern: Pattern) -> Pattern:
    """The skirt over its other face: the outline runs the other way, its fold is at the right, the first edge."""
    over = Affine.reflection((300.0, 0.0), (300.0, 100.0))
    piece = the(pattern)
    edges = [replace(e, parts=tuple(transform(p, over) for p in e.parts)) for e in piece.edges]
    return replace(pattern, pieces=(replace(piece, edges=(edges[-1], *edges[:-1])),))


def backward(pattern: Pattern) -> Pattern:
    """The same net walked the other way round."""
    piece = the(pattern)
    edges = tuple(replace(e, parts=tuple(reverse(p) for p in e.parts[::-1])) for e in piece.edges[::-1])
    return replace(pattern, pieces=(replace(piece, edges=edges),))


def as_it_is(pattern: Pattern) -> Pattern:
    return pattern


@pytest.mark.parametrize("depth", [10, 40])
def test_an_inverted_pleat_at_the_fold_is_half_of_one(depth):
    """Closed form: a panel 300 by 500 gets a strip twice the depth wide and as long as the fold (shapely)."""
    start = on_fold(panel(300, 500, 0))
    found = pleat(start, depth=depth)
    waist, hem, fold = (the(found).edge(name) for name in ("waist", "hem", "centre"))
    for edge in (waist, hem):
        assert drawn_length(edge) == pytest.approx(300 + 2 * depth, abs=1e-9)
        assert sewn_length(edge) == pytest.approx(300, abs=1e-9)
    assert ring(the(found)).area - ring(the(start)).area == pytest.approx(2 * depth * 500, abs=1e-6)
    np.testing.assert_allclose([fold.start, fold.end], [(-2 * depth, 500), (-2 * depth, 0)], atol=1e-9)
    assert (fold.use, len(fold.parts), len(fold.parts[0])) == ("fold", 1, 1)
    lines = {item.name: item.curve for item in the(found).lines if item.kind == "fold"}
    assert {name: set(curve.nodes[:, 0].round(9) + 0.0) for name, curve in lines.items()} == {
        "pleat-1-fold": {0.0},
        "pleat-1-inner": {-depth},
    }
    assert the(found).grain == the(start).grain
    assert told(found, "area changed by") == pytest.approx(2 * depth * 5)


@pytest.mark.parametrize("turned", [as_it_is, overleaf, backward])
@pytest.mark.parametrize("named", ["waist", "hem"])
def test_the_folded_pleat_lies_on_the_edge_as_drawn(turned, named):
    """Brought in across the inner fold, then the outer one, each place beyond the old fold is on the old edge."""
    start = turned(skirt())
    found = pleat(start, f"skirt.{named}", depth=30)
    was, now = the(start), the(found)
    fold = was.edge("centre")
    x = fold.start[0]
    out = -1.0 if x < 250 else 1.0
    outer, inner = (Affine.reflection((x + out * far, 0.0), (x + out * far, 100.0)) for far in (0.0, 30.0))
    for name in ("waist", "hem"):
        before, after = was.edge(name), now.edge(name)
        assert sewn_length(after) == pytest.approx(sewn_length(before), abs=1e-6)
        (takeup,) = after.takeups
        part = after.parts[0]
        here = [place_at(part, at) for at in (takeup.start, takeup.end)]
        strip = point(part, np.linspace(*here, 90))
        strip = np.array([p if out * (p[0] - x) <= 30 else inner.apply(p) for p in strip])
        net = shapely.LineString(flatten(before.parts[0], tolerance=1e-4))
        assert shapely.distance(net, shapely.points(outer.apply(strip))).max() <= 1e-3
        rest = section(part, 0.0, here[0]) if takeup.start > 1 else section(part, here[1], len(part))
        assert shapely.distance(net, shapely.points(flatten(rest, tolerance=0.1))).max() <= 1e-3
    moved = now.edge("centre")
    np.testing.assert_allclose(moved.start - fold.start, (60 * out, 0), atol=1e-9)
    np.testing.assert_allclose(moved.end - fold.end, (60 * out, 0), atol=1e-9)
    # shapely: what was added is twice what lies within the depth beside the fold
    band = shapely.box(min(x, x - 30 * out), -100, max(x, x - 30 * out), 900)
    added = ring(now).area - ring(was).area
    assert added == pytest.approx(2 * ring(was).intersection(band).area, abs=0.5)
    assert [f.text for f in run_checks(found) if f.severity == FAULT] == []


def test_half_a_box_stands_half_its_face_from_the_fold():
    start = on_fold(panel(300, 500, 0))
    found = pleat(start, kind="box", face=80, depth=25)
    waist, hem = the(found).edge("waist"), the(found).edge("hem")
    # the waist runs from the fold at the left: half a face of 40, then 50 of cloth folded under
    assert [(t.start, t.end, t.amount) for t in waist.takeups] == [pytest.approx((40, 90, 50))]
    assert [(t.start, t.end, t.amount) for t in hem.takeups] == [pytest.approx((260, 310, 50))]
    assert sewn_length(waist) == pytest.approx(300, abs=1e-9)
    assert ring(the(found)).area - ring(the(start)).area == pytest.approx(50 * 500, abs=1e-6)
    lines = {item.name: item.curve.start[0] for item in the(found).lines}
    # the outer fold is the edge of the box, and the cloth under it lies toward the fold
    assert [lines[n] for n in ("pleat-1-fold", "pleat-1", "pleat-1-meets")] == pytest.approx([40, 65, 90])
    assert the(found).edge("centre").parts[0].nodes[:, 0] == pytest.approx([0, 0])
    assert told(found, "cloth over finished") == pytest.approx(90 / 40)


@pytest.mark.parametrize("turned", [as_it_is, overleaf, backward])
def test_half_a_box_is_half_of_a_box_on_the_whole_piece(turned):
    """Away from the fold the same as a box in the middle of the whole waist makes of this half."""
    start = turned(skirt())
    found = pleat(start, kind="box", face=60, depth=20)
    for name in ("waist", "hem"):
        before, after = the(start).edge(name), the(found).edge(name)
        assert sewn_length(after) == pytest.approx(sewn_length(before), abs=1e-6)
        (takeup,) = after.takeups
        from_fold = min(takeup.start, drawn_length(after) - takeup.end)
        assert from_fold == pytest.approx(30, abs=0.05)
    fold = {item.name: item.curve.start[0] for item in the(found).lines}
    x = the(start).edge("centre").start[0]
    away = [abs(fold[name] - x) for name in ("pleat-1-fold", "pleat-1", "pleat-1-meets")]
    assert away == pytest.approx([30, 50, 70], abs=1e-6), "parallel to the fold, half the face from it"
    assert [f.text for f in run_checks(found) if f.severity == FAULT] == []


def test_notches_are_cut_at_the_old_centre_and_at_the_middle():
    found = pleat(on_fold(panel(300, 500, 0)), depth=20)
    for name in ("waist", "hem"):
        edge = the(found).edge(name)
        (notch,) = (n for n in the(found).notches if n.edge == edge.uid)
        assert sorted(tick.foot[0] for tick in ticks(the(found), notch, None)) == pytest.approx([-40, 0])


@pytest.mark.parametrize("kind", ["inverted", "box"])
def test_a_band_sewn_to_the_edge_still_fits_and_is_found_opposite(kind):
    """The sewn lengths are equal still, and a place of the waist has its mate where it had it."""
    start = on_fold(panel(300, 500, 0))
    band = the(panel(300, 40, 0))
    renamed = tuple(replace(e, uid=f"b-{e.name}", parts=tuple(_below(p) for p in e.parts)) for e in band.edges)
    band = replace(band, uid="band", name="band", edges=renamed, grain=None)
    start = load("seam")(target=("skirt.waist", "band.hem"))(replace(start, pieces=(the(start), band)))
    found = pleat(start, kind=kind, depth=20)
    (seam,) = found.seams
    assert run_sewn(found, seam.a) == pytest.approx(run_sewn(found, seam.b), abs=1e-9)
    for sewn in (100.0, 250.0):
        was, now = (mates(p, "waist", sewn) for p in (start, found))
        assert [m.sewn for m in now] == pytest.approx([m.sewn for m in was])
    assert [f.text for f in run_checks(found) if f.severity == FAULT] == []


def _below(part: Curve) -> Curve:
    return transform(part, Affine.translation(0.0, 800.0))


@pytest.mark.parametrize("kind", ["inverted", "box"])
@pytest.mark.parametrize("half", ["front", "back"])
@pytest.mark.parametrize("size", ["bust-82", "bust-106"])
def test_on_a_block_through_the_drawing_and_back(kind, half, size):
    text = RECIPE.format(kind=kind, half=half, size=size)
    drawing, empty, _ = read(EMPTY)
    found = replay(read_recipe(text), empty)
    plain = replay(read_recipe(text.rsplit("pleat", 1)[0]), Pattern())
    _, again, findings = read(write(drawing, found))
    assert list(findings) == []
    assert differences(again, found, tolerance=1e-8) == []
    was, now = (p.piece(f"skirt-{half}") for p in (plain, again))
    for name in ("waist", "hem"):
        assert sewn_length(now.edge(name)) == pytest.approx(sewn_length(was.edge(name)), abs=1e-6)
        assert [t.kind for t in now.edge(name).takeups if t.kind == "pleat"] == ["pleat"]
    # the notch on the hem stays where it is sewn
    (notch,) = was.notches if len(was.notches) == 1 else [n for n in was.notches if n.edge == was.edge("hem").uid]
    mine = [sewn_at(now.edge("hem"), n.at) for n in now.notches if n.edge == now.edge("hem").uid]
    assert min(abs(at - sewn_at(was.edge("hem"), notch.at)) for at in mine) < 1e-6
    faults = [{f.text for f in run_checks(p) if f.severity == FAULT} for p in (plain, again)]
    assert faults[1] <= faults[0]
    assert [s.line for s in replay(read_recipe(text), Pattern()).steps] == [s.line for s in again.steps]


@settings(max_examples=20, deadline=None)
@given(
    kind=st.sampled_from(["inverted", "box"]),
    depth=st.floats(3, 60),
    rise=st.floats(-20, 40),
    turned=st.sampled_from([as_it_is, overleaf, backward]),
)
def test_whatever_is_pleated_at_the_fold_sews_to_what_it_was(kind, depth, rise, turned):
    start = skirt()
    waist = cubic((0, 20 + rise), (60, 20), (120, 16), (180, 0))
    shaped = {"waist": waist, "centre": line((0, 574), (0, 20 + rise))}
    edges = tuple(replace(e, parts=(shaped.get(e.name, e.parts[0]),)) for e in the(start).edges)
    start = turned(replace(start, pieces=(replace(the(start), edges=edges),)))
    found = pleat(start, kind=kind, depth=depth)
    for name in ("waist", "hem"):
        before, after = (the(p).edge(name) for p in (start, found))
        assert sewn_length(after) == pytest.approx(sewn_length(before), abs=1e-6)
    fold = the(found).edge("centre").parts[0]
    assert np.ptp(fold.nodes[:, 0]) < 1e-9


@pytest.mark.parametrize(
    ("target", "options", "said"),
    [
        ("skirt.side", {}, "meets no fold edge"),
        ("skirt.waist", {"kind": "knife"}, "two alike halves; add --kind=box or inverted"),
        ("skirt.waist", {"count": 2}, "puts one pleat where waist meets the fold"),
        ("skirt.waist@0..3cm", {}, "puts one pleat where waist meets the fold"),
        ("skirt.waist", {"less": 10}, "leave --less out"),
        ("skirt.waist", {"other_depth": 0}, "leave --other-depth out"),
        ("skirt.waist", {"face": 30}, "add --kind=box"),
        ("skirt.waist", {"kind": "box", "face": 30}, "would lie over each other"),
        ("skirt.waist", {"kind": "box", "face": 500}, "does not reach 250 mm from the fold"),
        ("skirt.waist", {"depth": 190}, "less than the pleat is deep"),
        ("skirt.waist", {"name": "1st"}, "cannot be a pleats' name"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(target, options, said):
    with pytest.raises(FlatcutError, match=said) as caught:
        pleat(skirt(), target, **options)
    assert "\n" not in str(caught.value)


def test_a_dart_and_a_pleat_in_the_way_are_refused_with_the_place():
    text = "block skirt --size=bust-90\nedge skirt-front.centre --use=fold"
    block = replay(read_recipe(text), Pattern())
    with pytest.raises(GeometryError, match=r"folded over the dart skirt-front\.\S+ near x -?\d"):
        pleat(block, "skirt-front.waist", depth=130)
    beside = load("pleat")(target="skirt.waist@1cm..3cm", depth=10)(skirt())
    with pytest.raises(GeometryError, match=r"would lie over a pleat of skirt\.(waist|hem)"):
        pleat(beside, depth=30)
    # the other way round both stand
    both = load("pleat")(target="skirt.waist@8cm..9cm", depth=10)(pleat(skirt(), depth=30))
    assert len(the(both).edge("waist").takeups) == 2
    assert sewn_length(the(both).edge("waist")) == pytest.approx(sewn_length(the(skirt()).edge("waist")), abs=1e-6)


def test_a_line_drawn_on_the_fold_says_what_to_type_and_that_works():
    start = on_fold(panel(300, 500, 0))
    drawn = replace(the(start), lines=(Line(uid="l", name="slash", curve=line((0, 0), (0, 500))),))
    with pytest.raises(GeometryError, match="lies on the fold edge") as caught:
        load("spread")(target="skirt.slash", amount=40, to="pleat")(replace(start, pieces=(drawn,)))
    words = re.search(r"with: (pleat .*)$", str(caught.value))
    assert words is not None
    assert len(the(replay(read_recipe(words.group(1)), start)).edge("waist").takeups) == 1
