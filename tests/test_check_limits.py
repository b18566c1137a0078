"""What is just within a check's limit passes and what is just over it is found: faults of known size, by arithmetic."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.optimize import brentq

from flatcut.checks.check import Subject, load, names, run_checks
from flatcut.checks.dart_kink import closed_kink
from flatcut.declared.declared import kinds
from flatcut.findings import FAULT, WARNING
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, cubic, line, polyline, transform
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.moving import moved
from flatcut.pattern.values import (
    Allowance,
    Button,
    Corner,
    Dart,
    Edge,
    Grain,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    Step,
)
from flatcut.units import plain
from tests.test_check_pieces import both, crossing

Corners = list[tuple[float, float]]
SQUARE: Corners = [(0, 0), (200, 0), (200, 200), (0, 200)]
SIDES = ("top", "right", "bottom", "left")


def ring(corners: Corners, name: str = "a", at: float = 0.0, widths: float = 10.0, **uses: str) -> Piece:
    """A quadrilateral, clockwise on the screen; its edges are top, right, bottom and left."""
    shifted = [(x + at, y) for x, y in corners]
    return Piece(
        uid=name,
        name=name,
        edges=tuple(
            Edge(
                uid=f"{name}-{side}",
                name=side,
                parts=(line(shifted[k], shifted[(k + 1) % 4]),),
                use=uses.get(side, "seam"),
                allowance=Allowance(width=widths),
            )
            for k, side in enumerate(SIDES)
        ),
    )


def edge_of(piece: Piece, name: str, **changed: object) -> Piece:
    edges = (replace(e, **changed) if e.name == name else e for e in piece.edges)  # type: ignore[arg-type]
    return replace(piece, edges=tuple(edges))


def sewn(one: Piece, two: Piece, **parts: Position) -> Pattern:
    """a.right sewn to b.left."""
    a = RunPart(piece=one.uid, of=one.edge("right").uid)
    b = RunPart(piece=two.uid, of=two.edge("left").uid, **parts)
    return Pattern(pieces=(one, two), seams=(Seam(uid="s", a=(a,), b=(b,), reversed=True),))


def allowances(by: float) -> Pattern:
    return sewn(ring(SQUARE), edge_of(ring(SQUARE, "b", 400), "left", allowance=Allowance(width=10 + by)))


def on_the_fold(by: float) -> Pattern:
    return Pattern(pieces=(edge_of(ring(SQUARE, left="fold"), "left", allowance=Allowance(width=by)),))


def buttons(by: float) -> Pattern:
    """Four, 40 mm apart; the second one moved by half the difference."""
    piece = ring(SQUARE)
    places = (40.0, 80.0 + by / 2, 120.0, 160.0)
    row = tuple(
        Button(uid=f"{k}", at=np.array([x, 0.0]), on="a-top", kind="button", size=15.0) for k, x in enumerate(places)
    )
    return Pattern(pieces=(replace(piece, buttons=row),))


def holes(by: float) -> Pattern:
    """Two buttons and their holes, one of which lies beside its button."""
    row = [
        Button(uid=f"{kind}{k}", at=np.array([at, 0.0]), on="a-top", kind=kind, size=15.0)
        for kind, places in (("button", (40.0, 120.0)), ("buttonhole", (40.0, 120.0 + by)))
        for k, at in enumerate(places)
    ]
    return Pattern(pieces=(replace(ring(SQUARE), buttons=tuple(row)),))


def measured(by: float) -> Pattern:
    """An edge of 200 mm that was stored shorter, and used since."""
    steps = (Step(line="measure a.top --as=long"), Step(line='strip --length="long + 1cm"'))
    return Pattern(pieces=(ring(SQUARE),), measures={"long": 200.0 - by}, steps=steps)


def ends(by: float) -> Pattern:
    """A mitred right angle ends beyond the seam end by the width across it."""
    return sewn(ring(SQUARE), edge_of(ring(SQUARE, "b", 400), "bottom", allowance=Allowance(width=10 + by)))


def hem(by: float) -> Pattern:
    """A side that leans by a: the hem, 20 mm deep, folded up misses it by 2 · 20 · tan a."""
    lean = 200 * by / 40
    piece = ring([(0, 0), (200, 0), (200 + lean, 200), (0, 200)], bottom="hem", left="finished")
    piece = edge_of(piece, "bottom", allowance=Allowance(width=20.0))
    return Pattern(pieces=(edge_of(piece, "right", corner=Corner(kind="mitred")),))


def inside(by: float) -> Subject:
    """The cut line of a square with 10 mm all round, shifted by 10 mm and so much more."""
    subject = Subject(pattern=Pattern(pieces=(ring(SQUARE),)))
    cut = subject.cut("a")
    assert cut is not None
    subject.cuts["a"] = CutLine(curve=transform(cut.curve, Affine.translation(10 + by, 0)), edges=cut.edges)
    return subject


def with_dart(legs: tuple[Curve, Curve], parts: tuple[Curve, ...]) -> Pattern:
    dart = Dart(uid="d", name="dart", host="a-top", after=0, legs=legs)
    return Pattern(pieces=(replace(edge_of(ring(SQUARE), "top", parts=parts), darts=(dart,)),))


def kink(by: float) -> Pattern:
    """Feet 20 mm apart, the point 120 mm below: the edge is turned so that both its angles make 180° and so much."""
    beside = math.degrees(math.atan2(120, -10))  # of a leg to the straight edge beside its foot
    turn = math.radians(beside - (180 - beside - by))
    far = (110 + 90 * math.cos(turn), 90 * math.sin(turn))
    legs = line((90, 0), (100, 120)), line((100, 120), (110, 0))
    return with_dart(legs, (line((0, 0), (90, 0)), line((110, 0), far)))


def test_a_drawn_dart_is_judged_by_the_edge_at_each_of_its_own_feet() -> None:
    """A parabola y = x²/500 from x = -100 to 100 as the edge, feet at 20 and 60, the point at (20, 130): tangents and
    angles in closed form."""
    edge = cubic((-100, 20), (-100 / 3, -20 / 3), (100 / 3, -20 / 3), (100, 20))
    feet, point = [(x, x * x / 500) for x in (20.0, 60.0)], (20.0, 130.0)
    dart = Dart(uid="d", name="dart", host="a-top", form="lines", legs=(line(feet[0], point), line(point, feet[1])))
    pattern = Pattern(pieces=(replace(edge_of(ring(SQUARE), "top", parts=(edge,)), darts=(dart,)),))
    ways = [np.array([1.0, 2 * x / 500]) / math.hypot(1, 2 * x / 500) for x, _ in feet]
    legs_out = [(np.array(point) - foot) / np.hypot(*(np.array(point) - foot)) for foot in feet]
    angles = [math.degrees(math.acos(sign * way @ leg)) for sign, way, leg in zip((-1, 1), ways, legs_out, strict=True)]
    found = closed_kink(pattern.pieces[0], dart)
    assert found == pytest.approx(180 - sum(angles), abs=0.01)


def legs(by: float) -> Pattern:
    aside = brentq(lambda s: math.hypot(10 + s, 120) - math.hypot(10 - s, 120) - by, 0, 60)
    point = (100 + aside, 120)
    return with_dart((line((90, 0), point), line(point, (110, 0))), (line((0, 0), (90, 0)), line((110, 0), (200, 0))))


def grain(by: float) -> Pattern:
    """100 mm long, off the fold by so much over its length."""
    angle = by / 100
    end = np.array([100 + 100 * math.sin(angle), 40 + 100 * math.cos(angle)])
    return Pattern(pieces=(replace(ring(SQUARE, left="fold"), grain=Grain(start=np.array([100.0, 40.0]), end=end)),))


def notches(by: float) -> Pattern:
    """50 mm from the top on both, which is the start of the one edge and the end of the other."""
    one = replace(ring(SQUARE), notches=(Notch(uid="n", edge="a-right", at=Position(mode="start", value=50.0)),))
    at = Position(mode="end", value=50.0 + by)
    return sewn(one, replace(ring(SQUARE, "b", 400), notches=(Notch(uid="m", edge="b-left", at=at),)))


def deep(by: float) -> Pattern:
    pattern = notches(0.0)
    one = pattern.pieces[0]
    put = replace(one, notches=(replace(one.notches[0], depth=5.0 + by),))
    return pattern.with_piece(put)


def open_edge(by: float) -> Pattern:
    """All edges but one are finished; of that one so much is sewn to nothing."""
    uses = {"top": "finished", "bottom": "finished"}
    one, two = ring(SQUARE, left="finished", **uses), ring(SQUARE, "b", 400, right="finished", **uses)
    start, end = Position(mode="start", value=0.0), Position(mode="start", value=200.0 - by)
    return sewn(one, two, start=start, end=end)


def old_drawing(by: float) -> Subject:
    pattern = Pattern(pieces=(ring(SQUARE),))
    cut = Subject(pattern=pattern).cut("a")
    assert cut is not None
    return Subject(pattern=pattern, drawn_cuts={"a": [transform(cut.curve, Affine.translation(by, 0))]})


def lean_of_the_hem(by: float) -> Pattern:
    """The fold on the left, and what meets it below turned by so many degrees."""
    low = 200 + 200 * math.tan(math.radians(by))
    return Pattern(pieces=(ring([(0, 0), (200, 0), (200, low), (0, 200)], left="fold", bottom="hem"),))


def square_for(by: float) -> Pattern:
    """Square to the fold for four fifths of that, then turned by 20°.

    Over 5 mm the last fifth leans by 0.2 · sin 20°, 3.9°: what passes there, with the 2.9° of a curve of 50 mm.
    """
    by *= 0.8
    far = (200.0, 200 + (200 - by) * math.tan(math.radians(20)))
    bottom = polyline([far, (by, 200), (0, 200)])
    piece = ring([(0, 0), (200, 0), far, (0, 200)], left="fold", bottom="hem")
    return Pattern(pieces=(edge_of(piece, "bottom", parts=(bottom,)),))


def bow(by: float) -> Pattern:
    """A cubic whose handles stand off by 4/3 h bows by h."""
    fold = cubic((0, 200), (-4 / 3 * by, 400 / 3), (-4 / 3 * by, 200 / 3), (0, 0))
    return Pattern(pieces=(edge_of(ring(SQUARE, left="fold"), "left", parts=(fold,)),))


def tilt(by: float) -> Pattern:
    return Pattern(pieces=(ring([(by, 0), (200, 0), (200, 200), (0, 200)], left="fold"),))


def doubled(by: float) -> Pattern:
    """A span of so many mm beside a node."""
    return Pattern(pieces=(edge_of(ring(SQUARE), "top", parts=(polyline([(0, 0), (by, 0), (200, 0)]),)),))


def sided(by: float) -> Pattern:
    """A narrow tab of so many mm on one half of a long piece's end, which its mirror image has on the other half."""
    top = polyline([(0, 0), (140, 0), (140, -by), (144, -by), (144, 0), (200, 0)])
    long = ring([(0, 0), (200, 0), (200, 600), (0, 600)])
    return Pattern(pieces=(replace(edge_of(long, "top", parts=(top,)), quantity=2),))


