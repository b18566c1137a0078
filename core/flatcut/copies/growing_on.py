"""A facing that is part of its piece: mirrored about a straight edge, on which it is turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, line, reverse, section, transform
from flatcut.geometry.intersect import crossings
from flatcut.pattern.graining import STRAIGHT, chord_way
from flatcut.pattern.renewing import free_name
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Piece, area
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import Item, cycle, rebuilt
from flatcut.reshape.overlapping import refuse_overlap

SQUARE = 0.5
"""Degrees by which a fold may miss being square to the edge on which a facing turns (common practice, no source)."""


def with_grown_on(piece: Piece, edge: Edge, width: float, uids: Uids) -> tuple[Change, tuple[str, ...]]:
    """The piece with a facing beyond a straight edge, and the names of its new edges.

    The edges beside it go on as their own mirror images, so that the turned facing lies on the piece, a fold as a fold.
    Errors:
    UsageError for an edge that is not straight or has a dart, or a facing as wide as the piece.
    """
    way, bow = chord_way(edge)
    if len(edge.parts) > 1 or edge.takeups:
        raise UsageError(
            f"a dart or fullness stands on {piece.name}.{edge.name}, over which no facing can be turned; take it "
            "elsewhere first, or make the facing a piece of its own"
        )
    if bow > STRAIGHT:
        raise UsageError(
            f"{piece.name}.{edge.name} is not straight, and a facing turns on a straight line; make it a piece of its"
            " own"
        )
    start, end = edge.start, edge.end
    inward = (1.0 if area(piece) > 0 else -1.0) * width * Affine.rotation(1.5707963267948966).apply(way)
    far = 10_000.0 * way
    inner = line(start + inward - far, end + inward + far)
    order = [e.uid for e in piece.edges]
    before, after = piece.edges[order.index(edge.uid) - 1], piece.after(edge)
    for beside, corner in ((before, before), (after, edge)):
        if beside.use == "fold" and abs(inside_angle(piece, corner) - 90.0) > SQUARE:
            raise UsageError(
                f"{piece.name}.{beside.name} meets {piece.name}.{edge.name} at {inside_angle(piece, corner):.1f}°, so "
                "a facing turned there does not lie on the fold; make it square first"
            )
    mirror = Affine.reflection(start, end)
    lead = transform(_stretch(piece, before, reverse(before.parts[-1]), inner), mirror)
    trail = reverse(transform(_stretch(piece, after, after.parts[0], inner), mirror))
    new: list[tuple[Edge, Curve]] = []
    for name, like, curve in (
        (f"{before.name}-facing", before, lead),
        ("facing", None, line(lead.end, trail.start)),
        (f"{after.name}-facing", after, trail),
    ):
        name = free_name(name, piece.names() | {e.name for e, _ in new})
        use = like.use if like is not None and like.use in ("hem", "fold") else "finished"
        wide = None if like is None or like.allowance is None else replace(like.allowance, stretches=(), end_width=None)
        uid = uids.fresh("grown", edge.uid, name)
        middle = like is not None and use == "fold" and like.centre
        new.append((Edge(uid=uid, name=name, parts=(curve,), use=use, allowance=wide, centre=middle), curve))
    items = _with(cycle(piece), edge.uid, [Item(of=e.uid, curve=c) for e, c in new])
    place = order.index(edge.uid)
    edges = (*piece.edges[:place], *(e for e, _ in new), *piece.edges[place + 1 :])
    made = rebuilt(replace(piece, edges=edges), items, {dart.uid: dart for dart in piece.darts})
    fold = Line(uid=uids.fresh("grown", edge.uid, "fold"), name=edge.name, curve=edge.parts[0], kind="fold")
    made = replace(made, lines=(*made.lines, fold))
    refuse_overlap(made, advice="make the facing narrower")
    return Change(pieces=(made,), ways={edge.uid: ()}), tuple(e.name for e, _ in new)


def _stretch(piece: Piece, edge: Edge, away: Curve, inner: Curve) -> Curve:
    """An edge from the fold on, up to the inner edge."""
    met = crossings(away, inner)
    if not met:
        raise UsageError(
            f"the facing is wider than {piece.name}.{edge.name} reaches straight on, or a dart stands there; make it"
            " narrower"
        )
    return section(away, 0.0, min(c.u for c in met))


def _with(items: Sequence[Item], uid: str, new: Sequence[Item]) -> list[Item]:
    found: list[Item] = []
    for item in items:
        found += list(new) if item.of == uid else [item]
    return found
