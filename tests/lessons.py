"""Whole lessons of garments held to what a reader needs of them, and played to their ends in a real browser.

`python -m tests.lessons [GARMENT...]` tells of all lessons, or of those named, how many steps, pictures and figures
they have and what is wrong with them; `--play` plays them too. What is wrong is a line below the table, exit code 1.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import shapely

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.roles import OUTLINE, STITCH
from flatcut.formats.lesson_page import lesson_page
from flatcut.geometry.curves import chain, flatten
from flatcut.lesson.making import Taught, lesson_of
from flatcut.lesson.telling import sentence
from flatcut.lesson.values import Card, Lesson, Stage
from flatcut.operations.operation import Done
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, sized
from tests.browser import Tab, opened
from tests.garments import BODIES, NAMES, text_of

BODY = "bust-90"
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?°?")
IN_WORDS = re.compile(r"(\d+(?:\.\d+)?)(?: mm|°)")
ROUND = 0.011
"""Figures are told to a hundredth."""
OUTSIDE = 0.01
"""Part of the moved paper that may lie beyond the pieces as they are drawn in the end: where lines were drawn fair."""


@cache
def lesson(name: str, body: str = BODY) -> tuple[Lesson, list[Done]]:
    """The lesson of a garment for a body, and its performed steps."""
    lines, pattern = sized(read_recipe(text_of(name)), Pattern(), body, BODIES[body])
    done: list[Done] = []
    for line in lines:
        done.append(line.operation.perform(pattern))
        pattern = done[-1].pattern
    taught = [Taught(done=one, above=line.above, comment=line.comment) for one, line in zip(done, lines, strict=True)]
    return lesson_of(taught, title=name), done


def faults(made: Lesson, done: Sequence[Done]) -> Iterator[str]:
    """What a reader would stumble over."""
    steps = iter(done)
    for number, stage in enumerate(made.stages, start=1):
        group = [next(steps) for _ in stage.said]
        where = f"step {number} ({stage.title})"
        for said, one in zip(stage.said, group, strict=True):
            if said.line != one.step.line or said.figures != one.step.figures:
                yield f"{where} tells of another step"
            yield from (f"{where}: '{text}' of its sentence is no figure of the step" for text in unfounded(one))
        yield from (f"{where}: {text}" for text in _pictured(stage))
        if any(stage is other for other in made.stages[: number - 1]):
            yield f"{where} is there twice"
    if next(steps, None) is not None:
        yield "a step is missing"
    for number, one in enumerate(made.sewing, start=1):
        if one.card is not None:
            bold = [stroke.box for stroke in one.card.ink.strokes if stroke.role.name in ("seam", "open")]
            wide = max((box[2] for box in bold), default=0) - min((box[0] for box in bold), default=0)
            if wide < 15 and one.card.scale < 1.2:
                yield f"sewing {number}: the seam is only {wide:.0f} mm wide on its picture"
            yield from (f"sewing {number}: {text}" for text in _overlapping(one.card))


def unfounded(one: Done) -> list[str]:
    """Numbers of a sentence that are neither figures of the step nor stand in its line, nor follow from the pattern."""
    told = [abs(figure.value) for figure in one.step.figures] + list(one.pattern.body.values())
    numbers = [float(text) for text in re.findall(r"\d+(?:\.\d+)?", one.step.line)]
    told += [*numbers, *(10 * number for number in numbers), *(25.4 * number for number in numbers)]
    said = sentence(one)
    # a place that is reckoned is told with the share or the sum that stands in the line
    reckoned = [found[1] for found in re.finditer(r"(\d+(?:\.\d+)?) mm (?:\(|square out)", said)]
    asked = one.asked.evaluated(one.ground)
    told += [abs(float(value)) for key in vars(asked) for value in _numbers(getattr(asked, key))]
    return [
        text
        for text in IN_WORDS.findall(said)
        if text not in reckoned and f"({text} mm)" not in said and all(abs(float(text) - v) > ROUND for v in told)
    ]


def _numbers(value: object) -> list[float]:
    every = value if isinstance(value, tuple) else (value,)
    return [one for one in every if isinstance(one, (int, float)) and not isinstance(one, bool)]


def _pictured(stage: Stage) -> Iterator[str]:
    figures = {round(abs(figure.value), 2) for said in stage.said for figure in said.figures}
    for words in stage.after.ink.words:
        for text in words.lines:
            value = abs(float(text.rstrip("°"))) if NUMBER.fullmatch(text) else None
            if value is not None and all(abs(value - one) > ROUND for one in figures):
                yield f"'{text}' on its picture is no figure of the step"
    if len(stage.after.ink.strokes) < 3:
        yield "there is nothing on its picture"
    if stage.before is not None and _same(stage.before, stage.after):
        yield "its two pictures are alike"
    for card in (stage.before, stage.after):
        yield from () if card is None else _overlapping(card)


def _same(one: Card, two: Card) -> bool:
    """Whether the same is drawn on two pictures, with the same pens."""
    a, b = one.ink.items, two.ink.items
    return len(a) == len(b) and all(_alike(x, y) for x, y in zip(a, b, strict=True))


def _alike(one: Stroke | Words, two: Stroke | Words) -> bool:
    if isinstance(one, Stroke) and isinstance(two, Stroke):
        return one.role == two.role and bool(np.allclose(one.box, two.box, atol=0.01))
    return isinstance(one, Words) and isinstance(two, Words) and one.lines == two.lines


def _overlapping(card: Card) -> Iterator[str]:
    """Words that lie on each other, or off the picture."""
    boxes = [(words, shapely.Polygon(words.outline.nodes)) for words in card.ink.words]
    paper = shapely.box(-0.5, -0.5, card.size[0] + 0.5, card.size[1] + 0.5)
    for (one, a), (two, b) in combinations(boxes, 2):
        if a.buffer(-0.2).intersects(b.buffer(-0.2)):
            yield f"'{' '.join(one.lines)}' and '{' '.join(two.lines)}' lie on each other"
    yield from (f"'{' '.join(words.lines)}' leaves the picture" for words, box in boxes if not paper.contains(box))


# In a browser ---------------------------------------------------------------------------------------------------------


def played(tab: Tab, made: Lesson) -> list[str]:
    """What is wrong when the page is played to its end by keys alone: each step's last frame against its picture."""
    tab.until("document.documentElement.dataset.ready === 'yes'")
    for _ in range(6):
        tab.press("+")
    tab.press("a")
    tab.until("document.documentElement.dataset.ended === 'yes'")
    count = len(made.stages)
    found = []
    if tab.value("document.querySelectorAll('article[data-played=yes]').length") != count:
        found.append("not every step was played")
    if tab.value("document.querySelectorAll('.playing').length"):
        found.append("a step is still playing")
    if tab.value("document.activeElement.id") != f"step-{count}":
        found.append("it does not end at the last step")
    if tab.value("[...document.querySelectorAll('.new')].some(l => l.hasAttribute('pathLength'))"):
        found.append("a line is not drawn to its end")
    for number, stage in enumerate(made.stages, start=1):
        off = _last_frame(tab, number, stage)
        if off > OUTSIDE:
            found.append(f"step {number} ({stage.title}): {100 * off:.1f} % of the paper ends beyond the picture after")
    return found


