"""`operations`: the operations and their options."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.cli.describe import describe
from flatcut.errors import unknown
from flatcut.operations.operation import load, names


@dataclass(frozen=True, kw_only=True)
class Operations(Command):
    """List the operations with their options, all or those that are named."""

    usage: ClassVar[str] = "flatcut operations [OPERATION...]"
    words: ClassVar[tuple[str, ...]] = tuple(names())

    def run(self, found: Words) -> int:
        """Print them."""
        for wanted in found.targets:
            if wanted not in names():
                raise unknown("operation", wanted, names())
        print("\n\n".join(describe(load(wanted)) for wanted in found.targets or names()))
        return 0
