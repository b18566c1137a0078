"""`facing`: judged by shapely and by figures that were worked out by hand, in every size of the table."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import affinity

from flatcut.blocks.body import SIZES as TABLE
from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve, chain, flatten, line
from flatcut.geometry.fit_points import fit_points
from flatcut.operations.operation import load
from flatcut.pattern.runs import show_run
from flatcut.pattern.values import Edge, Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.recipe import read_recipe, replay

BLOCK = """block bodice --size={}
style --name=shift --size=90 --materials=shell,lining,fusing
label all --material=shell
"""
SIZES = tuple(TABLE)
"""Every size of the table."""


@cache
def block(size: str = "bust-90") -> Pattern:
    return replay(read_recipe(BLOCK.format(size)), Pattern())


def after(lines: str, size: str = "bust-90") -> Pattern:
    return replay(read_recipe(lines), block(size))


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


def drawn(edge: Edge) -> shapely.LineString:
    return shapely.LineString(np.concatenate([flatten(part, tolerance=0.01) for part in edge.parts]))


def seams(pattern: Pattern) -> set[str]:
    return {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}" for s in pattern.seams}


def laid_back(pattern: Pattern, facing: Piece, piece: Piece, edge: str) -> shapely.Polygon:
    """The facing moved so that an edge of it lies on the piece's; no darts, so that it is a shift."""
    return affinity.translate(ring(facing), *(piece.edge(edge).end - facing.edge(edge).end))


def quarter() -> Pattern:
    """A quarter circle of 7 cm as a neck, on the fold at one end."""
    turn = np.linspace(0, math.pi / 2, 200)
    curve: Curve = fit_points(np.stack([70 * np.cos(turn), 70 * np.sin(turn)], axis=1)[::-1], tolerance=0.001)
    corners = [(0.0, 70.0), (70.0, 0.0), (300.0, 0.0), (300.0, 300.0), (0.0, 300.0)]
    names = ("neck", "shoulder", "armhole", "hem", "centre")
    parts = [curve, *(line(corners[k], corners[(k + 1) % 5]) for k in range(1, 5))]
    edges = tuple(
        Edge(uid=n, name=n, parts=(p,), use={"hem": "hem", "centre": "fold"}.get(n, "seam"))
        for n, p in zip(names, parts, strict=True)
    )
    return Pattern(pieces=(Piece(uid="p", name="front", edges=edges, cut_as="fold"),))


def test_a_quarter_circle_gives_the_arc_of_the_handbook() -> None:
    """Exact mathematics: a neck of radius 7 cm is 10.9956 cm, its facing of 6 cm has an outer arc of 20.4204 cm."""
    made = load("facing")(target=("front.neck",), width=60.0, roll=0.0)(quarter()).piece("front-facing")  # type: ignore[call-arg]
    assert sewn_length(made.edge("neck")) == pytest.approx(109.956, abs=0.01)
    assert drawn_length(made.edge("inner")) == pytest.approx(204.204, abs=0.05)
    assert made.cut_as == "fold"


@pytest.mark.parametrize("size", SIZES)
def test_a_neck_facing_fits_in_every_size(size: str) -> None:
    """Edge equal to edge, inside the piece, as wide as asked, the free edges running on into each other."""
    pattern = after("facing front.neck back.neck --width=6cm --at-seam=4.5cm --roll=0", size)
    for name in ("front", "back"):
        piece, facing = pattern.piece(name), pattern.piece(f"{name}-facing")
        assert sewn_length(facing.edge("neck")) == pytest.approx(sewn_length(piece.edge("neck")), abs=0.01)
        if name == "back":  # the front has its bust dart there, closed in the facing
            inside = laid_back(pattern, facing, piece, "neck")
            assert inside.difference(ring(piece).buffer(0.05)).area < 1.0
        assert drawn_length(facing.edge("centre")) == pytest.approx(60.0, abs=0.05)
        assert drawn_length(facing.edge("shoulder")) == pytest.approx(45.0, abs=0.05)
        neck, inner = drawn(facing.edge("neck")), drawn(facing.edge("inner"))
        wide = [neck.distance(inner.interpolate(s, normalized=True)) for s in np.linspace(0, 1, 41)]
        assert min(wide) > 40.0
        assert max(wide) < 60.5
        assert facing.cut_as == "fold"
        assert facing.edge("inner").use == "finished"
        assert facing.grain is not None
    found = run_checks(replay(read_recipe("allowance all --width=1cm"), pattern))
    assert not [f.text for f in found if "facing" in f.text]


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-118"])
@pytest.mark.parametrize("roll", [0.0, 1.0, 3.0])
def test_roll_takes_the_inner_end_of_each_seam_in(size: str, roll: float) -> None:
    """By hand: the seam leaves the corner as before, its inner end lies `roll` off the line of the piece's seam."""
    pattern = after(f"facing front.armhole back.armhole --width=5cm --roll={roll}mm", size)
    for name in ("front", "back"):
        piece, facing = pattern.piece(name), pattern.piece(f"{name}-facing")
        by = piece.edge("armhole").start - facing.edge("armhole").start
        side, its = drawn(piece.edge("side")), drawn(facing.edge("side"))
        its = affinity.translate(its, *by)
        away = [side.distance(shapely.Point(at)) for at in its.coords]
        assert max(away) == pytest.approx(roll, abs=0.02)
        assert facing.cut_as == "pair"
        assert facing.quantity == 2


