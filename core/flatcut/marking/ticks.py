"""Notch ticks: on the stitch line's normal at the notch's place, out to the cut line, with the notch's shape there.

At the foot of a dart the tick lies along the leg run on, as the leg runs on through the allowance: so the ticks of both
feet lie on each other once the dart is folded. In a hem the leg is sewn on as the mirror image of what is above it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, point, polyline, tangent
from flatcut.geometry.nearest import nearest
from flatcut.marking.pressed import legs_sewn_on
from flatcut.pattern.spots import nearest_drawn, on_edge
from flatcut.pattern.values import Dart, Edge, Notch, Piece, TakeUp, area
from flatcut.pattern.walking import drawn_of, part_at, point_at, sewn_at, sewn_length, to_drawn, to_sewn
from flatcut.pattern.widths import width_at

REACH = 400.0
"""mm: no allowance is wider."""
HAIR = 0.02
"""mm from a corner within which a tick's way out is looked for beside it."""
AT_FOOT = 0.01
"""mm: a notch this near to a dart's mouth stands at its feet."""
FOLDED = ("pleat", "tuck")
JOINT = 1e-6
"""A place this near to a joint of a curve is the joint."""
WITHIN = 0.5
"""mm: a line this near to a place of an edge ends there; a placement line so far inside a pleat is its middle."""
MOUTH = 1.0
"""Width of a V, castle or U notch as a part of its depth (common practice, no source)."""
BAR = 0.8
"""Width of the bar of a T notch as a part of its depth (common practice, no source)."""
ROUND = 4 / 3 * math.tan(math.pi / 8)
"""Handles of a quarter circle as a part of its radius."""


@dataclass(frozen=True, kw_only=True)
class Tick:
    """One drawn notch: from stitch line (foot) to cut line (tip); straight is false when the normal missed that.

    shape: the notch itself, to scale, beginning on the cut line; line: what joins it to the stitch line.
    """

    notch: Notch
    foot: Array
    tip: Array
    straight: bool = True
    shape: tuple[Curve, ...] = ()
    line: tuple[Curve, ...] = ()

    @property
    def curves(self) -> tuple[Curve, ...]:
        """All that is drawn."""
        return (*self.line, *self.shape)


def outward(piece: Piece, tangent: Array) -> Array:
    """The unit normal that points out of the piece, to the left of a clockwise walker."""
    left = np.array([tangent[1], -tangent[0]])
    return left if area(piece) > 0 else -left


def standings(piece: Piece, edge: Edge, sewn: float) -> list[tuple[Array, Array]]:
    """Where a notch at a sewn distance stands: points (2,) and the directions (2,) out of the piece.

    One place, or both feet of a dart that opens there, or both folds of a pleat.
    """
    feet = [foot for dart in piece.darts if not dart.double for foot in _feet(piece, dart, edge, sewn)]
    feet = feet or _folds(piece, edge, sewn)
    if feet:
        return feet
    spot = on_edge(piece, edge, sewn)
    assert spot.tangent is not None
    return [(spot.point, outward(piece, spot.tangent))]


def _folds(piece: Piece, edge: Edge, sewn: float) -> list[tuple[Array, Array]]:
    """Both ends of a pleat or tuck that is folded at a sewn distance, with the ways out of the edge beside them."""
    for takeup in edge.takeups:
        whole = takeup.amount >= takeup.end - takeup.start - AT_FOOT
        if takeup.kind in FOLDED and whole and abs(to_sewn(edge, takeup.start) - sewn) <= AT_FOOT:
            found = []
            for at, before in ((takeup.start, True), (takeup.end, False)):
                k, u = part_at(edge, at)
                u = float(round(u)) if abs(u - round(u)) < JOINT else u
                way = tangent(edge.parts[k], u, before=before or u >= len(edge.parts[k]))
                found.append((point(edge.parts[k], u), outward(piece, way)))
            middle = _met_within(piece, edge, takeup)
            return found if middle is None else [found[0], middle, found[1]]
    return []


def _met_within(piece: Piece, edge: Edge, takeup: TakeUp) -> tuple[Array, Array] | None:
    """Where both folds of a pleat meet between them, as those of an inverted one do: the end of a placement line."""
    for inner in piece.lines:
        for end in (inner.curve.start, inner.curve.end) if inner.kind == "placement" else ():
            at = nearest_drawn(edge, end)
            if takeup.start + WITHIN < at < takeup.end - WITHIN:
                there, way = point_at(edge, at)
                if np.linalg.norm(there - end) < WITHIN:
                    return end, outward(piece, way)
    return None


def at_dart(piece: Piece, edge: Edge, sewn: float) -> bool:
    """Whether a dart opens at a sewn distance of an edge."""
    return any(_feet(piece, dart, edge, sewn) for dart in piece.darts if not dart.double)


def _feet(piece: Piece, dart: Dart, edge: Edge, sewn: float) -> list[tuple[Array, Array]]:
    """The feet of a dart at a sewn distance of an edge, each with the direction in which its leg is sewn on."""
    host = piece.edge_of(dart.host)
    ways = legs_sewn_on(piece, dart)
    first, second = (dart.legs[0].start, ways[0]), (dart.legs[1].end, ways[1])
    if dart.form == "lines":
        if host.uid != edge.uid:
            return []
        at = [to_sewn(edge, nearest_drawn(edge, foot)) for foot, _ in (first, second)]
        return [foot for foot, place in zip((first, second), at, strict=True) if abs(place - sewn) <= AT_FOOT]
    if dart.after == len(host.parts) - 1:
        ends = [first] if host.uid == edge.uid and sewn_length(edge) - sewn <= AT_FOOT else []
        starts = [second] if piece.after(host).uid == edge.uid and sewn <= AT_FOOT else []
        return [*ends, *starts]
    if host.uid != edge.uid:
        return []
    mouth = to_sewn(edge, drawn_of(edge, dart.after, float(len(edge.parts[dart.after]))))
    return [first, second] if abs(mouth - sewn) <= AT_FOOT else []


