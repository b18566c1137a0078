"""Bands, cuffs, tiers and collars worn: they go on from what they are sewn to."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.geometry.arrays import Array
from flatcut.worn.choosing import chosen
from flatcut.worn.outer import outer
from flatcut.worn.wearing import Worn
from tests.wearing import made, shown

SKIRT = "block skirt --size=bust-90\n"
BAND = f"{SKIRT}strip --kind=waistband --to=skirt-back.waist+skirt-front.waist --both --width=4cm --overlap=3cm"
TIER = f"{SKIRT}strip tier --kind=tier --to=skirt-back.hem+skirt-front.hem --both --gathers=1.5 --width=20cm"
COLLAR = "block bodice --size=bust-90\ncollar stand-and-fall --neck=back.neck+front.neck"


def of(found: Worn, name: str) -> Array:
    """Where the vertices of the copies of a piece came to lie."""
    sewn = found.sewn
    mine = [k for k, copy in enumerate(sewn.copies) if sewn.cells[copy.piece].piece.name == name]
    assert mine, name
    return np.vstack([found.at[sewn.joined[sewn.first[k] : sewn.first[k + 1]]] for k in mine])


def on(found: Worn, name: str, edge: str) -> Array:
    """Where the vertices of an edge came to lie."""
    sewn = found.sewn
    copy = next(copy for copy in sewn.copies if sewn.cells[copy.piece].piece.name == name)
    return found.at[sewn.vertices(copy, sewn.cells[copy.piece].piece.edge(edge).uid)]


def long(course: Array) -> float:
    return float(np.linalg.norm(np.diff(course, axis=0), axis=1).sum())


def test_of_a_waistband_the_outer_half_is_worn_and_not_its_overlap() -> None:
    """As cut it is twice 4 cm wide and 3 cm longer than the waist; worn one half of it is 4 cm by half the waist."""
    pattern = made(BAND)
    pieces, left = chosen(pattern, (), {})
    assert not left
    after, worn_pieces = outer(pattern, pieces)
    band, whole = (next(p for p in some if p.name == "waistband") for some in (worn_pieces, pattern.pieces))
    sides = [float(np.linalg.norm(edge.end - edge.start)) for edge in band.edges]
    as_cut = [float(np.linalg.norm(edge.end - edge.start)) for edge in whole.edges]
    assert sides[1] == pytest.approx(40.0, abs=0.01)
    assert sides[0] == pytest.approx((as_cut[0] - 30.0) / 2, abs=0.01)
    assert as_cut[1] == pytest.approx(80.0, abs=0.01)
    assert len([seam for seam in after.seams if band.uid in {p.piece for p in (*seam.a, *seam.b)}]) == 1


def test_a_waistband_stands_above_the_waist_all_round() -> None:
    found, told = shown(BAND)
    assert found.rest.still
    assert len(found.sewn.plane)
    band, seam = of(found, "waistband"), on(found, "waistband", "seam")
    top = on(found, "waistband", "top")
    for at in top:  # 4 cm wide, and as good as upright: nets are 26 mm wide
        below = seam[np.linalg.norm(seam[:, [0, 2]] - at[[0, 2]], axis=1).argmin()]
        assert at[1] - below[1] == pytest.approx(40.0, abs=6.0)
    assert np.abs(long(top) / long(on(found, "waistband", "seam")) - 1.0) < 0.03
    ends = top[[0, -1]]
    assert np.abs(ends[:, 0]).max() < 0.5  # closed at both centres
    assert told.inside < 0.5
    assert band[:, 1].min() > -40.0


def test_a_tier_hangs_gathered_from_the_hem() -> None:
    """Its upper edge is drawn up to the hem it is sewn to, its own hem is half as long again and lies 20 cm lower."""
    found, told = shown(TIER, 30.0)
    upper, lower = on(found, "tier", "seam"), on(found, "tier", "top")
    skirt = sum(long(on(found, name, "hem")) for name in ("skirt-front", "skirt-back"))
    assert long(upper) == pytest.approx(skirt, rel=0.03)
    assert long(lower) == pytest.approx(1.5 * skirt, rel=0.05)
    assert upper[:, 1].mean() - lower[:, 1].mean() == pytest.approx(200.0, abs=25.0)
    assert told.inside < 0.5
    assert not any(spot.where.startswith("tier") for spot in told.loose)


def test_a_cuff_is_closed_round_the_wrist() -> None:
    """Buttoned it is shorter than as cut by its overlap; it ends at the wrist and goes round the arm."""
    text = (
        "block bodice --size=bust-90\n"
        "block sleeve --size=bust-90 --wrist-ease=9cm --sleeve-length='sleeve-length - 6cm'\n"
        "strip --kind=cuff --to=sleeve.hem --width=6cm --overlap=2cm"
    ).replace("'", '"')
    found, told = shown(text, 30.0)
    whole = made(text).piece("cuff")
    cut = float(np.linalg.norm(whole.edges[0].end - whole.edges[0].start))
    top = on(found, "cuff", "top")
    assert np.linalg.norm(top[0] - top[-1]) < 0.5
    assert long(top) == pytest.approx(cut - 20.0, rel=0.04)
    (arm,) = found.form.limbs
    wrist = arm.axis[3] * (np.sign(top[:, 0].mean()), 1.0, 1.0)
    assert np.linalg.norm(top.mean(axis=0) - wrist) < 45.0
    assert told.inside < 0.5


def test_a_collar_stands_at_the_neck_and_its_fall_is_turned_over_it() -> None:
    found, told = shown(COLLAR, 20.0)
    assert told.inside < 0.5
    neck, top = on(found, "stand", "neck"), on(found, "stand", "top")
    # half-way round, at the sides: the stand goes up from the neckline, the fall comes down outside of it
    assert (top[:, 1].mean() - neck[:, 1].mean()) > 15.0
    outer_edge = on(found, "fall", "outer")
    assert outer_edge[:, 1].mean() < top[:, 1].mean() - 20.0
    axis = neck[:, 2].mean()
    reach = [float(np.hypot(course[:, 0], course[:, 2] - axis).mean()) for course in (top, outer_edge)]
    assert reach[1] > reach[0] + 3.0
