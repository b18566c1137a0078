"""Figures of a corner: the angle inside the piece, and how far its allowances reach beyond the seam end."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import line, tangent
from flatcut.geometry.intersect import crossings
from flatcut.marking.cutline import corner_kind
from flatcut.marking.ticks import outward
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.values import Edge, Piece, area

RUN_ON = 1e-5
"""1 less the cosine (0.25°) below which a corner's own line is the straight extension of the cut edge before it."""
FAR = 20.0
"""An end of an allowance is looked for within so many times the wider allowance, and a little more."""


class Meeting(NamedTuple):
    """Where two edges meet: seam end (2,), unit directions (2,) of the first walked on and of the second walked back,
    both out of the piece, and the angle inside the piece in degrees."""

    at: Array
    along: Array
    back: Array
    angle: float


def meeting(piece: Piece, edge: Edge) -> Meeting:
    """The corner at the end of an edge.

    >>> from flatcut.geometry.curves import line
    >>> nodes = [(0, 0), (40, 0), (40, 30), (0, 30)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> edges = tuple(Edge(uid=str(k), name=f"e{k}", parts=(side,)) for k, side in enumerate(sides))
    >>> meeting(Piece(uid="p", name="p", edges=edges), edges[0]).angle
    90.0
    """
    following = piece.after(edge)
    last, first = edge.parts[-1], following.parts[0]
    along, onward = tangent(last, float(len(last)), before=True), tangent(first, 0.0)
    turn = math.degrees(math.atan2(float(cross(along, onward)), float(along @ onward)))
    return Meeting(edge.end, along, -onward, 180.0 - (turn if area(piece) > 0 else -turn))


def reaches(piece: Piece, edge: Edge, cut: CutLine) -> list[tuple[str, float]]:
    """How far the cut line lies from the seam end of the corner at the end of an edge, in mm, with words for it.

    A squared or turned end is measured along the stitch line run on, the others along the bisector.
    """
    found = meeting(piece, edge)
    kind, side = corner_kind(piece, edge)
    if kind in ("squared", "turned"):
        name = edge.name if side == "first" else piece.after(edge).name
        away = ray(cut, found.at, found.along if side == "first" else found.back)
        return [] if away is None else [(f"along {name} run on", away)]
    way = unit(found.along + found.back)
    if not way.any():
        way = outward(piece, found.along)
    away = ray(cut, found.at, way)
    return [] if away is None else [("to its tip", away)]


def ray(cut: CutLine, start: Array, way: Array) -> float | None:
    """mm from a point to the cut line in a direction (unit, (2,)); None where it is not met."""
    box = cut.curve.nodes
    far = FAR + float(np.abs(box - start).max())
    met = crossings(line(start, start + far * way), cut.curve)
    return min((float(np.linalg.norm(c.point - start)) for c in met), default=None)


def allowance_end(piece: Piece, edge: Edge, cut: CutLine, *, at_end: bool) -> Array | None:
    """Where the cut edge of an edge's allowance ends, in the frame of its seam end, (2,) mm: along the stitch line run
    on, and out across the allowance. None where the edge has no cut edge of its own.
    """
    mine = [k for k, owner in enumerate(cut.edges) if owner == edge.uid]
    if not mine:
        return None
    part = edge.parts[-1] if at_end else edge.parts[0]
    seam_end = part.end if at_end else part.start
    way = tangent(part, float(len(part)) if at_end else 0.0, before=at_end)
    out = outward(piece, way)
    if not at_end:
        way = -way
    n, step = len(cut.edges), 1 if at_end else -1
    ends = [k for k in mine if (k + step) % n not in mine]
    if not ends:
        return None

    def tip(k: int) -> Array:
        return np.asarray(cut.curve.controls[k, 3 if at_end else 0])

    last = min(ends, key=lambda k: float(np.linalg.norm(tip(k) - seam_end)))
    while not cut.edges[(last + step) % n] and _runs_on(cut.curve.controls[(last + step) % n], way, at_end=at_end):
        last = (last + step) % n
    found = tip(last) - seam_end
    return np.array([found @ way, found @ out])


def _runs_on(span: Array, way: Array, *, at_end: bool) -> bool:
    """Whether a span (4, 2) of a corner goes straight on with the cut edge before it."""
    chord = unit((span[3] - span[0]) if at_end else (span[0] - span[3]))
    return bool(chord @ way > 1 - RUN_ON)
