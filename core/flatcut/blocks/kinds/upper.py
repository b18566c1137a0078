"""What bodice, torso and dress share: the method, and the figures that it takes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from flatcut.blocks import bust_only, neck_and_across
from flatcut.blocks.frame import Frame
from flatcut.blocks.kinds.kind import Kind, darts, stated, taken, whole
from flatcut.declared.declared import option
from flatcut.declared.fields import choice, number
from flatcut.declared.fields import length as mm
from flatcut.errors import Option, UsageError

METHODS = {"neck-and-across": neck_and_across, "bust-only": bust_only}


@dataclass(frozen=True, kw_only=True)
class UpperKind(Kind):
    """A block with shoulders, by one of two methods."""

    pieces: ClassVar[tuple[str, ...]] = ("back", "front")

    method: str = choice("neck-and-across", ("method", "how bodice, torso and dress are drafted"), tuple(METHODS))
    bust: float | None = taken("bust")
    waist: float | None = taken("waist")
    nape_to_waist: float | None = taken("nape-to-waist")
    scye_depth: float | None = taken("scye-depth")
    neck: float | None = taken("neck")
    shoulder: float | None = taken("shoulder")
    across_back: float | None = taken("across-back")
    across_chest: float | None = taken("across-chest")
    bust_span: float | None = taken("bust-span")
    front_waist_length: float | None = taken("front-waist-length")
    neck_to_bust: float | None = taken("neck-to-bust")
    bust_ease: float | None = mm(None, ("ease over the whole bust", "", "by the method"), low=-100, high=400)
    waist_ease: float | None = mm(None, ("ease over the whole waist", "", "by the block"), low=-100, high=400)
    bust_dart: float | None = mm(
        None,
        ("width of the bust dart", "by the method neck-and-across", "by the front's length, or by the bust"),
        high=200,
    )
    front_raise: float | None = mm(
        None,
        ("front raised over the back by", "neck points, by neck-and-across", "by neck-to-bust, or by the bust"),
        low=-50,
        high=70,
    )
    shoulder_slope: float | None = number(
        None, ("slope of the shoulder, degrees", "below level, darts closed", "by the method"), low=8, high=34
    )
    back_darts: float = darts("back")
    front_darts: float = darts("front")

    @property
    def needed(self) -> tuple[str, ...]:
        """By the method."""
        needed: tuple[str, ...] = METHODS[self.method].NEEDED
        return needed

    def frame(self, body: Mapping[str, float], **eases: float) -> Frame:
        """The frame that the method gives. eases: further ones that are stated, mm."""
        eases |= stated(bust_ease=self.bust_ease, waist_ease=self.waist_ease)
        slope = None if self.shoulder_slope is None else math.radians(self.shoulder_slope)
        back, front = whole(self.back_darts, "back-darts"), whole(self.front_darts, "front-darts")
        if self.method == "bust-only":
            for name in ("bust_dart", "front_raise"):
                if getattr(self, name) is not None:
                    raise UsageError(
                        Option(option(name)), " goes with ", Option("method", "neck-and-across"), "; leave it out"
                    )
            return bust_only.frame(body, slope=slope, back_darts=back, front_darts=front, **eases)
        return neck_and_across.frame(
            body,
            bust_dart=self.bust_dart,
            front_raise=self.front_raise,
            slope=slope,
            back_darts=back,
            front_darts=front,
            **eases,
        )


@dataclass(frozen=True, kw_only=True)
class LongKind(UpperKind):
    """A block with shoulders that goes down to the hip."""

    hip: float | None = taken("hip")
    waist_to_hip: float | None = taken("waist-to-hip")
    hip_ease: float | None = mm(None, ("ease over the whole hip", "", "by the block"), low=-100, high=400)

    @property
    def needed(self) -> tuple[str, ...]:
        """By the method, and down to the hip."""
        return (*super().needed, "hip", "waist-to-hip")

    def frame(self, body: Mapping[str, float], **eases: float) -> Frame:
        """The frame with its hip."""
        return super().frame(body, **stated(hip_ease=self.hip_ease), **eases)
