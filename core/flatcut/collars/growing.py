"""A shawl collar made part of its front: the outline with button stand and collar in the place of neck and centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.collars.neckline import Neckline
from flatcut.collars.shawl_lines import Ground, Shawl, Wanted, drawn_shawl
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, flatten, line, reverse, tangent
from flatcut.geometry.length import length
from flatcut.pattern.runs import run_curves, walk
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Notch, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import Change
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain

BOWED = 0.5
"""mm that a centre edge may bow and still have a button stand beside it."""
WALKS = 0.05
"""mm by which the neck edge may miss the back neckline, measured along chords."""
EDGES = ("front-edge", "collar-edge", "collar-centre", "collar-neck")
"""Names of the new edges, from the hem on."""


@dataclass(frozen=True, kw_only=True)
class Grown:
    """What becomes of the front whose uid is `piece`. change: with its collar; larger: with what lies on top of it.

    seams: of the centre back and with the back neckline, `neck`; back: what the shoulder is sewn to, None for nothing.
    widths: mm of the facing at the hem and at the shoulder; notch: at the break point.
    """

    piece: str
    change: Change
    larger: Change
    seams: tuple[Seam, ...]
    shawl: Shawl
    back: RunPart | None
    neck: tuple[RunPart, ...]
    widths: tuple[float, float]
    notch: Notch


def grown(
    neck: Neckline, want: Wanted, *, larger: float, short: float, widths: tuple[float, float], uids: Uids
) -> Grown:
    """The front at the opening's end of a neckline with a collar for the rest of it.

    larger: mm by which the outer edge of its facing lies farther out; short: mm by which its neck edge is shorter than
    the back neckline. Errors: UsageError, GeometryError.
    """
    pattern, part = neck.pattern, neck.run[-1]
    piece = pattern.piece_of(part.piece)
    edge = piece.edge_of(part.of)
    centre, shoulder = _beside(piece, edge, neck)
    ground = _ground(piece, edge, centre, shoulder)
    if not 20.0 <= want.below <= drawn_length(centre) - 10.0:
        raise UsageError(
            f"the break point lies {plain(want.below)} mm below the neck, and {piece.name}.{centre.name} is "
            f"{plain(drawn_length(centre))} mm long; set it on that edge"
        )
    named = {name: uids.fresh("collar", piece.uid, name) for name in (*EDGES, "lines", "notch")}
    made = drawn_shawl(ground, want)
    front = _with_collar(piece, edge, centre, ground, want, made, named)
    on_top = _with_collar(piece, edge, centre, ground, want, drawn_shawl(ground, want, larger=larger), named)
    refuse_overlap(front.pieces[0], advice="change lapel, break point or lean")
    _gate(neck, made, short)
    run = neck.run[:-1]
    own = RunPart(piece=piece.uid, of=named["collar-neck"])
    middle = RunPart(piece=piece.uid, of=named["collar-centre"])
    ease = length(made.neck) - sum(step.sewn for step in walk(pattern, run))
    forward = _forward(piece, edge, centre)
    seams = (
        # from the back's centre to the shoulder; the collar's edge is walked to the shoulder where it runs forward
        Seam(uid=uids.fresh("seam", piece.uid, "neck"), a=run, b=(own,), reversed=not forward, ease=round(ease, 6)),
        Seam(
            uid=uids.fresh("seam", piece.uid, "centre"),
            a=(middle,),
            b=(replace(middle, mirrored=True),),
            reversed=True,
        ),
    )
    return Grown(
        piece=piece.uid,
        change=front,
        larger=on_top,
        seams=seams,
        shawl=made,
        back=_shoulder(pattern, piece, shoulder),
        neck=run,
        widths=widths,
        notch=Notch(
            uid=named["notch"],
            edge=named["front-edge"],
            at=Position(mode="end" if forward else "start", value=0.0),
        ),
    )


def turned(neck: Neckline) -> float:
    """Radians through which the neckline turns from the fold to the shoulder, along chords; a dart in it is closed."""
    total = 0.0
    for step in walk(neck.pattern, neck.run[:-1]):
        for curve in run_curves(step):
            ways = np.diff(flatten(curve, tolerance=0.01), axis=0)
            angles = np.unwrap(np.arctan2(ways[:, 1], ways[:, 0]))
            total += float(angles[-1] - angles[0])
    return abs(total)


def _beside(piece: Piece, edge: Edge, neck: Neckline) -> tuple[Edge, Edge]:
    """The edges beside the neckline of a front: its centre and its shoulder."""
    first, last = edge_before(piece, edge), piece.after(edge)
    forward = not neck.run[-1].backwards
    centre, shoulder = (last, first) if forward else (first, last)
    for one in (edge, centre):
        if len(one.parts) != 1 or one.takeups:
            raise UsageError(f"a dart or fullness stands in {piece.name}.{one.name}; move it elsewhere first")
    if centre.words == "CB":
        raise UsageError("a shawl collar is grown on to fronts; name the neckline with the front last")
    if length(centre.parts[0]) - float(np.linalg.norm(centre.end - centre.start)) > BOWED:
        raise UsageError(f"{piece.name}.{centre.name} is bent; a front with a collar is straight there: true it first")
    return centre, shoulder


def _forward(piece: Piece, edge: Edge, centre: Edge) -> bool:
    """Whether the outline runs from the centre along the neck to the shoulder."""
    return piece.after(centre).uid == edge.uid


def _ground(piece: Piece, edge: Edge, centre: Edge, shoulder: Edge) -> Ground:
    if _forward(piece, edge, centre):
        neck, pit, hem = edge.end, edge.start, centre.start
        up = -tangent(shoulder.parts[0], 0.0)
    else:
        neck, pit, hem = edge.start, edge.end, centre.end
        up = tangent(shoulder.parts[-1], float(len(shoulder.parts[-1])), before=True)
    down = unit(hem - pit)
    out = np.array([-down[1], down[0]])
    return Ground(neck=neck, pit=pit, up=up, down=down, out=out if float((neck - pit) @ out) < 0 else -out)


def _with_collar(
    piece: Piece, edge: Edge, centre: Edge, ground: Ground, want: Wanted, made: Shawl, named: dict[str, str]
) -> Change:
    """The piece with new edges in the place of its centre and its neck, and what became of its edges."""
    forward = _forward(piece, edge, centre)
    beside = edge_before(piece, centre) if forward else piece.after(centre)
    tip, more = _hem(piece, beside, ground, want.beyond, at_end=forward)
    curves: list[Curve] = [line(tip, made.edge.start), made.edge, made.centre, made.neck]
    new = [
        Edge(uid=named[name], name=name, parts=(curve if forward else reverse(curve),))
        for name, curve in zip(EDGES, curves, strict=True)
    ]
    _refuse_names(piece, edge, centre)
    order: list[Edge] = []
    ways: dict[str, Ways] = {edge.uid: (), centre.uid: ()}
    for one in piece.edges:
        if one.uid == beside.uid and more is not None:
            total, by = drawn_length(one), length(more)
            parts = (
                (*one.parts[:-1], chain([one.parts[-1], more], within=1e-6))
                if forward
                else (chain([reverse(more), one.parts[0]], within=1e-6), *one.parts[1:])
            )
            at = 0.0 if forward else by
            ways[one.uid] = (Way(0.0, total, one.uid, at, total + at),)
            order.append(replace(one, parts=parts))
        elif one.uid == (centre.uid if forward else edge.uid):
            order += new if forward else new[::-1]
        elif one.uid not in (edge.uid, centre.uid):
            order.append(one)
    lines = (
        Line(uid=named["lines"] + "c", name=centre.name, curve=centre.parts[0], kind="line"),
        Line(uid=named["lines"] + "n", name=edge.name, curve=edge.parts[0], kind="line"),
        Line(uid=named["lines"] + "r", name="roll-line", curve=made.roll, kind="fold"),
    )
    whole = replace(piece, edges=tuple(order), lines=(*piece.lines, *lines))
    if whole.cut_as == "fold" and not any(one.use == "fold" for one in order):
        whole = replace(whole, cut_as="pair", quantity=2 * whole.quantity)
    return Change(pieces=(whole,), ways=ways)


def _refuse_names(piece: Piece, edge: Edge, centre: Edge) -> None:
    gone = {edge.name, centre.name}
    taken = (piece.names() - gone) & {*EDGES, "roll-line"}
    if taken:
        raise UsageError(f"{piece.name} has a '{sorted(taken)[0]}' already, which its collar would have; rename it")


def _hem(piece: Piece, beside: Edge, ground: Ground, beyond: float, *, at_end: bool) -> tuple[Array, Curve | None]:
    """Where the hem ends on the button stand, and by what it goes on."""
    part = beside.parts[-1 if at_end else 0]
    corner = part.end if at_end else part.start
    way = tangent(part, float(len(part)), before=True) if at_end else -tangent(part, 0.0)
    if beyond <= 0:
        return np.asarray(corner), None
    rise = float(way @ ground.out)
    if rise < 0.5:
        raise GeometryError(f"{piece.name}.{beside.name} runs along the centre there; square it first")
    tip = corner + beyond / rise * way
    return tip, line(corner, tip)


def _gate(neck: Neckline, made: Shawl, short: float) -> None:
    """GeometryError where the neck edge, along chords, is not the back neckline, or the centre back is not square."""

    def chords(curves: Sequence[Curve]) -> float:
        return float(sum(np.hypot(*np.diff(flatten(c, tolerance=0.001), axis=0).T).sum() for c in curves))

    back = sum(chords(run_curves(step)) for step in walk(neck.pattern, neck.run[:-1]))
    off = chords([made.neck]) + short - back
    if abs(off) > WALKS:
        raise GeometryError(f"the neck edge of the collar misses the back neckline by {plain(off)} mm; true that first")
    for one, two in ((made.edge, made.centre), (made.centre, made.neck)):
        square = float(tangent(one, float(len(one)), before=True) @ tangent(two, 0.0))
        if abs(square) > 1e-3:
            raise GeometryError("the collar is not square at the centre back; lean it less")


def _shoulder(pattern: Pattern, piece: Piece, shoulder: Edge) -> RunPart | None:
    """The edge that a front's shoulder is sewn to over its whole length, walked as that is; None where it is none."""
    for seam in pattern.seams:
        if len(seam.a) == len(seam.b) == 1:
            for mine, its in ((seam.a[0], seam.b[0]), (seam.b[0], seam.a[0])):
                whole = mine.start is mine.end is its.start is its.end is None
                if mine.of == shoulder.uid and whole and not its.mirrored and not mine.mirrored:
                    return its
    return None
