"""What a lining does not share with its piece: what is faced is left out, and the centre back has an ease pleat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.copies.widths import rigid
from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.pattern.renewing import free_name
from flatcut.pattern.sources import looks
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Pattern, Piece, Position, Seam, TakeUp, area
from flatcut.pattern.walking import drawn_length

ON = 0.02
"""mm: an end of the facing's edge that lies so near to the outline lies on it."""
ALIKE = 0.05
"""mm: edges that differ by less are of one length."""
BEYOND = 20.0
"""mm that the facing's edge is drawn on beyond its end: its seams may be shorter by what it rolls."""
LOOSE = 0.5
"""mm of a facing's edge below the hem of a lining that are left out of their seam."""
EASED = 10.0
"""mm that a lining may be longer than the facing it is sewn to: that of roll at both ends, and no more."""


def faced_edges(pattern: Pattern, piece: Piece, facing: Piece) -> list[Edge]:
    """The edges of a piece that are sewn to a facing of it."""
    own = {edge.uid for edge in facing.edges}
    met = {a.of for s in pattern.seams for a, b in ((s.a[0], s.b[0]), (s.b[0], s.a[0])) if b.of in own}
    return [edge for edge in piece.edges if edge.uid in met]


def facing_lines(pattern: Pattern, piece: Piece, facing: Piece, lining: Piece, uids: Uids) -> tuple[Line, ...]:
    """The free edge of a facing as a line on the lining, from edge to edge, in parts where a dart opens in it.

    Errors: UsageError where the facing lies on the lining no more.
    """
    edges = faced_edges(pattern, piece, facing)
    inner = facing.edges[-1]
    name = free_name(inner.name, lining.names())
    closed = [d for d in lining.darts if d.form == "cut" and d.host in {lining.edge(edge.name).uid for edge in edges}]
    if closed:
        if len(edges) > 1:
            raise _closed_elsewhere(piece, facing, lining)
        curves = _over_darts(piece, facing, lining, lining.edge(edges[0].name))
        return tuple(
            Line(uid=uids.fresh("lining", lining.uid, inner.uid, str(k)), name=name, curve=curve)
            for k, curve in enumerate(curves)
        )
    # the facing of a shawl collar is larger at its outer edge by what it has to turn, so it is laid along the others
    apart = [abs(drawn_length(facing.edge(edge.name)) - drawn_length(lining.edge(edge.name))) for edge in edges]
    along = [edge for edge, differs in zip(edges, apart, strict=True) if differs < ALIKE] or edges
    at = np.concatenate([looks(facing.edge(edge.name)) for edge in along])
    to = np.concatenate([looks(lining.edge(edge.name)) for edge in along])
    motion, away = rigid(at, to, flipped=area(facing) * area(lining) < 0)
    if away > 1.0:
        raise _closed_elsewhere(piece, facing, lining)
    curve = transform(chain(inner.parts, within=1e-6), motion)
    return (Line(uid=uids.fresh("lining", lining.uid, inner.uid), name=name, curve=_to_the_outline(lining, curve)),)


def _closed_elsewhere(piece: Piece, facing: Piece, lining: Piece) -> UsageError:
    return UsageError(
        f"{facing.name} does not lie on {lining.name}, as a dart of {piece.name} is closed in it, so what is faced "
        "cannot be left out; pivot the dart away from what is faced, or make the facing narrower than the dart is long"
    )


def _over_darts(piece: Piece, facing: Piece, lining: Piece, edge: Edge) -> list[Curve]:
    """The free edge of a facing on a lining whose darts are open: each part of it lies beside its part of the edge.

    In the facing the legs of each dart lie on each other; a part ends where it meets them.
    """
    whole = chain(facing.edge(edge.name).parts, within=1e-6)
    inner = chain(facing.edges[-1].parts, within=1e-6)
    # both as the edge of the piece runs
    way = whole.end - whole.start
    inner = inner if float((inner.end - inner.start) @ way) > 0 else reverse(inner)
    found, before = [], 0.0
    for k, part in enumerate(edge.parts):
        size = length(part)
        # the last 2 mm beside a dart may have been made fair when it was closed
        reach = np.linspace(0.1, 0.9, 9) * size
        at = np.array([point(whole, place_at(whole, before + one)) for one in reach])
        to = np.array([point(part, place_at(part, one)) for one in reach])
        motion, away = rigid(at, to, flipped=area(facing) * area(lining) < 0)
        if away > 1.0:
            raise _closed_elsewhere(piece, facing, lining)
        curve, low, high = transform(inner, motion), 0.0, float(len(inner))
        for dart, first in ((lining.cut_in(edge, k - 1) if k else None, True), (lining.cut_in(edge, k), False)):
            if dart is None:
                continue
            met = [c.u for c in crossings(curve, dart.legs[1 if first else 0])]
            if len(met) != 1:
                raise _closed_elsewhere(piece, facing, lining)
            low, high = (met[0], high) if first else (low, met[0])
        if high - low < 1e-6:
            raise _closed_elsewhere(piece, facing, lining)
        found.append(section(curve, low, high))
        before += size
    for k, first in ((0, True), (len(found) - 1, False)):
        found[k] = _to_the_outline(lining, found[k], only=first)
    return found


