"""Equal parts of a skirt or flounce sewn to the run that they hang from, one beside the other."""

from __future__ import annotations

from flatcut.pattern.runs import owner, run_sewn, stretch_of, walk
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam


def part_seams(
    pattern: Pattern, piece: Piece, edge: str, run: tuple[RunPart, ...], count: int, ease: float, uids: Uids
) -> tuple[list[Seam], list[str]]:
    """The seams of `count` equal parts, all of them `piece`, with a run; and where these meet it between its own seams.

    ease: mm by which the whole run is longer than all parts. Of a run over both halves an even number of parts is
    stated for the first half, the others are its mirror image.
    """
    both = any(part.mirrored for part in run)
    if both and count % 2 == 0:
        run, count, ease = run[: len(run) // 2], count // 2, ease / 2
    total = run_sewn(pattern, run)
    inner = RunPart(piece=piece.uid, of=piece.edge(edge).uid)
    found, places = [], []
    for k in range(count):
        here = stretch_of(pattern, run, total * k / count, total * (k + 1) / count)
        uid = uids.fresh("seam", piece.uid, "garment", *([str(k)] if k else []))
        found.append(Seam(uid=uid, a=(inner,), b=here, reversed=True, ease=ease / count))
        if k:
            places.append(_begins(pattern, here[0]))
    if not places:
        return found, []
    return found, [f"its parts meet the garment between its seams; notch it at {', '.join(dict.fromkeys(places))}"]


def _begins(pattern: Pattern, part: RunPart) -> str:
    """Where a part of a run begins, as a place on the paper piece: of both halves one is drawn."""
    step = walk(pattern, (part,))[0]
    name = owner(pattern, part)[1].name
    return f"{step.piece.name}.{name}@{round(step.start if step.forward else step.end, 2):g}"
