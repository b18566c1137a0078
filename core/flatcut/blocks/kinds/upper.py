"""What bodice, torso and dress share: the method, and the figures that it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from flatcut.blocks import bust_only, neck_and_across
from flatcut.blocks.frame import Frame
from flatcut.blocks.kinds.kind import Kind, stated, taken
from flatcut.declared.declared import option
from flatcut.declared.fields import choice
from flatcut.declared.fields import length as mm
from flatcut.errors import UsageError

METHODS = {"neck-and-across": neck_and_across, "bust-only": bust_only}


@dataclass(frozen=True, kw_only=True)
class UpperKind(Kind):
    """A block with shoulders, by one of two methods."""

    pieces: ClassVar[tuple[str, ...]] = ("back", "front")

    method: str = choice("neck-and-across", "how bodice, torso and dress are drafted", tuple(METHODS))
    bust: float | None = taken("bust")
    waist: float | None = taken("waist")
    nape_to_waist: float | None = taken("nape-to-waist")
    scye_depth: float | None = taken("scye-depth")
    neck: float | None = taken("neck")
    shoulder: float | None = taken("shoulder")
    across_back: float | None = taken("across-back")
    across_chest: float | None = taken("across-chest")
    bust_span: float | None = taken("bust-span")
    bust_ease: float | None = mm(None, "over the whole bust; left out: by the method", low=-100, high=400)
    waist_ease: float | None = mm(None, "over the whole waist; left out: by the block", low=-100, high=400)
    bust_dart: float | None = mm(None, "width of the bust dart (neck-and-across); left out: by the bust", high=200)
    front_raise: float = mm(0.0, "lift of the front neck point (neck-and-across)", low=-50, high=60)

    @property
    def needed(self) -> tuple[str, ...]:
        """By the method."""
        needed: tuple[str, ...] = METHODS[self.method].NEEDED
        return needed

    def frame(self, body: Mapping[str, float], **eases: float) -> Frame:
        """The frame that the method gives. eases: further ones that are stated, mm."""
        eases |= stated(bust_ease=self.bust_ease, waist_ease=self.waist_ease)
        if self.method == "bust-only":
            for name in ("bust_dart", "front_raise"):
                if getattr(self, name):
                    raise UsageError(f"--{option(name)} goes with --method=neck-and-across; leave it out")
            return bust_only.frame(body, **eases)
        return neck_and_across.frame(body, bust_dart=self.bust_dart, front_raise=self.front_raise, **eases)


@dataclass(frozen=True, kw_only=True)
class LongKind(UpperKind):
    """A block with shoulders that goes down to the hip."""

    hip: float | None = taken("hip")
    waist_to_hip: float | None = taken("waist-to-hip")
    hip_ease: float | None = mm(None, "over the whole hip; left out: by the block", low=-100, high=400)

    @property
    def needed(self) -> tuple[str, ...]:
        """By the method, and down to the hip."""
        return (*super().needed, "hip", "waist-to-hip")

    def frame(self, body: Mapping[str, float], **eases: float) -> Frame:
        """The frame with its hip."""
        return super().frame(body, **stated(hip_ease=self.hip_ease), **eases)
