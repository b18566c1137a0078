"""`lesson`: a recipe, or what was done to a drawing, as an illustrated lesson."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import ClassVar

from flatcut.blocks.body import measures_of_file, sizes_of_file
from flatcut.declared.fields import choice, file, flag, further, text
from flatcut.errors import FlatcutError, Option, UsageError
from flatcut.formats.lesson_page import lesson_page
from flatcut.formats.pdf import pdf
from flatcut.lesson.making import Taught, in_sizes, lesson_of
from flatcut.lesson.pages import PAGES, lesson_pages
from flatcut.lesson.values import Lesson
from flatcut.operations.operation import Done, Operation
from flatcut.pattern.places import Drawn
from flatcut.pattern.values import BY_HAND, Figure, Pattern, Step
from flatcut.recipe import Line, begins, read_recipe, recipe_text, sized, write_recipe
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.tables import TABLES

SAME = 0.01
"""mm, or of another unit: figures that differ by no more are the same."""


@report
@dataclass(frozen=True, kw_only=True)
class MakeLesson(Report):
    """Explain a pattern step by step, each with its pictures before and after, its figures, and a sentence.

    The steps are those of a recipe, or those that were done to the drawing. On the page each step can be played: what
    turned turns about its point, what was spread opens, what was cut parts. A comment above a line is a heading, a
    comment at its end goes before the sentence.
    """

    usage: ClassVar[str] = "flatcut lesson [STYLE.recipe] [IN.svg] -o OUT.html|OUT.pdf [--name=value...]"
    saves: ClassVar[str] = ".html"
    also_saves: ClassVar[tuple[str, ...]] = (".pdf",)
    file_type: ClassVar[str] = "Lesson, step by step with pictures"
    takes: ClassVar[Mapping[str, str]] = {".recipe": "recipe"}

    recipe: str = file("", ("recipe", "its steps are shown", "the steps that were done to the drawing"), ("recipe",))
    heading: str = text("", ("heading", "", "the name of the style"))
    measures: str = file(
        "", ("one body's measurements", "which go before those of the recipe", "the recipe's own"), ("toml",)
    )
    paper: str = choice("a4", ("paper of the PDF", ""), tuple(PAGES))
    font: str = further(file("", ("further font", "for letters that the usual one lacks (TrueType)"), ("ttf", "ttc")))
    worn: bool = flag(False, ("picture of it worn", "computed, on a form of the body, at the end"))
    sizes: str = file(
        "", ("a table of bodies", "each figure is given for every size; the pictures show the first"), ("toml", *TABLES)
    )

    def run(self, inputs: Inputs) -> Result:
        """One page."""
        if len(inputs.names) > 1:
            raise UsageError("a lesson is about one drawing; give one, or none where the recipe begins with a block")
        for key in ("paper", "font") if inputs.ending != ".pdf" else ():
            if getattr(self, key) != type(self).__dataclass_fields__[key].default:
                raise UsageError(Option(key), " is for a PDF; write one, such as lesson.pdf, or leave it out")
        notes: tuple[str, ...] = ()
        start = Pattern()
        read = list(inputs.each(_read))
        if read:
            start, notes = read[0]
        lines = self._lines(start)
        own = () if self.recipe else start.steps
        start = self._begun(lines, start, drawn=bool(read))
        bodies = self._bodies() or [("", {})]
        first, *others = [_done(lines, start, size, body, own) for size, body in bodies]
        notes = notes if self.sizes or self.measures else (*notes, *_otherwise(first, own))
        last = first[-1].pattern
        told = in_sizes(first, [first, *others]) if self.sizes else [MappingProxyType({})] * len(first)
        taught = [
            Taught(done=done, above=line.above, comment=line.comment, sizes=sized_figures)
            for done, line, sized_figures in zip(first, lines, told, strict=True)
        ]
        title = self.heading or _titled(last, inputs.title)
        made = lesson_of(taught, title=title, sizes=tuple(size for size, _ in bodies) if self.sizes else ())
        made = self._worn(made, last)
        return Result(
            files=(Made(chunks=[self._file(made, inputs.ending)]),),
            figures=(Figure("steps", made.steps, ""), Figure("pictures", _pictures(made), "")),
            notes=notes,
            noted=bool(notes),
        )

    def _worn(self, made: Lesson, pattern: Pattern) -> Lesson:
        if not self.worn:
            return made
        from flatcut.lesson.worn_picture import worn_card

        return replace(made, worn=worn_card(pattern))

    def _file(self, made: Lesson, ending: str) -> bytes:
        if ending == ".pdf":
            return pdf(lesson_pages(made, self.paper), title=made.title, font=self.font, subject="a lesson")
        return lesson_page(made).encode("utf-8", "backslashreplace")

    def _lines(self, drawn: Pattern) -> list[Line]:
        """The steps. Errors: UsageError where there are none, or where they cannot be shown."""
        if self.recipe:
            lines = read_recipe(recipe_text(self.recipe))
            if not lines:
                raise UsageError(f"{self.recipe} has no line that does anything; give a recipe with steps")
            return lines
        if not drawn.steps:
            raise UsageError("the drawing has no recorded steps; give the recipe that a lesson is to be made of")
        hand = next((k for k, step in enumerate(drawn.steps, start=1) if step.line.startswith(BY_HAND)), 0)
        if hand:
            raise UsageError(
                f"step {hand} of the drawing was done by hand, and no lesson can repeat it; write the steps as a "
                "recipe and give that with the drawing that it begins with"
            )
        return read_recipe(write_recipe(drawn.steps))

    def _begun(self, lines: Sequence[Line], drawn_on: Pattern, *, drawn: bool) -> Pattern:
        """What the steps begin with. Errors: UsageError where that is not there."""
        drafts = begins(lines)
        if self.recipe and not drawn and not drafts:
            raise UsageError(f"{self.recipe} begins with no block; give the drawing that its steps are done to as well")
        if self.recipe:
            return drawn_on if drawn else Pattern()
        kept = all(len(s.drawn) for s in drawn_on.steps if s.line.partition(" ")[0] == "piece")
        if not kept or not (drafts or any(len(step.drawn) for step in drawn_on.steps)):
            raise UsageError(
                "the steps of the drawing begin with outlines that it does not keep as they were; write the steps as a "
                "recipe with: flatcut steps IN.svg > STYLE.recipe, and give that with the drawing as it was"
            )
        return Pattern(user_unit=drawn_on.user_unit)

    def _bodies(self) -> list[tuple[str, Mapping[str, float]]]:
        if self.sizes and self.measures:
            raise UsageError("give the measurements of one body, or a table of sizes, not both")
        if self.measures:
            return [("", measures_of_file(self.measures))]
        if not self.sizes:
            return []
        found: list[tuple[str, Mapping[str, float]]] = []
        for size, body in sizes_of_file(self.sizes).items():
            if isinstance(body, FlatcutError):
                raise type(body)(f"size {size}: {body}")
            found.append((size, body))
        return found


def _read(one: Input) -> tuple[Pattern, tuple[str, ...]]:
    """What is drawn beside the pieces is read whole: steps may be made from it in another process."""
    return replace(one.pattern, drawn=tuple(one.pattern.drawn)), tuple(finding.text for finding in one.findings)


def _done(
    lines: Sequence[Line], start: Pattern, size: str, body: Mapping[str, float], own: Sequence[Step]
) -> list[Done]:
    """Every step, performed one after the other. Errors: that of the line that fails, with its number.

    own: the steps as a drawing has recorded them, with what each made pieces of.
    """
    todo, pattern = (sized(list(lines), start, size, body)) if body else (list(lines), start)
    done: list[Done] = []
    for number, line in enumerate(todo):
        operation = line.operation
        if own and len(own[number].drawn):
            pattern = replace(pattern, drawn=own[number].drawn)
            operation = _renumbered(operation)
        try:
            made = operation.perform(pattern)
        except FlatcutError as error:
            where = f"size {size}, " if size else ""
            raise type(error)(f"{where}line {line.number} ({line.operation.command}): {error}") from None
        done.append(made._replace(step=replace(made.step, line=own[number].line)) if own else made)
        pattern = made.pattern
    return done


def _renumbered(operation: Operation) -> Operation:
    """The step on what it has kept, in which the paths that it names come first."""
    target = tuple(Drawn(number=k) for k, _ in enumerate(getattr(operation, "target", ()), start=1))
    return replace(operation, target=target) if target else operation  # type: ignore[call-arg]  # of `piece`


def _otherwise(done: Sequence[Done], own: Sequence[Step]) -> Iterator[str]:
    """Where a step that a drawing has recorded does not give the figures again that it gave."""
    for number, (one, was) in enumerate(zip(done, own, strict=False), start=1):
        now = {figure.label: figure for figure in one.step.figures}
        for figure in was.figures:
            again = now.get(figure.label)
            if again is None or abs(again.value - figure.value) > SAME:
                yield (
                    f"step {number} ({one.asked.command}) gave another figure when it was done: {figure}, and now "
                    f"{'none' if again is None else again}; the lesson shows what its line does now"
                )
                break


def _titled(pattern: Pattern, file_name: str) -> str:
    style = pattern.style
    return ", ".join(filter(None, (style.name or file_name or "Lesson", f"size {style.size}" if style.size else "")))


def _pictures(made: Lesson) -> int:
    return (
        sum(1 + (stage.before is not None) for stage in made.stages)
        + sum(one.card is not None for one in made.sewing)
        + (made.worn is not None)
    )
