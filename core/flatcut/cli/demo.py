"""`flatcut demo DIR`: a worked example, from a drawing to cut lines, with a page that shows every step."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import flatcut
from flatcut.checks.check import run_checks
from flatcut.errors import InputError
from flatcut.files import make_folder, write_bytes
from flatcut.formats.html import Section, page
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.inline import picture
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern, Step
from flatcut.recipe import read_recipe, replay, write_recipe

HEADINGS = {
    "piece": ("The closed paths become pieces", "What is drawn is the stitch line. Corners divide it into edges."),
    "style": ("The style gets its name and size", "The labels show them."),
    "edge": ("Edges get names and uses", "A name is how every later step speaks of an edge; a use gives its defaults."),
    "seam": ("Seams say what is sewn to what", "Both sides are measured along the stitch line at once."),
    "line": ("A style line is kept", "It was drawn by hand; its ends became places, so it also fits another size."),
    "point": ("A point gets its name", "It is kept along and across two corners of the piece."),
    "measure": ("A length is measured and kept", "Later lengths may use it by name."),
    "allowance": ("Edges get their seam allowance", "The cut line is drawn from it and follows every later change."),
    "notch": ("Notches are set", "On a seam the mate is set with it; at a dart each foot gets one."),
    "grain": ("The grain line is drawn", "It lies as the fold or the centre does, two thirds of the piece long."),
    "label": ("The label says how it is cut", "It stands along the grain, where it crosses no line."),
    "names": ("The names are shown", "They stand on a layer of their own, which is never printed."),
}
SHOWN = ("piece", "line", "allowance", "label", "names")
"""Operations after which the drawing is shown: the others change nothing that one sees."""


def make_demo(name: str) -> list[str]:
    """Write the example into a folder and return what was done, a line of figures for each step."""
    source = sample("demo/top.svg")
    recipe = sample("demo/top.recipe").decode()
    folder = make_folder(name)
    drawing, pattern, _ = read(source, name="top.svg")
    sections = [
        Section(
            heading="The drawing",
            text="Two outlines, a line and a mark, drawn in any editor.",
            pictures=[picture(source, label="the drawing as it came")],
        )
    ]
    said, result = [], source
    for line in read_recipe(recipe):
        before = len(pattern.steps)
        pattern = replay([line], pattern)
        step = pattern.steps[-1] if len(pattern.steps) > before else Step(line=line.operation.line())
        result = write(drawing, pattern)
        drawing, pattern, _ = read(result, name="top.svg")
        said.append(_told(step))
        sections.append(_section(step, line.operation.command, result, line.number))
        if sections[-1].heading == sections[-2].heading:
            sections[-2:] = [_both(*sections[-2:])]
    sections.append(_checked(pattern))
    write_bytes(str(folder / "top.svg"), source)
    write_bytes(str(folder / "top.recipe"), write_recipe(pattern.steps).encode())
    write_bytes(str(folder / "top-cut.svg"), result)
    listing = json.dumps(pattern_record(pattern), ensure_ascii=False, indent=1)
    write_bytes(str(folder / "top-cut.json"), listing.encode())
    write_bytes(
        str(folder / "index.html"), page("A summer top, from drawing to cut line", _INTRODUCTION, sections).encode()
    )
    return [*said, f"open {folder / 'index.html'} in a browser, and {folder / 'top-cut.svg'} in the editor"]


_INTRODUCTION = (
    "Every step below is one command, one dialog of the editor, or one line of a recipe; all three do the same. "
    "The whole recipe is in top.recipe, the drawing before it in top.svg and after it in top-cut.svg.",
    "Before cloth is cut: measure what is printed against a ruler, and sew a toile first.",
)


def sample(name: str) -> bytes:
    """A file of the samples: in the package once it is installed, beside core/ in a checkout."""
    package = Path(flatcut.__file__).parent
    for folder in (package / "samples", package.parents[1] / "samples"):
        if (folder / name).is_file():
            return (folder / name).read_bytes()
    raise InputError(f"the sample {name} is missing; install flatcut anew")


def _told(step: Step) -> str:
    figures = "; ".join(str(figure) for figure in step.figures[:4])
    more = f"; and {len(step.figures) - 4} more" if len(step.figures) > 4 else ""
    return f"{step.line}  ->  {figures}{more}" if figures else step.line


def _section(step: Step, command: str, result: bytes, number: int) -> Section:
    heading, text = HEADINGS.get(command, (command, ""))
    pictures = [picture(result, label=f"the drawing after line {number}")] if command in SHOWN else []
    return Section(
        heading=heading,
        text=text,
        command=step.line,
        figures=[str(figure) for figure in step.figures],
        warnings=step.warnings,
        pictures=pictures,
    )


def _both(first: Section, second: Section) -> Section:
    """Two steps of one kind under one heading; the picture after the second shows both."""
    return replace(
        first,
        command=f"{first.command}\n{second.command}",
        figures=[*first.figures, *second.figures],
        warnings=[*first.warnings, *second.warnings],
        pictures=second.pictures,
    )


def _checked(pattern: Pattern) -> Section:
    findings = run_checks(pattern)
    return Section(
        heading="The set is checked",
        text="" if findings else "Seams fit, dart legs are equal, cut lines are clean: nothing was found.",
        command="check top-cut.svg",
        warnings=[finding.text for finding in findings],
    )
