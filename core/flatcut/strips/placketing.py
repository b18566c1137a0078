"""A button stand with its facing, grown on to a straight edge: the outline runs on beyond the centre, is folded there,
and comes back as a facing that is the mirror image of what it lies on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length
from flatcut.geometry.welding import ending_at
from flatcut.pattern.renewing import free_name
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Notch, Pattern, Piece, Position, RunPart, Seam, area
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import Change
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain

BOWED = 0.5
"""mm that the centre may bow and still be folded beside."""
FAR = 5000.0
"""mm: longer than any piece."""


@dataclass(frozen=True, kw_only=True)
class GrownOn:
    """change: the piece with its stand and facing; seams: of the facing with what it is folded onto; edges, centre,
    fold: names of the new edges, of the line that the old edge is now, and of the front edge; marks: where centre and
    fold are notched, by uid of the edge."""

    change: Change
    seams: tuple[Seam, ...]
    edges: tuple[str, ...]
    marks: tuple[tuple[str, Position], ...]
    centre: str
    fold: str


@dataclass(frozen=True, kw_only=True)
class _End:
    """What becomes of the edge beside the centre at one of its ends, all walked away from the centre's corner.

    new: the edge with its stretch beyond the centre; over: what the facing mirrors, from the fold inward, mirrored.
    """

    edge: Edge
    new: Curve
    longer: float
    over: Curve


def grown_on(piece: Piece, edge: Edge, stand: float, facing: float, uids: Uids) -> GrownOn:
    """The piece with a button stand and a facing at its centre edge.

    stand: mm from the centre to the fold; facing: mm from the fold back. Errors: UsageError, GeometryError.
    """
    if len(edge.parts) != 1 or any(d.host == edge.uid and d.form == "cut" for d in piece.darts):
        raise UsageError(f"a dart opens on {piece.name}.{edge.name}; move it elsewhere first")
    chord = edge.end - edge.start
    if length(edge.parts[0]) - float(np.linalg.norm(chord)) > BOWED:
        raise UsageError(f"{piece.name}.{edge.name} is bent, and a facing folds along a straight edge; true it first")
    along = chord / np.linalg.norm(chord)
    out = np.array([along[1], -along[0]]) if area(piece) > 0 else np.array([-along[1], along[0]])
    fold = edge.start + stand * out, edge.end + stand * out
    first, last = edge_before(piece, edge), piece.after(edge)
    top = _beside(piece, first, reverse(first.parts[-1]), edge.start, out, stand, facing, fold)
    low = _beside(piece, last, last.parts[0], edge.end, out, stand, facing, fold)
    names = piece.names()
    free = Edge(
        uid=uids.fresh("placket", edge.uid, "facing"),
        name=free_name("facing", names),
        parts=(line(top.over.end, low.over.end),),
        use="finished",
    )
    order: list[Edge] = []
    ways: dict[str, Ways] = {edge.uid: ()}
    seams: list[Seam] = []
    mates: list[tuple[str, Position]] = []
    for one in piece.edges:
        if one.uid == edge.uid:
            before, after = _facing_end(piece, top, "start", uids), _facing_end(piece, low, "end", uids)
            order += [*([before] if before else []), free, *([after] if after else [])]
            for end, folded, at_end in ((top, before, True), (low, after, False)):
                if folded is None:
                    continue
                seams.append(_folded(piece, end, folded, uids, at_end=at_end))
                mates.append((folded.uid, Position(mode="start" if at_end else "end", value=end.longer)))
        elif one.uid == first.uid:
            order.append(replace(one, parts=(*one.parts[:-1], reverse(_whole(top)))))
            total = drawn_length(one)
            ways[one.uid] = (Way(0.0, total, one.uid, 0.0, total),)
        elif one.uid == last.uid:
            order.append(replace(one, parts=(_whole(low), *one.parts[1:])))
            total = drawn_length(one)
            more = length(_whole(low)) - length(one.parts[0])
            ways[one.uid] = (Way(0.0, total, one.uid, more, total + more),)
        else:
            order.append(one)
    front = line(top.new.start, low.new.start)
    fold_name = free_name("front-edge", names)
    lines = (
        Line(uid=uids.fresh("line", edge.uid, "centre"), name=edge.name, curve=edge.parts[0], kind="line"),
        Line(uid=uids.fresh("line", edge.uid, "fold"), name=fold_name, curve=front, kind="fold"),
    )
    made = replace(piece, edges=tuple(order), lines=(*piece.lines, *lines))
    new = [e.name for e in order if e.uid not in {one.uid for one in piece.edges}]
    change = Change(pieces=(made,), ways=ways)
    return GrownOn(
        change=change,
        seams=tuple(seams),
        edges=tuple(new),
        marks=(*_marks(top, at_end=True), *_marks(low, at_end=False), *mates),
        centre=edge.name,
        fold=fold_name,
    )


def with_notches(pattern: Pattern, piece: str, marks: Sequence[tuple[str, Position]], uids: Uids) -> Pattern:
    """The pattern with a notch at each place (uid of an edge, position) of a piece (uid)."""
    held = pattern.piece_of(piece)
    made = tuple(Notch(uid=uids.fresh("notch", edge, "placket"), edge=edge, at=at) for edge, at in marks)
    return pattern.with_piece(replace(held, notches=(*held.notches, *made)))


def _beside(
    piece: Piece,
    edge: Edge,
    inward: Curve,
    corner: Array,
    out: Array,
    stand: float,
    facing: float,
    fold: tuple[Array, Array],
) -> _End:
    """inward: the part of the edge at the centre, walked away from it."""
    way = tangent(inward, 0.0)
    rise = float(-way @ out)
    if rise < 0.5:
        raise GeometryError(f"{piece.name}.{edge.name} runs along the centre there; square it first")
    tip = corner - stand / rise * way
    whole = chain([line(tip, corner), inward], within=1e-6)
    # what lies within the facing's width of the fold
    deep = fold[0] - facing * out, fold[1] - facing * out
    along = (fold[1] - fold[0]) / np.linalg.norm(fold[1] - fold[0])
    met = [c.u for c in crossings(whole, line(deep[0] - FAR * along, deep[1] + FAR * along))]
    if not met:
        raise GeometryError(
            f"{piece.name}.{edge.name} is narrower than the facing, {plain(facing)} mm from the fold; take less"
        )
    mirror = Affine.reflection(fold[0], fold[1])
    over = transform(section(whole, 0.0, min(met)), mirror)
    return _End(edge=edge, new=whole, longer=stand / rise, over=over)


def _facing_end(piece: Piece, end: _End, which: str, uids: Uids) -> Edge | None:
    """The facing's own edge at one end, in the direction of the outline; None at a hem, which runs on."""
    if end.edge.use == "hem":
        return None
    name = free_name("facing-top" if which == "start" else "facing-end", piece.names())
    curve = end.over if which == "start" else reverse(end.over)
    uid = uids.fresh("placket", end.edge.uid, name)
    return Edge(uid=uid, name=name, parts=(curve,), use=end.edge.use, allowance=end.edge.allowance)


