"""What a cutter calls good on the worked garments: figures on one body, in other sizes the same relation.

All of it is common practice of the trade, no source, where none is named.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import signed_angle
from flatcut.geometry.curves import Curve, chain, flatten, tangent
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.pattern.values import Pattern, outline
from tests.garments import (
    ALL,
    NAMES,
    ROW_A,
    block,
    body,
    drafted,
    drawn,
    edge_of,
    garment,
    inside,
    line_of,
    sewn,
    text_of,
)

TORSO = "block torso --front-darts=1 --back-darts=1"


def told(pattern: Pattern, step: str, label: str) -> list[float]:
    """Figures of the steps that begin so, whose label holds a text."""
    return [f.value for one in pattern.steps if one.line.startswith(step) for f in one.figures if label in f.label]


def angle_at(point: np.ndarray, feet: np.ndarray) -> float:
    """Degrees between two feet as seen from a point."""
    return math.degrees(abs(signed_angle(feet[0] - point, feet[1] - point)))


# The camisole ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_camisole_wraps_and_its_edge_is_shorter_by_the_gapes(size: str) -> None:
    pattern = garment("tansy-camisole", size)
    front = pattern.piece("front")
    assert front.cut_as == "pair"
    assert {edge.use for edge in front.edges}.isdisjoint({"fold", "centre"})
    # 6 mm and 1 cm are taken out of the wrap edge
    assert pattern.measures["wrap-edge"] - sewn(pattern, "front.wrap") == pytest.approx(16, abs=0.5)
    assert sewn(pattern, "front.side") == pytest.approx(sewn(pattern, "back.side"), abs=1)
    # 12 cm past the centre at the waist
    middle = next(spot.at for spot in front.points if spot.name == "middle")
    ends = [np.hypot(*(end - middle)) for end in _ends_on(pattern, "front.waist-line", "front.wrap")]
    assert min(ends) == pytest.approx(120, abs=1.5)


def _ends_on(pattern: Pattern, line: str, edge: str) -> list[np.ndarray]:
    """The ends of the lines of a name (in parts, numbered) that lie on an edge."""
    piece, _, name = line.partition(".")
    parts = edge_of(pattern, edge).parts
    ends = [
        end
        for one in pattern.piece(piece).lines
        if one.name == name or one.name.startswith(f"{name}-")
        for end in (one.curve.start, one.curve.end)
    ]
    return [end for end in ends if min(float(nearest(part, end)[1]) for part in parts) < 1.0]


@pytest.mark.parametrize("size", ALL)
def test_the_camisole_has_one_dart_of_all_the_angles_that_were_closed(size: str) -> None:
    """The block's bust dart, the wedge of 1.3 cm on the circle of 7.5 cm (2 asin w / 2r), and those at the neck."""
    pattern = garment("tansy-camisole", size)
    front = pattern.piece("front")
    (dart,) = front.darts
    start = block(TORSO, size).piece("front")
    bust = next(d for d in start.darts if d.name == "bust-dart")
    wedges = told(pattern, "contour", " wedge, ")
    assert len(wedges) == 3
    assert max(wedges) == pytest.approx(2 * math.degrees(math.asin(6.5 / 75)), abs=1e-6)
    start_angle = angle_at(bust.points[0], bust.feet)
    summed = start_angle + sum(wedges)
    assert told(pattern, "contour", "bust-dart angle") == pytest.approx([start_angle, summed, 0], abs=0.01)
    # the side is trued over its mouth after that, which moves its feet by parts of a millimetre
    fullest = next(spot.at for spot in front.points if spot.name == "bust-point")
    assert angle_at(fullest, dart.feet) == pytest.approx(summed, abs=0.4)


# The gored skirt ------------------------------------------------------------------------------------------------------

GORES = ("gore", "gore-front", "gore-back")


