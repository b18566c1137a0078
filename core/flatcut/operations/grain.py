"""`grain`: the line along which a piece lies on the cloth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, flag, length, ref, refs
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.graining import SHARE, STRAIGHT, TURNS, at_angle, chord_way, downward, laid, reference_edge
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, spot
from flatcut.pattern.values import Edge, Figure, Grain, Line, Pattern, Piece


@operation(menu="Finish", title="Set grain line")
@dataclass(frozen=True, kw_only=True)
class SetGrain(Operation):
    """Draw the grain line: along an edge or line, through two places, or as the fold or centre edge lies.

    Straight lies along that, cross at a right angle to it, bias at 45°. It is two thirds of the piece long and stands
    in its middle. One way has an arrow at one end: toward the hem, or down the drawing.
    """

    target: tuple[Place, ...] = refs("piece", "pieces")
    kind: str = choice("straight", ("how the grain lies", "straight, across or bias to the edge or line"), tuple(TURNS))
    ways: str = choice("both", ("arrows", "at both ends, or at one for cloth with a direction"), ("both", "one"))
    along: Place | None = ref(
        ("edge", "line"), ("edge or line it is parallel to", "", "the fold or centre edge"), optional=True
    )
    through: tuple[Place, ...] = refs("place", "two places it runs through", optional=True)
    lean: str = choice(
        "auto", ("which way bias leans", "from the edge or line; auto: the longer line"), ("auto", "left", "right")
    )
    length: float | None = length(None, ("its length", "", "two thirds of the piece"), low=10, high=5000)
    reverse: bool = flag(False, "the arrow points the other way")

    def _settled(self, pattern: Pattern) -> SetGrain:
        # two selected corners of one edge mean the edge and the places alike: the edge says it better
        return replace(self, through=()) if self.along else self

    def _apply(self, pattern: Pattern) -> Outcome:
        if self.through and len(self.through) != 2:
            raise UsageError(
                Option("through"), f" takes two places, and {len(self.through)} are given; write PLACE,PLACE"
            )
        chosen = [p for p in pattern.pieces if Place(piece=p.name) in self.target]
        if (self.along or self.through) and len(chosen) != 1:
            raise UsageError(
                Option("along"),
                " and ",
                Option("through"),
                f" are for one piece, and {len(chosen)} are named; name one",
            )
        figures: list[Figure] = []
        warnings: list[str] = []
        made: dict[str, Grain] = {}
        for piece in chosen:
            way, place, doubt = self._reference(pattern, piece)
            if doubt:
                warnings.append(doubt)
            grain, reach = self._laid(piece, way, place)
            long = float(np.linalg.norm(grain.end - grain.start))
            figures.append(Figure(f"{piece.name} grain line", long))
            if self.length is None and long < SHARE * reach - 0.5:
                warnings.append(
                    f"the grain line of {piece.name} is {long:.0f} mm, less than two thirds of the {reach:.0f} mm of "
                    f"the piece along it; there is no room for more"
                )
            made[piece.uid] = grain
        pieces = tuple(replace(p, grain=made[p.uid]) if p.uid in made else p for p in pattern.pieces)
        return Outcome(pattern=replace(pattern, pieces=pieces), figures=tuple(figures), warnings=tuple(warnings))

    def _reference(self, pattern: Pattern, piece: Piece) -> tuple[Array, Array | None, str]:
        """Unit direction (2,) of the reference, a place on the line if one is said, and what is doubtful."""
        if self.through:
            spots = [spot(pattern, place) for place in self.through]
            if any(found.piece != piece.uid for found in spots):
                raise UsageError(Option("through"), f" names places of another piece; name two places of {piece.name}")
            p, q = (found.point for found in spots)
            if np.linalg.norm(q - p) < 1.0:
                raise UsageError(Option("through"), " names one place twice; name two places apart from each other")
            return unit(q - p), (p + q) / 2, ""
        if self.along:
            owner, thing = find(pattern, self.along)
            if owner.uid != piece.uid:
                raise UsageError(f"'{self.along}' is of another piece; name an edge or line of {piece.name}")
            assert isinstance(thing, (Edge, Line))
            return self._by(f"{piece.name}.{thing.name}", thing)
        edge = reference_edge(piece)
        if edge is not None:
            return self._by(f"{piece.name}.{edge.name}", edge, sure=edge.use != "opening")
        if piece.grain is not None and piece.grain.kind in ("straight", self.kind):
            before = unit(piece.grain.end - piece.grain.start)
            back = TURNS[self.kind] if piece.grain.kind == self.kind else 0.0
            return at_angle(piece, before, -back), None, ""
        doubt = f"{piece.name} has no fold or centre edge, so its grain lies upright on the drawing; is that right?"
        return np.array([0.0, 1.0]), None, doubt

    def _by(self, name: str, thing: Edge | Line, *, sure: bool = True) -> tuple[Array, Array | None, str]:
        way, bow = chord_way(thing)
        if bow > STRAIGHT:
            return way, None, f"{name} bows by {bow:.1f} mm; the grain follows the straight line between its ends"
        return way, None, "" if sure else f"the grain follows the opening {name}; is that right?"

    def _laid(self, piece: Piece, reference: Array, place: Array | None) -> tuple[Grain, float]:
        turn = TURNS[self.kind]
        reference = downward(piece, reference)
        options = [at_angle(piece, reference, turn)]
        if self.kind == "bias":
            other = at_angle(piece, reference, -turn)
            options = {"auto": [*options, other], "left": options, "right": [other]}[self.lean]
        lines = [laid(piece, way, through=place, wanted=self.length) for way in options]
        # 1 mm: on a piece that is its own mirror image rounding must not choose
        best = max(range(len(lines)), key=lambda k: round(math.dist(*lines[k][:2])))
        start, end, reach = lines[best]
        if place is not None and self.kind == "straight" and not self.reverse:
            way = reference
        else:
            way = downward(piece, options[best])
        if (end - start) @ way < 0:
            start, end = end, start
        if self.reverse:
            start, end = end, start
        return Grain(start=start, end=end, kind=self.kind, ways=self.ways), reach
