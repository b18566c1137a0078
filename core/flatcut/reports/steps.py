"""`steps`: the recorded steps of drawings, as a recipe or as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from flatcut.formats.json_pieces import step_record
from flatcut.pattern.values import BY_HAND
from flatcut.recipe import write_recipe
from flatcut.reports.report import Input, Inputs, Report, Result, listed, report


@report
@dataclass(frozen=True, kw_only=True)
class Steps(Report):
    """List the recorded steps, as a recipe that replays them."""

    usage: ClassVar[str] = "flatcut steps [IN.svg...] [--json] [--jobs=N]"
    in_editor: ClassVar[bool] = False
    records: ClassVar[bool] = True

    def run(self, inputs: Inputs) -> Result:
        """The steps of every drawing; there is something to look at where one was done by hand."""
        return listed(inputs.each(_listed))


def _listed(one: Input) -> tuple[str, list[dict[str, Any]], list[str]]:
    steps = one.pattern.steps
    notes = [found.text for found in one.findings]
    hand = [k for k, step in enumerate(steps, start=1) if step.line.startswith(BY_HAND)]
    if hand:
        notes.append(f"step {hand[0]} was done by hand: a replay differs from there on")
    return write_recipe(steps), [step_record(step) for step in steps], notes
