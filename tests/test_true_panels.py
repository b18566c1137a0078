"""`true` over panels: one smooth line over every seam, whose two sides change alike."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.errors import FlatcutError
from flatcut.pattern.seaming import walked
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay

RECIPE = Path(__file__).parents[1] / "samples" / "panels" / "shoulder-panels.recipe"


@pytest.fixture(scope="module")
def panels() -> Pattern:
    """The bodice in panels of one size, before allowances."""
    steps = RECIPE.read_text().partition("# allowances")[0].replace("block bodice", "block bodice --size=bust-90")
    return replay(read_recipe(steps), Pattern())


@pytest.mark.parametrize(
    "line",
    [
        "front-centre.waist+front-side.waist+back-side.waist+back-centre.waist",
        "front-centre.neck+back-centre.neck",
    ],
)
def test_a_line_over_panels_is_smooth_and_their_seams_stay_equal(panels: Pattern, line: str) -> None:
    after = replay(read_recipe(f"true {line} --within=3mm"), panels)
    kinks = [f.value for f in after.steps[-1].figures if f.label.endswith("kink now")]
    assert len(kinks) == line.count("+")
    assert max(kinks) < 0.1
    for seam in panels.seams:
        was, now = walked(panels, seam), walked(after, next(s for s in after.seams if s.uid == seam.uid))
        # legs were equal, and a joint slides along both sides of its seam by the same length
        assert now[2] == pytest.approx(was[2], abs=0.01)


def test_panels_that_no_seam_joins_are_no_line(panels: Pattern) -> None:
    """A seam end that has no mate: it is said what to state."""
    apart = replay(read_recipe("seam front-centre.princess --remove"), panels)
    with pytest.raises(
        FlatcutError, match=r"front-centre\.waist does not run on into front-side\.waist.*state the seam"
    ):
        replay(read_recipe("true front-centre.waist+front-side.waist"), apart)