def places(edge: Edge, notch: Notch) -> list[float]:
    """The sewn distances of a notch's marks; a row that would stick out over an end of the edge is moved in.

    Errors: UsageError when the notch lies beyond its edge.
    """
    middle, half = sewn_at(edge, notch.at), (notch.count - 1) / 2 * notch.apart
    total = sewn_length(edge)
    if total >= 2 * half:
        middle = min(max(middle, half), total - half)
    return [min(max(middle - half + k * notch.apart, 0.0), total) for k in range(notch.count)]


def ticks(piece: Piece, notch: Notch, cut: Curve | None) -> list[Tick]:
    """The ticks of a notch; without a cut line the shape stands on the stitch line.

    Errors: UsageError when the notch lies beyond its edge.
    """
    edge = piece.edge_of(notch.edge)
    total = sewn_length(edge)
    found = []
    for sewn in places(edge, notch):
        # at a corner the way out can run along the next edge's cut line: it is looked for a hair inside the edge
        inside = min(max(sewn, HAIR), total - HAIR) - sewn
        wide = width_at(edge, to_drawn(edge, sewn))
        for foot, way in standings(piece, edge, sewn):
            aside = inside * (np.array([-way[1], way[0]]) if area(piece) > 0 else np.array([way[1], -way[0]]))
            tip, straight = (foot + aside, True) if cut is None else _out_to(foot + aside, way, cut, wide)
            tip = tip - aside
            found.append(_tick(notch, foot, tip, way, straight=straight))
    return found


def _out_to(foot: Array, way: Array, cut: Curve, wide: float) -> tuple[Array, bool]:
    """Where a tick meets the cut line, and whether it does so on its way straight out; wide: mm of allowance there."""
    met = sorted(away for away in _met(cut, foot, way) if -1e-3 <= away <= REACH)
    if met and met[0] <= 3 * wide + 1.0:
        return foot + met[0] * way, True
    nearest_u, reach = nearest(cut, foot)
    # past a sharp corner the normal can miss the near cut line and meet the far side of the piece
    if met and met[0] <= 3 * float(reach) + 1.0:
        return foot + met[0] * way, True
    return np.asarray(point(cut, nearest_u)), False


def _met(cut: Curve, start: Array, way: Array) -> list[float]:
    """How far along a straight line (unit `way`) it meets a curve, mm."""
    side = np.array([-way[1], way[0]])
    u, v = (cut.controls - start) @ way, (cut.controls - start) @ side
    near = np.flatnonzero((v.min(axis=1) <= 0) & (v.max(axis=1) >= 0) & (u.max(axis=1) >= -1.0))
    found: list[float] = []
    for k in near.tolist():
        if cut.straight[k]:
            a, b = v[k, 0], v[k, 3]
            places = np.array([a / (a - b)]) if a != b else np.array([0.0, 1.0])
        else:
            p = v[k]
            power = [p[3] - 3 * p[2] + 3 * p[1] - p[0], 3 * (p[2] - 2 * p[1] + p[0]), 3 * (p[1] - p[0]), p[0]]
            roots = np.roots(power)
            places = roots.real[np.abs(roots.imag) < 1e-9]
        t = places[(places >= -1e-9) & (places <= 1 + 1e-9)]
        weights = np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3])
        found += (u[k] @ weights).tolist()
    return found


def _tick(notch: Notch, foot: Array, tip: Array, way: Array, *, straight: bool) -> Tick:
    room = float(np.linalg.norm(tip - foot))
    if room > 0.1:
        way = (tip - foot) / room
    into = way if notch.into == "out" else -way
    shape = notch_shape(notch.kind, tip, into, notch.depth)
    inner = tip if notch.into == "out" or notch.kind in ("slit", "t") else tip + notch.depth * into
    hidden = notch.depth if notch.into == "in" else 0.0
    joined = (line(foot, inner),) if room > hidden + 0.05 else ()
    if notch.kind == "slit" and notch.into == "in" and joined:
        shape = ()  # the line to the stitch line runs over it
    return Tick(notch=notch, foot=foot, tip=tip, straight=straight, shape=shape, line=joined)


def notch_shape(kind: str, tip: Array, into: Array, depth: float) -> tuple[Curve, ...]:
    """The cut of a notch, from the cut line at `tip` (2,) in the direction `into` (unit, (2,)), `depth` mm deep.

    >>> notch_shape("v", np.array([0.0, 0.0]), np.array([0.0, 1.0]), 6.0)[0].nodes
    array([[-3.,  0.],
           [ 0.,  6.],
           [ 3.,  0.]])
    """
    side = np.array([into[1], -into[0]])
    bottom, half = tip + depth * into, MOUTH * depth / 2 * side
    if kind == "v":
        return (polyline([tip - half, bottom, tip + half]),)
    if kind == "castle":
        return (polyline([tip - half, bottom - half, bottom + half, tip + half]),)
    if kind == "u":
        radius = MOUTH * depth / 2
        low, grip = tip + (depth - radius) * into, ROUND * radius * into
        one = cubic(low - half, low - half + grip, bottom - ROUND * half, bottom)
        two = cubic(bottom, bottom + ROUND * half, low + half + grip, low + half)
        return (chain([line(tip - half, low - half), one, two, line(low + half, tip + half)]),)
    if kind == "t":
        bar = BAR * depth / 2 * side
        return (line(tip, bottom), line(bottom - bar, bottom + bar))
    return (line(tip, bottom),)
