"""`corner`: the kinds of corners through the operation, on drawn panels, against closed forms."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, cubic, line, split, tangent
from flatcut.geometry.nearest import nearest
from flatcut.marking.corners import allowance_end
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Corner, Dart, Edge, Pattern, Piece
from flatcut.recipe import read_recipe, replay


def panel(name: str, side: Curve, uses: dict[str, str] | None = None, hem: Curve | None = None) -> Piece:
    """Waist, side, hem and centre, clockwise; the side is given, the hem level unless it is given too."""
    foot = (side.start[0] - 200, side.end[1])
    hem = hem or line(side.end, foot)
    top = (foot[0], side.start[1])
    curves = [line(top, side.start), side, hem, line(hem.end, top)]
    names = ["waist", "side", "hem", "centre"]
    uses = {"hem": "hem", "centre": "fold"} if uses is None else uses
    edges = tuple(
        Edge(uid=f"{name}-{n}", name=n, parts=(c,), use=uses.get(n, "seam")) for n, c in zip(names, curves, strict=True)
    )
    return Piece(uid=name, name=name, edges=edges)


def leaning(degrees: float, height: float = 400.0) -> Curve:
    """A straight side that leans outward (flare) or inward (taper) on its way down."""
    return line((200, 0), (200 + height * math.tan(math.radians(degrees)), height))


def done(*pieces: Piece, lines: list[tuple[str, tuple[str, ...], dict[str, object]]]) -> Pattern:
    made = Pattern(pieces=pieces)
    for command, target, fields in lines:
        made = load(command)(target=target, **fields)(made)
    return made


ALL_10 = ("allowance", ("all",), {"width": 10})


def cut_nodes(piece: Piece) -> np.ndarray:
    cut = cut_line(piece)
    assert cut is not None
    return cut.curve.nodes


def has_node(piece: Piece, at: tuple[float, float]) -> bool:
    return bool(np.abs(cut_nodes(piece) - at).max(axis=1).min() < 1e-3)


@pytest.mark.parametrize(
    ("angle", "tip"),
    [(90, 14.142), (60, 20.0), (120, 11.547)],
)
def test_mitred_tips(angle, tip):
    """Closed form: a / sin(γ/2) for equal allowances."""
    side = line((200, 0), (200 - 200 / math.tan(math.radians(angle)), 200))
    made = done(panel("p", side, {}), lines=[ALL_10, ("corner", ("p.waist/side",), {})])
    figures = {f.label: f.value for f in made.steps[-1].figures}
    assert figures["p.waist/side angle"] == pytest.approx(angle)
    assert figures["p.waist/side to its tip"] == pytest.approx(tip, abs=5e-4)


def test_a_long_mitre_is_bevelled_and_said():
    """Closed form: 30° and a = 1.5 would reach 5.7956, beyond 3 widths."""
    side = line((200, 0), (200 - 60 / math.tan(math.radians(30)), 60))
    piece = panel("p", side, {})
    made = done(piece, lines=[("allowance", ("all",), {"width": 15}), ("corner", ("p.waist/side",), {})])
    assert "3.9 widths" in made.steps[-1].warnings[0]
    assert made.steps[-1].figures[1].value == pytest.approx(45, abs=1e-3)
    long = done(made.pieces[0], lines=[("corner", ("p.waist/side",), {"limit": 4})])
    assert long.steps[-1].warnings == ()
    assert long.steps[-1].figures[1].value == pytest.approx(57.956, abs=1e-3)


def panels_70_110() -> tuple[Piece, Piece]:
    """Two panels of one princess seam ('waist' here), whose corners with the armhole ('side') are 70° and 110°."""
    down = panel("upper", line((200, 0), (200 - 200 / math.tan(math.radians(70)), 200)), {})
    up = panel("lower", line((200, 300), (200 + 200 / math.tan(math.radians(70)), 500)), {})
    return down, up


def test_squared_ends_match():
    """Closed form: angles of 70° and 110° and b = 1 give |SQ| = 1.0642 on both panels."""
    made = done(
        *panels_70_110(),
        lines=[
            ALL_10,
            ("seam", ("upper.waist", "lower.waist"), {}),
            ("corner", ("upper.waist/side", "lower.side/waist"), {"kind": "squared"}),
        ],
    )
    reach = [f.value for f in made.steps[-1].figures if "run on" in f.label]
    angles = [f.value for f in made.steps[-1].figures if "angle" in f.label]
    assert angles == pytest.approx([70, 110])
    assert reach == pytest.approx([10.642, 10.642], abs=5e-4)
    ends = []
    for piece in made.pieces:
        edge = piece.edge("waist")
        found = allowance_end(piece, edge, cut_line(piece), at_end=True)
        ends.append(found)
    # both ends lie square across the allowance, at the same place: pressed open they coincide
    assert np.allclose(ends, [[10.642, 10], [10.642, 10]], atol=5e-4)
    assert made.pieces[0].edge("waist").corner.through == "upper-waist"


def test_mitred_ends_of_70_and_110_do_not_match():
    """Closed form: mitred they run 1.4281 and 0.7002."""
    made = done(*panels_70_110(), lines=[ALL_10])
    ends = [allowance_end(p, p.edge("waist"), cut_line(p), at_end=True)[0] for p in made.pieces]
    assert ends == pytest.approx([14.281, 7.002], abs=5e-4)


@pytest.mark.parametrize(
    ("lean", "depth", "inside"),
    [(8, 40, 5.622), (10, 50, 8.816), (5, 30, 2.625), (-2.8624, 40, -2.000), (0, 40, 0)],
)
def test_a_turned_hem_mirrors_the_side(lean, depth, inside):
    """Closed form: how far the hem's end lies inside the net side's end; a taper lies outside."""
    lines = [("allowance", ("p.hem",), {"width": depth}), ("allowance", ("p.side",), {"width": 0})]
    made = done(panel("p", leaning(lean)), lines=[*lines, ("corner", ("p.side/hem",), {"kind": "turned"})])
    piece = made.pieces[0]
    x, y = piece.edge("side").end
    assert has_node(piece, (x - inside, y + depth))
    assert piece.edge("side").corner == Corner(kind="turned", through="p-hem")


SIDES = {
    "flared": leaning(8),
    "tapered": leaning(-3),
    "curved": cubic((200, 0), (200, 150), (190, 250), (250, 400)),
}


@pytest.mark.parametrize("side", SIDES.values(), ids=SIDES.keys())
@pytest.mark.parametrize("hem", ["level", "curved"])
def test_the_folded_hem_lies_on_the_side(side, hem):
    """By reflection: the reflected hem end lies on the side cut edge within 0.1 mm; on a curved hem its tangent is the
    mirror."""
    low = None
    if hem == "curved":
        end = side.end
        low = cubic(*(end + np.array(by) for by in ((0, 0), (-60, 14), (-140, 20), (-200, 20))))
    made = done(panel("p", side, hem=low), lines=[ALL_10, ("allowance", ("p.hem",), {"width": 40})])
    piece = made.pieces[0]
    cut = cut_line(piece)
    seam_end = piece.edge("side").end
    way = tangent(piece.edge("hem").parts[0], 0.0)
    fold = Affine.reflection(seam_end, seam_end + way)
    # from the fold out to where the hem's own cut line is met, in its run or on its extension
    around = [k for k in range(len(cut.edges)) if cut.edges[k] == "" or cut.edges[k - 1] == ""]
    deep = [p for p in cut.curve.controls[around, 0] if (p - seam_end) @ np.array([-way[1], way[0]]) < -35]
    beside = [p for p in deep if np.hypot(*(p - seam_end)) < 60]
    assert beside
    assert min(nearest(cut.curve, fold.apply(tip))[1] for tip in beside) < 0.1
    onto_fold = [p for p in cut.curve.controls[around, 0] if abs((p - seam_end) @ np.array([-way[1], way[0]])) < 0.05]
    assert len(onto_fold) >= 1


def test_bevelled_is_cut_square_at_one_width():
    made = done(panel("p", leaning(0), {}), lines=[ALL_10, ("corner", ("p.waist/side",), {"kind": "bevelled"})])
    assert made.steps[-1].figures[1].value == pytest.approx(10, abs=1e-6)


def test_default_takes_back_what_was_said():
    made = done(
        panel("p", leaning(8)),
        lines=[
            ALL_10,
            ("corner", ("p.side/hem", "p.waist/side"), {"kind": "bevelled"}),
            ("corner", ("p.side/hem",), {"kind": "default"}),
        ],
    )
    corners = {e.name: e.corner.kind for e in made.pieces[0].edges}
    assert corners == {"waist": "bevelled", "side": "", "hem": "", "centre": ""}


def test_the_step_replays_on_a_mirror_image():
    lines = [ALL_10, ("corner", ("p.hem/side",), {"kind": "turned", "through": ("p.hem",)})]
    made = done(panel("p", leaning(8)), lines=lines)
    assert made.steps[-1].line == "corner p.hem/side --kind=turned --through=p.hem"
    flip = Affine.scaling(-1, 1)
    mirrored = done(moved(panel("p", leaning(8)), flip), lines=lines)
    one, two = cut_nodes(made.pieces[0]), cut_nodes(mirrored.pieces[0])
    assert np.abs(np.sort(flip.apply(one), axis=0) - np.sort(two, axis=0)).max() < 1e-3


@pytest.mark.parametrize(
    ("target", "fields", "said"),
    [
        ("p.waist/hem", {}, "do not meet"),
        ("p.waist/side", {"kind": "turned"}, "folded back"),
        ("p.waist/side", {"kind": "squared"}, "sewn first"),
        ("p.waist/side", {"kind": "squared", "through": ("p.hem",)}, "ends at none"),
        ("p.waist/side", {"kind": "squared", "through": ("p.side", "p.waist")}, "sewn first"),
        ("p.waist/side", {"limit": 0.5}, "limit"),
        ("p.waist", {}, "a corner is wanted"),
    ],
)
def test_bad_input_gets_one_sentence(target, fields, said):
    with pytest.raises(UsageError, match=said):
        load("corner")(target=(target,), **fields)(Pattern(pieces=(panel("p", leaning(0)),)))


def test_a_dart_in_the_corner_says_itself_how_it_is_cut():
    piece = panel("p", leaning(0))
    waist = piece.edge("waist")
    short = Edge(uid=waist.uid, name="waist", parts=(line((0, 0), (180, 0)),))
    legs = (line((180, 0), (150, 90)), line((150, 90), (200, 0)))
    dart = Dart(uid="d", name="dart-1", legs=legs, host=waist.uid)
    edges = tuple(short if e.uid == waist.uid else e for e in piece.edges)
    with pytest.raises(UsageError, match="dart-1 stands in"):
        load("corner")(target=("p.waist/side",))(
            Pattern(pieces=(Piece(uid="p", name="p", edges=edges, darts=(dart,)),))
        )


def test_what_is_said_of_a_step_works_when_it_is_typed() -> None:
    """Two widths on one smooth curve: the step is told with the command that says it is meant; then nothing is told."""
    one, two = split(cubic((200, 0), (240, 130), (240, 270), (200, 400)), 0.5)
    curves = [line((0, 0), (200, 0)), one, two, line((200, 400), (0, 400)), line((0, 400), (0, 0))]
    names = ["top", "upper", "lower", "bottom", "back"]
    edges = tuple(Edge(uid=n, name=n, parts=(c,)) for n, c in zip(names, curves, strict=True))
    told = done(Piece(uid="p", name="p", edges=edges), lines=[ALL_10, ("allowance", ("p.lower",), {"width": 25})])
    line_told = cut_line(told.piece("p"))
    assert line_told
    (said,) = line_told.warnings
    assert "steps from 10 to 25 mm" in said
    typed = re.search(r"say: (corner .* --kind=stepped), if it should", said)
    assert typed
    meant = cut_line(replay(read_recipe(typed.group(1)), told).piece("p"))
    assert meant
    assert meant.warnings == ()
