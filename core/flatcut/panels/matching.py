"""Matching notches on the edges that a cut has made: above and below the fullest point that the cut goes over."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.nearest import nearest
from flatcut.panels.several import Parts
from flatcut.pattern.notch_setting import twin_of, with_notches
from flatcut.pattern.spots import nearest_drawn, on_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Notch, Pattern, Piece, Position
from flatcut.pattern.walking import sewn_at, sewn_length, to_sewn

ON = 0.1
"""mm: a point this near to an edge lies on it, the width of a pencil line."""
SAME = 0.01
"""mm: a notch this near to where a cut ends stands on the cut."""


def matched(
    pattern: Pattern, cuts: Sequence[Parts], new: Mapping[str, str], reach: float
) -> tuple[Pattern, list[Figure], list[str]]:
    """The pattern with notches on both sides of each new seam, `reach` mm beyond its fullest points; what is told.

    Fullest are the points of the darts that the cut goes along; without any, the named points that it goes through.
    new: the edges that the cuts made, by uid. A seam of neither has none, which is said.
    """
    figures: list[Figure] = []
    said: list[str] = []
    for one in cuts:
        parts = [pattern.piece_of(uid) for uid in one.parts]
        kept = {dart.uid for part in parts for dart in part.darts}
        points = [dart.points[0] for dart in one.piece.darts if dart.uid not in kept and not dart.double]
        named = [point.at for point in one.piece.points]
        for seam in pattern.seams:
            for side in seam.a:
                if side.of not in new or side.piece not in one.parts:
                    continue
                piece = pattern.piece_of(side.piece)
                edge = piece.edge_of(side.of)
                places = _on(edge, points) or _on(edge, named)
                if not places:
                    said.append(
                        f"{piece.name}.{edge.name} goes through no point of a dart and no named point, so it has no "
                        "matching notches; set them with notch"
                    )
                    continue
                wanted = [places[0] - reach, places[-1] + reach]
                inside = [at for at in wanted if 0 < at < sewn_length(edge)]
                if len(inside) < len(wanted):
                    said.append(_short(piece, edge, reach))
                pattern, more = with_notches(pattern, edge.uid, inside, "matching notch")
                figures += more
    return pattern, figures, said


def at_corners(pattern: Pattern, cuts: Sequence[Parts]) -> Pattern:
    """The pattern with each notch that stood where a cut ends in the corner of both parts there."""
    taken = set(pattern.uids())
    uids = Uids(taken)
    for one in cuts:
        for notch in one.piece.notches:
            host = one.piece.edge_of(notch.edge)
            at = on_edge(one.piece, host, sewn_at(host, notch.at)).point
            for uid in one.parts:
                part = pattern.piece_of(uid)
                pattern = pattern.with_piece(_with_corner(part, host, notch, at, uids, taken))
    return pattern


def _with_corner(part: Piece, host: Edge, notch: Notch, at: Array, uids: Uids, taken: set[str]) -> Piece:
    """The part with the notch in the corner where what it has of the edge `host` was cut off, if it lies there.

    taken: uids, which grow.
    """
    for edge in part.edges:
        if edge.uid != host.uid and re.fullmatch(rf"{re.escape(host.name)}(-\d+)?", edge.name) is None:
            continue
        for mode, end in (("start", edge.start), ("end", edge.end)):
            if float(np.hypot(*(end - at))) > SAME:
                continue
            total = sewn_length(edge)
            corner = 0.0 if mode == "start" else total
            if any(n.edge == edge.uid and abs(sewn_at(edge, n.at) - corner) <= SAME for n in part.notches):
                continue
            twin = twin_of(notch.uid)
            uid = uids.fresh("notch", notch.uid, edge.uid) if twin in taken else twin
            taken.add(uid)
            place = Position(mode="start" if mode == "start" else "end", value=0.0)
            part = replace(part, notches=(*part.notches, replace(notch, uid=uid, edge=edge.uid, at=place)))
    return part


def _on(edge: Edge, points: Sequence[Array]) -> list[float]:
    """Sewn mm of the points that lie on an edge, ascending."""
    near = [at for at in points if min(float(nearest(part, np.asarray(at))[1]) for part in edge.parts) <= ON]
    return sorted(to_sewn(edge, nearest_drawn(edge, at)) for at in near)


def _short(piece: Piece, edge: Edge, reach: float) -> str:
    name = f"{piece.name}.{edge.name}"
    return f"{name} ends less than {reach:g} mm from its fullest point, so it has no matching notch there"
