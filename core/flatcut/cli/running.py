"""`run` and `collect`: recipes replayed on drawings, and drawings brought together."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from flatcut.arguments import split
from flatcut.cli.editing import ends, taken_flag, tell_findings
from flatcut.cli.files import make_folder, read_bytes, same_file, write_bytes
from flatcut.cli.spreading import jobs_of, shown, spread
from flatcut.collecting import collected
from flatcut.errors import FlatcutError, UsageError, unknown
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.recipe import read_recipe, replay


@dataclass(frozen=True, kw_only=True)
class _Job:
    recipe: str
    source: str
    output: str


def run(name: str, words: Sequence[str]) -> int:
    """Replay a recipe on one drawing or on several, each on its own."""
    found = split(words)
    into, jobs = found.options.pop("into", ""), jobs_of(found.options.pop("jobs", "1"))
    in_place = taken_flag(found, "in-place")
    if found.options:
        raise unknown("option of run", f"--{next(iter(found.options))}", ["--into", "--jobs", "--in-place"])
    if not found.targets:
        raise UsageError("run takes a recipe first: flatcut run STYLE.recipe IN.svg -o OUT.svg")
    recipe = read_bytes(found.targets[0]).decode("utf-8", errors="replace")
    read_recipe(recipe)  # a bad line is told before any drawing is opened
    inputs = [*found.inputs, *found.targets[1:]]
    if not into:
        found.inputs = inputs
        source, output = ends(found, in_place=in_place)
        _one(_Job(recipe=recipe, source=source, output=output))
        return 0
    if found.output or in_place or not inputs:
        raise UsageError("--into=DIR takes drawings and no -o: flatcut run STYLE.recipe A.svg B.svg --into=DIR")
    return _many(recipe, inputs, into, jobs)


def _many(recipe: str, inputs: list[str], into: str, jobs: int) -> int:
    folder = make_folder(into)
    outputs = [str(folder / Path(source).name) for source in inputs]
    for source, output in zip(inputs, outputs, strict=True):
        if same_file(source, output):
            raise UsageError(f"--into={into} would overwrite {source}; name another folder")
    if len(set(outputs)) < len(outputs):
        raise UsageError("two of the drawings have the same file name; run them apart")
    work = [_Job(recipe=recipe, source=s, output=o) for s, o in zip(inputs, outputs, strict=True)]
    told = list(shown(spread(_tried, work, jobs), len(work), "done"))
    for job, error in zip(work, told, strict=True):
        print(f"{job.source}: {error or 'done'}", file=sys.stderr)
    failed = sum(bool(error) for error in told)
    return 2 if failed == len(work) else (1 if failed else 0)


def _tried(job: _Job) -> str:
    try:
        _one(job)
    except FlatcutError as error:
        return str(error)
    return ""


def _one(job: _Job) -> None:
    lines = read_recipe(job.recipe)
    drafts = bool(lines) and lines[0].operation.command == "block"
    if drafts and job.source == "-":
        drawing, pattern, findings = new_drawing()
    else:
        drawing, pattern, findings = read(read_bytes(job.source), name=job.source)
    tell_findings(findings)
    before = len(pattern.steps)
    after = replay(lines, pattern)
    for step in after.steps[before:]:
        for warning in step.warnings:
            print(f"warning: {step.line}: {warning}", file=sys.stderr)
    write_bytes(job.output, write(drawing, after))


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