@pytest.mark.parametrize("size", ALL)
def test_the_six_gores_are_alike(size: str) -> None:
    """Each is a sixth of waist and hip with usual ease, 12 cm wider at the hem; facings are as long as the waist."""
    pattern = garment("campion-skirt", size)
    for name in GORES:
        assert sewn(pattern, f"{name}.waist") == pytest.approx((body(size, "waist") + 10) / 6, abs=0.5)
        assert sewn(pattern, f"{name}.hem") == pytest.approx((body(size, "hip") + 40) / 6 + 120, abs=0.5)
        assert sewn(pattern, f"{name}-facing.waist") == pytest.approx(sewn(pattern, f"{name}.waist"), abs=0.5)
        # the hem runs on over each seam
        assert inside(pattern, f"{name}.side/hem", f"{name}.hem/side-2") == pytest.approx(180, abs=2)
    assert sum(p.quantity for p in pattern.pieces if p.name in GORES) == 6
    sides = [
        sewn(pattern, "gore.side"),
        sewn(pattern, "gore.side-2"),
        sewn(pattern, "gore-front.zip", "gore-front.side"),
        sewn(pattern, "gore-front.side-2"),
        sewn(pattern, "gore-back.side"),
        sewn(pattern, "gore-back.side-2", "gore-back.zip"),
    ]
    assert sides == pytest.approx([sides[0]] * 6, abs=0.5)


def test_gores_of_the_textbook_figures() -> None:
    """Waist 72, hip 96 without ease: 12 and 16 cm each; 6 cm of flare at each edge: 28, so 168 in all (arithmetic)."""
    text = (
        text_of("campion-skirt").replace("gore --high", "gore --waist=72cm --hip=96cm --high").partition("\nfacing")[0]
    )
    pattern = drafted(text, ROW_A)
    hems = [sewn(pattern, f"{name}.hem") for name in GORES]
    assert hems == pytest.approx([280] * 3, abs=0.5)
    assert 4 * hems[0] + hems[1] + hems[2] == pytest.approx(1680, abs=1)
    assert sewn(pattern, "gore.waist") == pytest.approx(120, abs=0.5)


# The shift with a yoke ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_shift_is_gathered_to_a_yoke_without_darts(size: str) -> None:
    pattern = garment("sorrel-shift", size)
    assert pattern.piece("yoke").darts == ()
    assert pattern.piece("front").darts == ()
    seam = edge_of(pattern, "front.yoke")
    assert sewn(pattern, "front.yoke") == pytest.approx(sewn(pattern, "yoke.yoke"), abs=1)
    (gathers,) = seam.takeups
    # 1.6 times as long between the stops; plain for 4 cm beside the armhole, from there to the fold gathered
    cloth = gathers.end - gathers.start
    assert cloth / (cloth - gathers.amount) == pytest.approx(1.6, abs=0.005)
    assert sorted([gathers.start, drawn(pattern, "front.yoke") - gathers.end]) == pytest.approx([0, 40], abs=1)
    for name, corners in {"yoke": ("boat/centre", "centre/yoke"), "front": ("yoke/centre", "centre/hem")}.items():
        assert pattern.piece(name).edge("centre").use == "fold"
        for corner in corners:
            assert inside(pattern, f"{name}.{corner}") == pytest.approx(90, abs=1)
    assert drawn(pattern, "yoke.centre") == pytest.approx(60, abs=0.5)


# The pleated skirt ----------------------------------------------------------------------------------------------------

SKIRT = "block skirt --length=62cm --front-darts=1 --back-darts=1"


def pleats(pattern: Pattern) -> list[tuple[Curve, Curve, Curve]]:
    """Outer fold, inner fold and the line it is brought to, of each pleat of the left front."""
    lines = pattern.piece("left-front").lines
    found = []
    for one in lines:
        rest = {line.name.removeprefix(f"{one.name}-"): line.curve for line in lines}
        if one.name.startswith("pleat") and {"fold", "meets"} <= set(rest):
            found.append((rest["fold"], one.curve, rest["meets"]))
    return found


