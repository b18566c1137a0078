"""The allowances and corners of a piece, found again from its stitch line and the boundary that was cut around it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.marking.ticks import outward
from flatcut.pattern.values import Allowance, Corner, Edge, Piece
from flatcut.pattern.walking import drawn_length, point_at

WITHIN = 0.1
"""mm: a cut line made from widths and corners that lies this near to the one that was read is that one."""
ABOUT = 2.5
"""How many widths from a corner its cut line is looked at."""
LEAST = 8.0
"""mm from a corner that are looked at in any case."""
LONG = 9.0
"""Widths that a mitre may be long where it was not cut off: far beyond what is usual, since it is there."""
FINE = 0.02
"""mm that points on a line that is compared may leave it."""
SIXTEENTH = 25.4 / 16
"""mm: widths are whole tenths of a mm, or sixteenths of an inch."""


def with_allowances(piece: Piece, boundary: Curve) -> Piece | None:
    """The piece with widths and corners that give the boundary within WITHIN; None where none that is tried does.

    Corners are tried one kind after the other, each only where none before has given what lies about it.
    """
    edges = tuple(replace(e, allowance=Allowance(width=width_of(piece, e, boundary))) for e in piece.edges)
    bare = replace(piece, edges=edges)
    about = [max(ABOUT * max(_widest(edge), _widest(bare.after(edge))), LEAST) for edge in edges]
    points = flatten(boundary, tolerance=FINE)
    off, best = [np.inf] * len(edges), [Corner() for _ in edges]
    for way, corners in enumerate(_ways(bare)):
        tried = [best[k] if off[k] <= WITHIN else corner for k, corner in enumerate(corners)]
        curve = _made(bare, tried)
        if curve is None:
            continue
        if way == 0 and apart(curve, boundary) <= WITHIN:
            return bare
        drawn = flatten(curve, tolerance=FINE)
        for k, edge in enumerate(edges):
            if off[k] > WITHIN:
                here, there = _near(points, edge, about[k]), _near(drawn, edge, about[k])
                away = max(float(nearest(curve, here)[1].max()), float(nearest(boundary, there)[1].max()))
                if away < off[k]:
                    off[k], best[k] = away, tried[k]
        if max(off) <= WITHIN:
            break
    found = _cornered(bare, best)
    return found if np.isfinite(off).all() and _fits(found, boundary) else None


def width_of(piece: Piece, edge: Edge, boundary: Curve) -> float:
    """The width along the middle of an edge, straight out from it, as a cutter would say it."""
    ring = flatten(boundary, tolerance=FINE)
    found = []
    for drawn in (np.linspace(0.2, 0.8, 13) * drawn_length(edge)).tolist():
        at, way = point_at(edge, drawn)
        away = _straight_out(ring, at, outward(piece, way))
        if away is not None:
            found.append(away)
    middle = float(np.median(found)) if found else 0.0
    usual = (round(middle, 1), round(middle / SIXTEENTH) * SIXTEENTH)
    best = min(usual, key=lambda width: abs(width - middle))
    return best + 0.0 if abs(best - middle) < 0.02 else round(middle, 3)


def _straight_out(ring: Array, at: Array, way: Array) -> float | None:
    """mm from a place (2,) in a direction to a ring of points (n, 2), where it meets it first."""
    side = np.array([-way[1], way[0]])
    u, v = (ring - at) @ way, (ring - at) @ side
    a, b = v[:-1], v[1:]
    crossed = ((a <= 0) & (b > 0)) | ((a > 0) & (b <= 0))
    with np.errstate(divide="ignore", invalid="ignore"):
        met = u[:-1] + (u[1:] - u[:-1]) * a / (a - b)
    away = met[crossed & (met > -0.05)]
    return None if not len(away) else max(0.0, float(away.min()))


def _ways(piece: Piece) -> Iterator[list[Corner]]:
    """Corners all of one kind, in each way that there is, the most usual first."""
    edges, after = piece.edges, [piece.after(edge) for edge in piece.edges]
    yield [Corner() for _ in edges]
    for kind in ("squared", "turned"):
        yield [Corner(kind=kind, through=edge.uid) for edge in edges]
        yield [Corner(kind=kind, through=edge.uid) for edge in after]
    yield [Corner(kind="mitred") for _ in edges]
    yield [Corner(kind="mitred", limit=LONG) for _ in edges]
    yield [Corner(kind="bevelled") for _ in edges]


def _cornered(piece: Piece, corners: list[Corner]) -> Piece:
    edges = (replace(edge, corner=corner) for edge, corner in zip(piece.edges, corners, strict=True))
    return replace(piece, edges=tuple(edges))


def _made(piece: Piece, corners: list[Corner]) -> Curve | None:
    """The cut line with these corners, None where there can be none."""
    try:
        made = cut_line(_cornered(piece, corners))
    except FlatcutError:
        return None
    return None if made is None else made.curve


def _fits(piece: Piece, boundary: Curve) -> bool:
    made = _made(piece, [edge.corner for edge in piece.edges])
    return made is not None and apart(made, boundary) <= WITHIN


def _widest(edge: Edge) -> float:
    return 0.0 if edge.allowance is None else edge.allowance.width


def _near(points: Array, edge: Edge, far: float) -> Array:
    """Points (n, 2) of a line about the corner at the end of an edge."""
    away = np.hypot(*(points - edge.end).T)
    near = points[away <= far]
    return near if len(near) else points[[int(np.argmin(away))]]


def apart(one: Curve, other: Curve) -> float:
    """mm between two lines where they lie farthest from each other."""
    there = nearest(other, flatten(one, tolerance=FINE))[1].max()
    return float(max(there, nearest(one, flatten(other, tolerance=FINE))[1].max()))
