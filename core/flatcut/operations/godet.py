"""`godet`: a wedge set into the end of a seam."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from flatcut.declared.fields import further, length, number, piece_names, ref, refs, text
from flatcut.drafting.ends import mate_ends, neighbour, refuse_dart
from flatcut.drafting.venting import refuse_folded
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out, sewn_to
from flatcut.pattern.places import Place
from flatcut.pattern.redrawing import as_before, made_way, source_of
from flatcut.pattern.spots import edge_of, named_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Notch, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.strips.goring import godet
from flatcut.units import plain

GODET = "godet"


@operation(menu="Derive", title="Draft godet")
@dataclass(frozen=True, kw_only=True)
class DraftGodet(Operation):
    """Draft a godet: a wedge sewn into the end of a seam at the hem, whose sides are as long as the seam is opened.

    The seam is sewn only above it, and has a notch there. The angle between its sides says how wide it is, or --wide
    the length of its hem. Its hem is an arc, square to both sides. Use it at a seam; a slit in one piece is weak at its
    point and wants a reinforcement there.
    """

    target: tuple[Place, ...] = refs("edge", ("the seam", "that is opened at its hem, such as skirt-front.side"))
    high: float = length(300.0, ("how high it is", "along the seam from the hem"), low=10, high=2000)
    angle: float | None = number(
        None, ("degrees between its sides", "or its hem tells", "60"), low=1, high=300, digits=2
    )
    wide: float | None = length(None, ("length of its hem", "in place of the angle"), low=5, high=6000)
    hem: Place | None = ref("edge", ("hem at which the seam ends", "", "the neighbour that is a hem"), filled=False)
    names: tuple[str, ...] = piece_names(("name of the piece", "by default godet"))
    material: str = further(text("", ("material", "it is cut from; that of what it is sewn to")))

    def spelled(self, after: Pattern) -> DraftGodet:
        """With the name of its piece, where it is the usual one."""
        return replace(self, names=(self._name(),))

    def _name(self) -> str:
        if len(self.names) > 1:
            raise UsageError(f"godet drafts one piece, and {len(self.names)} names are given; name one")
        return self.names[0] if self.names else GODET

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"a godet stands in one seam, and {len(self.target)} edges are named; name one")
        name = self._name()
        pattern, old = made_way(pattern, [name], (GODET,))
        pattern = _closed_again(pattern, old.get(name))
        piece, edge = edge_of(pattern, self.target[0])
        turn = self._turn()
        refuse_folded(piece, edge)
        at_end = self._end(piece, edge)
        refuse_dart(piece, edge, at_end=at_end)
        sides = self._sides(pattern, piece, edge, at_end)
        uids = Uids(pattern.uids())
        runs = []
        for own, side, end, _ in sides:
            size = sewn_length(side)
            if self.high > size - 1.0:
                raise UsageError(
                    f"{own.name}.{side.name} is {plain(size)} mm long and the godet {plain(self.high)} mm high; make "
                    "it lower"
                )
            mode = "end" if end else "start"
            far, near = Position(mode=mode, value=self.high), Position(mode=mode, value=0.0)
            runs.append((far, near) if end else (near, far))
            pattern = _notched(_shortened(pattern, side, far, at_end=end), own, side, far, uids)
        made = godet(name, self.high, turn, uids)
        left, top = free_place(pattern)
        parts = [
            RunPart(piece=own.uid, of=side.uid, start=run[0], end=run[1])
            for (own, side, _, mirrored), run in zip(sides, runs, strict=True)
            if not mirrored
        ]
        source = source_of(pattern, parts, kind=GODET, line=self.line())
        material = self.material or piece.material
        made = laid_out((replace(made, material=material, source=source),), left=left, top=top)[0]
        made = replace(as_before(made, old.get(name)), quantity=_quantity(sides))
        seams = [
            sewn_to((made, "side-2" if end else "side"), (own, side.name), uids, b_stretch=run, mirrored=mirrored)
            for (own, side, end, mirrored), run in zip(sides, runs, strict=True)
        ]
        if sides[-1][3]:  # of a seam with its own mirror image the other half meets the other side
            other = "side" if at_end else "side-2"
            seams[-1] = sewn_to((made, other), (piece, edge.name), uids, b_stretch=runs[-1], mirrored=True)
        figures = (
            Figure(f"{name}.side", drawn_length(made.edge("side"))),
            Figure(f"{name}.hem", drawn_length(made.edge("hem"))),
            Figure(f"{name} angle", math.degrees(turn), "°"),
            Figure(f"{name} cut", made.quantity, ""),
            *(Figure(f"{p.name}.{e.name} sewn above it", sewn_length(e) - self.high) for p, e, _, m in sides if not m),
        )
        done = replace(pattern, pieces=(*pattern.pieces, made), seams=(*pattern.seams, *seams))
        return Outcome(pattern=done, figures=figures)

    def _turn(self) -> float:
        """Radians between its sides."""
        if self.angle is not None and self.wide is not None:
            raise UsageError(Option("angle"), " and ", Option("wide"), " both say how wide it is; leave one out")
        turn = self.wide / self.high if self.wide is not None else math.radians(60.0 if not self.angle else self.angle)
        if turn > math.radians(300.0):
            raise UsageError(
                f"a godet {plain(self.high)} mm high with a hem of {plain(turn * self.high)} mm is more than a circle; "
                "make it narrower with ",
                Option("wide"),
            )
        return turn

    def _end(self, piece: Piece, edge: Edge) -> bool:
        """Whether the godet is at the end of the edge, or at its start."""
        beside = {at_end: neighbour(piece, edge, at_end=at_end) for at_end in (True, False)}
        if self.hem is not None:
            wanted = named_edge(piece, self.hem).uid
            found = [at_end for at_end, other in beside.items() if other.uid == wanted]
        else:
            found = [at_end for at_end, other in beside.items() if other.use == "hem"]
        if len(found) != 1:
            raise UsageError(
                f"{piece.name}.{edge.name} does not meet one hem; say at which edge the godet ends with ", Option("hem")
            )
        return found[0]

    def _sides(self, pattern: Pattern, piece: Piece, edge: Edge, at_end: bool) -> list[tuple[Piece, Edge, bool, bool]]:
        """What its two sides are sewn to: piece, edge, whether at its end, whether on the mirrored half."""
        first = (piece, edge, at_end, False)
        others = mate_ends(pattern, edge, at_end=at_end)
        if len(others) == 1:
            return [first, (*others[0], False)]
        own = any(
            {part.of for part in (*seam.a, *seam.b)} == {edge.uid} and any(p.mirrored for p in (*seam.a, *seam.b))
            for seam in pattern.seams
        )
        if own and not others:
            return [first, (piece, edge, at_end, True)]
        found = "nothing" if not others else " and ".join(f"{p.name}.{e.name}" for p, e, _ in others)
        raise UsageError(
            f"{piece.name}.{edge.name} is sewn to {found} at its hem, and a godet stands between two edges; state the "
            "seam with seam"
        )


def _quantity(sides: list[tuple[Piece, Edge, bool, bool]]) -> int:
    if any(mirrored for *_, mirrored in sides):
        return 1
    return max(piece.quantity * (2 if piece.cut_as == "fold" else 1) for piece, *_ in sides)


def _closed_again(pattern: Pattern, old: Piece | None) -> Pattern:
    """The pattern with the seam that a godet stood in sewn to its end, and without the notches above it."""
    whole = (Position(mode="start", value=0.0), Position(mode="end", value=0.0))
    for one in old.source.taken if old is not None and old.source is not None else ():
        far = one.start if one.end == whole[1] else one.end

        def longer(run: tuple[RunPart, ...], of: str = one.edge, far: Position | None = far) -> tuple[RunPart, ...]:
            found = []
            for part in run:
                if part.of == of and far in (part.start, part.end):
                    start, end = (None if at in (far, *whole) else at for at in (part.start, part.end))
                    if start is not None or end is not None:
                        start, end = start or whole[0], end or whole[1]
                    part = replace(part, start=start, end=end)
                found.append(part)
            return tuple(found)

        pattern = replace(pattern, seams=tuple(_shorter(s, longer(s.a), longer(s.b)) for s in pattern.seams))
        piece = next((p for p in pattern.pieces if p.uid == one.piece), None)
        if piece is not None:
            kept = tuple(n for n in piece.notches if n.edge != one.edge or n.at != far)
            pattern = pattern.with_piece(replace(piece, notches=kept))
    return pattern


def _shortened(pattern: Pattern, edge: Edge, far: Position, *, at_end: bool) -> Pattern:
    """The pattern where the seams of an edge end that far from one end of it."""

    def shorter(run: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        return tuple(
            part
            if part.of != edge.uid
            else replace(part, start=part.start or Position(mode="start", value=0.0), end=far)
            if at_end
            else replace(part, start=far, end=part.end or Position(mode="end", value=0.0))
            for part in run
        )

    return replace(pattern, seams=tuple(_shorter(seam, shorter(seam.a), shorter(seam.b)) for seam in pattern.seams))


def _shorter(seam: Seam, a: tuple[RunPart, ...], b: tuple[RunPart, ...]) -> Seam:
    return seam if (a, b) == (seam.a, seam.b) else replace(seam, a=a, b=b)


def _notched(pattern: Pattern, piece: Piece, edge: Edge, at: Position, uids: Uids) -> Pattern:
    """The pattern with a notch where the seam ends, unless one stands there."""
    here = pattern.piece_of(piece.uid)
    size = sewn_length(edge)
    if any(n.edge == edge.uid and abs(n.at.along(size) - at.along(size)) < 0.5 for n in here.notches):
        return pattern
    new = Notch(uid=uids.fresh("notch", edge.uid, "godet"), edge=edge.uid, at=at)
    return pattern.with_piece(replace(here, notches=(*here.notches, new)))
