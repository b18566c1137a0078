"""`collar flat`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.collars.curves import rounded, smoothed
from flatcut.collars.kinds.kind import Kind, turned_under
from flatcut.collars.neckline import Neckline, laid, level, refuse_short
from flatcut.collars.pieces import Drafted, on_fold, seam, to_neckline
from flatcut.declared.fields import length as mm
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.curves import Curve, line, reverse
from flatcut.geometry.offset import offset_curve
from flatcut.pattern.assembling import Side
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Piece
from flatcut.pattern.walking import drawn_length

OVERLAP, WIDE, ROUND = 12.0, 70.0, 40.0
"""mm: 10 to 15 at the shoulder tips for a collar that lies flat (common practice, no source)."""
STAND = 1 / 4
"""How high a flat collar stands, as a part of the overlap: 5 cm for 1.3, 10 cm for 2.5 (Joseph-Armstrong, Patternmaking
for Fashion Design, from memory)."""


@dataclass(frozen=True, kw_only=True)
class Flat(Kind):
    """A collar that lies on the garment: drawn along front and back with their shoulder tips overlapped."""

    pieces: ClassVar[tuple[str, ...]] = ("collar", "under-collar")

    overlap: float = mm(OVERLAP, ("shoulder tips overlap by", "the more, the more it stands"), high=150)
    width: float = mm(WIDE, ("width", "all along, from the neck edge"), low=15, high=300)
    corner: float = mm(ROUND, ("rounded in front over", "what a curve takes off both edges"), high=200)
    under: float = turned_under()

    def draft(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        """Top and under collar."""
        refuse_short(neck, 60.0)
        if not neck.run:
            raise UsageError("a flat collar is drawn along front and back; name the edges of the neckline")
        if neck.beyond:
            raise UsageError("a flat collar ends at the centre; leave the extension out")
        on = laid(neck, self.overlap)
        edge = level(smoothed(on.curve, on.shoulder, neck.long))
        top = self._piece(names[0], edge, self.width, neck, uids)
        under = self._piece(names[1], edge, self.width - self.under, neck, uids, grain="bias")
        seams = [s for piece in (top, under) for s in to_neckline(piece, "neck", neck, uids, away=False)]
        for name in ("outer", "end"):
            if name in {e.name for e in top.edges} & {e.name for e in under.edges}:
                ease = drawn_length(under.edge(name)) - drawn_length(top.edge(name))
                seams.append(seam((top, name), (under, name), uids, ease=ease))
        return Drafted(
            pieces=(top, under),
            seams=tuple(seams),
            figures=(
                Figure(f"{top.name}.neck", drawn_length(top.edge("neck"))),
                Figure(f"{top.name}.outer", drawn_length(top.edge("outer"))),
                Figure(
                    f"{under.name}.outer shorter by",
                    drawn_length(top.edge("outer")) - drawn_length(under.edge("outer")),
                ),
                Figure("it stands about", STAND * self.overlap),
            ),
        )

    def _piece(
        self, name: str, neck: Curve, wide: float, neckline: Neckline, uids: Uids, grain: str = "straight"
    ) -> Piece:
        try:
            outer = offset_curve(neck, -wide)
        except GeometryError as error:
            raise GeometryError(f"a collar {wide:g} mm wide does not follow this neckline: {error}") from None
        # walked from the opening's corner back to the fold; the corner is rounded from the outer edge's side
        bent, end = rounded(outer, line(outer.end, neck.end), min(self.corner, wide - 1.0))
        sides = (
            Side(name="neck", parts=(neck,)),
            *([Side(name="end", parts=(reverse(end),))] if end is not None else []),
            Side(name="outer", parts=(reverse(bent),)),
            Side(name="centre", parts=(line(outer.start, neck.start),), use="fold"),
        )
        return on_fold(name, sides, [("neck", at) for at in neckline.joints], uids, grain=grain)
