"""What each step does, as one sentence in plain words with its figures.

An operation of which nothing is said here is told by the first line of its help and by what it is done to.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flatcut.declared.declared import kinds, summary
from flatcut.lesson.words import Spoken
from flatcut.operations.operation import Done
from flatcut.pattern.places import Place, Run
from flatcut.pattern.values import Figure


class _Asked:
    """The fields of a step: references as they are written, lengths in mm."""

    def __init__(self, done: Done) -> None:
        self._told, self._found = done.asked, done.asked.evaluated(done.ground)

    def __getattr__(self, name: str) -> Any:
        told = getattr(self._told, name)
        return told if any(isinstance(one, (Place, Run)) for one in _each(told)) else getattr(self._found, name)


class Step:
    """A performed step as a sentence needs it. op: the operation; at: references as they are spoken of
    on the pattern before it, now: after it.
    """

    def __init__(self, done: Done) -> None:
        self.done = done
        self.op: Any = _Asked(done)
        self.before, self.after = done.ground, done.pattern
        self.at, self.now = Spoken(done.ground), Spoken(done.pattern)

    def figure(self, end: str) -> Figure | None:
        """The first figure whose label ends so."""
        return next((one for one in self.done.step.figures if one.label.endswith(end)), None)

    def value(self, end: str) -> str:
        """That figure as it is told, '' for none."""
        found = self.figure(end)
        return "" if found is None else shown(found)

    @property
    def targets(self) -> str:
        """What the step is done to, as it was before."""
        return self.at.refs(self.op.target)

    @property
    def born(self) -> list[str]:
        """Names of the pieces that there were not."""
        was = {piece.uid for piece in self.before.pieces}
        return [piece.name for piece in self.after.pieces if piece.uid not in was]


Teller = Callable[[Step], str]
_TELLERS: dict[str, Teller] = {}


def tells(command: str) -> Callable[[Teller], Teller]:
    """Decorator: the function says what the operation of that name does."""

    def keep(teller: Teller) -> Teller:
        _TELLERS[command] = teller
        return teller

    return keep


def known() -> set[str]:
    """The operations of which a sentence of their own is told."""
    return set(_TELLERS)


def sentence(done: Done) -> str:
    """What a step does, in plain words."""
    step = Step(done)
    teller = _TELLERS.get(step.op.command, plainly)
    said = " ".join(teller(step).split())
    return said if said.endswith((".", "!")) else f"{said}."


def shown(figure: Figure) -> str:
    """A figure's value with its unit, as the step reports it.

    >>> shown(Figure("front.side drawn", 412.345)), shown(Figure("a", 15.35, "°"))
    ('412.35 mm', '15.35°')
    """
    return str(Figure("", figure.value, figure.unit)).removeprefix(": ").replace(" °", "°")


def plainly(step: Step) -> str:
    """A step of which nothing is said by itself."""
    told = summary(type(step.done.asked)).rstrip(".")
    references = [
        one
        for key in kinds(type(step.done.asked))
        for one in _each(getattr(step.op, key))
        if isinstance(one, (Place, Run)) and key != "hold"
    ]
    return f"{told}: {step.at.refs(references)}" if references else told


def _each(value: object) -> tuple[object, ...]:
    return value if isinstance(value, tuple) else (value,)
