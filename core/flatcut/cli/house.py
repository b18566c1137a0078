"""Commands about flatcut itself: the plugin of the editor, its dialogs, and a worked example."""

from __future__ import annotations

import sys

from flatcut import stopping
from flatcut.arguments import Words, split
from flatcut.cli.describe import describe
from flatcut.cli.editing import taken_flag
from flatcut.errors import UsageError, unknown
from flatcut.operations.operation import load, names


def editor(name: str, words: list[str]) -> int:
    """`flatcut editor install|status|remove [--profile=DIR] [--program=FILE]`."""
    from flatcut.editor.host import find_host
    from flatcut.editor.install import install, remove, status

    found = _own(name, words, ("profile", "program", "fetch"))
    fetch = taken_flag(found, "fetch") if "fetch" in found.options else True
    actions = ("install", "status", "remove")
    if len(found.targets) != 1 or found.targets[0] not in actions:
        raise UsageError("say what to do with the plugin: flatcut editor install, status or remove")
    host = find_host(profile=found.options.get("profile", ""), program=found.options.get("program", ""))
    action = found.targets[0]
    if action == "status":
        works, said = status(host)
    else:
        stopping.halfway("the plugin may be half there; run flatcut editor install, or flatcut editor remove")
        works, said = True, install(host, fetch=fetch) if action == "install" else remove(host)
        stopping.halfway("")
    print("\n".join(said))
    return 0 if works else 1


def dialogs(name: str, words: list[str]) -> int:
    """`flatcut dialogs --write|--check`: the dialog files beside the editor's script."""
    from flatcut.dialogs.files import stale, write
    from flatcut.editor.install import scripts_folder

    found = _own(name, words, ("write", "check"))
    writing, checking = taken_flag(found, "write"), taken_flag(found, "check")
    if writing == checking or found.targets:
        raise UsageError("say one of two: flatcut dialogs --write, or flatcut dialogs --check")
    folder = scripts_folder()
    if writing:
        stopping.halfway("some dialog files may be older than others; run flatcut dialogs --write again")
    said = write(folder) if writing else stale(folder)
    stopping.halfway("")
    print("\n".join(said) if said else "every dialog is as its operation says")
    if said and checking:
        print("run: flatcut dialogs --write", file=sys.stderr)
        return 1
    return 0


def operations(name: str, words: list[str]) -> int:
    """Print every operation with its options, or those that are named."""
    found = split(words)
    if found.options or found.inputs or found.output:
        raise UsageError("operations takes names of operations and no options")
    for wanted in found.targets:
        if wanted not in names():
            raise unknown("operation", wanted, names())
    print("\n\n".join(describe(load(wanted)) for wanted in found.targets or names()))
    return 0


def demo(name: str, words: list[str]) -> int:
    """`flatcut demo DIR`: a folder with a drawing, what becomes of it, and a page that shows it."""
    from flatcut.cli.demo import make_demo

    found = _own(name, words, ())
    if len(found.targets) != 1:
        raise UsageError("say where the example shall go: flatcut demo DIR")
    print("\n".join(make_demo(found.targets[0])))
    return 0


def _own(name: str, words: list[str], options: tuple[str, ...]) -> Words:
    found = split(words)
    if found.inputs or found.output:
        raise UsageError(f"{name} takes no -i and no -o")
    if found.options and not options:
        raise UsageError(f"{name} takes no options")
    for option in found.options:
        if option not in options:
            raise unknown(f"option of {name}", f"--{option}", [f"--{o}" for o in options])
    return found