def test_the_facings_are_sewn_as_the_pieces_are() -> None:
    pattern = after("facing front.armhole back.armhole --width=5cm")
    assert seams(pattern) - seams(block()) == {
        "front.armhole = front-facing.armhole",
        "back.armhole = back-facing.armhole",
        "front-facing.shoulder = back-facing.shoulder",
        "front-facing.side = back-facing.side",
    }
    later = after("facing front.armhole --width=5cm\nfacing back.armhole --width=5cm")
    assert seams(later) == seams(pattern)


def test_facings_at_the_two_ends_of_one_seam_are_not_sewn_to_each_other() -> None:
    pattern = after("facing front.armhole --width=5cm\nfacing back.waist --width=5cm --names=band")
    assert not [s for s in seams(pattern) if "facing" in s and "band" in s]


@pytest.mark.parametrize("size", SIZES)
def test_all_in_one_closes_the_darts_of_the_shoulder(size: str) -> None:
    """The bust dart stands in the corner of shoulder and neck: closed, its two edges meet, and no dart is left."""
    pattern = after("facing front.neck front.armhole back.neck back.armhole --width=5cm", size)
    front, facing = pattern.piece("front"), pattern.piece("front-facing")
    assert not facing.darts
    assert not pattern.piece("back-facing").darts
    for name in ("neck", "shoulder", "armhole"):
        assert sewn_length(facing.edge(name)) == pytest.approx(sewn_length(front.edge(name)), abs=0.01)
    assert not shapely.Polygon(ring(facing)).is_empty
    assert ring(facing).is_valid
    assert "bust-dart is closed in front-facing" in pattern.steps[-1].warnings
    assert "front-facing.shoulder = back-facing.shoulder" in seams(pattern)
    found = run_checks(replay(read_recipe("allowance all --width=1cm"), pattern))
    assert not [f.text for f in found if "facing" in f.text]


def test_a_waist_dart_is_closed_in_the_facing_of_the_waist() -> None:
    pattern = after("facing front.waist --width=4cm")
    front, facing = pattern.piece("front"), pattern.piece("front-facing")
    assert [dart.name for dart in front.darts if dart.name == "waist-dart"]
    assert len(facing.edge("waist").parts) == 1
    assert sewn_length(facing.edge("waist")) == pytest.approx(sewn_length(front.edge("waist")), abs=0.01)
    grain, its = front.grain, facing.grain
    assert grain is not None
    assert its is not None
    one, two = grain.end - grain.start, its.end - its.start
    assert abs(one[0] * two[1] - one[1] * two[0]) < 1e-6


def test_notches_on_what_is_faced_come_along() -> None:
    pattern = after("facing back.armhole --width=5cm")
    back, facing = pattern.piece("back"), pattern.piece("back-facing")
    one = [n.at.along(sewn_length(back.edge("armhole"))) for n in back.notches if n.edge == back.edge("armhole").uid]
    two = [n.at.along(sewn_length(facing.edge("armhole"))) for n in facing.notches]
    assert one == pytest.approx(two, abs=0.01)
    assert one


def test_it_is_drawn_anew_in_its_own_place() -> None:
    first = after("facing front.neck back.neck --width=6cm\nallowance front-facing.neck --width=6mm")
    again = replay(read_recipe("facing front.neck back.neck --width=5cm"), first)
    one, two = first.piece("front-facing"), again.piece("front-facing")
    assert two.uid == one.uid
    assert drawn_length(two.edge("centre")) == pytest.approx(50.0, abs=0.05)
    assert two.edge("neck").allowance == one.edge("neck").allowance
    assert seams(again) == seams(first)
    assert len(again.pieces) == len(first.pieces)


def test_other_edges_of_a_piece_get_a_facing_of_their_own() -> None:
    """Neck, then armhole: two pieces, and each is drawn anew where its own edge is named again."""
    neck = after("facing back.neck --width=5cm")
    both = replay(read_recipe("facing back.armhole --width=4cm"), neck)
    assert [p.name for p in both.pieces[-2:]] == ["back-facing", "back-armhole-facing"]
    assert both.piece("back-facing") == neck.piece("back-facing")
    for name in ("neck", "armhole"):
        whose = "back-facing" if name == "neck" else "back-armhole-facing"
        assert any(name in seam and f"{whose}.{name}" in seam for seam in seams(both)), seams(both)
    again = replay(read_recipe("facing back.armhole --width=3cm\nfacing back.neck --width=6cm"), both)
    assert [p.name for p in again.pieces] == [p.name for p in both.pieces]
    assert drawn_length(again.piece("back-facing").edge("centre")) == pytest.approx(60.0, abs=0.05)


