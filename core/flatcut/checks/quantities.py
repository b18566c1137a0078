"""The cut list and the seams agree: what is sewn together is cut equally often."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import FAULT, WARNING, Finding, plural
from flatcut.marking.cutline import wants_cut
from flatcut.pattern.runs import owner, written
from flatcut.pattern.values import Edge, Pattern, Piece, RunPart, Seam


@dataclass(frozen=True, kw_only=True)
class Quantities(Check):
    """The two sides of a seam are there equally often, pairs and folds counted, once the pieces have allowances."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams whose sides are cut a different number of times."""
        pattern = subject.pattern
        # edges whose two halves are sewn each in its own way are not counted
        halves = {part.of for seam in pattern.seams for part in (*seam.a, *seam.b) if part.mirrored}
        several = _several(pattern)
        yield from self._shared(pattern, {of: seams for of, seams in several.items() if of not in halves})
        for seam in pattern.seams:
            parts = (*seam.a, *seam.b)
            pieces = [owner(pattern, part)[0] for part in parts]
            if any(part.of in halves or part.of in several for part in parts):
                continue
            if not all(wants_cut(piece) for piece in pieces):
                continue
            one, two = _count(pattern, seam.a), _count(pattern, seam.b)
            if one == two:
                continue
            a, b = written(pattern, seam.a), written(pattern, seam.b)
            few, many = ((a, one), (b, two)) if one < two else ((b, two), (a, one))
            yield Finding(
                check=self.name,
                severity=WARNING if seam.suggested else FAULT,
                where=(few[0], many[0]),
                text=f"{few[0]} is there {_times(few[1])} and {many[0]}, which it is sewn to, {_times(many[1])}; "
                f"say with label how often each is cut",
                figure=one - two,
                unit="",
                about=seam.uid,
            )

    def _shared(self, pattern: Pattern, several: dict[str, list[Seam]]) -> Iterator[Finding]:
        """Pieces cut several times, such as gores, of which not all are sewn, or more than there are."""
        for of, seams in several.items():
            part = next(part for part in (*seams[0].a, *seams[0].b) if part.of == of)
            piece, thing = owner(pattern, part)
            others = [seam.b if any(p.of == of for p in seam.a) else seam.a for seam in seams]
            if any(p.mirrored for run in others for p in run):
                continue
            if not all(wants_cut(owner(pattern, p)[0]) for run in others for p in run):
                continue
            alone = any(p.piece == piece.uid for run in others for p in run)
            met = sum(_count(pattern, run) for run in others if run[0].piece != piece.uid)
            if met > piece.quantity or (met < piece.quantity and not alone):
                name = f"{piece.name}.{thing.name}"
                yield Finding(
                    check=self.name,
                    severity=FAULT,
                    where=(name,),
                    text=f"{name} is there {_times(piece.quantity)}, and what it is sewn to {_times(met)} in all; say "
                    f"with label how often each is cut",
                    figure=met - piece.quantity,
                    unit="",
                )


def _several(pattern: Pattern) -> dict[str, list[Seam]]:
    """The edges, by uid, of pieces cut several times over and no pairs, of which each is sewn to something else."""
    met: dict[str, list[Seam]] = {}
    for seam in pattern.seams:
        for part in (*seam.a, *seam.b):
            piece, _ = owner(pattern, part)
            if piece.cut_as == "single" and piece.quantity > 1:
                met.setdefault(part.of, []).append(seam)
    # what is sewn to another layer of cloth as well is no part of a row
    return {of: seams for of, seams in met.items() if len(seams) > 1 and len(_layers(pattern, of, seams)) == 1}


def _layers(pattern: Pattern, of: str, seams: list[Seam]) -> set[tuple[str, str]]:
    found = set()
    for seam in seams:
        for run in (seam.a, seam.b):
            piece = owner(pattern, run[0])[0]
            if all(part.of != of for part in run):
                kind = piece.source.kind if piece.source and piece.source.kind in ("lining", "facing") else ""
                found.add((piece.material, kind))
    return found


def _count(pattern: Pattern, run: tuple[RunPart, ...]) -> int:
    """How often the side of a seam is there: as often as the part of it that is there least."""
    return min(times(*owner(pattern, part)) for part in run)


def times(piece: Piece, thing: object) -> int:
    """How often an edge is there once everything is cut: both halves of a fold have it, the fold line itself is one."""
    doubled = piece.cut_as == "fold" and not (isinstance(thing, Edge) and thing.use == "fold")
    return piece.quantity * (2 if doubled else 1)


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, plural(count, "time"))
