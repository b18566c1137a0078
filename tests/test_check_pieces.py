"""Checks held against arithmetic of this file's own, and faults that need pieces of their own."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from flatcut.blocks.body import SIZES
from flatcut.checks.check import Subject, load, names, run_checks
from flatcut.checks.run_on import RunOn
from flatcut.checks.seam_walk import SeamWalk
from flatcut.declared.declared import kinds
from flatcut.errors import GeometryError, UsageError
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.formats.svg.read import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, line, transform
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.mating import mates
from flatcut.pattern.moving import moved
from flatcut.pattern.seaming import walked
from flatcut.pattern.values import Allowance, Edge, Notch, Pattern, Piece, Position, RunPart, Seam
from flatcut.reports import report
from flatcut.reports.check import tolerance
from tests.seeding import SETS, bodice, corner_moved, handle_turned, made, skirt, top


def of(check: str, pattern: Pattern | Subject) -> list[Finding]:
    return run_checks(pattern, [load(check)()])


# Clean blocks ---------------------------------------------------------------------------------------------------------

BLOCKS = [("skirt", "")] + [(k, m) for k in ("bodice", "torso", "dress") for m in ("neck-and-across", "bust-only")]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("kind", "method"), BLOCKS)
def test_blocks_are_clean_in_every_size(kind: str, method: str, size: str) -> None:
    """As drafted; with a sleeve set in; and made up: the edges that nothing is sewn to finished, with allowances."""
    way = f" --method={method}" if method else ""
    pattern = made(f"block {kind} --size={size}{way}")
    assert [f.text for f in run_checks(pattern)] == []
    names_of = ("skirt-front", "skirt-back") if kind == "skirt" else ("front", "back")
    finished = [f"{name}.{edge}" for name in names_of for edge in ("neck", "waist") if edge in edges(pattern, name)]
    if kind != "skirt":
        pattern = made(f"block sleeve --size={size}", pattern)
        assert [f.text for f in run_checks(pattern)] == []
    pattern = made(f"edge {' '.join(finished)} --use=finished\nallowance all\nlabel all --material=shell", pattern)
    assert [f.text for f in run_checks(pattern)] == []


def edges(pattern: Pattern, piece: str) -> set[str]:
    return {edge.name for edge in pattern.piece(piece).edges}


# Walking, against integration and arithmetic --------------------------------------------------------------------------


def integrated(curve: Curve) -> float:
    """Arc length by adaptive quadrature (QUADPACK, through scipy)."""
    total = 0.0
    for p in curve.controls:

        def speed(t: float, p: np.ndarray = p) -> float:
            d = 3 * ((1 - t) ** 2 * (p[1] - p[0]) + 2 * t * (1 - t) * (p[2] - p[1]) + t * t * (p[3] - p[2]))
            return float(math.hypot(*d))

        total += quad(speed, 0, 1, epsabs=1e-11, limit=200)[0]
    return total


@pytest.mark.parametrize("name", SETS)
def test_walked_lengths_are_those_of_an_integration(name: str) -> None:
    pattern = SETS[name]()
    whole = {edge.uid: sum(map(integrated, edge.parts)) for piece in pattern.pieces for edge in piece.edges}
    compared = 0
    for seam in pattern.seams:
        one, two, rest = walked(pattern, seam)
        for run, sewn in ((seam.a, one), (seam.b, two)):
            if all(part.start is None and part.end is None for part in run):
                assert sewn == pytest.approx(sum(whole[part.of] for part in run), abs=1e-6)
                compared += 1
        assert rest == pytest.approx(two - one - seam.ease)
    assert compared >= 2


def arc(radius: float, degrees: float) -> Curve:
    """An arc of a circle about the origin as two cubics, off the circle by less than 1e-6 of the radius."""
    half = math.radians(degrees) / 2
    k = 4 / 3 * math.tan(half / 4) * radius
    spans = []
    for turn in (0.0, half):
        p0, p3 = (radius * np.array([math.cos(a), math.sin(a)]) for a in (turn, turn + half))
        t0, t3 = (np.array([-math.sin(a), math.cos(a)]) for a in (turn, turn + half))
        spans.append([p0, p0 + k * t0, p3 - k * t3, p3])
    return Curve(np.array(spans), np.zeros(2, dtype=bool))


def walk_example(by: float = 0.0) -> Pattern:
    """Closed form: an arc of radius 30 over 40 degrees, 20.9440 long, against a straight as long; in cm there,
    so in mm ten times as much."""
    curve = arc(300.0, 40.0)
    end = curve.end
    disc = [curve, line(end, (0.0, 0.0)), line((0.0, 0.0), (300.0, 0.0))]
    long = 209.43951023931953 + by
    strip = [
        line((500, 0), (500 + long, 0)),
        line((500 + long, 0), (500 + long, 80)),
        line((500 + long, 80), (500, 80)),
        line((500, 80), (500, 0)),
    ]
    pieces = [
        Piece(
            uid=uid,
            name=uid,
            edges=tuple(Edge(uid=f"{uid}{k}", name=f"e{k}", parts=(c,)) for k, c in enumerate(curves)),
        )
        for uid, curves in (("disc", disc), ("strip", strip))
    ]
    notch = Notch(uid="n", edge="disc0", at=Position(mode="start", value=120.0))
    pieces[0] = replace(pieces[0], notches=(notch,))
    seam = Seam(uid="s", a=(RunPart(piece="disc", of="disc0"),), b=(RunPart(piece="strip", of="strip0"),))
    return Pattern(pieces=tuple(pieces), seams=(seam,))


def test_the_walk_example() -> None:
    pattern = walk_example()
    one, two, rest = walked(pattern, pattern.seams[0])
    assert one == pytest.approx(209.440, abs=0.001)
    assert rest == pytest.approx(0.0, abs=0.001)
    assert not of("seam-walk", pattern)
    # a notch at 12.000 lands at 12.000 +- 0.01 mm
    (landed,) = mates(pattern, "disc0", 120.0)
    assert landed.sewn == pytest.approx(120.0, abs=0.01)
    assert two == pytest.approx(209.43951023931953)
    (found,) = of("seam-walk", walk_example(by=2.0))
    assert (found.severity, found.where[0]) == (FAULT, "strip.e0")
    assert found.figure == pytest.approx(2.0, abs=0.001)


@pytest.mark.parametrize(
    ("by", "verdict"), [(0.4, "aim"), (0.9, "pass"), (1.3, "warning"), (1.7, "fault"), (-1.7, "fault")]
)
def test_verdicts_of_a_mismatch(by: float, verdict: str) -> None:
    walk = SeamWalk()
    pattern = walk_example(by=by)
    assert walk.verdict(walked(pattern, pattern.seams[0])[2]) == verdict
    found = of("seam-walk", pattern)
    assert [f.severity for f in found] == ([verdict] if verdict in ("warning", "fault") else [])


# Joined lines ---------------------------------------------------------------------------------------------------------


def directions(span: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where a span sets out to and where it arrives from, handles that lie on their node left out."""
    at = list(span)
    out = next(p - at[0] for p in at[1:] if math.hypot(*(p - at[0])) > 1e-9)
    back = next(p - at[3] for p in at[2::-1] if math.hypot(*(p - at[3])) > 1e-9)
    return out, back


