"""Derived pieces put into a pattern: beside all that is there, or in the place of the same piece drawn before."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import bounds, chain
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.moving import moved
from flatcut.pattern.seaming import runs_meet_head_to_tail
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam, checked_name, outline

Had: TypeAlias = tuple[str, str]
"""uid of an edge, and what a derived piece has of it: 'start', 'end' or 'whole'."""
FACING = "facing"


def derived_names(
    pattern: Pattern, pieces: Sequence[Piece], names: Sequence[str], kind: str
) -> list[tuple[str, Piece | None]]:
    """The names of derived pieces, as given, else of the piece with the kind, each with the one it draws anew, if any.

    Errors: UsageError for too many names, or one of a piece that is no such.
    """
    if len(names) > len(pieces):
        raise UsageError(Option("names"), f" gives {len(names)} names for {len(pieces)} pieces; give one for each")
    given = [checked_name(name, kind="piece's name") for name in names]
    wanted = [*given, *(f"{piece.name}-{kind}" for piece in pieces[len(names) :])]
    found: list[tuple[str, Piece | None]] = []
    for k, (piece, name) in enumerate(zip(pieces, wanted, strict=True)):
        old = next((p for p in pattern.pieces if p.name == name), None)
        same = old is not None and old.source is not None and (old.source.kind, old.source.of[0]) == (kind, piece.uid)
        if (old is not None and not same) or name in wanted[:k]:
            raise UsageError(f"there is a '{name}' already; give another name with ", Option("names"))
        found.append((name, old))
    return found


def put_in(
    pattern: Pattern, made: Sequence[tuple[Piece, Piece | None]], seams: Sequence[Seam]
) -> tuple[Pattern, list[Piece]]:
    """The pattern with derived pieces and their seams. made: each with the one that it takes the place of, if any.

    One that is drawn anew keeps its place, its uid and those of edges of the same names, their allowances and corners,
    and the seams that others have with it.
    """
    same: dict[str, str] = {}
    fresh, anew = [], {}
    for piece, old in made:
        if old is None:
            fresh.append(piece)
        else:
            same |= {piece.uid: old.uid}
            same |= {edge.uid: old.edge(edge.name).uid for edge in piece.edges if edge.name in old.names()}
            anew[old.uid] = _instead(piece, old, same)
    left, top = free_place(pattern)
    laid = laid_out(fresh, left=left, top=top) if fresh else ()
    pieces = [anew.get(piece.uid, piece) for piece in pattern.pieces]
    there = {edge.uid for piece in (*pieces, *laid) for edge in piece.edges}
    lines = {line.uid for piece in (*pieces, *laid) for line in piece.lines}
    kept = [s for s in pattern.seams if all(part.of in there | lines for part in (*s.a, *s.b))]
    known = {(seam.a, seam.b) for seam in kept}
    for seam in seams:
        one = replace(seam, a=_renamed(seam.a, same), b=_renamed(seam.b, same))
        if (one.a, one.b) not in known and (one.b, one.a) not in known:
            kept.append(one)
            known.add((one.a, one.b))
    whole = replace(pattern, pieces=(*pieces, *laid), seams=tuple(kept))
    return whole, [whole.piece_of(same.get(piece.uid, piece.uid)) for piece, _ in made]


def _instead(piece: Piece, old: Piece, same: Mapping[str, str]) -> Piece:
    """A piece drawn anew in the place of the old one."""
    boxes = [bounds(chain(outline(one), within=1e-6)) for one in (old, piece)]
    piece = moved(piece, Affine.translation(boxes[0][0] - boxes[1][0], boxes[0][1] - boxes[1][1]))
    edges = []
    for edge in piece.edges:
        was = next((e for e in old.edges if e.name == edge.name), None)
        if was is not None:
            edge = replace(edge, uid=was.uid, allowance=was.allowance, corner=was.corner)
        edges.append(edge)
    again = replace(
        piece, uid=old.uid, edges=tuple(edges), caption=replace(old.caption, at=None), quantity=old.quantity
    )
    return again.with_marks(lambda mark: mark.referring(same))


def _renamed(run: tuple[RunPart, ...], uids: Mapping[str, str]) -> tuple[RunPart, ...]:
    return tuple(replace(p, piece=uids.get(p.piece, p.piece), of=uids.get(p.of, p.of)) for p in run)


def like_seams(
    pattern: Pattern, edges: Mapping[Had, tuple[str, str]], among: Collection[str], uids: Uids
) -> list[Seam]:
    """Seams between edges of derived pieces where the edges that they were made of are sewn to each other.

    edges: by what a derived piece has of an edge the piece's and the edge's uid there; among: uids of derived pieces
    that are new, of which each seam has one. Runs of several edges are left out, and stretches.
    """
    found = []
    for seam in pattern.seams:
        if len(seam.a) != 1 or len(seam.b) != 1:
            continue
        a, b = seam.a[0], seam.b[0]
        if any(p.start is not None or p.end is not None for p in (a, b)):
            continue
        alike = (a.backwards == a.mirrored) == ((b.backwards == b.mirrored) != seam.reversed)
        for mine, its in (
            ("whole", "whole"),
            ("start", "start" if alike else "end"),
            ("end", "end" if alike else "start"),
        ):
            if (a.of, mine) not in edges or (b.of, its) not in edges:
                continue
            one, two = (
                replace(p, piece=edges[had][0], of=edges[had][1]) for p, had in ((a, (a.of, mine)), (b, (b.of, its)))
            )
            if one.piece in among or two.piece in among:
                # what is eased in lies farther along the edge than a facing reaches
                ease = seam.ease if mine == "whole" else 0.0
                found.append(replace(seam, uid=uids.fresh("like", seam.uid, one.of), a=(one,), b=(two,), ease=ease))
    return found


def on_facings(pattern: Pattern) -> Pattern:
    """The pattern with facings that are sewn to edges of other pieces sewn to the facings of those, if there are any.

    As that of a collar that is grown on, over the back neckline: the edge is faced there, and what lies on top of the
    collar is sewn to that facing. A stretch beside it, as of the shoulder, which is sewn to the facing too, is let go.
    """
    facings = {piece.uid: piece for piece in pattern.pieces if piece.source is not None and piece.source.kind == FACING}
    faces: dict[str, RunPart] = {}
    for seam in pattern.seams:
        for (mine, *more), (its, *others) in ((seam.a, seam.b), (seam.b, seam.a)):
            own = facings.get(mine.piece)
            if not more and not others and own is not None and own.source and its.piece in own.source.of:
                faces[its.of] = mine
    found = []
    for seam in pattern.seams:
        mine, its = (seam.a[0], seam.b[0]) if seam.a[0].piece in facings else (seam.b[0], seam.a[0])
        own = facings.get(mine.piece)
        single = len(seam.a) == len(seam.b) == 1 and own is not None and its.piece not in facings
        if not single or own is None or own.source is None or its.piece in own.source.of:
            found.append(seam)
        elif its.start is None and its.of in faces:
            there = faces[its.of]
            meet = runs_meet_head_to_tail(pattern, (there,), (mine,))
            found.append(replace(seam, a=(there,), b=(mine,), reversed=meet))
        elif its.start is None or not _sewn_to_a_facing(pattern, mine.of, its.piece, facings):
            found.append(seam)
    return pattern if found == list(pattern.seams) else replace(pattern, seams=tuple(found))


def _sewn_to_a_facing(pattern: Pattern, edge: str, piece: str, facings: Mapping[str, Piece]) -> bool:
    """Whether an edge (uid) of a facing is sewn to a facing of a piece (uid) as well."""
    for seam in pattern.seams:
        parts = (*seam.a, *seam.b)
        of = [facings[p.piece].source for p in parts if p.piece in facings and p.of != edge]
        if any(p.of == edge for p in parts) and any(s is not None and piece in s.of for s in of):
            return True
    return False
