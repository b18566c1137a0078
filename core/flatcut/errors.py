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
from collections.abc import Iterable
from difflib import get_close_matches

QUOTED = 80
"""Letters of an input that a sentence repeats."""
WHOLE = 1000
"""Letters of a sentence."""
_QUOTED = re.compile(rf"(?<![\w'])'([^'\n]{{{QUOTED + 1},}})'(?!\w)")
_CONTROL = re.compile(r"\s*[\x00-\x1f\x7f]+\s*")


class FlatcutError(Exception):
    """Anything a user can put right; its text is shown as it stands, on one line and within bounds."""

    def __init__(self, text: str = "") -> None:
        super().__init__(within_bounds(text))


def within_bounds(text: str) -> str:
    """A sentence without what of an input is too long to be read in it.

    >>> within_bounds(f"'{'x' * 200}' is not a length") == f"'{'x' * QUOTED}...' is not a length"
    True
    """
    if len(text) > QUOTED:
        text = _QUOTED.sub(lambda found: f"'{found[1][:QUOTED]}...'", text)
    if len(text) > WHOLE:
        text = f"{text[: WHOLE // 2]} ... {text[-WHOLE // 2 :]}"
    return _CONTROL.sub(" ", text)


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
    near = get_close_matches(name, names, n=1)
    guess = f"; did you mean '{near[0]}'?" if near else ""
    shown = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    return UnknownNameError(f"there is no {kind} '{name}'{guess} (known: {shown})")
