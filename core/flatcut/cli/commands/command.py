"""What a command is, and the registry that finds one by its name.

A command is one frozen dataclass in one file of this folder; its fields are its options, of the same kinds as an
operation's. From them follow its help, the checking of its options and what a shell completes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from flatcut.arguments import Words, build, split
from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import UsageError

_FRAMEWORK = {"__init__", "command"}


@dataclass(frozen=True, kw_only=True)
class Command(Declared):
    """The base of all commands. files: whether it takes -i and -o; words: what may stand after its name."""

    files: ClassVar[bool] = False
    words: ClassVar[tuple[str, ...]] = ()

    def run(self, found: Words) -> int:
        """Do it; the exit code. found: targets and files, the options are fields. Errors: FlatcutError."""
        raise NotImplementedError


def names() -> list[str]:
    """All commands, in alphabetical order.

    >>> "run" in names()
    True
    """
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str) -> type[Command]:
    """The command of that name; only its own file is imported. Errors: UnknownNameError."""
    cls = load_from("flatcut.cli.commands", name, Command, names())
    cls.command = option(cls.__module__.rsplit(".", 1)[-1])
    return cls


def perform(name: str, words: Sequence[str]) -> int:
    """Run a command from its words. Errors: FlatcutError."""
    cls, found = load(name), split(words)
    if not cls.files and (found.inputs or found.output):
        raise UsageError(f"{name} takes no -i and no -o")
    if found.options and not kinds(cls):
        raise UsageError(f"{name} takes no options")
    return build(cls, (), found.options, bare=found.bare).run(found)
