"""Reports that follow each run of many: `run ... --then="check; print --paper=a4"`."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from flatcut.arguments import build, split, words_of
from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.opening import read
from flatcut.reports.report import Input, Report, Result, load

_Part = TypeVar("_Part")


@dataclass(frozen=True, kw_only=True)
class _Single:
    """The one drawing that a report is asked about."""

    drawing: Input
    wanted: Collection[str] = ()
    ending: str = ""

    @property
    def names(self) -> Sequence[str]:
        return (self.drawing.name,)

    @property
    def title(self) -> str:
        return self.drawing.title

    def each(
        self, function: Callable[[Input], _Part], failed: Callable[[str, int, FlatcutError], _Part] | None = None
    ) -> Iterator[_Part]:
        yield function(self.drawing)

    def watch(self, text: str) -> None:
        """The run over many bodies has a line of its own."""


@dataclass(frozen=True, kw_only=True)
class Followed:
    """What came of the reports on one drawing. files: ending and bytes of each; said: what they found, a sentence each;
    noted: whether something of it is to be looked at.
    """

    files: tuple[tuple[str, bytes], ...] = ()
    said: tuple[str, ...] = ()
    noted: bool = False


def reports_of(text: str) -> list[Report]:
    """The reports of a typed --then, with semicolons between them. Errors: FlatcutError.

    >>> [one.command for one in reports_of("check; print --paper=a4")]
    ['check', 'print']
    """
    found: list[Report] = []
    for part in text.split(";"):
        try:
            words = words_of(part)
        except ValueError:
            raise UsageError(f"--then has a quotation mark without its mate in '{part.strip()}'; close it") from None
        if not words:
            continue
        cls, rest = load(words[0]), split(words[1:])
        if rest.targets or rest.inputs or rest.output:
            raise UsageError(f"--then={words[0]} names no files: each run's own are made beside its drawing")
        found.append(build(cls, (), rest.options, units=rest.units, bare=rest.bare))
    endings = [_ending(one) for one in found]
    if len(set(endings)) < len(endings):
        raise UsageError("two reports of --then would write the same file; run one of them apart")
    return found


def _ending(report: Report) -> str:
    """The end of the name of the file that a report makes here: what it saves, or what it has as plain data."""
    return report.saves or f"-{report.command}.json"


def followed(reports: Sequence[Report], data: bytes, *, name: str, title: str) -> Followed:
    """The reports on a drawing that was just made, read from its bytes as they would be from the file."""
    if not reports:
        return Followed()
    drawing, pattern, findings = read(data, name=name)
    one = _Single(drawing=Input(name=name, title=title, drawing=drawing, pattern=pattern, findings=findings))
    files: list[tuple[str, bytes]] = []
    said: list[str] = []
    noted = False
    for report in reports:
        try:
            result = report.run(replace(one, ending=report.saves))
            file = _file(report, result)
        except FlatcutError as error:
            said.append(f"{report.command}: {error}")
            noted = True
            continue
        if file is not None:
            files.append((_ending(report), file))
        told = [*result.errors, *result.notes, *(finding.text for finding in result.findings), *result.warnings]
        said += [f"{report.command}: {text}" for text in dict.fromkeys(told)]
        noted |= result.noted
    return Followed(files=tuple(files), said=tuple(said), noted=noted)


def _file(report: Report, result: Result) -> bytes | None:
    if report.saves:
        return b"".join(chunk for made in result.files if not made.option for chunk in made.chunks)
    if result.record is None:
        return result.said.encode() or None
    return (json.dumps(result.record, ensure_ascii=False, indent=1) + "\n").encode()
