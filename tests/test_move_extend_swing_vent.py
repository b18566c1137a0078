"""Corners and edges moved, hems carried down, seams swung, vents: by figures worked out by hand on rectangles."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten, tangent
from flatcut.geometry.fairness import fairness
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Edge, NamedPoint, Pattern, Piece, RunPart, Seam, area, outline
from flatcut.pattern.walking import drawn_length
from tests.test_places_counted import rectangle


def two() -> Pattern:
    """Two rectangles 200 by 300, sewn right to left; each has a hem below and a hip line 100 below the top.

    The front's left side is a fold, the back's right side a centre seam sewn to that of its other half.
    """
    pieces = []
    for name, x in (("front", 0.0), ("back", 500.0)):
        made = rectangle(name, x)
        uses = {"hem": "hem", **({"left": "fold"} if name == "front" else {})}
        pieces.append(replace(made, edges=tuple(replace(e, use=uses.get(e.name, e.use)) for e in made.edges)))
    seams = (
        Seam(
            uid="s",
            a=(RunPart(piece="front", of="front-right"),),
            b=(RunPart(piece="back", of="back-left"),),
            reversed=True,
        ),
        Seam(
            uid="c",
            a=(RunPart(piece="back", of="back-right"),),
            b=(RunPart(piece="back", of="back-right", mirrored=True),),
        ),
    )
    return Pattern(pieces=tuple(pieces), seams=seams)


def run(pattern: Pattern, *lines: str) -> Pattern:
    for text in lines:
        step = parse_line(text)
        assert step is not None
        pattern = step(pattern)
    return pattern


def edge(pattern: Pattern, name: str) -> Edge:
    piece, _, own = name.partition(".")
    return pattern.piece(piece).edge(own)


def size(pattern: Pattern, name: str) -> float:
    return drawn_length(edge(pattern, name))


def polygon(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


# move -----------------------------------------------------------------------------------------------------------------


def test_a_corner_moves_along_the_edge_beside_it_and_its_own_edge_turns() -> None:
    """In by 20 over the 200 below the hip line: the side is sqrt(200² + 20²) there, the hem 20 shorter."""
    after = run(two(), "move front.right/hem --by=-2cm --from=front.right/hip-line --reach=0")
    assert size(after, "front.hem") == pytest.approx(180)
    assert size(after, "front.right") == pytest.approx(100 + math.hypot(200, 20))
    assert np.allclose(edge(after, "front.right").end, (180, 300))
    assert size(after, "front.left") == 300
    assert abs(area(after.piece("front"))) == pytest.approx(60000 - 200 * 20 / 2)


def test_outward_and_longer() -> None:
    after = run(two(), "move front.right/hem --by=1cm --along=5mm --reach=0")
    assert np.allclose(edge(after, "front.right").end, (210, 305))
    assert np.allclose(edge(after, "front.hem").end, (0, 300))


def chords(pattern: Pattern, name: str) -> np.ndarray:
    """Unit directions of an edge's chords, walked as it is drawn."""
    points = flatten(edge(pattern, name).parts[0], tolerance=1e-4)
    ways = np.diff(points, axis=0)
    return np.asarray(ways / np.hypot(*ways.T)[:, None])


