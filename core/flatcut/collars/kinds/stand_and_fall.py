"""`collar stand-and-fall`."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from flatcut.collars.curves import rising, rounded, swept
from flatcut.collars.kinds.band import RISE, Stand
from flatcut.collars.kinds.kind import Kind, fall_width, hidden, round_corner, stand_height, turned_under
from flatcut.collars.neckline import Neckline, refuse_short
from flatcut.collars.pieces import Drafted, free_ends, on_fold, seam, to_neckline
from flatcut.declared.fields import flag, number
from flatcut.declared.fields import length as mm
from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, line, reverse, tangent
from flatcut.geometry.length import length
from flatcut.pattern.assembling import Side
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Line, Piece, Seam
from flatcut.pattern.walking import drawn_length

POINT, SPREAD, DROP = 70.0, 15.0, 15.0
"""mm and degrees: front edge of the fall, how far that leans forward, how much lower its neck edge ends at the opening
(common practice, no source)."""
FLATTER = 0.6
"""Part of the rise of a stand that a collar in one piece takes."""


@dataclass(frozen=True, kw_only=True)
class StandAndFall(Kind):
    """A collar that stands at the neck and turns over: stand and fall apart, or in one piece."""

    pieces: ClassVar[tuple[str, ...]] = ("fall", "under-fall", "stand", "under-stand")

    height: float = stand_height()
    rise: float = mm(RISE, ("rise at the opening", "how much higher its neck edge ends there"), low=-60, high=80)
    round: float = round_corner()
    buttoned: bool = flag(False, ("button on it", "and its buttonhole, on a stand that runs on beyond the centre"))
    fall: float = fall_width()
    point: float = mm(POINT, ("length of the point", "along the front edge of the fall"), low=5, high=250)
    spread: float = number(
        SPREAD, ("degrees the point leans", "forward; 0 is square to the neck edge"), low=-60, high=75
    )
    drop: float = mm(DROP, ("drop of the fall", "how much lower its neck edge ends at the opening"), low=-40, high=80)
    rounded_point: float = mm(0.0, ("point rounded over", "how much of both edges a curve takes off it"), high=100)
    under: float = turned_under()
    in_one: bool = flag(False, ("stand and fall in one piece", "with the roll line between them"))

    def draft(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        """Top and under collar, with their stands."""
        refuse_short(neck, 60.0)
        if self.in_one:
            return self._in_one(neck, uids, names)
        stand = Stand(neck=neck, height=self.height, rise=self.rise, round=self.round)
        stands = [stand.piece(n, uids, parted=True, buttoned=self.buttoned and not k) for k, n in enumerate(names[2:])]
        wanted = drawn_length(stands[0].edge("top"))
        edge = rising(wanted, -self.drop)
        top = self._fall(names[0], edge, self.fall, self.point, uids)
        under = self._fall(names[1], edge, self.fall - self.under, self.point - self.under, uids, under=True)
        seams = [
            *(s for piece in stands for s in to_neckline(piece, "neck", neck, uids, away=True)),
            *(
                seam((stands[0], e.name), (stands[1], e.name), uids)
                for e in stands[0].edges
                if e.name in ("front", "end")
            ),
            *free_ends(stands[0], stands[1], neck, uids),
            seam((stands[0], "top"), (top, "neck"), uids, reversed=True),
            seam((stands[1], "top"), (under, "neck"), uids, reversed=True),
            *_turned(top, under, uids),
        ]

        return Drafted(
            pieces=(top, under, *stands),
            seams=tuple(seams),
            figures=(
                Figure(f"{stands[0].name}.neck", drawn_length(stands[0].edge("neck"))),
                Figure(f"{stands[0].name}.top", wanted),
                Figure(f"{top.name}.outer", drawn_length(top.edge("outer"))),
                Figure(f"{under.name}.outer shorter by", _longer(top, under)),
            ),
            warnings=(*stand.warnings(stands[0].name), *hidden(self.fall - self.height)),
        )

    def _in_one(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        if neck.beyond:
            raise GeometryError("a collar in one piece ends at the centre; leave the extension out")
        edge = rising(neck.long, FLATTER * self.rise)
        high = self.height + self.fall
        top = self._fall(names[0], edge, high, self.point, uids, notches=neck.joints)
        under = self._fall(names[1], edge, high - self.under, self.point - self.under, uids, True, neck.joints)
        roll = swept(np.array([0.0, -self.height]), np.asarray(edge.end))
        made = [
            replace(p, lines=(Line(uid=uids.fresh("line", p.uid), name="roll-line", curve=roll, kind="fold"),))
            for p in (top, under)
        ]
        seams = [s for piece in made for s in to_neckline(piece, "neck", neck, uids, away=True)]

        return Drafted(
            pieces=tuple(made),
            seams=(*seams, *_turned(made[0], made[1], uids)),
            figures=(
                Figure(f"{top.name}.neck", length(edge)),
                Figure(f"{top.name}.outer", drawn_length(top.edge("outer"))),
                Figure(f"{under.name}.outer shorter by", _longer(top, under)),
            ),
            warnings=hidden(self.fall - self.height),
        )

    def _fall(
        self,
        name: str,
        neck: Curve,
        high: float,
        point: float,
        uids: Uids,
        under: bool = False,
        notches: tuple[float, ...] | None = None,
    ) -> Piece:
        way = tangent(neck, float(len(neck)), before=True)
        turn = math.radians(self.spread)
        up = np.array([way[1], -way[0]])
        tip = neck.end + point * (math.cos(turn) * up + math.sin(turn) * way)
        outer, end = rounded(swept(np.array([0.0, -high]), tip), line(tip, neck.end), self.rounded_point)
        if end is None:
            raise GeometryError("the point is rounded over all of its front edge; round it less")
        sides = (
            Side(name="outer", parts=(outer,)),
            Side(name="end", parts=(end,)),
            Side(name="neck", parts=(reverse(neck),)),
            Side(name="centre", parts=(line(neck.start, outer.start),), use="fold"),
        )
        marks = [("neck", at) for at in (notches if notches is not None else (length(neck) / 2,))]
        return on_fold(name, sides, marks, uids, grain="bias" if under else "straight")


def _turned(top: Piece, under: Piece, uids: Uids) -> list[Seam]:
    """Outer and front edges of both collars; the under one is the shorter by what it lacks."""
    found = []
    for name in ("outer", "end"):
        ease = drawn_length(under.edge(name)) - drawn_length(top.edge(name))
        found.append(seam((top, name), (under, name), uids, ease=ease))
    return found


def _longer(top: Piece, under: Piece) -> float:
    return drawn_length(top.edge("outer")) - drawn_length(under.edge("outer"))
