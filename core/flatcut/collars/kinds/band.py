"""`collar band`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from flatcut.collars.curves import extended, rising, rounded
from flatcut.collars.kinds.kind import Kind, round_corner, stand_height
from flatcut.collars.neckline import Neckline, refuse_short
from flatcut.collars.pieces import Drafted, free_ends, on_fold, seam, to_neckline
from flatcut.declared.fields import flag
from flatcut.declared.fields import length as mm
from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, line, point, reverse, split, tangent
from flatcut.geometry.length import length, place_at
from flatcut.geometry.offset import offset_curve
from flatcut.pattern.assembling import Side
from flatcut.pattern.marks.button import slit_across
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Button, Figure, Piece
from flatcut.pattern.walking import drawn_length

RISE = 15.0
"""mm by which the end of a stand rises at the front, 10 to 20 (common practice, no source)."""
BUTTON = 11.0
NODE = 1e-3
"""Part of a span: a place this near to a node is the node."""


@dataclass(frozen=True, kw_only=True)
class Band(Kind):
    """A stand along the neckline, without a fall: its front rises, so that its top is shorter than its neck edge."""

    pieces: ClassVar[tuple[str, ...]] = ("band", "under-band")

    height: float = stand_height()
    rise: float = mm(RISE, ("rise at the opening", "how much higher its neck edge ends there"), low=-60, high=80)
    round: float = round_corner()
    buttoned: bool = flag(False, ("button on it", "and its buttonhole, on a stand that runs on beyond the centre"))

    def draft(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        """Outer and inner band, cut alike."""
        refuse_short(neck, 60.0)
        stand = Stand(neck=neck, height=self.height, rise=self.rise, round=self.round)
        outer = stand.piece(names[0], uids, parted=False, buttoned=self.buttoned)
        inner = stand.piece(names[1], uids, parted=False, buttoned=False)
        seams = [
            *(s for piece in (outer, inner) for s in to_neckline(piece, "neck", neck, uids, away=True)),
            *free_ends(outer, inner, neck, uids),
            *(seam((outer, e.name), (inner, e.name), uids) for e in outer.edges if e.name not in ("neck", "centre")),
        ]

        shorter = drawn_length(outer.edge("neck")) - drawn_length(outer.edge("top"))
        return Drafted(
            pieces=(outer, inner),
            seams=tuple(seams),
            figures=(
                Figure(f"{outer.name}.neck", drawn_length(outer.edge("neck"))),
                Figure(f"{outer.name}.top", drawn_length(outer.edge("top"))),
                Figure(f"{outer.name} top shorter than neck edge by", shorter),
            ),
            warnings=stand.warnings(outer.name),
        )


@dataclass(frozen=True, kw_only=True)
class Stand:
    """The shape of a stand: mm along and above a neckline."""

    neck: Neckline
    height: float
    rise: float
    round: float = 0.0

    def edges(self) -> tuple[Curve, Curve]:
        """Its neck edge and its top, both from the fold to the opening."""
        neck = extended(rising(self.neck.centre, self.rise), self.neck.beyond)
        try:
            return neck, offset_curve(neck, self.height)
        except GeometryError as error:
            raise GeometryError(f"a stand {self.height:g} mm high does not follow its neck edge: {error}") from None

    def piece(self, name: str, uids: Uids, *, parted: bool, buttoned: bool) -> Piece:
        """The piece. parted: its top ends at the centre, and what lies beyond is an edge of its own."""
        neck, top = self.edges()
        end = line(top.end, neck.end)
        u = None
        if parted and self.neck.beyond > 0:
            # the top of the stretch on the button stand is straight, and as long
            u = place_at(top, length(top) - self.neck.beyond)
            u = float(round(u)) if abs(u - round(u)) < NODE else u
        parts = (top,) if u is None else split(top, u)
        last, rest = rounded(parts[-1], end, self.round)
        sides = [
            Side(name="top", parts=(parts[0] if u is not None else last,)),
            *([Side(name="front", parts=(last,))] if u is not None else []),
            *([Side(name="end", parts=(rest,))] if rest is not None else []),
            Side(name="neck", parts=(reverse(neck),)),
            Side(name="centre", parts=(line(neck.start, top.start),), use="fold"),
        ]
        notches = [("neck", at) for at in self.neck.joints]
        if self.neck.beyond > 0:
            notches.append(("neck", self.neck.centre))
        if parted:
            notches.append(("top", length(parts[0]) / 2))
        piece = on_fold(name, sides, notches, uids, grain="cross")
        return replace(piece, buttons=self._buttons(piece, neck, uids)) if buttoned else piece

    def warnings(self, name: str) -> tuple[str, ...]:
        """What a cutter would not want."""
        neck, top = self.edges()
        off = length(neck) - length(top)
        if off < 0:
            return (f"the top of {name} is {-off:.1f} mm longer than its neck edge, so it stands away from the neck",)
        return ()

    def _buttons(self, piece: Piece, neck: Curve, uids: Uids) -> tuple[Button, ...]:
        if self.neck.beyond <= 0:
            raise GeometryError("a stand is buttoned where it runs on beyond the centre; give its extension")
        u = place_at(neck, self.neck.centre)
        way = tangent(neck, u, before=True)
        at = point(neck, u) + self.height / 2 * np.array([way[1], -way[0]])
        on = piece.edge("neck").uid
        slit = slit_across(at, way, BUTTON)
        return (
            Button(uid=uids.fresh("button", piece.uid), kind="button", at=at, size=BUTTON, on=on),
            Button(uid=uids.fresh("buttonhole", piece.uid), kind="buttonhole", at=at, size=BUTTON, slit=slit, on=on),
        )
