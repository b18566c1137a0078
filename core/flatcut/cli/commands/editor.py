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
    """Install, look after or remove the plugin of the editor."""

    usage: ClassVar[str] = "flatcut editor install|status|remove"
    words: ClassVar[tuple[str, ...]] = ("install", "status", "remove")

    profile: str = text("", "the editor's own folder, where it is not found by itself")
    program: str = text("", "the editor's program")
    fetch: bool = flag(True, "whether packages that the editor's interpreter lacks are fetched")

    def run(self, found: Words) -> int:
        """Do it; 1 where the plugin does not work."""
        from flatcut.editor.host import find_host
        from flatcut.editor.install import install, remove, status

        if len(found.targets) != 1 or found.targets[0] not in self.words:
            raise UsageError("say what to do with the plugin: flatcut editor install, status or remove")
        host = find_host(profile=self.profile, program=self.program)
        action = found.targets[0]
        if action == "status":
            works, said = status(host)
        else:
            stopping.halfway("the plugin may be half there; run flatcut editor install, or flatcut editor remove")
            works, said = True, install(host, fetch=self.fetch) if action == "install" else remove(host)
            stopping.halfway("")
        print("\n".join(said))
        return 0 if works else 1
