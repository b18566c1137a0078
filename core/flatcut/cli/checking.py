"""`flatcut check`: what does not fit together, in one drawing or in many."""

from __future__ import annotations

import contextlib
import json
import sys
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from flatcut.arguments import build, split
from flatcut.checks.seam_walk import SeamWalk
from flatcut.cli.editing import taken_flag
from flatcut.cli.spreading import LOST, jobs_of, shown, spread
from flatcut.errors import FlatcutError, UsageError
from flatcut.files import read_bytes, same_file, write_chunks
from flatcut.findings import FAULT, Finding, plural
from flatcut.formats.check_page import end, failed_section, file_section, opening
from flatcut.formats.json_checks import checked_record, failed_record, whole_record
from flatcut.formats.svg.read import read
from flatcut.pattern.values import Pattern
from flatcut.reports.check import CheckPieces


@dataclass(frozen=True, kw_only=True)
class _Job:
    """One drawing to check. options: as typed; pictures: whether its part of the page is wanted."""

    source: str
    number: int
    options: dict[str, str]
    units: str
    pictures: bool


@dataclass(frozen=True, kw_only=True)
class _Checked:
    """What came of it: a line and the findings for a person, the record, the part of the page; or an error."""

    source: str
    error: str = ""
    told: str = ""
    findings: tuple[Finding, ...] = ()
    record: dict[str, Any] = field(default_factory=dict)
    section: str = ""


def check(name: str, words: Sequence[str]) -> int:
    """Print what does not fit together; exit code 1 when there is a fault or a drawing could not be read."""
    found = split(words)
    as_json = taken_flag(found, "json")
    jobs, page = jobs_of(found.options.pop("jobs", "1")), found.options.pop("report", "")
    if found.output:
        raise UsageError("check prints and writes no drawing; --report=FILE.html writes a page")
    build(CheckPieces, (), found.options, units=found.units)  # a wrong option is told before any drawing is opened
    sources = [*found.inputs, *found.targets] or ["-"]
    if page in ("true", "-") or any(same_file(page, source) for source in sources):
        raise UsageError("--report takes the name of a page to write, such as --report=check.html")
    work = [
        _Job(source=source, number=k, options=found.options, units=found.units, pictures=bool(page))
        for k, source in enumerate(sources, start=1)
    ]
    results = shown(spread(_tried, work, jobs, lost=_lost), len(work), "checked")
    counts = _Counts()
    records: list[dict[str, Any]] = []

    def sections() -> Iterator[str]:
        yield opening(sources)
        for result in results:
            counts.add(result)
            _tell(result, records if as_json else None)
            yield result.section
        if counts.failed == len(work):
            raise _NoneReadError
        yield end(counts.files, counts.faults, counts.warnings)

    with contextlib.suppress(_NoneReadError):
        # a file's name may be no text; on a page it stands as Python shows it
        chunks = (text.encode("utf-8", "backslashreplace") for text in sections())
        if page:
            write_chunks(page, chunks)
        else:
            deque(chunks, maxlen=0)
    if as_json:
        print(json.dumps(whole_record(records), ensure_ascii=False, indent=1))
    elif len(work) > 1:
        print(f"{plural(counts.files, 'drawing')}: {_count(counts.faults, counts.warnings)}")
    if counts.failed == len(work):
        return 2
    return 1 if counts.faults or counts.failed else 0


class _NoneReadError(Exception):
    """No drawing could be read: each was told why, and a page about none of them is not written."""


@dataclass
class _Counts:
    files: int = 0
    failed: int = 0
    faults: int = 0
    warnings: int = 0

    def add(self, result: _Checked) -> None:
        self.files += 1
        self.failed += bool(result.error)
        faults = sum(finding.severity == FAULT for finding in result.findings)
        self.faults += faults
        self.warnings += len(result.findings) - faults


def _tried(job: _Job) -> _Checked:
    """One drawing checked; an error of its own stops no other."""
    try:
        return _checked(job)
    except FlatcutError as error:
        return _failed(job, str(error))


def _lost(job: _Job) -> _Checked:
    return _failed(job, LOST)


def _failed(job: _Job, error: str) -> _Checked:
    section = failed_section(job.source, job.number, error) if job.pictures else ""
    return _Checked(source=job.source, error=error, record=failed_record(job.source, error), section=section)


def _checked(job: _Job) -> _Checked:
    drawing, pattern, notes = read(read_bytes(job.source), name="standard input" if job.source == "-" else job.source)
    report = build(CheckPieces, (), job.options, units=job.units).evaluated(pattern)
    findings = report.findings(drawing, pattern, notes)
    walk = next((check for check in report.checks() if isinstance(check, SeamWalk)), SeamWalk())
    section = file_section(job.source, job.number, pattern, findings, walk.verdict) if job.pictures else ""
    return _Checked(
        source=job.source,
        told=_told(job.source, pattern, findings),
        findings=tuple(findings),
        record=checked_record(job.source, pattern, findings, walk.verdict),
        section=section,
    )


def _told(source: str, pattern: Pattern, findings: Sequence[Finding]) -> str:
    faults = sum(finding.severity == FAULT for finding in findings)
    about = f"{plural(len(pattern.pieces), 'piece')}, {plural(len(pattern.seams), 'seam')}"
    return f"{source}: {about}: {_count(faults, len(findings) - faults)}"


def _count(faults: int, warnings: int) -> str:
    said = [plural(count, what) for count, what in ((faults, "fault"), (warnings, "warning")) if count]
    return ", ".join(said) or "nothing found"


def _tell(result: _Checked, records: list[dict[str, Any]] | None) -> None:
    """One line for a drawing and one for each finding, on standard output; or its record kept for later."""
    if records is not None:
        records.append(result.record)
    if result.error:
        named = result.source == "-" or result.error.startswith(result.source)
        about = "" if named else f"{result.source}: "
        print(f"flatcut: {about}{result.error}", file=sys.stderr)
    elif records is None:
        print(result.told)
        width = len(str(len(result.findings)))
        for number, finding in enumerate(result.findings, start=1):
            print(f"  {number:>{width}} {finding.severity + ':':<8} {finding.text}")
