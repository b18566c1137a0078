"""`run` and `collect`: recipes replayed on drawings, and drawings brought together."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from flatcut.arguments import split
from flatcut.blocks.body import measures_of_file
from flatcut.cli.editing import STARTING, ends, taken_flag, tell_findings
from flatcut.cli.files import make_folder, read_bytes, same_file, write_bytes
from flatcut.cli.sizing import bodies_of, file_of, sized
from flatcut.cli.spreading import jobs_of, shown, spread
from flatcut.collecting import collected
from flatcut.errors import FlatcutError, UsageError, unknown
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
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


def run(name: str, words: Sequence[str]) -> int:
    """Replay a recipe on one drawing or on several, each on its own, or for every size of a table."""
    found = split(words)
    into, jobs = found.options.pop("into", ""), jobs_of(found.options.pop("jobs", "1"))
    sizes, measures = found.options.pop("sizes", ""), found.options.pop("measures", "")
    in_place = taken_flag(found, "in-place")
    if found.options:
        known = ["--into", "--jobs", "--in-place", "--sizes", "--measures"]
        raise unknown("option of run", f"--{next(iter(found.options))}", known)
    if not found.targets:
        raise UsageError("run takes a recipe first: flatcut run STYLE.recipe IN.svg -o OUT.svg")
    recipe = read_bytes(found.targets[0]).decode("utf-8-sig", errors="replace")
    lines = read_recipe(recipe)  # a bad line is told before any drawing is opened
    inputs = [*found.inputs, *found.targets[1:]]
    if sizes:
        if not into or found.output or in_place or inputs or measures:
            raise UsageError(
                "--sizes drafts from the recipe alone; write flatcut run STYLE.recipe --sizes=TABLE.toml --into=DIR"
            )
        if not any(line.operation.command in STARTING for line in lines):
            raise UsageError(f"{found.targets[0]} has no block line, so no size would change it; begin it with one")
        return _all(_of_sizes(recipe, found.targets[0], sizes, into), jobs)
    body = measures_of_file(measures) if measures else {}
    if into:
        if found.output or in_place or not inputs:
            raise UsageError("--into=DIR takes drawings and no -o: flatcut run STYLE.recipe A.svg B.svg --into=DIR")
        return _all(_of_drawings(recipe, inputs, into, body), jobs)
    found.inputs = inputs
    source, output = ends(found, in_place=in_place)
    return 1 if _one(_Job(recipe=recipe, source=source, output=output, body=body)) else 0


def _of_sizes(recipe: str, style: str, table: str, into: str) -> list[_Job]:
    bodies = bodies_of(table)
    folder = make_folder(into)
    return [
        _Job(recipe=recipe, source="-", output=str(folder / file_of(style, size)), body=body, size=size)
        for size, body in bodies.items()
    ]


def _of_drawings(recipe: str, inputs: list[str], into: str, body: Mapping[str, float]) -> list[_Job]:
    folder = make_folder(into)
    outputs = [str(folder / Path(source).name) for source in inputs]
    for source, output in zip(inputs, outputs, strict=True):
        if same_file(source, output):
            raise UsageError(f"--into={into} would overwrite {source}; name another folder")
    if len(set(outputs)) < len(outputs):
        raise UsageError("two of the drawings have the same file name; run them apart")
    return [_Job(recipe=recipe, source=s, output=o, body=body) for s, o in zip(inputs, outputs, strict=True)]


def _all(work: list[_Job], jobs: int) -> int:
    """Every run, and how each has ended; those that can be done are done."""
    told = list(shown(spread(_tried, work, jobs), len(work), "done"))
    for job, (error, faults) in zip(work, told, strict=True):
        print(f"{job.name}: {error or ('done, but see the notes' if faults else 'done')}", file=sys.stderr)
    failed = sum(bool(error) for error, _ in told)
    if failed == len(work):
        return 2
    return 1 if failed or any(faults for _, faults in told) else 0


def _tried(job: _Job) -> tuple[str, bool]:
    """The error of a run, '' for none, and whether it is done with faults."""
    try:
        return "", _one(job)
    except FlatcutError as error:
        return str(error), False


def _one(job: _Job) -> bool:
    """Do one run; whether its drawing has faults, such as a cut line that cannot be drawn."""
    if isinstance(job.body, FlatcutError):
        raise job.body
    lines = read_recipe(job.recipe)
    drafts = bool(lines) and (job.size or lines[0].operation.command in STARTING)
    if drafts and job.source == "-":
        drawing, pattern, findings = new_drawing()
    else:
        drawing, pattern, findings = read(read_bytes(job.source), name=job.source)
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
    before = len(pattern.steps)
    after = replay(lines, pattern)
    where = f"{job.name}: " if job.size else ""
    for step in after.steps[before:]:
        for warning in step.warnings:
            print(f"warning: {where}{step.line}: {warning}", file=sys.stderr)
    write_bytes(job.output, write(drawing, after))
    tell_findings([where + fault for fault in drawing.faults])
    return bool(drawing.faults)


def collect(name: str, words: Sequence[str]) -> int:
    """Bring the pieces of several drawings into one new document."""
    found = split(words)
    prefix = taken_flag(found, "prefix")
    if found.options:
        raise unknown("option of collect", f"--{next(iter(found.options))}", ["--prefix"])
    inputs = [*found.inputs, *found.targets]
    if len(inputs) < 2:
        raise UsageError("collect takes two drawings or more: flatcut collect A.svg B.svg -o C.svg")
    output = found.output or "-"
    if any(output != "-" and same_file(source, output) for source in inputs):
        raise UsageError(f"-o {output} would overwrite an input; name another file")
    parts, noted = [], False
    for source in inputs:
        _, pattern, findings = read(read_bytes(source), name=source)
        tell_findings(findings)
        noted |= bool(findings)
        parts.append((Path(source).stem, pattern))
    drawing, _, _ = new_drawing()
    write_bytes(output, write(drawing, collected(parts, prefix=prefix)))
    return 1 if noted else 0
