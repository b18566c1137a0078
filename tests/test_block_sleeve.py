"""The sleeve against its armhole: lengths by scipy on the drawn controls, angles by arithmetic of the test's own.

What must hold is common practice of the trade, no source.
"""

from __future__ import annotations

import math
import os
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from flatcut.blocks.body import SIZES
from flatcut.blocks.sleeve import draft_sleeve, sleeve_frame
from flatcut.blocks.underarm import ELBOWS
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import on_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, Position
from flatcut.pattern.walking import sewn_at
from flatcut.recipe import read_recipe, replay


def length(curve: Curve) -> float:
    total = 0.0
    for p in curve.controls:
        d = 3 * np.diff(p, axis=0)
        total += quad(
            lambda t, d=d: math.hypot(*((1 - t) ** 2 * d[0] + 2 * t * (1 - t) * d[1] + t * t * d[2])), 0, 1, epsabs=1e-9
        )[0]
    return total


def bends(curve: Curve) -> list[float]:
    """Curvature along each span, by central differences of points: coarse, but the test's own."""
    found = []
    for p in curve.controls:
        t = np.linspace(0, 1, 401)[:, None]
        q = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
        way = np.unwrap(np.arctan2(*np.diff(q, axis=0).T[::-1]))
        found.append(np.diff(way))
    return [float(v) for part in found for v in part]


def corner(piece: Piece, first: str, second: str) -> float:
    a, b = piece.edge(first).parts[-1].controls[-1], piece.edge(second).parts[0].controls[0]
    u, v = a[2] - a[3], b[1] - b[0]
    return math.degrees(math.acos(float(u @ v) / float(np.linalg.norm(u) * np.linalg.norm(v))))


def check(piece: Piece, *, holes: float, ease: float, arm: float, elbow: str = "straight") -> None:
    cap = piece.edge("cap").parts[0]
    assert length(cap) - holes == pytest.approx(ease, abs=1e-4)
    signs = [v > 0 for v in bends(cap) if abs(v) > 1e-9]
    # hollow at the back underarm, full over the crown, hollow at the front: one change on each side
    assert sum(a != b for a, b in pairwise(signs)) == 2
    crown = cap.controls[0, 3]
    assert crown[1] == min(cap.nodes[:, 1])
    assert cap.controls[0, 2][1] == cap.controls[1, 1][1] == crown[1]
    assert corner(piece, "cap", "underarm-front") + corner(piece, "underarm-back", "cap") == pytest.approx(
        180, abs=1e-2
    )
    assert corner(piece, "underarm-front", "hem") + corner(piece, "hem", "underarm-back") == pytest.approx(
        180, abs=1e-2
    )
    front, back = (sum(length(part) for part in piece.edge(f"underarm-{name}").parts) for name in ("front", "back"))
    # eased in by 1.2 cm, or taken up by a dart, or alike
    assert back - front == pytest.approx(12.0 if elbow == "ease" else 0.0, abs=1e-6)
    assert [d.name for d in piece.darts] == (["elbow-dart"] if elbow == "dart" else [])
    for dart in piece.darts:
        assert float(np.linalg.norm(dart.feet[1] - dart.feet[0])) == pytest.approx(20.0, abs=1e-6)
        assert length(dart.legs[0]) == pytest.approx(length(dart.legs[1]), abs=1e-6)
    (bicep,) = [line.curve for line in piece.lines if line.name == "bicep-line"]
    assert length(bicep) >= arm + 50 - 1e-3


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-102", "bust-118"])
@pytest.mark.parametrize("method", ["neck-and-across", "bust-only"])
def test_sleeve_of_a_bodice(size: str, method: str) -> None:
    pattern = replay(read_recipe(f"block bodice --size={size} --method={method}\nblock sleeve"), Pattern())
    back, front, sleeve = pattern.pieces
    holes = {p.name: sum(length(part) for part in p.edge("armhole").parts) for p in (back, front)}
    check(sleeve, holes=sum(holes.values()), ease=30.0, arm=SIZES[size]["top-arm"])
    # notches: as far from the underarm on the cap as on the armhole
    cap = sleeve.edge("cap")
    whole = length(cap.parts[0])
    for piece, count in ((back, 2), (front, 1)):
        (notch,) = piece.notches
        at = sewn_at(piece.edge("armhole"), notch.at)
        up = holes["back"] - at if piece is back else at
        marks = [sewn_at(cap, n.at) for n in sleeve.notches if n.edge == cap.uid]
        assert any(abs((m if piece is back else whole - m) - up) < 1e-6 for m in marks)
        assert notch.count == count
    # the single notch between them marks the crown, under the shoulder
    crown = next(n for n in sleeve.notches if n.count == 1 and n.at.mode == "start" and n.edge == cap.uid)
    spot = on_edge(sleeve, cap, sewn_at(cap, Position(mode="start", value=crown.at.value)))
    assert spot.point == pytest.approx(cap.parts[0].controls[0, 3], abs=1e-5)