def test_a_recipe_with_the_neck_lowered_gives_facings_that_fit_again() -> None:
    """One figure is edited; the same lines follow."""
    for by in ("0mm", "20mm"):
        lines = f"move front.neck/centre --by={by}\n" if by != "0mm" else ""
        pattern = after(f"{lines}facing front.neck back.neck --width=6cm --at-seam=4.5cm")
        front, facing = pattern.piece("front"), pattern.piece("front-facing")
        assert sewn_length(facing.edge("neck")) == pytest.approx(sewn_length(front.edge("neck")), abs=0.01)


@pytest.mark.parametrize("width", [20.0, 40.0])
def test_grown_on_it_is_the_mirror_image_and_turns_onto_the_piece(width: float) -> None:
    start = replay(read_recipe("edge front.centre --use=opening\nlabel front --cut=pair"), block())
    pattern = replay(read_recipe(f"facing front.centre --grown-on --width={width}mm"), start)
    was, piece = start.piece("front"), pattern.piece("front")
    fold = next(one for one in piece.lines if one.name == "centre")
    assert fold.kind == "fold"
    whole, before = ring(piece), ring(was)
    extra = whole.difference(before.buffer(0.01))
    (x, y0), (_, y1) = was.edge("centre").start, was.edge("centre").end
    turned = affinity.scale(extra, -1, 1, origin=(float(x), float((y0 + y1) / 2)))
    assert turned.difference(before.buffer(0.05)).area < 1.0
    assert drawn_length(piece.edge("facing")) > 100
    assert extra.bounds[2] - extra.bounds[0] == pytest.approx(width, abs=0.1)


def on_fold(lean: float) -> Pattern:
    """A top 200 by 300 on the fold at its left, whose upper edge rises by `lean` from there."""
    nodes = [(0.0, 0.0), (200.0, -lean), (200.0, 300.0), (0.0, 300.0)]
    rows = (("top", "seam"), ("side", "seam"), ("hem", "hem"), ("centre", "fold"))
    edges = tuple(
        Edge(uid=name, name=name, parts=(line(nodes[k], nodes[(k + 1) % 4]),), use=use)
        for k, (name, use) in enumerate(rows)
    )
    return Pattern(pieces=(Piece(uid="front", name="front", edges=edges, cut_as="fold"),))


def test_grown_on_at_a_fold_it_is_on_the_fold_as_well() -> None:
    """A cowl's self-facing: mirrored at the neck, cut on the same fold; off square it would not lie on it."""
    pattern = replay(read_recipe("facing front.top --grown-on --width=5cm"), on_fold(0.0))
    piece = pattern.piece("front")
    beyond = piece.edge("centre-facing")
    assert beyond.use == "fold"
    assert beyond.parts[0].nodes[:, 0] == pytest.approx([0.0, 0.0])
    assert sorted(beyond.parts[0].nodes[:, 1]) == pytest.approx([-50.0, 0.0])
    assert piece.edge("facing").use == piece.edge("side-facing").use == "finished"
    with pytest.raises(FlatcutError, match="make it square first"):
        replay(read_recipe("facing front.top --grown-on --width=5cm"), on_fold(10.0))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("facing front.centre", "is a fold, which has no inside"),
        ("facing front.neck --width=50cm", r"facing of front.neck is 500 mm wide, and front.\w+ beside it is \d+"),
        (
            "facing front.neck\nfacing front.armhole --names=front-facing",
            "is the facing of front.neck, and would be lost",
        ),
        ("facing front.neck --width=-1cm", "width"),
        ("facing front.neck --names=back", "there is a 'back' already"),
        ("facing front.neck --inner=front.bust-line", "draw|closed|never meets"),
        ("facing front.armhole --grown-on", "is not straight"),
        (
            "edge front.waist --use=hem\nfacing front.waist --grown-on",
            "a dart or fullness stands on front.waist, over which no facing can be turned",
        ),
        ("facing front.side --grown-on --names=a", "leave out --names"),
        ("facing front", "edge"),
        ("facing front.shoulder front.neck front.armhole front.side front.waist", "name fewer edges"),
    ],
)
def test_what_it_refuses(line: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        after(line)


def test_gathers_in_the_edge_are_refused() -> None:
    with pytest.raises(FlatcutError, match="gathers"):
        after("release back.shoulder-dart --to=gathers\nfacing back.neck back.armhole")


def test_a_drawn_line_is_the_inner_edge() -> None:
    lines = "line --start=back.centre/neck@8cm --end=back.shoulder/neck@2cm --name=edge-line\n"
    pattern = after(lines + "facing back.neck --inner=back.edge-line --roll=0")
    own = next(one for one in pattern.piece("back").lines if one.name == "edge-line")
    long = shapely.LineString(flatten(own.curve, tolerance=0.001)).length
    assert drawn_length(pattern.piece("back-facing").edge("inner")) == pytest.approx(long, abs=0.05)
