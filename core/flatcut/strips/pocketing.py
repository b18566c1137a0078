"""Pockets: patches and flaps with their placement on the garment, and bags set into a seam. mm, y down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line, polyline, transform
from flatcut.geometry.flowing import flowing
from flatcut.geometry.region import contains
from flatcut.pattern.assembling import Side, assembled
from flatcut.pattern.graining import downward, laid
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Grain, Hole, Line, Piece, RunPart, Seam, outline
from flatcut.pattern.walking import drawn_length

INSIDE = 3.0
"""mm that drill holes lie inside the corners of a pocket (Joseph-Armstrong, Patternmaking for Fashion Design, from
memory)."""

SLOPE = 0.6
"""How steeply a bag falls away from the ends of its opening."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """garment: with the placement line and its drill holes; pieces; seams between them."""

    garment: Piece
    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...]


def patch(
    garment: Piece, at: Array, name: str, *, wide: float, deep: float, point: float, turn: float, uids: Uids
) -> Placed:
    """A patch pocket about the middle of its opening. point: mm that its bottom is longer in the middle."""
    corners = [(-wide / 2, 0.0), (-wide / 2, deep), (0.0, deep + point), (wide / 2, deep), (wide / 2, 0.0)]
    if point <= 0:
        del corners[2]
    nodes = np.array(corners)
    piece = assembled(
        name,
        [
            Side(name="opening", parts=(line(nodes[0], nodes[-1]),), use="hem"),
            Side(name="edge", parts=(polyline(nodes[::-1]),)),
        ],
        uids,
        grain=(nodes[0], nodes[1]),
        cut_as=_cut(garment),
    )
    piece = _grained(piece, np.array([0.0, 1.0]))
    placed = _placed(garment, at, turn)
    inner = [(-wide / 2 + INSIDE, INSIDE), (wide / 2 - INSIDE, INSIDE)]
    mark = _line(garment, name, transform(polyline(nodes[::-1]), placed), uids)
    garment = _marked(garment, mark, [placed.apply(np.array(one)) for one in inner], uids)
    seam = _onto(piece, "edge", garment, mark, uids)
    return Placed(garment=garment, pieces=(piece,), seams=(seam,))


def flap(
    garment: Piece,
    at: Array,
    names: Sequence[str],
    *,
    wide: float,
    deep: float,
    point: float,
    turn: float,
    under: float,
    uids: Uids,
) -> Placed:
    """A flap and what it is lined with, `under` mm smaller; sewn along a line through a place of the garment."""
    made = []
    for name, less in zip(names, (0.0, under), strict=True):
        corners = [(-wide / 2, 0.0), (-wide / 2, deep - less), (0.0, deep + point - less), (wide / 2, deep - less)]
        nodes = np.array([*corners, (wide / 2, 0.0)])
        if point <= 0:
            nodes = np.delete(nodes, 2, axis=0)
        sides = [
            Side(name="seam", parts=(line(nodes[0], nodes[-1]),)),
            Side(name="edge", parts=(polyline(nodes[::-1]),)),
        ]
        piece = assembled(name, sides, uids, grain=(nodes[0], nodes[1]), cut_as=_cut(garment))
        made.append(_grained(piece, np.array([0.0, 1.0])))
    placed = _placed(garment, at, turn)
    ends = placed.apply(np.array([(-wide / 2, 0.0), (wide / 2, 0.0)]))
    mark = _line(garment, names[0], line(ends[0], ends[1]), uids)
    garment = _marked(garment, mark, [], uids)
    one, two = (RunPart(piece=p.uid, of=p.edge("edge").uid) for p in made)
    ease = drawn_length(made[1].edge("edge")) - drawn_length(made[0].edge("edge"))
    seams = [_onto(piece, "seam", garment, mark, uids) for piece in made]
    seams.append(Seam(uid=uids.fresh("seam", made[0].uid, "edge"), a=(one,), b=(two,), ease=ease))
    return Placed(garment=garment, pieces=tuple(made), seams=tuple(seams))


def bag(name: str, *, opening: float, wide: float, deep: float, uids: Uids) -> Piece:
    """One side of a bag in a seam: its opening upright at the left, `deep` mm from there to the bottom."""
    if deep <= opening + 20:
        raise UsageError("the bag is no deeper than its opening; make it deeper")
    if wide < 60:
        raise GeometryError(f"a bag {wide:g} mm wide holds no hand; make it wider")
    ends = np.array([0.0, 0.0]), np.array([0.0, opening])
    through = [np.array(p) for p in ((wide * 0.9, deep * 0.45), (wide * 0.72, deep * 0.95), (wide * 0.3, deep * 0.9))]
    slope = np.array([1.0, SLOPE]) / math.hypot(1.0, SLOPE)
    shape = flowing([ends[0], *through, ends[1]], leave=slope, arrive=-slope)
    sides = [Side(name="bag", parts=(shape,)), Side(name="opening", parts=(line(ends[1], ends[0]),))]
    piece = assembled(name, sides, uids, grain=ends, cut_as="pair")
    return _grained(piece, np.array([0.0, 1.0]))


def inside(garment: Piece, curve: Curve) -> bool:
    """Whether a line lies on a piece."""
    ring = flatten(chain(outline(garment), within=1e-6), tolerance=0.05)
    return bool(contains(ring, flatten(curve, tolerance=1.0)).all())


def _placed(garment: Piece, at: Array, turn: float) -> Affine:
    """From the pocket's own drawing to the garment: its opening across the grain, turned clockwise by degrees."""
    down = np.array([0.0, 1.0])
    if garment.grain is not None:
        way = garment.grain.end - garment.grain.start
        down = downward(garment, way / np.linalg.norm(way))
    angle = math.atan2(-float(down[0]), float(down[1])) + math.radians(turn)
    return Affine.translation(float(at[0]), float(at[1])) @ Affine.rotation(angle)


def _line(garment: Piece, name: str, curve: Curve, uids: Uids) -> Line:
    if not inside(garment, curve):
        raise GeometryError(f"the {name} would lie beyond {garment.name}; place it farther inside, or make it smaller")
    if name in garment.names():
        raise UsageError(f"{garment.name} has a '{name}' already; give the pocket another name")
    return Line(uid=uids.fresh("line", garment.uid, name), name=name, curve=curve, kind="placement")


def _marked(garment: Piece, mark: Line, holes: Sequence[Array], uids: Uids) -> Piece:
    drilled = tuple(Hole(uid=uids.fresh("hole", mark.uid, str(k)), at=at) for k, at in enumerate(holes))
    return replace(garment, lines=(*garment.lines, mark), holes=(*garment.holes, *drilled))


def _onto(piece: Piece, edge: str, garment: Piece, mark: Line, uids: Uids) -> Seam:
    """The seam of a pocket's edge with its placement line; both are drawn the same way round."""
    a, b = RunPart(piece=piece.uid, of=piece.edge(edge).uid), RunPart(piece=garment.uid, of=mark.uid)
    return Seam(uid=uids.fresh("seam", piece.uid, edge), a=(a,), b=(b,))


def _cut(garment: Piece) -> str:
    """A pocket is there as often as the part of the garment that it lies on."""
    return "pair" if garment.cut_as in ("pair", "fold") else "single"


def _grained(piece: Piece, way: Array) -> Piece:
    start, end, _ = laid(piece, way)
    return replace(piece, grain=Grain(start=start, end=end))
