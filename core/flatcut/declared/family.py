"""A family of kinds: classes of one base, a file each, whose fields one operation gathers.

The operation has the fields of all of them, and refuses those of another kind than the one that is asked for.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import Option, UsageError

_Kind = TypeVar("_Kind", bound=Declared)


@dataclass(frozen=True, kw_only=True)
class Family(Generic[_Kind]):
    """Where the kinds are found: folder and name of the package, their base class, files that declare none.

    command: the operation that drafts them.
    """

    command: str
    package: str
    folder: Path
    base: type[_Kind]
    framework: frozenset[str]

    def names(self) -> list[str]:
        """All kinds, in alphabetical order."""
        return names_in(self.folder, self.framework)

    def load(self, name: str) -> type[_Kind]:
        """The kind of that name; only its own file is imported. Errors: UnknownNameError."""
        return load_from(self.package, name, self.base, self.names())

    def refuse(self, targets: Sequence[str], given: Iterable[str], common: Collection[str]) -> None:
        """Raise for an option that only another kind has."""
        if len(targets) != 1 or targets[0] not in self.names():
            return
        for key in given:
            if key in common or key in kinds(self.load(targets[0])):
                continue
            owners = [name for name in self.names() if key in kinds(self.load(name))]
            raise UsageError(
                f"{self.command} {targets[0]} takes no ",
                Option(option(key)),
                f", which is for {' and '.join(owners)}; leave it out",
            )

    def more(self) -> list[str]:
        """Which options each kind takes, for the help."""
        said = ["", "Kinds, each with its options beside the common ones:"]
        for name in self.names():
            kind = self.load(name)
            said += [f"  {name:<15} {(kind.__doc__ or '').strip().splitlines()[0]}"]
            said += [f"                  {' '.join(f'--{option(key)}' for key in kinds(kind))}"]
        return said

    def fields(self, tab: str) -> Iterator[tuple[str, Any, Any]]:
        """The fields of all kinds, as a dataclass is made of them, on a tab of the dialog.

        A field of several kinds is the same in each. Errors: TypeError where it is not.
        """
        found: dict[str, Any] = {}
        for name in self.names():
            for item in dataclasses.fields(self.load(name)):
                known = found.setdefault(item.name, item)
                if known.default != item.default or not known.metadata["kind"].like(item.metadata["kind"]):
                    raise TypeError(f"{self.command} {name} declares '{item.name}' otherwise than another kind does")
        for item in found.values():
            kind = replace(item.metadata["kind"], tab=tab)
            yield item.name, item.type, field(default=item.default, metadata={"kind": kind})

    def asked(self, targets: Sequence[str], values: object) -> _Kind:
        """The kind that is asked for, with its fields as an operation states them. Errors: UsageError."""
        known = self.names()
        if len(targets) != 1 or targets[0] not in known:
            said = f", not '{' '.join(targets)}'" if targets else ""
            raise UsageError(f"{self.command} takes one of {', '.join(known)}{said}")
        cls = self.load(targets[0])
        return cls(**{key: getattr(values, key) for key in kinds(cls)})