@pytest.mark.parametrize("by", [-60, -20, -5, 10, 30])
@pytest.mark.parametrize("size", ["bust-78", "bust-118"])
def test_a_neck_lowered_on_the_fold_stays_square_to_it(size: str, by: int) -> None:
    """Common practice, no source: a neck meets the fold at 90°, and bends to one side only, so that nothing dips or
    points in the middle; at the shoulder it goes on into the back neck as before."""
    before = run(Pattern(), f"block bodice --size={size}")
    after = run(before, f"move front.neck/centre --by={by}")
    assert not after.steps[-1].warnings
    old, new = chords(before, "front.neck"), chords(after, "front.neck")
    fold = edge(after, "front.centre")
    along = (fold.end - fold.start) / math.dist(fold.start, fold.end)
    at_fold = int(
        np.argmin([math.dist(p, fold.start) for p in (edge(after, "front.neck").start, edge(after, "front.neck").end)])
    )
    first, last = (0, -1) if at_fold == 0 else (-1, 0)
    assert abs(math.degrees(math.asin(new[first] @ along))) < 0.3
    assert math.degrees(math.acos(min(1.0, float(new[last] @ old[last])))) < 0.5
    turns = new[:-1, 0] * new[1:, 1] - new[:-1, 1] * new[1:, 0]
    assert turns.min() > -1e-6 or turns.max() < 1e-6
    assert math.dist(fold.start, fold.end) == pytest.approx(size_of_fold(before) + by, abs=1e-6)


def size_of_fold(pattern: Pattern) -> float:
    fold = edge(pattern, "front.centre")
    return math.dist(fold.start, fold.end)


def test_a_corner_on_the_fold_that_cannot_stay_square_is_told() -> None:
    """9 cm up no even line from the shoulder reaches the fold square; asked for, the edge only turns."""
    start = run(Pattern(), "block bodice --size=bust-90")
    assert "front.neck/centre was square" in run(start, "move front.neck/centre --by=9cm").steps[-1].warnings[0]
    turned = run(start, "move front.neck/centre --by=9cm --straight")
    assert not turned.steps[-1].warnings
    level = run(two(), "move front.top/left --by=-2cm --straight")
    assert edge(level, "front.top").parts[0].straight.all()
    assert not np.allclose(
        chords(run(two(), "move front.top/left --by=-2cm"), "front.top")[0], chords(level, "front.top")[0]
    )


def test_a_grain_line_stays_on_the_piece_whose_neck_is_lowered() -> None:
    after = run(Pattern(), "block bodice --size=bust-90", "move front.neck/centre --by=-12cm")
    piece = after.piece("front")
    assert piece.grain is not None
    assert polygon(piece).contains(shapely.LineString([piece.grain.start, piece.grain.end]))


def test_both_edges_of_a_seam_move_alike_or_opposite() -> None:
    alike = run(two(), "move front.right/hem --by=-2cm --from=front.right/hip-line --mates=alike")
    assert size(alike, "back.hem") == pytest.approx(180)
    assert size(alike, "back.left") == pytest.approx(size(alike, "front.right"), abs=1e-6)
    opposite = run(two(), "move front.right/hem --by=-2cm --from=front.right/hip-line --mates=opposite")
    assert size(opposite, "back.hem") == pytest.approx(220)
    assert size(opposite, "back.left") == pytest.approx(size(opposite, "front.right"), abs=0.05)


def test_where_the_edge_begins_to_turn_it_is_fair() -> None:
    after = run(two(), "move front.right/hem --by=-2cm --from=front.right/hip-line")
    part = edge(after, "front.right").parts[0]
    assert fairness(part).kink < 1e-6
    assert np.allclose(tangent(part, 0.0), (0, 1))


def test_a_place_of_both_edges_is_taken_in_and_the_ends_stay() -> None:
    after = run(two(), "move front.right@1/2 --by=-4mm --from=front.right@5cm,front.right@-5cm --mates=alike")
    for name, where in (("front.right", 196.0), ("back.left", 504.0)):
        found = edge(after, name)
        xs = [x for x, y in found.parts[0].nodes if abs(y - 150) < 1e-6]
        assert xs == pytest.approx([where], abs=1e-6)
        assert fairness(found.parts[0]).kink < 1e-6
        for y in (20.0, 280.0):
            at = shapely.LineString(flatten(found.parts[0], tolerance=0.001)).interpolate(y)
            assert at.x == pytest.approx(200 if name == "front.right" else 500, abs=1e-6)


def test_a_whole_edge_moves_and_its_neighbours_follow() -> None:
    after = run(two(), "move front.top --by=3cm", "move back.hem --by=-2cm")
    assert np.allclose(edge(after, "front.top").parts[0].nodes, [(0, -30), (200, -30)])
    assert size(after, "front.right") == pytest.approx(330)
    assert size(after, "back.left") == pytest.approx(280)