def seam(by: float) -> Pattern:
    return sewn(ring(SQUARE), ring([(0, 0), (200, 0), (200, 200 + by), (0, 200 + by)], "b", 400))


def pair(by: float) -> Pattern:
    return both(by)


def pair_of_notches(by: float) -> Pattern:
    """A right piece that is the mirror image of the left, its notch so much farther from the end that is its start."""
    at = Position(mode="start", value=60.0)
    left = replace(
        ring([(0, 0), (200, 20), (200, 200), (0, 200)]), side="left", notches=(Notch(uid="n", edge="a-top", at=at),)
    )
    right = replace(moved(left, Affine.scaling(-1, 1)), uid="r", name="r", side="right")
    there = replace(right.notches[0], at=Position(mode="start", value=60.0 + by))
    left, right = replace(left, name="x-left"), replace(right, name="x-right", notches=(there,))
    return Pattern(pieces=(left, right))


def joined(by: float) -> Pattern:
    return crossing(100 + by, 80, 95, 85)


def cap(by: float, high: float = 200.0, count: int = 1) -> Pattern:
    """A cap so much longer than the armholes it is sewn to over equal stretches of both."""
    sleeve = ring([(0, 0), (200, 0), (200, high + by), (0, high + by)])
    edges = tuple(replace(e, name="cap") if e.name == "right" else e for e in sleeve.edges)
    sleeve = replace(sleeve, edges=edges)
    hole = ring([(0, 0), (200, 0), (200, high), (0, high)], "b", 400)
    seams = []
    for k in range(count):
        ends = [Position(mode="fraction", value=(k + i) / count) for i in (0, 1)]
        back = [Position(mode="fraction", value=1 - one.value) for one in ends[::-1]]
        a = RunPart(piece="a", of=sleeve.edge("cap").uid, start=ends[0], end=ends[1])
        b = RunPart(piece="b", of=hole.edge("left").uid, start=back[0], end=back[1])
        seams.append(Seam(uid=str(k), a=(a,), b=(b,), reversed=True, ease=-by / count))
    return Pattern(pieces=(sleeve, hole), seams=tuple(seams))


