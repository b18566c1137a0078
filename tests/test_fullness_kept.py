"""What is kept when a piece is spread: marks, seams, motions; gathers and their notches; what is told and refused."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flatcut.arguments import parse_line
from flatcut.checks.check import run_checks
from flatcut.errors import GeometryError, UsageError
from flatcut.findings import FAULT
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, cubic, line, transform
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import (
    Allowance,
    DrawnPath,
    Edge,
    Hole,
    Line,
    NamedPoint,
    Notch,
    Pattern,
    Position,
    RunPart,
    Seam,
    Stretch,
    TakeUp,
    area,
)
from flatcut.pattern.walking import sewn_at, sewn_length, to_drawn, to_sewn
from flatcut.recipe import read_recipe, replay
from tests.dart_pieces import controls, front, the
from tests.fullness_pieces import apart, length_of, panel, sewn_of, skirt, slashes, spread, told, upright

# What is kept ---------------------------------------------------------------------------------------------------------


def marked() -> Pattern:
    """The panel with all that can stand on a piece, and a seam to another one."""
    pattern = panel(300, 600, 1)
    piece = the(pattern)
    notches = (
        Notch(uid="n1", edge="hem", at=Position(mode="start", value=100.0)),
        Notch(uid="n2", edge="hem", at=Position(mode="end", value=100.0)),
        Notch(uid="n3", edge="hem", at=Position(mode="fraction", value=0.25)),
        Notch(uid="n4", edge="waist", at=Position(mode="start", value=250.0)),
    )
    widths = Allowance(
        width=10.0,
        stretches=(
            Stretch(start=Position(mode="start", value=20.0), end=Position(mode="end", value=20.0), width=20.0),
        ),
    )
    ease = TakeUp(uid="t1", kind="ease", start=200.0, end=280.0, amount=5.0)
    changed = {
        "hem": {"allowance": widths, "takeups": (ease,)},
        "centre": {"allowance": Allowance(width=15.0)},
    }
    edges = tuple(replace(e, **changed.get(e.name, {})) for e in piece.edges)
    piece = replace(
        piece,
        edges=edges,
        notches=notches,
        points=(
            NamedPoint(uid="p1", name="left", at=np.array([50.0, 300.0])),
            NamedPoint(uid="p2", name="right", at=np.array([250.0, 300.0])),
        ),
        holes=(Hole(uid="h", at=np.array([280.0, 590.0])),),
        quantity=2,
        cut_as="pair",
        material="shell",
    )
    other = replace(piece, uid="q", name="facing", points=(), holes=(), lines=(), grain=None)
    rename = {e.uid: f"q-{e.uid}" for e in piece.edges}
    edges = tuple(replace(e, uid=rename[e.uid], takeups=()) for e in piece.edges)
    other = replace(other, edges=edges, notches=())
    run = RunPart(piece="p", of="hem", start=Position(mode="start", value=50.0), end=Position(mode="end", value=10.0))
    seam = Seam(uid="s", a=(run,), b=(RunPart(piece="q", of="q-hem"),))
    return replace(pattern, pieces=(piece, other), seams=(seam,))


def test_marks_widths_and_runs_go_with_their_cloth():
    start = marked()
    found = spread(start, "skirt.s1", amount=40, at="hem", hold="centre", within=0)
    piece, hem = the(found), the(found).edge("hem")
    assert [n.uid for n in piece.notches] == ["n1", "n2", "n3", "n4"]
    # the hem runs from the side to the centre; its middle was opened, and the sewn hem is 295 with the ease
    assert [round(sewn_at(hem, n.at), 6) for n in piece.notches[:3]] == [100, 235, 73.75]
    assert piece.notches[3] == the(start).notches[3]
    assert [n.at.mode for n in piece.notches] == ["start", "end", "fraction", "start"]
    (stretch,) = hem.allowance.stretches
    assert (stretch.start.along(335), stretch.end.along(335)) == (20.0, 315.0)
    (ease,) = hem.takeups
    assert (ease.start, ease.end, ease.amount) == (240.0, 320.0, 5.0)
    (seam,) = found.seams
    assert seam.a[0].start == Position(mode="start", value=50.0)
    assert seam.a[0].end.along(sewn_length(hem)) == pytest.approx(325, abs=1e-9)
    assert piece.points[0].at.tolist() == [50, 300]
    turn = 2 * math.asin(20 / 600)
    np.testing.assert_allclose(
        piece.points[1].at, Affine.rotation(-turn, (150.0, 0.0)).apply([250.0, 300.0]), atol=1e-9
    )
    assert (piece.quantity, piece.cut_as, piece.material) == (2, "pair", "shell")
    assert piece.grain.start.tolist() == the(start).grain.start.tolist()
    assert found.pieces[1] == start.pieces[1]


def test_to_a_seam_gathers_change_nothing():
    start = marked()
    found = spread(start, "skirt.s1", amount=40, at="waist", to="gathers", hold="centre")
    assert sewn_of(found, "waist") == pytest.approx(300, abs=1e-9)
    n4 = next(n for n in the(found).notches if n.uid == "n4")
    assert sewn_at(the(found).edge("waist"), n4.at) == pytest.approx(250, abs=1e-9)


@pytest.mark.parametrize(
    ("hold", "uses", "still"),
    [("side", {}, "side"), ("", {"side": "fold"}, "side"), ("", {"centre": "centre"}, "centre"), ("", {}, "side")],
)
def test_what_is_held(hold, uses, still):
    pattern = panel(300, 600, 1)
    piece = the(pattern)
    cut = replace(piece.lines[0], curve=line((100, 0), (100, 600)))
    edges = tuple(replace(e, use=uses.get(e.name, e.use)) for e in piece.edges)
    start = replace(pattern, pieces=(replace(piece, edges=edges, lines=(cut,)),))
    found = spread(start, amount=40, at="hem", hold=hold)
    for name in ("side", "centre"):
        away = np.abs(the(found).edge(name).end - the(start).edge(name).end).max()
        assert (away < 1e-12) == (name == still)


MOTIONS = (
    Affine.reflection(np.array([3.0, 0]), np.array([40.0, 90.0])),
    Affine.translation(70, -30) @ Affine.rotation(0.7),
)


@pytest.mark.parametrize("matrix", MOTIONS)
@pytest.mark.parametrize("options", [{"amount": 30, "at": "hem"}, {"amount": 20}, {"amount": 20, "to": "pleat"}])
def test_moved_and_mirrored_pieces_open_alike(options, matrix):
    start = skirt(*(line(*ends) for ends in upright(skirt(), np.array([60.0, 120.0]))))
    turned = replace(start, pieces=(moved(the(start), matrix),))
    one = moved(the(spread(start, within=0, **options)), matrix)
    other = the(spread(turned, within=0, **options))
    np.testing.assert_allclose(controls(other), controls(one), atol=1e-6)
    assert [item.name for item in other.lines] == [item.name for item in one.lines]
    for a, b in zip(one.lines, other.lines, strict=True):
        # an arrow's head has its wings the other way round on a mirror image
        kept = slice(0, 2) if "-way" in a.name else slice(None)
        np.testing.assert_allclose(b.curve.nodes[kept], a.curve.nodes[kept], atol=1e-6)
    # where 1 mm is hardly enough, many curves are nearly as fair as the fairest
    smooth, also = moved(the(spread(start, **options)), matrix), the(spread(turned, **options))
    for name in ("waist", "hem"):
        assert apart(*(p.edge(name).parts[0] for p in (smooth, also))) < 0.3


def test_lines_from_one_corner():
    pattern = panel(300, 600, 0)
    piece = the(pattern)
    lines = tuple(Line(uid=f"l{k}", name=f"l{k}", curve=line((0, 0), (x, 600))) for k, x in enumerate((100, 200)))
    start = replace(pattern, pieces=(replace(piece, lines=lines),))
    found = spread(start, amount=30, at="hem", within=0, hold="centre")
    assert length_of(found, "hem") == pytest.approx(360, abs=1e-9)
    assert the(found).edge("waist").start.tolist() == [0, 0]
    with pytest.raises(UsageError, match="can only be hinged"):
        spread(start, amount=30)


@pytest.mark.parametrize("at", ["", "start"])
@pytest.mark.parametrize("amount", [30, -30])
def test_an_edge_that_goes_all_round(at, amount):
    """A disk of one edge, cut through its middle, also where that edge begins."""
    arm = 100 * 4 / 3 * (math.sqrt(2) - 1)
    quarter = cubic((100, 0), (100, arm), (arm, 100), (0, 100))
    ring_of = chain([transform(quarter, Affine.rotation(k * math.pi / 2)) for k in range(4)], within=1e-9)
    lines = (line((-100, 0), (100, 0)), line((0, -100), (0, 100)))
    for k, cut in enumerate(lines):
        piece = replace(
            the(panel(300, 600, 0)),
            edges=(Edge(uid="e", name="round", parts=(ring_of,)),),
            lines=(Line(uid="l", name="l", curve=cut),),
            grain=None,
        )
        found = spread(Pattern(pieces=(piece,)), amount=amount, at=at, within=1 if k else 0)
        added = abs(area(the(found))) - abs(area(piece))
        half = 200 * amount / (2 if at else 1)
        # what is cut off a disk beside its middle is a little less than a strip
        assert added == pytest.approx(half, rel=0.03)
    assert len(the(found).edges) == 1


# Gathers --------------------------------------------------------------------------------------------------------------


def test_tiers():
    """Closed form: 96 x 1.6 = 153.6, 245.76, 393.216."""
    wide = 960.0
    for wanted in (1536.0, 2457.6, 3932.16):
        tier = spread(panel(wide, 200, 8), *slashes(8), amount=0.6 * wide / 8, to="gathers")
        assert length_of(tier, "waist") == pytest.approx(wanted, abs=1e-6)
        assert sewn_of(tier, "waist") == pytest.approx(wide, abs=1e-6)
        wide = length_of(tier, "waist")


def test_gathers_reach_as_far_as_stated_and_have_notches():
    start = panel(300, 600, 3)
    found = spread(start, *slashes(3), amount=40, at="waist", to="gathers", either_side=30, within=0)
    (gathers,) = the(found).edge("waist").takeups
    assert (gathers.kind, gathers.start, gathers.end, gathers.amount) == ("gathers", 45, pytest.approx(375), 120)
    assert told(found, "cloth over finished") == pytest.approx(330 / 210)
    edge = the(found).edge("waist")
    assert sorted(sewn_at(edge, n.at) for n in the(found).notches) == [45, 255]
    again = spread(found, "skirt.s2", amount=10, at="waist", to="gathers", either_side=5, within=0)
    (gathers,) = the(again).edge("waist").takeups
    assert (gathers.start, gathers.end, gathers.amount) == pytest.approx((45, 385, 130), abs=0.01)
    assert len(the(again).notches) == 2


def test_gathers_are_sewn_to_a_yoke():
    """What the seam says: the gathered edge is as long as its mate, and its notches have theirs."""
    start = panel(300, 600, 3)
    piece = the(start)
    yoke = replace(piece, uid="q", name="yoke", lines=(), grain=None)
    yoke = replace(yoke, edges=tuple(replace(e, uid=f"q-{e.uid}") for e in piece.edges))
    seam = Seam(uid="s", a=(RunPart(piece="p", of="waist"),), b=(RunPart(piece="q", of="q-hem"),), reversed=True)
    found = spread(
        replace(start, pieces=(piece, yoke), seams=(seam,)), *slashes(3), amount=40, at="waist", to="gathers"
    )
    assert [f.text for f in run_checks(found) if f.severity == FAULT or f.check == "notches"] == []
    here, there = (sorted(sewn_at(p.edge_of(n.edge), n.at) for n in p.notches) for p in found.pieces)
    assert here == pytest.approx(there, abs=1e-6)
    assert len(here) == 2


def test_the_hem_hangs_free():
    found = spread(panel(300, 600, 3), *slashes(3), amount=40, to="gathers")
    assert the(found).edge("hem").takeups == ()
    assert len(the(found).edge("waist").takeups) == 1
    found = spread(panel(300, 600, 3), *slashes(3), amount=40, to="gathers", taken_up=("hem",))
    assert the(found).edge("waist").takeups == ()
    assert len(the(found).edge("hem").takeups) == 1


def test_each_line_its_own():
    found = spread(
        panel(300, 600, 3), *slashes(3), amount=(20, 30, 40), each=("gathers", "flare", "pleat"), hold="centre"
    )
    waist = the(found).edge("waist")
    assert [(t.kind, round(t.amount, 6)) for t in waist.takeups] == [("gathers", 20), ("pleat", 40)]
    assert sewn_length(waist) == pytest.approx(330, abs=1e-6)


# On drawings and sizes ------------------------------------------------------------------------------------------------


def test_a_drawn_line_is_recorded_first():
    pattern = panel(300, 600, 0)
    drawn = DrawnPath(id="slash", curves=(line((150, -4), (150, 607)),), closed=(False,))
    pattern = replace(pattern, drawn=(drawn,))
    found = load("spread")(amount=40, at="hem", keep_lines=True)(pattern, Selection(drawn=("slash",)))
    assert [step.line.split()[0] for step in found.steps] == ["line", "spread"]
    assert found.steps[1].line == "spread skirt.line-1 --amount=40 --at=hem --keep-lines=true"
    assert length_of(found, "hem") == pytest.approx(340, abs=0.5)
    again = load("spread")(amount=40, at="hem").perform(replace(pattern, drawn=(), pieces=found.pieces), Selection())
    assert length_of(again.pattern, "hem") == pytest.approx(380, abs=1)


# What is refused ------------------------------------------------------------------------------------------------------


def pierced() -> Pattern:
    pattern = front()
    piece = the(pattern)
    lines = {
        "short": line((60, 300), (150, 300)),
        "over-dart": line((60, 430), (283, 420)),
        "same": cubic((60, 200), (100, 200), (100, 240), (60, 240)),
        "good": line((90, 121), (90, 446)),
        "cross": line((60, 220), (290.5, 250)),
        "dart-leg": line((60, 400), (166, 393)),
        "side-ways": line((60, 180), (242, 190)),
    }
    made = tuple(Line(uid=name, name=name, curve=curve) for name, curve in lines.items())
    return replace(pattern, pieces=(replace(piece, lines=made),))


@pytest.mark.parametrize(
    ("target", "options", "said"),
    [
        (("short",), {"amount": 10}, "draw the line on to an edge"),
        (("over-dart",), {"amount": 10}, "crosses front.waist-dart on its way"),
        (("dart-leg",), {"amount": 10}, "lies on the dart front.waist-dart"),
        (("good",), {}, "spread takes --amount"),
        (("good",), {"amount": 0}, "opens by nothing"),
        (("good",), {"amount": 0.01}, "nothing that can be cut"),
        (("good",), {"amount": 10, "at": "side"}, "does not end at side; it runs from neck to waist"),
        (("good",), {"amount": 10, "at": "sleeve"}, "'sleeve'"),
        (("good",), {"amount": 10, "other": 5}, "say which with --at=front.EDGE"),
        (("good",), {"amount": (10, 20)}, "gives 2 lengths for 1 lines"),
        (("good",), {"amount": 10, "each": ("tucks",)}, "--each takes one of flare, gathers, pleat"),
        (("good",), {"amount": 10, "each": ("flare", "pleat")}, "2 results for 1 lines"),
        (("good",), {"amount": 10, "hold": "neck"}, "has a part on both sides"),
        (("good",), {"amount": 10, "pressed": "side"}, "--pressed is for pleats"),
        (("good",), {"amount": 10, "to": "pleat", "pressed": "neck"}, "lies on both sides"),
        (("good", "side-ways"), {"amount": 10}, r"meet at x -?\d.*, y -?\d.* mm inside the piece"),
        (("cross",), {"amount": 10, "at": "side"}, "is a centre edge and would be bent"),
        (("same",), {"amount": 10, "at": "centre"}, "write --at=start or --at=end"),
        (("good",), {"amount": 700, "at": "waist"}, "open it by less"),
        (("good",), {"amount": -300, "at": "waist"}, "take out less"),
        (("good",), {"amount": -10, "to": "gathers"}, "leaves nothing to be made gathers"),
        (("good",), {"amount": 60, "to": "gathers", "either_side": 100}, "give less with --either-side"),
        (("bust-point",), {"amount": 10}, "'front.bust-point' is a point"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(target, options, said):
    with pytest.raises((UsageError, GeometryError), match=said) as caught:
        spread(pierced(), *(f"front.{name}" for name in target), **options)
    assert "\n" not in str(caught.value)


def test_a_winding_line_is_told():
    ((top, hem),) = upright(skirt(), np.array([60.0]))
    hook = [top, (90, 300), (130, 150), hem]
    start = skirt(chain([line(a, b) for a, b in pairwise(hook)]))
    found = spread(start, amount=60, at="hem", within=0)
    # a kink that is left is told after it
    assert any("less winding" in said for said in found.steps[-1].warnings)


def test_amounts_are_written_like_any_length():
    start = panel(300, 600, 3)
    words = "spread skirt.s1 skirt.s2 skirt.s3 --at=skirt.hem --within=0"
    text = f'{words} --amount="0.6*length(skirt.waist)/3,distance(skirt.waist/side,skirt.side/hem)/20,1 1/2in"'
    operation = parse_line(text)
    assert operation is not None
    assert parse_line(operation.line()) == operation
    found = operation(start)
    assert length_of(found, "hem") == pytest.approx(300 + 60 + 30 + 38.1, abs=1e-9)
    again = replay(read_recipe(found.steps[0].line), start)
    np.testing.assert_array_equal(controls(the(again)), controls(the(found)))
    with pytest.raises(UsageError, match=r"--amount: .*wide"):
        spread(start, "skirt.s1", amount="wide")


def test_ease_that_is_opened_is_drawn_up_with_the_gathers():
    pattern = panel(300, 600, 1)
    ease = TakeUp(uid="t", kind="ease", start=100.0, end=190.0, amount=12.0)
    edges = tuple(replace(e, takeups=(ease,)) if e.name == "waist" else e for e in the(pattern).edges)
    start = replace(pattern, pieces=(replace(the(pattern), edges=edges),))
    found = spread(start, amount=30, to="gathers", taken_up=("waist",))
    (gathers,) = the(found).edge("waist").takeups
    assert (gathers.kind, gathers.start, gathers.end) == ("gathers", 100.0, pytest.approx(220.0))
    assert gathers.amount == pytest.approx(42.0)
    assert sewn_of(found, "waist") == pytest.approx(288.0)


def test_a_pleat_in_an_eased_stretch_is_counted_on_the_cloth_that_is_left():
    # 100 mm drawn: 20..80 is eased by 10 mm, and 40..60 within it is a pleat that takes up all of its 20 mm
    ease = TakeUp(uid="ease", kind="ease", start=20.0, end=80.0, amount=10.0)
    pleat = TakeUp(uid="pleat", kind="pleat", start=40.0, end=60.0, amount=20.0)
    for takeups in ((ease, pleat), (pleat, ease)):
        edge = Edge(uid="e", name="waist", parts=(line((0, 0), (100, 0)),), takeups=takeups)
        # the ease lies on the 40 mm beside the pleat, a quarter of each mm
        drawn = [0.0, 20.0, 30.0, 40.0, 60.0, 70.0, 80.0, 100.0]
        sewn = [0.0, 20.0, 27.5, 35.0, 35.0, 42.5, 50.0, 70.0]
        assert [to_sewn(edge, at) for at in drawn] == pytest.approx(sewn)
        assert sewn_length(edge) == pytest.approx(70.0)
        assert [to_drawn(edge, at) for at in (27.5, 35.0, 42.5)] == pytest.approx([30.0, 40.0, 70.0])
