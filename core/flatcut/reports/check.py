"""`check`: whether the pieces fit together. Its tolerances are those of the checks, each declared once, there."""

from __future__ import annotations

import dataclasses
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, make_dataclass, replace
from functools import partial
from typing import Any, ClassVar

from flatcut.checks.check import Check, load, names, run_checks
from flatcut.checks.seam_walk import SeamWalk
from flatcut.declared.declared import summary
from flatcut.declared.fields import flag, texts
from flatcut.errors import FlatcutError, Option, UsageError, unknown
from flatcut.findings import FAULT, Finding, plural
from flatcut.formats.check_page import end, failed_section, file_section, opening
from flatcut.formats.json_checks import checked_record, failed_record, whole_record
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.faults_layer import has_faults, put_faults
from flatcut.pattern.values import Pattern
from flatcut.reports.report import Input, Inputs, Made, Report, Result, joined, report
from flatcut.reports.subject import subject


@dataclass(frozen=True, kw_only=True)
class Checking(Report):
    """The fields that are no tolerance."""

    records: ClassVar[bool] = True
    doing: ClassVar[str] = "checked"
    makes: ClassVar[Mapping[str, str]] = {"report": "name of a page (html) to write, with a picture for every seam"}

    only: tuple[str, ...] = texts(("only these checks", "", f"all of {', '.join(names())}"))
    skip: tuple[str, ...] = texts(("without these checks", f"some of {', '.join(names())}"))
    warnings: bool = flag(True, "warnings too, not faults alone")

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in (*self.only, *self.skip):
            if name not in names():
                raise unknown("check", name, names())
        if not self._wanted(names()):
            raise UsageError("no check is left; name one with ", Option("only"), ", or leave ", Option("skip"), " out")

    @classmethod
    def more(cls) -> list[str]:
        """What each check looks for."""
        return ["", "Checks:", *(f"  {name:<12} {summary(load(name))}" for name in names())]

    def checks(self) -> list[Check]:
        """The checks that are made, with their tolerances."""
        known = names()
        return [self._made(name, known) for name in self._wanted(known)]

    def _wanted(self, known: Sequence[str]) -> list[str]:
        return [name for name in known if (not self.only or name in self.only) and name not in self.skip]

    def _made(self, name: str, known: Sequence[str]) -> Check:
        cls = load(name, known)
        return cls(**{f.name: getattr(self, tolerance(name, f.name)) for f in dataclasses.fields(cls)})

    def findings(self, drawing: Drawing, pattern: Pattern, notes: Sequence[Finding]) -> list[Finding]:
        """What the checks find, in the order in which it is told."""
        found = run_checks(subject(drawing, pattern, notes), self.checks())
        return [finding for finding in found if self.warnings or finding.severity == FAULT]

    def run(self, inputs: Inputs) -> Result:
        """A line for every drawing and one for each finding, the same as data, and the page that is wanted."""
        page = self.saves == ".html" or "report" in inputs.wanted
        told: list[str] = []
        kept: list[_Checked] = []
        failed = 0
        sections: list[bytes] = []
        for part in inputs.each(partial(self._checked, page), partial(_failed, page)):
            told += part.told
            failed += bool(part.error)
            # a file's name may be no text; on a page it stands as Python shows it
            sections.append(zlib.compress(part.section.encode("utf-8", "backslashreplace"), 1))
            kept.append(replace(part, section=""))
        findings = tuple(finding for part in kept for finding in part.findings)
        faults = sum(finding.severity == FAULT for finding in findings)
        if len(kept) > 1:
            unread = f", {failed} not read" if failed else ""
            told.append(f"{plural(len(kept), 'drawing')}: {_count(faults, len(findings) - faults)}{unread}")
        ends = (opening(inputs.names), end(len(kept), faults, len(findings) - faults))
        return Result(
            said=joined(told),
            record=whole_record([part.record for part in kept]),
            files=(Made(chunks=_page(sections, *ends), option="" if self.saves else "report"),) if page else (),
            findings=findings,
            errors=tuple(part.error for part in kept if part.error),
            noted=bool(faults or failed),
            failed=failed == len(kept),
        )

    def marked(self, drawing: Input, result: Result) -> bytes | None:
        """The drawing with every finding on a layer of its own; without findings that layer goes."""
        if not result.findings and not has_faults(drawing.drawing.document):
            return None
        put_faults(drawing.drawing.document, drawing.pattern, result.findings)
        return drawing.drawing.document.to_bytes()

    def sentence(self, drawing: Input, result: Result) -> str:
        """What is said where nothing was found."""
        if result.findings:
            return ""
        pieces, seams = len(drawing.pattern.pieces), len(drawing.pattern.seams)
        told = f"{plural(pieces, 'piece')} and {plural(seams, 'seam')} checked: nothing to put right was found"
        gone = ", and the marks of the check before are taken away" if has_faults(drawing.drawing.document) else ""
        return f"{told}{gone}."

    def _checked(self, page: bool, one: Input) -> _Checked:
        asked = self.evaluated(one.pattern)
        found = asked.findings(one.drawing, one.pattern, one.findings)
        known = names()
        chosen = asked._made("seam-walk", known) if "seam-walk" in asked._wanted(known) else None
        walk = chosen if isinstance(chosen, SeamWalk) else SeamWalk()
        name = one.name or one.pattern.style.name or "the drawing"
        about = f"{plural(len(one.pattern.pieces), 'piece')}, {plural(len(one.pattern.seams), 'seam')}"
        faults = sum(finding.severity == FAULT for finding in found)
        width = len(str(len(found)))
        lines = [f"{name}: {about}: {_count(faults, len(found) - faults)}"]
        for number, finding in enumerate(found, start=1):
            lines.append(f"  {number:>{width}} {finding.severity + ':':<8} {finding.text}")
        return _Checked(
            told=lines,
            findings=tuple(found),
            record=checked_record(name, one.pattern, found, walk.verdict),
            section=file_section(name, one.number, one.pattern, found, walk.verdict) if page else "",
        )


