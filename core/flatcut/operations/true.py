"""`true`: one fair line over darts and seams, or the two edges of a seam made equal."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.darts.dart_forms import as_cut, as_lines
from flatcut.declared.fields import flag, length, ref, refs
from flatcut.errors import Option, UsageError
from flatcut.geometry.curves import chain
from flatcut.marking.rims import rims
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place, Run
from flatcut.pattern.runs import found_run, run_sewn, walk, written
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, RunPart
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied
from flatcut.truing.after import true_figures
from flatcut.truing.equal import equalled, seam_between
from flatcut.truing.truing import KINK, LEFT, sharpest, trued

WITHIN = 3.0
"""mm that a line may move unless it is said (common practice, no source)."""
SAME = 1e-6
"""mm: a line that moves by no more has stayed where it was."""


@operation(menu="Shape", title="True lines")
@dataclass(frozen=True, kw_only=True)
class TrueLines(Operation):
    """Make a line fair over darts and seams, or the two edges of a seam equal.

    The line is an edge, a stretch of one, or edges that run on into each other over corners and seams, with + between
    them. Darts in it are closed and pieces laid together as they are sewn; the ends of the line keep their place and
    direction, the legs of darts stay equal, and both sides of a seam change alike. A line without kinks or lumps
    stays as it is. With --equal two lines are given that are sewn to each other: each that has a kink is made fair,
    and then the corners at one end move until both are as long as the seam wants.
    """

    target: tuple[Run, ...] = refs("run", ("lines", "such as front.waist, or front.neck+back.neck"))
    within: float = length(
        WITHIN, ("it may move by", "how far a line, or a corner with --equal, may move"), low=0.01, high=50
    )
    reach: float | None = length(
        None, ("redrawn beside a kink", "how far to either side", "the whole line"), low=1, high=1000
    )
    equal: bool = flag(False, ("make both equally long", "two lines that are sewn to each other"))
    at: Place | None = ref(
        "edge",
        (
            "put right at the edge",
            "--equal: at whose corners the length is put right",
            "the hem, else a free edge",
        ),
        filled=False,
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        runs = [found_run(pattern, target) for target in self.target]
        if self.at and not self.equal:
            raise UsageError(Option("at"), " says where edges are made equal; add ", Option("equal"))
        if self.equal and len(runs) != 2:
            raise UsageError(
                Option("equal"),
                f" takes two lines that are sewn to each other, such as front.side back.side; {len(runs)} given",
            )
        seam = seam_between(pattern, *runs) if self.equal else None
        before, (pattern, drawn) = pattern, _cut_in(pattern, runs)
        figures: list[Figure] = []
        dropped: list[str] = []
        for run, name in zip(runs, self.target, strict=True):
            if seam is None or sharpest(pattern, walk(pattern, run)) > KINK:
                done = trued(pattern, walk(pattern, run), within=float(self.within), reach=self.reach)
                pattern = done.pattern
                dropped += done.dropped
                figures += true_figures(str(name), done)
                if done.largest < SAME and done.kink < LEFT:
                    dropped.append(f"{name} has no kink and is even, so there is nothing to true: it stays as it is")
        if seam is not None:
            at = edge_of(pattern, self.at)[1].uid if self.at else ""
            same = equalled(pattern, seam, within=float(self.within), at=at)
            pattern = same.pattern
            dropped += same.dropped
            a, b = written(pattern, seam.a), written(pattern, seam.b)
            figures += [
                Figure(f"{b} longer than {a} before, beyond its ease", same.before),
                *(Figure(f"{corner} moved by", by) for corner, by in zip(same.corners, same.moved, strict=True)),
                Figure(f"{a} sewn", run_sewn(pattern, seam.a)),
                Figure(f"{b} sewn", run_sewn(pattern, seam.b)),
            ]
        figures += _lengths(before, pattern)
        pattern = _inside_again(pattern, drawn)
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(dropped)))


def _cut_in(pattern: Pattern, runs: list[tuple[RunPart, ...]]) -> tuple[Pattern, list[tuple[str, str]]]:
    """The pattern with the darts of the edges that are drawn inside cut in, and which they were: piece and dart."""
    wanted = {part.of for run in runs for part in run}
    drawn = []
    for piece in pattern.pieces:
        for dart in piece.darts:
            if dart.form == "lines" and not dart.double and dart.host in wanted:
                now = pattern.piece_of(piece.uid)
                pattern, _, _ = as_cut(pattern, now, next(d for d in now.darts if d.uid == dart.uid))
                drawn.append((piece.uid, dart.uid))
    return pattern, drawn


def _inside_again(pattern: Pattern, drawn: list[tuple[str, str]]) -> Pattern:
    """The pattern with darts that were drawn inside so again, the edge over their mouths shaped as they are folded."""
    for uid, dart_uid in drawn:
        piece = pattern.piece_of(uid)
        dart = next(d for d in piece.darts if d.uid == dart_uid)
        halves = [rim.curve for rim in rims(piece, sewn=True) if rim.dart is not None and rim.dart.uid == dart_uid]
        pattern, _ = applied(pattern, as_lines(piece, dart, chain(halves, within=1e-6), Uids(pattern.uids())))
    return pattern


def _lengths(before: Pattern, after: Pattern) -> list[Figure]:
    """By how much each edge that changed is longer, as it is sewn."""
    found = []
    for old, new in zip(before.pieces, after.pieces, strict=True):
        for a, b in zip(old.edges, new.edges, strict=True):
            was, now = (drawn_length(e) - sum(t.amount for t in e.takeups) for e in (a, b))
            if abs(now - was) > 0.005:
                found.append(Figure(f"{new.name}.{b.name} sewn, longer by", now - was))
    return found
