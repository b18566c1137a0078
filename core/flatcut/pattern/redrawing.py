"""Derived pieces drawn anew: the old ones go, and what was set on them by name is set on the new ones."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import bounds, chain
from flatcut.pattern.defaults import ALLOWANCES
from flatcut.pattern.moving import moved
from flatcut.pattern.sources import Source, Taken, taken
from flatcut.pattern.values import Allowance, Edge, Pattern, Piece, RunPart, checked_name, outline


def made_way(pattern: Pattern, names: Sequence[str], kinds: Collection[str]) -> tuple[Pattern, dict[str, Piece]]:
    """The pattern without the pieces of those names that the same operation made, and these by their names.

    kinds: of their sources. Errors: UsageError for a name that is no name, is given twice, or is another piece's.
    """
    old: dict[str, Piece] = {}
    known = {piece.name: piece for piece in pattern.pieces}
    for k, name in enumerate(names):
        checked_name(name, kind="piece's name")
        held = known.get(name)
        if name in names[:k] or (held is not None and (held.source is None or held.source.kind not in kinds)):
            raise UsageError(f"there is a piece '{name}' already; give another name with ", Option("names"))
        if held is not None:
            old[name] = held
    gone = {piece.uid for piece in old.values()}
    seams = tuple(s for s in pattern.seams if not gone & {part.piece for part in (*s.a, *s.b)})
    return replace(pattern, pieces=tuple(p for p in pattern.pieces if p.uid not in gone), seams=seams), old


def as_before(piece: Piece, old: Piece | None) -> Piece:
    """The piece where the old one lay, with its allowances, its label, its numbers and its material."""
    if old is None:
        return piece
    mine, its = (bounds(chain(outline(p), within=1e-6)) for p in (piece, old))
    widths = {edge.name: edge.allowance for edge in old.edges}
    edges = tuple(replace(edge, allowance=widths.get(edge.name)) for edge in piece.edges)
    piece = moved(replace(piece, edges=edges), Affine.translation(its[0] - mine[0], its[1] - mine[1]))
    caption = replace(old.caption, at=None)
    return replace(piece, caption=caption, quantity=old.quantity, cut_as=old.cut_as, material=old.material)


def source_of(pattern: Pattern, run: Sequence[RunPart], *, kind: str, line: str) -> Source:
    """What a piece along a run is made of; of one that is made from lengths alone, what made it."""
    rows: list[Taken] = []
    for part in run:
        piece = pattern.piece_of(part.piece)
        edge = next((e for e in piece.edges if e.uid == part.of), None)
        if isinstance(edge, Edge) and not part.mirrored:
            rows.append(taken(piece.uid, edge, part.start, part.end))
    of = tuple(dict.fromkeys(part.piece for part in run))
    return Source(kind=kind, of=of, line=line, taken=tuple(rows))


def sewn_on(pattern: Pattern, run: Sequence[RunPart], use: str) -> tuple[Pattern, list[str]]:
    """The pattern with the edges of a run of the use that they have once something is sewn to them, and what changed.

    An edge with a cuff is a seam and no hem any more, a bound one is finished; a stretch of an edge leaves it as it is.
    """
    told = []
    for part in run:
        piece = pattern.piece_of(part.piece)
        edge = next((e for e in piece.edges if e.uid == part.of), None)
        if edge is None or edge.use == use or part.start is not None:
            continue
        width = None if edge.allowance is None else Allowance(width=ALLOWANCES[use])
        now = replace(edge, use=use, allowance=width)
        edges = tuple(now if e.uid == edge.uid else e for e in piece.edges)
        pattern = pattern.with_piece(replace(piece, edges=edges))
        told.append(f"{piece.name}.{edge.name} was of use {edge.use} and is {use} now, {ALLOWANCES[use]:g} mm wide")
    return pattern, told
