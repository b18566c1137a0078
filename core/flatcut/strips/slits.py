"""A slit bound with one strip on both its sides, as at a cuff: its line on the garment and the strip. mm, y down."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import chain, flatten, line
from flatcut.geometry.region import contains
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Notch, Piece, Position, RunPart, Seam, outline
from flatcut.pattern.walking import point_at, to_drawn
from flatcut.strips.strip import Cutting, drafted, folded_seams
from flatcut.units import plain

STEEP = 0.7
"""Cosine: a straight grain that leaves the edge more steeply than 45° is the way of a slit (common practice, no
source)."""
ROOM = 10.0
"""mm of cloth that stays beside a slit and beyond its top, for its stitching (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Slit:
    """garment: with the line of the slit, its name, and a notch where it opens; strip: what binds it; seams of that."""

    garment: Piece
    line: str
    strip: Piece
    seams: tuple[Seam, ...]


def bound_slit(garment: Piece, edge: Edge, at: float, long: float, wide: float, name: str, uids: Uids) -> Slit:
    """A slit `long` mm deep from a place of an edge, sewn mm from its start, with a strip `wide` mm wide when finished.

    The strip is folded along its length and goes up one side of the slit and down the other. Errors:
    GeometryError where the slit leaves the piece.
    """
    called = free_name("slit", garment.names())
    start, way = _way(garment, edge, to_drawn(edge, at))
    mark = Line(uid=uids.fresh("slit", garment.uid, name), name=called, curve=line(start, start + long * way))
    ring = flatten(chain(outline(garment), within=1e-6), tolerance=0.05)
    aside = np.array([-way[1], way[0]])
    up = start + np.linspace(ROOM, long + ROOM, 60)[:, None] * way
    if not contains(ring, np.concatenate([up, up + ROOM * aside, up - ROOM * aside])).all():
        raise GeometryError(
            f"a slit of {plain(long)} mm leaves {garment.name}, or comes within {plain(ROOM)} mm of another edge; make "
            "it shorter, or place it elsewhere"
        )
    notch = Notch(uid=uids.fresh("notch", mark.uid), edge=edge.uid, at=Position(mode="start", value=at))
    garment = replace(garment, lines=(*garment.lines, mark), notches=(*garment.notches, notch))
    cut = Cutting(long=2 * long, width=wide, layers=2)
    strip = drafted(name, cut, [long], uids)
    pair = garment.cut_as in ("pair", "fold")
    strip = replace(strip, cut_as="pair" if pair else "single", quantity=2 if pair else 1, material=garment.material)
    side = RunPart(piece=garment.uid, of=mark.uid)
    seam = Seam(
        uid=uids.fresh("seam", strip.uid, "slit"),
        a=(RunPart(piece=strip.uid, of=strip.edge("seam").uid),),
        b=(side, replace(side, backwards=True)),
        reversed=True,
    )
    return Slit(garment=garment, line=called, strip=strip, seams=(seam, *folded_seams(strip, cut, uids)))


def _way(garment: Piece, edge: Edge, at: float) -> tuple[Array, Array]:
    """Where a slit starts and its unit direction into the piece: along a straight grain, else square to the edge."""
    start, along = point_at(edge, at)
    along = unit(along)
    into = np.array([-along[1], along[0]])
    ring = flatten(chain(outline(garment), within=1e-6), tolerance=0.05)
    if not contains(ring, (start + into)[None])[0]:
        into = -into
    grain = garment.grain
    if grain is not None and grain.kind == "straight":
        way = unit(grain.end - grain.start)
        way = way if way @ into > 0 else -way
        if way @ into > STEEP:
            return start, way
    return start, into
