"""`block trousers`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from flatcut.blocks import trousers
from flatcut.blocks.kinds.kind import Kind, darts, stated, taken, whole
from flatcut.declared.fields import length as mm
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Trousers(Kind):
    """Back and front of a leg, with crotch seam, creases and waist darts."""

    pieces: ClassVar[tuple[str, ...]] = ("trouser-back", "trouser-front")

    waist: float | None = taken("waist")
    hip: float | None = taken("hip")
    waist_to_hip: float | None = taken("waist-to-hip")
    body_rise: float | None = taken("body-rise")
    waist_to_knee: float | None = taken("waist-to-knee")
    waist_to_floor: float | None = taken("waist-to-floor")
    waist_ease: float | None = mm(None, ("ease over the whole waist", "", "by the block"), low=-100, high=400)
    hip_ease: float | None = mm(None, ("ease over the whole hip", "", "by the block"), low=-100, high=400)
    knee: float | None = mm(None, ("round the leg at the knee", "", "by the hip"), low=280, high=900)
    hem: float | None = mm(None, ("round the leg at the hem", "", "by the hip"), low=240, high=1000)
    inside_stretch: float = mm(0.0, ("inside leg stretched by", "how much the back's is, from knee to fork"), high=15)
    back_darts: float = darts("back")
    front_darts: float = darts("front")

    @property
    def needed(self) -> tuple[str, ...]:
        """Girths, body rise and lengths."""
        return trousers.NEEDED

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """Back and front."""
        with self.blaming(body):
            frame = trousers.trousers_frame(
                body,
                knee=self.knee,
                hem=self.hem,
                stretch=self.inside_stretch,
                back_darts=whole(self.back_darts, "back-darts"),
                front_darts=whole(self.front_darts, "front-darts"),
                **stated(waist_ease=self.waist_ease, hip_ease=self.hip_ease),
            )
            return trousers.draft_trousers(frame, uids, names=(names[0], names[1]))
