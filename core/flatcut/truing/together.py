"""The parts of a run laid together as they are sewn: darts closed, neighbours laid along their seams.

The first part lies where it is drawn. A dart is closed by a turn about its point, a neighbouring piece is laid so that
the end of its seam meets the end of the seam here and both run in one direction, turned over where it is drawn as a
mirror image. What lies between two parts is a joint.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations
from typing import NamedTuple

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, reverse, section, tangent, transform
from flatcut.pattern.mating import sides
from flatcut.pattern.runs import Walked
from flatcut.pattern.seam_ends import SeamEnd, end_way, seam_end
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.values import Dart, Edge, Pattern, Piece, area
from flatcut.pattern.walking import part_at, sewn_length, to_drawn

FOLDED = ("pleat", "tuck")
"""Take-ups that fold the cloth: an edge cannot be laid flat with them in it."""
MOST = 6
"""Parts of a run whose order is looked for."""


@dataclass(frozen=True, kw_only=True)
class Laid:
    """A stretch of a part of an edge, from place u0 to u1, as it lies with the others.

    matrix: from the piece to there; curve: there, in walking direction; forward: along the edge's stored direction.
    """

    piece: Piece
    edge: Edge
    part: int
    u0: float
    u1: float
    forward: bool
    matrix: Affine
    curve: Curve

    @property
    def name(self) -> str:
        """The edge as it is written."""
        return f"{self.piece.name}.{self.edge.name}"


class SewnEnd(NamedTuple):
    """An end of an edge that is sewn: uids of its piece and of the edge. Where a dart stands in the corner, its uid,
    and the turn that closes it onto the edge across."""

    piece: str
    edge: str
    dart: str
    closing: Affine


@dataclass(frozen=True, kw_only=True)
class Joint:
    """Where a part meets the next one.

    at: (2,) mm, laid together; way: unit direction (2,) out of the pieces in which the leg or the seam there runs, zero
    where two edges of one piece meet without either; dart: uid of the dart that is closed there; seam: the ends of the
    two edges that are sewn there, in walking order.
    """

    name: str
    at: Array
    way: Array
    dart: str = ""
    seam: tuple[SewnEnd, ...] = ()


def laid_together(pattern: Pattern, run: Sequence[Walked]) -> tuple[list[Laid], list[Joint]]:
    """The parts of a run and the joints between them, one fewer. Errors: UsageError where two parts do not meet."""
    run = _in_order(pattern, run)
    laid: list[Laid] = []
    joints: list[Joint] = []
    matrix = IDENTITY
    for k, step in enumerate(run):
        if k:
            found = _meeting(pattern, run[k - 1], step)
            assert found is not None
            joint, across = found
            matrix = matrix @ across
            joints.append(_placed(joint, laid[-1].matrix))
        stretches = list(_stretches(step))
        for j, (part, u0, u1) in enumerate(stretches):
            if j:
                dart = step.piece.cut_in(step.edge, min(part, stretches[j - 1][0]))
                if dart is None:
                    raise UsageError(f"{step.piece.name}.{step.edge.name} is broken without a dart; redraw the piece")
                _refuse_uneven(step.piece, dart)
                joints.append(_placed(_closed(step.piece, dart, forward=step.forward), matrix))
                matrix = matrix @ _closing(dart, forward=step.forward)
            curve = section(step.edge.parts[part], u0, u1)
            curve = transform(curve if step.forward else reverse(curve), matrix)
            laid.append(
                Laid(
                    piece=step.piece,
                    edge=step.edge,
                    part=part,
                    u0=u0,
                    u1=u1,
                    forward=step.forward,
                    matrix=matrix,
                    curve=curve,
                )
            )
    return laid, joints


def _in_order(pattern: Pattern, run: Sequence[Walked]) -> list[Walked]:
    """The parts so ordered and directed that each goes on from the one before; as given where that fits."""
    uids = [step.edge.uid for step in run]
    for step in run:
        name = f"{step.piece.name}.{step.edge.name}"
        if not any(edge.uid == step.edge.uid for edge in step.piece.edges):
            raise UsageError(f"{name} is a line inside the piece; true takes edges")
        if uids.count(step.edge.uid) > 1:
            raise UsageError(f"{name} is in the line twice; name one half of it, its end keeps its direction")
        _refuse_folded(step)
    if len(run) > MOST:
        raise UsageError(f"{len(run)} edges are too many for one fair line; true at most {MOST} together")
    for order in permutations(run):
        found = _directed(pattern, list(order))
        if found:
            return found
    for one, two in pairwise(run):
        if not any(_meeting(pattern, a, b) for a in _both(one) for b in _both(two)):
            first, second = (f"{step.piece.name}.{step.edge.name}" for step in (one, two))
            raise UsageError(
                f"{first} does not run on into {second}: they meet at no corner, and no seam that ends at both is "
                "stated; state the seam between the two pieces first with: seam PIECE.EDGE PIECE.EDGE"
            )
    raise UsageError("these edges do not follow one another in one line; name them in the order in which they do")


def _directed(pattern: Pattern, order: list[Walked]) -> list[Walked] | None:
    def go(chosen: list[Walked]) -> list[Walked] | None:
        if len(chosen) == len(order):
            return chosen
        for step in _both(order[len(chosen)]):
            if not chosen or _meeting(pattern, chosen[-1], step):
                found = go([*chosen, step])
                if found:
                    return found
        return None

    return go([])


def _both(step: Walked) -> tuple[Walked, Walked]:
    return step, replace(step, forward=not step.forward)


def _refuse_folded(step: Walked) -> None:
    start, end = to_drawn(step.edge, step.start), to_drawn(step.edge, step.end)
    for takeup in step.edge.takeups:
        if takeup.kind in FOLDED and takeup.end > start and takeup.start < end:
            raise UsageError(
                f"{step.piece.name}.{step.edge.name} has a {takeup.kind} in it, and what is folded cannot be laid flat;"
                " true the edge before it is put in, or a stretch beside it"
            )


def _refuse_uneven(piece: Piece, dart: Dart) -> None:
    first, second = (float(np.hypot(*(foot - dart.points[0]))) for foot in dart.feet)
    if abs(first - second) > 0.5:
        name = f"{piece.name}.{dart.name}"
        raise UsageError(
            f"the legs of {name} differ, so it cannot be closed; make them equal with: dart {name} --equal"
        )


def _stretches(step: Walked) -> Iterator[tuple[int, float, float]]:
    """Part and places of each stretch, in walking order."""
    whole = step.start <= 1e-6, step.end >= sewn_length(step.edge) - 1e-6
    first, u0 = (0, 0.0) if whole[0] else part_at(step.edge, to_drawn(step.edge, step.start))
    last = len(step.edge.parts) - 1
    end = float(len(step.edge.parts[last]))
    last, end = (last, end) if whole[1] else part_at(step.edge, to_drawn(step.edge, step.end))
    found = []
    for k in range(first, last + 1):
        a = u0 if k == first else 0.0
        b = end if k == last else float(len(step.edge.parts[k]))
        if b - a > 1e-9:
            found.append((k, a, b))
    yield from found if step.forward else found[::-1]


def _closing(dart: Dart, *, forward: bool) -> Affine:
    """What brings the second foot onto the first; the first onto the second when walked backwards."""
    apex = dart.points[0]
    one, two = dart.feet[0] - apex, dart.feet[1] - apex
    turn = math.atan2(float(cross(two, one)), float(two @ one))
    return Affine.rotation(turn if forward else -turn, (float(apex[0]), float(apex[1])))


def _closed(piece: Piece, dart: Dart, *, forward: bool) -> Joint:
    foot = dart.feet[0 if forward else 1]
    way = -tangent(dart.legs[0], 0.0) if forward else end_way(dart.legs[1])
    return Joint(name=f"{piece.name}.{dart.name}", at=foot, way=way, dart=dart.uid)


def _placed(joint: Joint, matrix: Affine) -> Joint:
    way = matrix.apply(joint.at + joint.way) - matrix.apply(joint.at)
    return replace(joint, at=matrix.apply(joint.at), way=unit(way))


def _meeting(pattern: Pattern, one: Walked, two: Walked) -> tuple[Joint, Affine] | None:
    """The joint at the end of one walked part, in its piece, and what lays the next one there; None where none is."""
    if not _to_its_end(one) or not _to_its_start(two):
        return None
    if one.piece.uid == two.piece.uid:
        follows = one.piece.after(one.edge) if one.forward else edge_before(one.piece, one.edge)
        if follows.uid == two.edge.uid and one.forward == two.forward and len(one.piece.edges) > 1:
            return _at_corner(one, two)
    return _over_seam(pattern, one, two)


def _to_its_end(step: Walked) -> bool:
    return step.end >= sewn_length(step.edge) - 1e-6 if step.forward else step.start <= 1e-6


def _to_its_start(step: Walked) -> bool:
    return step.start <= 1e-6 if step.forward else step.end >= sewn_length(step.edge) - 1e-6


def _at_corner(one: Walked, two: Walked) -> tuple[Joint, Affine]:
    keeper = one.edge if one.forward else two.edge
    dart = one.piece.cut_in(keeper, len(keeper.parts) - 1)
    if dart is not None:
        _refuse_uneven(one.piece, dart)
        return _closed(one.piece, dart, forward=one.forward), _closing(dart, forward=one.forward)
    at = one.edge.end if one.forward else one.edge.start
    name = f"{one.piece.name}.{keeper.name}/{one.piece.after(keeper).name}"
    return Joint(name=name, at=at, way=np.zeros(2)), IDENTITY


def _over_seam(pattern: Pattern, one: Walked, two: Walked) -> tuple[Joint, Affine] | None:
    for seam in pattern.seams:
        here, there = sides(pattern, seam)[0]
        for first in (True, False):
            ends = seam_end(here, first=first), seam_end(there, first=first)
            for a, b in (ends, ends[::-1]):
                if a is None or b is None or (a.piece.uid, a.across.uid) != (one.piece.uid, one.edge.uid):
                    continue
                if (b.piece.uid, b.across.uid) != (two.piece.uid, two.edge.uid):
                    continue
                # the seam starts where the edge before it ends
                if a.at_end == one.forward or b.at_end != two.forward:
                    continue
                ((at, way), mine), ((to, onward), theirs) = _sewn_end(a), _sewn_end(b)
                joint = Joint(name=f"the seam at {a.name}", at=at, way=way, seam=(mine, theirs))
                alike = _right_hand(one) == _right_hand(two)
                return joint, _laying((to, onward), (at, way), mirrored=not alike)
    return None


def _sewn_end(end: SeamEnd) -> tuple[tuple[Array, Array], SewnEnd]:
    """Where a seam's edge ends and its direction there, out of the piece, with a dart in the corner closed."""
    edge = end.edge
    at, way = (edge.end, end_way(edge.parts[-1])) if end.at_end else (edge.start, -tangent(edge.parts[0], 0.0))
    dart = end.piece.cut_in(end.keeper, len(end.keeper.parts) - 1)
    if dart is None:
        return (at, way), SewnEnd(end.piece.uid, edge.uid, "", IDENTITY)
    _refuse_uneven(end.piece, dart)
    closing = _closing(dart, forward=not end.at_end)
    turned = closing.apply(at + way) - closing.apply(at)
    foot = dart.feet[1 if end.at_end else 0]
    return (foot, turned), SewnEnd(end.piece.uid, edge.uid, dart.uid, closing)


def _right_hand(step: Walked) -> bool:
    """Whether the piece lies to the right of the walker, on the screen."""
    return (area(step.piece) > 0) == step.forward


def _laying(was: tuple[Array, Array], now: tuple[Array, Array], *, mirrored: bool) -> Affine:
    """The motion that takes a place and a direction there to others."""
    motion = Affine.similarity((was[0], was[0] + was[1]), (now[0], now[0] + now[1]))
    return motion @ Affine.reflection(was[0], was[0] + was[1]) if mirrored else motion