def _last_frame(tab: Tab, number: int, stage: Stage) -> float:
    """The part of the paper that ends beyond the pieces as they are drawn: read from where the browser has moved it."""
    rings = tab.value(
        f"[...document.querySelectorAll('#step-{number} .leaf')].map(leaf => {{"
        " const to = leaf.transform.baseVal.consolidate()?.matrix ?? new DOMMatrix();"
        " const d = leaf.querySelector('path').getAttribute('d').match(/-?[\\d.]+,-?[\\d.]+/g);"
        " return d.map(pair => { const [x, y] = pair.split(',').map(Number);"
        " return [to.a * x + to.c * y + to.e, to.b * x + to.d * y + to.f]; }); })"
    )
    assert len(rings) == len(stage.leaves)
    if not rings:
        return 0.0
    paper = [shapely.Polygon(ring).buffer(0) for ring in rings]
    drawn = [
        shapely.Polygon(flatten(chain(stroke.curves, within=1.0), tolerance=0.02)).buffer(0.2)
        for stroke in stage.after.ink.strokes
        if stroke.closed and stroke.role.name.removeprefix("new-") in (OUTLINE.name, STITCH.name)
    ]
    over = shapely.union_all(paper).difference(shapely.union_all(drawn))
    return float(over.area / sum(one.area for one in paper))


def play(made: Lesson) -> list[str]:
    """The same of a page of its own in a browser of its own."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return ["chromium is missing"]
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "lesson.html"
        page.write_text(lesson_page(made), encoding="utf-8")
        with opened(browser, page, Path(folder)) as tab:
            return played(tab, made)


def main(words: Sequence[str]) -> int:
    """Print the table."""
    wrong = []
    print(
        "| garment | steps | pictures | figures | moving steps | things to sew | wrong |\n|---|---|---|---|---|---|---|"
    )
    for name in [word for word in words if not word.startswith("--")] or NAMES:
        made, done = lesson(name)
        found = [*faults(made, done), *(play(made) if "--play" in words else ())]
        pictures = sum(1 + (stage.before is not None) for stage in made.stages)
        pictures += sum(one.card is not None for one in made.sewing)
        figures = sum(len(said.figures) for stage in made.stages for said in stage.said)
        moving = sum(bool(stage.leaves) for stage in made.stages)
        row = (name, made.steps, pictures, figures, moving, len(made.sewing), len(found))
        print(f"| {' | '.join(map(str, row))} |", flush=True)
        wrong += [f"{name}: {text}" for text in found]
    print("\n".join(wrong))
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
