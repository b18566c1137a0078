"""`run`: a recipe replayed on drawings, or for every size of a table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.blocks.body import measures_of_file
from flatcut.cli.commands.command import Command
from flatcut.cli.editing import ends, refuse_other_kind
from flatcut.cli.following import reports_of
from flatcut.cli.runs import Job, run_all, run_one, run_sizes
from flatcut.cli.sizing import bodies_of
from flatcut.cli.spreading import jobs_of
from flatcut.declared.fields import file, flag, text
from flatcut.errors import UsageError
from flatcut.files import folder_for, same_file, write_bytes
from flatcut.recipe import read_recipe, recipe_text
from flatcut.tables import TABLES


@dataclass(frozen=True, kw_only=True)
class Run(Command):
    """Replay a recipe on one drawing or on several, each on its own, or for every size of a table."""

    usage: ClassVar[str] = """\
flatcut run STYLE.recipe [-i IN.svg] [-o OUT.svg] [--measures=FILE]
flatcut run STYLE.recipe A.svg B.svg... --into=DIR [--measures=FILE]
flatcut run STYLE.recipe --sizes=TABLE.toml|BODIES.csv --into=DIR [--then="check; print"] [--scheduler=ADDRESS]"""
    files: ClassVar[bool] = True

    measures: str = file("", "one body's measurements, which go before those of the recipe", ("toml",))
    sizes: str = file(
        "",
        (
            "a table of bodies",
            "the recipe begins with a block and is drafted for each; a run that was stopped goes on where it was",
        ),
        ("toml", *TABLES),
    )
    then: str = text("", ("reports that follow for each body", "such as check; print, with their own options"))
    anew: bool = flag(
        False, "bodies that were done before are done again, and files that were changed since written over"
    )
    into: str = text("", ("folder for the results", "one drawing for each input, or for each size"))
    in_place: bool = flag(False, "the drawing given with -i is written over")
    jobs: str = text("1", "so many at a time")
    scheduler: str = text(
        "", ("address of a Dask scheduler", "whose workers do the bodies of --sizes, not this machine")
    )

    def run(self, found: Words) -> int:
        """Every run; 1 where one has something to look at, 2 where none could be done."""
        jobs = jobs_of(self.jobs)
        if not found.targets:
            raise UsageError("run takes a recipe first: flatcut run STYLE.recipe IN.svg -o OUT.svg")
        recipe = recipe_text(found.targets[0])
        lines = read_recipe(recipe)  # a bad line is told before any drawing is opened
        inputs = [*found.inputs, *found.targets[1:]]
        if self.sizes:
            if not self.into or found.output or self.in_place or inputs or self.measures:
                raise UsageError(
                    "--sizes drafts from the recipe alone; write flatcut run STYLE.recipe --sizes=TABLE.toml --into=DIR"
                )
            if not any(line.operation.begins for line in lines):
                raise UsageError(f"{found.targets[0]} has no block line, so no size would change it; begin it with one")
            reports_of(self.then)  # a wrong word is told before any body is drafted
            bodies = bodies_of(self.sizes, units=found.units)
            with folder_for(self.into) as folder:
                return run_sizes(
                    recipe,
                    found.targets[0],
                    bodies,
                    folder,
                    jobs=jobs,
                    then=self.then,
                    anew=self.anew,
                    scheduler=self.scheduler,
                )
        if self.then or self.anew or self.scheduler:
            raise UsageError(
                "--then, --anew and --scheduler go with --sizes, where a recipe is drafted for many bodies"
            )
        body = measures_of_file(self.measures) if self.measures else {}
        if self.into:
            if found.output or self.in_place or not inputs:
                raise UsageError("--into=DIR takes drawings and no -o: flatcut run STYLE.recipe A.svg B.svg --into=DIR")
            with folder_for(self.into) as folder:
                return run_all(_of_drawings(recipe, inputs, folder, body), jobs)
        found.inputs = inputs
        source, output = ends(found, in_place=self.in_place)
        refuse_other_kind("run", output)
        done = run_one(Job(recipe=recipe, source=source, output=output, body=body))
        write_bytes(output, done.data, over=done.before if self.in_place else None)
        done.tell()
        return 1 if done.noted else 0


def _of_drawings(recipe: str, inputs: list[str], folder: Path, body: Mapping[str, float]) -> list[Job]:
    outputs = [str(folder / Path(source).name) for source in inputs]
    for source, output in zip(inputs, outputs, strict=True):
        if same_file(source, output):
            raise UsageError(f"--into={folder} would overwrite {source}; name another folder")
    if len(set(outputs)) < len(outputs):
        raise UsageError("two of the drawings have the same file name; run them apart")
    return [Job(recipe=recipe, source=s, output=o, body=body) for s, o in zip(inputs, outputs, strict=True)]
