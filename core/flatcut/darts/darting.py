"""Figures of a dart: angle, intake, legs, axis, and how the edges beside it meet once it is folded."""

from __future__ import annotations

import math

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array, signed_angle, unit
from flatcut.geometry.curves import Curve, line, tangent
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.marking.pressed import beside
from flatcut.pattern.values import Dart, Figure, Piece

EQUAL = 0.5
"""mm that the legs of a dart may differ and still be folded on each other (common practice, no source)."""
STRAIGHT = 0.1
"""mm that a leg may stray from a straight line and still count as one, the width of a pencil line."""


def dart_of(piece: Piece, uid: str) -> Dart:
    """The dart with that uid. Errors: KeyError (a fault of the program)."""
    for dart in piece.darts:
        if dart.uid == uid:
            return dart
    raise KeyError(uid)


def closing_angle(dart: Dart) -> float:
    """Signed radians about the point of a single-pointed dart that bring its second leg onto its first."""
    apex = dart.points[0]
    return signed_angle(dart.feet[1] - apex, dart.feet[0] - apex)


def angle(dart: Dart) -> float:
    """Degrees between the legs, always positive.

    An intake of 6 at legs of 25 is 13.7842° (closed form, 2 asin(w / 2L)).

    >>> from flatcut.geometry.curves import line
    >>> tall = math.sqrt(25**2 - 3**2)
    >>> round(angle(Dart(uid="d", name="d", host="e", legs=(line((-3, 0), (0, tall)), line((0, tall), (3, 0))))), 4)
    13.7842
    """
    return math.degrees(abs(closing_angle(dart)))


def intake(dart: Dart) -> float:
    """mm between the feet; of a double-pointed dart between its widest nodes."""
    return float(np.linalg.norm(dart.feet[1] - dart.feet[0]))


def axis(dart: Dart) -> Array:
    """Unit direction (2,) from the point of a single-pointed dart to the middle of its mouth."""
    return unit(dart.feet.mean(axis=0) - dart.points[0])


def straight_legs(dart: Dart) -> bool:
    """Whether both legs run straight from foot to point."""
    return all(straight_leg(leg) for leg in dart.legs)


def straight_leg(leg: Curve) -> bool:
    """Whether a leg runs straight from end to end."""
    return float(nearest(line(leg.start, leg.end), leg.controls.reshape(-1, 2))[1].max()) <= STRAIGHT


def in_corner(piece: Piece, dart: Dart) -> bool:
    """Whether a cut-in dart stands between two edges instead of inside one."""
    return dart.form == "cut" and bool(dart.host) and dart.after == len(piece.edge_of(dart.host).parts) - 1


def folded_corner(piece: Piece, dart: Dart) -> float:
    """Degrees inside the piece between the two edges beside a cut-in dart once it is folded; 180 runs on smoothly."""
    _, before, _, after = beside(piece, dart)
    foot_1, foot_2 = dart.feet
    apex = dart.points[0]
    into = tangent(before, float(len(before)), before=True)
    out = tangent(after, 0.0)
    first = abs(signed_angle(-into, apex - foot_1))
    second = abs(signed_angle(out, apex - foot_2))
    return math.degrees(first + second)


def dart_figures(piece: Piece, dart: Dart) -> list[Figure]:
    """Angle, intake and legs; of a cut-in dart also what it leaves of a kink, or the corner it closes to."""
    name = f"{piece.name}.{dart.name}"
    found = [Figure(f"{name} intake", intake(dart))]
    first, second = (length(leg) for leg in dart.legs)
    if dart.double:
        upper, lower = double_angles(dart)
        return [Figure(f"{name} angle, upper", upper, "°"), Figure(f"{name} angle, lower", lower, "°"), *found]
    found.insert(0, Figure(f"{name} angle", angle(dart), "°"))
    found.append(Figure(f"{name} leg", first))
    if abs(first - second) > 0.01:
        found.append(Figure(f"{name} second leg", second))
    if dart.form == "cut":
        folded = folded_corner(piece, dart)
        if in_corner(piece, dart):
            found.append(Figure(f"{name} folded, corner", folded, "°"))
        else:
            found.append(Figure(f"{name} folded, edge off a smooth line", folded - 180, "°"))
    return found


def double_angles(dart: Dart) -> tuple[float, float]:
    """Degrees at the upper and the lower point of a double-pointed dart, between its widest nodes.

    3 wide, 15 up and 12 down gives 11.4212° and 14.2500° (closed form).
    """
    upper, lower = dart.points
    one, two = dart.feet
    return (
        math.degrees(abs(signed_angle(one - upper, two - upper))),
        math.degrees(abs(signed_angle(one - lower, two - lower))),
    )


def single(piece: Piece, dart: Dart, doing: str) -> None:
    """UsageError when a dart has two points and so opens on no edge."""
    if dart.double:
        raise UsageError(
            f"{piece.name}.{dart.name} has two points and opens on no edge, so it cannot be {doing}; "
            "name a dart that opens on an edge"
        )