def test_a_named_point_moves_toward_a_place() -> None:
    after = run(two(), "move front.inside --by=3cm --toward=front.hip-line@50")
    (point,) = [p for p in after.piece("front").points if p.name == "inside"]
    assert isinstance(point, NamedPoint)
    assert np.allclose(point.at, (50, 80))


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("move front.right/hem", "give --by"),
        ("move front.right/hem --by=1cm --from=front.left@1/2", "does not lie on right"),
        ("move front.right/hem --by=1cm --from=front.right/hem", "nothing is left"),
        ("move front.right/hem --by=-30cm", "are to go; take less"),
        ("move front.right/hem --by=1cm --from=front.right@1cm,front.right@2cm", "one place"),
        ("move front.left/hem --by=1cm --mates=alike", "sewn to nothing"),
        ("move front.right@1/2 --by=1cm --from=front.right@1cm", "give two"),
        ("move front.right@1/2 --by=1cm --from=front.right@1cm,front.right@2cm", "between the two ends"),
        ("move front.right --by=1cm --along=1cm", "is for a corner or a place"),
        ("move front.right --by=1cm --straight", "is for a corner or a place"),
        ("move front.right@100% --by=1cm --mates=alike", "is for an edge that turns with its corner"),
        ("move front.right@100% --by=1cm --from=front.right@1cm", "give two with --from"),
        ("move front.right@100% --by=1cm --from=front.right@1cm,front.left@1cm", "lies on neither edge"),
        ("move front.right@100% --by=1cm --from=front.right@1cm,front.hem@0", "lies in the corner itself"),
        ("move front.inside --by=1cm", "give --toward"),
        ("move front.right/hem --by=1cm --toward=front.inside", "is for a named point"),
        ("move front.right --by=1cm --mates=alike", "moves alike all along"),
        ("move front.right@1/2 --by=-25cm", "lie over itself"),
    ],
)
def test_moves_that_cannot_be_are_refused_in_a_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        run(two(), text)
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


# extend ---------------------------------------------------------------------------------------------------------------


def test_hems_go_straight_down_on_all_panels() -> None:
    after = run(two(), "extend front.hem back.hem --by=25cm")
    for name in ("front", "back"):
        assert np.allclose(polygon(after.piece(name)).area, 200 * 550)
        assert size(after, f"{name}.hem") == pytest.approx(200)
    assert size(after, "front.left") == 550
    assert not after.steps[-1].warnings


def test_one_panel_alone_is_told() -> None:
    after = run(two(), "extend front.hem --by=25cm")
    assert "differs by 250 mm" in after.steps[-1].warnings[0]


def test_a_flare_turns_the_seams_from_the_line_on_and_leaves_the_fold() -> None:
    """30 out over 300 below the hip line: the side is 100 + sqrt(300² + 30²) long, the hem square at both ends."""
    after = run(two(), "extend front.hem back.hem --by=10cm --flare=3cm --from=hip-line --reach=0")
    for name, own, other in (("front", "right", "left"), ("back", "left", "right")):
        assert size(after, f"{name}.{own}") == pytest.approx(100 + math.hypot(300, 30), abs=1e-6)
        hem = edge(after, f"{name}.hem").parts[0]
        for at_start in (True, False):
            way = tangent(hem, 0.0) if at_start else tangent(hem, float(len(hem)), before=True)
            piece = after.piece(name)
            before = next(e for e in piece.edges if piece.after(e).name == "hem")
            seam = before if at_start else piece.after(piece.edge("hem"))
            beside = seam.parts[-1] if at_start else seam.parts[0]
            along = tangent(beside, float(len(beside)), before=True) if at_start else tangent(beside, 0.0)
            assert abs(way @ along) < 1e-9
        del other
    assert np.allclose(edge(after, "front.left").parts[0].nodes[:, 0], 0)
    seam = after.seams[0]
    assert run_sewn(after, seam.a) == pytest.approx(run_sewn(after, seam.b), abs=1e-6)


