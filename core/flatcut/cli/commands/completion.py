"""`completion`: what a shell completes, from what is declared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.errors import UsageError


@dataclass(frozen=True, kw_only=True)
class Completion(Command):
    """Print what makes a shell complete commands, options and their words.

    Keep it: flatcut completion bash > ~/.local/share/bash-completion/completions/flatcut
    zsh: flatcut completion zsh > _flatcut, in a folder of $fpath
    fish: flatcut completion fish > ~/.config/fish/completions/flatcut.fish
    """

    usage: ClassVar[str] = "flatcut completion bash|zsh|fish"
    words: ClassVar[tuple[str, ...]] = ("bash", "zsh", "fish")

    def run(self, found: Words) -> int:
        """Print it."""
        from flatcut.cli.completing import SHELLS, calls

        if len(found.targets) != 1 or found.targets[0] not in SHELLS:
            raise UsageError("name the shell: flatcut completion bash, zsh or fish")
        print(SHELLS[found.targets[0]](calls()), end="")
        return 0
