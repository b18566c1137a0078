"""`notch`: marks on the cut edge that show where a seam is put together."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

from flatcut.declared.fields import choice, flag, further, length, refs
from flatcut.errors import Option, UsageError
from flatcut.marking.ticks import at_dart
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.mating import mates
from flatcut.pattern.notch_setting import DEPTH, SAME, nearer_end
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of, spots
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import NOTCH_KINDS, Edge, Figure, Notch, Pattern, Piece, Position
from flatcut.pattern.walking import sewn_at, sewn_length, to_drawn
from flatcut.pattern.widths import width_at

COUNTS = {"single": 1, "double": 2, "triple": 3}
NEAR = 5.0
"""mm: what is taken away lies this near to the place that is named."""


class _Spot(NamedTuple):
    """A place of a notch: sewn mm on an edge, and how it is kept."""

    piece: Piece
    edge: Edge
    sewn: float
    at: Position


@operation(menu="Finish", title="Add notch")
@dataclass(frozen=True, kw_only=True)
class SetNotch(Operation):
    """Put notches on edges, with the matching one on the other side of the seam if wanted.

    A dart as place means both its feet. The mate is counted from the nearer end of the seam, so that ease stays between
    the notches. An edge as target takes a notch at every so many mm, or has all its notches taken away.
    """

    target: tuple[Place, ...] = refs(("place", "edge"), ("places", "such as front.side@12cm or front.waist-dart"))
    count: str = choice("single", ("how many marks", "single for a front, double for a back"), tuple(COUNTS))
    kind: str = choice("slit", "the shape that is cut", NOTCH_KINDS)
    depth: float | None = length(None, ("how deep", "", "3 mm, and at most half the allowance"), low=0.5, high=12)
    into: str = further(choice("in", ("cut in or out", "into the allowance, or standing out of it"), ("in", "out")))
    apart: float = further(length(8.0, ("between its marks", "those of a double or triple notch"), low=2, high=40))
    mates: bool = flag(False, ("also on the seam's other side", "a mate at the same distance along it"))
    every: float | None = length(
        None, ("one at every", "along whole edges, at every such distance from the start"), low=5
    )
    remove: bool = flag(False, "take the notches away")

    def _apply(self, pattern: Pattern) -> Outcome:
        found = [spot for place in self.target for spot in self._spots(pattern, place)]
        spots_and_mates = [(spot, False) for spot in found]
        alone = []
        if self.mates:
            for spot in found:
                others = mates(pattern, spot.edge.uid, spot.sewn)
                if not others:
                    alone.append(f"{spot.piece.name}.{spot.edge.name}")
                for mate in others:
                    at = Position(
                        mode="end" if mate.nearer_end else "start",
                        value=sewn_length(mate.edge) - mate.sewn if mate.nearer_end else mate.sewn,
                    )
                    spots_and_mates.append((_Spot(mate.piece, mate.edge, mate.sewn, at), True))
        warnings = [f"{name} is sewn to nothing at its notch; state the seam first" for name in dict.fromkeys(alone)]
        if self.remove:
            return self._removed(pattern, spots_and_mates, warnings)
        return self._set(pattern, spots_and_mates, warnings)

    def _spots(self, pattern: Pattern, place: Place) -> list[_Spot]:
        """The places that one target names."""
        whole = not (place.chord or place.other or place.part or place.at) and place.name in [
            edge.name for edge in pattern.piece(place.piece).edges
        ]
        if whole:
            return self._along(*edge_of(pattern, place))
        if self.every is not None:
            raise UsageError(Option("every"), f" counts along edges; name an edge, not the place '{place}'")
        made = []
        for spot in spots(pattern, place):
            if not spot.edge:
                raise UsageError(f"'{place}' lies inside the piece, and a notch stands on an edge; name a place on one")
            piece = pattern.piece_of(spot.piece)
            edge = piece.edge_of(spot.edge)
            given = place.at if place.at is not None and not place.other else None
            made.append(_Spot(piece, edge, spot.sewn, given or nearer_end(edge, spot.sewn)))
        feet = {(spot.edge.uid, round(spot.sewn, 6)): spot for spot in made}
        return list(feet.values())  # both feet of a dart inside an edge are one place of the sewn line

    def _along(self, piece: Piece, edge: Edge) -> list[_Spot]:
        if self.remove:
            held = [notch for notch in piece.notches if notch.edge == edge.uid]
            return [_Spot(piece, edge, sewn_at(edge, notch.at), notch.at) for notch in held]
        if self.every is None:
            raise UsageError(
                f"{piece.name}.{edge.name} is a whole edge; write where on it, such as @1/2, or give ", Option("every")
            )
        total = sewn_length(edge)
        # none on the corner itself, where the next edge begins
        times = math.ceil((total - SAME) / self.every)
        places = [k * self.every for k in range(1, times)]
        return [_Spot(piece, edge, sewn, Position(mode="start", value=sewn)) for sewn in places]

    def _set(self, pattern: Pattern, wanted: list[tuple[_Spot, bool]], warnings: list[str]) -> Outcome:
        uids = Uids(pattern.uids())
        notches = {piece.uid: list(piece.notches) for piece in pattern.pieces}
        figures = []
        for spot, mate in wanted:
            allowance = width_at(spot.edge, to_drawn(spot.edge, spot.sewn))
            depth = self.depth if self.depth is not None else min(DEPTH, allowance / 2 if allowance > 0 else DEPTH)
            name = f"{spot.piece.name}.{spot.edge.name}"
            if self.into == "in" and allowance > 0 and depth > allowance / 2 + 1e-6:
                warnings.append(f"the notch on {name} is deeper than half its allowance; the seam may fray through")
            others = notches[spot.piece.uid]
            old = next((n for n in others if _is_at(spot, n, SAME)), None)
            new = Notch(
                uid=old.uid if old else uids.fresh("notch", spot.edge.uid, f"{spot.sewn:.3f}"),
                edge=spot.edge.uid,
                at=spot.at,
                kind=self.kind,
                count=COUNTS[self.count],
                depth=depth,
                into=self.into,
                apart=self.apart,
            )
            notches[spot.piece.uid] = [new if n is old else n for n in others] if old else [*others, new]
            feet = " at the dart" if at_dart(spot.piece, spot.edge, spot.sewn) else ""
            figures.append(Figure(f"{name} {'matching ' if mate else ''}notch{feet}", spot.sewn))
        return Outcome(pattern=_with(pattern, notches), figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)))

    def _removed(self, pattern: Pattern, wanted: list[tuple[_Spot, bool]], warnings: list[str]) -> Outcome:
        notches = {piece.uid: list(piece.notches) for piece in pattern.pieces}
        gone = 0
        for spot, mate in wanted:
            held = notches[spot.piece.uid]
            kept = [n for n in held if not _is_at(spot, n, NEAR)]
            if len(kept) == len(held) and not mate:
                near = [sewn_at(spot.edge, n.at) for n in held if n.edge == spot.edge.uid]
                there = f"; it has some at {', '.join(f'{at:g}' for at in near)} mm" if near else "; it has none"
                raise UsageError(f"{spot.piece.name}.{spot.edge.name} has no notch at {spot.sewn:g} mm{there}")
            gone += len(held) - len(kept)
            notches[spot.piece.uid] = kept
        if not gone:
            raise UsageError("there is no notch to take away; name a place or an edge that has one")
        return Outcome(
            pattern=_with(pattern, notches),
            figures=(Figure("notches taken away", gone, ""),),
            warnings=tuple(warnings),
        )


def _is_at(spot: _Spot, notch: Notch, within: float) -> bool:
    return notch.edge == spot.edge.uid and abs(sewn_at(spot.edge, notch.at) - spot.sewn) <= within


def _with(pattern: Pattern, notches: dict[str, list[Notch]]) -> Pattern:
    pieces = tuple(
        piece if list(piece.notches) == notches[piece.uid] else replace(piece, notches=tuple(notches[piece.uid]))
        for piece in pattern.pieces
    )
    return replace(pattern, pieces=pieces)