def cap_short(by: float) -> Pattern:
    return cap(-by)


def cap_under(by: float) -> Pattern:
    """Four stretches, each with as much ease: the first and the last lie under the arm."""
    return cap(4 * by, 400.0, 4)


LIMITS: list[tuple[str, str, Callable[[float], Pattern | Subject], float, bool]] = [
    # check, tolerance, how the fault is made, the limit, and whether what is over it is found or what is under it
    ("allowances", "apart", allowances, 0.2, True),
    ("allowances", "apart", on_the_fold, 0.2, True),
    ("buttons", "apart", buttons, 1.0, True),
    ("buttons", "missed", holes, 1.0, True),
    ("cap-ease", "most", cap, 45.0, True),
    ("cap-ease", "short", cap_short, 1.0, True),
    ("cap-ease", "under", cap_under, 2.0, True),
    ("corners", "ends_apart", ends, 0.5, True),
    ("corners", "hem_miss", hem, 0.5, True),
    ("cut-line", "inside", inside, 0.1, True),
    ("dart-kink", "most", kink, 2.0, True),
    ("dart-kink", "meant", kink, 30.0, False),
    ("dart-legs", "apart", legs, 0.5, True),
    ("grain", "off", grain, 1.0, True),
    ("measures", "changed", measured, 1.0, True),
    ("labels", "sided", sided, 2.0, True),
    ("notches", "apart", notches, 1.0, True),
    ("notches", "", deep, 1e-6, True),
    ("open-edges", "passed", open_edge, 1.0, True),
    ("out-of-date", "apart", old_drawing, 0.1, True),
    ("pairs", "apart", pair, 0.1, True),
    ("pairs", "apart", pair_of_notches, 0.1, True),
    ("run-on", "most", joined, 2.0, True),
    ("run-on", "meant", joined, 30.0, False),
    ("seam-walk", "pass_", seam, 1.0, True),
    ("shape", "doubled", doubled, 0.05, False),
    ("square", "off", lean_of_the_hem, 1.0, True),
    ("square", "point_meant", lean_of_the_hem, 30.0, False),
    ("square", "stretch", square_for, 5.0, False),
    ("square", "bow", bow, 0.5, True),
    ("square", "tilted", tilt, 1.0, True),
]
ELSEWHERE = {
    ("derived", "moved"),
    ("derived", "off"),
    ("derived", "less"),
    ("derived", "hangs"),
    ("derived", "out"),
    ("seam-walk", "aim"),
    ("seam-walk", "warn"),
}
"""Between them a mismatch is told otherwise: test_a_mismatch_is_told_by_its_size."""


