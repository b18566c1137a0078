"""`demo`: a folder with a worked example."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.errors import UsageError


@dataclass(frozen=True, kw_only=True)
class Demo(Command):
    """Make a folder with a drawing, what becomes of it, and a page that shows it."""

    usage: ClassVar[str] = "flatcut demo DIR"

    def run(self, found: Words) -> int:
        """Write the folder and say what was done."""
        from flatcut.cli.demo import make_demo

        if len(found.targets) != 1:
            raise UsageError("say where the example shall go: flatcut demo DIR")
        print("\n".join(make_demo(found.targets[0])))
        return 0
