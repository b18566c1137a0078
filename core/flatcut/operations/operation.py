"""What an operation is, and the registry that finds one by its name.

An operation is one frozen, keyword-only dataclass in one file of this folder. Its docstring's first line is its help;
its fields say the rest. ``op(pattern)`` makes pieces of plain outlines that are meant, fills empty references,
evaluates lengths, applies, tells which seam is sewn first where that may have changed, and records a step.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from flatcut.declared.declared import Declared, kinds, option, quoted
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import UsageError
from flatcut.pattern.places import Drawn
from flatcut.pattern.selection import NOTHING, Selection
from flatcut.pattern.sewing_order import with_sewing_order
from flatcut.pattern.values import DrawnPath, DrawnText, Figure, Pattern, Step

if TYPE_CHECKING:
    from flatcut.pattern.motions import Motion

MENUS = ("Prepare", "Darts", "Spread and pleat", "Shape", "Derive", "Finish", "Sizes")
"""The groups of the menu, in the order of the work."""

_FRAMEWORK = {"__init__", "operation"}


class Outcome(NamedTuple):
    """What `_apply` gives back; `recorded` is false for what no recipe needs to repeat.

    motions: what was moved as paper is, in its order. drawn: what was drawn that it read, for the recorded step.
    """

    pattern: Pattern
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    recorded: bool = True
    motions: tuple[Motion, ...] = ()
    drawn: tuple[DrawnPath | DrawnText, ...] = ()


class Done(NamedTuple):
    """A performed operation: the new pattern and the step.

    recorded: the step is in the pattern; changed: there is something to write; before: steps that had to come first,
    as where a plain outline became a piece. motions: what was moved as paper is; ground: the pattern that it was
    done on, after those steps; asked: the operation with nothing left to be filled, as its line records it.
    """

    pattern: Pattern
    step: Step
    recorded: bool
    changed: bool
    ground: Pattern
    asked: Operation
    before: tuple[Step, ...] = ()
    motions: tuple[Motion, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Operation(Declared):
    """The base of all operations; a configured one is itself a function from pattern to pattern."""

    def __call__(self, pattern: Pattern, selection: Selection | None = None) -> Pattern:
        """The pattern after the operation; its last step holds the line, the figures and the warnings."""
        return self.perform(pattern, selection).pattern

    def perform(self, pattern: Pattern, selection: Selection | None = None) -> Done:
        """All that a step is, in this order: outlines made pieces, references filled, lengths in mm, applied, recorded.

        selection: what is selected in the editor; it fills references that are left empty. Errors: any FlatcutError,
        and then nothing is done; the pattern handed in is never changed.
        """
        # many ask only what an operation is called and takes, and perform none
        from flatcut.declared.resolve import resolve

        asked, ground, chosen = self, pattern, selection or NOTHING
        stated = [one for held in vars(self).values() for one in (held if isinstance(held, tuple) else (held,))]
        if chosen.drawn or any(isinstance(one, Drawn) for one in stated):
            from flatcut.declared.becoming import with_outlines

            asked, ground, chosen = with_outlines(self, pattern, chosen, recorded_pieces)
        filled, ground = resolve(asked, ground, chosen, recorded_line)
        filled = filled._settled(ground)
        outcome = filled.evaluated(ground)._apply(ground)
        if not outcome.pattern.sewn_like(ground):
            outcome = outcome._replace(pattern=with_sewing_order(outcome.pattern))
        step = Step(line=filled.line(), figures=outcome.figures, warnings=outcome.warnings, drawn=outcome.drawn)
        steps = (*outcome.pattern.steps, step) if outcome.recorded else outcome.pattern.steps
        changed = outcome.recorded or outcome.pattern is not pattern
        after = replace(outcome.pattern, steps=steps) if outcome.recorded else outcome.pattern
        before = outcome.pattern.steps[len(pattern.steps) :]
        return Done(
            pattern=after,
            step=step,
            recorded=outcome.recorded,
            changed=changed,
            before=before,
            motions=outcome.motions,
            ground=ground,
            asked=filled,
        )

    @property
    def begins(self) -> bool:
        """Whether it needs no drawing: without one it begins a new one."""
        return False

    def _settled(self: _Op, pattern: Pattern) -> _Op:
        """The form that is recorded: no drawn object is named in it. Most operations have nothing to change."""
        return self

    def _apply(self, pattern: Pattern) -> Outcome:
        raise NotImplementedError

    def for_size(self: _Op, measured: Collection[str]) -> _Op:
        """The same step for another size: what it says of one body, and the size's name, give way.

        measured: the measurements that the size states. Most steps name places only and stay as they are.
        """
        return self

    def spelled(self: _Op, after: Pattern) -> _Op:
        """With names of pieces that followed from the drawing written out, so that they can be others.

        after: what came of all steps. Errors: UsageError where that does not tell.
        """
        return self

    def line(self) -> str:
        """The command line that replays it: name, targets, and the options that differ from their defaults.

        >>> load("allowance")(target=("front.hem",), width="4cm").line()
        'allowance front.hem --width=4cm'
        """
        words = [self.command]
        for key, kind in kinds(type(self)).items():
            value = getattr(self, key)
            if key == "target":
                words += [quoted(str(one)) for one in value]
            elif value != self.__dataclass_fields__[key].default and kind.recorded:
                words.append(f"--{option(key)}={quoted(kind.show(value))}")
        return " ".join(words)


_Op = TypeVar("_Op", bound=Operation)
_Class = TypeVar("_Class", bound=type[Operation])


def operation(*, menu: str, title: str = "") -> Callable[[_Class], _Class]:
    """Class decorator: gives the operation its name, that of its file, and its place in the menu.

    title: what the menu calls it, a deed with its object; left out: its name.
    """
    if menu not in MENUS:
        raise UsageError(f"there is no menu '{menu}'; take one of {', '.join(MENUS)}")

    def mark(cls: _Class) -> _Class:
        cls.command = option(cls.__module__.rsplit(".", 1)[-1])
        cls.menu = menu
        cls.title = title or cls.command.replace("-", " ").capitalize()
        return cls

    return mark


def recorded_line(pattern: Pattern, drawn: str, selection: Selection) -> Pattern:
    """The pattern after the `line` step that makes an internal line of a drawn path. drawn: the id of the path."""
    return load("line")(drawn=f"id:{drawn}")(pattern, selection)  # type: ignore[call-arg]  # its own field


def recorded_pieces(pattern: Pattern, drawn: Sequence[str]) -> Pattern:
    """The pattern after the `piece` step that makes pieces of closed paths. drawn: their ids."""
    return load("piece")(target=[f"id:{one}" for one in drawn])(pattern)  # type: ignore[call-arg]  # its own field


def names() -> list[str]:
    """All operations, found by looking at the files of this folder."""
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str) -> type[Operation]:
    """The operation of that name; only its own file is imported. Errors: UnknownNameError.

    >>> load("allowance").command
    'allowance'
    """
    return load_from("flatcut.operations", name, Operation, names())