def found(check: str, what: Pattern | Subject) -> bool:
    return bool(run_checks(what, [load(check)()]))


@pytest.mark.parametrize(
    ("check", "tolerance", "made", "limit", "over"),
    LIMITS,
    ids=[f"{check} {tolerance} {made.__name__}" for check, tolerance, made, _, _ in LIMITS],
)
def test_at_its_limit(
    check: str, tolerance: str, made: Callable[[float], Pattern | Subject], limit: float, over: bool
) -> None:
    """A tenth within the limit and a tenth beyond it."""
    assert found(check, made(1.1 * limit)) is over
    assert found(check, made(0.9 * limit)) is not over


def test_every_tolerance_has_its_limit_here() -> None:
    """And it is the one that stands in the handbook of the checks: none was changed without a word."""
    held = {(check, tolerance) for check, tolerance, *_ in LIMITS if tolerance} | ELSEWHERE
    assert held == {(name, own) for name in names() for own in kinds(load(name))}
    stated = {(check, tolerance): limit for check, tolerance, _, limit, _ in LIMITS}
    for name in names():
        for item in fields(load(name)):
            assert (name, item.name) in ELSEWHERE or item.default == stated[name, item.name], (name, item.name)


@pytest.mark.parametrize(
    ("by", "severity", "verdict"),
    [
        (0.45, None, "aim"),
        (0.55, None, "pass"),
        (0.95, None, "pass"),
        (1.05, WARNING, "warning"),
        (1.55, WARNING, "warning"),
        (1.65, FAULT, "fault"),
    ],
)
def test_a_mismatch_is_told_by_its_size(by: float, severity: str | None, verdict: str) -> None:
    walk = load("seam-walk")()
    assert walk.verdict(by) == verdict  # type: ignore[attr-defined]
    assert [f.severity for f in run_checks(seam(by), [walk])] == ([severity] if severity else [])


