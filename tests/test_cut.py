"""`cut` and `drop`: parts hold what the piece held, are sewn to each other and to what the piece was sewn to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from flatcut.cli.main import main
from flatcut.errors import FlatcutError
from flatcut.formats.svg.read import read
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.fairness import fairness
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay
from flatcut.tables import read_table

SAMPLES = Path(__file__).parents[1] / "samples" / "panels"
ACROSS = "line --start=back.centre@1/4 --end=back.armhole@1/2 --name=x\n"
PANELS = "cut front.shoulder-dart front.waist-dart --edge=panel --names=front-centre.centre,front-side.side"
BODICE = """block bodice --size=bust-90
pivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart
back-off front.waist-dart --to=front.bust-point
"""


def made(text: str, start: Pattern | None = None) -> Pattern:
    return replay(read_recipe(text), start or Pattern())


def shape(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.001))


def lengths(pattern: Pattern, run: tuple) -> float:
    """Sewn length of a run of whole edges."""
    return sum(sewn_length(pattern.piece_of(part.piece).edge_of(part.of)) for part in run)


def told(pattern: Pattern) -> list[tuple[str, ...]]:
    """Seams by the names of what they sew."""
    names = {edge.uid: f"{piece.name}.{edge.name}" for piece in pattern.pieces for edge in piece.edges}
    return [("+".join(names[p.of] for p in s.a), "+".join(names[p.of] for p in s.b)) for s in pattern.seams]


def test_a_bodice_in_panels_from_the_shoulder() -> None:
    """Legs of the two darts become the edges; the rest of the cloth is all there."""
    before = made(BODICE)
    after = made(PANELS, before)
    assert [p.name for p in after.pieces] == ["back", "front-centre", "front-side"]
    front, centre, side = before.piece("front"), after.piece("front-centre"), after.piece("front-side")
    assert {e.name for e in centre.edges} == {"shoulder", "neck", "centre", "waist", "panel"}
    assert {e.name for e in side.edges} == {"shoulder", "panel", "waist", "side", "armhole"}
    # nothing overlaps, nothing but the darts is missing: the outline had both darts cut out already
    assert shape(centre).area + shape(side).area == pytest.approx(shape(front).area, abs=0.5)
    assert shape(centre).intersection(shape(side)).area == pytest.approx(0, abs=0.5)
    # the new edges are the legs: closed form from the feet and the bust point
    for dart in front.darts:
        legs = [float(np.hypot(*(foot - dart.points[0]))) for foot in dart.feet]
        assert legs[0] == pytest.approx(legs[1], abs=0.01)
    legs_together = sum(float(np.hypot(*(dart.feet[0] - dart.points[0]))) for dart in front.darts)
    for piece in (centre, side):
        assert sewn_length(piece.edge("panel")) == pytest.approx(legs_together, abs=0.01)
        assert piece.darts == ()
        # both darts are used up, and their points and mouths have names still
        assert sorted(p.name for p in piece.points) == [
            "bust-point",
            "shoulder-dart-mouth",
            "shoulder-dart-point",
            "waist-dart-mouth",
            "waist-dart-point",
        ]
        at = {p.name: p.at for p in piece.points}
        assert np.allclose(at["waist-dart-point"], at["bust-point"], atol=0.01)
        assert np.allclose(at["shoulder-dart-mouth"], _corner(piece, "shoulder", "panel"), atol=1e-6)
    assert (centre.cut_as, centre.quantity, side.cut_as, side.quantity) == ("fold", 1, "pair", 2)
    # grain of both runs as it did
    ways = [p.grain.end - p.grain.start for p in (front, centre, side) if p.grain]
    assert len(ways) == 3
    assert all(abs(float(ways[0][0] * way[1] - ways[0][1] * way[0])) < 1e-6 for way in ways)
    assert ("front-centre.panel", "front-side.panel") in told(after)


def _corner(piece: Piece, one: str, other: str) -> np.ndarray:
    a, b = piece.edge(one), piece.edge(other)
    return a.end if np.allclose(a.end, b.start, atol=1e-6) else a.start


def test_seams_to_an_edge_that_is_cut_become_runs_in_order() -> None:
    before = made(BODICE)
    after = made(PANELS, before)
    was = {edge.name: edge.uid for edge in before.piece("front").edges}
    seam = next(s for s in before.seams if was["shoulder"] in {p.of for p in (*s.a, *s.b)})
    now = next(s for s in after.seams if s.uid == seam.uid)
    assert lengths(after, now.a) == pytest.approx(lengths(before, seam.a), abs=1e-6)
    assert lengths(after, now.b) == pytest.approx(lengths(before, seam.b), abs=1e-6)
    sides = dict(zip(("a", "b"), told(after)[after.seams.index(now)], strict=True))
    assert {"front-side.shoulder+front-centre.shoulder", "front-centre.shoulder+front-side.shoulder"} & set(
        sides.values()
    )
    # along the edge as it is stored the parts follow one another
    run = now.a if len(now.a) == 2 else now.b
    first, second = (after.piece_of(part.piece).edge_of(part.of) for part in run)
    whole = before.piece("front").edge("shoulder")
    assert np.allclose((first if not run[0].backwards else second).start, whole.start, atol=1e-6)
    assert np.allclose((second if not run[0].backwards else first).end, whole.end, atol=1e-6)


def test_lines_notches_and_widths_go_with_their_part() -> None:
    before = made(
        "block bodice --size=bust-90\nallowance all --width=12\nallowance front.side@0..5cm --width=25\n"
        "notch front.side@4cm front.neck@3cm\npoint --at=front.armhole@1/2 --name=pitch\n"
        "pivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart\n"
        "back-off front.waist-dart --to=front.bust-point\n"
    )
    after = made("cut front.shoulder-dart front.waist-dart --names=middle.centre,flank.side", before)
    middle, flank = after.piece("middle"), after.piece("flank")
    assert [line.name for line in middle.lines] == [line.name for line in flank.lines] == ["bust-line"]
    assert "pitch" in flank.names()
    assert "pitch" not in middle.names()
    uids = {edge.uid: edge.name for piece in after.pieces for edge in piece.edges}
    assert "side" in {uids[n.edge] for n in flank.notches}
    # the balance marks about the bust point are notches of the new edges now
    assert {uids[n.edge] for n in middle.notches} == {"neck", "shoulder-dart"}
    widths = before.piece("front").edge("side").allowance
    assert flank.edge("side").allowance == widths
    assert (
        middle.edge("waist").allowance == flank.edge("waist").allowance == before.piece("front").edge("waist").allowance
    )
    every = [thing.uid for piece in after.pieces for thing in piece.things()]
    assert len(set(every)) == len(every)


def test_along_a_dart_with_two_points_its_cloth_goes() -> None:
    before = made(
        "block torso --size=bust-90\npivot front.bust-dart --to=front.armhole@1/2 --name=armhole-dart\n"
        "back-off front.waist-dart.upper --to=front.bust-point\n"
        "line --start=front.waist-dart.lower --end=front.hip@1/2 --name=below\n"
    )
    front = before.piece("front")
    dart = next(d for d in front.darts if d.double)
    lens = shapely.Polygon(flatten(chain(dart.legs, within=1e-6), tolerance=0.001)).area
    after = made("cut front.below front.armhole-dart front.waist-dart --names=a.centre,b.side", before)
    parts = [shape(after.piece(name)) for name in "ab"]
    assert sum(part.area for part in parts) == pytest.approx(shape(front).area - lens, abs=0.5)
    assert sewn_length(after.piece("a").edge("below")) == pytest.approx(
        sewn_length(after.piece("b").edge("below")), abs=0.5
    )
    assert after.steps[-1].figures[-1].value == pytest.approx(lens / 100, abs=0.01)


def test_a_line_over_the_point_of_a_dart_needs_its_name_and_stops_there() -> None:
    """What of the line lies inside the dart is left out."""
    start = made(
        "block bodice --size=bust-90\nline --start=front.shoulder@1/2 --end=front.waist-dart.point --name=upper\n"
    )
    with pytest.raises(FlatcutError, match=r"front\.upper meets dart front\.waist-dart, which is not named"):
        made("cut front.upper", start)
    after = made("cut front.upper front.waist-dart", start)
    assert [p.name for p in after.pieces] == ["back", "front-1", "front-2"]
    assert {e.name for e in after.pieces[1].edges} >= {"upper"}


def test_default_names_take_the_first_free_number() -> None:
    after = made(
        "block bodice --size=bust-90\nline --start=back.centre@1/2 --end=back.armhole@1/2 --name=yoke\ncut back.yoke\n"
    )
    assert [p.name for p in after.pieces] == ["back-1", "back-2", "front"]


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        (
            "line --start=back.centre@1/2 --end=at(back.neck/centre,back.side/waist,0.5,0) --name=x\ncut back.x",
            "mm off the outline",
        ),
        (
            'line --start=back.centre@1/4 --end=back.centre@3/4 --shape="0.3,-0.6 0.7,-0.6 1,0" --name=x\ncut back.x',
            "leaves the piece|no area|lie over",
        ),
        ("line --start=back.armhole@10% --end=back.armhole@90% --name=x\ncut back.x", "leaves the piece"),
        ("line --start=back.centre@1/4 --end=back.centre@3/4 --name=x\ncut back.x", "no area|leaves the piece"),
        (
            'line --start=back.centre@1/2 --end=back.side@1/2 --shape="1.6,0.5 -0.6,0.5 1,0" --name=x\ncut back.x',
            "crosses itself",
        ),
        ("line --start=front.waist@10% --end=front.side@10% --name=x --open\ncut front.x", "not named"),
        ("cut front.waist-dart", "alone nothing is cut off"),
        ("cut front.waist-dart back.waist-dart", "along front.waist-dart alone nothing is cut off"),
        ("cut front.bust-dart front.waist-dart", "lie 25 mm apart, and a cut is one line"),
        (f"{ACROSS}cut back.x --names=a.hem,b", "hem"),
        ("cut back.bust-line --names=a", "makes 2 pieces, and 1 name is given; give 2"),
        (
            f"{ACROSS}cut back.x --edge=neck",
            "give another name with --edge",
        ),
        (f"{ACROSS}cut back.x --names=a.centre,b", "only a has"),
        (
            f"{ACROSS}cut back.x --names=a.neck,front",
            "a piece 'front'",
        ),
        (
            f"{ACROSS}cut back.x --names=a.neck,b.shoulder",
            "lie on one part",
        ),
    ],
)
def test_what_is_refused_in_one_sentence(steps: str, said: str) -> None:
    *before, last = steps.splitlines()
    start = made("\n".join(["block bodice --size=bust-90", *before]))
    with pytest.raises(FlatcutError, match=said) as caught:
        made(last, start)
    assert "\n" not in str(caught.value)


def test_a_part_that_is_not_used_is_dropped_with_the_cut() -> None:
    """As with a `drop` after it, but that the edge that has no mate now is finished."""
    start = made(f"block bodice --size=bust-90\n{ACROSS}")
    after = made("cut back.x --names=back.waist,off.neck --drop=off", start)
    assert [p.name for p in after.pieces] == ["back", "front"]
    assert after.piece("back").edge("x").use == "finished"
    assert any("is gone" in said for said in after.steps[-1].warnings)
    other = made("cut back.x --names=back.waist,off.neck\ndrop off", start)
    assert [s.uid for s in after.seams] == [s.uid for s in other.seams]
    with pytest.raises(FlatcutError, match="the parts are back and off, and no 'of'"):
        made("cut back.x --names=back.waist,off.neck --drop=of", start)


def test_a_dropped_piece_takes_its_seams_with_it() -> None:
    start = made("block bodice --size=bust-90")
    assert len(start.seams) == 2
    after = made("drop back", start)
    assert [p.name for p in after.pieces] == ["front"]
    assert after.seams == ()
    assert len(after.steps[-1].warnings) == 2


def turns_within(piece: Piece, edge: str) -> float:
    """Degrees of the sharpest turn at a node of an edge."""
    return fairness(chain(piece.edge(edge).parts, within=1e-6)).kink


@pytest.mark.parametrize("recipe", ["shoulder-panels", "armhole-panels"])
def test_panels_in_every_size_have_the_same_names_and_are_sound(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], recipe: str
) -> None:
    sizes = read_table((SAMPLES / "sizes.toml").read_text())
    words = ["run", str(SAMPLES / f"{recipe}.recipe"), f"--sizes={SAMPLES / 'sizes.toml'}", f"--into={tmp_path}"]
    assert main(words) == 0
    drawings = sorted(tmp_path.glob("*.svg"))
    bodies = [body for body in sizes.values() if isinstance(body, dict)]
    assert len(drawings) == len(bodies) == 7
    assert (min(b["bust"] for b in bodies), max(b["bust"] for b in bodies)) == (760, 1220)
    capsys.readouterr()
    assert main(["check", *map(str, drawings)]) == 0, capsys.readouterr().out
    names = set()
    for drawing in drawings:
        _, pattern, findings = read(drawing.read_bytes())
        assert findings == []
        names.add(tuple((p.name, tuple(sorted(p.names()))) for p in pattern.pieces))
        # walked closed, the panels' waists are as long as the block's: half the waist and half its ease, as drafted
        block = made(pattern.steps[0].line, Pattern(body=pattern.body))
        for side in ("front", "back"):
            whole = sewn_length(block.piece(side).edge("waist"))
            # the darts' points were moved along their axes, and the feet by as much as that makes the legs equal
            parts = sum(sewn_length(pattern.piece(f"{side}-{part}").edge("waist")) for part in ("centre", "side"))
            assert parts == pytest.approx(whole, abs=0.5)
        if recipe == "armhole-panels":
            # the back's seam comes out of the armhole and runs smooth into the waist dart's legs, which spread by some
            # five degrees to either side (common practice, no source)
            assert max(turns_within(pattern.piece(f"back-{part}"), "princess") for part in ("centre", "side")) < 8
    assert len(names) == 1


def test_a_panel_edge_with_a_point_says_by_how_much_it_turns() -> None:
    """Two darts that end in one point leave a panel whose edge turns there by the sum of what both lean."""
    cut = made(
        "block bodice --size=bust-90\npivot front.bust-dart --to=front.armhole@1/2 --name=armhole-dart\n"
        "back-off front.waist-dart --to=front.bust-point\n"
        "cut front.armhole-dart front.waist-dart --edge=princess --names=front-centre.centre,front-side.side"
    )
    told = {f.label: f.value for f in cut.steps[-1].figures if "turns" in f.label}
    for name in ("front-centre", "front-side"):
        parts = cut.piece(name).edge("princess").parts
        points = np.concatenate([part.controls.reshape(-1, 2) for part in parts])
        ways = np.diff(points[np.append(True, np.hypot(*np.diff(points, axis=0).T) > 1e-6)], axis=0)
        turns = np.degrees(np.abs(np.diff(np.unwrap(np.arctan2(ways[:, 1], ways[:, 0])))))
        assert told[f"{name}.princess turns at a point by"] == pytest.approx(turns.max(), abs=0.5)
    smooth = made("true front-centre.princess front-side.princess --reach=2cm --within=1cm", cut)
    for name in ("front-centre", "front-side"):
        assert all(fairness(part).kink < 0.1 for part in smooth.piece(name).edge("princess").parts)
