"""`block sleeve`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from flatcut.blocks import sleeve
from flatcut.blocks.bodice import NOTCH_BACK, NOTCH_FRONT
from flatcut.blocks.kinds.kind import Kind, taken
from flatcut.blocks.underarm import ELBOWS
from flatcut.declared.fields import choice, refs
from flatcut.declared.fields import length as mm
from flatcut.errors import Option, UsageError
from flatcut.pattern.assembling import Draft, dart_figures, edge_figure
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern

ARMHOLES = (Place(piece="back", name="armhole"), Place(piece="front", name="armhole"))


@dataclass(frozen=True, kw_only=True)
class Sleeve(Kind):
    """One piece, set into two armholes that are drafted or measured."""

    pieces: ClassVar[tuple[str, ...]] = ("sleeve",)

    top_arm: float | None = taken("top-arm")
    wrist: float | None = taken("wrist")
    sleeve_length: float | None = taken("sleeve-length")
    back_armhole: float | None = mm(None, ("back armhole", "as measured, for a sleeve without its bodice"), high=600)
    front_armhole: float | None = mm(None, ("front armhole", "as measured, for a sleeve without its bodice"), high=600)
    armholes: tuple[Place, ...] = refs(
        "edge",
        ("armholes", "that a sleeve is set into, back first", "back.armhole,front.armhole"),
        filled=False,
    )
    cap_ease: float = mm(sleeve.CAP_EASE, ("cap longer than the armhole by", "its ease"), low=-20, high=100)
    cap_height: float | None = mm(None, ("height of the cap", "", "a third of the armhole"), low=20, high=300)
    arm_ease: float = mm(sleeve.ARM_EASE, ("ease of the upper arm", "the least width over it"), low=-50, high=300)
    wrist_ease: float = mm(sleeve.WRIST_EASE, ("ease of the wrist", "the hem over it"), high=400)
    elbow: str = choice(
        "straight", ("at the elbow", "the underarm seam there: straight, or bent with ease or a dart"), ELBOWS
    )

    @property
    def needed(self) -> tuple[str, ...]:
        """Arm, wrist and length."""
        return sleeve.NEEDED

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """The sleeve and its seams."""
        holes = self._armholes(pattern)
        lengths = [hole.sewn for hole in holes] or [self.back_armhole or 0.0, self.front_armhole or 0.0]
        notches = [hole.notch for hole in holes] or [NOTCH_BACK * lengths[0], NOTCH_FRONT * lengths[1]]
        frame = sleeve.sleeve_frame(
            body,
            back_armhole=lengths[0],
            front_armhole=lengths[1],
            cap_ease=self.cap_ease,
            cap_height=self.cap_height,
            arm_ease=self.arm_ease,
            wrist_ease=self.wrist_ease,
        )
        piece, closing = sleeve.draft_sleeve(
            frame, uids, back_notch=notches[0], front_notch=notches[1], name=names[0], elbow=self.elbow
        )
        seams = list(closing)
        if holes:
            seams += sleeve.cap_seams(holes[0], holes[1], piece, frame, uids)
        figures = (
            Figure("armhole", sum(lengths)),
            Figure("cap ease", sleeve.cap_length(frame) - sum(lengths)),
            Figure("cap height", frame.height),
            Figure("bicep width", frame.bicep),
            edge_figure(piece, "hem"),
            *dart_figures((piece,)),
        )
        return Draft(pieces=(piece,), seams=tuple(seams), figures=figures, warnings=frame.warnings)

    def usual_references(self) -> dict[str, Any]:
        """The armholes of the drafted front and back."""
        measured = self.back_armhole is not None and self.front_armhole is not None
        return {} if self.armholes or measured else {"armholes": ARMHOLES}

    def _armholes(self, pattern: Pattern) -> list[sleeve.Armhole]:
        """The two armholes as drafted, back first; none when they are given as measured."""
        if self.back_armhole is not None and self.front_armhole is not None and not self.armholes:
            return []
        if self.armholes and len(self.armholes) != 2:
            raise UsageError(Option("armholes"), " takes two edges with a comma between them, the back first")
        if not self.armholes and not {place.piece for place in ARMHOLES} <= {p.name for p in pattern.pieces}:
            raise UsageError(
                "sleeve needs its armholes; draft a bodice first, name two edges with ",
                Option("armholes"),
                ", or give ",
                Option("back-armhole"),
                " and ",
                Option("front-armhole"),
                ", each usually 18 to 28 cm",
            )
        found = []
        for k, place in enumerate(self.armholes or ARMHOLES):
            piece, edge = edge_of(pattern, place)
            share = (NOTCH_BACK, NOTCH_FRONT)[k]
            found.append(sleeve.armhole_of(piece, edge, front=k == 1, share=share))
        return found
