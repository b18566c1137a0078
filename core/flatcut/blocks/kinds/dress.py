"""`block dress`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flatcut.blocks.body import required
from flatcut.blocks.dress import draft_dress
from flatcut.blocks.kinds.kind import taken
from flatcut.blocks.kinds.upper import LongKind
from flatcut.declared.fields import length as mm
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Dress(LongKind):
    """Torso and straight skirt in one."""

    waist_to_knee: float | None = taken("waist-to-knee")
    length: float | None = mm(None, ("waist to hem of skirt or dress", "", "waist to knee"), high=2000)

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """Back and front."""
        hem = self.length
        if hem is None:
            hem = required(body, ("waist-to-knee",), block="a dress without --length")["waist-to-knee"]
        with self.blaming(body):
            return draft_dress(self.frame(body), uids, hem, names=(names[0], names[1]))
