"""The kinds of parameter: each class knows all that a surface asks of a field of its kind.

A value is read from typed text (`parse`), checked (`check`) and written as text again (`show`; parsing that gives the
value back); on a pattern it gives way to what it means there (`evaluated`). A dialog asks for its `entries` and for
what they hand over (`typed`), the help for its `word`, a completion for its `choices` and `endings`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, ClassVar
from xml.sax.saxutils import quoteattr

from flatcut.declared.entries import (
    BLANK,
    NOT_STATED,
    OTHER,
    PRECISION,
    STATED,
    UNIT,
    UNITS,
    UNSTATED_LENGTH,
    Entry,
)
from flatcut.errors import FlatcutError, Option, UsageError
from flatcut.pattern.expressions import Expression, evaluate, parse_length
from flatcut.pattern.places import Rename
from flatcut.pattern.values import Pattern
from flatcut.units import LARGEST, plain

Row = tuple[Entry, ...]
"""Entries of a dialog that stand side by side."""


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A field of one kind: the base of all, and what most of them do.

    what: words for people, the label of a dialog; more: what else there is to say of it, '' for nothing; optional:
    None, or nothing, stands for 'not stated'; recorded: whether it stands in a step's line; choices: words that are
    usual there; endings: of the names of files that may stand there.
    """

    what: str
    more: str = ""
    optional: bool = False
    recorded: bool = True
    choices: tuple[str, ...] = ()
    endings: tuple[str, ...] = ()

    help: str = field(init=False, default="", repr=False, compare=False)
    """All that is said of it."""
    label: str = field(init=False, default="", repr=False, compare=False)
    """As it stands before an entry of a dialog."""
    tip: str = field(init=False, default="", repr=False, compare=False)
    """The whole help where the label is not all of it."""
    selected: bool = False
    """Whether it is filled from what is selected when nothing is given."""
    hidden: bool = False
    """Whether only a selection can fill it, so that a dialog does not show it."""

    figure: ClassVar[bool] = False
    """Whether it is a figure, which a large dialog may put on a further page."""
    in_units: ClassVar[bool] = False
    """Whether a dialog's list of units says what its figure counts."""

    def __post_init__(self) -> None:
        whole = f"{self.what}; {self.more}" if self.more else self.what
        object.__setattr__(self, "help", whole)
        object.__setattr__(self, "label", self.what[:1].upper() + self.what[1:])
        object.__setattr__(self, "tip", whole[:1].upper() + whole[1:] if self.more else "")

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """The value of a typed text. units: of a figure without one. Errors: UsageError that names the option."""
        return self.check(text, name=name)

    def check(self, value: Any, *, name: str) -> Any:
        """`value` in the form that the field keeps. Errors: UsageError when it is out of range or of the wrong kind."""
        raise NotImplementedError

    def show(self, value: Any) -> str:
        """The text that parses to `value`."""
        return str(value)

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """What `value` means on a pattern; the very same object where it means itself. Errors: UsageError."""
        return value

    def renamed(self, value: Any, name: Rename) -> Any:
        """`value` where pieces have other names."""
        return value

    @property
    def word(self) -> str:
        """What the help shows after the equals sign."""
        return "TEXT"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """What a dialog shows of it. usual: the field's default."""
        start = "" if usual in ("", (), None) else self.show(usual)
        return ((Entry(form='type="string"', label=self.label, tip=self.tip, start=start),),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """What a dialog's parameters say of the field called `name`, as typed text; None for nothing."""
        return given[name].strip() or None


@dataclass(frozen=True, kw_only=True)
class Number(Kind):
    """A plain number between `low` and `high`: a count (digits 0), an angle in degrees, a ratio."""

    low: float = -LARGEST
    high: float = LARGEST
    digits: int = 3

    figure: ClassVar[bool] = True
    unit: ClassVar[str] = ""

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """A float."""
        try:
            value = float(text)
        except ValueError:
            raise UsageError(Option(name), f" takes a number, not '{text}'") from None
        return self.check(value, name=name)

    def check(self, value: Any, *, name: str) -> Any:
        """A float in range."""
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise UsageError(Option(name), f" takes a number, not {value!r}")
        if not self.low <= value <= self.high:
            reach = f"between {plain(self.low)} and {plain(self.high)}{self.unit}"
            raise UsageError(Option(name), f" is {plain(value, 4)}{self.unit}; it must lie {reach}")
        if self.digits == 0 and value != int(value):
            raise UsageError(Option(name), f" is {plain(value, 4)}; it takes a whole number, such as {round(value)}")
        return float(value)

    def show(self, value: Any) -> str:
        """Six decimals at most."""
        return plain(float(value), 6)

    @property
    def word(self) -> str:
        """A number."""
        return "NUMBER"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A spin box; a mark stands before it where it may be left out."""
        form = f'type="float" precision="{self.digits}" min="{plain(self.low, 6)}" max="{plain(self.high, 6)}"'
        if self.digits == 0:
            form = f'type="int" min="{round(self.low)}" max="{round(self.high)}"'
        shown = plain(min(max(self.low if usual is None else usual, self.low), self.high), 6)
        if usual is not None:
            return ((Entry(form=form, label=self.label, tip=self.tip, start=shown),),)
        mark = Entry(form='type="bool"', label=self.label, tip=self.tip, start="false", after=STATED)
        return ((mark, Entry(form=form, label=BLANK, start=shown)),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """The figure, unless its mark is not set."""
        return None if given.get(name + STATED, "true").lower() == "false" else given[name].strip()


@dataclass(frozen=True, kw_only=True)
class Length(Number):
    """A length in mm between `low` and `high`, or an expression that gives one; None where it may be left out."""

    in_units: ClassVar[bool] = True
    unit: ClassVar[str] = " mm"

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """An Expression; what it comes to is checked at once where no pattern is needed for it."""
        try:
            return self.check(parse_length(text, units=units), name=name)
        except UsageError as error:
            raise type(error)(*said_of(name, error)) from None

    def check(self, value: Any, *, name: str) -> Any:
        """A float or an Expression."""
        if isinstance(value, str):
            value = parse_length(value)
        if not isinstance(value, Expression):
            return super().check(value, name=name)
        if value.constant is not None:
            super().check(value.constant, name=name)
        return value

    def show(self, value: Any) -> str:
        """An expression as it was typed."""
        return value.text if isinstance(value, Expression) else super().show(value)

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """mm. Errors: UsageError, UnknownNameError for a name that the pattern does not have."""
        if not isinstance(value, Expression):
            return value
        if value.constant is not None:
            return value.constant  # in range: it was checked when it was read
        try:
            return super().check(evaluate(value, pattern), name=name)
        except UsageError as error:
            raise type(error)(*said_of(name, error)) from None

    def renamed(self, value: Any, name: Rename) -> Any:
        """The runs and places of an expression."""
        return value.renamed(name) if isinstance(value, Expression) else value

    @property
    def word(self) -> str:
        """A length."""
        return "LENGTH"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A spin box whose range is in mm, so that it is wide enough for every other unit.

        A usual value stands on its mark: taken from the box, a person who chooses cm would get ten times as much.
        """
        low = min(self.low, 0.0)
        form = f'type="float" precision="{PRECISION}" min="{plain(low, 6)}" max="{plain(self.high, 6)}"'
        known = None if usual is None else float(getattr(usual, "constant", usual))
        label = self.label if not known else f"{self.label}, if not {plain(known)} mm"
        shown = plain(min(max(UNSTATED_LENGTH if known is None else known, self.low), self.high), 6)
        if known == 0:
            return ((Entry(form=form, label=label, tip=self.tip, start=shown),),)
        mark = Entry(form='type="bool"', label=label, tip=self.tip, start="false", after=STATED)
        return ((mark, Entry(form=form, label=BLANK, start=shown)),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """The figure with its unit, unless its mark is not set."""
        if given.get(name + STATED, "true").lower() == "false":
            return None
        return length_text(given[name].strip(), given.get(UNIT, "mm"))


@dataclass(frozen=True, kw_only=True)
class Choice(Kind):
    """One word of a list. An empty one among the choices stands for 'not stated'.

    other: says what else may be typed, which its owner then checks; '' for nothing.
    """

    other: str = ""

    def check(self, value: Any, *, name: str) -> Any:
        """One of the choices, or any word where others are allowed."""
        if not isinstance(value, str) or (value not in self.choices and not self.other):
            raise UsageError(Option(name), f" takes one of {', '.join(filter(None, self.choices))}, not '{value}'")
        return value

    @property
    def word(self) -> str:
        """The choices."""
        return "|".join([*filter(None, self.choices), *([self.other] if self.other else [])])

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A list, and a line of text below it where others are allowed."""
        # the first of a list is what stands in it when the dialog opens
        order = sorted(self.choices, key=lambda one: one != usual)
        options = tuple((one, one.replace("-", " ")) if one else (NOT_STATED, "not stated") for one in order)
        form = 'type="optiongroup" appearance="combo"'
        listed = Entry(form=form, label=self.label, tip=self.tip, options=options)
        if not self.other:
            return ((listed,),)
        tip = f"{self.other[:1].upper()}{self.other[1:]}. What is typed here goes before the list."
        return ((listed,), (Entry(form='type="string"', label=f"{self.label}, if another", tip=tip, after=OTHER),))

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """What is typed beside the list goes before it."""
        text = given[name].strip()
        return given.get(name + OTHER, "").strip() or ("" if text == NOT_STATED else text)


@dataclass(frozen=True, kw_only=True)
class Flag(Kind):
    """Yes or no."""

    choices: tuple[str, ...] = ("true", "false")

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """A bool."""
        known = {"true": True, "false": False, "1": True, "0": False, "yes": True, "no": False}
        if text.lower() not in known:
            raise UsageError(Option(name), f" takes true or false, not '{text}'")
        return known[text.lower()]

    def check(self, value: Any, *, name: str) -> Any:
        """A bool."""
        if not isinstance(value, bool):
            raise UsageError(f"{name} takes True or False, not {value!r}")
        return value

    def show(self, value: Any) -> str:
        """In small letters."""
        return "true" if value else "false"

    @property
    def word(self) -> str:
        """Both."""
        return "true|false"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A mark."""
        return ((Entry(form='type="bool"', label=self.label, tip=self.tip, start=self.show(usual)),),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """As the editor says it."""
        return given[name].strip()


@dataclass(frozen=True, kw_only=True)
class Text(Kind):
    """A word or a sentence."""

    def check(self, value: Any, *, name: str) -> Any:
        """A str."""
        if not isinstance(value, str):
            raise UsageError(Option(name), f" takes a text, not {value!r}")
        return value


@dataclass(frozen=True, kw_only=True)
class Texts(Kind):
    """Words with commas between them; where there are choices, their owner checks them."""

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """A tuple without empty words."""
        return self.check(tuple(part.strip() for part in text.split(",") if part.strip()), name=name)

    def check(self, value: Any, *, name: str) -> Any:
        """A tuple of str; one word is a row of one."""
        row = (value,) if isinstance(value, str) else tuple(value)
        for one in row:
            if not isinstance(one, str):
                raise UsageError(Option(name), f" takes words, not {one!r}")
        return row

    def show(self, value: Any) -> str:
        """With commas."""
        return ",".join(value)


@dataclass(frozen=True, kw_only=True)
class File(Text):
    """The name of a file that is read, with one of the endings."""

    @property
    def word(self) -> str:
        """A file."""
        return "FILE"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A chooser of files."""
        form = f'type="path" mode="file" filetypes={quoteattr(",".join(self.endings))}'
        return ((Entry(form=form, label=self.label, tip=self.tip, start=usual or ""),),)


def said_of(name: str, error: FlatcutError) -> tuple[str | Option, ...]:
    """The sentence of an error, in parts, with the option that it is about in front unless it begins with that itself.

    >>> error = UsageError("'zoll' is no unit")
    >>> print(UsageError(*said_of("width", error)))
    --width: 'zoll' is no unit
    """
    own = error.parts[:1] == (Option(name),)
    return error.parts if own else (Option(name), ": ", *error.parts)


def length_text(figure: str, unit: str) -> str:
    """A figure of a dialog as a typed length. Errors: UsageError for an unknown unit or no number.

    >>> length_text("10.000", "mm"), length_text("2.5", "cm"), length_text("6", "1/8in"), length_text("-2.5", "1/8in")
    ('10', '2.5cm', '3/4in', '-0.3125in')
    """
    if unit not in UNITS:
        raise UsageError(f"'{unit}' is not a unit of a dialog; choose one of {', '.join(UNITS)}")
    share, name = UNITS[unit]
    try:
        value = Fraction(figure)
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"'{figure}' is not a number; type one such as 12.5") from None
    if share != 1 and value.denominator == 1:
        return f"{value * share}{name}"
    return f"{plain(float(value * share), 8)}{name}"
