"""Which command a line asks for, and how its end is told."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence

from flatcut import __version__, stopping
from flatcut.errors import FlatcutError, unknown


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    stopping.begin()
    try:
        code = _dispatch(words)
        if sys.stdout is not None:
            sys.stdout.flush()  # a full disk is told here, not by the interpreter at its end
    except FlatcutError as error:
        return _refused(str(error))
    except BrokenPipeError:
        _leave_output()  # its reader has gone: there is nobody left to tell
        return 2
    except KeyboardInterrupt:
        print(f"flatcut: {stopping.told()}", file=sys.stderr)
        return stopping.CODES["SIGINT"]
    except RecursionError:
        return _refused("something in the call or in the drawing is nested too deep; take brackets or groups away")
    except MemoryError:
        return _refused("there is not enough memory for this; do it in smaller parts, or with fewer --jobs")
    except OSError as error:
        _leave_output()
        where = f"{error.filename} cannot be used" if error.filename else "standard output cannot be written"
        return _refused(f"{where}: {(error.strerror or str(error)).lower()}")
    except Exception:  # a fault of flatcut's own: with a traceback a person can do nothing but send it on
        return _refused(f"this is a fault of flatcut itself; please report it with {_kept_traceback()}")
    return code


def _refused(said: str) -> int:
    print(f"flatcut: {said}", file=sys.stderr)
    return 2


def _leave_output() -> None:
    """Keep the interpreter from trying at its end to write what is left."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _kept_traceback() -> str:
    """The file that the traceback of the present exception is kept in."""
    import tempfile
    import traceback

    text = traceback.format_exc()
    try:
        with tempfile.NamedTemporaryFile("w", prefix="flatcut-fault-", suffix=".txt", delete=False) as file:
            file.write(text)
    except OSError:
        return text
    return file.name


def _dispatch(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help", "help"):
        print(_help(words[1] if len(words) > 1 and words[0] == "help" else ""))
        return 0
    name, rest = words[0], words[1:]
    if name == "--version":
        print(f"flatcut {__version__}")
        return 0
    if any(word in ("-h", "--help") for word in rest):
        print(_help(name))
        return 0
    # a report needs no operations, and a version nothing at all: each loads what it takes
    from flatcut.reports.report import names as reports

    if name in reports():
        from flatcut.cli.reporting import report

        return report(name, rest)
    from flatcut.cli.commands import command

    if name in command.names():
        return command.perform(name, rest)
    from flatcut.operations.operation import names

    if name not in names():
        raise unknown("command", name, _all())
    from flatcut.cli.editing import edit

    return edit(name, rest)


def _all() -> tuple[str, ...]:
    from flatcut.cli.commands import command
    from flatcut.operations.operation import names
    from flatcut.reports.report import names as reports

    return (*command.names(), *reports(), *names())


def _help(name: str) -> str:
    from flatcut.cli.commands import command
    from flatcut.declared.declared import summary
    from flatcut.operations.operation import MENUS, load, names
    from flatcut.reports.report import MENU
    from flatcut.reports.report import load as load_report
    from flatcut.reports.report import names as reports

    if name in names():
        from flatcut.cli.describe import describe

        return "\n".join([describe(load(name)), *load(name).more()])
    if name in reports():
        from flatcut.cli.describe import describe
        from flatcut.cli.reporting import options as own_options

        cls = load_report(name)
        own = [f"  --{option}  {help}" for option, help in own_options(cls).items()]
        return "\n".join([describe(cls), *own, *cls.more()])
    if name in command.names():
        from flatcut.cli.describe import describe

        return describe(command.load(name))
    if name:
        raise unknown("command", name, _all())
    lines = [
        "flatcut OPERATION [TARGET...] [--name=value...] [-i IN.svg] [-o OUT.svg]",
        "",
        "Reads standard input and writes standard output unless -i and -o are given; figures go to standard error,",
        "as JSON with --json. --in-place writes over the drawing given with -i.",
        "Lengths are in mm, or with a unit: 10mm 1cm 3/8in; --units=cm|in changes what a bare number means.",
        "",
    ]
    for menu in MENUS:
        inside = [cls for cls in map(load, names()) if cls.menu == menu]
        if inside:
            lines += [f"{menu}:", *(f"  {cls.command:<12} {summary(cls)}" for cls in inside), ""]
    told = [load_report(name) for name in reports()]
    lines += [f"{MENU}:", *(f"  {cls.command:<12} {summary(cls)}" for cls in told), ""]
    others = [command.load(name) for name in command.names()]
    lines += ["Other commands:", *(f"  {cls.command:<12} {summary(cls)}" for cls in others)]
    return "\n".join(lines)