def _whole(end: _End) -> Curve:
    """The edge walked away from the fold; at a hem from the facing's free edge on."""
    if end.edge.use != "hem":
        return end.new
    return chain([ending_at(reverse(end.over), end.new.start), end.new], within=1e-6)


def _folded(piece: Piece, end: _End, edge: Edge, uids: Uids, *, at_end: bool) -> Seam:
    """The facing's end is sewn to the stretch that it is folded onto, at one end of the edge beside the centre."""
    long = length(edge.parts[0])
    mode = "end" if at_end else "start"
    near, far = Position(mode=mode, value=0.0), Position(mode=mode, value=long)
    a = RunPart(piece=piece.uid, of=edge.uid)
    b = RunPart(piece=piece.uid, of=end.edge.uid, start=far if at_end else near, end=near if at_end else far)
    return Seam(uid=uids.fresh("seam", piece.uid, edge.name), a=(a,), b=(b,), reversed=True)


def _marks(end: _End, *, at_end: bool) -> list[tuple[str, Position]]:
    """Notches at the centre, and at the fold where the edge runs on beyond it."""
    mode = "end" if at_end else "start"
    over = length(end.over) if end.edge.use == "hem" else 0.0
    places = [over + end.longer, *([over] if over else [])]
    return [(end.edge.uid, Position(mode=mode, value=at)) for at in places]
