"""`flatcut REPORT IN.svg...`: the one runner of all reports on the command line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from flatcut.arguments import Words, build, split
from flatcut.cli.spreading import LOST, jobs_of, shown, spread, watched
from flatcut.cli.telling import taken_flag, tell_findings
from flatcut.declared.declared import option
from flatcut.errors import FlatcutError, UsageError
from flatcut.files import as_text, read_bytes, same_file, write_bytes, write_chunks
from flatcut.formats.opening import read
from flatcut.reports.report import RECORD, Input, Report, Result, load

_Part = TypeVar("_Part")
_Failed = Callable[[str, int, FlatcutError], _Part]


def report(name: str, words: Sequence[str]) -> int:
    """Run a report: what it says to standard output, figures and notes to standard error, its files where asked.

    Exit code 1 where there is something to look at, 2 where no drawing could be read.
    """
    cls, found = load(name), split(words)
    as_json = taken_flag(found, RECORD) if cls.records else False
    jobs = jobs_of(found.options.pop("jobs", "1"))
    files = {made: found.options.pop(made) for made in cls.makes if made in found.options}
    taken = _taken(cls, found)
    asked = build(
        cls, (), found.options, units=found.units, bare=found.bare
    )  # a wrong option is told before any drawing is opened
    inputs = Files(
        names=(*found.inputs, *found.targets) or (() if taken else ("-",)),
        jobs=jobs,
        wanted=(*files, *([RECORD] if as_json else [])),
        doing=cls.doing,
        ending=_ending(cls, found.output),
    )
    outputs = {**files, "": _output(cls, found)}
    for asked_by, file in outputs.items():
        _refuse(cls, asked_by, file, inputs.names)
    result = asked.run(inputs)
    if not result.failed:
        for made in result.files:
            _write(outputs[made.option], made.chunks)
    _tell(result, as_json=as_json)
    return 2 if result.failed else int(result.noted)


@dataclass(frozen=True, kw_only=True)
class Files:
    """The drawings of a call, read in so many processes."""

    names: tuple[str, ...]
    jobs: int = 1
    wanted: tuple[str, ...] = ()
    doing: str = "read"
    ending: str = ""

    @property
    def title(self) -> str:
        """The name of the first file, without its ending; '' where there is none."""
        return _title(self.names[0]) if self.names else ""

    def each(self, function: Callable[[Input], _Part], failed: _Failed[_Part] | None = None) -> Iterator[_Part]:
        """What the function makes of each, in order."""
        work = list(enumerate(self.names, start=1))
        lost = None if failed is None else partial(_lost, failed)
        results = spread(partial(_one, function, failed), work, self.jobs, lost=lost)
        return shown(results, len(work), self.doing)

    def watch(self, text: str) -> None:
        """On the last line of the terminal, in place of what stood there; '' clears it."""
        watched(text)


def _one(function: Callable[[Input], _Part], failed: _Failed[_Part] | None, item: tuple[int, str]) -> _Part:
    number, name = item
    try:
        drawing, pattern, findings = read(read_bytes(name), name="standard input" if name == "-" else name)
        found = Input(name=name, title=_title(name), drawing=drawing, pattern=pattern, findings=findings, number=number)
        return function(found)
    except FlatcutError as error:
        if failed is None:
            raise
        return failed(name, number, error)


def _taken(cls: type[Report], found: Words) -> bool:
    """Take the files that fill a field out of the targets; whether there is such a file."""
    for ending, key in cls.takes.items():
        mine = [word for word in found.targets if word.lower().endswith(ending)]
        if len(mine) + (option(key) in found.options) > 1:
            raise UsageError(f"{cls.command} takes one {key}; give one file that ends in {ending}")
        if mine:
            found.options[option(key)] = mine[0]
            found.targets.remove(mine[0])
    return any(option(key) in found.options for key in cls.takes.values())


def _lost(failed: _Failed[_Part], item: tuple[int, str]) -> _Part:
    return failed(item[1], item[0], FlatcutError(LOST))


def _title(name: str) -> str:
    return "" if name == "-" else as_text(Path(name).stem)


def _write(name: str, chunks: Iterable[bytes]) -> None:
    if name == "-":
        write_bytes(name, b"".join(chunks))
    else:
        write_chunks(name, chunks)


def _ending(cls: type[Report], output: str) -> str:
    """The ending that is asked for: one of several by the name of the output, else the only one there is."""
    known = (cls.saves, *cls.also_saves)
    found = next((ending for ending in known if output.lower().endswith(ending)), "")
    if not found and cls.also_saves and output not in ("", "-"):
        raise UsageError(f"-o {output} ends in none of {', '.join(known)}; by its ending it is known what to make")
    return found or cls.saves


def _output(cls: type[Report], found: Words) -> str:
    if found.output and not cls.saves:
        others = "".join(f"; --{option}=FILE writes {help}" for option, help in cls.makes.items())
        raise UsageError(f"{cls.command} prints and writes no drawing{others or '; use > to keep what it prints'}")
    return found.output or "-"


def _refuse(cls: type[Report], option: str, file: str, names: Sequence[str]) -> None:
    """Raise for an output that is none, or that is one of the drawings."""
    if not option and not cls.saves:
        return
    said = f"--{option}" if option else "-o"
    ending = cls.saves or ".html"
    if option and file in ("true", "-"):
        raise UsageError(f"{said} takes the name of a file to write, such as {said}={cls.command}{ending}")
    if file == "-" and sys.stdout.isatty():
        raise UsageError(f"what {cls.command} makes does not go to a terminal; name a file with -o OUT{ending}")
    if file != "-" and any(same_file(name, file) for name in names):
        raise UsageError(f"{said} {file} would overwrite the drawing; name another file, such as OUT{ending}")


def _tell(result: Result, *, as_json: bool) -> None:
    tell_findings(result.notes)
    for error in result.errors:
        print(f"flatcut: {error}", file=sys.stderr)
    for warning in result.warnings:
        print(f"warning: {warning}", file=sys.stderr)
    if as_json:
        print(json.dumps(result.record, ensure_ascii=False, indent=1))
    else:
        print(result.said, end="")
    for figure in result.figures:
        print(figure, file=sys.stderr)


def options(cls: type[Report]) -> Mapping[str, str]:
    """The options that a report has on the command line beside its fields, with their help."""
    own = {f"{option}=FILE": help for option, help in cls.makes.items()}
    own |= {"json": "as data for a program"} if cls.records else {}
    return {**own, "jobs=N": "so many drawings at a time"}
