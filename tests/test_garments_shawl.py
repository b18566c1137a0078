"""The lined jacket with a shawl collar: collar, facing and lining fit, and again when the neck is lowered.

All of it is common practice of the trade, no source.
"""

from __future__ import annotations

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern
from tests.garments import SHAWL, drafted, drawn, garment, sewn, text_of

OLD, NEW = "move front.neck/centre --by=-5mm", "move front.neck/centre --by=-25mm"


def fits(pattern: Pattern) -> None:
    """Collar to the back neckline, facing to collar and front, lining to facing and shell; no check says a thing."""
    assert [f.text for f in run_checks(pattern)] == []
    neck = sewn(pattern, "back.neck")
    for name in ("front", "shawl-facing"):
        assert drawn(pattern, f"{name}.collar-neck") == pytest.approx(neck, abs=0.5)
    assert sewn(pattern, "back-facing.neck") == pytest.approx(neck, abs=0.5)
    assert sewn(pattern, "shawl-facing.front-edge") == pytest.approx(sewn(pattern, "front.front-edge"), abs=0.5)
    # the facing is larger at the outer edge by what it turns over
    assert 0 < drawn(pattern, "shawl-facing.collar-edge") - drawn(pattern, "front.collar-edge") < 6
    assert sewn(pattern, "front-lining.side") == pytest.approx(sewn(pattern, "front.side"), abs=1)
    assert {"collar-neck", "collar-edge"}.isdisjoint(e.name for e in pattern.piece("front-lining").edges)
    assert sewn(pattern, "front-lining.inner") == pytest.approx(sewn(pattern, "shawl-facing.inner"), abs=3)
    # shell at the shoulder = facing and lining beside it, once both are sewn
    shoulder = sewn(pattern, "shawl-facing.shoulder") + sewn(pattern, "front-lining.shoulder")
    assert shoulder == pytest.approx(sewn(pattern, "front.shoulder"), abs=3)


def test_the_shawl_jacket_goes_together() -> None:
    fits(garment(SHAWL, "bust-76"))


def test_its_neck_lowered_by_2_cm_needs_no_other_word() -> None:
    """In another size, one figure of the recipe changed."""
    text = text_of(SHAWL)
    assert text.count(OLD) == 1
    fits(drafted(text.replace(OLD, NEW), "bust-122"))
