"""The two sides of every seam are as long as they should be, once take-ups are sewn."""

from __future__ import annotations

from collections.abc import Iterator

from flatcut.checks.check import FAULT, WARNING, Finding
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.seaming import MISMATCH
from flatcut.pattern.values import Pattern
from flatcut.units import plain

BEYOND = 1.6
"""mm, 1/16 in: a mismatch above this cannot be eased in unseen (common practice, no source)."""


def check(pattern: Pattern) -> Iterator[Finding]:
    """Seams whose sewn lengths differ by more than the wanted ease and MISMATCH."""
    for seam in pattern.seams:
        rest = run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) - seam.ease
        if abs(rest) <= MISMATCH:
            continue
        a, b = show_run(pattern, seam.a), show_run(pattern, seam.b)
        longer, shorter = (b, a) if rest > 0 else (a, b)
        wanted = f" with {plain(seam.ease)} mm of ease wanted" if seam.ease else ""
        yield Finding(
            check="seam-walk",
            severity=FAULT if abs(rest) > BEYOND else WARNING,
            where=(longer, shorter),
            text=f"{longer} is {plain(abs(rest))} mm longer than {shorter}{wanted}; true the two edges",
            figure=rest,
        )
