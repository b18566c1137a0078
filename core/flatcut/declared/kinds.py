"""The kinds of parameter: each class knows all that a surface asks of a field of its kind.

A value is read from typed text (`parse`), checked (`check`) and written as text again (`show`; parsing that gives the
value back); on a pattern it gives way to what it means there (`evaluated`). A dialog asks for its `entries` and for
what they hand over (`typed`), the help for its `word`, a completion for its `choices` and `endings`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from flatcut.declared.entries import NOT_STATED, OTHER, UNIT, UNITS, Entry
from flatcut.errors import FlatcutError, Option, UsageError
from flatcut.pattern.expressions import Expression, evaluate, parse_length
from flatcut.pattern.places import Rename
from flatcut.pattern.values import Pattern
from flatcut.units import LARGEST, plain

NOTE = 32
"""Letters of what stands beside a line, at most."""

Row = tuple[Entry, ...]
"""Entries of a dialog that stand side by side."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Kind:
    """A field of one kind: the base of all, and what most of them do.

    what: words for people, the label of a dialog; more: what else there is to say of it, '' for nothing;
    empty: what is meant where it is left out, '' for what goes without saying; optional:
    None, or nothing, stands for 'not stated'; recorded: whether it stands in a step's line; choices: words that are
    usual there; endings: of the names of files that may stand there; tab: of a dialog that it stands on, '' for the
    first while there is room; named: whether it is a name of something that is made, in which a space becomes a hyphen.
    """

    what: str
    more: str = ""
    empty: str = ""
    tab: str = ""
    named: bool = False
    optional: bool = False
    recorded: bool = True
    choices: tuple[str, ...] = ()
    endings: tuple[str, ...] = ()

    help: str = field(init=False, default="", repr=False, compare=False)
    """All that is said of it."""
    label: str = field(init=False, default="", repr=False, compare=False)
    """As it stands before an entry of a dialog."""
    tip: str = field(init=False, default="", repr=False, compare=False)
    """The whole help."""
    selected: bool = False
    """Whether it is filled from what is selected when nothing is given."""
    hidden: bool = False
    """Whether only a selection can fill it, so that a dialog does not show it."""

    unit: ClassVar[str] = ""
    """What stands behind a figure of it."""
    in_units: ClassVar[bool] = False
    """Whether a dialog's list of units says what its figure counts."""

    def __post_init__(self) -> None:
        further = "; ".join(filter(None, (self.more, f"left out: {self.empty}" if self.empty else "")))
        object.__setattr__(self, "help", f"{self.what}; {further}" if further else self.what)
        object.__setattr__(self, "label", self.what[:1].upper() + self.what[1:])
        object.__setattr__(self, "tip", f"{self.label}: {further}" if further else self.label)

    def like(self, other: Kind) -> bool:
        """Whether it says the same as another field."""
        return type(self) is type(other) and vars(self) == vars(other)

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
        text = given[name].strip()
        return (hyphened(text) if self.named else text) or None

    def usually(self, usual: Any) -> str:
        """What a line that may stay empty has beside it: what is meant then."""
        known = getattr(usual, "constant", usual)
        if known not in (None, ()):
            return f"usual: {self.show(known)}{self.unit}"
        if not self.empty:
            return ""
        return f"empty: {self.empty}" if len(self.empty) <= NOTE else "empty: as usual"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Number(Kind):
    """A plain number between `low` and `high`: a count (digits 0), an angle in degrees, a ratio."""

    low: float = -LARGEST
    high: float = LARGEST
    digits: int = 3

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
        """A spin box with what is usual in it; a line where nothing is, so that what is typed there always counts.

        A line too for what counts in units, with what is usual beside it: empty means that, so that a unit that is
        chosen changes no figure. A spin box would need a figure that stands for none, and 0 is often meant.
        """
        if usual is None or self.in_units:
            return ((Entry(form='type="string"', label=self.label, tip=self.tip, note=self.usually(usual)),),)
        form = f'type="float" precision="{self.digits}" min="{plain(self.low, 6)}" max="{plain(self.high, 6)}"'
        if self.digits == 0:
            form = f'type="int" min="{round(self.low)}" max="{round(self.high)}"'
        shown = plain(min(max(usual, self.low), self.high), 6)
        return ((Entry(form=form, label=self.label, tip=self.tip, start=shown),),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """The figure; a comma in it is the decimal one."""
        return given[name].strip().replace(",", ".") or None


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

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """The figure with its unit; None for an empty line."""
        text = given[name].strip()
        return length_text(text, given.get(UNIT, "mm")) if text else None


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
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


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
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


class Text(Kind):
    """A word or a sentence."""

    def check(self, value: Any, *, name: str) -> Any:
        """A str."""
        if not isinstance(value, str):
            raise UsageError(Option(name), f" takes a text, not {value!r}")
        return value


class Texts(Kind):
    """Words with commas between them; where there are choices, their owner checks them."""

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """A tuple; of nothing an empty one. Errors: UsageError for a comma with no word before or after it."""
        row = tuple(part.strip() for part in text.split(",")) if text.strip() else ()
        if not all(row):
            raise UsageError(Option(name), " has a comma with no word beside it; write one comma between two words")
        return self.check(row, name=name)

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

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A list of the choices where there are some, to choose one of."""
        if not self.choices:
            return super().entries(usual)
        options = ((NOT_STATED, "choose one"), *((one, one.replace("-", " ")) for one in self.choices))
        form = 'type="optiongroup" appearance="combo"'
        return ((Entry(form=form, label=self.label, tip=self.tip, options=options),),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """Nothing while none is chosen."""
        return None if given[name].strip() == NOT_STATED else super().typed(given, name, usual)


class File(Text):
    """The name of a file that is read, with one of the endings."""

    @property
    def word(self) -> str:
        """A file."""
        return "FILE"

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A chooser of files."""
        form = f'type="path" mode="file" filetypes="{",".join(self.endings)}"'
        return ((Entry(form=form, label=self.label, tip=self.tip, start=usual or ""),),)


def said_of(name: str, error: FlatcutError) -> tuple[str | Option, ...]:
    """The sentence of an error, in parts, with the option that it is about in front unless it begins with that itself.

    >>> error = UsageError("'zoll' is no unit")
    >>> print(UsageError(*said_of("width", error)))
    --width: 'zoll' is no unit
    """
    own = error.parts[:1] == (Option(name),)
    return error.parts if own else (Option(name), ": ", *error.parts)


def hyphened(text: str) -> str:
    """Names with hyphens in place of the spaces inside them; commas part names.

    >>> hyphened("skirt front, skirt  back")
    'skirt-front,skirt-back'
    """
    return ",".join("-".join(part.split()) for part in text.split(","))


def length_text(figure: str, unit: str) -> str:
    """What is typed into a dialog as a length of a command: a figure counts in the dialog's unit unless it has its own.

    A comma in a figure is the decimal one. Errors: UsageError for an unknown unit, and where a figure in a sum has no
    unit and the dialog's is a fraction of an inch.

    >>> length_text("10.000", "mm"), length_text("2,5", "cm"), length_text("6", "1/8in"), length_text("-2.5", "1/8in")
    ('10', '2.5cm', '3/4in', '-0.3125in')
    >>> length_text("1 1/2", "in"), length_text("3cm", "in"), length_text("hip/4 + 1", "cm")
    ('1 1/2in', '3cm', 'hip/4 + 1cm')
    """
    if unit not in UNITS:
        raise UsageError(f"'{unit}' is not a unit of a dialog; choose one of {', '.join(UNITS)}")
    parts, name = UNITS[unit]
    text = re.sub(r"(?<=\d),(?=\d)", ".", figure.strip())
    if parts == 1 and re.fullmatch(r"-?\d{1,9}(\.0*)?", text):  # the most usual one: a whole figure and no more
        return f"{int(float(text))}{name}"
    from fractions import Fraction

    try:
        value = Fraction(text) / parts
    except (ValueError, ZeroDivisionError):
        if parts != 1 and parse_length(text, units="in").text != parse_length(text, units="cm").text:
            raise UsageError(f"in '{figure}' a figure has no unit; write one behind it, such as 3/8in") from None
        return parse_length(text, units=name or "mm").text
    if (value * parts).denominator == 1:
        return f"{value}{name}"
    return f"{plain(float(value), 8)}{name}"