def _to_the_outline(lining: Piece, curve: Curve, *, only: bool | None = None) -> Curve:
    """A line drawn on to the outline at both ends, or only at its start or its end."""
    parts = [part for edge in lining.edges for part in edge.parts]
    for first in (True, False) if only is None else (only,):
        end = curve.start if first else curve.end
        if min(float(nearest(part, end)[1]) for part in parts) <= ON:
            continue
        way = -tangent(curve, 0.0) if first else tangent(curve, float(len(curve)), before=True)
        onward = line(end, end + BEYOND * way)
        met = [c for part in parts for c in crossings(onward, part)]
        if not met:
            raise UsageError(f"the facing's edge does not reach the outline of {lining.name}; draw the facing anew")
        more = section(onward, 0.0, min(c.u for c in met))
        curve = chain([line(more.end, more.start), curve] if first else [curve, more], within=1e-6)
    return curve


def centre_back(piece: Piece) -> Edge | None:
    """The edge of a piece on the fold at the centre back, if it has one."""
    return next((edge for edge in piece.edges if edge.use == "fold" and edge.words == "CB"), None)


def with_ease_pleat(was: Piece, piece: Piece, depth: float, uids: Uids) -> Piece:
    """A piece whose fold was moved out by `depth`, with that taken up at both ends of it, but for a hem.

    was: the piece before, on which the fold lies where the centre is. The pleat is folded on the line `ease-pleat`.
    """
    fold = centre_back(piece)
    old = centre_back(was)
    assert fold is not None
    assert old is not None
    order = list(piece.edges)
    k = order.index(fold)
    for j, at_end in (((k - 1) % len(order), True), ((k + 1) % len(order), False)):
        edge = order[j]
        if edge.use == "hem":
            continue
        total = drawn_length(edge)
        start, end = (total - 2 * depth, total) if at_end else (0.0, 2 * depth)
        new = TakeUp(uid=uids.fresh("ease-pleat", edge.uid), kind="pleat", start=start, end=end, amount=depth)
        order[j] = replace(edge, takeups=(*edge.takeups, new))
    name = free_name("ease-pleat", piece.names())
    crease = Line(uid=uids.fresh("ease-pleat", fold.uid), name=name, curve=chain(old.parts, within=1e-6), kind="fold")
    return replace(piece, edges=tuple(order), lines=(*piece.lines, crease))


def sewn_above_the_hem(pattern: Pattern, before: Piece, lining: Piece) -> Pattern:
    """The pattern where facings that go down to a hem are sewn to a lining as far as that reaches, now it is shorter.

    before: the lining with its hem where that of its piece is. What is left of the facing's edge below it is free.
    """
    seams = []
    for seam in pattern.seams:
        facing = next((p for p in pattern.pieces if p.uid == seam.a[0].piece), None)
        edge = next((e for e in lining.edges if e.uid == seam.b[0].of), None)
        if facing is None or facing.source is None or facing.source.kind != "facing" or edge is None:
            seams.append(seam)
            continue
        less = drawn_length(before.edge_of(edge.uid)) - drawn_length(edge)
        if less > LOOSE:
            at_end = (lining.after(edge).use == "hem") != seam.reversed
            near, far = Position(mode="start", value=0.0), Position(mode="end", value=0.0)
            near, far = (near, replace(far, value=less)) if at_end else (replace(near, value=less), far)
            seam = replace(seam, a=(replace(seam.a[0], start=near, end=far),))
        seams.append(seam)
    return replace(pattern, seams=tuple(seams))


def facing_seam(facing: Piece, lining: Piece, name: str, seam: Seam) -> Seam:
    """The seam of a facing's free edge with the edge of a lining, which may be longer by what the facing rolls."""
    longer = drawn_length(lining.edge(name)) - drawn_length(facing.edges[-1])
    if abs(longer) > EASED:
        raise UsageError(
            f"{lining.name}.{name} would be {longer:.1f} mm longer than {facing.name}.{facing.edges[-1].name}; draw the"
            " facing anew"
        )
    return replace(seam, ease=round(longer, 2))
