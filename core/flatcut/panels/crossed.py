"""A dart that a cut runs across: where on both its legs, and what of these each part keeps."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, signed_angle
from flatcut.geometry.curves import Curve, flatten, point, reverse, section, tangent, transform
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import ending_at
from flatcut.marking.caps import AFTER, OPEN
from flatcut.marking.pressed import middle_edge, pressed_side
from flatcut.pattern.values import Dart, Piece
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Over:
    """How a dart is run across.

    legs: number of the leg that the cut comes to and of that from which it goes on; at: the places on them; pole: the
    point of the dart from which both lie equally far; moved: mm that an end of the line was moved for that.
    mouth_right: of one that is run across right at its point on which side of the cut its mouth lies; then the part on
    that side is closed, and the other has no share.
    """

    dart: Dart
    legs: tuple[int, int]
    at: tuple[float, float]
    pole: int
    moved: float
    mouth_right: bool | None = None

    @property
    def turned(self) -> Over:
        """The same met from the other side."""
        right = None if self.mouth_right is None else not self.mouth_right
        return replace(self, legs=self.legs[::-1], at=self.at[::-1], mouth_right=right)

    @property
    def places(self) -> Array:
        """Where the cut comes to the dart and where it goes on, (2, 2)."""
        return np.array([point(self.dart.legs[k], u) for k, u in zip(self.legs, self.at, strict=True)])

    def rest(self, pole: int) -> tuple[Curve, Curve]:
        """What of the legs lies on the side of a point: from the first place to that point, and on to the second."""
        one, two = (_to_pole(self.dart, k, u, pole) for k, u in zip(self.legs, self.at, strict=True))
        back = reverse(two)
        return one, ending_at(back, point(self.dart.legs[self.legs[1]], self.at[1]))

    def mouth(self, leg: int) -> Curve:
        """What of a leg lies on the side of the mouth, as the leg runs."""
        u = self.at[self.legs.index(leg)]
        return section(self.dart.legs[leg], *((0.0, u) if leg == 0 else (u, float(len(self.dart.legs[1])))))

    @property
    def mouth_ring(self) -> Array:
        """The cloth that the dart takes in on the side of its mouth, as a ring (n, 2)."""
        return np.concatenate([flatten(self.mouth(leg), tolerance=0.02) for leg in (0, 1)])

    def closing(self) -> Affine:
        """The turn about the point that lays the second leg on the first."""
        apex = self.dart.points[0]
        turn = signed_angle(self.dart.feet[1] - apex, self.dart.feet[0] - apex)
        return Affine.rotation(turn, (float(apex[0]), float(apex[1])))


def _ends_in(dart: Dart, leg: int) -> int:
    """The point in which a leg ends; -1 where that is a foot."""
    return (1 - leg if dart.double else 0) if leg == 0 or dart.double else -1


def _to_pole(dart: Dart, leg: int, u: float, pole: int) -> Curve:
    curve = dart.legs[leg]
    if _ends_in(dart, leg) == pole:
        return section(curve, u, float(len(curve)))
    return reverse(section(curve, 0.0, u))


def _from_pole(dart: Dart, leg: int, u: float, pole: int) -> float:
    """mm along a leg from a point of the dart to a place."""
    curve = dart.legs[leg]
    along = length_to(curve, u)
    return length(curve) - along if _ends_in(dart, leg) == pole else along


def _at(piece: Piece, dart: Dart, leg: int, away: float, pole: int) -> float:
    curve = dart.legs[leg]
    whole = length(curve)
    if away >= whole:
        raise UsageError(
            f"the legs of {piece.name}.{dart.name} differ by more than the cut leaves of one; make them alike first"
        )
    return place_at(curve, whole - away if _ends_in(dart, leg) == pole else away)


def over(
    piece: Piece, dart: Dart, before: Curve, after: Curve, turned: tuple[bool, bool], pole: int
) -> tuple[Curve, Curve, Over]:
    """Two stretches of a line that end on the legs of a dart with their ends equally far from one of its points.

    turned: which of them run the other way than the cut. The one on the side that the dart is pressed to stays; where
    it is pressed open both give way by half. Errors: UsageError for legs of which one is too short.
    """
    ends = [before.start if turned[0] else before.end, after.end if turned[1] else after.start]
    legs = [int(np.argmin([float(nearest(leg, end)[1]) for leg in dart.legs])) for end in ends]
    away = []
    for leg, end in zip(legs, ends, strict=True):
        away.append(_from_pole(dart, leg, float(nearest(dart.legs[leg], end)[0]), pole))
    stays = _stays(piece, dart)
    wanted = sum(away) / 2 if stays is None else away[legs.index(stays)]
    at = [_at(piece, dart, leg, wanted, pole) for leg in legs]
    made = []
    for curve, back, leg, u in zip((before, after), (turned[0], not turned[1]), legs, at, strict=True):
        # `back`: the end at the dart is the start of the curve
        to = point(dart.legs[leg], u)
        fixed, moving = (curve.end, curve.start) if back else (curve.start, curve.end)
        made.append(curve if np.array_equal(moving, to) else _put(curve, fixed, moving, to, at_start=back))
    crossed = Over(
        dart=dart, legs=(legs[0], legs[1]), at=(at[0], at[1]), pole=pole, moved=max(abs(wanted - a) for a in away)
    )
    return made[0], made[1], crossed


def at_its_point(dart: Dart, before: Curve, after: Curve, turned: tuple[bool, bool]) -> Over:
    """A dart whose point lies where one stretch of a cut ends and the next begins."""
    back = tangent(before, 0.0) if turned[0] else -tangent(before, float(len(before)), before=True)
    on = -tangent(after, float(len(after)), before=True) if turned[1] else tangent(after, 0.0)
    toward = dart.feet.mean(axis=0) - dart.points[0]
    # clockwise on the screen from the way on to the way back lies what is to the right
    aside, all_round = (signed_angle(on, way) % (2 * math.pi) for way in (toward, back))
    ends = (float(len(dart.legs[0])), 0.0)
    return Over(dart=dart, legs=(0, 1), at=ends, pole=0, moved=0.0, mouth_right=bool(aside < all_round))


def _put(curve: Curve, fixed: Array, moving: Array, to: Array, *, at_start: bool) -> Curve:
    moved = transform(curve, Affine.similarity((fixed, moving), (fixed, to)))
    if at_start:
        return reverse(ending_at(ending_at(reverse(moved), to), to))
    return ending_at(moved, to)


def _stays(piece: Piece, dart: Dart) -> int | None:
    """The leg on whose side a line over a dart stays as it is drawn; None where both sides give way."""
    if not dart.double:
        side = pressed_side(piece, dart)
        return None if side == OPEN else (1 if side == AFTER else 0)
    middle = middle_edge(piece, dart)
    if middle is None:
        return 0
    away = [float(nearest(middle.parts[0], leg.nodes.mean(axis=0))[1]) for leg in dart.legs]
    return int(np.argmin(away))


def folds_flat(piece: Piece, crossed: Over, within: float) -> None:
    """Errors: UsageError for a dart whose legs, folded, lie more than `within` mm apart on the side of its mouth."""
    dart = crossed.dart
    one, two = crossed.mouth(0), transform(crossed.mouth(1), crossed.closing())
    looks = point(two, np.linspace(0.0, len(two), 17))
    off = max(float(nearest(one, looks)[1].max()), float(np.hypot(*(one.start - two.end))))
    if off > within:
        enough = plain(math.ceil(10 * off) / 10)
        raise UsageError(
            f"the legs of {piece.name}.{dart.name} lie {plain(off, 1)} mm apart when it is folded, so the part at its"
            " mouth does not close; make them alike with dart, cut along the dart, or close it all the same with ",
            Option("within", f"{enough}mm"),
        )
