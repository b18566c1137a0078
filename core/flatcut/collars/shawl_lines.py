"""The lines of a shawl collar that is grown on to a front: roll line, neck edge, centre back and outer edge.

Common practice, no source: the roll line runs from the break point to a place beyond the neck on the shoulder line; the
collar's neck edge goes from the neck up along it, as long as the back neckline, and is swung toward the shoulder until
the outer edge is as long as what it lies on. mm, in the plane of the front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, flatten, line
from flatcut.geometry.flowing import flowing, square_to

SHY = 5.0
"""mm by which the roll line passes nearer to the neck than the collar stands (common practice, no source)."""
WIDEST = 0.55
"""Where between break point and shoulder the lapel is widest, as a part of the roll line."""


@dataclass(frozen=True, kw_only=True)
class Ground:
    """A front that a collar grows on to, all (2,): neck, pit: the ends of its neckline at shoulder and centre; up:
    along the shoulder line beyond the neck; down: along the centre; out: square to that, off the body."""

    neck: Array
    pit: Array
    up: Array
    down: Array
    out: Array


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """back: mm of the neck edge; turn: radians through which the back neckline turns from the centre to the shoulder;
    stand, fall: at the centre back; lapel: width beyond the roll line; beyond: button stand; below: of the break point
    under the neck; lean: mm by which the neck edge is swung at the centre back, None for what the back neckline asks.
    """

    back: float
    turn: float
    stand: float
    fall: float
    lapel: float
    beyond: float
    below: float
    lean: float | None = None

    @property
    def over_back(self) -> float:
        """mm that the outer edge has to cover from the centre back to the shoulder: the parallel to the back neckline
        on which it lies, fall less stand below it, which is longer by that times the turn (exact)."""
        return self.back + max(self.fall - self.stand, 0.0) * self.turn

    @property
    def swung(self) -> float:
        """mm at the centre back; a strip that is swung by an angle has its outer edge longer by width times angle."""
        if self.lean is not None:
            return self.lean
        return self.back * (self.over_back - self.back) / (self.stand + self.fall)


@dataclass(frozen=True, kw_only=True)
class Shawl:
    """Curves from the break point on: edge, up to the centre back; centre; neck, from there to the front's neck; roll.

    over_back: mm of the outer edge from the centre back to the shoulder, along chords.
    """

    edge: Curve
    centre: Curve
    neck: Curve
    roll: Curve
    over_back: float


def drawn_shawl(ground: Ground, want: Wanted, *, larger: float = 0.0) -> Shawl:
    """The lines of the collar. larger: mm by which its outer edge lies farther out, as that of what lies on top.

    Errors: GeometryError where they do not lie as a collar does.
    """
    start = ground.pit + want.below * ground.down + want.beyond * ground.out
    over = ground.neck + max(want.stand - SHY, 0.0) * ground.up
    roll = unit(over - start)
    if roll @ ground.down > -0.5:
        raise GeometryError("the roll line lies too flat; set the break point lower")
    swing = 2 * math.asin(min(abs(want.swung) / (2 * want.back), 1.0)) * (1.0 if want.swung >= 0 else -1.0)
    way = min(
        (Affine.rotation(turn).apply(roll) for turn in (swing, -swing)),
        key=lambda w: float(w @ ground.out) * (1.0 if swing >= 0 else -1.0),
    )
    outward, across = _toward(ground.out, way), _toward(ground.out, roll)
    nape = ground.neck + want.back * way
    top = nape + (want.stand + want.fall + larger) * outward
    wide = start + WIDEST * (over - start) + (want.lapel + larger) * across
    crease = nape + want.stand * outward
    try:
        edge = flowing([start, wide, top], leave=-ground.down, arrive=way)
        turned = flowing([over, crease], leave=roll, arrive=way)
    except GeometryError as error:
        raise GeometryError(f"the collar has no fair lines, {error}; lean it less, or make the lapel wider") from None
    return Shawl(
        edge=edge,
        centre=line(top, nape),
        neck=line(nape, ground.neck),
        roll=chain([line(start, over), turned], within=1e-6),
        over_back=_over(edge, ground.neck, across),
    )


def _toward(out: Array, way: Array) -> Array:
    """The direction square to a way that goes off the body."""
    found = square_to(way)
    return found if float(found @ out) > 0 else -found


def _over(edge: Curve, neck: Array, across: Array) -> float:
    """mm of an outer edge from its end back to where a line from the neck square to the roll line meets it."""
    points = flatten(edge, tolerance=0.01)[::-1]
    side = np.asarray((points - neck) @ np.array([-across[1], across[0]]))
    turned = np.flatnonzero(np.sign(side) != np.sign(side[0]))
    if not len(turned):
        raise GeometryError("the outer edge of the collar does not reach the shoulder; make the lapel wider")
    k = int(turned[0])
    share = side[k - 1] / (side[k - 1] - side[k])
    steps = np.hypot(*np.diff(points[: k + 1], axis=0).T)
    return float(steps[:-1].sum() + share * steps[-1])
