"""A stroke drawn by hand over open darts, or over pieces that lie together, laid flat as if they were closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.drafting.folded import Plane, lying_together
from flatcut.drafting.gates import Gate, dart_gate
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, point, section, tangent, transform
from flatcut.geometry.flowing import flowing
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.marking.caps import BEFORE
from flatcut.marking.pressed import pressed_side
from flatcut.pattern.values import Pattern, Piece, outline

SHORT = 2.0
"""mm: so far a stroke overshoots a seam without being meant to go on there; nobody aims closer by hand."""
REACH = 25.0
"""mm of the line to either side of a joint over which it is made fair (common practice, no source)."""
MEET = 0.2
"""mm: an end of a part so near to a leg or an edge lies on it."""


@dataclass(frozen=True, kw_only=True)
class Flat:
    """A stroke laid flat. plane: what it goes over; curve: on it; first, last: where the stroke starts and ends as
    drawn; moved: mm by which its parts were moved to meet, by the names of what they meet at.
    """

    plane: Plane
    curve: Curve
    last: Array
    moved: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class _Part:
    piece: Piece
    curve: Curve


def laid_flat(pattern: Pattern, home: Piece, stroke: Curve) -> Flat | None:
    """The stroke with what it goes over closed; None where it lies on one piece and goes over nothing.

    What lies inside an open dart is dropped; the two sides meet at the foot toward which it is pressed.
    """
    parts = _parts(pattern, stroke)
    if all(part.piece.uid != home.uid for part in parts) or len(parts) < 2:
        return None
    gates: list[Gate] = []
    for before, after in pairwise(parts):
        gate = _gate(pattern, before, after)
        if gate is None:
            return None
        gates.append(gate)
    plane = Plane(parts[0].piece.uid, gates)
    curve, moved = parts[0].curve, []
    for k, (gate, part) in enumerate(zip(gates, parts[1:], strict=True), start=1):
        onward = transform(part.curve, plane.laid(k))
        meet = _meeting(pattern, gate, curve.end, onward.start)
        away = max(float(np.hypot(*(curve.end - meet))), float(np.hypot(*(onward.start - meet))))
        moved.append((gate.name, away))
        curve = _joined(curve, onward, meet)
    return Flat(plane=plane, curve=curve, last=parts[-1].curve.end, moved=tuple(moved))


def _parts(pattern: Pattern, stroke: Curve) -> list[_Part]:
    """The stretches of a stroke on cloth, in order; a stretch that only overshoots is left out."""
    rings = [(p, flatten(chain(outline(p), within=1e-6), tolerance=0.02)) for p in pattern.pieces]
    met = [c.u for p in pattern.pieces for wall in outline(p) for c in crossings(stroke, wall)]
    places = [0.0, *sorted(u for u in met if 1e-6 < u < len(stroke) - 1e-6), float(len(stroke))]
    found: list[_Part] = []
    for a, b in pairwise(places):
        if b - a < 1e-9:
            continue
        part = section(stroke, a, b)
        if length(part) < SHORT:
            continue
        middle = point(stroke, (a + b) / 2)[None]
        home = next((p for p, ring in rings if contains(ring, middle)[0]), None)
        if home is not None:
            found.append(_Part(home, part))
    return found


def _gate(pattern: Pattern, before: _Part, after: _Part) -> Gate | None:
    """What lies between two parts of a stroke."""
    ends = before.curve.end, after.curve.start
    if before.piece.uid == after.piece.uid:
        for dart in before.piece.darts:
            if dart.form != "cut" or dart.double:
                continue
            away = [[float(nearest(leg, end)[1]) for leg in dart.legs] for end in ends]
            if min(away[0][0] + away[1][1], away[0][1] + away[1][0]) < 2 * MEET:
                return dart_gate(before.piece, dart, 0, before.curve.start)
        return None
    for gate in lying_together(pattern):
        if (gate.before, gate.beyond) == (before.piece.uid, after.piece.uid):
            near = min(float(nearest(curve, ends[0])[1]) for curve in gate.near)
            far = min(float(nearest(curve, ends[1])[1]) for curve in gate.far)
            if max(near, far) < MEET:
                return gate
    return None


def _meeting(pattern: Pattern, gate: Gate, here: Array, there: Array) -> Array:
    """Where two parts meet on the plane: on the side to which a dart is pressed, in the middle of a seam."""
    if gate.dart is None:
        return np.asarray((here + there) / 2)
    before = pressed_side(pattern.piece_of(gate.before), gate.dart) == BEFORE
    near_is_first = float(np.hypot(*(gate.near[0].end - gate.dart.feet[0]))) < MEET
    return here if before == near_is_first else there


def _joined(before: Curve, after: Curve, meet: Array) -> Curve:
    """Two parts as one line through the place where they meet, fair on both sides of it."""
    sizes = length(before), length(after)
    u = place_at(before, max(0.0, sizes[0] - REACH))
    v = place_at(after, min(REACH, sizes[1]))
    first, last = point(before, u), point(after, v)
    if float(np.hypot(*(before.end - after.start))) < 1e-6 and _smooth(before, after):
        return chain([before, starting_at(after, before.end)], within=1e-6)
    fair = flowing([first, meet, last], leave=tangent(before, u), arrive=tangent(after, v, before=v >= len(after)))
    pieces: Sequence[Curve] = (
        *([ending_at(section(before, 0.0, u), first)] if u > 1e-9 else []),
        fair,
        *([starting_at(section(after, v, float(len(after))), last)] if v < len(after) - 1e-9 else []),
    )
    return chain(pieces, within=1e-6)


def _smooth(before: Curve, after: Curve) -> bool:
    return float(tangent(before, float(len(before)), before=True) @ tangent(after, 0.0)) > 1 - 1e-6
