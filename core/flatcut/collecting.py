"""Several patterns brought into one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from flatcut.arguments import parse_line
from flatcut.errors import UsageError
from flatcut.pattern.places import Rename
from flatcut.pattern.renewing import renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam, Step


def collected(parts: Sequence[tuple[str, Pattern]], *, prefix: bool = False) -> Pattern:
    """The pieces, seams and steps of named patterns, one after the other.

    prefix: pieces are called NAME-PIECE after their pattern. Errors: UsageError on a name that comes twice without it,
    or on measurements that differ.
    """
    whole = Pattern()
    uids = Uids()
    for name, pattern in parts:
        new = _prefixed(name) if prefix else str
        taken = {p.name for p in whole.pieces}
        clash = sorted(taken & {new(p.name) for p in pattern.pieces})
        if clash:
            raise UsageError(f"two drawings have a piece called '{clash[0]}'; write --prefix, or rename one")
        fresh: dict[str, str] = {}
        pieces = []
        for piece in pattern.pieces:
            copy = _placing(renewed(piece, uids, name=new(piece.name)), piece, pattern, new)
            fresh[piece.uid] = copy.uid
            fresh.update(_pairs(piece, copy))
            pieces.append(copy)
        pieces = [_sourced(piece, fresh, new if prefix else None, pattern) for piece in pieces]
        whole = replace(
            whole,
            pieces=(*whole.pieces, *pieces),
            seams=(*whole.seams, *(_seam(seam, fresh, uids) for seam in pattern.seams)),
            style=whole.style if whole.style.name else pattern.style,
            body=_together(whole.body, pattern.body, "measurement"),
            measures=_together(whole.measures, pattern.measures, "stored measure"),
            steps=(*whole.steps, *((_step(step, new, pattern) for step in pattern.steps) if prefix else pattern.steps)),
        )
    return whole


def _prefixed(drawing: str) -> Rename:
    """Gives every piece of a drawing, also one that is gone by now, its name after that of the drawing."""
    return lambda piece: f"{drawing}-{piece}"


def _placing(copy: Piece, piece: Piece, pattern: Pattern, name: Rename) -> Piece:
    """The copy with the lines on which others are placed, such as pockets, called as those are now."""
    placed = {other.name for other in pattern.pieces if other.source is not None and piece.uid in other.source.of}
    lines = tuple(
        replace(line, name=name(line.name)) if line.kind == "placement" and line.name in placed else line
        for line in copy.lines
    )
    return replace(copy, lines=lines)


def _sourced(piece: Piece, fresh: dict[str, str], name: Rename | None, after: Pattern) -> Piece:
    """A derived piece with what it was made of called as it is now. name: gives pieces their new names, if any."""
    if piece.source is None:
        return piece
    source = piece.source.renewed(fresh)
    if name is not None and source.line:
        source = replace(source, line=_step(Step(line=source.line), name, after).line)
    return replace(piece, source=source)


def _pairs(old: Piece, new: Piece) -> dict[str, str]:
    return {a.uid: b.uid for a, b in zip(old.things(), new.things(), strict=True)}


def _seam(seam: Seam, fresh: dict[str, str], uids: Uids) -> Seam:
    def run(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        return tuple(replace(part, piece=fresh[part.piece], of=fresh[part.of]) for part in parts)

    return replace(seam, uid=uids.fresh("copy", seam.uid), a=run(seam.a), b=run(seam.b))


def _together(one: Mapping[str, float], two: Mapping[str, float], kind: str) -> dict[str, float]:
    for name in sorted(one.keys() & two.keys()):
        if abs(one[name] - two[name]) > 1e-6:
            raise UsageError(f"the {kind} '{name}' differs between the drawings; make it equal first")
    return {**one, **two}


def _step(step: Step, name: Rename, after: Pattern) -> Step:
    """The step with the pieces' new names in it. after: the pattern that its drawing has come to."""
    operation = parse_line(step.line)
    return step if operation is None else replace(step, line=operation.spelled(after).renamed(name).line())