def inside(piece: Piece, first: str, second: str) -> float:
    """Interior angle in degrees by atan2, the side by the shoelace sum of the control points (both from scratch)."""
    _, back = directions(piece.edge(first).parts[-1].controls[-1])
    out, _ = directions(piece.edge(second).parts[0].controls[0])
    ring = np.concatenate([part.controls[:, 0] for edge in piece.edges for part in edge.parts])
    x, y = ring[:, 0], ring[:, 1]
    twice = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    angle = math.degrees(math.atan2(back[1], back[0]) - math.atan2(out[1], out[0]))
    return (angle if twice > 0 else -angle) % 360


@pytest.mark.parametrize("by", [3.0, -4.0, 9.0])
def test_a_joined_angle_is_that_of_two_corners(by: float) -> None:
    pattern = handle_turned(top(), "front", "neck", -1, by)
    (found,) = of("run-on", pattern)
    wanted = inside(pattern.piece("front"), "neck", "shoulder") + inside(pattern.piece("back"), "shoulder", "neck")
    assert found.figure == pytest.approx(wanted - 180, abs=1e-6)
    assert set(found.where) == {"front.neck/shoulder", "back.shoulder/neck"}


def test_every_joined_angle_of_the_sets_by_arithmetic_of_its_own() -> None:
    for pattern, pairs in (
        (
            top(),
            [
                ("front", "neck", "shoulder", "back", "shoulder", "neck"),
                ("front", "side", "waist", "back", "waist", "side"),
            ],
        ),
        (skirt(), [("skirt-front", "hem", "side", "skirt-back", "side", "hem")]),
    ):
        for one, a, b, two, c, d in pairs:
            joined = inside(pattern.piece(one), a, b) + inside(pattern.piece(two), c, d)
            assert joined == pytest.approx(180, abs=2), (one, a, b)


