"""What a cutter calls good on the top in panels: the draped front against its lining, the back, the neckband.

All of it is common practice of the trade, no source.
"""

from __future__ import annotations

import pytest

from tests.garments import ALL, block, drawn, garment, inside, sewn

TORSO = "block torso --front-darts=1 --back-darts=1"


@pytest.mark.parametrize("size", ALL)
def test_the_draped_front_fits_the_panels_and_its_lining(size: str) -> None:
    """Its lower edge is the run of the lower panels; gathered and folded it is as its lining, copied before."""
    pattern = garment("peplum-top", size)
    lower = sewn(pattern, "low-centre.style", "low-side.style")
    assert sewn(pattern, "upper.style") == pytest.approx(lower, abs=0.5)
    assert sorted(t.kind for t in pattern.piece("upper").edge("neck").takeups) == ["gathers", "pleat"]
    for edge in ("neck", "cutaway", "style", "side"):
        assert sewn(pattern, f"upper.{edge}") == pytest.approx(sewn(pattern, f"upper-lining.{edge}"), abs=1)
    # the lining keeps the dart that the front has given up
    assert [dart.name for dart in pattern.piece("upper-lining").darts] == ["bust-dart"]
    assert pattern.piece("upper").darts == ()
    assert drawn(pattern, "upper.neck") - drawn(pattern, "upper-lining.neck") > 40


@pytest.mark.parametrize("size", ALL)
def test_the_low_back_runs_on_and_its_panels_are_alike(size: str) -> None:
    """The back's curve runs on over the panel seam and over the side into the front; the swung pair is equal."""
    pattern = garment("peplum-top", size)
    for corners in (
        ("back-side.low-back/side", "upper.side/cutaway"),
        ("back-centre.low-back/panel", "back-side.panel/low-back"),
    ):
        assert inside(pattern, *corners) == pytest.approx(180, abs=2)
    for one, two in (("back-centre", "back-side"), ("low-centre", "low-side")):
        assert sewn(pattern, f"{one}.panel") == pytest.approx(sewn(pattern, f"{two}.panel"), abs=0.5)


@pytest.mark.parametrize("size", ALL)
def test_the_neckband_is_the_neckline_of_the_block(size: str) -> None:
    """Sewn to the front as far as that goes, and free behind, where it closes."""
    pattern, start = garment("peplum-top", size), block(TORSO, size)
    assert drawn(pattern, "neckband.neck") == pytest.approx(sewn(start, "front.neck", "back.neck"), abs=1)
    assert drawn(pattern, "neckband.neck") == pytest.approx(drawn(pattern, "inner-band.neck"), abs=1e-6)
    band = pattern.piece("neckband")
    here = [n.at.along(drawn(pattern, "neckband.neck")) for n in band.notches if n.edge == band.edge("neck").uid]
    back = sewn(start, "back.neck")
    assert min(abs(at - back) for at in here) < 0.1, "no notch at the shoulder"
    free = drawn(pattern, "neckband.neck") - sewn(pattern, "upper.neck")
    assert min(abs(at - free) for at in here) < 0.1, "no notch where the front ends"
    assert free > back
