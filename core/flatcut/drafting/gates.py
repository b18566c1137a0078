"""Where a line goes on over a closed dart, or over a seam: from which curve to which, and how what is beyond turns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, signed_angle
from flatcut.geometry.curves import Curve, point, reverse
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.rigid import brought
from flatcut.pattern.mating import mates
from flatcut.pattern.spots import on_edge
from flatcut.pattern.values import Dart, Edge, Pattern, Piece
from flatcut.pattern.walking import nearest_drawn, point_at, to_drawn, to_sewn

LOOKS = 33
"""Places along a seam that are laid on each other."""
TOGETHER = 5.0
"""mm: pieces whose seam is no wider open lie together; so much does a curved seam gape that is laid straight."""


@dataclass(frozen=True, kw_only=True)
class Gate:
    """One passage. before, beyond: uids of the pieces on its two sides, the same one at a dart.

    near, far: the curves on its two sides; onto: brings what lies beyond to where it lies when the gate is closed;
    over: the place (2,) on the far side that comes to lie on one of the near side.
    """

    name: str
    before: str
    beyond: str
    near: tuple[Curve, ...]
    far: tuple[Curve, ...]
    onto: Affine
    over: Callable[[Array], Array]
    dart: Dart | None = None


def half_of(piece: Piece, dart: Dart, part: str) -> int:
    """Which point of a dart it is closed about: of one with two the upper one, unless `part` says lower."""
    if part not in (("", "upper", "lower") if dart.double else ("", "point")):
        raise UsageError(f"{piece.name}.{dart.name} is closed as a whole; name it without .{part}")
    return int(part == "lower")


def dart_gate(piece: Piece, dart: Dart, half: int, start: Array) -> Gate:
    """The gate at a closed dart for a line that comes from the side of a place (2,).

    half: about which of its points it is closed.
    """
    one, other = dart.legs
    sides = (one, reverse(other)) if dart.double and half == 0 else (reverse(one), other)
    apex, feet = dart.points[half], dart.feet
    axis = feet.mean(axis=0) - apex
    first = float(cross(axis, start - apex)) * float(cross(axis, feet[0] - apex)) > 0
    k = 0 if first else 1
    turn = signed_angle(feet[1 - k] - apex, feet[k] - apex)
    near, far = sides[k], sides[1 - k]

    def over(at: Array) -> Array:
        along = length_to(near, float(nearest(near, at)[0]))
        return np.asarray(point(far, place_at(far, min(along, length(far)))))

    return Gate(
        name=f"{piece.name}.{dart.name}",
        before=piece.uid,
        beyond=piece.uid,
        near=(near,),
        far=(far,),
        onto=Affine.rotation(turn, (float(apex[0]), float(apex[1]))),
        over=over,
        dart=dart,
    )


def seam_gates(pattern: Pattern, piece: Piece, edge: Edge, low: float, high: float, *, lying: bool) -> list[Gate]:
    """The gates over an edge, or a stretch of it in sewn mm, to what it is sewn to, both ways.

    lying: both pieces stay where they lie, and there is none where they do not lie together; else what lies beyond is
    laid along the stretch. Errors: UsageError for an edge that is sewn to nothing, where it is to be laid.
    """
    places = np.linspace(low, high, LOOKS)
    met: dict[str, tuple[Piece, Edge, list[tuple[Array, Array]]]] = {}
    for sewn in places[1:-1]:
        for mate in mates(pattern, edge.uid, float(sewn)):
            if mate.piece.uid == piece.uid:
                continue
            here = on_edge(piece, edge, float(sewn)).point
            there = on_edge(mate.piece, mate.edge, mate.sewn).point
            met.setdefault(mate.edge.uid, (mate.piece, mate.edge, []))[2].append((here, there))
    if not met and not lying:
        raise UsageError(
            f"{piece.name}.{edge.name} is sewn to no other piece there, so it cannot lie closed; state the seam first"
        )
    found = []
    for other, mate_edge, pairs in met.values():
        if len(pairs) < 2:
            continue
        here, there = (np.array(side) for side in zip(*pairs, strict=True))
        if lying and float(np.hypot(*(here - there).T).min()) > TOGETHER:
            continue
        onto = Affine() if lying else brought(there, here)
        there_and_back = ((piece, edge, other, mate_edge, onto), (other, mate_edge, piece, edge, onto.inverse()))
        found += [_seam_gate(pattern, *way) for way in there_and_back]
    return found


def _seam_gate(pattern: Pattern, piece: Piece, edge: Edge, other: Piece, beyond: Edge, onto: Affine) -> Gate:
    def over(at: Array) -> Array:
        sewn = to_sewn(edge, nearest_drawn(edge, at))
        there = [mate for mate in mates(pattern, edge.uid, sewn) if mate.edge.uid == beyond.uid]
        if not there:
            raise UsageError(f"where the line meets {piece.name}.{edge.name} that is not sewn to {other.name}")
        return point_at(beyond, to_drawn(beyond, there[0].sewn))[0]

    return Gate(
        name=f"{piece.name}.{edge.name}",
        before=piece.uid,
        beyond=other.uid,
        near=edge.parts,
        far=beyond.parts,
        onto=onto,
        over=over,
    )


def beyond(gate: Gate, at: Array) -> bool:
    """Whether a place (2,) of the piece lies beyond a dart."""
    assert gate.dart is not None
    apex, foot = gate.near[0].start, gate.near[0].end
    axis = gate.dart.feet.mean(axis=0) - apex
    return float(cross(axis, at - apex)) * float(cross(axis, foot - apex)) < 0


def across(gates: Sequence[Gate], start: Array, end: Array) -> list[Gate]:
    """Darts of one piece in the order in which a line from one place to another comes to them."""
    way = end - start

    def along(gate: Gate) -> float:
        assert gate.dart is not None
        return float((np.concatenate([gate.dart.points, gate.dart.feet]).mean(axis=0) - start) @ way)

    return sorted(gates, key=along)
