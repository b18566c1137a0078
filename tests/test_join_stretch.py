"""`join` over a stretch: what both edges have left beyond it opens as a dart, and angles about a point are kept."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.darts.darting import angle
from flatcut.errors import FlatcutError, UsageError
from flatcut.geometry.curves import chain, flatten, line, polyline
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Dart, Pattern, Piece, area, outline
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay
from tests.test_cut_random import shape
from tests.test_join import AWAY, figures, rectangle
from tests.test_reshape_chains import furnished


def join(pattern: Pattern, *targets: str, **options: object) -> Pattern:
    return load("join")(target=targets, **options)(pattern)  # type: ignore[arg-type]


def panels() -> tuple[Pattern, Pattern]:
    """A front whose two darts end at the bust point, and the same cut in panels along them."""
    whole = replay(
        read_recipe(
            "block bodice --size=bust-90\npivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart\n"
            "back-off front.waist-dart --to=front.bust-point\n"
        ),
        Pattern(),
    )
    steps = "cut front.shoulder-dart front.waist-dart --edge=princess --names=front-centre.centre,front-side.side\n"
    return whole, replay(read_recipe(steps), whole)


@pytest.mark.parametrize("closed", ["shoulder-dart", "waist-dart"])
@pytest.mark.parametrize("first", ["front-centre", "front-side"])
def test_a_panel_seam_closed_on_one_side_of_the_fullest_point_opens_on_the_other(closed: str, first: str) -> None:
    """The sum of the angles about the bust point is what it was; legs and edges are as long as they were."""
    whole, parted = panels()
    front = whole.piece("front")
    leg = {d.name: float(np.hypot(*(d.feet[0] - d.points[0]))) for d in front.darts}
    open_ = next(d.name for d in front.darts if d.name != closed)
    # the centre's edge runs up, from the waist; the side's runs down
    stretches = {
        "front-centre": (leg["waist-dart"], leg["shoulder-dart"]),
        "front-side": (leg["shoulder-dart"], leg["waist-dart"]),
    }
    targets = []
    for name, (one, other) in stretches.items():
        at_start = (closed == "waist-dart") == (name == "front-centre")
        low, high = (0.0, one) if at_start else (one, one + other)
        targets.append(f"{name}.princess@{low:.6f}..{high:.6f}")
    targets.sort(key=lambda target: not target.startswith(first))
    done = join(parted, *targets, name="front", opens=(open_,))
    joined = done.piece("front")
    assert (joined.cut_as, joined.quantity) == ("fold", 1)
    (dart,) = joined.darts
    assert dart.name == open_
    assert angle(dart) == pytest.approx(sum(angle(d) for d in front.darts), abs=0.001)
    assert [float(np.hypot(*(foot - dart.points[0]))) for foot in dart.feet] == pytest.approx(
        [leg[open_]] * 2, abs=0.01
    )
    assert {e.name for e in joined.edges} == {e.name for e in front.edges}
    for edge in front.edges:
        assert sewn_length(joined.edge(edge.name)) == pytest.approx(sewn_length(edge), abs=0.01)
    # nothing overlaps and no cloth was lost
    assert shape(joined).is_valid
    assert shape(joined).area == pytest.approx(sum(shape(p).area for p in parted.pieces[1:]), abs=0.5)
    # the fold is straight still
    fold = joined.edge("centre").parts[0]
    along = (fold.end - fold.start) / math.dist(fold.start, fold.end)
    assert np.abs((fold.nodes - fold.start) @ np.array([-along[1], along[0]])).max() < 1e-6
    # points that come together are one again; the dart that opens has its own point and mouth again
    assert {p.name for p in joined.points} == {"bust-point", f"{closed}-point", f"{closed}-mouth"}


def two(rise: float) -> Pattern:
    """A rectangle, and one with the right half of its top edge lower by `rise` at the corner."""
    b = rectangle("b", "top right low left")
    top = replace(b.edges[0], parts=(polyline([(0, 0), (50, 0), (100, rise)]),))
    right = replace(b.edges[1], parts=(line((100, rise), (100, 60)),))
    b = replace(b, edges=(top, right, *b.edges[2:]))
    return Pattern(pieces=(rectangle("a", "head right low left"), moved(b, AWAY)))


def test_what_opens_is_measured() -> None:
    """Closed form: atan(20 / 50) = 21.8014°, legs of 50 mm and hypot(50, 20) mm."""
    done = join(two(20.0), "a.low@50..100", "b.top@0..50", opens=("gape",))
    told = figures(done)
    assert told["a.gape angle"] == pytest.approx(math.degrees(math.atan2(20, 50)), abs=1e-4)
    assert told["a.gape legs differ by"] == pytest.approx(math.hypot(50, 20) - 50, abs=1e-6)
    (piece,) = done.pieces
    assert [(d.name, piece.edge_of(d.host).name, d.after) for d in piece.darts] == [("gape", "right", 0)]
    assert abs(area(piece)) == pytest.approx(2 * 6000 - 500)
    # no notch where the dart opens, one where the seam ends on the left
    assert [piece.edge_of(n.edge).name for n in piece.notches] == ["left"]
    # without a name it gets that of the edge
    assert join(two(20.0), "a.low@50..100", "b.top@0..50").pieces[0].darts[0].name == "low-dart"


def test_an_overlap_is_refused_with_its_width_and_area() -> None:
    with pytest.raises(
        UsageError, match=r"a and b would lie over each other by 5 cm², up to 2\d(\.\d)? mm; join a str"
    ):
        join(two(-20.0), "a.low@50..100", "b.top@0..50")


@pytest.mark.parametrize(
    ("opens", "said"),
    [
        (("one", "two"), "2 darts are named, and the seam opens in 1 place only"),
        (("right",), "there is a 'right' already"),
        (("1x",), "cannot be a dart's name"),
    ],
)
def test_names_of_what_opens(opens: tuple[str, ...], said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        join(two(20.0), "a.low@50..100", "b.top@0..50", opens=opens)


def test_a_short_edge_along_part_of_a_long_one_leaves_the_rest_as_edges() -> None:
    b = rectangle("b", "top flank hem slit", wide=40.0)
    done = join(Pattern(pieces=(rectangle("a", "head right low left"), b)), "a.low@30..70", "b.top")
    (piece,) = done.pieces
    assert [e.name for e in piece.edges] == ["head", "right", "low", "flank", "hem", "slit", "low-2", "left"]
    assert [sewn_length(piece.edge(name)) for name in ("low", "low-2")] == pytest.approx([30, 30])
    assert abs(area(piece)) == pytest.approx(6000 + 2400)
    assert piece.darts == ()


def _darted(piece: Piece, k: int, deep: float) -> Piece:
    """A rectangle with a dart 20 mm wide in the middle of an edge."""
    edge = piece.edges[k]
    way = (edge.end - edge.start) / math.dist(edge.start, edge.end)
    middle, inward = (edge.start + edge.end) / 2, np.array([-way[1], way[0]])
    feet, tip = (middle - 10 * way, middle + 10 * way), middle + deep * inward
    dart = Dart(uid=f"{piece.uid}d", name="waist-dart", legs=(line(feet[0], tip), line(tip, feet[1])), host=edge.uid)
    parts = (line(edge.start, feet[0]), line(feet[1], edge.end))
    edges = tuple(replace(e, parts=parts) if e is edge else e for e in piece.edges)
    return replace(piece, edges=edges, darts=(dart,))


@pytest.mark.parametrize("order", [("a.low", "b.top"), ("b.top", "a.low")])
def test_darts_that_meet_foot_to_foot_grow_together(order: tuple[str, str]) -> None:
    a, b = rectangle("a", "head right low left"), rectangle("b", "top right hem left", y=60.0)
    done = join(Pattern(pieces=(_darted(a, 2, 30.0), _darted(b, 0, 40.0))), *order)
    (piece,) = done.pieces
    (dart,) = piece.darts
    assert (dart.name, dart.double, dart.form) == ("waist-dart", True, "lines")
    assert np.allclose(dart.points, [(50, 30), (50, 100)])
    assert sorted(map(tuple, np.round(dart.feet, 6).tolist())) == [(40, 60), (60, 60)]
    assert abs(area(piece)) == pytest.approx(100 * 120)
    lens = shapely.Polygon(flatten(chain(dart.legs, within=1e-6), tolerance=0.01))
    assert lens.area == pytest.approx(20 * 30 / 2 + 20 * 40 / 2)


def test_a_dart_with_none_opposite_and_a_fold_are_refused() -> None:
    a, b = rectangle("a", "head right low left"), rectangle("b", "top right hem left", y=60.0)
    with pytest.raises(UsageError, match=r"dart a\.waist-dart opens on a\.low; move it"):
        join(Pattern(pieces=(_darted(a, 2, 30.0), b)), "a.low", "b.top")
    folded = replace(a, edges=tuple(replace(e, use="fold") if e.name == "low" else e for e in a.edges))
    with pytest.raises(UsageError, match=r"a\.low is the fold"):
        join(Pattern(pieces=(folded, b)), "a.low", "b.top")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_piece_cut_through_a_dart_and_closed_below_it_has_its_dart_again(
    pattern: Pattern, data: st.DataObject
) -> None:
    piece = pattern.pieces[0]
    darts = [d for d in piece.darts if d.form == "cut" and not d.double]
    if not darts:
        return
    dart = data.draw(st.sampled_from(darts))
    end = data.draw(st.sampled_from(piece.edges)).name
    try:
        start = load("line")(  # type: ignore[call-arg]
            start=f"front.{dart.name}.point", end=f"front.{end}@{data.draw(st.floats(3, 97)):.3f}%", name="course"
        )(pattern)
        parted = load("cut")(target=("front.course", f"front.{dart.name}"))(start)  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    event("cut")
    leg = {k: shapely.LineString(flatten(curve, tolerance=1e-4)).length for k, curve in enumerate(dart.legs)}
    targets = []
    for name in ("front-1", "front-2"):
        edge = parted.piece(name).edge("course")
        total = sewn_length(edge)
        at_start = min(np.hypot(*(edge.start - foot)) for foot in dart.feet) < 0.01
        k = int(np.argmin([np.hypot(*((edge.start if at_start else edge.end) - foot)) for foot in dart.feet]))
        low, high = (leg[k], total) if at_start else (0.0, total - leg[k])
        targets.append(f"{name}.course@{low:.6f}..{high:.6f}")
    done = join(parted, *data.draw(st.permutations(targets)), name="front", opens=(dart.name,), notches=False)
    now = done.piece("front")
    again = next(d for d in now.darts if d.name == dart.name)
    assert angle(again) == pytest.approx(angle(dart), abs=0.001)
    for a, b in zip(dart.legs, again.legs, strict=True):
        lines = [shapely.LineString(flatten(c, tolerance=0.0005)) for c in (a, b)]
        assert shapely.hausdorff_distance(*lines, densify=0.05) < 0.01
    # a dart that is used up leaves its point with a name, unless one is there
    assert now.names() - {f"{dart.name}-point"} == piece.names()
    for edge in piece.edges:
        lines = [
            shapely.MultiLineString([flatten(c, tolerance=0.0005) for c in e.parts])
            for e in (edge, now.edge(edge.name))
        ]
        assert shapely.hausdorff_distance(*lines, densify=0.05) < 0.01
    assert len(outline(now)) == len(outline(piece))
