"""Faults put into the worked garments, each of another kind or place: found, and named first.

They are those of a reviewer's list: lengths, notches, joined lines, darts, allowances, marks, labels and counts (common
practice, no source). A garment is drafted once, and its values are changed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.pattern.values import Allowance, Pattern, Piece, Position
from tests.garments import garment
from tests.seeding import corner_moved, handle_turned, made, with_edge, with_piece

Put = Callable[[Pattern], Pattern]


@dataclass(frozen=True)
class Fault:
    """What is done to which garment, the checks of which one names it first, and a part of where."""

    garment: str
    said: str
    put: Put
    checks: str
    where: str


def part(name: str) -> tuple[str, str]:
    piece, _, edge = name.partition(".")
    return piece, edge


def slid(name: str, by: float) -> Put:
    """The corner at the end of an edge slid along it."""
    piece, edge = part(name)

    def put(p: Pattern) -> Pattern:
        held = p.piece(piece)
        return corner_moved(p, (piece, edge, held.after(held.edge(edge)).name), by)

    return put


def turned(name: str, degrees: float) -> Put:
    """An edge turned where it leaves its first corner."""
    piece, edge = part(name)
    return lambda p: handle_turned(p, piece, edge, 0, degrees)


def notch(name: str, by: float | None) -> Put:
    """The first notch of an edge moved along it; None takes it away."""
    piece, edge = part(name)

    def put(p: Pattern) -> Pattern:
        held = p.piece(piece)
        first = next(n for n in held.notches if n.edge == held.edge(edge).uid)
        kept = [n for n in held.notches if n.uid != first.uid]
        if by is not None:
            kept.append(replace(first, at=Position(mode=first.at.mode, value=first.at.value + by)))
        return with_piece(p, replace(held, notches=tuple(kept)))

    return put


def taken_up(name: str, by: float) -> Put:
    """More is folded, gathered or eased there than was meant."""
    piece, edge = part(name)

    def put(p: Pattern) -> Pattern:
        held = p.piece(piece).edge(edge)
        first = held.takeups[0]
        more = replace(first, amount=first.amount + by)
        return with_edge(p, piece, replace(held, takeups=(more, *held.takeups[1:])))

    return put


def wide(name: str, width: float) -> Put:
    """Another allowance."""
    piece, edge = part(name)
    return lambda p: with_edge(p, piece, replace(p.piece(piece).edge(edge), allowance=Allowance(width=width)))


def unsewn(name: str) -> Put:
    """The seams of an edge are not stated."""
    piece, edge = part(name)

    def put(p: Pattern) -> Pattern:
        uid = p.piece(piece).edge(edge).uid
        return replace(p, seams=tuple(s for s in p.seams if uid not in {x.of for x in (*s.a, *s.b)}))

    return put


def having(piece: str, **fields: object) -> Put:
    """Another label."""
    return lambda p: with_piece(p, replace(p.piece(piece), **fields))  # type: ignore[arg-type]


def step(text: str) -> Put:
    return lambda p: made(text, p)


def leg(piece: str, by: float) -> Put:
    """The point of the first dart moved aside, so that its legs are unequal."""

    def put(p: Pattern) -> Pattern:
        held: Piece = p.piece(piece)
        dart = held.darts[0]
        across = dart.feet[1] - dart.feet[0]
        point = dart.points[0] + by * across / np.linalg.norm(across)
        other = replace(dart, legs=(line(dart.feet[0], point), line(point, dart.feet[1])))
        return with_piece(p, replace(held, darts=(other, *held.darts[1:])))

    return put


def grain(piece: str, degrees: float) -> Put:
    def put(p: Pattern) -> Pattern:
        held = p.piece(piece)
        was = held.grain
        assert was is not None
        turn = Affine.rotation(np.radians(degrees), tuple((was.start + was.end) / 2))
        now = replace(was, start=turn.apply(was.start), end=turn.apply(was.end))
        return with_piece(p, replace(held, grain=now))

    return put


def button(piece: str, kind: str, by: tuple[float, float] | None) -> Put:
    """The first button or buttonhole moved; None takes it away."""

    def put(p: Pattern) -> Pattern:
        held = p.piece(piece)
        first = next(b for b in held.buttons if b.kind == kind)
        kept = [b for b in held.buttons if b.uid != first.uid]
        if by is not None:
            slit = None if first.slit is None else first.slit + np.array(by)
            kept.append(replace(first, at=first.at + np.array(by), slit=slit))
        return with_piece(p, replace(held, buttons=tuple(kept)))

    return put


C, G, S, Y = "tansy-camisole", "campion-skirt", "sorrel-shift", "yarrow-skirt"
T, B, M, L, H = "teasel-trousers", "bramble-frock", "mallow-dress", "lupin-top", "yoked-shirt"
J, N, P, Z, D = "rowan-jacket", "narrow-skirt", "peplum-top", "hazel-blouse", "lined-shift"
FAULTS = [
    Fault(C, "a side 3 mm longer", slid("back.side", 3.0), "seam-walk", "back.side"),
    Fault(C, "the notch at the waist 5 mm lower", notch("back.side", 5.0), "notches", "side"),
    Fault(C, "no notch on one side", notch("back.side", None), "notches", "side"),
    Fault(C, "the bust dart's legs unequal", leg("front", 6.0), "dart-legs", "front.bust-dart"),
    Fault(C, "an allowance of 15 mm on one side", wide("back.side", 15.0), "allowances", "back.side"),
    Fault(C, "the back's fold 3° off the hem", turned("back.hem", 4.0), "run-on square", "back"),
    Fault(C, "the grain of the back turned by 4°", grain("back", 4.0), "grain", "back"),
    Fault(
        C, "a back cut as a pair on its fold", having("back", cut_as="pair", quantity=2), "labels quantities", "back"
    ),
    Fault(G, "five gores", having("gore", quantity=3), "quantities", "gore"),
    Fault(G, "a gore's seam 4 mm longer", slid("gore-back.side", 4.0), "seam-walk", "side"),
    Fault(G, "the waist of a facing 4 mm longer", slid("gore-facing.waist", 4.0), "seam-walk derived", "waist"),
    Fault(G, "a hem that juts out at a seam", turned("gore.hem", 6.0), "run-on square", "gore"),
    Fault(G, "the notch at the hip 6 mm lower", notch("gore.side", 6.0), "notches", "side"),
    Fault(G, "the zip 1 cm wide on one side", wide("gore-front.zip", 10.0), "cut-line allowances corners", "gore"),
    Fault(G, "a facing dropped", step("drop gore-back-facing"), "open-edges quantities", "gore"),
    Fault(S, "6 mm more gathered", taken_up("front.yoke", 6.0), "seam-walk", "yoke"),
    Fault(S, "the stop of the gathers 7 mm on", notch("yoke.yoke", 7.0), "notches", "yoke"),
    Fault(S, "the yoke cut as a pair", having("yoke", cut_as="pair", quantity=2), "labels quantities", "yoke"),
    Fault(S, "the yoke 4° off its fold", turned("yoke.centre", 4.0), "square", "yoke"),
    Fault(S, "the hem dips at the side", turned("front.hem", -5.0), "run-on square", "front"),
    Fault(S, "a felt yoke", having("yoke", material="felt"), "labels", "yoke"),
    Fault(Y, "a pleat 5 mm deeper", taken_up("left-front.waist", 5.0), "seam-walk notches", "waist"),
    Fault(Y, "the waistband 5 mm longer", slid("waistband.seam", -5.0), "seam-walk notches", "waistband"),
    Fault(Y, "no waistband", step("drop waistband"), "open-edges", "waist"),
    Fault(Y, "the wrap's facing 5 mm shorter", slid("skirt-front-facing.wrap", -5.0), "seam-walk derived", "wrap"),
    Fault(Y, "the back's side 3 mm shorter", slid("skirt-back.side", -3.0), "seam-walk", "side"),
    Fault(Y, "no label on the back", having("skirt-back", material=""), "labels", "skirt-back"),
    Fault(T, "the inside leg 4 mm longer", slid("trouser-back.inside-leg", 4.0), "seam-walk", "inside-leg"),
    Fault(T, "the notch at the knee 5 mm lower", notch("trouser-front.inside-leg", 5.0), "notches", "inside-leg"),
    Fault(T, "the waistband 6 mm shorter", slid("waistband.seam", 6.0), "seam-walk derived", "waistband"),
    Fault(T, "the fly's facing shorter", slid("fly-facing.fly", -4.0), "seam-walk derived", "fly"),
    Fault(T, "the pocket's bag narrower", slid("pocket-bag.opening", -5.0), "seam-walk", "pocket-bag"),
    Fault(T, "a dart's legs unequal", leg("trouser-back", 6.0), "dart-legs", "trouser-back"),
    Fault(T, "an inside leg 2 cm wide", wide("trouser-back.inside-leg", 20.0), "allowances", "inside-leg"),
    Fault(T, "one back only", having("trouser-back", cut_as="single", quantity=1), "quantities hands", "trouser-back"),
    Fault(T, "the hem juts out", turned("trouser-back.hem", 5.0), "run-on", "hem"),
    Fault(B, "the collar 5 mm longer", slid("collar.neck", 5.0), "seam-walk", "collar"),
    Fault(B, "a button 4 mm beside its hole", button("back", "button", (4.0, 0.0)), "buttons", "back"),
    Fault(B, "a button forgotten", button("back", "button", None), "buttons", "back"),
    Fault(B, "a buttonhole 6 mm lower", button("back", "buttonhole", (0.0, 6.0)), "buttons", "back"),
    Fault(B, "the sleeve's underarm longer", slid("sleeve.underarm-back", 3.0), "seam-walk", "underarm"),
    Fault(B, "the skirt gathered 8 mm more", taken_up("skirt-front.seam", 8.0), "seam-walk", "skirt-front"),
    Fault(B, "the collar's shoulder notch 4 mm on", notch("collar.neck", 4.0), "notches", "collar"),
    Fault(B, "one sleeve", having("sleeve", cut_as="single", quantity=1), "quantities", "sleeve"),
    Fault(B, "the under collar unsewn", unsewn("under-collar.outer"), "open-edges", "collar"),
    Fault(M, "a tier gathered 1 cm more", taken_up("tier-2.seam", 10.0), "seam-walk", "tier-2"),
    Fault(M, "a tier unsewn", unsewn("tier-3.seam"), "open-edges", "tier"),
    Fault(M, "the shirring 7 mm less", taken_up("back.hip", -7.0), "seam-walk", "hip"),
    Fault(M, "the notch at the waist 4 mm off", notch("back.side", 4.0), "notches", "side"),
    Fault(M, "the middle tier out of another cloth", having("tier-2", material="felt"), "labels", "tier-2"),
    Fault(
        L, "the armhole's facing 3 mm longer", slid("front-armhole-facing.armhole", 3.0), "seam-walk derived", "armhole"
    ),
    Fault(L, "the shoulder 3 mm shorter", slid("back.shoulder", -3.0), "seam-walk derived", "shoulder"),
    Fault(L, "the neck's facing dropped", step("drop back-neck-facing"), "open-edges", "neck"),
    Fault(L, "an armhole 5° off at the shoulder", turned("back.armhole", 6.0), "run-on derived", "armhole"),
    Fault(L, "a side 15 mm wide", wide("back.side", 15.0), "allowances", "side"),
    Fault(H, "the stand 4 mm longer", slid("stand.neck", 4.0), "seam-walk derived", "stand"),
    Fault(H, "the box pleat 6 mm deeper", taken_up("back-low.yoke", 6.0), "seam-walk", "yoke"),
    Fault(H, "the cuff 5 mm shorter", slid("cuff.seam", -5.0), "seam-walk derived", "cuff"),
    Fault(H, "a pleat of the sleeve 4 mm deeper", taken_up("sleeve.hem", 4.0), "seam-walk", "sleeve.hem"),
    Fault(H, "a button of the front 5 mm lower", button("front", "buttonhole", (0.0, 5.0)), "buttons", "front"),
    Fault(H, "the stand's shoulder notch 4 mm on", notch("stand.neck", 4.0), "notches", "stand"),
    Fault(H, "one cuff only", having("cuff", cut_as="single", quantity=1), "quantities", "cuff"),
    Fault(H, "the yoke's grain turned by 3°", grain("yoke", 3.0), "grain", "yoke"),
    Fault(J, "the collar 5 mm longer", slid("fall.neck", 5.0), "seam-walk derived", "fall"),
    Fault(
        J,
        "the hind seam of the top sleeve 4 mm longer",
        slid("top-sleeve.hind-seam", 4.0),
        "seam-walk derived",
        "hind-seam",
    ),
    Fault(J, "the front facing 5 mm shorter at the neck", slid("front-facing.neck", -5.0), "seam-walk derived", "neck"),
    Fault(J, "a buttonhole 5 mm lower", button("front", "buttonhole", (0.0, 5.0)), "buttons", "front"),
    Fault(J, "the under sleeve forgotten", step("drop under-sleeve"), "open-edges", "back.armhole"),
    Fault(J, "the side of the front's lining 4 mm longer", slid("front-lining.side", 4.0), "seam-walk", "side"),
    Fault(J, "a notch of the cap 7 mm on", notch("top-sleeve.cap", 7.0), "notches cap-ease", "cap"),
    Fault(J, "one top sleeve", having("top-sleeve", cut_as="single", quantity=1), "quantities hands", "top-sleeve"),
    Fault(N, "the waistband 5 mm shorter", slid("waistband.seam", -5.0), "seam-walk derived", "waistband"),
    Fault(N, "the zip 1 cm wide on one side", wide("skirt-back.zip", 10.0), "cut-line allowances corners", "zip"),
    Fault(N, "the notch of the side 5 mm lower", notch("skirt-front.side", 5.0), "notches", "side"),
    Fault(N, "a dart's legs unequal", leg("skirt-front", 6.0), "dart-legs", "skirt-front"),
    Fault(N, "the grain of the back turned by 4°", grain("skirt-back", 4.0), "grain", "skirt-back"),
    Fault(N, "a lining that hangs below the hem", step("move skirt-front-lining.hem --by=4cm"), "seam-walk", "lining"),
    Fault(P, "a fold of the neck 5 mm deeper", taken_up("upper.neck", 5.0), "seam-walk", "upper.neck"),
    Fault(P, "the lower edge 4 mm shorter", slid("upper.style", -4.0), "seam-walk", "style"),
    Fault(P, "the neckband's notch 6 mm on", notch("neckband.neck", 6.0), "notches", "neckband"),
    Fault(P, "the inner band forgotten", step("drop inner-band"), "open-edges", "band"),
    Fault(P, "the lining's dart with unequal legs", leg("upper-lining", 6.0), "dart-legs seam-walk", "upper-lining"),
    Fault(P, "a back panel 3 mm longer", slid("back-side.panel", 3.0), "seam-walk", "panel"),
    Fault(P, "the hem juts out at a panel seam", turned("low-side.hem", 6.0), "run-on square", "low-side"),
    Fault(Z, "the stand 4 mm longer", slid("stand.neck", 4.0), "square seam-walk", "stand"),
    Fault(Z, "the cuff 5 mm shorter", slid("cuff.seam", -5.0), "seam-walk derived", "cuff"),
    Fault(Z, "a button 4 mm beside its hole", button("front", "button", (4.0, 0.0)), "buttons", "front"),
    Fault(Z, "one front only", having("front", cut_as="single", quantity=1), "quantities hands", "front"),
    Fault(Z, "a side 15 mm wide", wide("back.side", 15.0), "allowances", "side"),
    Fault(D, "the front facing dropped", step("drop front-facing"), "open-edges", "front"),
    Fault(D, "the lining 6 mm narrower", step("move front-lining.side --by=-6mm"), "derived seam-walk", "front-lining"),
    Fault(
        D, "the neck facing 4 mm longer", slid("front-facing.neckline", 4.0), "square seam-walk derived", "front-facing"
    ),
    Fault(D, "the ease pleat 5 mm deeper", taken_up("back-lining.inner", 5.0), "seam-walk derived", "back-lining"),
    Fault(D, "a lining out of felt", having("back-lining", material="felt"), "labels", "back-lining"),
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.garment}: {fault.said}")
def test_a_fault_is_found_and_named_first(fault: Fault) -> None:
    found = run_checks(fault.put(garment(fault.garment)))
    told = [f"{f.severity} {f.check}: {f.text}" for f in found]
    assert found, "nothing was found"
    assert found[0].check in fault.checks.split(), told
    assert any(fault.where in text for text in found[0].where), told