@pytest.mark.parametrize("size", ALL)
def test_the_pleated_waist_is_the_net_waist_once_folded(size: str) -> None:
    pattern = garment("yarrow-skirt", size)
    net = sewn(block(SKIRT, size), "skirt-front.waist")
    assert sewn(pattern, "left-front.waist") == pytest.approx(net, abs=1)
    six = pleats(pattern)
    assert len(six) == 6
    ways = []
    for fold in six:
        # from the hip down all lines are parallel
        for curve in fold:
            low = curve.nodes[np.argsort(curve.nodes[:, 1])[-2:]]
            ways.append(math.degrees(math.atan2(*(low[1] - low[0]))))
    assert ways == pytest.approx([ways[0]] * 18, abs=0.01)


@pytest.mark.parametrize("size", ALL)
def test_the_folds_of_the_pleats_are_shaped_at_the_waist(size: str) -> None:
    """Folded here: cloth beyond the outer fold, mirrored about it, ends within 1 mm of the seam line that it comes to
    lie under, for 2.5 of its 3 cm; beyond that it reaches under the pleat before it, whose waist runs otherwise."""
    pattern = garment("yarrow-skirt", size)
    waist = np.concatenate([dotted(part) for part in edge_of(pattern, "left-front.waist").parts])
    six = pleats(pattern)
    # x counted from the edge that lies on top, so that each fold is brought to a line beyond it
    sign = 1.0 if top_of(six[0][0])[0][0] < top_of(six[0][2])[0][0] else -1.0
    six.sort(key=lambda fold: sign * float(top_of(fold[0])[0][0]))
    along = sign * waist[:, 0]
    here, begin = Affine.translation(0, 0), -math.inf
    seen, under = [], []
    for outer, inner, meets in six:
        fold, mate = top_of(outer), top_of(meets)
        turned, half = sign * fold[0][0], sign * top_of(inner)[0][0]
        seen.append(here.apply(waist[(along > begin) & (along < turned)]))
        below = waist[(along > turned + 0.5) & (along < min(half - 0.5, turned + 25))]
        under.append(here.apply(Affine.reflection(*fold).apply(below)))
        here, begin = here @ laid_on(mate, fold), sign * mate[0][0]
    seen.append(here.apply(waist[along > begin]))
    visible = np.concatenate(seen)
    for layer in under:
        assert len(layer) > 80
        assert max(float(np.hypot(*(visible - p).T).min()) for p in layer) < 1.0


def dotted(curve: Curve) -> np.ndarray:
    """Places of a curve, the next never 0.3 mm away."""
    points = flatten(curve, tolerance=0.001)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    along = np.linspace(0.0, at[-1], int(at[-1] / 0.25))
    return np.stack([np.interp(along, at, points[:, k]) for k in (0, 1)], axis=1)


def top_of(curve: Curve) -> tuple[np.ndarray, np.ndarray]:
    """The upper end of a fold, and its next node below."""
    one, two = curve.nodes[np.argsort(curve.nodes[:, 1])[:2]]
    return one, two


def laid_on(mate: tuple[np.ndarray, np.ndarray], to: tuple[np.ndarray, np.ndarray]) -> Affine:
    """The motion that lays a fold on another, upper end on upper end."""
    turn = signed_angle(mate[1] - mate[0], to[1] - to[0])
    return Affine.translation(*(to[0] - mate[0])) @ Affine.rotation(turn, tuple(mate[0]))


