"""The help of one operation or report, from its own fields."""

from __future__ import annotations

import dataclasses

from flatcut.declared.declared import Declared, option, specs, summary
from flatcut.units import plain


def describe(cls: type[Declared]) -> str:
    """What an operation or a report does and takes, as text.

    >>> from flatcut.operations.operation import load
    >>> describe(load("allowance")).splitlines()[0]
    'flatcut allowance [TARGET...] [--name=value...] [-i IN.svg] [-o OUT.svg]'
    """
    fields = specs(cls)
    target = " [TARGET...]" if "target" in fields else ""
    usage = cls.usage or f"flatcut {cls.command}{target} [--name=value...] [-i IN.svg] [-o OUT.svg]"
    lines = [usage, "", summary(cls)]
    rest = [line.strip() for line in (cls.__doc__ or "").strip().splitlines()[1:]]
    if any(rest):
        lines += ["", *(line for line in rest if line)]
    lines.append("")
    for item in dataclasses.fields(cls):
        spec = fields[item.name]
        if item.name == "target":
            lines.append(f"  TARGET  {spec.help}")
            continue
        value = {
            "length": "LENGTH",
            "lengths": "LENGTH,...",
            "number": "NUMBER",
            "choice": "|".join([*filter(None, spec.choices), *([spec.other] if spec.other else [])]),
            "flag": "true|false",
            "text": "TEXT",
            "file": "FILE",
            "ref": "|".join(spec.of).upper(),
        }[spec.kind]
        default = "" if item.default in ("", None, ()) else f" (default {_shown(item.default)})"
        lines.append(f"  --{option(item.name)}={value}  {spec.help}{default}")
    return "\n".join(lines)


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return plain(value, 3) if isinstance(value, (int, float)) else str(value)
