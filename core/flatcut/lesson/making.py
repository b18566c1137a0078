"""A lesson made of performed steps: what is shown together, and under which heading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from flatcut.declared.declared import kinds
from flatcut.lesson import sentences, sentences_shape
from flatcut.lesson.cautions import cautions
from flatcut.lesson.pictures import shown
from flatcut.lesson.plotting import plots
from flatcut.lesson.scene import Inks, scene
from flatcut.lesson.sewing import sewing
from flatcut.lesson.telling import sentence
from flatcut.lesson.telling import shown as value_of
from flatcut.lesson.values import Lesson, Plot, Said, Stage
from flatcut.operations.operation import Done
from flatcut.pattern.places import Place, Reference, Run

TOLD_BY = sentences, sentences_shape
"""Whose functions say what steps do: they enter themselves among those of `telling` when they are imported."""
MEASURING = ("block", "collar", "flounce", "godet", "gore", "pocket", "sleeve", "strip")
"""Operations that take a length from what they name: it is not shown with what they draft."""
QUIET = ("style", "names", "redraw")
"""Operations that change nothing on the paper: they are told with the next step."""


@dataclass(frozen=True, kw_only=True)
class Taught:
    """A performed step with what its recipe says of it.

    above: the comments above its line, '' for an empty line; comment: that at its end, which goes before our words.
    figures: by label, what each is in other sizes.
    """

    done: Done
    above: tuple[str, ...] = ()
    comment: str = ""
    sizes: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))


def lesson_of(steps: Sequence[Taught], *, title: str, first: bool = True, sizes: tuple[str, ...] = ()) -> Lesson:
    """The lesson of steps that were done one after the other.

    first: whether the comments above the first step speak of the whole.
    """
    introduction: tuple[str, ...] = ()
    if steps and first:
        introduction, above = _opening(steps[0].above)
        steps = [replace(steps[0], above=above), *steps[1:]]
    inks = Inks()
    stages = tuple(_stage(inks, group) for group in _grouped(steps))
    words = " ".join((title, *introduction, *(line for step in steps for line in step.above)))
    order = sewing(steps[-1].done.pattern) if steps else ()
    return Lesson(
        title=title, introduction=introduction, cautions=cautions(words), stages=stages, sewing=order, sizes=sizes
    )


def _opening(above: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is said of the whole, and what of the first step: parted by an empty line, else all of it of the whole."""
    if "" in above:
        k = len(above) - 1 - above[::-1].index("")
        if k + 1 < len(above):
            return _paragraphs(above[:k]), above[k + 1 :]
    return _paragraphs(above), ()


def _paragraphs(lines: Iterable[str]) -> tuple[str, ...]:
    found: list[list[str]] = [[]]
    for line in lines:
        if line:
            found[-1].append(line)
        else:
            found.append([])
    return tuple(" ".join(part) for part in found if part)