# Trousers -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_trousers_go_together(size: str) -> None:
    """Waistband, fly, pockets; seams alike, the crotch and the hems in one line over the seams."""
    pattern = garment("teasel-trousers", size)
    waist = 2 * sewn(pattern, "trouser-back.waist", "trouser-front.waist")
    # 1 cm is eased into the band, which laps over by 3 cm
    assert waist == pytest.approx(body(size, "waist") + 10, abs=1)
    assert drawn(pattern, "waistband.seam") == pytest.approx(waist - 10 + 30, abs=0.5)
    for edge in ("side", "inside-leg"):
        assert sewn(pattern, f"trouser-front.{edge}") == pytest.approx(sewn(pattern, f"trouser-back.{edge}"), abs=0.5)
    assert drawn(pattern, "trouser-front.fly") == pytest.approx(180, abs=0.5)
    assert drawn(pattern, "fly-facing.fly") == pytest.approx(180, abs=0.5)
    assert drawn(pattern, "fly-shield.seam") == pytest.approx(180, abs=0.5)
    assert drawn(pattern, "pocket-bag.opening") == pytest.approx(150, abs=0.5)
    fork = inside(pattern, "trouser-front.crotch/inside-leg", "trouser-back.inside-leg/crotch")
    assert fork == pytest.approx(180, abs=2)
    for corners in (
        ("trouser-front.hem/side", "trouser-back.side/hem"),
        ("trouser-front.inside-leg/hem", "trouser-back.hem/inside-leg"),
        ("trouser-front.side/waist", "trouser-back.waist/side"),
    ):
        assert inside(pattern, *corners) == pytest.approx(180, abs=2)


# The child's frock ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_frock_goes_together(size: str) -> None:
    """Collar to the neckline between the centres, sleeves eased as asked, the skirt 1.8 times the waist; nothing at the
    neck that could be tied."""
    pattern = garment("bramble-frock", size)
    # the collar ends at the centre back, 1.5 cm before the edge of the button stand
    neck = sewn(pattern, "back.neck", "front.neck") - 15
    assert 0 <= neck - drawn(pattern, "collar.neck") <= 3
    holes = sewn(pattern, "back.armhole", "front.armhole")
    assert drawn(pattern, "sleeve.cap") - holes == pytest.approx(15, abs=2)
    unders = [sewn(pattern, f"sleeve.underarm-{name}") for name in ("front", "back")]
    assert unders == pytest.approx([50, 50], abs=0.5)
    for name, waist in (("skirt-front", 2 * sewn(pattern, "front.waist")), ("skirt-back", sewn(pattern, "back.waist"))):
        assert drawn(pattern, f"{name}.seam") == pytest.approx(1.8 * waist, abs=1)
        assert sewn(pattern, f"{name}.seam") == pytest.approx(waist, abs=1)
    kinds = [p.source.line.split("--kind=")[-1].split()[0] for p in pattern.pieces if p.source]
    assert "tie" not in kinds
    assert all("no cords or ties" in p.caption.text for p in pattern.pieces)


# The lined narrow skirt -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_narrow_skirt_lies_in_its_hem_turn_and_its_lining_goes_along(size: str) -> None:
    """The turned hem is the mirror image of the tapered side; linings are 2.5 cm shorter, unlike left and right."""
    pattern = garment("narrow-skirt", size)
    for name in ("skirt-front", "skirt-back"):
        piece = pattern.piece(name)
        hem, side = piece.edge("hem"), piece.edge("side")
        first = bool(np.allclose(hem.start, side.end))
        corner = hem.start if first else hem.end
        made = cut_line(piece)
        assert made is not None
        ring = dotted(made.curve)
        out = np.sign(corner[0] - piece.edge("waist").parts[0].nodes[:, 0].mean())
        end = max(ring, key=lambda p: float(out * p[0] / 2 + 2 * p[1]))
        way = tangent(hem.parts[0], 0.0) if first else tangent(hem.parts[-1], float(len(hem.parts[-1])), before=True)
        turned = Affine.reflection(corner, corner + way).apply(end)
        assert float(nearest(made.curve, turned)[1]) < 0.5
    for part, lining in (("skirt-front", "skirt-front-lining"), ("skirt-back", "skirt-back-lining-left")):
        assert sewn(pattern, f"{part}.side") - sewn(pattern, f"{lining}.side") == pytest.approx(25, abs=0.5)
    hems = [drawn(pattern, f"skirt-back-lining-{name}.hem") for name in ("left", "right")]
    assert hems[1] - hems[0] > 80
    waist = 2 * sewn(pattern, "skirt-back.waist", "skirt-front.waist")
    assert drawn(pattern, "waistband.seam") == pytest.approx(waist - 8 + 30, abs=0.5)
    assert pattern.piece("skirt-back").cut_as == "pair"


