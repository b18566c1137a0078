"""Faults put into sound sets of pieces: each is found, named first, and nothing is blamed that it does not touch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatcut.checks.check import names, run_checks
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Allowance, Pattern, Position, Stretch
from tests.seeding import (
    SETS,
    Seed,
    controls,
    corner_moved,
    handle_turned,
    made,
    near,
    touches,
    with_controls,
    with_edge,
    with_piece,
)


def piece_with(pattern: Pattern, name: str, **fields: object) -> Pattern:
    return with_piece(pattern, replace(pattern.piece(name), **fields))  # type: ignore[arg-type]


def edge_with(pattern: Pattern, piece: str, edge: str, **fields: object) -> Pattern:
    return with_edge(pattern, piece, replace(pattern.piece(piece).edge(edge), **fields))  # type: ignore[arg-type]


def notch_moved(pattern: Pattern, piece: str, edge: str, by: float) -> Pattern:
    held = pattern.piece(piece)
    uid = held.edge(edge).uid
    first = next(n for n in held.notches if n.edge == uid)
    other = replace(first, at=Position(mode=first.at.mode, value=first.at.value + by))
    return piece_with(pattern, piece, notches=tuple(other if n.uid == first.uid else n for n in held.notches))


def notch_taken(pattern: Pattern, piece: str, edge: str) -> Pattern:
    held = pattern.piece(piece)
    uid = held.edge(edge).uid
    first = next(n for n in held.notches if n.edge == uid)
    return piece_with(pattern, piece, notches=tuple(n for n in held.notches if n.uid != first.uid))


def bowed(pattern: Pattern, piece: str, edge: str, by: float) -> Pattern:
    points = controls(pattern, piece, edge, 0)
    way = points[-1, 3] - points[0, 0]
    out = np.array([-way[1], way[0]]) / np.linalg.norm(way)
    points[0, 1:3] += by * out * 4 / 3  # a cubic whose handles stand off by 4/3 h bows by h
    return with_controls(pattern, piece, edge, 0, points)


def dart_point_moved(pattern: Pattern, piece: str, dart: str, by: tuple[float, float]) -> Pattern:
    held = pattern.piece(piece)
    changed = []
    for d in held.darts:
        if d.name == dart:
            point = d.points[0] + np.array(by)
            d = replace(d, legs=(line(d.feet[0], point), line(point, d.feet[1])))
        changed.append(d)
    return piece_with(pattern, piece, darts=tuple(changed))


def mirrored_in_place(pattern: Pattern, name: str) -> Pattern:
    held = pattern.piece(name)
    return with_piece(pattern, moved(held, Affine.scaling(-1, 1)))


def button_moved(pattern: Pattern, name: str, number: int, by: float) -> Pattern:
    """A button moved down the drawing by mm."""
    buttons = list(pattern.piece(name).buttons)
    buttons[number] = replace(buttons[number], at=buttons[number].at + np.array([0.0, by]))
    return piece_with(pattern, name, buttons=tuple(buttons))


def grain_turned(pattern: Pattern, name: str, degrees: float) -> Pattern:
    grain = pattern.piece(name).grain
    assert grain is not None
    turn = Affine.rotation(np.radians(degrees), tuple((grain.start + grain.end) / 2))
    return piece_with(pattern, name, grain=replace(grain, start=turn.apply(grain.start), end=turn.apply(grain.end)))


def without_seam(pattern: Pattern, piece: str, edge: str) -> Pattern:
    uid = pattern.piece(piece).edge(edge).uid
    return replace(pattern, seams=tuple(s for s in pattern.seams if uid not in {p.of for p in (*s.a, *s.b)}))


def doubled_node(pattern: Pattern, piece: str, edge: str) -> Pattern:
    points = controls(pattern, piece, edge, 0)
    extra = np.repeat(points[:1, :1], 4, axis=1)
    return with_controls(pattern, piece, edge, 0, np.concatenate([extra, points]))


def twisted(pattern: Pattern, piece: str, edge: str) -> Pattern:
    points = controls(pattern, piece, edge, 0)
    way = points[-1, 3] - points[0, 0]
    out = np.array([-way[1], way[0]])
    points[0, 1], points[0, 2] = points[0, 0] + 1.6 * way + 0.8 * out, points[0, 3] - 1.6 * way + 0.8 * out
    return with_controls(pattern, piece, edge, 0, points)


def allowance_on(pattern: Pattern, piece: str, edge: str, width: float) -> Pattern:
    return edge_with(pattern, piece, edge, allowance=Allowance(width=width))


SEEDS = [
    # seams of two lengths: a corner slid along the seam
    *(
        Seed(
            f"{piece}.{first} {by:+} mm",
            where,
            "seam-walk",
            f"{piece}.{first}",
            lambda p, c=(piece, first, second), by=by: corner_moved(p, c, by),
        )
        for by in (2.0, -2.5, 4.0)
        for where, piece, first, second in (
            ("top", "front", "side", "waist"),
            ("skirt", "skirt-back", "side", "hem"),
        )
    ),
    Seed(
        "ease forgotten",
        "bodice",
        "seam-walk",
        "sleeve.cap",
        lambda p: replace(p, seams=tuple(replace(s, ease=0.0) for s in p.seams)),
    ),
    # notches
    *(
        Seed(
            f"a notch moved by {by}",
            where,
            "notches",
            f"{piece}.side",
            lambda p, a=piece, by=by: notch_moved(p, a, "side", by),
        )
        for by in (2.0, -6.0)
        for where, piece in (("top", "front"), ("bodice", "back"), ("skirt", "skirt-front"))
    ),
    Seed(
        "a notch without mate", "skirt", "notches", "skirt-front.side", lambda p: notch_taken(p, "skirt-back", "side")
    ),
    # joined lines
    *(
        Seed(
            f"{piece}.{edge} turned by {by}",
            where,
            "run-on",
            f"{piece}.",
            lambda p, a=piece, e=edge, k=part, by=by: handle_turned(p, a, e, k, by),
        )
        for where, piece, edge, part, turns in (
            ("top", "front", "armhole", 0, (3.0, -5.0, 12.0)),
            ("top", "back", "neck", 0, (3.0, -5.0, 12.0)),
            ("top", "front", "waist", 0, (3.0, -5.0, 12.0)),
            # the bust dart's leg begins in this corner, 8 degrees beside the neck
            ("bodice", "front", "neck", 0, (3.0, -5.0, -12.0)),
            ("skirt", "skirt-front", "hem", -1, (3.0, -5.0, 12.0)),
        )
        for by in turns
    ),
    # squares
    *(
        Seed(
            f"{piece}.{edge} {by} off square",
            where,
            "square",
            f"{piece}.",
            lambda p, a=piece, e=edge, k=part, by=by: handle_turned(p, a, e, k, by),
        )
        for by in (3.0, -3.0, 8.0)
        for where, piece, edge, part in (
            ("top", "front", "neck", 0),
            ("bodice", "back", "neck", 0),
            ("skirt", "skirt-front", "hem", 0),
        )
    ),
    Seed("a bowed fold", "top", "square", "front.centre", lambda p: bowed(p, "front", "centre", 1.5)),
    # darts
    Seed(
        "a dart's point to the side",
        "top",
        "dart-legs",
        "front.dart-1",
        lambda p: dart_point_moved(p, "front", "dart-1", (6.0, 0.0)),
    ),
    Seed(
        "a kink over a dart", "top", "dart-kink", "front.dart-1", lambda p: handle_turned(p, "front", "waist", 1, 5.0)
    ),
    # allowances and corners
    Seed("another allowance", "bodice", "allowances", "back.side", lambda p: allowance_on(p, "back", "side", 15.0)),
    Seed(
        "another allowance over a stretch",
        "top",
        "allowances",
        "front.side",
        lambda p: edge_with(
            p,
            "front",
            "side",
            allowance=Allowance(
                width=10.0,
                stretches=(
                    Stretch(
                        start=Position(mode="start", value=40.0), end=Position(mode="start", value=110.0), width=18.0
                    ),
                ),
            ),
        ),
    ),
    Seed(
        "allowance on the fold",
        "skirt",
        "allowances",
        "skirt-back.centre",
        lambda p: allowance_on(p, "skirt-back", "centre", 10.0),
    ),
    Seed(
        "a corner of another kind",
        "top",
        "corners",
        "back.waist/side",
        lambda p: made("corner back.waist/side --kind=bevelled", p),
    ),
    Seed(
        "a hem not turned",
        "skirt",
        "corners",
        "hem",
        lambda p: made(
            "corner skirt-front.hem/side skirt-back.side/hem --kind=mitred",
            corner_moved(
                corner_moved(p, ("skirt-front", "hem", "side"), 20.0), ("skirt-back", "side", "hem"), 0.0, -20.0
            ),
        ),
    ),
    # cut lines and outlines
    Seed("an outline that crosses itself", "top", "shape", "back", lambda p: twisted(p, "back", "armhole")),
    Seed("a neck over a dart's leg", "bodice", "shape", "front", lambda p: handle_turned(p, "front", "neck", 0, 12.0)),
    Seed("a doubled node", "bodice", "shape", "front.side", lambda p: doubled_node(p, "front", "side")),
    # grain, labels, quantities
    Seed("grain 3 degrees off", "top", "grain", "front", lambda p: grain_turned(p, "front", 3.0)),
    Seed("no grain", "bodice", "grain", "sleeve", lambda p: piece_with(p, "sleeve", grain=None)),
    Seed("an odd pair", "bodice", "labels", "sleeve", lambda p: piece_with(p, "sleeve", quantity=3)),
    Seed("a fold that is none", "top", "labels", "back", lambda p: piece_with(p, "back", cut_as="fold")),
    Seed("a material of no style", "bodice", "labels", "back", lambda p: piece_with(p, "back", material="felt")),
    Seed(
        "two sleeves for one arm",
        "bodice",
        "labels",
        "sleeve",
        lambda p: piece_with(p, "sleeve", quantity=2, cut_as="single"),
    ),
    Seed(
        "a band over a front that was opened",
        "skirt",
        "halves",
        "skirt-front.waist",
        lambda p: edge_with(
            piece_with(
                made("strip band --kind=binding --to=skirt-back.waist+skirt-front.waist --both\nallowance band", p),
                "skirt-front",
                cut_as="pair",
                quantity=2,
            ),
            "skirt-front",
            "centre",
            use="finished",
            centre=True,
        ),
    ),
    Seed(
        "a sleeve too few",
        "bodice",
        "quantities",
        "sleeve.cap",
        lambda p: piece_with(p, "sleeve", quantity=1, cut_as="single"),
    ),
    # buttons
    Seed(
        "a button out of its row",
        "top",
        "buttons",
        "back.centre",
        lambda p: button_moved(made("button back.centre@1cm..-1cm --count=5", p), "back", 2, 4.0),
    ),
    # seams that are missing or doubled
    Seed("an open side", "top", "open-edges", ".side", lambda p: without_seam(p, "front", "side")),
    Seed(
        "a seam over half its edge",
        "skirt",
        "open-edges",
        ".side",
        lambda p: replace(
            p,
            seams=tuple(
                replace(
                    s,
                    a=tuple(
                        replace(
                            part, start=Position(mode="fraction", value=0.0), end=Position(mode="fraction", value=0.5)
                        )
                        for part in s.a
                    ),
                    b=tuple(
                        replace(
                            part, start=Position(mode="fraction", value=0.5), end=Position(mode="fraction", value=1.0)
                        )
                        for part in s.b
                    ),
                )
                for s in p.seams
            ),
        ),
    ),
    Seed(
        "sewn twice",
        "top",
        "open-edges",
        "front.side",
        lambda p: replace(p, seams=(*p.seams, replace(p.seams[-1], uid="again"))),
    ),
]


PUT_ELSEWHERE = {
    "by-hand": "test_check_drawings.py",
    "cap-ease": "test_derived_checks.py",
    "cut-line": "test_check_pieces.py",
    "derived": "test_lining.py",
    "hands": "test_check_pieces.py",
    "measures": "test_derived_faults.py",
    "out-of-date": "test_check_drawings.py",
    "pairs": "test_check_pieces.py",
    "reading": "test_check_drawings.py",
    "turned-seams": "test_check_pieces.py",
}
"""Checks whose faults need a drawing, or pieces of their own, and the file that puts them in."""


def test_every_check_has_its_faults() -> None:
    seeded = {seed.check for seed in SEEDS}
    assert seeded | set(PUT_ELSEWHERE) == set(names())
    for check, file in PUT_ELSEWHERE.items():
        assert f'"{check}"' in (Path(__file__).parent / file).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", SETS)
def test_the_sets_are_sound(name: str) -> None:
    assert [f.text for f in run_checks(SETS[name]())] == []


def test_evenly_set_buttons_pass() -> None:
    pattern = made("button back.centre@1cm..-1cm --count=5\nbutton front.armhole --count=4 --inset=20", SETS["top"]())
    assert run_checks(pattern) == []


@pytest.mark.parametrize("seed", SEEDS, ids=lambda seed: f"{seed.set}: {seed.name}")
def test_a_fault_is_found_and_named_first(seed: Seed) -> None:
    pattern = seed.put(SETS[seed.set]())
    found = run_checks(pattern)
    told = [f"{f.severity} {f.check}: {f.text}" for f in found]
    assert found, "nothing was found"
    assert found[0].check == seed.check, told
    assert any(seed.where in text for text in found[0].where), told
    allowed = near(pattern, found[0].where) | near(SETS[seed.set](), found[0].where)
    for other in found[1:]:
        assert touches(pattern, other, allowed), (other.text, told)


MADE_UP = [("bodice", "neck-and-across"), ("torso", "bust-only"), ("dress", "neck-and-across"), ("skirt", "")]


def made_up(kind: str, method: str, size: str) -> Pattern:
    """A block with its sleeve, edges that nothing is sewn to finished, with allowances and labels."""
    way = f" --method={method}" if method else ""
    pattern = made(f"block {kind} --size={size}{way}")
    bare = [f"{p.name}.{e.name}" for p in pattern.pieces for e in p.edges if e.name in ("neck", "waist")]
    sleeve = "" if kind == "skirt" else f"block sleeve --size={size}\n"
    return made(f"{sleeve}edge {' '.join(bare)} --use=finished\nallowance all\nlabel all --material=shell", pattern)


@pytest.mark.parametrize(
    "size",
    ["bust-98", pytest.param("bust-78", marks=pytest.mark.long), pytest.param("bust-118", marks=pytest.mark.long)],
)
@pytest.mark.parametrize(("kind", "method"), MADE_UP)
def test_every_corner_of_a_block_slid_or_turned(kind: str, method: str, size: str) -> None:
    """Each corner at a seam slid along it by 2.2 mm, and each edge turned by 3 degrees where it leaves a corner."""
    pattern = made_up(kind, method, size)
    assert run_checks(pattern) == []
    sewn = {part.of: seam for seam in pattern.seams for part in (*seam.a, *seam.b)}
    tried = 0
    for piece in pattern.pieces:
        for edge in piece.edges:
            following = piece.after(edge)
            if piece.cut_in(edge, len(edge.parts) - 1) is not None:
                continue
            faults: list[tuple[Pattern, set[str]]] = []
            # an edge sewn to its own mirror image stays as long as that
            mirrored = edge.uid in sewn and any(part.mirrored for part in sewn[edge.uid].b)
            if edge.uid in sewn and not mirrored and following.use != "fold":
                faults.append((corner_moved(pattern, (piece.name, edge.name, following.name), 2.2), {"seam-walk"}))
            if following.use != "fold":
                turned = handle_turned(pattern, piece.name, following.name, 0, 3.0)
                faults.append((turned, {"run-on", "square", "seam-walk"}))
            for faulty, checks in faults:
                found = run_checks(faulty)
                told = [f"{f.check}: {f.text}" for f in found]
                at = f"{piece.name}.{edge.name}/{following.name}"
                assert found, at
                assert found[0].check in checks, (at, told)
                allowed = near(pattern, (at,))
                assert all(touches(faulty, f, allowed) for f in found), (at, told)
                tried += 1
    assert tried >= 8