def headed(above: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """Comments above a step as a heading and paragraphs: the heading ends with the first sentence, or where it pauses.

    >>> headed(("panels through the bust point; the waist dart ends under the bust",))
    ('Panels through the bust point', ('The waist dart ends under the bust',))
    """
    paragraphs = _paragraphs(above)
    if not paragraphs:
        return "", ()
    whole, rest = paragraphs[0], paragraphs[1:]
    places = [whole.find(mark) for mark in (": ", "; ", ". ")]
    cut = min((place for place in places if place >= 0), default=-1)
    heading, more = (whole, "") if cut < 0 else (whole[:cut], whole[cut + 2 :])
    return _capital(heading.strip(" .:;")), tuple(_capital(text) for text in (more, *rest) if text)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _grouped(steps: Sequence[Taught]) -> list[list[Taught]]:
    """Steps that do one thing: of one kind, one after the other, none of them moving paper, no heading between them."""
    groups: list[list[Taught]] = []
    for step in steps:
        group = groups[-1] if groups else []
        last = group[-1].done.asked.command if group else ""
        kind = step.done.asked.command
        still = not step.done.motions and not any(one.done.motions for one in group)
        waits = group and all(one.done.asked.command in QUIET for one in group)
        joins = waits or (kind == last and still) or (kind in QUIET and group)
        if joins and not any(step.above):
            group.append(step)
        else:
            groups.append([step])
    return groups


def _stage(inks: Inks, group: Sequence[Taught]) -> Stage:
    before, after = group[0].done.ground, group[-1].done.pattern
    leading = next((s for s in group if s.done.asked.command not in QUIET), group[0])
    title = _title(leading.done)
    named = [one for step in group for one in references(step.done)]
    pieces = {place.piece for one in named for place in _places(one)}
    if any(place.piece == "all" for one in named for place in _places(one)):
        pieces |= {piece.name for piece in after.pieces}
    besides = pieces if not any(step.done.asked.command in MEASURING for step in group) else set()
    if leading.done.asked.command == "arrange" and not named:
        besides = {piece.name for piece in after.pieces}
    if leading.done.asked.command == "notch":  # the matching ones too
        besides |= {figure.label.partition(".")[0] for step in group for figure in step.done.step.figures}
    seen = scene(inks, before, after, pieces, besides)
    made = shown(
        inks,
        seen,
        before,
        after,
        motions=[motion for step in group for motion in step.done.motions],
        named=named,
        figures=[figure for step in group for figure in step.done.step.figures],
        title=title,
        labels=_labels(group),
    )
    heading, text = headed(group[0].above)
    return Stage(
        title=title,
        said=tuple(_said(step) for step in group),
        before=made.before,
        after=made.after,
        leaves=made.leaves,
        plots=tuple(plot for step in group for plot in _plots(step.done)),
        heading=heading,
        text=text,
    )


def _title(done: Done) -> str:
    """What a step does, where its operation does several things."""
    asked: Any = done.asked
    if asked.command == "seam" and len(asked.target) == 2:
        return "Compare what will be sewn together"
    if asked.command == "edge" and not asked.names:
        return "Say what an edge is for"
    if asked.command == "edge" and asked.split:
        return "Divide edge"
    return type(done.asked).title


def _labels(group: Sequence[Taught]) -> dict[str, str]:
    """What a step that labels pieces writes on each."""
    told: dict[str, str] = {}
    for step in group:
        if step.done.asked.command == "label":
            told.update(sentences_shape.labelled(step.done))
    return told


def _plots(done: Done) -> tuple[Plot, ...]:
    return plots(done.asked.command, done.ground, done.pattern)


def _said(step: Taught) -> Said:
    done = step.done.step
    words = step.comment or sentence(step.done)
    return Said(
        line=done.line,
        words=_capital(words if words.endswith((".", "!", "?")) else f"{words}."),
        figures=done.figures,
        warnings=done.warnings,
        sizes=step.sizes,
    )


def references(done: Done) -> list[Reference]:
    """All that a step names on the pattern."""
    found: list[Reference] = []
    for key in kinds(type(done.asked)):
        value = getattr(done.asked, key)
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, (Place, Run)):
                found.append(one)
    return found


def _places(one: Reference) -> list[Place]:
    if isinstance(one, Run):
        return [part.place for part in one.parts]
    if isinstance(one, Place):
        return [place for end in one.chord for place in _places(end)] if one.chord else [one]
    return []


def in_sizes(steps: Sequence[Done], others: Sequence[Sequence[Done]]) -> list[Mapping[str, tuple[str, ...]]]:
    """For each step its figures by label, in each of the sizes, '' where a size has none of that label."""
    found: list[Mapping[str, tuple[str, ...]]] = []
    for k, done in enumerate(steps):
        sized = [{figure.label: value_of(figure) for figure in other[k].step.figures} for other in others]
        labels = [figure.label for figure in done.step.figures]
        found.append(MappingProxyType({label: tuple(size.get(label, "") for size in sized) for label in labels}))
    return found
