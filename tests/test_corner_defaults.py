"""Corners of which nothing was said: squared where a seam is sewn and pressed open before the next, told from seams.

Measured on the cut line by rays of shapely, against closed forms: with the angle g inside the piece and the width b of
the edge across, the stitch line run on meets the other cut line b / sin(g) beyond the seam end, and mitred the tip of
an allowance a lies (b + a cos(g)) / sin(g) beyond it (plane trigonometry).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import flatten, line
from flatcut.marking.cutline import corner_kind, cut_line
from flatcut.operations.operation import load
from flatcut.pattern.sewing_order import with_sewing_order
from flatcut.pattern.values import Edge, Pattern, Piece, Seam
from flatcut.recipe import read_recipe, replay


def panel(name: str, angle: float, *, left: bool, across: str = "seam") -> Piece:
    """A piece with a seam 200 mm long up to its end at (0, 0), and the edge across at so many degrees to it.

    left: the piece lies to the left of its seam on the page, so that its seam runs up.
    """
    turn = math.radians(angle)
    side = -1.0 if left else 1.0
    top = 150 * np.array([side * math.sin(turn), math.cos(turn)])
    end, foot, low = np.zeros(2), np.array([0.0, 200.0]), np.array([top[0], 200.0])
    if left:  # clockwise on the screen: top, seam down, hem, centre up
        names = [("across", top, end), ("seam", end, foot), ("hem", foot, low), ("centre", low, top)]
    else:
        names = [("across", end, top), ("centre", top, low), ("hem", low, foot), ("seam", foot, end)]
    uses = {"hem": "hem", "centre": "centre", "across": across, "seam": "seam"}
    edges = tuple(Edge(uid=f"{name}-{what}", name=what, parts=(line(p, q),), use=uses[what]) for what, p, q in names)
    return Piece(uid=name, name=name, edges=edges)


def pair(one: float, two: float, *, across: str = "seam", width: float = 10.0) -> Pattern:
    pattern = Pattern(
        pieces=(panel("left", one, left=True, across=across), panel("right", two, left=False, across=across))
    )
    pattern = load("seam")(target=("left.seam", "right.seam"))(pattern)
    edges = tuple(f"{p}.{e}" for p in ("left", "right") for e in ("across", "seam"))
    return load("allowance")(target=edges, width=width)(pattern)


def kinds(pattern: Pattern) -> dict[str, tuple[str, str]]:
    return {
        f"{piece.name}.{edge.name}/{piece.after(edge).name}": corner_kind(piece, edge)
        for piece in pattern.pieces
        for edge in piece.edges
    }


def beyond(piece: Piece, along: Array, *, aside: float) -> float:
    """How far beyond the seam end the seam's allowance reaches, mm, on a line `aside` mm out of its stitch line."""
    cut = cut_line(piece)
    assert cut is not None
    out = np.array([aside, 0.0])
    far = out + 400 * along
    met = LineString(flatten(cut.curve, tolerance=0.001)).intersection(LineString([out - 0.001 * along, far]))
    spots = [met] if met.geom_type == "Point" else list(met.geoms)
    return max(float((np.array(p.coords)[-1] - out) @ along) for p in spots)


UP = np.array([0.0, -1.0])


@settings(max_examples=15, deadline=None)
@given(
    angle=st.floats(45, 135), off=st.floats(-1, 1), width=st.floats(4, 20), across=st.sampled_from(["seam", "finished"])
)
def test_ends_of_a_pressed_seam_are_squared_and_lie_on_each_other(
    angle: float, off: float, width: float, across: str
) -> None:
    pattern = pair(angle, 180 - angle + off, across=across, width=width)
    assert kinds(pattern)["left.across/seam"] == ("squared", "second")
    assert kinds(pattern)["right.seam/across"] == ("squared", "first")
    for name, inside, side in (("left", angle, 1.0), ("right", 180 - angle + off, -1.0)):
        reach = beyond(pattern.piece(name), UP, aside=side * (width - 0.05))
        assert reach == pytest.approx(width / math.sin(math.radians(inside)), abs=0.1)
    assert not [f for f in run_checks(pattern) if f.check == "corners"]


