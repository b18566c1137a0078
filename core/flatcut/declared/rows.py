"""Kinds of parameter that hold a row of values, with commas between them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from flatcut.declared.entries import UNIT, Entry
from flatcut.declared.kinds import Choice, Kind, Length, Number, Row, length_text
from flatcut.errors import UsageError
from flatcut.pattern.places import Rename, split_outside
from flatcut.pattern.values import Pattern


class Several(Kind):
    """A row of values with commas between them, one for each of several things; empty where it is left out.

    Mixed in before the kind of each of them, as in `Lengths`.
    """

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """Each part between commas."""
        parts = [part.strip() for part in split_outside(text, ",") if part.strip()]
        return tuple(one for part in parts for one in super(Several, self).parse(part, name=name, units=units))

    def check(self, value: Any, *, name: str) -> Any:
        """A tuple; one value is a row of one."""
        row = value if isinstance(value, (list, tuple)) else (value,)
        return tuple(super(Several, self).check(one, name=name) for one in row)

    def show(self, value: Any) -> str:
        """With commas."""
        return ",".join(super(Several, self).show(one) for one in value)

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """What each means; the very same row where all mean themselves."""
        row = tuple(super(Several, self).evaluated(one, pattern, name=name) for one in value)
        return value if all(new is old for new, old in zip(row, value, strict=True)) else row

    def renamed(self, value: Any, name: Rename) -> Any:
        """Each."""
        return tuple(super(Several, self).renamed(one, name) for one in value)

    @property
    def word(self) -> str:
        """That of one, with a comma."""
        return f"{super().word},..."

    def entries(self, usual: Any) -> tuple[Row, ...]:
        """A line of text."""
        return ((Entry(form='type="string"', label=self.label, tip=self.tip, note=self.usually(usual)),),)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """As it was typed."""
        return Kind.typed(self, given, name, usual)


class Numbers(Several, Number):
    """A row of numbers; a percent sign after one changes nothing.

    >>> Numbers(what="shares").parse("60%, 40", name="shares")
    (60.0, 40.0)
    """

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """Each part between commas."""
        return super().parse(text.replace("%", ""), name=name)

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """Each figure; a comma may be a decimal one where semicolons part them. Errors: UsageError as `figures_of`."""
        return ",".join(part.replace(",", ".") for part in figures_of(given[name], whole=True)) or None


class Lengths(Several, Length):
    """A row of lengths."""

    def typed(self, given: Mapping[str, str], name: str, usual: Any) -> str | None:
        """Each figure with the unit of the dialog. Errors: UsageError where a comma may be a decimal one or not."""
        row = [length_text(part, given.get(UNIT, "mm")) for part in figures_of(given[name])]
        return ",".join(row) or None


class Choices(Several, Choice):
    """A row of words of a list."""


def figures_of(text: str, *, whole: bool = False) -> list[str]:
    """The figures of a line of several. Errors: UsageError where a comma may be a decimal one or not.

    Semicolons part them, and commas are decimal then; without any, commas part them. whole: whole numbers are usual, so
    that two with a comma between them are two.

    >>> figures_of("1,5; 2"), figures_of("10, 20,30"), figures_of("1.5,2")
    (['1,5', '2'], ['10', '20', '30'], ['1.5', '2'])
    """
    if ";" in text:
        return [part.strip() for part in text.split(";") if part.strip()]
    if not whole and re.fullmatch(r"\s*-?\d+,\d+\s*", text):
        one, two = text.strip().split(",")
        raise UsageError(f"'{text.strip()}' may be {one}.{two} or two figures; write {one}.{two}, or {one}; {two}")
    return [part.strip() for part in split_outside(text, ",") if part.strip()]
