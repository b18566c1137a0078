"""`seam`: which edges are sewn together, as stated or as suggested."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.declared.fields import choice, flag, further, length, refs
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.mating import notches_want_other_way
from flatcut.pattern.places import EVERY, Place, Run, read_run
from flatcut.pattern.runs import found_run, run_sewn, written
from flatcut.pattern.seaming import MISMATCH, runs_meet_head_to_tail
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, RunPart, Seam
from flatcut.sewing.drawn_alike import names_crossed, upside_down
from flatcut.sewing.suggesting import suggested
from flatcut.units import plain

MOST = 20.0
"""mm that suggested sides may differ: half of what is eased into a sleeve's cap (common practice, no source)."""


@operation(menu="Prepare", title="Sew edges")
@dataclass(frozen=True, kw_only=True)
class StateSeam(Operation):
    """State that two runs of edges are sewn together, or look for runs that fit.

    Edges of one run are joined by +. The second run is walked from its end unless the pieces say otherwise: two pieces
    lying right side up meet like that. Of two pieces the two edges that fit are sewn, or suggested where several do.
    With --suggest edges that fit by length, notches and angles are walked and noted as suggested, best first, until
    they are confirmed: by --confirm, or by stating the seam itself.
    """

    previewed: ClassVar[bool] = False

    target: tuple[Place | Run, ...] = refs(
        ("run", "piece"),
        (
            "the two edges",
            "or runs, as front.side back.side; or two pieces, whose edges that fit are looked for; with --suggest, "
            "--confirm and --remove also none",
        ),
        optional=True,
    )
    ease: float = length(0.0, ("ease", "how much longer the second run is wanted"), low=-200, high=500)
    reversed: str = further(
        choice(
            "auto",
            ("second walked from its end", "true where the pieces lie as they are sewn; auto: as they lie"),
            ("auto", "true", "false"),
        )
    )
    suggest: bool = flag(False, ("look for edges that fit", "among the pieces named or all"))
    most: float = further(length(MOST, ("sides may differ by", "how much the two of a suggested seam may"), high=100))
    confirm: bool = flag(
        False, ("confirm suggested seams", "take them for stated ones, with the ease given: those named, or all")
    )
    remove: bool = flag(False, ("take seams away", "those named, or all that are only suggested"))

    def _settled(self, pattern: Pattern) -> StateSeam:
        """A search is recorded as what it found, in pairs of runs: on another size it means the same seams."""
        if any(isinstance(one, Run) for one in self.target) or self.confirm or self.remove:
            return self
        if not self.suggest and not self.target:
            return self
        found = self._found(pattern)
        runs = tuple(run for pair in found for run in pair[:2])
        if self.suggest:
            return replace(self, target=runs)
        if not found:
            raise UsageError(
                f"no edges of {' and '.join(map(str, self.target))} fit each other; mark one edge of each: both "
                "its ends, or a stroke across it"
            )
        return replace(self, target=runs, suggest=len(found) > 1 or bool(found[0][2]))

    def _found(self, pattern: Pattern) -> list[tuple[Run, Run, tuple[str, ...]]]:
        meant = self.evaluated(pattern)
        named = [one for one in meant.target if isinstance(one, Place) and one != EVERY]
        among = [pattern.piece(one.piece).uid for one in named]
        found = suggested(pattern, pieces=among, most=meant.most)
        return [(read_run(one.a.text), read_run(one.b.text), one.also) for one in found]

    def _apply(self, pattern: Pattern) -> Outcome:
        if self.suggest + self.confirm + self.remove > 1:
            raise UsageError(
                "seam does one thing at a time; give one of ",
                Option("suggest"),
                ", ",
                Option("confirm"),
                " and ",
                Option("remove"),
            )
        if self.suggest:
            return self._suggested(pattern)
        if self.confirm or self.remove:
            return self._settling(pattern)
        runs = [one for one in self.target if isinstance(one, Run)]
        if len(runs) < len(self.target):
            raise UsageError("a piece and an edge are given; give an edge of each piece, such as front.side back.side")
        if len(runs) != 2:
            raise UsageError(f"seam takes two runs, and {len(self.target)} are given; join edges of one run by +")
        seam = _seam(pattern, runs, ease=self.ease, reversed=self.reversed)
        # a seam that was suggested for one of these edges gives way
        touched = _edges(seam)
        others = [s for s in pattern.seams if not (_same(s, seam) or (s.suggested and _edges(s) & touched))]
        sewn_a, sewn_b = run_sewn(pattern, seam.a), run_sewn(pattern, seam.b)
        rest = sewn_b - sewn_a - self.ease
        longer = self.target[1] if rest > 0 else self.target[0]
        warnings = [f"{longer} is {plain(abs(rest))} mm too long for this seam"] if abs(rest) > MISMATCH else []
        if self.reversed == "auto" and notches_want_other_way(pattern, seam, within=MISMATCH):
            warnings.append(
                f"the notches meet when {self.target[1]} is walked from its {'start' if seam.reversed else 'end'}; if "
                f"the pieces are drawn alike, not as they lie at the seam, state it with --reversed="
                f"{'false' if seam.reversed else 'true'}"
            )
        elif self.reversed == "auto" and (across := names_crossed(pattern, seam)):
            warnings.append(
                f"{self.target[0]} and {self.target[1]} are sewn so that {across[0]} runs on into {across[1]}; if the "
                f"pieces are drawn alike, not as they lie at the seam, state it with --reversed="
                f"{'false' if seam.reversed else 'true'}"
            )
        elif self.reversed == "auto" and upside_down(pattern, seam):
            warnings.append(
                f"{self.target[0]} and {self.target[1]} meet as upper end to lower end; if the pieces are drawn alike, "
                f"not as they lie at the seam, state it with --reversed={'false' if seam.reversed else 'true'}"
            )
        return Outcome(
            pattern=replace(pattern, seams=(*others, seam)),
            figures=(
                Figure(f"{self.target[0]} sewn", sewn_a),
                Figure(f"{self.target[1]} sewn", sewn_b),
                Figure("difference", sewn_b - sewn_a),
            ),
            warnings=tuple(warnings),
        )

    def _suggested(self, pattern: Pattern) -> Outcome:
        """Note the pairs of runs that are named as suggested."""
        if len(self.target) % 2:
            raise UsageError("seam --suggest takes runs in pairs, or pieces to look among; give one more run")
        if not self.target:
            said = "no two edges fit each other that are in no seam yet; give edges notches, or more room with --most"
            return Outcome(
                pattern=pattern, figures=(Figure("seams suggested", 0, ""),), warnings=(said,), recorded=False
            )
        also = {(a, b): others for a, b, others in replace(self, target=())._found(pattern)}
        new: list[Seam] = []
        figures = [Figure("seams suggested", len(self.target) // 2, "")]
        warnings: list[str] = []
        uids = Uids(pattern.uids())
        runs = [one for one in self.target if isinstance(one, Run)]
        for pair in zip(runs[::2], runs[1::2], strict=True):
            seam = replace(_seam(pattern, pair, uids=uids), suggested=True)
            new.append(seam)
            off = run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a)
            a, b = pair
            figures.append(Figure(f"{a} with {b}, difference", off))
            if abs(off) > MISMATCH:
                longer, shorter = (b, a) if off > 0 else (a, b)
                warnings.append(f"{longer} is {plain(abs(off))} mm longer than {shorter}")
            if also.get(pair):
                warnings.append(f"{a} with {b} is in doubt; {' and '.join(also[pair])} would fit as well")
        touched = {key for seam in new for key in _edges(seam)}
        kept = [s for s in pattern.seams if not (s.suggested and _edges(s) & touched)]
        return Outcome(pattern=replace(pattern, seams=(*kept, *new)), figures=tuple(figures), warnings=tuple(warnings))

    def _settling(self, pattern: Pattern) -> Outcome:
        """Confirm suggested seams, or take seams away."""
        wanted = _named(pattern, self.target)
        mine = [s for s in pattern.seams if (_edges(s) & wanted if wanted else s.suggested)]
        if self.confirm:
            mine = [s for s in mine if s.suggested]
        if not mine:
            kind = "suggested seam" if self.confirm or not wanted else "seam"
            raise UsageError(f"there is no {kind}{' of these edges' if wanted else ''}; see flatcut pieces --json")
        chosen = {seam.uid for seam in mine}
        figures = [Figure(f"seams {'confirmed' if self.confirm else 'taken away'}", len(mine), "")]
        warnings = []
        seams = []
        for seam in pattern.seams:
            if seam.uid not in chosen:
                seams.append(seam)
            elif self.confirm:
                seams.append(replace(seam, suggested=False, ease=self.ease))
                off = run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) - self.ease
                if abs(off) > MISMATCH:
                    a, b = written(pattern, seam.a), written(pattern, seam.b)
                    longer, shorter = (b, a) if off > 0 else (a, b)
                    warnings.append(
                        f"{longer} is {plain(abs(off))} mm longer than {shorter}; if that is ease, state it with --ease"
                    )
        return Outcome(pattern=replace(pattern, seams=tuple(seams)), figures=tuple(figures), warnings=tuple(warnings))


