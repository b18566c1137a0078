"""`block bodice`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flatcut.blocks.bodice import draft_bodice
from flatcut.blocks.kinds.upper import UpperKind
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Bodice(UpperKind):
    """Back and front to the waist, darts cut in."""

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """Back and front."""
        with self.blaming(body):
            return draft_bodice(self.frame(body), uids, names=(names[0], names[1]))