def test_mitred_ends_are_found_with_the_figure_of_the_closed_form() -> None:
    """70° and 110° with 10 mm: squared both end at 10.642 mm, mitred at 14.281 and 7.002 (closed form)."""
    pattern = pair(70.0, 110.0)
    both = [beyond(pattern.piece(n), UP, aside=s * 9.99) for n, s in (("left", 1.0), ("right", -1.0))]
    assert both == pytest.approx([10.642, 10.642], abs=0.05)
    mitred = load("corner")(target=("left.across/seam", "right.seam/across"), kind="mitred")(pattern)
    (found,) = [f for f in run_checks(mitred) if f.check == "corners"]
    assert abs(found.figure) == pytest.approx(14.281 - 7.002, abs=0.05)
    mended = replay(read_recipe(found.text.partition("with: ")[2]), mitred)
    assert not [f for f in run_checks(mended) if f.check == "corners"]
    again = load("corner")(target=("left.across/seam", "right.seam/across"), kind="default")(mitred)
    assert kinds(again) == kinds(pattern)


def test_outer_edges_stay_mitred_and_hems_turned() -> None:
    found = kinds(pair(80.0, 100.0))
    assert found["left.seam/hem"][0] == "turned"
    assert found["left.centre/across"] == ("mitred", "")
    opening = kinds(pair(80.0, 100.0, across="opening"))
    assert opening["left.across/seam"] == ("mitred", "")


def test_without_a_seam_or_with_one_only_suggested_nothing_is_squared() -> None:
    pattern = pair(80.0, 100.0)
    bare = load("seam")(target=("left.seam", "right.seam"), remove=True)(pattern)
    assert kinds(bare)["left.across/seam"] == ("mitred", "")
    # seams that no step has made: what follows from them is told where it is asked for, as on reading a drawing
    suggested = with_sewing_order(replace(pattern, seams=(replace(pattern.seams[0], suggested=True),)))
    assert kinds(suggested)["left.across/seam"] == ("mitred", "")


def crossing(order: str) -> Pattern:
    """Four quarters about one point, sewn across (h1, h2) and along (v1, v2); order: of the seams as stated."""

    def quarter(name: str, x: float, y: float) -> Piece:
        p = [np.array(q, dtype=float) for q in ((0, 0), (x, 0), (x, y), (0, y))]
        names = ["h", "o1", "o2", "v"]
        if x * y < 0:
            p, names = [p[0], p[3], p[2], p[1]], ["v", "o2", "o1", "h"]
        edges = tuple(Edge(uid=f"{name}{n}", name=n, parts=(line(p[k], p[(k + 1) % 4]),)) for k, n in enumerate(names))
        return Piece(uid=name, name=name, edges=edges)

    pieces = (quarter("a", -90, -80), quarter("b", 90, -80), quarter("c", 90, 80), quarter("d", -90, 80))
    runs = {"v1": ("a.v", "b.v"), "v2": ("d.v", "c.v"), "h1": ("a.h", "d.h"), "h2": ("b.h", "c.h")}
    pattern = Pattern(pieces=pieces)
    for name in order.split():
        pattern = load("seam")(target=runs[name])(pattern)
    return load("allowance")(target=("a", "b", "c", "d"), width=10.0)(pattern)


@pytest.mark.parametrize(
    ("order", "first"),
    [("v1 v2 h1 h2", "v"), ("h1 h2 v1 v2", "h"), ("v1 h1 h2 v2", "v"), ("h2 v1 v2 h1", "h"), ("h1 v2 v1 h2", "h")],
)
def test_where_four_pieces_meet_all_corners_agree_on_the_seam_sewn_first(order: str, first: str) -> None:
    pattern = crossing(order)
    for piece in pattern.pieces:
        (edge,) = [e for e in piece.edges if {e.name, piece.after(e).name} == {"h", "v"}]
        kind, side = corner_kind(piece, edge)
        assert kind == "squared"
        assert (edge if side == "first" else piece.after(edge)).name == first
    assert not [f for f in run_checks(pattern) if f.check == "corners"]


def test_a_seam_over_several_pieces_comes_after_those_between_them() -> None:
    lines = [
        "block bodice --size=bust-90",
        "block sleeve",
        "allowance all",
    ]
    pattern = replay(read_recipe("\n".join(lines)), Pattern())
    found = kinds(pattern)
    through = {
        name: name.partition(".")[2].split("/")[0 if side == "first" else 1]
        for name, (kind, side) in found.items()
        if kind == "squared"
    }
    assert through["back.shoulder/armhole"] == "shoulder"
    assert through["front.side/armhole"] == "side"
    assert through["back.armhole/side"] == "side"
    assert through["front.waist/side"] == "side"
    assert through["back.neck/shoulder"] == "shoulder"
    assert not [f for f in run_checks(pattern) if f.check == "corners"]


