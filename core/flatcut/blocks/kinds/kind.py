"""What a kind of block is, and the registry that finds one by its name.

A kind is one frozen dataclass in one file of this folder, which gives it its name. Its fields are its options: the
measurements that it drafts from and what else may be stated. The operation `block` has the fields of all kinds and
refuses those of another kind than the one that is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from flatcut.blocks.body import MEASUREMENTS, suspect
from flatcut.declared.declared import Declared, option
from flatcut.declared.fields import length as mm
from flatcut.declared.fields import number
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern
from flatcut.units import plain

_FRAMEWORK = {"__init__", "kind", "upper"}


@dataclass(frozen=True, kw_only=True)
class Kind(Declared):
    """The base of all kinds. pieces: the usual names of its pieces, in their order."""

    pieces: ClassVar[tuple[str, ...]] = ()

    @property
    def name(self) -> str:
        """The name of the kind, that of its file."""
        return option(type(self).__module__.rsplit(".", 1)[-1])

    @property
    def needed(self) -> tuple[str, ...]:
        """The measurements without which it cannot be drafted."""
        return ()

    def usual_references(self) -> dict[str, Any]:
        """The fields that point to pieces by their usual names while nothing is stated; most kinds have none."""
        return {}

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """The pieces of a body (mm, with all that is needed, checked), with one name for each.

        pattern: what is there already; a sleeve finds its armholes in it. Errors: any FlatcutError.
        """
        raise NotImplementedError

    @contextmanager
    def blaming(self, body: Mapping[str, float]) -> Iterator[None]:
        """An error of the drafting, which knows points and not bodies, gets the measurement to check first."""
        try:
            yield
        except GeometryError as error:
            raise GeometryError(f"the {self.name} cannot be drawn: {error}; {suspect(body, self.needed)}") from None


def taken(name: str) -> Any:
    """The field of a measurement."""
    known = MEASUREMENTS[name]
    return mm(None, (name.replace("-", " "), f"{known.what}; {known.usual}"))


def darts(part: str) -> Any:
    """The field of how many waist darts there are: stated, whatever the body, so that a recipe finds them by name."""
    return number(
        1, (f"waist darts, each half {part}", f"how many each half of the {part} has"), low=1, high=2, digits=0
    )


def stated(**values: float | None) -> dict[str, float]:
    """Those that are stated; the others are the block's own."""
    return {name: value for name, value in values.items() if value is not None}


def whole(value: float, name: str) -> int:
    """A count. Errors: UsageError for 1.5 darts."""
    if value != round(value):
        raise UsageError(Option(name), f" takes a whole number, not {plain(value)}")
    return round(value)


def names() -> list[str]:
    """All kinds of block, in alphabetical order.

    >>> names()[:2]
    ['bodice', 'dress']
    """
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str) -> type[Kind]:
    """The kind of that name; only its own file is imported. Errors: UnknownNameError."""
    return load_from("flatcut.blocks.kinds", name, Kind, names())