def test_hems_go_up_and_taper() -> None:
    after = run(two(), "extend front.hem back.hem --by=-5cm --flare=-1cm --from=hip-line --use=finished")
    assert size(after, "front.left") == pytest.approx(250)
    assert edge(after, "front.hem").use == "finished"
    assert np.allclose(edge(after, "front.right").end, (190, 250), atol=0.01)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("extend front.hem", "give --by"),
        ("extend front.hem --by=-30cm", "take less"),
        ("extend front.hem --by=5cm --from=hip-line", "give --flare"),
        ("extend front.hem --by=5cm --flare=1cm --from=knee-line", "knee-line"),
        ("extend front.hem --by=-25cm --flare=1cm --from=hip-line", "ends before hip-line"),
    ],
)
def test_extensions_that_cannot_be_are_refused_in_a_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        run(two(), text)
    assert part in str(caught.value)


# swing ----------------------------------------------------------------------------------------------------------------


def test_a_seam_is_swung_to_the_middle_of_two_hems_and_keeps_its_length() -> None:
    """The hems are 200 and 160 long; half of both is 180. The angle is about 20 / 200 (the hem is nearly straight)."""
    pattern = run(two(), "move back.right/hem --by=-4cm --reach=0")
    total = size(pattern, "front.hem") + size(pattern, "back.hem")
    was = size(pattern, "front.right"), size(pattern, "back.left")
    after = run(pattern, "swing back.left --about=back.left/hip-line --reach=0")
    assert size(after, "back.hem") == pytest.approx(total / 2, abs=1e-6)
    assert size(after, "front.hem") == pytest.approx(total / 2, abs=0.5)
    assert (size(after, "front.right"), size(after, "back.left")) == pytest.approx(was, abs=1e-9)
    told = {f.label: f.value for f in after.steps[-1].figures}
    assert told["turned"] == pytest.approx(math.degrees(20 / 200), rel=0.02)
    fair = run(pattern, "swing back.left --about=back.left/hip-line")
    assert size(fair, "front.right") == pytest.approx(size(fair, "back.left"), abs=0.01)
    assert fairness(edge(fair, "back.left").parts[0]).kink < 1e-6


def test_panels_beside_each_other_are_swung_one_after_the_other() -> None:
    """Three panels of 200, sewn in a row: 0.45 of 400 makes 180 and 220, half of 180 and 200 makes 190 and 190."""
    names = ("one", "two", "three")
    pieces = []
    for k, name in enumerate(names):
        made = rectangle(name, 500.0 * k)
        pieces.append(
            replace(made, edges=tuple(replace(e, use="hem" if e.name == "hem" else e.use) for e in made.edges))
        )
    seams = tuple(
        Seam(
            uid=f"s{k}",
            a=(RunPart(piece=a, of=f"{a}-right"),),
            b=(RunPart(piece=b, of=f"{b}-left"),),
            reversed=True,
        )
        for k, (a, b) in enumerate(pairwise(names))
    )
    start = Pattern(pieces=tuple(pieces), seams=seams)
    first = run(start, "swing two.left --about=two.left/hip-line --share=0.45")
    assert [size(first, f"{name}.hem") for name in names] == pytest.approx([220, 180, 200], abs=0.5)
    both = run(first, "swing two.right --about=two.right/hip-line")
    assert [size(both, f"{name}.hem") for name in names] == pytest.approx([220, 190, 190], abs=0.5)
    for one, other in (("one.right", "two.left"), ("two.right", "three.left")):
        # fair beside the place about which it turns, a seam is a hair shorter, on both sides alike
        assert size(both, one) == pytest.approx(size(both, other), abs=0.01)
        assert size(both, one) == pytest.approx(300, abs=0.2)
    for name in names:
        hem = edge(both, f"{name}.hem").parts[0]
        assert fairness(hem).kink < 1e-6
        before, after = edge(both, f"{name}.right").parts[-1], edge(both, f"{name}.left").parts[0]
        for along, way in (
            (tangent(before, float(len(before)), before=True), tangent(hem, 0.0)),
            (tangent(hem, float(len(hem)), before=True), tangent(after, 0.0)),
        ):
            assert abs(float(along @ way)) < 1e-6, "the hem meets the seam square"
    # what the second press did not touch is as the first left it
    assert np.array_equal(edge(both, "one.hem").parts[0].controls, edge(first, "one.hem").parts[0].controls)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("swing back.left", "give --about"),
        ("swing back.left --about=front.right@1/2", "does not lie on"),
        ("swing back.top --about=back.top@1/2", "one end at a hem"),
        ("swing back.left --about=back.left/hip-line --share=0.9", "another share"),
    ],
)
def test_seams_that_cannot_be_swung_are_refused_in_a_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        run(two(), text)
    assert part in str(caught.value)


