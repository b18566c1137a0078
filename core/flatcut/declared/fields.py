"""The kinds of parameter. Each is written once and tells every surface (Python, command, dialog, recipe) what it needs.

A field's text form is what a command line, a recipe and a dialog hand over; `Spec.parse` reads it and `Spec.show`
writes it, and parse(show(value)) is value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from flatcut.errors import UsageError
from flatcut.pattern.expressions import Expression, parse_length
from flatcut.pattern.places import split_outside
from flatcut.units import LARGEST, plain

REFERENCES = ("piece", "edge", "corner", "place", "stretch", "dart", "line", "point", "run", "drawn")
"""What a reference may point to; resolve.py knows how to fill each kind from a selection."""


@dataclass(frozen=True, kw_only=True)
class Spec:
    """What a surface must know of one field.

    kind: length, lengths (one or a row of them), number, choice, flag, text, file or ref; many: a tuple of them; of:
    kinds of reference; recorded: whether it stands in the step's line (a drawn object never does: it is settled into
    places first); endings: of a file's name; other: what else than one of the choices may be typed, in words, '' for
    nothing.
    """

    kind: str
    help: str
    low: float = -LARGEST
    high: float = LARGEST
    choices: tuple[str, ...] = ()
    of: tuple[str, ...] = ()
    many: bool = False
    optional: bool = False
    recorded: bool = True
    digits: int = 3
    endings: tuple[str, ...] = ()
    other: str = ""

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """The value of a typed text. Errors: UsageError that names the option."""
        try:
            if self.kind == "length":
                return self.checked(parse_length(text, units=units), name=name)
            if self.kind == "lengths":
                parts = [part for part in split_outside(text, ",") if part.strip()]
                return self.checked([parse_length(part, units=units) for part in parts], name=name)
            if self.kind == "number":
                return self.checked(float(text), name=name)
        except UsageError as error:
            raise UsageError(said_of(name, error)) from None
        except ValueError:
            raise UsageError(f"--{name} takes a number, not '{text}'") from None
        if self.kind == "flag":
            if text.lower() not in _FLAGS:
                raise UsageError(f"--{name} takes true or false, not '{text}'")
            return _FLAGS[text.lower()]
        if self.many:
            return tuple(part.strip() for part in text.split(",") if part.strip())
        return self.checked(text, name=name)

    def checked(self, value: Any, *, name: str) -> Any:
        """`value` in the form that the field keeps. Errors: UsageError when it is out of range or of the wrong kind."""
        if value is None and self.optional:
            return None
        if self.kind == "lengths":
            given = value if isinstance(value, (list, tuple)) else (value,)
            each = replace(self, kind="length", many=False, optional=False)
            return tuple(each.checked(one, name=name) for one in given)
        if self.kind == "length" and isinstance(value, str):
            value = parse_length(value)
        if isinstance(value, Expression):
            if value.constant is not None:
                self._number(value.constant, name)
            return value
        if self.kind in ("length", "number"):
            return self._number(value, name)
        if self.kind == "flag":
            if not isinstance(value, bool):
                raise UsageError(f"{name} takes True or False, not {value!r}")
            return value
        if self.kind == "choice" and value not in self.choices and not self.other:
            raise UsageError(f"--{name} takes one of {', '.join(filter(None, self.choices))}, not '{value}'")
        if self.many:
            return (value,) if isinstance(value, str) else tuple(value)
        return value

    def _number(self, value: Any, name: str) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise UsageError(f"--{name} takes a number, not {value!r}")
        if not self.low <= value <= self.high:
            unit = " mm" if self.kind == "length" else ""
            reach = f"between {plain(self.low)} and {plain(self.high)}{unit}"
            raise UsageError(f"--{name} is {plain(value, 4)}{unit}; it must lie {reach}")
        return float(value)

    def show(self, value: Any) -> str:
        """The text that parses to `value`."""
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, float):
            return plain(value, 6)
        if isinstance(value, Expression):
            return value.text
        if self.kind == "lengths":
            return ",".join(replace(self, kind="length").show(one) for one in value)
        if self.many:
            return ",".join(value)
        return str(value)


_FLAGS = {"true": True, "false": False, "1": True, "0": False, "yes": True, "no": False}


def length(default: float | None, help: str, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or an expression that gives one; None when it may be left out."""
    spec = Spec(kind="length", help=help, low=low, high=high, optional=default is None)
    return field(default=default, metadata={"spec": spec})


def lengths(help: str, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or one for each of several things; empty when left out."""
    return field(default=(), metadata={"spec": Spec(kind="lengths", help=help, low=low, high=high, many=True)})


def number(default: float | None, help: str, *, low: float, high: float, digits: int = 3) -> Any:
    """A plain number: a count, an angle in degrees, a ratio."""
    spec = Spec(kind="number", help=help, low=low, high=high, optional=default is None, digits=digits)
    return field(default=default, metadata={"spec": spec})


def choice(default: str, help: str, choices: Sequence[str], *, other: str = "") -> Any:
    """One word of a list. An empty default stands for 'not stated' and is itself a choice.

    other: says what else may be typed, which its owner then checks.
    """
    spec = Spec(kind="choice", help=help, choices=tuple(choices), other=other)
    return field(default=default, metadata={"spec": spec})


def flag(default: bool, help: str) -> Any:
    """Yes or no."""
    return field(default=default, metadata={"spec": Spec(kind="flag", help=help)})


def text(default: str, help: str) -> Any:
    """A word or a sentence."""
    return field(default=default, metadata={"spec": Spec(kind="text", help=help)})


def file(default: str, help: str, endings: Sequence[str], *, recorded: bool = True) -> Any:
    """A file that is read, by its name with one of the endings.

    recorded: its owner also takes what it holds in place of its name, and that stands in the step's line.
    """
    spec = Spec(kind="file", help=help, endings=tuple(endings), recorded=recorded)
    return field(default=default, metadata={"spec": spec})


def texts(help: str) -> Any:
    """Words separated by commas."""
    return field(default=(), metadata={"spec": Spec(kind="text", help=help, many=True)})


def ref(of: str | Sequence[str], help: str, *, optional: bool = False) -> Any:
    """A reference to one thing; an empty one is filled by resolve."""
    kinds = (of,) if isinstance(of, str) else tuple(of)
    return field(default="", metadata={"spec": Spec(kind="ref", help=help, of=kinds, optional=optional)})


def drawn(help: str) -> Any:
    """An object drawn in the document that a step is made from; the step itself names places, never the object."""
    return field(
        default="", metadata={"spec": Spec(kind="ref", help=help, of=("drawn",), optional=True, recorded=False)}
    )


def refs(of: str | Sequence[str], help: str, *, optional: bool = False) -> Any:
    """References to one thing or more; empty ones are filled by resolve."""
    kinds = (of,) if isinstance(of, str) else tuple(of)
    return field(default=(), metadata={"spec": Spec(kind="ref", help=help, of=kinds, many=True, optional=optional)})


def said_of(name: str, error: Exception) -> str:
    """The sentence of an error, with the option that it is about in front unless it begins with that itself.

    >>> said_of("width", UsageError("'zoll' is no unit")), said_of("width", UsageError("--width is too small"))
    ("--width: 'zoll' is no unit", '--width is too small')
    """
    text = str(error)
    return text if text.startswith(f"--{name} ") else f"--{name}: {text}"
