"""`flatcut demo DIR`: a worked example, from a drawn block to sheets, with a page that shows every step.

The page begins with what it is all for, in pictures: a dart moved, a wrong seam found, corners of the cut line, sheets.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import flatcut
from flatcut.checks.check import run_checks
from flatcut.checks.seam_walk import SeamWalk
from flatcut.errors import InputError
from flatcut.files import make_folder, write_bytes
from flatcut.formats.check_pictures import Number, seam_picture
from flatcut.formats.html import Section, page
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.inline import painted, picture
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern, Step
from flatcut.recipe import read_recipe, replay, write_recipe
from flatcut.reports.print import Print

HEADINGS = {
    "piece": ("The closed paths become pieces", "What is drawn is the stitch line. Corners divide it into edges."),
    "style": ("The style gets its name and size", "The labels show them."),
    "edge": ("Edges get names and uses", "A name is how every later step speaks of an edge; a use gives its defaults."),
    "seam": ("Seams say what is sewn to what", "Both sides are measured along the stitch line at once."),
    "true": ("Lines are made equal and fair", "As they are sewn: darts closed, pieces laid together at their seams."),
    "pivot": ("A dart moves", "The part beside it turns about its point; what the dart takes in stays the same angle."),
    "back-off": ("Its point stands off the bulge", "The feet stay; the side is made fair over the closed dart."),
    "allowance": ("Edges get their seam allowance", "The cut line is drawn from it and follows every later change."),
    "notch": ("Notches are set", "At a dart each foot gets one; on a seam the mate can be set with it."),
    "grain": ("The grain line is drawn", "It lies as the fold or the centre does, two thirds of the piece long."),
    "label": ("The label says how it is cut", "It stands along the grain, where it crosses no line."),
    "arrange": ("The pieces are laid side by side", "Grain upright, on a page that is large enough."),
}
MOVES, MENDS = "pivot", "true"
"""Operations whose drawing before and after, or whose faults before, the page begins with."""


def make_demo(name: str) -> list[str]:
    """Write the example into a folder and return what was done, a line of figures for each step."""
    source = sample("demo/block.svg")
    recipe = sample("demo/block.recipe").decode()
    folder = make_folder(name)
    drawing, pattern, _ = read(source, name="top.svg")
    sections = [
        Section(
            heading="The drawing",
            text="Two outlines, drawn in any editor.",
            pictures=[picture(source, label="the drawing as it came")],
        )
    ]
    said, result = [], source
    first: list[Section] = []
    for line in read_recipe(recipe):
        if line.operation.command == MENDS and not any(section.heading == _WRONG for section in first):
            first.append(_wrong_seam(pattern))
        before, shown = len(pattern.steps), result
        pattern = replay([line], pattern)
        step = pattern.steps[-1] if len(pattern.steps) > before else Step(line=line.operation.line())
        result = write(drawing, pattern)
        drawing, pattern, _ = read(result, name="top.svg")
        said.append(_told(step))
        sections.append(_section(step, line.operation.command))
        if line.operation.command == MOVES:
            first.insert(0, _moved_dart(step, shown, result))
        if sections[-1].heading == sections[-2].heading:
            sections[-2:] = [_both(*sections[-2:])]
    first += [_cut(result), _sheets(pattern)]
    sections.append(_checked(pattern))
    write_bytes(str(folder / "top.svg"), source)
    write_bytes(str(folder / "top.recipe"), write_recipe(pattern.steps).encode())
    write_bytes(str(folder / "top-cut.svg"), result)
    listing = json.dumps(pattern_record(pattern), ensure_ascii=False, indent=1)
    write_bytes(str(folder / "top-cut.json"), listing.encode())
    whole = page("A summer top, from a drawn block to sheets", _INTRODUCTION, [*first, *sections])
    write_bytes(str(folder / "index.html"), whole.encode())
    return [*said, f"open {folder / 'index.html'} in a browser, and {folder / 'top-cut.svg'} in the editor"]


_INTRODUCTION = (
    "First what it is for, in four pictures; then every step.",
    "Each is one command, one dialog of the editor, or one line of a recipe; all three do the same.",
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


_WRONG = "A seam that was drawn wrong is found"


def _moved_dart(step: Step, before: bytes, after: bytes) -> Section:
    return Section(
        heading="A dart is moved",
        text="The whole of it, from the armhole to the side, at one angle. Before and after:",
        command=step.line,
        pictures=[picture(before, label="before the dart is moved"), picture(after, label="after it")],
    )


def _wrong_seam(pattern: Pattern) -> Section:
    """The seam that is found wrong before it is put right, with its picture."""
    walk = SeamWalk()
    found = [one for one in run_checks(pattern) if one.check == walk.name]
    shown = [Number(number=k, finding=finding) for k, finding in enumerate(found, start=1)]
    seams = [(item, seam) for item in shown for seam in pattern.seams if seam.uid == item.finding.about]
    return Section(
        heading=_WRONG,
        text="Both sides are walked along the stitch line and laid along each other. Dashed lines join places that are "
        "equally far along; what is too long is drawn heavy.",
        command="check top.svg",
        warnings=[finding.text for finding in found],
        pictures=[seam_picture(pattern, seam, walk.verdict, [item]) for item, seam in seams],
    )


def _cut(result: bytes) -> Section:
    return Section(
        heading="The cut line has the corners that sewing needs",
        text="Each edge has its own width. Ends of a seam that is pressed open are squared, the hem is turned, "
        "darts end as they are folded.",
        pictures=[picture(result, label="the pieces with their cut lines")],
    )


def _sheets(pattern: Pattern) -> Section:
    """The first page of the print: test squares and the map of the sheets."""
    printed = Print(paper="a4").perform(pattern)
    first = printed.pages[0]
    items = [item for part in first.parts for item in part.ink.moved(*part.shift).items]
    shown = painted(items, (first.width, first.height), label="the first page with the map of the sheets")
    return Section(
        heading="It is printed at true scale",
        text="On sheets of any size, to be taped together, or on a roll. The first page:",
        command="print top-cut.svg -o top.pdf --paper=a4",
        figures=[str(figure) for figure in printed.figures],
        pictures=[shown],
    )


def _section(step: Step, command: str) -> Section:
    heading, text = HEADINGS.get(command, (command, ""))
    return Section(
        heading=heading,
        text=text,
        command=step.line,
        figures=[str(figure) for figure in step.figures],
        warnings=step.warnings,
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
