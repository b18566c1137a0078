"""`dialogs`: the dialog files beside the editor's script."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import ClassVar

from flatcut import stopping
from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.declared.fields import flag
from flatcut.errors import UsageError


@dataclass(frozen=True, kw_only=True)
class Dialogs(Command):
    """Write the editor's dialog files anew, or check that they are up to date."""

    usage: ClassVar[str] = "flatcut dialogs --write|--check"

    write: bool = flag(False, "write the dialog files of the editor anew")
    check: bool = flag(False, "exit code 1 when one is out of date")

    def run(self, found: Words) -> int:
        """Do one of the two."""
        from flatcut.dialogs.files import stale, write
        from flatcut.editor.install import scripts_folder

        if self.write == self.check or found.targets:
            raise UsageError("say one of two: flatcut dialogs --write, or flatcut dialogs --check")
        folder = scripts_folder()
        if self.write:
            stopping.halfway("some dialog files may be older than others; run flatcut dialogs --write again")
        said = write(folder) if self.write else stale(folder)
        stopping.halfway("")
        print("\n".join(said) if said else "every dialog is as its operation says")
        if said and self.check:
            print("run: flatcut dialogs --write", file=sys.stderr)
            return 1
        return 0
