"""An edge carried down along its neighbours, and a seam turned at the hem."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from flatcut.drafting.blending import blended
from flatcut.drafting.ends import (
    across,
    carried,
    end_part,
    neighbour,
    outward,
    refuse_dart,
    squared,
    turned,
    with_end,
)
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, point, reverse, split, tangent, transform
from flatcut.geometry.flowing import flowing, square_to
from flatcut.geometry.length import length, place_at
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.finding import reached
from flatcut.pattern.places import Place
from flatcut.pattern.values import Edge, Piece, area
from flatcut.pattern.walking import drawn_length, to_drawn
from flatcut.reshape.cycle import with_edge

STEPS = 40
"""Steps in which the turn of a seam is sought."""
EXACT = 1e-7
"""mm to which a hem has its share."""
MOST = 0.5
"""Radians beyond which a seam is not swung."""

HEM_REACH = 80.0
"""mm of a hem beside a seam that are drawn anew when that swings, or more where it moves farther (common practice, no
source)."""
HEM_MOST = 0.6
"""The part of a hem that is drawn anew at most."""


def extended(
    piece: Piece, edge: Edge, by: float, flare: float, since: str, *, square: bool, reach: float
) -> tuple[Piece, list[str]]:
    """The piece with an edge carried out by so many mm along its neighbours, and the names of those that were flared.

    flare: mm by which each neighbour that does not lie on the centre line comes to lie farther out at the new edge,
    turned from the line named `since` on, or from the old corner. Errors: UsageError, GeometryError.
    """
    if len(edge.parts) > 1:
        raise UsageError(f"a dart opens on {piece.name}.{edge.name}; pivot it away, or release it, before")
    done: list[str] = []
    made = piece
    beside: list[Edge] = []
    for at_end in (False, True):
        refuse_dart(piece, edge, at_end=at_end)
        other = neighbour(made, edge, at_end=at_end)
        # the neighbour at the end of this edge begins there
        own_end = not at_end
        old = other
        part = carried(end_part(other, at_end=own_end), by, f"{piece.name}.{other.name}")
        if flare and not other.middle:
            stretch = max(by, 0.0) if not since else _since(piece, old, since, at_end=own_end) + by
            if stretch <= 0:
                raise UsageError(f"{piece.name}.{other.name} ends before {since}, so it cannot be flared from there")
            way = outward(with_end(other, part, at_end=own_end), at_end=own_end)
            out = across(piece, way if own_end else -way)
            part, at = turned(part, stretch, part.end + flare * out)
            done.append(f"{piece.name}.{other.name}")
            other = with_end(other, part, at_end=own_end)
            made = with_edge(made, other)
            if 0 < at < length(part) and reach > 0:
                drawn = at + drawn_length(other) - length(part) if own_end else drawn_length(other) - at
                fair = blended(made, other, drawn, min(reach, at, length(part) - at), bends=99)
                if fair is not None:
                    made = fair.piece
                    other = made.edge_of(other.uid)
        else:
            other = with_end(other, part, at_end=own_end)
            made = with_edge(made, other)
        beside.append(other)
    before, after = beside
    own = edge.parts[0]
    if square:
        new = squared(piece, before, after)
    else:
        new = transform(own, Affine.similarity((own.start, own.end), (before.end, after.start)))
        new = ending_at(starting_at(new, before.end), after.start)
    return with_edge(made, replace(edge, parts=(new,))), done


def _since(piece: Piece, edge: Edge, name: str, *, at_end: bool) -> float:
    """mm from an end of an edge back to where a line meets it."""
    place = Place(piece=piece.name, name=edge.name, other=name)
    at = to_drawn(edge, reached(piece, edge, name, place))
    return drawn_length(edge) - at if at_end else at


def swung(piece: Piece, seam: Edge, hem: Edge, stretch: float, radians: float, *, at_end: bool) -> Piece:
    """The piece with the last `stretch` mm of a seam turned rigidly about where they begin, its hem drawn to its end.

    radians: positive outward, so that the piece gains. The hem keeps its course up to some way from the seam, and from
    there it runs on smoothly and arrives square.
    """
    part = end_part(seam, at_end=at_end)
    fixed = point(part, place_at(part, max(0.0, length(part) - stretch)))
    way = outward(seam, at_end=at_end)
    out = across(piece, way if at_end else -way)
    arm = part.end - fixed
    sign = 1.0 if arm[0] * out[1] - arm[1] * out[0] > 0 else -1.0
    turn = Affine.rotation(sign * radians, (float(fixed[0]), float(fixed[1])))
    part, _ = turned(part, stretch, turn.apply(part.end))
    new = with_end(seam, part, at_end=at_end)
    made = with_edge(piece, new)
    if len(hem.parts) > 1:
        raise UsageError(f"a dart opens on {piece.name}.{hem.name}; pivot it away before")
    clockwise = 1.0 if area(piece) > 0 else -1.0
    square = clockwise * square_to(outward(new, at_end=at_end))
    # the hem as it runs toward the seam; what lies farther off than the seam moved by stays as it is drawn
    own = reverse(hem.parts[0]) if at_end else hem.parts[0]
    whole = length(own)
    beside = min(max(HEM_REACH, 2.0 * float(np.hypot(*(part.end - own.end)))), HEM_MOST * whole)
    kept, _ = split(own, place_at(own, whole - beside))
    arrive: Array = -square if at_end else square
    run = flowing([kept.end, part.end], leave=tangent(kept, float(len(kept)), before=True), arrive=arrive)
    curve = chain([kept, ending_at(run, part.end)], within=1e-6)
    curve = reverse(curve) if at_end else curve
    return with_edge(made, replace(hem, parts=(curve,)))


def swing_angle(widths: Callable[[float], float], wanted: float, stretch: float) -> float:
    """Radians at which a hem, told by `widths`, has the wanted length; `stretch`: mm of the seam that turns.

    Errors: GeometryError when it never has it.
    """
    turn, step = 0.0, 0.0
    for _ in range(STEPS):
        off = wanted - widths(turn)
        if abs(off) < EXACT:
            return turn
        # the hem grows by about the turn times the seam's length; what it grows by in fact tells the next step
        rate = stretch if not step else (widths(turn) - widths(turn - step)) / step
        step = off / (rate if rate > 0.2 * stretch else stretch)
        turn += step
        if abs(turn) > MOST:
            break
    raise GeometryError("the seam would have to turn too far for that share of the hems; choose another share or place")
