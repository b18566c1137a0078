"""New edges of a cut that end where two of its lines meet in a corner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import tangent
from flatcut.geometry.nearest import nearest
from flatcut.panels.links import MEET
from flatcut.pattern.renewing import free_name
from flatcut.pattern.tracing import CORNER_ANGLE
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Pattern, Piece, RunPart, Seam
from flatcut.pattern.walking import drawn_length, drawn_of, points_at, sewn_length, to_drawn, to_sewn
from flatcut.reshape.change import applied
from flatcut.reshape.splitting import split_edge


def met(lines: Sequence[Line]) -> list[Array]:
    """The places (2,) at which ends of lines meet each other."""
    ends = [(k, at) for k, one in enumerate(lines) for at in (one.curve.start, one.curve.end)]
    return [p for (i, p), (j, q) in combinations(ends, 2) if i != j and float(np.hypot(*(p - q))) <= MEET]


def ended_at_corners(pattern: Pattern, new: Mapping[str, str], lines: Sequence[Line], name: str) -> Pattern:
    """The pattern with the new edges (uids) of a cut ended where its lines meet in a corner, as an outline's edges do.

    What is sewn to each other has one name: that of its line, or `name` where one is given; more stretches of it are
    numbered.
    """
    places = met(lines)
    if not places:
        return pattern
    for seam in pattern.seams:
        if len(seam.a) == len(seam.b) == 1 and {seam.a[0].of, seam.b[0].of} <= set(new):
            corners = _corners(pattern, seam.a[0], places)
            mates = _corners(pattern, seam.b[0], places)
            if corners and len(corners) == len(mates):
                pattern = _ended(pattern, seam, corners, mates, [] if name else lines)
    return pattern


def _edge(pattern: Pattern, part: RunPart) -> tuple[Piece, Edge]:
    piece = pattern.piece_of(part.piece)
    return piece, piece.edge_of(part.of)


def _corners(pattern: Pattern, part: RunPart, places: Sequence[Array]) -> list[float]:
    """Sewn mm along an edge at which it turns sharply where lines met."""
    _, edge = _edge(pattern, part)
    found = []
    for k, curve in enumerate(edge.parts):
        for node in range(1, len(curve)):
            one, two = tangent(curve, float(node), before=True), tangent(curve, float(node))
            turn = np.degrees(np.arccos(np.clip(float(one @ two), -1.0, 1.0)))
            near = min(float(np.hypot(*(curve.nodes[node] - at))) for at in places)
            if turn > CORNER_ANGLE and near <= MEET:
                found.append(to_sewn(edge, drawn_of(edge, k, float(node))))
    return found


def _ended(
    pattern: Pattern, seam: Seam, corners: Sequence[float], mates: Sequence[float], lines: Sequence[Line]
) -> Pattern:
    """The pattern with both edges of a seam ended at corners, and a seam for each stretch."""
    (one, edge), (two, mate) = (_edge(pattern, part) for part in (seam.a[0], seam.b[0]))
    taken = (one.names() | two.names()) - {edge.name}
    bounds = [0.0, *(to_drawn(edge, at) for at in corners), drawn_length(edge)]
    names: list[str] = []
    for at in points_at(edge, np.array([(a + b) / 2 for a, b in pairwise(bounds)])):
        line = _nearest(lines, at)
        names.append(free_name(line.name if line is not None else edge.name, taken | set(names)))
    pattern = _split(pattern, one, edge, corners, names)
    pattern = _split(pattern, two, mate, mates, names[::-1] if seam.reversed else names)
    own, its = (pattern.piece_of(piece.uid) for piece in (one, two))
    uids = Uids(pattern.uids())
    made = [
        replace(
            seam,
            uid=seam.uid if not k else uids.fresh("seam", seam.uid, name),
            a=(RunPart(piece=own.uid, of=own.edge(name).uid),),
            b=(RunPart(piece=its.uid, of=its.edge(name).uid),),
            ease=0.0,
        )
        for k, name in enumerate(names)
    ]
    gone = {own.edge(name).uid for name in names}
    kept = [s for s in pattern.seams if not gone & {part.of for part in (*s.a, *s.b)}]
    return replace(pattern, seams=(*kept, *made))


def _nearest(lines: Sequence[Line], at: Array) -> Line | None:
    """The line that lies nearest to a place (2,); None where there is none."""
    away = [float(nearest(line.curve, at)[1]) for line in lines]
    return lines[int(np.argmin(away))] if away else None


def _split(pattern: Pattern, piece: Piece, edge: Edge, at: Sequence[float], names: Sequence[str]) -> Pattern:
    """The pattern with an edge split at places (sewn mm, ascending) in stretches of these names."""
    uid = edge.uid
    for k, (_, place) in reversed(list(enumerate(pairwise([0.0, *at])))):
        held = pattern.piece_of(piece.uid)
        whole = held.edge_of(uid)
        assert 0.0 < place < sewn_length(whole)
        pattern = applied(pattern, split_edge(pattern, held, whole, place, names=(names[0], names[k + 1]))).pattern
    return pattern
