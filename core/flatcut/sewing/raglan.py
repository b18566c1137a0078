"""A half of a sleeve and the part of the body above its raglan line made one.

Common practice, no source: what is cut off front and back along a line from the neck to the armhole is laid on the cap
with its armhole's end at the notch and its shoulder tip a little above the crown; the shoulder runs on into a seam over
the arm. mm, in the plane of the sleeve.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten, point, reverse, section, tangent
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, place_at
from flatcut.geometry.welding import starting_at
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import free_name
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.values import Edge, Piece, area
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import Change
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain

BLENDED = 50.0
"""mm of the cap below the end of the raglan line that are redrawn so that it runs on (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Above:
    """A part of the body above the raglan line, and its edges."""

    piece: Piece
    armhole: Edge
    raglan: Edge
    neck: Edge
    shoulder: Edge


@dataclass(frozen=True, kw_only=True)
class Half:
    """A half of the sleeve. forward: its outline runs along the cap from the underarm to the crown.

    under: mm along the cap from the underarm to where the raglan line comes; lift: mm of the shoulder tip above the
    crown; blend: mm below the crown over which the shoulder runs on into the seam over the arm.
    """

    piece: Piece
    cap: Edge
    over: Edge
    forward: bool
    under: float
    lift: float
    blend: float


@dataclass(frozen=True, kw_only=True)
class Made:
    """change: of the half, with what was above; tip: mm along the seam over the arm from neck to the shoulder's tip;
    aside: mm of the tip beside the crown, above 0 beyond it; kink: degrees at the end of the raglan line."""

    change: Change
    tip: float
    aside: float
    kink: float


def raglan_line(piece: Piece, neck: Array, armhole: Edge, at: float, bow: float, *, tip_at_end: bool) -> Curve:
    """The line from a place of the neckline to one of the armhole, drawn mm from its start, where it runs on into it.

    bow: mm toward the shoulder in its middle.
    """
    part = armhole.parts[0]
    u = place_at(part, at)
    end, way = point(part, u), tangent(part, u)
    way = -way if tip_at_end else way
    chord = unit(end - neck)
    aside = np.array([-chord[1], chord[0]])
    tip = armhole.end if tip_at_end else armhole.start
    aside = aside if float((tip - neck) @ aside) > 0 else -aside
    return flowing([neck, (neck + end) / 2 + bow * aside, end], arrive=way)


def with_above(half: Half, above: Above) -> Made:
    """The half of a sleeve with what was above the raglan line. Errors: UsageError, GeometryError."""
    piece, yoke = half.piece, above.piece
    if (area(piece) > 0) != (area(yoke) > 0):
        raise UsageError(f"{yoke.name} lies mirrored, and {piece.name} does not; flip one of them over first")
    cap = _curve(half.cap, half.forward)
    over = _curve(half.over, half.forward)
    hole = _curve(above.armhole, not half.forward)  # it lies against the cap
    u = place_at(cap, half.under)
    notch, crown = point(cap, u), cap.end
    up = -tangent(over, 0.0)
    motion, aside = _laid(hole, notch, crown, up, half.lift, piece.name)
    laid = moved(yoke, motion)
    raglan, neck, shoulder = (
        _curve(laid.edge_of(e.uid), half.forward) for e in (above.raglan, above.neck, above.shoulder)
    )
    v = place_at(over, half.blend)
    on, way = point(over, v), tangent(over, v)
    arc = flowing([shoulder.end, on], leave=tangent(shoulder, float(len(shoulder)), before=True), arrive=way)
    whole = chain([shoulder, arc, section(over, v, float(len(over)))], within=1e-6)
    raglan = starting_at(raglan, notch)
    low = _fair(section(cap, 0.0, u), tangent(raglan, 0.0))
    walked = [(half.cap, low), (above.raglan, raglan), (above.neck, neck), (half.over, whole)]
    new = [replace(edge, parts=(curve if half.forward else reverse(curve),)) for edge, curve in walked]
    new = new if half.forward else new[::-1]
    order = [edge.uid for edge in piece.edges]
    first = order.index(half.cap.uid if half.forward else half.over.uid)
    turned = [*piece.edges[first:], *piece.edges[:first]]
    edges = [*new, *(edge for edge in turned if edge.uid not in (half.cap.uid, half.over.uid))]
    made = _with_marks(replace(piece, edges=tuple(edges)), laid)
    refuse_overlap(made, advice="lift the shoulder more, or end the raglan line lower")
    rest, before = length(over) - half.blend, length(over)
    total, long = length(cap), length(whole)
    ways: dict[str, Ways] = {
        half.cap.uid: (
            Way(0.0, half.under, half.cap.uid, 0.0, length(low))
            if half.forward
            else Way(total - half.under, total, half.cap.uid, 0.0, length(low)),
        ),
        half.over.uid: (
            Way(half.blend, before, half.over.uid, long - rest, long)
            if half.forward
            else Way(0.0, rest, half.over.uid, 0.0, rest),
        ),
        above.armhole.uid: (),
        above.shoulder.uid: (),
    }
    for edge in (above.raglan, above.neck):
        size = drawn_length(edge)
        ways[edge.uid] = (Way(0.0, size, edge.uid, 0.0, size),)
    keeper = made.edge_of(half.cap.uid if half.forward else above.raglan.uid)
    return Made(
        change=Change(pieces=(made,), ways=ways, gone=(yoke.uid,)),
        tip=length(shoulder),
        aside=aside,
        kink=abs(inside_angle(made, keeper) - 180.0),
    )


def _curve(edge: Edge, forward: bool) -> Curve:
    """The one curve of an edge, from the underarm or the neck on; what is eased in on a shoulder stays eased."""
    if len(edge.parts) != 1 or any(takeup.kind != "ease" for takeup in edge.takeups):
        raise UsageError(f"a dart or fullness stands in {edge.name}; move it elsewhere first")
    return edge.parts[0] if forward else reverse(edge.parts[0])


def _laid(hole: Curve, notch: Array, crown: Array, up: Array, lift: float, name: str) -> tuple[Affine, float]:
    """The motion of a part whose armhole runs from its end at the notch to the shoulder's tip, and mm of that past the
    crown."""
    chord = hole.end - hole.start
    size = float(np.hypot(*chord))
    high = float((crown - notch) @ up) + lift
    if high >= size:
        raise GeometryError(
            f"the armhole above the notch of {name} is {plain(size)} mm long, and its cap {plain(high)} mm high there; "
            "lower the cap, or lift the shoulder less"
        )
    toward = (crown - notch) - float((crown - notch) @ up) * up
    side = unit(toward)
    reach = math.sqrt(size * size - high * high)
    tip = high * up + reach * side
    turn = math.atan2(float(cross(chord, tip)), float(chord @ tip))
    x, y = notch - hole.start
    motion = Affine.translation(float(x), float(y)) @ Affine.rotation(
        turn, (float(hole.start[0]), float(hole.start[1]))
    )
    return motion, reach - float(np.hypot(*toward))


def _fair(low: Curve, arrive: Array) -> Curve:
    """The cap below the raglan line, redrawn near its end so that it runs on into that."""
    size = length(low)
    u = place_at(low, size - min(BLENDED, 0.6 * size))
    end = flowing([point(low, u), low.end], leave=tangent(low, u), arrive=arrive)
    return chain([section(low, 0.0, u), end], within=1e-6)


def _with_marks(piece: Piece, laid: Piece) -> Piece:
    """The half with the lines and points of what was above; the names that it has already get a number."""
    taken = piece.names()
    lines, points = list(piece.lines), list(piece.points)
    for line in laid.lines:
        lines.append(replace(line, name=free_name(line.name, taken)))
        taken.add(lines[-1].name)
    for one in laid.points:
        points.append(replace(one, name=free_name(one.name, taken)))
        taken.add(points[-1].name)
    return replace(piece, lines=tuple(lines), points=tuple(points), holes=(*piece.holes, *laid.holes))


def along_chords(edge: Edge) -> float:
    """mm of an edge along chords, which share nothing with how its length is found."""
    return float(sum(np.hypot(*np.diff(flatten(p, tolerance=0.001), axis=0).T).sum() for p in edge.parts))