def crossing(front: float, back: float, sleeve_front: float, sleeve_back: float) -> Pattern:
    """Four pieces about one point: side and armhole seam cross there. The angles of their corners at it, in degrees."""

    def wedge(name: str, first: str, last: str, angle: float) -> Piece:
        a, b = np.array([200.0, 0.0]), 200 * np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
        sides = ((first, line((0, 0), a)), ("far", line(a, b)), (last, line(b, (0, 0))))
        made_of = tuple(
            Edge(uid=f"{name}-{n}", name=n, parts=(c,), use="finished" if n == "far" else "seam") for n, c in sides
        )
        return Piece(uid=name, name=name, edges=made_of)

    pieces = (
        wedge("front", "side", "armhole", front),
        wedge("back", "armhole", "side", back),
        wedge("under-front", "cap", "underarm", sleeve_front),
        wedge("under-back", "underarm", "cap", sleeve_back),
    )
    return made(
        "seam front.side back.side\nseam front.armhole under-front.cap\nseam back.armhole under-back.cap\n"
        "seam under-front.underarm under-back.underarm",
        Pattern(pieces=pieces),
    )


def test_of_two_seams_that_cross_one_line_has_to_run_on() -> None:
    """Side seam and armhole seam cross under the arm: the armhole runs on, side and underarm need not."""
    assert not of("run-on", crossing(100, 80, 95, 85))
    (found,) = of("run-on", crossing(104, 80, 95, 85))
    assert found.figure == pytest.approx(4)
    assert set(found.where) == {"front.armhole/side", "back.side/armhole"}
    (other,) = of("run-on", crossing(100, 80, 95, 82))
    assert other.figure == pytest.approx(-3)
    assert set(other.where) == {"under-front.underarm/cap", "under-back.cap/underarm"}


def test_a_corner_that_is_meant_is_none_of_its_business() -> None:
    pattern = handle_turned(top(), "front", "neck", -1, 35.0)
    assert not of("run-on", pattern)
    assert run_checks(pattern, [RunOn(meant=40.0)])


def test_a_seam_to_the_mirrored_half_runs_on_where_it_is_square() -> None:
    """The centre back seam of a torso: what is 3 degrees off square is 6 off straight over the seam."""
    pattern = made("block torso --size=bust-90 --method=bust-only")
    (found,) = of("run-on", handle_turned(pattern, "back", "neck", 0, 3.0))
    assert found.where == ("back.centre/neck",)
    assert abs(found.figure) == pytest.approx(6.0, abs=0.1)