def _seam(
    pattern: Pattern, runs: Sequence[Run], *, ease: float = 0.0, reversed: str = "auto", uids: Uids | None = None
) -> Seam:
    """The seam of two written runs. Errors: UsageError, UnknownNameError."""
    a, b = (found_run(pattern, run) for run in runs)
    if {_part(part) for part in a} & {_part(part) for part in b}:
        raise UsageError("an edge cannot be sewn to itself; give two runs")
    uid = (uids or Uids(pattern.uids())).fresh("seam", *map(str, runs))
    backwards = runs_meet_head_to_tail(pattern, a, b) if reversed == "auto" else reversed == "true"
    return Seam(uid=uid, a=a, b=b, reversed=backwards, ease=ease)


def _part(part: RunPart) -> tuple[object, ...]:
    return part.piece, part.of, part.start, part.mirrored


def _same(one: Seam, two: Seam) -> bool:
    """Whether two seams are of the same runs, whichever is named first."""
    return (one.a, one.b) == (two.a, two.b) or (one.suggested and (one.a, one.b) == (two.b, two.a))


def _edges(seam: Seam) -> set[str]:
    return {part.of for part in (*seam.a, *seam.b)}


def _named(pattern: Pattern, target: Iterable[Place | Run]) -> set[str]:
    """The edges and lines of runs, and of pieces all."""
    found: set[str] = set()
    for one in target:
        if isinstance(one, Run):
            found |= {part.of for part in found_run(pattern, one)}
        else:
            found |= {thing.uid for thing in pattern.piece(one.piece).things()}
    return found
