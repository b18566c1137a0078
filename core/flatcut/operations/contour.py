"""`contour`: looseness over a hollow closed as wedges about one point, into a dart."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

import numpy as np

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.darting import angle, dart_of, intake, single
from flatcut.darts.pivoting import ONE_POINT, Target, pivoted
from flatcut.declared.fields import choices, length, lengths, ref, refs
from flatcut.drafting.blending import bends_of, blended, tightest_of
from flatcut.drafting.contouring import Wedge, parted_evenly, wedge, wedge_angle
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.motions import Motion
from flatcut.pattern.places import Place
from flatcut.pattern.spots import Spot, find, named_edge, spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Figure, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, to_drawn
from flatcut.reshape.change import applied
from flatcut.truing.following import followed
from flatcut.units import plain

_Value = TypeVar("_Value")
"""What is given for each wedge: a length, or a word."""

CIRCLE = 75.0
"""mm: radius of the bust circle (J. Armstrong, Patternmaking for Fashion Design: 3 in for a B cup; from memory)."""
_Closed = tuple[Pattern, list[Figure], tuple[str, ...], Motion]
"""The pattern with a wedge closed, what that tells, what could not be carried, and how paper moved."""

REACH = 30.0
"""mm to either side of a closed wedge over which the edge is made fair (common practice, no source)."""
TRIES, EXACT = 12, 0.005
"""How often an angle is tried, and mm to which the edge is as much shorter as asked; 3 or 4 tries are usual."""


@operation(menu="Shape", title="Contour piece")
@dataclass(frozen=True, kw_only=True)
class Contour(Operation):
    """Close looseness over a hollow of the body: wedges from the edge to one point, into a dart that ends there.

    Each place is the middle of a wedge; its amount is measured on the circle about the point, straight across at the
    edge, or along the edge, which is that much shorter once it is fair. The cloth of the wedge goes, one part of the
    piece turns about the point, and the dart grows by the same angle. Amounts and where they are measured are one for
    all places or one for each. The edge is made fair beside each closed wedge, and what it loses is told.
    """

    target: tuple[Place, ...] = refs("place", ("where the wedges open", "places on edges, such as front.neck@1/2"))
    amount: tuple[float, ...] = lengths(("width of the wedges", "one for all or one for each place"), high=200)
    at: tuple[str, ...] = choices(
        ("where the amount is measured", "one for all or one for each", "on the circle"), ("circle", "edge", "along")
    )
    radius: float = length(CIRCLE, ("radius of the circle", "about the point"), low=5, high=500)
    about: Place | None = ref("place", ("the point that all wedges run to", "", "that of the dart"), filled=False)
    into: Place | None = ref("dart", ("into the dart", "that takes the angle up, with its point there"))
    hold: Place | None = ref("edge", ("edge that stays still", "such as front.centre"), filled=False)
    reach: float = length(
        REACH, ("edge made fair beside by", "how far beside each wedge; 0 leaves it as it comes"), high=500
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        assert self.into is not None
        piece, dart = self._dart(pattern)
        pattern, piece, dart = as_cut(pattern, piece, dart)
        apex = self._apex(pattern, piece, dart)
        amounts = self._each(self.amount, Option("amount"))
        ways = self._each(self.at or ("circle",), Option("at"))
        spots = [self._spot(pattern, piece, place) for place in self.target]
        self._refuse_near(piece, spots)
        before, was = piece, angle(dart)
        figures: list[Figure] = []
        warnings: list[str] = []
        motions: list[Motion] = []
        total = 0.0
        # from the end of each edge to its start, so that what is closed does not shift what is still to come
        order = sorted(range(len(spots)), key=lambda k: -spots[k].sewn)
        for k in order:
            tall = float(np.hypot(*(spots[k].point - apex)))
            radians = wedge_angle(amounts[k], self.radius if ways[k] == "circle" else tall)
            if ways[k] == "circle" and self.radius > tall:
                raise UsageError(
                    f"{self.target[k]} lies {plain(tall)} mm from the point, inside the circle; measure there with ",
                    Option("at", "edge"),
                    ", or give a smaller ",
                    Option("radius"),
                )
            close = partial(self._closed, pattern, piece.uid, spots[k], apex, into=dart.uid, name=str(self.target[k]))
            if ways[k] == "along":
                radians, done = self._shortened(pattern.piece_of(piece.uid), spots[k], close, radians, amounts[k])
            else:
                done = close(radians)
            pattern, told, lost, motion = done
            total += radians
            figures += told
            warnings += lost
            motions.append(motion)
        after = pattern.piece_of(piece.uid)
        grown = dart_of(after, dart.uid)
        name = f"{piece.name}.{dart.name}"
        figures += [
            Figure(f"{name} angle before", was, "°"),
            Figure(f"{name} angle", angle(grown), "°"),
            Figure(f"{name} angle beyond the sum", angle(grown) - was - math.degrees(total), "°"),
            Figure(f"{name} intake before", intake(dart)),
            Figure(f"{name} intake", intake(grown)),
            Figure(f"{piece.name} area changed by", (abs(area(after)) - abs(area(before))) / 100, "cm²"),
        ]
        for edge in before.edges:
            now = drawn_length(after.edge_of(edge.uid))
            if abs(now - drawn_length(edge)) > 0.005:
                figures.append(Figure(f"{piece.name}.{edge.name} longer by", now - drawn_length(edge)))
        return Outcome(
            pattern=pattern,
            figures=tuple(figures),
            warnings=tuple(dict.fromkeys(warnings)),
            motions=tuple(motions),
        )

    def _each(self, given: tuple[_Value, ...], name: Option) -> tuple[_Value, ...]:
        if not given:
            raise UsageError("contour wants how wide the wedges are; give ", name)
        if len(given) == 1:
            return given * len(self.target)
        if len(given) != len(self.target):
            raise UsageError(name, f" gives {len(given)} for {len(self.target)} places; give one, or one for each")
        return given

    def _dart(self, pattern: Pattern) -> tuple[Piece, Dart]:
        assert self.into is not None
        piece, dart = find(pattern, self.into)
        if not isinstance(dart, Dart):
            raise UsageError(f"'{self.into}' is no dart; name the one that takes the looseness up")
        single(piece, dart, "widened")
        return piece, dart

    def _apex(self, pattern: Pattern, piece: Piece, dart: Dart) -> np.ndarray:
        apex = dart.points[0]
        if self.about is not None:
            found = spot(pattern, self.about)
            away = float(np.hypot(*(found.point - apex)))
            if found.piece != piece.uid or away > ONE_POINT:
                name = f"{piece.name}.{dart.name}"
                raise UsageError(
                    f"{name} ends {plain(away)} mm from {self.about}, so it cannot take the angle; bring its point "
                    f"there first with: back-off {name} --to={self.about}"
                )
        return np.asarray(apex)

    def _spot(self, pattern: Pattern, piece: Piece, place: Place) -> Spot:
        found = spot(pattern, place)
        if found.piece != piece.uid:
            raise UsageError(f"'{place}' lies on another piece than the dart; contour one piece after the other")
        if not found.edge:
            raise UsageError(f"'{place}' lies on no edge; write a place on an edge, such as {piece.name}.EDGE@1/2")
        return found

    def _refuse_near(self, piece: Piece, spots: list[Spot]) -> None:
        for edge in piece.edges:
            own = [one.sewn for one in spots if one.edge == edge.uid]
            if not parted_evenly(own, 2.0):
                raise UsageError(f"two wedges open at one place of {piece.name}.{edge.name}; name each place once")

    def _shortened(
        self, piece: Piece, at: Spot, close: Callable[[float], _Closed], radians: float, amount: float
    ) -> tuple[float, _Closed]:
        """A wedge closed by which the edge is shorter by `amount` once it is fair, and its angle, tried from one on."""
        long = drawn_length(piece.edge_of(at.edge))
        for _ in range(TRIES):
            done = close(radians)
            lost = long - drawn_length(done[0].piece_of(piece.uid).edge_of(at.edge))
            if abs(lost - amount) < EXACT:
                return radians, done
            if lost < amount / 4:
                break
            radians *= amount / lost
        edge = f"{piece.name}.{piece.edge_of(at.edge).name}"
        raise UsageError(
            f"no wedge there makes {edge} shorter by {plain(amount)} mm; choose a place at which the edge lies more "
            "squarely to the point, or measure with ",
            Option("at", "edge"),
        )

    def _closed(
        self, pattern: Pattern, uid: str, at: Spot, apex: np.ndarray, radians: float, into: str, name: str
    ) -> _Closed:
        """The pattern with one wedge closed and its edge faired, what it tells, what could not be carried, the turn."""
        piece = pattern.piece_of(uid)
        edge = piece.edge_of(at.edge)
        fresh = Uids(pattern.uids()).fresh("wedge", edge.uid, f"{at.sewn:.3f}")
        made = wedge(piece, edge, to_drawn(edge, at.sewn), apex, radians, fresh, reach=max(self.reach, 1.0))
        pattern, lost = applied(pattern, made.change)
        open_ = pattern.piece_of(uid)
        hold = named_edge(open_, self.hold).uid if self.hold else ""
        done = pivoted(open_, dart_of(open_, fresh), Target(dart=into), share=1.0, uids=Uids(pattern.uids()), hold=hold)
        for bent in done.bent:
            use = piece.edge(bent).use
            raise UsageError(
                f"{piece.name}.{bent} is a {use} edge and would be bent by {math.degrees(radians):.2f}°; "
                f"make it a seam with: edge {piece.name}.{bent} --use=seam, or close the wedge elsewhere"
            )
        pattern, more = applied(pattern, replace(made.change, pieces=(done.piece,), ways=done.broken))
        still = f"{piece.name}.{done.held[0]}" if done.held else "the rest"
        figures = [
            Figure(f"{name} wedge, {still} held as {done.reason}", math.degrees(radians), "°"),
            Figure(f"{name} wedge at the edge", made.wide),
            Figure(f"{name} wedge at the circle", 2 * self.radius * math.sin(radians / 2)),
            Figure(f"{name} step at the edge, half to each side", made.step),
        ]
        pattern, told, dropped = self._fair(pattern, uid, edge, made, name)
        return pattern, [*figures, *told], (*lost, *more, *dropped), done.motion

    def _fair(
        self, pattern: Pattern, uid: str, was: Edge, made: Wedge, name: str
    ) -> tuple[Pattern, list[Figure], tuple[str, ...]]:
        """The pattern with the edge fair within `reach` of a closed wedge."""
        if self.reach <= 0:
            return pattern, [], ()
        piece = pattern.piece_of(uid)
        done = blended(
            piece,
            piece.edge_of(was.uid),
            made.at,
            self.reach + made.step / 2,
            bends=bends_of(was),
            tightest=tightest_of(was.parts),
        )
        if done is None:
            return pattern, [], ()
        figures = [
            Figure(f"{name} kink before", done.kink, "°"),
            Figure(f"{name} edge made fair to either side over", done.reach),
            Figure(f"{name} edge made fair, largest move", done.largest),
        ]
        pattern, dropped = followed(pattern, [done.piece])
        edge = f"{piece.name}.{was.name}"
        advice = f"close less there, share it between two places, or make it fair with: true {edge}"
        told = []
        if done.sharper:
            told.append(
                f"{edge} bends {done.sharper:.1f} times as sharply at {name} as it did anywhere before; {advice}"
            )
        if done.bent:
            told.append(f"{edge} bends to the other side {done.bent} times more than before at {name}; {advice}")
        return pattern, figures, (*told, *dropped)
