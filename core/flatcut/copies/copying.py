"""Copies of pieces with identities of their own, and the seams that they have in their layer of cloth."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.runs import owner
from flatcut.pattern.sources import Source
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam, checked_name

LAYERS = ("copy", "lining")
"""Kinds of sources of pieces that have the edges of what they were made of, and so its seams."""


@dataclass(frozen=True, kw_only=True)
class Copied:
    """pieces: the copies; joined: seams among pieces of the layer; shell: seams to pieces of which there is no copy."""

    pattern: Pattern
    pieces: tuple[Piece, ...]
    joined: int
    shell: int
    warnings: tuple[str, ...]


def names_for(pattern: Pattern, pieces: Sequence[Piece], names: Sequence[str], ending: str) -> list[str]:
    """The names of derived pieces: as given, else each of its piece with an ending.

    Errors: UsageError for too many names or one that is taken.
    """
    if len(names) > len(pieces):
        raise UsageError(Option("names"), f" gives {len(names)} names for {len(pieces)} pieces; give one for each")
    given = [checked_name(name, kind="piece's name") for name in names]
    found = [*given, *(f"{piece.name}-{ending}" for piece in pieces[len(names) :])]
    taken = {piece.name for piece in pattern.pieces}
    for k, name in enumerate(found):
        if name in taken or name in found[:k]:
            raise UsageError(f"there is a '{name}' already; give another name with ", Option("names"))
    return found


def copied(
    pattern: Pattern,
    pieces: Sequence[Piece],
    names: Sequence[str],
    *,
    material: str,
    kind: str,
    mirror: Collection[str] = (),
) -> Copied:
    """The pattern with copies of pieces beside all that is there, of another material unless that is ''.

    mirror: uids of those of which the copy is the mirror image.

    In another material the copies are sewn as their pieces are: to the copies of the same material where both sides
    have one, else to the shell. In the same material only copies that are made together are sewn to each other.
    """
    uids = Uids(pattern.uids())
    fresh: dict[str, str] = {}
    made = []
    for piece, name in zip(pieces, names, strict=True):
        copy = renewed(piece, uids, name=name)
        fresh |= {piece.uid: copy.uid, **_pairs(piece, copy)}
        copy = moved(copy, Affine.scaling(-1, 1)) if piece.uid in mirror else copy
        copy = replace(copy, caption=replace(copy.caption, at=None), material=material or piece.material)
        made.append(replace(copy, source=Source(kind=kind, of=(piece.uid,))))
    left, top = free_place(pattern)
    laid = laid_out(made, left=left, top=top)
    whole = replace(pattern, pieces=(*pattern.pieces, *laid))
    apart = all(material and material != piece.material for piece in pieces)
    seams, joined, shell, said = _seams(pattern, fresh, material if apart else "", uids)
    return Copied(
        pattern=replace(whole, seams=seams),
        pieces=laid,
        joined=joined,
        shell=shell,
        warnings=tuple(dict.fromkeys(said)),
    )


def _pairs(old: Piece, new: Piece) -> dict[str, str]:
    return {a.uid: b.uid for a, b in zip(old.things(), new.things(), strict=True)}


def _seams(
    pattern: Pattern, fresh: Mapping[str, str], layer: str, uids: Uids
) -> tuple[tuple[Seam, ...], int, int, list[str]]:
    """The seams with those of the copies, how many join copies and how many the shell, and what stays open.

    fresh: uid of what was copied to that of its copy; layer: the material of the copies, '' where it is no other.
    """
    earlier = _earlier(pattern, layer) if layer else {}
    mine = set(fresh.values()) | set(earlier.values())

    def here(part: RunPart) -> RunPart:
        return _renamed(part, fresh)

    def layered(part: RunPart) -> RunPart:
        return _renamed(part, fresh if part.piece in fresh else earlier)

    # seams of earlier copies of this layer to pieces that have a copy now: they join the copies
    kept = [
        replace(seam, a=_mapped(seam.a, here), b=_mapped(seam.b, here))
        if any(part.of in set(earlier.values()) for part in (*seam.a, *seam.b))
        else seam
        for seam in pattern.seams
    ]
    known = {_same(seam) for seam in kept}
    joined = shell = 0
    said: list[str] = []
    for seam in pattern.seams:
        if not any(part.of in fresh for part in (*seam.a, *seam.b)):
            continue
        if any(part.of in mine for part in (*seam.a, *seam.b)):
            continue
        whole = replace(seam, a=_mapped(seam.a, layered), b=_mapped(seam.b, layered))
        inside = [[part.of in mine for part in run] for run in (whole.a, whole.b)]
        mixed = any(any(one) and not all(one) for one in inside)
        to_copies, to_shell = all(map(all, inside)), bool(layer) and any(map(all, inside)) and not mixed
        if not to_copies and not to_shell:
            said += _open(pattern, seam, fresh)
            continue
        whole = replace(whole, uid=uids.fresh("copy", seam.uid, *(part.of for part in (*whole.a, *whole.b))))
        if _same(whole) in known:
            continue
        known.add(_same(whole))
        kept.append(whole)
        joined, shell = (joined + 1, shell) if to_copies else (joined, shell + 1)
    return tuple(kept), joined, shell, said


def _earlier(pattern: Pattern, layer: str) -> dict[str, str]:
    """What copies of that material were made of, by name: uid of a piece, an edge or a line to that of its copy."""
    found: dict[str, str] = {}
    for piece in pattern.pieces:
        if piece.source is None or piece.source.kind not in LAYERS or piece.material != layer:
            continue
        for source in (one for one in pattern.pieces if one.uid == piece.source.of[0]):
            names = {thing.name: thing.uid for thing in piece.things()}
            found[source.uid] = piece.uid
            found |= {thing.uid: names[thing.name] for thing in source.things() if thing.name in names}
    return found


def _renamed(part: RunPart, uids: Mapping[str, str]) -> RunPart:
    if part.of not in uids or part.piece not in uids:
        return part
    return replace(part, piece=uids[part.piece], of=uids[part.of])


def _mapped(run: tuple[RunPart, ...], by: Callable[[RunPart], RunPart]) -> tuple[RunPart, ...]:
    return tuple(by(part) for part in run)


def _same(seam: Seam) -> tuple[tuple[RunPart, ...], tuple[RunPart, ...]]:
    return seam.a, seam.b


def _open(pattern: Pattern, seam: Seam, fresh: Mapping[str, str]) -> list[str]:
    """A sentence for each copied edge that a seam leaves open."""
    found = []
    for part in (*seam.a, *seam.b):
        if part.of in fresh:
            piece, thing = owner(pattern, part)
            found.append(f"{piece.name}.{thing.name} is sewn to pieces without a copy; state the seam of its copy")
    return found
