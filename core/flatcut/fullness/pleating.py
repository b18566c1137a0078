"""Where the pleats along an edge stand, and the lines across the piece on which they are made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.fullness.pleats import FIRST, SECOND
from flatcut.fullness.slashing import FLAT, Slash, rings
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import chain, flatten, line
from flatcut.geometry.intersect import crossings
from flatcut.geometry.region import contains, shared_place
from flatcut.pattern.places import Place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import on_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Piece, checked_name, outline
from flatcut.pattern.walking import sewn_at, sewn_length
from flatcut.units import plain

ALONG = 45.0
"""Degrees: a straight grain that leaves the edge at a flatter angle is not the way that pleats fall."""
NEAR = 1.0
"""mm: a crossing this near to where a line starts is its start."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """Pleats along an edge (uid), one in the middle of each of `count` stretches of `spacing` mm.

    start: sewn mm of the edge where the first stretch begins; across: unit direction (2,) of the lines into the piece;
    aslant: degrees between the edge and a straight grain that they do not follow, None where they do or there is none.
    """

    edge: str
    start: float
    spacing: float
    count: int
    across: Array
    aslant: float | None = None


def row_of(piece: Piece, edge: Edge, place: Place, count: int) -> Row:
    """The row of pleats over an edge or a stretch of it. Errors: UsageError."""
    if (place.at is None) != (place.to is None) or place.other:
        raise UsageError(
            f"'{place}' is one place; pleats stand along an edge or a stretch, such as {edge.name}@5cm..-5cm"
        )
    start = 0.0 if place.at is None else sewn_at(edge, place.at)
    end = sewn_length(edge) if place.to is None else sewn_at(edge, place.to)
    if end <= start:
        raise UsageError(f"the stretch on {edge.name} runs backwards; write the place nearer its start first")
    across, aslant = _across(piece, edge, start, end)
    return Row(edge=edge.uid, start=start, spacing=(end - start) / count, count=count, across=across, aslant=aslant)


def _across(piece: Piece, edge: Edge, start: float, end: float) -> tuple[Array, float | None]:
    """The way of the pleats: along a straight grain that runs across the edge, else square to the stretch.

    With the degrees between the stretch and a grain that is not followed, else None.
    """
    first, last = on_edge(piece, edge, start).point, on_edge(piece, edge, end).point
    chord = unit(last - first)
    into = np.array([-chord[1], chord[0]])
    middle = on_edge(piece, edge, (start + end) / 2)
    assert middle.tangent is not None
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=FLAT)
    if not contains(ring, (middle.point + into)[None])[0]:
        into = -into
    grain = piece.grain
    if grain is not None and grain.kind == "straight":
        along = unit(grain.end - grain.start)
        along = along if along @ into > 0 else -along
        if along @ into > np.cos(np.radians(ALONG)):
            return along, None
        return into, 90.0 - float(np.degrees(np.arccos(np.clip(along @ into, -1.0, 1.0))))
    return into, None


def pleat_lines(piece: Piece, row: Row, places: Sequence[float], name: str, uids: Uids) -> list[Line]:
    """The lines of pleats at places (sewn mm) of the row's edge, each up to the outline on the other side.

    Errors: UsageError for a name that cannot be one, GeometryError where no line can be drawn.
    """
    checked_name(name, kind="pleats' name")
    edge = piece.edge_of(row.edge)
    taken, found = piece.names(), []
    curves = outline(piece)
    nodes = np.concatenate([curve.nodes for curve in curves])
    far = 2 * float(np.hypot(*(nodes.max(axis=0) - nodes.min(axis=0))))
    for at in places:
        start = on_edge(piece, edge, at).point
        ray = line(start, start + far * row.across)
        met = [c for curve in curves for c in crossings(ray, curve) if c.u * far > NEAR]
        if not met:
            raise GeometryError(f"the pleat at {plain(at)} mm of {piece.name}.{edge.name} does not run into the piece")
        end = min(met, key=lambda c: c.u).point
        label = numbered(name, taken)
        taken.add(label)
        found.append(Line(uid=uids.fresh("pleat", piece.uid, label), name=label, curve=line(start, end)))
    return found


def refuse_on_darts(piece: Piece, cut: Slash, pressed: str, under: tuple[float, float]) -> None:
    """Errors: GeometryError with the place where the pleat on a line would touch a dart, or be folded over one.

    pressed: FIRST or SECOND part of the piece over which it is folded, OPEN for both; under: mm of folded cloth at the
    line's start and at its end. The end of a folded pleat has the shape of the edge that it lies over, and at a dart
    that is not one line.
    """
    start, end = cut.line.curve.start, cut.line.curve.end
    way = unit(end - start)
    across = np.array([-way[1], way[0]])
    off = cross(way, rings(cut)[0] - start)
    # on which side of the line, seen along it, the folded cloth lies; 0 for both
    side = {FIRST: 1.0, SECOND: -1.0}.get(pressed, 0.0) * float(np.sign(off[np.abs(off).argmax()]))
    for dart in piece.darts:
        covered = side * float(cross(way, dart.points[0] - start)) >= 0
        aside = [(max(width, NEAR) if covered else NEAR) * across for width in under]
        strip = np.array([start + aside[0], end + aside[1], end - aside[1], start - aside[0]])
        met = shared_place(strip, np.concatenate([flatten(leg, tolerance=FLAT) for leg in dart.legs]))
        if met is not None:
            raise GeometryError(
                f"the pleat {piece.name}.{cut.line.name} would be folded over the dart {piece.name}.{dart.name} near"
                f" x {plain(float(met[0]))}, y {plain(float(met[1]))} mm; put the pleats beside the dart, make them"
                " shallower, or release the dart first"
            )