# Suggested seams ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("put", [
    lambda p: corner_moved(p, ("front", "side", "waist"), 6.0),
    lambda p: handle_turned(p, "front", "neck", -1, 6.0),
    lambda p: made("allowance back.side --width=2cm", p),
    lambda p: made("corner back.waist/side --kind=bevelled", p),
])  # fmt: skip
def test_a_suggested_seam_only_warns(put) -> None:
    pattern = put(top())
    stated = run_checks(pattern)
    assert stated[0].severity == FAULT
    suggested = replace(pattern, seams=tuple(replace(seam, suggested=True) for seam in pattern.seams))
    found = run_checks(suggested)
    assert found
    assert {f.severity for f in found} == {WARNING}


# Left and right -------------------------------------------------------------------------------------------------------


def both(apart: float = 0.0, *, mirror: bool = True) -> Pattern:
    """The top's back for the left and for the right."""
    left = replace(top().piece("back"), uid="l", name="back-left", side="left", cut_as="single", quantity=1)
    # the uids of its edges and darts are those of the left one, which no check of pairs looks at
    right = moved(left, Affine.translation(900, 30) @ Affine.rotation(0.3) @ Affine.scaling(-1 if mirror else 1, 1))
    pattern = Pattern(pieces=(left, replace(right, uid="r", name="back-right", side="right")))
    return corner_moved(pattern, ("back-right", "waist", "side"), apart) if apart else pattern


def test_mirrored_pairs() -> None:
    assert not of("pairs", both())
    assert not of("pairs", both(0.05))
    (found,) = of("pairs", both(0.6))
    assert found.severity == FAULT
    assert found.figure == pytest.approx(0.6, abs=0.1)
    assert {text.partition(".")[2] for text in found.where} <= {"waist", "side"}


def test_a_swapped_mirror_image() -> None:
    (found,) = of("pairs", both(mirror=False))
    assert found.severity == FAULT
    assert found.where == ("back-left", "back-right")
    assert "both for one side" in found.text


def test_pairs_drawn_the_other_way_round_and_notches() -> None:
    sleeve = replace(bodice().piece("sleeve"), name="sleeve-left", side="left", notches=())
    mirror = replace(moved(sleeve, Affine.scaling(-1, 1)), uid="r", name="sleeve-right", side="right")
    turned = tuple(
        replace(e, parts=tuple(Curve(p.controls[::-1, ::-1], p.straight[::-1]) for p in e.parts[::-1]))
        for e in mirror.edges[::-1]
    )
    assert not of("pairs", Pattern(pieces=(sleeve, replace(mirror, edges=turned))))
    pattern = both()
    right = pattern.piece("back-right")
    fewer = replace(right, notches=right.notches[:-1])
    (found,) = of("pairs", Pattern(pieces=(pattern.piece("back-left"), fewer)))
    assert "notches" in found.text


def test_a_seam_that_is_walked_from_the_wrong_end() -> None:
    """ "turned-seams": the hem of the front would run on into the armhole of the back."""
    pattern = top()
    assert not of("turned-seams", pattern)
    (side,) = (
        seam for seam in pattern.seams if pattern.piece("front").edge("side").uid in {p.of for p in seam.a + seam.b}
    )
    others = tuple(seam for seam in pattern.seams if seam is not side)
    wrong = replace(pattern, seams=(*others, replace(side, reversed=not side.reversed)))
    (found,) = of("turned-seams", wrong)
    assert (found.severity, found.where) == (WARNING, ("front.side", "back.side"))
    assert f"--reversed={'true' if side.reversed else 'false'}" in found.text