# The tiered dress -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_each_tier_is_1_6_times_as_long_as_what_it_hangs_from(size: str) -> None:
    """From a hip of 96 cm: 153.6, 245.76 and 393.2 cm (arithmetic); cut across the grain and joined; straps; a shirred
    back; a casing whose corners are turned."""
    pattern = garment("mallow-dress", size)
    hip = body(size, "hip")
    assert 2 * sewn(pattern, "back.hip", "front.hip") == pytest.approx(hip, abs=1)
    for k in (1, 2, 3):
        assert drawn(pattern, f"tier-{k}.seam") == pytest.approx(1.6**k * hip, abs=2)
        assert drawn(pattern, f"tier-{k}.start") == pytest.approx({1: 200, 2: 240, 3: 280}[k], abs=0.1)
        grain, seam = pattern.piece(f"tier-{k}").grain, edge_of(pattern, f"tier-{k}.seam")
        # along the height of the strip, so that its length runs across the grain
        assert grain is not None
        assert abs(float((grain.end - grain.start) @ (seam.end - seam.start))) < 1
        # no part is wider than cloth of 140 cm
        joins = [one for one in pattern.piece(f"tier-{k}").lines if one.name.startswith("join")]
        assert drawn(pattern, f"tier-{k}.seam") / (len(joins) + 1) <= 1400
    assert drawn(pattern, "back.top") / sewn(pattern, "back.top") == pytest.approx(1.4, abs=0.02)
    assert pattern.piece("front").darts == ()
    for name, edge in (("front", "side"), ("back", "top")):
        assert pattern.piece(name).edge(edge).corner.kind == "turned"


# The jacket -----------------------------------------------------------------------------------------------------------


def fits(pattern: Pattern) -> None:
    """Collar, facings and linings of the jacket, each to what it is sewn to."""
    neck = sewn(pattern, "back.neck", "front.neck") - 25  # to the centre, 2.5 cm before the front edge
    assert 0 <= neck - drawn(pattern, "fall.neck") + 1e-3 <= 3
    assert sewn(pattern, "back-facing.neck") == pytest.approx(sewn(pattern, "back.neck"), abs=0.5)
    assert sewn(pattern, "front-facing.neck") == pytest.approx(sewn(pattern, "front.neck"), abs=0.5)
    assert sewn(pattern, "front-facing.centre") == pytest.approx(sewn(pattern, "front.centre"), abs=0.5)
    assert sewn(pattern, "front-lining.inner") == pytest.approx(sewn(pattern, "front-facing.inner"), abs=3)
    assert sewn(pattern, "front-lining.side") == pytest.approx(sewn(pattern, "front.side"), abs=1)


@pytest.mark.parametrize("size", ALL)
def test_the_jacket_goes_together(size: str) -> None:
    """Cap and armhole, the seams of the two-piece sleeve, collar, facing and lining."""
    pattern = garment("rowan-jacket", size)
    fits(pattern)
    holes = sewn(pattern, "back.armhole", "front.armhole")
    assert sewn(pattern, "top-sleeve.cap", "under-sleeve.cap") - holes == pytest.approx(35, abs=2)
    for seam in ("hind-seam", "fore-seam"):
        assert sewn(pattern, f"top-sleeve.{seam}") == pytest.approx(sewn(pattern, f"under-sleeve.{seam}"), abs=0.5)
    assert len([b for b in pattern.piece("front").buttons if b.kind == "buttonhole"]) == 3


