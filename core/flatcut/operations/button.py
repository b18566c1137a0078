"""`button`: buttons and buttonholes, evenly along an edge, a stretch of it or a line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flatcut.declared.fields import choice, flag, length, number, refs
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import point, tangent
from flatcut.geometry.length import length as arc_length
from flatcut.geometry.length import place_at
from flatcut.geometry.nearest import nearest_place
from flatcut.marking.ticks import outward
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.finding import unbroken
from flatcut.pattern.marks.button import THICKNESS, slit_across
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, nearest_drawn, on_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Button, Edge, Figure, Line, Pattern, Piece
from flatcut.pattern.walking import sewn_at, sewn_length, to_sewn


class _Along(NamedTuple):
    """What the buttons stand along, from `start` to `end` mm; `on` is the edge, or None for a line."""

    piece: Piece
    thing: Edge | Line
    start: float
    end: float

    def at(self, along: float) -> tuple[Array, Array, Array]:
        """Point, unit tangent, and unit normal (out of the piece on an edge, to the left on a line), each (2,)."""
        if isinstance(self.thing, Edge):
            spot = on_edge(self.piece, self.thing, along)
            assert spot.tangent is not None
            return spot.point, spot.tangent, outward(self.piece, spot.tangent)
        u = place_at(self.thing.curve, min(max(along, 0.0), arc_length(self.thing.curve)))
        way = tangent(self.thing.curve, u, before=u >= len(self.thing.curve))
        return point(self.thing.curve, u), way, np.array([way[1], -way[0]])

    def holds(self, button: Button) -> bool:
        """Whether a button that was set along this stands on this stretch of it."""
        if button.on != self.thing.uid:
            return False
        if isinstance(self.thing, Edge):
            along = to_sewn(self.thing, nearest_drawn(self.thing, button.at))
        else:
            u, _ = nearest_place(self.thing.curve, button.at)
            along = float(arc_length(self.thing.curve)) * u / len(self.thing.curve)
        return self.start - 1.0 <= along <= self.end + 1.0


@operation(menu="Finish", title="Add buttons")
@dataclass(frozen=True, kw_only=True)
class SetButtons(Operation):
    """Set buttons or buttonholes evenly along an edge, a stretch of it, or a line inside the piece.

    The first and the last stand at the ends, or so far from them as --first and --last say. What was set on the same
    stretch before is replaced. On children's clothes small parts such as buttons can harm; keep to the rules of the
    place where they are sold, and ask somebody qualified.
    """

    target: tuple[Place, ...] = refs(
        ("stretch", "line", "edge"), ("where they stand", "such as front.centre@2cm..-15cm")
    )
    count: float = number(5, "how many", low=1, high=60, digits=0)
    kind: str = choice(
        "button", ("kind", "buttons, buttonholes, or both at one place"), ("button", "buttonhole", "both")
    )
    size: float = length(15.0, ("width of the button", "a buttonhole is 3 mm longer"), low=3, high=80)
    first: float = length(0.0, "from the start to the first", high=1000)
    last: float = length(0.0, "from the end to the last", high=1000)
    inset: float = length(0.0, "how far inside the edge", low=-100, high=200)
    lie: str = choice("across", ("buttonholes lie", "across the edge or line, or along it"), ("across", "along"))
    remove: bool = flag(False, "take them away")

    def _apply(self, pattern: Pattern) -> Outcome:
        uids = Uids(pattern.uids())
        figures: list[Figure] = []
        buttons = {piece.uid: list(piece.buttons) for piece in pattern.pieces}
        for place in self.target:
            along, text = _along(pattern, place), str(place)
            kinds = ("button", "buttonhole") if self.kind == "both" else (self.kind,)
            before = buttons[along.piece.uid]
            # taking away takes both kinds: nobody leaves buttons where there is nothing to close
            kept = [b for b in before if not (along.holds(b) and (self.remove or b.kind in kinds))]
            buttons[along.piece.uid] = kept
            if self.remove:
                if len(kept) == len(before):
                    raise UsageError(f"'{text}' has no buttons to take away; name what they stand along")
                figures.append(Figure(f"{text} buttons taken away", len(before) - len(kept), ""))
                continue
            places = self._places(along, text)
            for kind in kinds:
                kept += [self._made(kind, along, at, uids) for at in places]
                figures.append(Figure(f"{text} {kind}s", len(places), ""))
            if len(places) > 1:
                figures.append(Figure(f"{text} from one to the next", places[1] - places[0]))
        pieces = tuple(
            p if list(p.buttons) == buttons[p.uid] else replace(p, buttons=tuple(buttons[p.uid]))
            for p in pattern.pieces
        )
        return Outcome(pattern=replace(pattern, pieces=pieces), figures=tuple(figures))

    def _places(self, along: _Along, text: str) -> list[float]:
        count = int(self.count)
        start, end = along.start + self.first, along.end - self.last
        if count == 1:
            return [start]
        gap = (end - start) / (count - 1)
        if gap < self.size:
            raise UsageError(
                f"{count} buttons of {self.size:g} mm do not fit on '{text}', where {max(end - start, 0):.1f} mm are "
                f"left; take fewer, or smaller ones"
            )
        return [start + k * gap for k in range(count)]

    def _made(self, kind: str, along: _Along, place: float, uids: Uids) -> Button:
        at, way, out = along.at(place)
        at = at - self.inset * out
        slit = None
        if kind == "buttonhole":
            long = self.size + THICKNESS
            slit = slit_across(at, out, self.size)
            if self.lie == "along":
                slit = np.array([at - long / 2 * way, at + long / 2 * way])
        uid = uids.fresh(kind, along.thing.uid, f"{place:.3f}")
        return Button(uid=uid, kind=kind, at=at, size=self.size, slit=slit, on=along.thing.uid)


def _along(pattern: Pattern, place: Place) -> _Along:
    """The edge, stretch or line that a target names. Errors: UsageError."""
    piece, thing = find(pattern, place)
    if isinstance(thing, Edge):
        start = 0.0 if place.at is None else sewn_at(thing, place.at)
        end = sewn_length(thing) if place.to is None else sewn_at(thing, place.to)
    elif isinstance(thing, Line):
        unbroken(piece, thing)
        total = arc_length(thing.curve)
        start = 0.0 if place.at is None else place.at.along(total)
        end = total if place.to is None else place.to.along(total)
        if not -1e-6 <= start <= total + 1e-6 or not -1e-6 <= end <= total + 1e-6:
            raise UsageError(f"'{place}' lies beyond the line, which is {total:.1f} mm long")
    else:
        raise UsageError(f"'{place}' is no edge, stretch or line; name one that the buttons stand along")
    if end < start:
        raise UsageError(f"the stretch '{place}' runs backwards; write the place nearer its start first")
    return _Along(piece, thing, start, end)
