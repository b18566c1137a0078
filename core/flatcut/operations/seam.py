"""`seam`: which edges are sewn together."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.errors import UsageError
from flatcut.operations.fields import choice, length, refs
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.runs import parse_run, run_sewn
from flatcut.pattern.seaming import MISMATCH, runs_meet_head_to_tail
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Seam
from flatcut.units import plain


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class StateSeam(Operation):
    """State that two runs of edges are sewn together.

    Edges of one run are joined by +. The second run is walked from its end unless the pieces say otherwise: two pieces
    lying right side up meet like that.
    """

    target: tuple[str, ...] = refs("run", "the two runs, such as front.side back.side")
    ease: float = length(0.0, "how much longer the second run is wanted", low=-200, high=500)
    reversed: str = choice("auto", "whether the second run is walked from its end", ("auto", "true", "false"))

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 2:
            raise UsageError(f"seam takes two runs, and {len(self.target)} are given; join edges of one run by +")
        a, b = (parse_run(pattern, text) for text in self.target)
        if {(part.piece, part.of, part.start, part.mirrored) for part in a} & {
            (part.piece, part.of, part.start, part.mirrored) for part in b
        }:
            raise UsageError("an edge cannot be sewn to itself; give two runs")
        uid = Uids(pattern.uids()).fresh("seam", *self.target)
        backwards = runs_meet_head_to_tail(pattern, a, b) if self.reversed == "auto" else self.reversed == "true"
        seam = Seam(uid=uid, a=a, b=b, reversed=backwards, ease=self.ease)
        same = next((other for other in pattern.seams if (other.a, other.b) == (a, b)), None)
        others = tuple(other for other in pattern.seams if other is not same)
        sewn_a, sewn_b = run_sewn(pattern, a), run_sewn(pattern, b)
        rest = sewn_b - sewn_a - self.ease
        longer = self.target[1] if rest > 0 else self.target[0]
        warnings = (f"{longer} is {plain(abs(rest))} mm too long for this seam",) if abs(rest) > MISMATCH else ()
        return Outcome(
            pattern=replace(pattern, seams=(*others, seam)),
            figures=(
                Figure(f"{self.target[0]} sewn", sewn_a),
                Figure(f"{self.target[1]} sewn", sewn_b),
                Figure("difference", sewn_b - sewn_a),
            ),
            warnings=warnings,
        )