def test_sleeves_for_arms_at_random() -> None:
    """FLATCUT_BODIES=60 makes that many."""
    rng = np.random.default_rng(7)
    refused, count = 0, int(os.environ.get("FLATCUT_BODIES", "14"))
    for _ in range(count):
        back = rng.uniform(180, 280)
        front = back - rng.uniform(-5, 25)
        body = {
            "top-arm": rng.uniform(230, 420),
            "wrist": rng.uniform(140, 200),
            "sleeve-length": rng.uniform(520, 660),
        }
        ease = float(rng.uniform(0, 45))
        try:
            frame = sleeve_frame(body, back_armhole=back, front_armhole=front, cap_ease=ease)
        except FlatcutError:
            refused += 1
            assert body["top-arm"] + 50 > 0.85 * (back + front)
            continue
        for elbow in ELBOWS:
            piece, _ = draft_sleeve(frame, Uids(), back_notch=0.4 * back, front_notch=0.37 * front, elbow=elbow)
            check(piece, holes=back + front, ease=ease, arm=body["top-arm"], elbow=elbow)
            # the hem as asked, along its seam
            assert length(piece.edge("hem").parts[0]) == pytest.approx(min(body["wrist"] + 70, frame.bicep), abs=0.01)
    assert refused < count / 2


@pytest.mark.parametrize("elbow", ELBOWS)
def test_elbow_notches_and_seams_meet(elbow: str) -> None:
    line = f"block bodice --size=bust-94\nblock sleeve --elbow={elbow}"
    pattern = replay(read_recipe(line), Pattern())
    sleeve = pattern.piece("sleeve")
    assert not [said for said in pattern.steps[-1].warnings if "hem" in said]
    closing = [s for s in pattern.seams if s.a[0].of == sleeve.edge("underarm-front").uid]
    for seam in closing:
        assert run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) == pytest.approx(seam.ease, abs=1e-6)
    assert sum(seam.ease for seam in closing) == pytest.approx(12.0 if elbow == "ease" else 0.0)
    front, back = (sleeve.edge(f"underarm-{name}") for name in ("front", "back"))
    down = sorted(sewn_at(front, n.at) for n in sleeve.notches if n.edge == front.uid)
    whole = sum(length(part) for part in back.parts)
    up = sorted(whole - sewn_at(back, n.at) for n in sleeve.notches if n.edge == back.uid)
    if elbow == "straight":
        assert up == pytest.approx(down, abs=1e-6)
    if elbow == "ease":
        assert (up[0], up[1] - 12.0) == pytest.approx(tuple(down), abs=1e-6)
    if elbow == "dart":
        (notch,) = down
        # the dart's upper foot lies at the front's notch within the little that both are bent by
        assert sum(length(part) for part in back.parts[1:]) == pytest.approx(notch, abs=6.0)


def test_a_hem_that_cannot_be_is_told_with_both_figures() -> None:
    line = "block sleeve --size=bust-90 --back-armhole=22cm --front-armhole=21cm --wrist-ease=30cm"
    (said,) = [w for w in replay(read_recipe(line), Pattern()).steps[-1].warnings if "hem" in w]
    assert "instead of 46.2 cm" in said