# Every instance is looked at, not the first alone ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "made", [allowances, ends, notches, seam, grain, bow, tilt, kink, legs, hem, doubled, buttons, holes]
)
def test_the_second_piece_is_looked_at_too(made: Callable[[float], Pattern]) -> None:
    """A sound copy first, then the faulty one: what is found is found on that one."""
    check, _, _, limit, over = next(row for row in LIMITS if row[2] is made)
    sound, faulty = made((0.0 if over else 3.0) * limit), made((3.0 if over else 0.5) * limit)
    assert not found(check, sound)
    again = renamed(faulty)
    first = run_checks(
        replace(sound, pieces=(*sound.pieces, *again.pieces), seams=(*sound.seams, *again.seams)), [load(check)()]
    )
    assert first
    assert all(text.startswith("z") for f in first for text in f.where)


def renamed(pattern: Pattern) -> Pattern:
    """The pattern with other names and uids, so that it can lie beside itself."""
    pieces = []
    for piece in pattern.pieces:
        edges = tuple(replace(e, uid=f"z{e.uid}") for e in piece.edges)
        pieces.append(
            replace(
                piece,
                uid=f"z{piece.uid}",
                name=f"z{piece.name}",
                edges=edges,
                darts=tuple(replace(d, uid=f"z{d.uid}", host=f"z{d.host}") for d in piece.darts),
                notches=tuple(replace(n, uid=f"z{n.uid}", edge=f"z{n.edge}") for n in piece.notches),
                buttons=tuple(replace(b, uid=f"z{b.uid}", on=f"z{b.on}") for b in piece.buttons),
            )
        )
    seams = tuple(
        replace(
            s,
            uid=f"z{s.uid}",
            a=tuple(replace(p, piece=f"z{p.piece}", of=f"z{p.of}") for p in s.a),
            b=tuple(replace(p, piece=f"z{p.piece}", of=f"z{p.of}") for p in s.b),
        )
        for s in pattern.seams
    )
    return replace(pattern, pieces=tuple(pieces), seams=seams)


@pytest.mark.parametrize("turned", [False, True])
def test_the_allowance_that_differs_most_is_told_with_its_side(turned: bool) -> None:
    """One side widens evenly from 10 to 20 mm, the other has 10: of 24 places the last is 9.8 mm off, whichever end."""
    one, two = ring(SQUARE), ring(SQUARE, "b", at=300.0)
    widths = Allowance(width=20.0, end_width=10.0) if turned else Allowance(width=10.0, end_width=20.0)
    pattern = sewn(edge_of(one, "right", allowance=widths), two)
    (found,) = [f for f in run_checks(pattern) if f.check == "allowances"]
    most = 10 + 10 * 23.5 / 24
    assert found.figure == pytest.approx(most - 10, abs=1e-6)
    assert found.text.startswith(
        f"a.right has {plain(most)} mm of allowance where b.left, which it is sewn to, has 10 mm"
    )
