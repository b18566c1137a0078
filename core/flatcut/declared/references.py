"""The kinds of parameter that point to something: a piece, an edge, a corner, a place, a run, a drawn object.

Their values are those of `pattern/places.py`, from the moment they are read. `resolve.py` checks them on a pattern
and fills those that are left empty.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, ClassVar

from flatcut.declared.kinds import Kind, said_of
from flatcut.errors import Option, UsageError
from flatcut.pattern.places import (
    EVERY,
    Drawn,
    Place,
    Reckoned,
    Rename,
    Run,
    parse_position,
    read_reference,
    show_position,
    split_outside,
)
from flatcut.pattern.values import Pattern, Position
from flatcut.units import UNITS

KINDS = ("piece", "edge", "corner", "place", "stretch", "dart", "line", "point", "run", "drawn")
"""What a reference may point to."""

FROM_SELECTION = "Names left empty are taken from the selection."

_WANTED = {"edge": "an edge", "run": "an edge or a run of edges", "point": "a named point", "drawn": "a drawn object"}

_BETWEEN = r"\.\.(?=~?[^\W\d_][\w-]*\.|at\()"
"""The two dots between two places; those of a stretch stand before a figure."""

_APART = rf"(?<![+\s])\s+(?=[~-]?[^\W\d_])(?!(?:{'|'.join(UNITS)})(?![\w.-]))"
"""A space between two references, none in a run or before a unit."""


def _plain(pattern: Pattern, value: Any) -> Any:
    """A place with its lengths in mm; what goes without its piece, and other references, as they are."""
    if not (isinstance(value, Place) and value.name):
        return value
    from flatcut.pattern.finding import plain_place  # whole pieces are named oftener

    return plain_place(pattern, value) if value.piece else value


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Ref(Kind):
    """A reference to one thing: a Place, a Run or a Drawn; None where nothing is stated.

    of: what it may point to, of KINDS; selected: whether an empty one is filled by resolve; bare: whether the name of
    an edge may stand without its piece, which then goes without saying; words: what may stand there that is no
    reference, and is kept as a bare name.
    """

    of: tuple[str, ...]
    selected: bool = True
    bare: bool = False
    words: tuple[str, ...] = ()

    many: ClassVar[bool] = False
    there: ClassVar[bool] = True
    """Whether what it points to is there before the step."""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "hidden", self.of == ("drawn",))
        if self.selected:
            whole = self.help[:1].upper() + self.help[1:]
            object.__setattr__(self, "tip", f"{whole.replace('; ', ': ', 1)}. {FROM_SELECTION}")

    @property
    def said(self) -> str:
        """What is wanted, in words."""
        return " or ".join(self.of)

    @property
    def wanted(self) -> str:
        """The same with articles.

        >>> Ref(what="", of=("edge", "piece", "stretch")).wanted
        'an edge, a piece or a stretch'
        """
        words = [_WANTED.get(of, f"a {of}") for of in self.of]
        return " or ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])

    def check(self, value: Any, *, name: str) -> Any:
        """A reference; None for nothing, which resolve may fill."""
        if not value:
            return None
        if isinstance(value, str):
            return read_reference(value, bare=self.bare, drawn=self.of == ("drawn",))
        if not isinstance(value, (Place, Run, Drawn)):
            raise UsageError(Option(name), f" takes a {self.said}, not {value!r}")
        return value

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """With every length of a place in mm."""
        return _plain(pattern, value)

    def renamed(self, value: Any, name: Rename) -> Any:
        """Where pieces have other names; `all` stays."""
        return value if value is None or value == EVERY else value.renamed(name)

    @property
    def word(self) -> str:
        """The kinds, in capital letters."""
        return "|".join([*(kind.upper() for kind in self.of), *self.words])


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Refs(Ref):
    """References to one thing or more, a tuple of them. between: two dots may stand between two places."""

    between: bool = False

    many: ClassVar[bool] = True

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """Commas or spaces part them."""
        parts = [part.strip() for part in split_outside(text, ",")]
        apart = [one for part in parts for one in ([part] if "(" in part else re.split(_APART, part))]
        return self.check([one for one in apart if one], name=name)

    def check(self, value: Any, *, name: str) -> Any:
        """A tuple; one reference is a row of one. Errors: UsageError when `all` has others beside it."""
        row = (value,) if isinstance(value, (str, Place, Run, Drawn)) else tuple(value or ())
        if self.between:
            row = tuple(end for one in row for end in (re.split(_BETWEEN, one) if isinstance(one, str) else [one]))
        drawn = self.of == ("drawn",)
        read = tuple(
            read_reference(one, bare=self.bare, drawn=drawn) if isinstance(one, str) else one for one in row if one
        )
        for one in read:
            if not isinstance(one, (Place, Run, Drawn)):
                raise UsageError(Option(name), f" takes a {self.said}, not {one!r}")
        if EVERY in read and len(set(read)) > 1 and "piece" in self.of:
            raise UsageError("'all' means every piece; name nothing beside it")
        return read

    def show(self, value: Any) -> str:
        """With commas."""
        return ",".join(map(str, value))

    def renamed(self, value: Any, name: Rename) -> Any:
        """Each."""
        return tuple(super(Refs, self).renamed(one, name) for one in value)

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """`all` is every piece of the pattern."""
        if EVERY not in value or "piece" not in self.of:
            # the most usual place is a whole thing, on which nothing is counted
            plain = tuple(one if isinstance(one, Place) and one.at is None else _plain(pattern, one) for one in value)
            return value if all(a is b for a, b in zip(plain, value, strict=True)) else plain
        return tuple(Place(piece=piece.name) for piece in pattern.pieces)


class Span(Refs):
    """Two places on what the step itself makes, with two dots between them; nothing where it is left out."""

    there: ClassVar[bool] = False

    def parse(self, text: str, *, name: str, units: str = "mm") -> Any:
        """The two dots part them."""
        return self.check(text, name=name)

    def check(self, value: Any, *, name: str) -> Any:
        """Two or none. Errors: UsageError."""
        row = value.split("..") if isinstance(value, str) and value else tuple(value or ())
        if len(row) not in (0, 2):
            raise UsageError(f"'{value}' is not two places; write ", Option(name, "PIECE.e1/e2..PIECE.e2/e3"))
        return tuple(Ref.check(self, one, name=name) for one in row)

    def show(self, value: Any) -> str:
        """With the dots."""
        return "..".join(map(str, value))

    @property
    def word(self) -> str:
        """Two places."""
        return "PLACE..PLACE"


class Along(Kind):
    """Where on an edge: a Position, such as 1/2, 5cm from its start or -5cm from its end; None where not stated."""

    def check(self, value: Any, *, name: str) -> Any:
        """A Position or None. Errors: UsageError."""
        if isinstance(value, Position):
            return value
        try:
            return parse_position(str(value))
        except UsageError as error:
            raise type(error)(*said_of(name, error)) from None

    def evaluated(self, value: Any, pattern: Pattern, *, name: str) -> Any:
        """In mm where it is told by measurements."""
        return value.on(pattern) if isinstance(value, Reckoned) else value

    def show(self, value: Any) -> str:
        """As it stands after an @."""
        return show_position(value)

    @property
    def word(self) -> str:
        """A fraction or a length."""
        return "FRACTION|LENGTH"