@dataclass(frozen=True, kw_only=True)
class _Checked:
    """What came of one drawing: lines, the findings, the record, the part of the page; or an error."""

    told: list[str] = field(default_factory=list)
    findings: tuple[Finding, ...] = ()
    record: dict[str, Any] = field(default_factory=dict)
    section: str = ""
    error: str = ""


def _failed(page: bool, name: str, number: int, error: FlatcutError) -> _Checked:
    """What stands for a drawing that cannot be read."""
    section = failed_section(name, number, str(error)) if page else ""
    said = str(error) if name == "-" else error.told_of(name)
    return _Checked(error=said, record=failed_record(name, str(error)), section=section)


def _count(faults: int, warnings: int) -> str:
    said = [plural(count, what) for count, what in ((faults, "fault"), (warnings, "warning")) if count]
    return ", ".join(said) or "nothing found"


def _page(sections: list[bytes], start: str, close: str) -> Iterator[bytes]:
    """The page piece by piece: the drawings' parts are kept packed, since a hundred of them would fill memory."""
    yield start.encode("utf-8", "backslashreplace")
    yield from map(zlib.decompress, sections)
    yield close.encode()


_USAGE = "flatcut check IN.svg... [--json] [--report=OUT.html] [--jobs=N] [--name=value...]"


def tolerance(check: str, own: str) -> str:
    """The field of the report that is a field of a check: it is named by its check, so that no two are the same.

    >>> tolerance("seam-walk", "aim")
    'seam_walk_aim'
    """
    return f"{check.replace('-', '_')}_{own}"


def _tolerances() -> Iterator[tuple[str, object, object]]:
    """The fields of every check, as a dataclass is made of them."""
    for name in names():
        for item in dataclasses.fields(load(name)):
            yield tolerance(name, item.name), item.type, field(default=item.default, metadata=item.metadata)


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