def test_single_pieces_that_fit_only_turned_over() -> None:
    """ "hands": two squares side by side fit along their facing edges; with one mirrored they do not, right side up."""

    def square(uid: str, at: float) -> Piece:
        corners = [(at, 0.0), (at + 200, 0.0), (at + 200, 200.0), (at, 200.0), (at, 0.0)]
        return Piece(
            uid=uid,
            name=uid,
            edges=tuple(
                Edge(
                    uid=f"{uid}{k}", name=name, parts=(line(corners[k], corners[k + 1]),), allowance=Allowance(width=10)
                )
                for k, name in enumerate(("top", "right", "bottom", "left"))
            ),
        )

    pattern = made("seam one.right two.left", Pattern(pieces=(square("one", 0), square("two", 400))))
    assert not of("hands", pattern)
    flipped = moved(pattern.piece("two"), Affine.scaling(-1, 1))
    turned = replace(pattern, pieces=(pattern.piece("one"), flipped))
    (found,) = of("hands", turned)
    assert (found.severity, found.where) == (FAULT, ("one.right", "two.left"))
    pair = replace(flipped, cut_as="pair", quantity=2)
    assert not of("hands", replace(pattern, pieces=(pattern.piece("one"), pair)))


# Cut lines and open edges ---------------------------------------------------------------------------------------------


def test_a_cut_line_inside_the_stitch_line() -> None:
    """ "cut-line": none can be made by the operations, so one that strays is put in the place of the right one."""
    subject = Subject(pattern=top())
    (front, *_) = subject.pattern.pieces
    cut = subject.cut(front.uid)
    assert cut is not None
    strayed = CutLine(curve=transform(cut.curve, Affine.translation(14.0, 0.0)), edges=cut.edges)
    subject.cuts[front.uid] = strayed
    found = run_checks(subject, [load("cut-line")()])
    assert [(f.severity, f.where) for f in found] == [(FAULT, ("front",))]
    assert found[0].figure == pytest.approx(14.0, abs=0.1)


def test_a_cut_line_that_cannot_be_made_names_its_piece() -> None:
    subject = Subject(pattern=top())
    (front, *_) = subject.pattern.pieces
    subject.cuts[front.uid] = GeometryError("the cut line of front crosses itself; make its allowances narrower")
    (found,) = run_checks(subject, [load("cut-line")()])
    assert (found.severity, found.where) == (FAULT, ("front",))
    assert "crosses itself" in found.text


def test_a_set_without_seams_gives_one_line() -> None:
    pattern = replace(bodice(), seams=())
    (found,) = of("open-edges", pattern)
    assert found.severity == WARNING
    assert "other edges are sewn to nothing" in found.text
    lined = tuple(replace(p, material="lining" if p.name == "sleeve" else "shell") for p in bodice().pieces)
    assert len(of("open-edges", replace(pattern, pieces=lined))) == 1
    # with seams in the shell alone the lining has a line of its own
    shell = {p.uid for p in lined if p.material == "shell"}
    seams = tuple(s for s in bodice().seams if {part.piece for part in (*s.a, *s.b)} <= shell)
    found = of("open-edges", replace(pattern, pieces=lined, seams=seams))
    assert [f.text.split(" is stated")[0] for f in found if f.severity == WARNING] == ["no seam of lining"]
    assert {f.where for f in found if f.severity == FAULT} == {("front.armhole",), ("back.armhole",)}


def test_a_lining_beside_the_shell_is_another_layer() -> None:
    pattern = top()
    lining = [
        replace(moved(p, Affine.translation(0, 900)), uid=f"l{p.uid}", name=f"{p.name}-lining", material="lining")
        for p in pattern.pieces
    ]
    both_layers = replace(pattern, pieces=(*pattern.pieces, *lining))
    found = of("open-edges", both_layers)
    # the lining's own edges have the uids of the shell's here; what counts is that nothing is called sewn twice
    assert not [f for f in found if "twice" in f.text]


# Settings -------------------------------------------------------------------------------------------------------------