# vent -----------------------------------------------------------------------------------------------------------------


def test_a_lapped_vent_in_the_seam_of_a_pair() -> None:
    """200 high, 50 wide, its top at 45 degrees: 50 √2 long, the free edge 150, the hem 50 longer, the seam 100 left."""
    after = run(two(), "vent back.right --length=20cm --width=5cm --slope=45")
    assert size(after, "back.right") == pytest.approx(100)
    assert size(after, "back.vent-top") == pytest.approx(50 * math.sqrt(2))
    assert size(after, "back.vent") == pytest.approx(150)
    assert size(after, "back.hem") == pytest.approx(250)
    (fold,) = [item for item in after.piece("back").lines if item.name == "vent-fold"]
    assert fold.kind == "fold"
    assert np.allclose(sorted(map(tuple, fold.curve.nodes)), [(700, 100), (700, 300)])
    assert polygon(after.piece("back")).area == pytest.approx(60000 + 50 * (200 + 150) / 2)
    assert run_sewn(after, after.seams[1].a) == pytest.approx(100)
    (notch,) = after.piece("back").notches
    assert notch.at.along(100) == pytest.approx(100)
    assert [e.name for e in after.piece("back").edges] == ["top", "right", "vent-top", "vent", "hem", "left"]


@pytest.mark.parametrize(("named", "over", "under"), [("front.right", "front", "back"), ("back.left", "back", "front")])
def test_over_and_underlay_of_two_pieces(named: str, over: str, under: str) -> None:
    after = run(two(), f"vent {named} --length=12cm --width=4cm --under=6cm")
    assert size(after, f"{over}.vent-top") == pytest.approx(40)
    assert size(after, f"{under}.vent-top") == pytest.approx(60)
    assert size(after, f"{over}.vent") == pytest.approx(size(after, f"{under}.vent"))
    kinds = {p.name: [item.kind for item in p.lines if item.name == "vent-fold"] for p in after.pieces}
    assert kinds == {over: ["fold"], under: ["placement"]}
    assert run_sewn(after, after.seams[0].a) == pytest.approx(180)
    assert run_sewn(after, after.seams[0].b) == pytest.approx(180)
    for piece in after.pieces:
        assert polygon(piece).is_valid


def test_a_slit_adds_nothing() -> None:
    after = run(two(), "vent front.right --length=12cm --slit")
    assert size(after, "front.slit") == pytest.approx(120)
    assert size(after, "back.slit") == pytest.approx(120)
    assert [polygon(p).area for p in after.pieces] == pytest.approx([60000, 60000])
    assert run_sewn(after, after.seams[0].a) == pytest.approx(180)