# The shirt ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_shirt_goes_together(size: str) -> None:
    """Stand = neckline and both stands; the folded pleat = the yoke; cuff = wrist, ease and overlap; buttons even."""
    pattern = garment("yoked-shirt", size)
    assert drawn(pattern, "stand.neck") == pytest.approx(sewn(pattern, "yoke.neck", "front.neck"), abs=1)
    assert sewn(pattern, "back-low.yoke") == pytest.approx(sewn(pattern, "yoke.yoke"), abs=0.5)
    assert drawn(pattern, "back-low.yoke") - drawn(pattern, "yoke.yoke") == pytest.approx(60, abs=0.5)
    assert drawn(pattern, "cuff.seam") == pytest.approx(sewn(pattern, "sleeve.hem"), abs=0.5)
    assert drawn(pattern, "cuff.seam") == pytest.approx(body(size, "wrist") + 135 - 60, abs=1)
    holes = sorted(float(b.at[1]) for b in pattern.piece("front").buttons if b.kind == "buttonhole")
    assert len(holes) == 7
    steps = np.diff(holes)
    assert steps == pytest.approx([steps[0]] * 6, abs=1)
    holes_sewn = sewn(pattern, "back-low.armhole", "yoke.armhole", "front.armhole")
    assert drawn(pattern, "sleeve.cap") - holes_sewn == pytest.approx(10, abs=2)


# The cowl top ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ALL)
def test_the_cowl_is_square_to_its_fold_and_faced_by_its_own_mirror_image(size: str) -> None:
    """Cut on the bias, out of cloth 140 cm wide; worn it hangs by what the neck edge is longer than the way across."""
    pattern = garment("lupin-top", size)
    front = pattern.piece("front")
    assert front.darts == ()
    assert {front.edge(name).use for name in ("centre", "centre-facing")} == {"fold"}
    cowl = line_of(pattern, "front.cowl").curve
    fold = front.edge("centre")
    way, up = cowl.end - cowl.start, fold.end - fold.start
    square = math.degrees(math.acos(abs(float(way @ up)) / math.hypot(*way) / math.hypot(*up)))
    assert square == pytest.approx(90, abs=0.5)
    # the facing turned at the neck fold lies on the front
    mirror = Affine.reflection(cowl.start, cowl.end)
    for edge in ("shoulder-facing", "centre-facing"):
        beside = "shoulder" if edge == "shoulder-facing" else "centre"
        for part in front.edge(edge).parts:
            for at in mirror.apply(flatten(part, tolerance=0.1)):
                assert min(float(nearest(own, at)[1]) for own in front.edge(beside).parts) < 0.05
    grain = front.grain
    assert grain is not None
    lean = math.degrees(
        math.acos(abs(float((grain.end - grain.start) @ up)) / math.hypot(*(grain.end - grain.start)) / math.hypot(*up))
    )
    assert lean == pytest.approx(45, abs=0.5)
    # laid open, across the grain
    half = flatten(chain(outline(front), within=1e-6), tolerance=0.5)
    whole = np.concatenate([half, Affine.reflection(fold.start, fold.end).apply(half)])
    along = (grain.end - grain.start) / math.hypot(*(grain.end - grain.start))
    wide = np.ptp(whole @ np.array([-along[1], along[0]]))
    assert wide < 1400
    # the way across is the neck of the back, widened by 3 cm at the shoulder like the front
    across = abs(float(pattern.piece("back").edge("shoulder").start[0] - pattern.piece("back").edge("centre").start[0]))
    deep = math.sqrt(math.hypot(*way) ** 2 - min(across, math.hypot(*way)) ** 2)
    assert 120 < deep < 280


# What is cut is sewn --------------------------------------------------------------------------------------------------

LOOSE = {
    "mallow-dress": ("shoulder-strap",),  # its places are fitted on the body
    "teasel-trousers": ("fly-shield",),  # lies behind the fly
    "yarrow-skirt": ("tie",),  # where it is tied is up to the wearer
}
"""Pieces of samples that no seam joins to another piece, and why."""


@pytest.mark.parametrize("name", NAMES)
def test_every_piece_but_a_fusing_is_sewn_to_another(name: str) -> None:
    """The slits' binding of a blouse and the straps of a camisole were sewn nowhere, and the lesson left them out."""
    pattern = garment(name)
    joined = {part.piece for s in pattern.seams if len({p.piece for p in (*s.a, *s.b)}) > 1 for part in (*s.a, *s.b)}
    loose = [p.name for p in pattern.pieces if p.uid not in joined and not (p.source and p.source.kind == "fusing")]
    assert sorted(loose) == sorted(LOOSE.get(name, ()))