def test_tolerances_are_fields_of_the_checks_and_each_has_one_name() -> None:
    cls = report.load("check")
    fields = [tolerance(name, own) for name in names() for own in kinds(load(name))]
    assert len(fields) == len(set(fields))
    assert set(fields) < set(kinds(cls))
    own = [key for name in names() for key in kinds(load(name))]
    assert len(own) > len(set(own)), "checks may call their tolerances alike"
    for name in names():
        for key in kinds(load(name)):
            gathered = tolerance(name, key)
            assert kinds(cls)[gathered] is kinds(load(name))[key]
            assert cls.__dataclass_fields__[gathered].default == load(name).__dataclass_fields__[key].default


def test_only_and_skip() -> None:
    cls = report.load("check")
    assert [type(c).__name__ for c in cls(only=("seam-walk",)).checks()] == ["SeamWalk"]  # type: ignore[call-arg]
    assert len(cls(skip=("grain", "labels")).checks()) == len(names()) - 2  # type: ignore[call-arg]
    for wrong in ({"only": ("seams",)}, {"only": ("grain",), "skip": ("grain",)}):
        with pytest.raises(UsageError):
            cls(**wrong)


@pytest.mark.parametrize("name", names())
def test_every_check_says_what_it_looks_for(name: str) -> None:
    cls = load(name)
    first = (cls.__doc__ or "").strip().splitlines()[0]
    assert first.endswith(".")
    assert cls().name == name
    assert run_checks(Pattern(), [cls()]) == []


def test_what_is_sewn_on_the_one_half_is_sewn_on_the_other() -> None:
    pattern = top()
    front, back = pattern.piece("front"), pattern.piece("back")
    assert (front.cut_as, back.cut_as) != ("single", "single")
    turned = []
    for seam in pattern.seams:
        parts = tuple(replace(part, mirrored=True) for part in seam.b)
        turned.append(replace(seam, b=parts, reversed=not seam.reversed))
    before = {f.where for f in of("open-edges", pattern)}
    assert {f.where for f in of("open-edges", replace(pattern, seams=tuple(turned)))} == before
    single = tuple(replace(piece, cut_as="single") for piece in pattern.pieces)
    assert len(of("open-edges", replace(pattern, pieces=single, seams=tuple(turned)))) > len(before)


@pytest.mark.parametrize(
    ("shape", "count", "more", "severity"),
    [
        ("M 0,0 H 100 L 160,600 H -60 Z", 6, "", None),  # a gore that is its own mirror image
        ("M 0,0 H 100 L 260,600 H 40 Z", 6, "", WARNING),  # one that leans: a skirt can be made of them
        ("M 0,0 H 100 L 260,600 H 40 Z", 3, "", WARNING),
        ("M 0,0 H 100 L 260,600 H 40 Z", 1, "", None),
        ("M 0,0 H 100 L 260,600 H 40 Z", 2, " --side=left", None),
        ("M 0,0 H 100 L 260,600 H 40 Z", 2, " --cut=pair", None),
        ("M 0,0 C 40,-9 60,-9 100,0 L 90,300 C 60,309 40,309 10,300 Z", 2, "", None),
        ("M 0,0 C 40,-9 60,-9 100,0 L 90,300 C 60,309 40,345 10,300 Z", 2, "", WARNING),
    ],
)
def test_what_is_cut_several_times_for_one_side_is_told(
    shape: str, count: int, more: str, severity: str | None
) -> None:
    """Whether a piece is its own mirror image is known from how its outline was written."""
    size = 'width="400mm" height="700mm" viewBox="0 0 400 700"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}><path d="{shape}"/></svg>'
    steps = "piece --names=gore\nedge gore.e1 gore.e2 gore.e3 gore.e4 --use=finished\nallowance gore\ngrain gore\n"
    found = of("labels", made(f"{steps}label gore --quantity={count}{more}", read(svg.encode())[1]))
    assert [f.severity for f in found] == ([severity] if severity else [])
    assert all("for one side" in f.text for f in found)
