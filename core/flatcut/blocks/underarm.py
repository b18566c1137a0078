"""The underarm seams of a sleeve: straight, or bent at the elbow with the fullness eased in or taken up by a dart.

Common practice, no source: the elbow a little above half-way from underarm to wrist, 1.2 cm of ease or a dart of 2 cm
at the back, its point half-way to the middle of the sleeve. The lower arm turns forward about the elbow's front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import about, fair
from flatcut.blocks.opening import Wedge, opened
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line, point, reverse
from flatcut.geometry.length import length, place_at
from flatcut.pattern.assembling import Mark, Wedged, sewn_to
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Piece, Position, Seam

ELBOWS = ("straight", "ease", "dart")
ELBOW = 0.45
"""Where the elbow lies, as a part of the way from underarm to hem."""
EASE, INTAKE = 12.0, 20.0
"""mm that the back is longer than the front where it is eased in; width of the dart."""
EASED = 60.0
"""mm above and below the elbow between which the ease lies."""
DEPTH = 0.25
"""The dart's length as a part of the sleeve's width at the elbow."""
SETTLED = 1e-9


@dataclass(frozen=True, kw_only=True)
class Underarm:
    """Both seams and the hem as drawn, in the order of the outline: front from the underarm down, hem from front to
    back, back from the hem up. wedges: the elbow dart; levels: the elbow line; marks: where the seams are walked."""

    front: Curve
    hem: Curve
    back: tuple[Curve, ...]
    wedges: tuple[Wedged, ...]
    elbow: tuple[Array, Array]
    marks: tuple[Mark, ...]
    kind: str


def draw_underarm(left: Array, right: Array, *, below: float, hem: float, kind: str) -> Underarm:
    """The part below the bicep line from `left` to `right` (2,), for a hem of `hem` mm as the seam runs.

    below: mm from the bicep line to the hem. Errors: GeometryError.
    """
    lean = math.atan((float(right[0] - left[0]) - hem) / 2 / below)
    usual = chord = hem_chord(hem, lean)
    for _ in range(20):
        made = _drawn(left, right, below, (usual, chord), kind)
        away = length(made.hem) - hem
        if abs(away) < 1e-7:
            break
        chord -= away
    return made


def hem_chord(hem: float, lean: float) -> float:
    """mm straight across under a hem of `hem` mm that is square to both its seams; lean: theirs, radians."""
    return hem * math.sin(lean) / lean if abs(lean) > 1e-6 else hem


def _drawn(left: Array, right: Array, below: float, chords: tuple[float, float], kind: str) -> Underarm:
    """chords: what the seams lean by at the underarm, and how far apart they end, mm."""
    middle = (left + right) / 2 + np.array([0.0, below])
    half = np.array([chords[1] / 2, 0.0])
    corners = [middle - half, middle + half]
    if kind == "straight":
        front, back = line(right, corners[1]), (line(corners[0], left),)
        return _finished(front, back, front, back[0], (), kind)
    high = ELBOW * below
    inner = ELBOW * (float(right[0] - left[0]) - chords[0]) / 2
    elbow_back, elbow_front = left + np.array([inner, high]), right + np.array([-inner, high])
    wide = float(np.linalg.norm(elbow_front - elbow_back))
    # clockwise is positive, so the forearm turns forward, to the right, the other way
    turn = about(elbow_front, -2 * math.asin((INTAKE if kind == "dart" else EASE) / 2 / wide))
    low = [np.asarray(turn.apply(corner)) for corner in corners]
    front = fair(right, unit(elbow_front - right), low[1], unit(low[1] - elbow_front))
    turned_elbow = np.asarray(turn.apply(elbow_back))
    along, into = unit(turned_elbow - low[0]), unit(left - elbow_back)
    wanted = length(front) + (EASE if kind == "ease" else 0.0)
    axis = unit((elbow_back + turned_elbow) / 2 - elbow_front)
    apex = (elbow_back + turned_elbow) / 2 - DEPTH * wide * axis
    wedges = [Wedge(name="elbow-dart", apex=apex, axis=axis, intake=INTAKE)] if kind == "dart" else []
    slid = 0.0
    for _ in range(60):
        seam = opened(low[0] - slid * along, along, left, into, wedges)
        away = wanted - length(seam.closed)
        if abs(away) < SETTLED:
            break
        slid += away
    else:
        raise GeometryError("the underarm seams of the sleeve do not come to one length")
    cut = tuple(
        Wedged(name="elbow-dart", host="underarm-back", legs=np.array([f[0], apex, f[1]]), pressed="hem")
        for f in seam.feet
    )
    return _finished(front, seam.parts, front, seam.closed, cut, kind)


def _finished(
    front: Curve, back: tuple[Curve, ...], front_sewn: Curve, back_sewn: Curve, wedges: tuple[Wedged, ...], kind: str
) -> Underarm:
    whole, behind = length(front_sewn), length(back_sewn)
    at = ELBOW * whole
    down, up = _way(front, end=True), _way(back[0], end=False)
    hem = fair(front.end, _square(down), back[0].start, -_square(up))
    if kind == "ease":
        marks = tuple(
            Mark(edge=edge, at=at + side * EASED if edge == "underarm-front" else _behind(behind, whole, at, side))
            for edge in ("underarm-front", "underarm-back")
            for side in (-1, 1)
        )
    else:
        marks = (Mark(edge="underarm-front", at=at),)
        if kind == "straight":
            marks += (Mark(edge="underarm-back", at=behind - at),)
    elbow = _at(front, at)
    other = back[-1].start if wedges else _at(reverse(back[0]), at)
    return Underarm(front=front, hem=hem, back=back, wedges=wedges, elbow=(other, elbow), marks=marks, kind=kind)


def _behind(behind: float, whole: float, at: float, side: int) -> float:
    """mm from the hem to an end of the eased stretch on the back, which has the ease between its ends."""
    return behind - (at - EASED) if side < 0 else whole - (at + EASED)


def underarm_seams(sleeve: Piece, made: Underarm, uids: Uids) -> tuple[Seam, ...]:
    """The seam that closes the sleeve; eased about the elbow it is three."""
    front, back = (sleeve, "underarm-front"), (sleeve, "underarm-back")
    if made.kind != "ease":
        return (sewn_to(front, back, uids),)
    whole, behind = length(made.front), length(made.back[0])
    at = ELBOW * whole
    ends = (0.0, at - EASED, at + EASED, whole)
    starts = (behind, _behind(behind, whole, at, -1), _behind(behind, whole, at, 1), 0.0)
    return tuple(
        sewn_to(
            front,
            back,
            uids,
            ease=EASE if k == 1 else 0.0,
            a_stretch=(_from_start(ends[k]), _from_start(ends[k + 1])),
            b_stretch=(_from_start(starts[k + 1]), _from_start(starts[k])),
        )
        for k in range(3)
    )


def _from_start(at: float) -> Position:
    return Position(mode="start", value=at)


def _at(curve: Curve, distance: float) -> Array:
    return point(curve, place_at(curve, distance))


def _way(curve: Curve, *, end: bool) -> Array:
    """The direction of the walk at an end."""
    p = curve.controls
    return unit(p[-1, 3] - p[-1, 2]) if end else unit(p[0, 1] - p[0, 0])


def _square(way: Array) -> Array:
    """A quarter turn clockwise on the screen."""
    return np.array([-way[1], way[0]])
