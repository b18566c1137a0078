"""`run`: a recipe replayed on drawings, or for every size of a table."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.blocks.body import measures_of_file
from flatcut.cli.commands.command import Command
from flatcut.cli.editing import STARTING, ends, tell_findings
from flatcut.cli.sizing import bodies_of, file_of, sized
from flatcut.cli.spreading import LOST, jobs_of, shown, spread
from flatcut.declared.fields import file, flag, text
from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.files import folder_for, read_bytes, same_file, write_bytes
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.reading import RECIPE
from flatcut.recipe import read_recipe, replay


@dataclass(frozen=True, kw_only=True)
class _Job:
    """One run. source: '-' for none; body: measurements that go before the recipe's own, or why there are none; size:
    their name, if any.
    """

    recipe: str
    source: str
    output: str
    body: Mapping[str, float] | FlatcutError = field(default_factory=dict)
    size: str = ""

    @property
    def name(self) -> str:
        """What it is told under."""
        return f"size {self.size}" if self.size else self.source


@dataclass(frozen=True, kw_only=True)
class Run(Command):
    """Replay a recipe on one drawing or on several, each on its own, or for every size of a table."""

    usage: ClassVar[str] = """\
flatcut run STYLE.recipe [-i IN.svg] [-o OUT.svg] [--measures=FILE]
flatcut run STYLE.recipe A.svg B.svg... --into=DIR [--measures=FILE]
flatcut run STYLE.recipe --sizes=TABLE.toml --into=DIR"""
    files: ClassVar[bool] = True

    measures: str = file("", "one body's measurements, which go before those of the recipe", ("toml",))
    sizes: str = file("", ("a table of bodies", "the recipe begins with a block and is drafted for each"), ("toml",))
    into: str = text("", ("folder for the results", "one drawing for each input, or for each size"))
    in_place: bool = flag(False, "the drawing given with -i is written over")
    jobs: str = text("1", "so many at a time")

    def run(self, found: Words) -> int:
        """Every run; 1 where one has something to look at, 2 where none could be done."""
        jobs = jobs_of(self.jobs)
        if not found.targets:
            raise UsageError("run takes a recipe first: flatcut run STYLE.recipe IN.svg -o OUT.svg")
        recipe = _text(found.targets[0])
        lines = read_recipe(recipe)  # a bad line is told before any drawing is opened
        inputs = [*found.inputs, *found.targets[1:]]
        if self.sizes:
            if not self.into or found.output or self.in_place or inputs or self.measures:
                raise UsageError(
                    "--sizes drafts from the recipe alone; write flatcut run STYLE.recipe --sizes=TABLE.toml --into=DIR"
                )
            if not any(line.operation.command in STARTING for line in lines):
                raise UsageError(f"{found.targets[0]} has no block line, so no size would change it; begin it with one")
            bodies = bodies_of(self.sizes)
            with folder_for(self.into) as folder:
                return _all(_of_sizes(recipe, found.targets[0], bodies, folder), jobs)
        body = measures_of_file(self.measures) if self.measures else {}
        if self.into:
            if found.output or self.in_place or not inputs:
                raise UsageError("--into=DIR takes drawings and no -o: flatcut run STYLE.recipe A.svg B.svg --into=DIR")
            with folder_for(self.into) as folder:
                return _all(_of_drawings(recipe, inputs, folder, body), jobs)
        found.inputs = inputs
        source, output = ends(found, in_place=self.in_place)
        done = _one(_Job(recipe=recipe, source=source, output=output, body=body))
        write_bytes(output, done.data, over=done.before if self.in_place else None)
        tell_findings(done.faults)
        return 1 if done.faults else 0


def _of_sizes(
    recipe: str, style: str, bodies: Mapping[str, Mapping[str, float] | FlatcutError], folder: Path
) -> list[_Job]:
    return [
        _Job(recipe=recipe, source="-", output=str(folder / file_of(style, size)), body=body, size=size)
        for size, body in bodies.items()
    ]


def _of_drawings(recipe: str, inputs: list[str], folder: Path, body: Mapping[str, float]) -> list[_Job]:
    outputs = [str(folder / Path(source).name) for source in inputs]
    for source, output in zip(inputs, outputs, strict=True):
        if same_file(source, output):
            raise UsageError(f"--into={folder} would overwrite {source}; name another folder")
    if len(set(outputs)) < len(outputs):
        raise UsageError("two of the drawings have the same file name; run them apart")
    return [_Job(recipe=recipe, source=s, output=o, body=body) for s, o in zip(inputs, outputs, strict=True)]


def _text(name: str) -> str:
    """The recipe in a file. Errors: InputError."""
    try:
        return read_bytes(name, most=RECIPE, what="a recipe").decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"the recipe {name} is no text in UTF-8; save it so") from None


@dataclass(frozen=True, kw_only=True)
class _Ran:
    """What came of a run: its error, '' for none; else the drawing, the one before it, and what cannot be drawn."""

    error: str = ""
    data: bytes = b""
    before: bytes = b""
    faults: tuple[str, ...] = ()


def _all(work: list[_Job], jobs: int) -> int:
    """Every run, and how each has ended; those that can be done are done. The drawings are written here, one after the
    other as they come, so that a run that is stopped knows which ones are.
    """
    told: list[str] = []
    failed = faulty = 0
    for job, ran in zip(work, shown(spread(_tried, work, jobs, lost=_lost), len(work), "done"), strict=True):
        error = ran.error
        if not error:
            try:
                write_bytes(job.output, ran.data)
            except FlatcutError as failure:
                error = str(failure)
        failed += bool(error)
        faulty += bool(ran.faults)
        tell_findings(ran.faults)
        told.append(f"{job.name}: {error or ('done, but see the notes' if ran.faults else 'done')}")
    print("\n".join(told), file=sys.stderr)
    if failed == len(work):
        return 2
    return 1 if failed or faulty else 0


def _tried(job: _Job) -> _Ran:
    """A run whose error stops no other."""
    try:
        return _one(job)
    except FlatcutError as error:
        return _Ran(error=str(error))


def _lost(job: _Job) -> _Ran:
    return _Ran(error=LOST)


def _one(job: _Job) -> _Ran:
    """Do one run. Errors: FlatcutError."""
    if isinstance(job.body, FlatcutError):
        raise job.body
    lines = read_recipe(job.recipe)
    drafts = bool(lines) and (job.size or lines[0].operation.command in STARTING)
    before = b""
    if drafts and job.source == "-":
        drawing, pattern, findings = new_drawing()
    else:
        before = read_bytes(job.source)
        drawing, pattern, findings = read(before, name=job.source)
    tell_findings(findings)
    if job.body:
        if not job.size:
            sizes = [getattr(line.operation, "size", "") for line in lines if line.operation.command == "style"]
            tell_findings(
                f"size {size} of the recipe is left out, as other measurements go before it; name theirs with style"
                for size in sizes
                if size
            )
        lines, pattern = sized(lines, pattern, job.size, job.body)
    count = len(pattern.steps)
    after = replay(lines, pattern)
    where = f"{job.name}: " if job.size else ""
    for step in after.steps[count:]:
        for warning in step.warnings:
            print(f"warning: {where}{step.line}: {warning}", file=sys.stderr)
    data = write(drawing, after)
    said = {warning for step in after.steps[count:] for warning in step.warnings}
    for note in drawing.notes:
        if note not in said:
            print(f"warning: {where}{note}", file=sys.stderr)
    return _Ran(data=data, before=before, faults=tuple(where + fault for fault in drawing.faults))
