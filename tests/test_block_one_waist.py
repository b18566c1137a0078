"""A bodice and a skirt that are meant for one waist: how far they differ is told when drafted, when sewn, and checked.

The eases are those that the kinds state: 6 cm over the waist of a bodice, 1 cm of a skirt (common practice, no source).
"""

from __future__ import annotations

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay

SEAM = "seam front.waist+back.waist skirt-front.waist+skirt-back.waist"


def drafted(*lines: str) -> Pattern:
    return replay(read_recipe("\n".join(lines)), Pattern())


def test_waists_of_different_ease_are_told_and_found() -> None:
    pattern = drafted("block bodice --size=bust-90", "block skirt --size=bust-90")
    (said,) = [w for w in pattern.steps[-1].warnings if "half the waist of" in w]
    assert "37 cm, that of front and back 39.5 cm" in said
    assert "draft both with one --waist-ease" in said
    sewn = replay(read_recipe(SEAM), pattern)
    # half of 6 cm less 1 cm
    differ = next(f.value for f in sewn.steps[-1].figures if f.label == "difference")
    assert differ == pytest.approx(-25.0, abs=1e-3)
    (found,) = [f for f in run_checks(sewn) if f.check == "seam-walk"]
    assert "is 25 mm longer than" in found.text


def test_drafted_with_one_ease_they_fit() -> None:
    pattern = drafted(
        "block bodice --size=bust-90 --waist-ease=3cm", "block skirt --size=bust-90 --waist-ease=3cm", SEAM
    )
    assert not [w for step in pattern.steps for w in step.warnings if "half the waist of" in w]
    assert not [f for f in run_checks(pattern) if f.check == "seam-walk"]
