"""`editor`: the plugin of the editor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut import stopping
from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.declared.fields import flag, text
from flatcut.errors import UsageError


@dataclass(frozen=True, kw_only=True)
class Editor(Command):
    """Install, look after, remove or pack the plugin of the editor."""

    usage: ClassVar[str] = "flatcut editor install|status|remove|pack [-o OUT.zip]"
    words: ClassVar[tuple[str, ...]] = ("install", "status", "remove", "pack")
    files: ClassVar[bool] = True

    profile: str = text("", "the editor's own folder, which says too which of several editors is meant")
    program: str = text("", "the editor's program")
    fetch: bool = flag(True, "whether packages that the editor's interpreter lacks are fetched")
    hand_over: bool = flag(False, "pack for any interpreter, each document handed to this one")

    def run(self, found: Words) -> int:
        """Do it; 1 where the plugin does not work."""
        from flatcut.editor.host import find_host
        from flatcut.editor.install import install, remove, status

        if len(found.targets) != 1 or found.targets[0] not in self.words:
            raise UsageError("say what to do with the plugin: flatcut editor install, status, remove or pack")
        action = found.targets[0]
        packed = action == "pack"
        if found.inputs or bool(found.output) != packed or (packed and not found.output.endswith(".zip")):
            raise UsageError("an archive is written by: flatcut editor pack -o flatcut.zip; the others take no file")
        if self.hand_over and not packed:
            raise UsageError("--hand-over goes with flatcut editor pack")
        if packed:
            from flatcut.editor.packing import pack

            host = None if self.hand_over else find_host(profile=self.profile, program=self.program)
            print("\n".join(pack(host, found.output, fetch=self.fetch)))
            return 0
        host = find_host(profile=self.profile, program=self.program)
        if action == "status":
            works, said = status(host)
        else:
            stopping.halfway("the plugin may be half there; run flatcut editor install, or flatcut editor remove")
            works, said = True, install(host, fetch=self.fetch) if action == "install" else remove(host)
            stopping.halfway("")
        print("\n".join(said))
        return 0 if works else 1
