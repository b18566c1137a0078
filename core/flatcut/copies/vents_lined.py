"""The lining of a lapped vent: cut away where the overlay is folded back, set back from the edge of the underlay."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, line, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.welding import ending_at, joined
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Corner, Edge, Line, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import sewn_length
from flatcut.reshape.change import Change, applied
from flatcut.reshape.ways import Way

MEETS = 0.05
"""mm: the end of a fold this near to a corner is that corner."""

BEYOND = 30.0
"""mm by which the folded edge is drawn on, to where it meets a hem that is curved."""


@dataclass(frozen=True, kw_only=True)
class Vent:
    """An extension below a seam. after: whether the outline runs seam, top, free edge, hem, or the other way.

    over: whether it is folded on its line, which makes it the overlay.
    """

    seam: Edge
    top: Edge
    free: Edge
    hem: Edge
    fold: Line
    after: bool

    @property
    def over(self) -> bool:
        """Whether the extension is folded back."""
        return self.fold.kind == "fold"


def extended(curve: Curve, by: float) -> Curve:
    """A curve going straight on at its end, by mm."""
    return joined(curve, line(curve.end, curve.end + by * tangent(curve, float(len(curve)), before=True)))


def vents_of(piece: Piece) -> list[Vent]:
    """The vents of a piece: two open edges between a seam and a hem, and the line that they are folded on."""
    found = []
    for free in piece.edges:
        for after in (True, False):

            def onward(edge: Edge, ahead: bool) -> Edge:
                return piece.after(edge) if ahead else edge_before(piece, edge)

            hem, top = onward(free, after), onward(free, not after)
            seam = onward(top, not after)
            if hem.use != "hem" or {free.use, top.use} != {"opening"} or len({free.uid, top.uid, seam.uid}) < 3:
                continue
            corner = seam.end if after else seam.start
            lines = [
                line
                for line in piece.lines
                if line.kind in ("fold", "placement")
                and min(float(np.hypot(*(end - corner))) for end in (line.curve.start, line.curve.end)) < MEETS
            ]
            if lines:
                found.append(Vent(seam=seam, top=top, free=free, hem=hem, fold=lines[0], after=after))
    return found


def cut_away(pattern: Pattern, piece: Piece, vent: Vent) -> tuple[Pattern, tuple[str, ...]]:
    """The pattern with a lining cut away on the overlay: its edge is the mirror image of the extension's, folded back.

    Errors: GeometryError where that is wider than the piece.
    """
    mirror = Affine.reflection(vent.fold.curve.start, vent.fold.curve.end)
    top, free = (transform(edge.parts[0], mirror) for edge in (vent.top, vent.free))
    hem = vent.hem.parts[0] if vent.after else reverse(vent.hem.parts[-1])
    toward = free if vent.after else reverse(free)
    toward = extended(toward, BEYOND)
    met = sorted((c.v, c.u) for c in crossings(toward, hem))
    if not met:
        raise GeometryError(
            f"the vent of {piece.name} folded back does not meet its hem {piece.name}.{vent.hem.name}; make the vent "
            "narrower"
        )
    v, u = met[0]
    kept, gone = section(hem, v, float(len(hem))), length_to(hem, v)
    toward = ending_at(section(toward, 0.0, u), kept.start)
    free = toward if vent.after else reverse(toward)
    new = {
        vent.top.uid: (top,),
        vent.free.uid: (free,),
        vent.hem.uid: (kept, *vent.hem.parts[1:]) if vent.after else (*vent.hem.parts[:-1], reverse(kept)),
    }
    edges = tuple(replace(edge, parts=new.get(edge.uid, edge.parts)) for edge in piece.edges)
    lines = tuple(line for line in piece.lines if line.uid != vent.fold.uid)
    made = sewn_there(replace(piece, edges=edges, lines=lines), vent)
    total = sum(length(part) for part in vent.hem.parts)
    shift = gone if vent.after else 0.0
    ways = {
        vent.hem.uid: (Way(shift, shift + total - gone, vent.hem.uid, 0.0, total - gone),),
        vent.top.uid: (_whole(vent.top, top),),
        vent.free.uid: (_whole(vent.free, free),),
    }
    return applied(pattern, Change(pieces=(made,), ways=ways))


def sewn_there(piece: Piece, vent: Vent) -> Piece:
    """A lining whose edges at a vent are sewn to the shell, and no openings, with corners that are no seam ends."""
    sewn = (vent.top.uid, vent.free.uid)
    ends = {(vent.seam if vent.after else vent.free).uid, vent.top.uid}
    edges = []
    for edge in piece.edges:
        if edge.uid in sewn:
            edge = replace(edge, use="seam")
        edges.append(replace(edge, corner=Corner(kind="mitred")) if edge.uid in ends else edge)
    # what was folded on the shell only lies there
    lines = (replace(one, kind="placement") if one.uid == vent.fold.uid else one for one in piece.lines)
    return replace(piece, edges=tuple(edges), lines=tuple(lines))


def _whole(edge: Edge, curve: Curve) -> Way:
    return Way(0.0, sum(length(part) for part in edge.parts), edge.uid, 0.0, length(curve))


def vent_seams(shell: Piece, lining: Piece, was: Vent, *, mirrored: bool, uids: Uids) -> list[Seam]:
    """The seams of a lining with the vent of its shell: the slanting top, and the free edge down to the lining's hem.

    was: the vent of the shell; mirrored: the lining is that of its other half. Where the lining is set back from the
    edge it is sewn to what the shell turns in there, and differs by its ease.
    """
    found = []
    for edge in (was.top, was.free):
        own = lining.edge(edge.name)
        theirs, mine = sewn_length(edge), sewn_length(own)
        near = 0.0
        stretch = min(theirs, mine)
        # the top is walked from the seam, the free edge from the top
        start, end = Position(mode="start", value=near), Position(mode="start", value=stretch)
        if not was.after:
            start, end = Position(mode="end", value=stretch), Position(mode="end", value=near)
        whole = theirs - stretch < 1e-6
        a = RunPart(
            piece=shell.uid,
            of=edge.uid,
            start=None if whole else start,
            end=None if whole else end,
            mirrored=mirrored,
        )
        b = RunPart(piece=lining.uid, of=own.uid)
        ease = round(mine - stretch, 4)
        uid = uids.fresh("vent", shell.uid, lining.uid, edge.uid)
        found.append(Seam(uid=uid, a=(a,), b=(b,), reversed=mirrored, ease=ease))
    return found
