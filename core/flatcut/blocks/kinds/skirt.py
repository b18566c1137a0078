"""`block skirt`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from flatcut.blocks import skirt
from flatcut.blocks.body import required
from flatcut.blocks.kinds.kind import Kind, darts, stated, taken, whole
from flatcut.declared.fields import length as mm
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Skirt(Kind):
    """Back and front, straight from the hip line down."""

    pieces: ClassVar[tuple[str, ...]] = ("skirt-back", "skirt-front")

    waist: float | None = taken("waist")
    hip: float | None = taken("hip")
    waist_to_hip: float | None = taken("waist-to-hip")
    waist_to_knee: float | None = taken("waist-to-knee")
    waist_ease: float | None = mm(None, ("ease over the whole waist", "", "by the block"), low=-100, high=400)
    hip_ease: float | None = mm(None, ("ease over the whole hip", "", "by the block"), low=-100, high=400)
    length: float | None = mm(None, ("waist to hem of skirt or dress", "", "waist to knee"), high=2000)
    back_darts: float = darts("back")
    front_darts: float = darts("front")

    @property
    def needed(self) -> tuple[str, ...]:
        """Waist, hip and the way between them."""
        return skirt.NEEDED

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """Back and front."""
        hem = self.length
        if hem is None:
            hem = required(body, ("waist-to-knee",), block="a skirt without --length")["waist-to-knee"]
        with self.blaming(body):
            frame = skirt.skirt_frame(
                body,
                length=hem,
                back_darts=whole(self.back_darts, "back-darts"),
                front_darts=whole(self.front_darts, "front-darts"),
                **stated(waist_ease=self.waist_ease, hip_ease=self.hip_ease),
            )
            return skirt.draft_skirt(frame, uids, names=(names[0], names[1]))
