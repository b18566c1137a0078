"""What each step does, as one sentence in plain words with its figures.

An operation of which nothing is said here is told by the first line of its help and by what it is done to.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from flatcut.declared.declared import kinds, summary
from flatcut.declared.kinds import Number
from flatcut.lesson.words import Spoken
from flatcut.operations.operation import Done, Operation
from flatcut.pattern.places import Place, Run
from flatcut.pattern.values import Figure
from flatcut.units import plain


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
    said = said if said.endswith((".", "!")) else f"{said}."
    return " ".join((said, *stated(done, said)))


WITHIN = ("within", "true")
"""Fields that say how far something may move: what did move is among the figures."""


def stated(done: Done, said: str) -> list[str]:
    """What a step states in figures and a sentence does not tell, as a sentence more: nobody could do it without."""
    asked, found = done.asked, done.asked.evaluated(done.ground)
    told = set(_FIGURE.findall(said))
    more = []
    for key, kind in kinds(type(asked)).items():
        value = getattr(found, key)
        if key in WITHIN or not isinstance(kind, Number) or getattr(asked, key) == _usual(asked, key):
            continue
        figures = [plain(abs(one)) for one in _each(value) if isinstance(one, (int, float))]
        if figures and not told.issuperset(figures):
            unit = " mm" if kind.in_units else ""
            more.append(
                f"{kind.what}: {', '.join(plain(one) + unit for one in _each(value) if isinstance(one, float))}"
            )
    text = "; ".join(more)
    return [f"{text[:1].upper()}{text[1:]}."] if text else []


_FIGURE = re.compile(r"\d+(?:\.\d+)?")


def _usual(asked: Operation, key: str) -> object:
    return type(asked).__dataclass_fields__[key].default


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
