"""The closed line that is sewn and cut along: the parts of the edges, and caps where cut-in darts are open."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import cross, unit
from flatcut.geometry.curves import Curve, line, section, tangent
from flatcut.pattern.values import Dart, Edge, Piece

LEAST_SINE = 0.1
"""Of the angle between an edge and the leg, below which both are one line."""
KINK = 10.0
"""Degrees: a sharper turn inside an edge is a corner to the offset, which takes turns up to 15° inside one stretch."""


class Rim(NamedTuple):
    """One stretch of the outline as it is offset: an edge's part or half a dart cap, or the step between two halves.

    edge: whose allowance it has; last: an edge's corner is at its end. reach: mm beyond its end that the cut line goes
    at most, where a folded dart in a corner is cut along the other edge there; 0 where no other edge is cut along.
    """

    edge: Edge
    curve: Curve
    dart: Dart | None = None
    last: bool = False
    reach: float = 0.0


def rims(piece: Piece, *, sewn: bool = False) -> list[Rim]:
    """The stretches in outline order. A dart that, folded, has no end is closed by a straight line: see `uncapped`.

    sewn: for the line that is sewn or folded itself; else for its allowance, in which a dart that opens on a hem is the
    mirror image of what is above it.
    """
    found: list[Rim] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            last = k == len(edge.parts) - 1
            dart = piece.cut_in(edge, k)
            stretches = _at_kinks(part)
            found += [Rim(edge=edge, curve=stretch) for stretch in stretches[:-1]]
            if dart is None:
                found.append(Rim(edge=edge, curve=stretches[-1], last=last))
                continue
            from flatcut.marking.caps import AFTER, BEFORE  # only for darts in the outline
            from flatcut.marking.pressed import in_hem, pressed_side

            host = piece.after(edge) if last else edge
            side = pressed_side(piece, dart)
            reach = _other_reach(piece, dart, side) if last else 0.0
            found.append(Rim(edge=edge, curve=stretches[-1], reach=reach if side == BEFORE else 0.0))
            first, second = _halves(piece, dart, turned=in_hem(piece, dart) and not sewn)
            # the folded dart is cut with the edge that it lies on, so its whole cap has that edge's allowance
            found.append(Rim(edge=host if side == AFTER else edge, curve=first, dart=dart))
            if (first.end != second.start).any():
                found.append(Rim(edge=edge, curve=line(first.end, second.start), dart=dart))
            reach = reach if side == AFTER else 0.0
            found.append(Rim(edge=edge if side == BEFORE else host, curve=second, dart=dart, reach=reach))
    return found


def _other_reach(piece: Piece, dart: Dart, side: str) -> float:
    """mm beyond the foot that a dart in a corner is folded over to the cut line of the edge at the other foot.

    Folded, both feet are one corner: what the edge that the dart lies on would give of a tip there is cut away along
    the other edge, up to the leg.
    """
    from flatcut.marking.caps import AFTER
    from flatcut.marking.pressed import beside

    one, before, other, after = beside(piece, dart)
    far, away, foot = (
        (one, -tangent(before, float(len(before)), before=True), dart.feet[0])
        if side == AFTER
        else (other, tangent(after, 0.0), dart.feet[1])
    )
    sine = abs(float(cross(away, unit(dart.points[0] - foot))))
    return width(far) / max(sine, LEAST_SINE)


def _halves(piece: Piece, dart: Dart, *, turned: bool) -> tuple[Curve, Curve]:
    from flatcut.marking.pressed import capped

    try:
        return capped(piece, dart, turned=turned)
    except GeometryError:
        middle = dart.feet.mean(axis=0)
        return line(dart.feet[0], middle), line(middle, dart.feet[1])


def uncapped(piece: Piece) -> list[str]:
    """A sentence for each cut-in dart whose folded end cannot be drawn."""
    said = []
    for dart in piece.darts:
        if dart.form == "cut" and dart.host:
            from flatcut.marking.pressed import capped

            try:
                capped(piece, dart)
            except GeometryError as error:
                said.append(f"{piece.name}.{dart.name} has a straight end for now: {error}")
    return said


def _at_kinks(part: Curve) -> list[Curve]:
    """A part of an edge cut where it turns too sharply for one offset, as it does where a dart was closed."""
    if len(part) == 1:
        return [part]
    inner = np.arange(1, len(part))
    before, after = tangent(part, inner, before=True), tangent(part, inner)
    turn = np.degrees(np.arctan2(np.abs(cross(before, after)), (before * after).sum(axis=-1)))
    places = [0, *(int(k) for k in inner[turn > KINK]), len(part)]
    return [section(part, a, b) for a, b in pairwise(places)]


def width(edge: Edge) -> float:
    """mm of an edge's allowance; an edge of which none was stated has none."""
    return edge.allowance.width if edge.allowance is not None else 0.0