def test_the_extension_of_a_slanting_hem_is_its_mirror_image() -> None:
    """Folded about the seam it covers the piece: the mirrored corner lies on the hem's line."""
    pattern = run(two(), "move back.right/hem --by=0mm --along=2cm --reach=0")
    after = run(pattern, "vent back.right --length=15cm --width=5cm")
    hem = edge(after, "back.hem")
    corner, fold = hem.start, edge(after, "back.vent").end
    assert np.allclose(corner, fold)
    mirrored = np.array([1400 - corner[0], corner[1]])
    way = np.array([500.0, 300]) - np.array([700.0, 320])
    off = mirrored - np.array([700.0, 320])
    assert abs(way[0] * off[1] - way[1] * off[0]) / np.hypot(*way) < 1e-6
    assert "mirrors it" in after.steps[-1].warnings[0]


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("vent back.right", "give --length"),
        ("vent front.left --length=10cm", "is a fold"),
        ("vent back.top --length=10cm", "does not meet one hem"),
        ("vent back.right --length=30cm", "make it shorter"),
        ("vent back.right --length=10cm --width=20cm --slope=45", "narrower or steeper"),
        ("vent back.right --length=10cm --under=4cm", "nothing laps under"),
    ],
)
def test_vents_that_cannot_be_are_refused_in_a_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        run(two(), text)
    assert part in str(caught.value)


# dart --remove --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["cut", "lines"])
def test_a_dart_that_is_not_sewn_goes_and_the_edge_has_its_width_again(form: str) -> None:
    pattern = run(two(), f"dart front.top@1/2 --intake=30 --point=front.hip-line@100 --form={form} --name=waist-dart")
    after = run(pattern, "dart front.waist-dart --remove")
    assert not after.piece("front").darts
    assert size(after, "front.top") == pytest.approx(200)
    assert not edge(after, "front.top").takeups
    assert polygon(after.piece("front")).area == pytest.approx(60000)


def test_corners_that_a_removed_dart_leaves_in_its_edge_are_told() -> None:
    """A line that is fair over the closed dart stands square to its fold at both feet: with the dart gone it turns
    there by half of the dart's angle (plane geometry), and a person has to see that."""
    pattern = run(two(), "dart front.top@1/2 --intake=40 --point=front.hip-line@100 --form=cut --name=waist-dart")
    flat = run(pattern, "dart front.waist-dart --remove")
    assert not [w for w in flat.steps[-1].warnings if "front.top has" in w]
    after = run(pattern, "true front.top --within=20mm", "dart front.waist-dart --remove")
    (told,) = [w for w in after.steps[-1].warnings if "front.top has a kink of" in w]
    half = math.degrees(math.atan(20 / 100))
    assert float(told.partition("kink of ")[2].partition("°")[0]) == pytest.approx(half, abs=1.5)
    again = parse_line(told.partition("with: ")[2])
    assert again is not None
    assert fairness(chain(edge(again(after), "front.top").parts, within=1e-6)).kink < 0.5


def test_a_dart_with_two_points_goes() -> None:
    pattern = run(
        two(),
        "dart front.hip-line@50 --intake=20 --point=front.inside --lower=at(front.left/hem,front.right/hem,0.25,-0.2) "
        "--name=fish",
    )
    after = run(pattern, "dart front.fish --remove")
    assert not after.piece("front").darts


def test_a_grain_line_that_would_stick_out_is_centred_again_and_keeps_its_direction() -> None:
    start = two()
    front = start.piece("front")
    grain = front.grain
    if grain is None:
        start = run(start, "grain front")
        grain = start.piece("front").grain
    assert grain is not None
    size = float(np.hypot(*(grain.end - grain.start)))
    now = run(start, "extend front.hem --by=-25cm").piece("front")
    assert now.grain is not None
    ring = shapely.Polygon(flatten(chain(outline(now), within=1e-6), tolerance=0.01)).buffer(0.01)
    assert ring.covers(shapely.LineString([now.grain.start, now.grain.end]))
    way = (now.grain.end - now.grain.start) / np.hypot(*(now.grain.end - now.grain.start))
    assert abs(float(way @ (grain.end - grain.start))) == pytest.approx(size)
