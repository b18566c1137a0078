"""Faults put into a made-up blouse and a skirt: collar, cuff, stand, waistband, pocket and their marks. Each is found
and named first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern, Piece, Position
from tests.garments import garment as whole
from tests.seeding import corner_moved, made, with_edge, with_piece

SKIRT = """
block skirt --size=bust-90
edge skirt-back.centre --use=seam
seam skirt-back.centre ~skirt-back.centre
strip waistband --kind=waistband --to=skirt-back.waist+skirt-front.waist --both
pocket skirt-back.hip-line@45%
pocket skirt-front.side/waist@4cm..20cm --kind=in-seam --material=pocketing
allowance all --width=1cm
allowance skirt-front.hem skirt-back.hem --width=3cm
label all --material=shell
label skirt-back --cut=pair
label pocket-bag under-bag --material=pocketing
"""


@lru_cache
def blouse() -> Pattern:
    return whole("hazel-blouse", "bust-90")


@lru_cache
def skirt() -> Pattern:
    return made(SKIRT)


def notch_shifted(pattern: Pattern, piece: str, edge: str, by: float, number: int = 0) -> Pattern:
    held = pattern.piece(piece)
    mine = [n for n in held.notches if n.edge == held.edge(edge).uid]
    moved = replace(mine[number], at=Position(mode=mine[number].at.mode, value=mine[number].at.value + by))
    return with_piece(pattern, replace(held, notches=tuple(moved if n.uid == moved.uid else n for n in held.notches)))


def button_shifted(pattern: Pattern, piece: str, kind: str, by: tuple[float, float]) -> Pattern:
    held = pattern.piece(piece)
    first = next(b for b in held.buttons if b.kind == kind)
    slit = None if first.slit is None else first.slit + np.array(by)
    other = replace(first, at=first.at + np.array(by), slit=slit)
    return with_piece(pattern, replace(held, buttons=tuple(other if b.uid == other.uid else b for b in held.buttons)))


def without_button(pattern: Pattern, piece: str) -> Pattern:
    held = pattern.piece(piece)
    first = next(b for b in held.buttons if b.kind == "button")
    return with_piece(pattern, replace(held, buttons=tuple(b for b in held.buttons if b.uid != first.uid)))


def without_seam(pattern: Pattern, piece: str, edge: str) -> Pattern:
    uid = pattern.piece(piece).edge(edge).uid
    return replace(pattern, seams=tuple(s for s in pattern.seams if uid not in {p.of for p in (*s.a, *s.b)}))


def changed(pattern: Pattern, piece: str, change: Callable[[Piece], Piece]) -> Pattern:
    return with_piece(pattern, change(pattern.piece(piece)))


@dataclass(frozen=True)
class Fault:
    """What is done to which garment, the checks of which one has to name it first, and where."""

    said: str
    start: Callable[[], Pattern]
    put: Callable[[Pattern], Pattern]
    check: str
    where: str


FAULTS = [
    *(
        Fault(
            f"front neck {by:+} mm, collar as it was",
            blouse,
            lambda p, by=by: corner_moved(p, ("front", "shoulder", "neck"), by),
            "seam-walk",
            "front",
        )
        for by in (-3.0, 4.0)
    ),
    Fault(
        "stand too long",
        blouse,
        lambda p: corner_moved(p, ("stand", "end", "neck"), 0.0, -6.0),
        "seam-walk notches",
        "stand",
    ),
    Fault("fall too short", blouse, lambda p: corner_moved(p, ("fall", "end", "neck"), 0.0, 6.0), "seam-walk", "fall"),
    Fault("cuff too short", blouse, lambda p: corner_moved(p, ("cuff", "seam", "start"), -5.0), "seam-walk", "cuff"),
    Fault(
        "shoulder notch of the stand", blouse, lambda p: notch_shifted(p, "stand", "neck", 3.0), "notches", "stand.neck"
    ),
    Fault(
        "notch of the under stand",
        blouse,
        lambda p: notch_shifted(p, "under-stand", "neck", -4.0),
        "notches",
        "under-stand",
    ),
    Fault("centre notch of the stand", blouse, lambda p: notch_shifted(p, "stand", "neck", 2.5, 1), "notches", "neck"),
    Fault(
        "a button beside its hole",
        blouse,
        lambda p: button_shifted(p, "front", "button", (3.0, 0.0)),
        "buttons",
        "front",
    ),
    Fault(
        "a button along the front",
        blouse,
        lambda p: button_shifted(p, "front", "button", (0.0, 6.0)),
        "buttons",
        "front",
    ),
    Fault(
        "the cuff's button higher", blouse, lambda p: button_shifted(p, "cuff", "button", (4.0, 4.0)), "buttons", "cuff"
    ),
    Fault("a button forgotten", blouse, lambda p: without_button(p, "front"), "buttons", "front"),
    Fault("collar sewn to nothing", blouse, lambda p: without_seam(p, "fall", "outer"), "open-edges", "fall"),
    Fault(
        "one cuff only",
        blouse,
        lambda p: changed(p, "cuff", lambda c: replace(c, cut_as="single", quantity=1)),
        "quantities",
        "cuff",
    ),
    Fault(
        "stand with another allowance",
        blouse,
        lambda p: with_edge(
            p,
            "stand",
            replace(
                p.piece("stand").edge("neck"), allowance=replace(p.piece("stand").edge("neck").allowance, width=6.0)
            ),  # type: ignore[type-var]
        ),
        "allowances",
        "stand",
    ),
    Fault(
        "waistband too long",
        skirt,
        lambda p: corner_moved(p, ("skirt-front", "side", "waist"), 0.0, 4.0),
        "seam-walk",
        "skirt",
    ),
    Fault(
        "side notch of the waistband",
        skirt,
        lambda p: notch_shifted(p, "waistband", "seam", 5.0),
        "notches",
        "waistband",
    ),
    Fault(
        "patch smaller than its line",
        skirt,
        lambda p: corner_moved(p, ("pocket", "opening", "edge"), 0.0, 4.0),
        "seam-walk",
        "pocket",
    ),
    Fault(
        "bag shorter than its opening",
        skirt,
        lambda p: corner_moved(p, ("pocket-bag", "opening", "bag"), -5.0),
        "seam-walk",
        "pocket-bag",
    ),
    Fault("bag not sewn in", skirt, lambda p: without_seam(p, "under-bag", "opening"), "open-edges", "under-bag"),
]


@pytest.mark.parametrize("garment", [blouse, skirt])
def test_the_garments_are_sound(garment: Callable[[], Pattern]) -> None:
    assert [f.text for f in run_checks(garment())] == []


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.said)
def test_a_fault_is_found_and_named_first(fault: Fault) -> None:
    found = run_checks(fault.put(fault.start()))
    told = [f"{f.severity} {f.check}: {f.text}" for f in found]
    assert found, "nothing was found"
    assert found[0].check in fault.check.split(), told
    assert any(fault.where in text for text in found[0].where), told


def test_a_stored_measure_that_has_gone_stale_is_named() -> None:
    """The check "measures": what was stored before the neck was changed is told, with both figures."""
    lines = [
        "block bodice --size=bust-90",
        "measure back.neck+front.neck --as=neckline",
        "move front.neck/centre --by=-2cm",
        'strip neckband --length="2*neckline"',
    ]
    found = [f for f in run_checks(made("\n".join(lines))) if f.check == "measures"]
    assert len(found) == 1
    assert "'neckline' was stored as" in found[0].text
    # in the other order it holds, and where nothing counts with it nobody minds
    assert not [f for f in run_checks(made("\n".join(lines[i] for i in (0, 2, 1, 3)))) if f.check == "measures"]
    assert not [f for f in run_checks(made("\n".join(lines[:3]))) if f.check == "measures"]
