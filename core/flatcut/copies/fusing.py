"""A copy inside the cut line of its piece, as fusing is cut."""

from __future__ import annotations

from dataclasses import replace

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.curves import Curve, chain, section
from flatcut.geometry.offset_outline import offset_outline
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge
from flatcut.marking.cutline import cut_line, wants_cut
from flatcut.marking.rims import rims
from flatcut.pattern.sources import Source, taken
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Piece, held_marks

ON_FOLD = ("fold", "centre")


def fused(piece: Piece, inset: float, uids: Uids, *, name: str, material: str, line: str) -> Piece:
    """The fusing of a piece: its cut line, `inset` mm further in, and on the fold as the piece is.

    A piece without a cut line gives its stitch line, further in. An edge whose allowance is narrower than that is fused
    to the stitch line. Darts are fused over. Errors: GeometryError where there is no such line.
    """
    if piece.cut_by_hand is not None:
        raise UsageError(
            f"the cut line of {piece.name} is drawn by hand; make it anew with: redraw {piece.name} --force"
        )
    curve, owners = _within(piece, inset)
    uid = uids.fresh("fusing", piece.uid, name)
    edges = []
    for edge, part in _edges(piece, curve, owners):
        use = edge.use if edge.use in ON_FOLD else "finished"
        edges.append(Edge(uid=uids.fresh("fusing", uid, edge.uid), name=edge.name, parts=(part,), use=use))
    bare = replace(piece, uid=uid, name=name, edges=tuple(edges), darts=(), material=material, origin="", cut_drawn="")
    source = Source(kind="fusing", of=(piece.uid,), line=line, taken=tuple(taken(piece.uid, e) for e in piece.edges))
    return replace(bare, **held_marks(() if piece.grain is None else (piece.grain,)), source=source)


def _within(piece: Piece, inset: float) -> tuple[Curve, tuple[str, ...]]:
    """A closed ring, and for each of its spans the uid of the edge it belongs to, '' at a corner."""
    if wants_cut(piece):
        made = cut_line(replace(piece, edges=tuple(_narrower(edge, inset) for edge in piece.edges)))
        if made is None:
            raise AssertionError("a piece with allowances has a cut line")
        return made.curve, made.edges
    stretches = rims(piece, sewn=True)
    edges = [OffsetEdge(curve=r.curve, width=0.0 if r.edge.use in ON_FOLD else inset) for r in stretches]
    answer = offset_outline(edges, [OffsetCorner(told=False)] * len(edges), inward=True)
    return answer.curve, tuple(stretches[k].edge.uid if k >= 0 else "" for k in answer.sources)


def _narrower(edge: Edge, inset: float) -> Edge:
    widths = edge.allowance
    if widths is None or edge.use in ON_FOLD:
        return edge

    def less(width: float) -> float:
        return max(width - inset, 0.0)

    stretches = tuple(
        replace(s, width=less(s.width), end_width=None if s.end_width is None else less(s.end_width))
        for s in widths.stretches
    )
    end = None if widths.end_width is None else less(widths.end_width)
    return replace(edge, allowance=replace(widths, width=less(widths.width), end_width=end, stretches=stretches))


def _edges(piece: Piece, ring: Curve, owners: tuple[str, ...]) -> list[tuple[Edge, Curve]]:
    """The edges with their stretches of a ring, in its order; what is at a corner goes with the edge before it."""
    known = {edge.uid: edge for edge in piece.edges}
    count = len(owners)
    first = next((k for k in range(count) if owners[k] and owners[k] != _before(owners, k)), None)
    if first is None:
        raise GeometryError(f"the fusing of {piece.name} would have no corners; give it less inset")
    found: list[tuple[Edge, int, int]] = []
    for k in range(first, first + count):
        owner = owners[k % count]
        if owner and (not found or known[owner] is not found[-1][0]):
            found.append((known[owner], k, k + 1))
        else:
            edge, start, _ = found[-1]
            found[-1] = (edge, start, k + 1)
    names = [edge.name for edge, _, _ in found]
    if len(set(names)) < len(names):
        raise GeometryError(f"the fusing of {piece.name} would have an edge in two parts; give it less inset")
    return [(edge, _stretch(ring, start, end)) for edge, start, end in found]


def _before(owners: tuple[str, ...], k: int) -> str:
    """The owner of the span before one, corners left out."""
    for back in range(1, len(owners) + 1):
        owner = owners[(k - back) % len(owners)]
        if owner:
            return owner
    return ""


def _stretch(ring: Curve, start: int, end: int) -> Curve:
    """Spans of a closed ring; numbers beyond its last span go on from its first."""
    count = len(ring)
    if end <= count:
        return section(ring, float(start), float(end))
    if start >= count:
        return section(ring, float(start - count), float(end - count))
    head, tail = section(ring, float(start), float(count)), section(ring, 0.0, float(end - count))
    return chain([head, tail], within=1e-6)
