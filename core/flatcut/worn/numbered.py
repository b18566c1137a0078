"""Pieces that are cut several times over and sewn to each other, such as gores: each as a piece of its own.

A row is sewn from neighbour to neighbour, one edge of each to the other edge of the next; what else these edges are
sewn to stands at its two ends, and a row without ends is a ring.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from flatcut.errors import Option, UsageError
from flatcut.findings import plural
from flatcut.pattern.renewing import renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam
from flatcut.worn.choosing import lies_inside
from flatcut.worn.outer import hangs, unfit_strip
from flatcut.worn.placing import limb_of
from flatcut.worn.ringed import ringed
from flatcut.worn.sewn import alone, seams_of


class Numbered(NamedTuple):
    """A pattern in which each gore is a piece. names, places: as asked for, of these; said: what is assumed."""

    pattern: Pattern
    names: tuple[str, ...]
    places: dict[str, str]
    said: tuple[str, ...]


def numbered(pattern: Pattern, names: Sequence[str], places: Mapping[str, str]) -> Numbered:
    """The pattern as it is worn; a place of a piece that is cut several times is that of its first.

    Errors: UsageError where it does not follow how a row is sewn.
    """
    there = {p.uid: p for p in pattern.pieces if (p.name in names if names else _fit(pattern, p))}
    rows: dict[str, list[str]] = {}
    said: list[str] = []
    for piece in list(there.values()):
        if _repeated(piece) and _own(pattern, piece):
            pattern, made, ring = _row(pattern, piece, there)
            del there[piece.uid]
            there.update({one.uid: one for one in made})
            rows[piece.name] = [one.name for one in made]
            first, last = made[0].name, made[-1].name
            how = f"sewn in a {'ring' if ring else 'row'}"
            said.append(f"{piece.name} is cut {plural(piece.quantity, 'time')}: {first} to {last}, {how}")
    every = tuple(one for name in names for one in rows.get(name, [name]))
    asked = {rows.get(name, [name])[0]: side for name, side in places.items()}
    found = ringed(pattern, there, asked, alike=list(rows.values()))
    return Numbered(found.pattern, every, asked | found.places, (*said, *found.said))


def _fit(pattern: Pattern, piece: Piece) -> bool:
    if lies_inside(piece) or unfit_strip(piece):
        return False
    return not _repeated(piece) or bool(_own(pattern, piece))


def _repeated(piece: Piece) -> bool:
    return alone(piece) and piece.quantity > 1 and not hangs(piece) and not limb_of(piece, {})


def _parts(seam: Seam) -> tuple[RunPart, ...]:
    return (*seam.a, *seam.b)


def _own(pattern: Pattern, piece: Piece) -> list[Seam]:
    """The seams of a piece to itself."""
    return list(seams_of(pattern, {piece.uid: piece}))


def _row(pattern: Pattern, piece: Piece, there: Mapping[str, Piece]) -> tuple[Pattern, list[Piece], bool]:
    """The pattern with as many pieces as one is cut times, these, and whether they are a ring."""
    count, own = piece.quantity, _own(pattern, piece)
    begun = f"{piece.name} is cut {plural(count, 'time')}, and "
    edges = [part.of for seam in own for part in _parts(seam)]
    if len(edges) != 2 or edges[0] == edges[1]:
        raise UsageError(
            f"{begun}it cannot be told how they follow each other; sew one edge of it to one other, or name the "
            "pieces that are worn with ",
            Option("pieces"),
        )
    others = [s for s in seams_of(pattern, there) if s not in own and any(p.piece == piece.uid for p in _parts(s))]
    used = Counter(part.of for seam in others for part in _parts(seam) if part.piece == piece.uid)
    # what ends a row may not be asked for: then it is no ring either
    seen = {one.uid: one for one in pattern.pieces if not lies_inside(one)}
    ring = not any(part.of in edges for seam in seams_of(pattern, seen) if seam not in own for part in _parts(seam))
    among = dict.fromkeys(edges, count if ring else count - 1)
    for of in {**among, **used}:
        name, times = f"{piece.name}.{piece.edge_of(of).name}", used[of] + among.get(of, 0)
        if times != count or of not in edges:
            raise UsageError(
                f"{begun}{name} is sewn {plural(times, 'time')}: it cannot be told which of them is sewn where; say "
                "with label how often it is cut, state its seams, or name the pieces that are worn with ",
                Option("pieces"),
            )
    ends = {edges[1]: 0, edges[0]: count - 1}  # where the row begins and where it stops
    uids = Uids(pattern.uids())
    made = [replace(renewed(piece, uids, name=f"{piece.name} {k + 1}"), quantity=1) for k in range(count)]

    def on(part: RunPart, k: int) -> RunPart:
        fresh = dict(zip((e.uid for e in piece.edges), (e.uid for e in made[k].edges), strict=True))
        return replace(part, piece=made[k].uid, of=fresh[part.of])

    def ended(run: Sequence[RunPart]) -> tuple[RunPart, ...]:
        return tuple(on(part, ends[part.of]) if part.piece == piece.uid else part for part in run)

    seams = [
        replace(own[0], uid=uids.fresh(own[0].uid, str(k)), a=(on(own[0].a[0], k),), b=(on(own[0].b[0], after),))
        for k, after in ((k, (k + 1) % count) for k in range(count if ring else count - 1))
    ]
    seams += [replace(seam, a=ended(seam.a), b=ended(seam.b)) for seam in others]
    kept = [seam for seam in pattern.seams if all(part.piece != piece.uid for part in _parts(seam))]
    pieces = [new for one in pattern.pieces for new in (made if one is piece else [one])]
    return replace(pattern, pieces=tuple(pieces), seams=(*kept, *seams)), made, ring
