"""The help of one operation or report, from its own fields."""

from __future__ import annotations

from flatcut.declared.declared import Declared, kinds, option, summary


def describe(cls: type[Declared]) -> str:
    """What an operation or a report does and takes, as text.

    >>> from flatcut.operations.operation import load
    >>> describe(load("allowance")).splitlines()[0]
    'flatcut allowance [TARGET...] [--name=value...] [-i IN.svg] [-o OUT.svg]'
    """
    fields = kinds(cls)
    target = " [TARGET...]" if "target" in fields else ""
    usage = cls.usage or f"flatcut {cls.command}{target} [--name=value...] [-i IN.svg] [-o OUT.svg]"
    lines = [usage, "", summary(cls)]
    rest = [line.strip() for line in (cls.__doc__ or "").strip().splitlines()[1:]]
    if any(rest):
        lines += ["", *(line for line in rest if line)]
    lines.append("")
    for key, kind in fields.items():
        if key == "target":
            lines.append(f"  TARGET  {kind.help}")
            continue
        usual = cls.__dataclass_fields__[key].default
        said = "" if usual in ("", None, ()) else f" (default {kind.show(usual)})"
        lines.append(f"  --{option(key)}={kind.word}  {kind.help}{said}")
    return "\n".join(lines)
