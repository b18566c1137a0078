"""The error tree. Every message is one sentence that says what to do.

    FlatcutError
    ├── UsageError       (ValueError)   the call is wrong: unknown option, bad number, unknown unit
    │   └── UnknownNameError  (LookupError)  a piece, edge, dart, point or measurement that is not there
    ├── InputError       (ValueError)   the file or the drawing is wrong: not XML, an open outline
    ├── GeometryError    (ArithmeticError)  the shape asked for does not exist
    ├── OutputError      (OSError)      the result cannot be written
    └── MissingPackageError (ImportError)  a package that only this command needs is not installed

Every one of them ends a command with exit code 2 and no output.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

QUOTED = 80
"""Letters of an input that a sentence repeats."""
WHOLE = 1000
"""Letters of a sentence."""
_QUOTED = rf"(?<![\w'])'([^'\n]{{{QUOTED + 1},}})'(?!\w)"
_CONTROL = r"\s*[\x00-\x1f\x7f]+\s*"


TARGET = "target"
"""The option that is written without its name."""


class Option(NamedTuple):
    """An option that a sentence speaks of, with a value where it gives one.

    >>> print(Option("width"), Option("to", "pleat"), Option("target"))
    --width --to=pleat target
    """

    name: str
    value: str = ""

    def __str__(self) -> str:
        return self.name if self.name == TARGET else f"--{self.name}" + f"={self.value}" * bool(self.value)

    def labelled(self, labels: Mapping[str, str]) -> str:
        """The option as a dialog calls it; as the command does where that has no label for it."""
        if self.name not in labels:
            return str(self)
        return f"'{labels[self.name]}'" + f": {self.value}" * bool(self.value)


class FileName(str):
    """The name of the file that a sentence speaks of, as a part of it."""


class FlatcutError(Exception):
    """Anything a user can put right: a sentence in parts, shown on one line and within bounds."""

    def __init__(self, *parts: str | Option) -> None:
        self.parts = parts
        super().__init__(within_bounds("".join(map(str, parts))))

    def told_of(self, name: str) -> str:
        """The sentence among those of other files: with the name of its own in front, unless it speaks of that.

        >>> print(InputError(FileName("a.svg"), " is empty").told_of("a.svg"))
        a.svg is empty
        >>> print(InputError("side is open; close it").told_of("a.svg"))
        a.svg: side is open; close it
        """
        speaks = any(isinstance(part, FileName) and part == name for part in self.parts)
        return str(self) if speaks else f"{name}: {self}"

    def labelled(self, labels: Mapping[str, str]) -> str:
        """The sentence with the labels that a dialog has for options, by their names.

        >>> error = UsageError(Option("to", "tuck"), " and ", Option("by"), " differ; leave one out")
        >>> print(error, "|", error.labelled({"to": "What it becomes"}))
        --to=tuck and --by differ; leave one out | 'What it becomes': tuck and --by differ; leave one out
        """
        return within_bounds(
            "".join(part.labelled(labels) if isinstance(part, Option) else part for part in self.parts)
        )


def within_bounds(text: str) -> str:
    """A sentence without what of an input is too long to be read in it.

    >>> within_bounds(f"'{'x' * 200}' is not a length") == f"'{'x' * QUOTED}...' is not a length"
    True
    """
    if len(text) > QUOTED:
        text = re.sub(_QUOTED, lambda found: f"'{found[1][:QUOTED]}...'", text)
    if len(text) > WHOLE:
        text = f"{text[: WHOLE // 2]} ... {text[-WHOLE // 2 :]}"
    return re.sub(_CONTROL, " ", text)


class UsageError(FlatcutError, ValueError):
    """The call is wrong."""


class UnknownNameError(UsageError, LookupError):
    """A name that is not in the pattern."""


class InputError(FlatcutError, ValueError):
    """The file or the drawing is wrong."""


class GeometryError(FlatcutError, ArithmeticError):
    """The shape asked for does not exist."""


class OutputError(FlatcutError, OSError):
    """The result cannot be written."""


class MissingPackageError(FlatcutError, ImportError):
    """A package that only some commands need is not there; the sentence says how to install it."""


def unknown(kind: str, name: str, known: Iterable[str]) -> UnknownNameError:
    """The error for a name that is not there, with the nearest known one or the whole list.

    >>> print(unknown("edge", "sied", ["side", "hem"]))
    there is no edge 'sied'; did you mean 'side'? (known: hem, side)
    >>> print(unknown("piece", "front", []))
    there is no piece 'front', and none has been made yet
    >>> print(unknown("size", "XXL", ["M", "S"]))
    there is no size 'XXL' (known: M, S)
    """
    names = sorted(set(known))
    if not names:
        return UnknownNameError(f"there is no {kind} '{name}', and none has been made yet")
    from difflib import get_close_matches

    near = get_close_matches(name, names, n=1)
    guess = f"; did you mean '{near[0]}'?" if near else ""
    shown = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    return UnknownNameError(f"there is no {kind} '{name}'{guess} (known: {shown})")
