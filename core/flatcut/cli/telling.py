"""What every command reads of its words, and what it says on standard error."""

from __future__ import annotations

import sys
from collections.abc import Iterable

from flatcut.arguments import Words
from flatcut.errors import UsageError


def taken_flag(found: Words, name: str) -> bool:
    """A flag of the command itself, taken out of the options."""
    text = found.options.pop(name, "false")
    if text not in ("true", "false"):
        raise UsageError(f"--{name} takes true or false, not '{text}'")
    return text == "true"


def tell_findings(findings: Iterable[object]) -> None:
    """Print what reading a drawing found, or what writing it could not do."""
    for finding in findings:
        print(f"note: {finding}", file=sys.stderr)
