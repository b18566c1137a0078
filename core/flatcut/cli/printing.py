"""`flatcut print`: drawings on paper at true scale, as one PDF."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from flatcut.arguments import build, split
from flatcut.cli.editing import tell_findings
from flatcut.cli.reports import sources
from flatcut.cli.spreading import jobs_of, shown, spread
from flatcut.errors import UsageError
from flatcut.files import as_text, read_bytes, same_file, write_bytes
from flatcut.findings import Finding
from flatcut.formats.pdf import pdf
from flatcut.formats.svg.read import read
from flatcut.pattern.values import Figure
from flatcut.printing.page import Page
from flatcut.reports.print import Print, Printed


def print_set(name: str, words: Sequence[str]) -> int:
    """Print drawings, one after the other, into one PDF; exit code 1 when a piece could not be read or cut."""
    found = split(words)
    jobs = jobs_of(found.options.pop("jobs", "1"))
    wanted = build(Print, [], found.options, units=found.units)
    inputs = sources(found)
    output = found.output or "-"
    if output == "-" and sys.stdout.isatty():
        raise UsageError("a PDF does not go to a terminal; name a file with -o OUT.pdf")
    if any(output != "-" and same_file(source, output) for source in inputs):
        raise UsageError(f"-o {output} would overwrite the drawing; name another file, such as OUT.pdf")
    told = _Told()
    results = spread(_printed, [_Job(source=source, wanted=wanted) for source in inputs], jobs)
    title = wanted.style or _stem(inputs[0])
    data = pdf(_pages(shown(results, len(inputs), "printed"), told), title=title, font=wanted.font)
    write_bytes(output, data)
    for label, value in told.figures.items():
        print(Figure(label, value, ""), file=sys.stderr)
    return 1 if told.noted else 0


@dataclass(frozen=True, kw_only=True)
class _Job:
    source: str
    wanted: Print


def _printed(job: _Job) -> tuple[Printed, list[Finding], list[str]]:
    """The pages of one drawing, what reading it found, and which of its drawn lines are older than it."""
    drawing, pattern, findings = read(read_bytes(job.source), name=_called(job.source))
    stale = job.wanted.older(drawing, pattern)
    return job.wanted.perform(pattern, name=_stem(job.source), notes=(*map(str, findings), *stale)), findings, stale


@dataclass
class _Told:
    """Sums over the drawings; noted: whether a piece is not printed as it should be."""

    figures: dict[str, float] = field(default_factory=dict)
    noted: bool = False


def _pages(results: Iterator[tuple[Printed, list[Finding], list[str]]], told: _Told) -> Iterator[Page]:
    """The pages of one drawing after the other, so that those of one at a time are held."""
    for printed, findings, stale in results:
        tell_findings(findings)
        for warning in (*stale, *printed.warnings):
            print(f"warning: {warning}", file=sys.stderr)
        told.noted |= bool(findings) or printed.uncut
        for figure in printed.figures:
            told.figures[figure.label] = told.figures.get(figure.label, 0) + figure.value
        yield from printed.pages


def _called(source: str) -> str:
    return "standard input" if source == "-" else source


def _stem(source: str) -> str:
    return "" if source == "-" else as_text(Path(source).stem)
