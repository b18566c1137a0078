"""What a check is, and the registry that finds them."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from flatcut.pattern.values import Pattern

FAULT, WARNING = "fault", "warning"
_FRAMEWORK = {"__init__", "check"}


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something that does not fit. where: what it touches, as written references, most at fault first.

    figure: by how much, in `unit`.
    """

    check: str
    severity: str
    where: tuple[str, ...]
    text: str
    figure: float = 0.0
    unit: str = "mm"


class Check(Protocol):
    """A check's file has this function and a docstring whose first line says what it looks for."""

    def __call__(self, pattern: Pattern) -> Iterator[Finding]:
        """What the check finds, in the order of the pattern."""


def names() -> list[str]:
    """All checks, in alphabetical order.

    >>> "seam-walk" in names()
    True
    """
    stems = sorted(path.stem for path in Path(__file__).parent.glob("*.py"))
    return [stem.replace("_", "-") for stem in stems if stem not in _FRAMEWORK]


def run_checks(pattern: Pattern) -> list[Finding]:
    """Every finding of every check, faults before warnings, larger before smaller."""
    found: list[Finding] = []
    for name in names():
        module = importlib.import_module(f"flatcut.checks.{name.replace('-', '_')}")
        check: Check = module.check
        found += check(pattern)
    return sorted(found, key=lambda finding: (finding.severity != FAULT, -abs(finding.figure)))