def test_one_stated_width_leaves_the_other_edges_without_and_asks() -> None:
    pattern = replay(read_recipe("block skirt --size=bust-90"), Pattern())
    piece = next(p for p in pattern.pieces if p.name.endswith("front"))
    pattern = load("allowance")(target=(f"{piece.name}.hem",), width=40.0)(pattern)
    piece = pattern.piece(piece.name)
    cut = cut_line(piece)
    assert cut is not None
    around = LineString(flatten(cut.curve, tolerance=0.01))
    side = piece.edge("side").parts[0]
    for at in np.linspace(0.2, 0.8, 7):
        from shapely.geometry import Point

        from flatcut.geometry.curves import point

        assert around.distance(Point(*point(side, at * len(side)))) < 0.05
    (asked,) = [w for w in cut.warnings if "no allowance is stated for" in w]
    assert f"{piece.name}.side" in asked
    assert "hem" not in asked.partition("with: ")[0].replace("the stitch line", "")
    done = replay(read_recipe(asked.partition("with: ")[2]), pattern)
    now = cut_line(done.piece(piece.name))
    assert now is not None
    assert not now.warnings


def test_the_seam_told_goes_with_the_seam() -> None:
    """What follows from seams is told anew after each step; a corner that was stated is left as it is."""
    pattern = load("corner")(target=("left.across/seam",), kind="bevelled")(pair(80.0, 100.0))
    pattern = load("edge")(target=("right.across",), use="finished")(pattern)
    found = kinds(pattern)
    assert found["left.across/seam"][0] == "bevelled"
    assert found["right.seam/across"] == ("mitred", "")  # the line across is no longer one line
    assert isinstance(pattern.seams[0], Seam)


@pytest.mark.parametrize("angle", [8.0, 12.0, 16.0, 24.0, 150.0, 165.0])
def test_what_is_only_usual_never_costs_the_cut_line(angle: float) -> None:
    pattern = pair(angle, 180 - angle)
    for piece in pattern.pieces:
        cut = cut_line(piece)
        assert cut is not None
        corner = "across/seam" if piece.name == "left" else "seam/across"
        square = load("corner")(target=f"{piece.name}.{corner}", kind="squared", through=f"{piece.name}.seam")
        try:
            cut_line(square(pattern).piece(piece.name))
        except FlatcutError:
            # stated it may fail; as the usual it gives way and says so
            assert any("are mitred, since squared as is usual" in w for w in cut.warnings)


def hollow(turn: float) -> Pattern:
    """A piece whose seam runs into a hollow corner, as where a collar is grown on to a shoulder, and its plain mate."""
    lean = math.radians(turn)
    out = 120 * np.array([math.sin(lean), -math.cos(lean)])
    nodes = [out, np.zeros(2), np.array([0.0, 200.0]), np.array([-150.0, 200.0]), np.array([-150.0, out[1]])]
    edges = tuple(
        Edge(uid=f"left-{name}", name=name, parts=(line(nodes[k], nodes[(k + 1) % 5]),))
        for k, name in enumerate(("across", "seam", "hem", "centre", "top"))
    )
    pattern = Pattern(pieces=(Piece(uid="left", name="left", edges=edges), panel("right", 180 - turn, left=False)))
    pattern = load("seam")(target=("left.seam", "right.seam"))(pattern)
    return load("allowance")(target=("left", "right.across", "right.seam"), width=10.0)(pattern)


@pytest.mark.parametrize("turn", [20.0, 35.0, 45.0])
def test_a_hollow_corner_has_no_end_to_be_squared(turn: float) -> None:
    """Its two allowances overlap, and both are cut where their cut lines meet: as far from the corner as half of the
    angle outside the piece says, w / sin(half) (plane trigonometry). The cutter snips into the corner. Stated as
    squared it is cut just so, and that is said; the mate's end, which spreads out, is squared."""
    pattern = hollow(turn)
    assert kinds(pattern)["left.across/seam"] == ("mitred", "")
    assert kinds(pattern)["right.seam/across"] == ("squared", "first")
    usual = cut_line(pattern.piece("left"))
    assert usual is not None
    assert not usual.warnings
    half = math.radians(180 - turn) / 2
    assert min(np.linalg.norm(usual.curve.nodes, axis=1)) == pytest.approx(10 / math.sin(half), abs=1e-6)
    square = load("corner")(target="left.across/seam", kind="squared", through="left.seam")(pattern)
    stated = cut_line(square.piece("left"))
    assert stated is not None
    assert np.abs(stated.curve.controls - usual.curve.controls).max() < 1e-9
    assert "is hollow toward the allowance" in stated.warnings[0]
    assert not [f for f in run_checks(pattern) if f.check == "corners"]
