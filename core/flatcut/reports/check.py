"""`check`: whether the pieces fit together. Its tolerances are those of the checks, each declared once, there."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass, field, make_dataclass

from flatcut.checks.check import Check, load, names, run_checks
from flatcut.declared.declared import summary
from flatcut.declared.fields import flag, texts
from flatcut.errors import UsageError, unknown
from flatcut.findings import FAULT, Finding, plural
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.faults_layer import has_faults, put_faults
from flatcut.pattern.values import Pattern
from flatcut.reports.report import Pressed, Report, report
from flatcut.reports.subject import subject


@dataclass(frozen=True, kw_only=True)
class Checking(Report):
    """The fields that are no tolerance."""

    only: tuple[str, ...] = texts(f"checks that are made; left out: all of {', '.join(names())}")
    skip: tuple[str, ...] = texts(f"checks that are left out; of {', '.join(names())}")
    warnings: bool = flag(True, "warnings too, not faults alone")

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in (*self.only, *self.skip):
            if name not in names():
                raise unknown("check", name, names())
        if not self.checks():
            raise UsageError("no check is left; name one with --only, or leave --skip out")

    @classmethod
    def more(cls) -> list[str]:
        """What each check looks for."""
        return ["", "Checks:", *(f"  {name:<12} {summary(load(name))}" for name in names())]

    def checks(self) -> list[Check]:
        """The checks that are made, with their tolerances."""
        wanted = [name for name in names() if (not self.only or name in self.only) and name not in self.skip]
        return [cls(**{f.name: getattr(self, f.name) for f in dataclasses.fields(cls)}) for cls in map(load, wanted)]

    def findings(self, drawing: Drawing, pattern: Pattern, notes: list[Finding]) -> list[Finding]:
        """What the checks find, in the order in which it is told."""
        found = run_checks(subject(drawing, pattern, notes), self.checks())
        return [finding for finding in found if self.warnings or finding.severity == FAULT]

    def press(self, drawing: Drawing, pattern: Pattern, notes: list[Finding]) -> Pressed:
        """The document with every finding marked on a layer of its own; without findings that layer goes."""
        found = self.evaluated(pattern).findings(drawing, pattern, notes)
        told = f"{plural(len(pattern.pieces), 'piece')} and {plural(len(pattern.seams), 'seam')} checked"
        if found:
            put_faults(drawing.document, pattern, found)
            return Pressed(document=drawing.document.to_bytes())
        if not has_faults(drawing.document):
            return Pressed(said=f"{told}: nothing to put right was found.")
        put_faults(drawing.document, pattern, [])
        return Pressed(
            document=drawing.document.to_bytes(),
            said=f"{told}: nothing to put right was found, and the marks of the check before are taken away.",
        )


_USAGE = "flatcut check IN.svg... [--json] [--report=OUT.html] [--jobs=N] [--name=value...]"


def _tolerances() -> Iterator[tuple[str, object, object]]:
    """The fields of every check, as a dataclass is made of them."""
    for name in names():
        for item in dataclasses.fields(load(name)):
            yield item.name, item.type, field(default=item.default, metadata=item.metadata)


CheckPieces: type[Checking] = report(
    make_dataclass(
        "CheckPieces",
        list(_tolerances()),
        bases=(Checking,),
        frozen=True,
        kw_only=True,
        namespace={
            "__doc__": "Check that the pieces fit together, and mark what does not.",
            "__module__": __name__,
            "usage": _USAGE,
        },
    )
)
"""The report with every check's tolerances as fields of its own."""
