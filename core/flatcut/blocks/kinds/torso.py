"""`block torso`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flatcut.blocks.kinds.upper import LongKind
from flatcut.blocks.torso import draft_torso
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Torso(LongKind):
    """Back and front to the hip line in one, with double-pointed waist darts."""

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """Back and front."""
        with self.blaming(body):
            return draft_torso(self.frame(body), uids, names=(names[0], names[1]))
