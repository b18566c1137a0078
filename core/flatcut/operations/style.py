"""`style`: what the set of pieces is called, its size, its materials."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.declared.fields import text, texts
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.values import Pattern


@operation(menu="Prepare", title="Name style")
@dataclass(frozen=True, kw_only=True)
class SetStyle(Operation):
    """Say what the style is called, its size and its materials; labels show it.

    What is left out stays as it is.
    """

    previewed: ClassVar[bool] = False

    name: str = text("", "name or number of the style")
    size: str = text("", ("size", "as it shall stand on the labels"))
    materials: tuple[str, ...] = texts(("materials", "with commas between them, such as shell,lining"))

    def for_size(self, measured: Collection[str]) -> SetStyle:
        """The size is named by the table of sizes."""
        return replace(self, size="")

    def _apply(self, pattern: Pattern) -> Outcome:
        before = pattern.style
        after = replace(
            before,
            name=self.name or before.name,
            size=self.size or before.size,
            materials=self.materials or before.materials,
        )
        return Outcome(pattern=replace(pattern, style=after))
