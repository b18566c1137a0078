"""`spread`: a piece cut along lines and opened, or overlapped, there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from flatcut.declared.fields import also_true, choice, choices, flag, length, lengths, ref, refs
from flatcut.errors import Option, UsageError
from flatcut.fullness.fullness import FLARE, GATHERS, PLEAT, Wanted, with_fullness
from flatcut.fullness.fullness_figures import fullness_figures, said_of
from flatcut.fullness.holding import bent_straight, held_place, lines_of, pressed_part
from flatcut.fullness.pleats import Fold
from flatcut.fullness.slashing import Slash, refuse_crossed, slash
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.runs import ends, found_run
from flatcut.pattern.spots import named_edge
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.truing.after import trued_after

RESULTS = (FLARE, GATHERS, PLEAT)
FREE = ("hem", "finished")
"""Uses of edges that hang or are finished as they are cut: no gathers are drawn up there unless it is said."""
ENDS = ("start", "end")
LEAST = 0.1
"""mm: a smaller opening is a slip of the hand."""


@operation(menu="Spread and pleat", title="Spread piece")
@dataclass(frozen=True, kw_only=True)
class SpreadLines(Operation):
    """Cut a piece along lines from edge to edge and spread it there, for flare, gathers or pleats.

    Without --at both ends of a line open alike. With --at the amount is what opens at that edge, and the other end is a
    hinge unless --other gives an amount for it too. A negative amount overlaps: so much is taken out. Amounts and
    results may be given for each line, with commas between them. Nothing is stretched: the parts move rigidly.
    """

    target: tuple[Place, ...] = refs("line", ("lines", "from edge to edge, such as skirt.slash-1"))
    amount: tuple[float, ...] = lengths(
        ("how much the lines open", "one for all, or one for each"), low=-2000, high=2000
    )
    at: Place | None = ref(
        "edge",
        ("edge at which they open", "so much, or start or end", "at both ends alike"),
        filled=False,
        words=ENDS,
    )
    other: tuple[float, ...] = lengths(
        ("at their other end", "how much they open there", "a hinge"), low=-2000, high=2000
    )
    to: str = choice(FLARE, ("what comes of the fullness", "flare hangs open"), RESULTS)
    each: tuple[str, ...] = choices(
        ("for each line", "what comes of it, where they differ: flare, gathers or pleat"), RESULTS
    )
    pressed: Place | None = ref(
        "edge",
        ("pleats pressed toward", "an edge, or open", "toward the part that stays"),
        filled=False,
        words=("open",),
    )
    taken_up: tuple[Place, ...] = refs(
        "edge",
        ("edges that are taken up", "gathered or pleated", "all it opens, gathers on no hem"),
        filled=False,
    )
    either_side: float | None = length(None, ("gathers reach beyond by", "how far, beyond the outer lines"), high=2000)
    over: Place | None = ref(
        ("stretch", "edge"),
        (
            "gathers lie over the stretch",
            "as it is sewn, all that the edge has; notches say where they end",
            "by the lines",
        ),
        filled=False,
    )
    # 1 mm is common practice, no source
    within: float = length(1.0, ("a redrawn edge may move by", "0 leaves the edges as they open"), high=20)
    hold: Place | None = ref("edge", ("edge that stays still", "such as front.centre"), filled=False)
    straighten: bool = flag(
        False, ("straighten a bent fold", "draw a fold or centre edge that is bent by it straight again")
    )
    keep_lines: bool = flag(False, ("keep the lines it cuts along", "those of pleats always stay, as their folds"))
    true: float | None = also_true()

    def _apply(self, pattern: Pattern) -> Outcome:
        piece, lines = lines_of(pattern, self.target)
        refuse_crossed(piece, lines)
        cuts = [slash(piece, line) for line in lines]
        gaps = self._gaps(piece, cuts)
        results = self._results(len(cuts))
        still, reason = held_place(piece, cuts, named_edge(piece, self.hold).uid if self.hold else "")
        wanted = [
            Wanted(
                line=cut.line.uid,
                gaps=gap,
                result=result,
                fold=Fold(pressed=pressed_part(piece, cut, self.pressed, still)) if result == PLEAT else None,
            )
            for cut, gap, result in zip(cuts, gaps, results, strict=True)
        ]
        for gap, wish in zip(gaps, results, strict=True):
            if min(gap) < 0 and wish != FLARE:
                raise UsageError(
                    f"what is taken out leaves nothing to be made {wish}; leave ", Option("to"), " out, or open by more"
                )
        if self.pressed and PLEAT not in results:
            raise UsageError(Option("pressed"), " is for pleats; add ", Option("to", "pleat"))
        taking = self._taking(piece, cuts, gaps, results)
        done = with_fullness(
            pattern,
            piece,
            wanted,
            still=still,
            within=self.within,
            taking=taking,
            either_side=self.either_side,
            over=self._over(pattern, piece, taking, results),
            first=cuts[0],
        )
        after, more, lost = bent_straight(done.pattern, piece, straighten=self.straighten)
        figures = (*fullness_figures(piece, done, wanted, reason), *more)
        after = after if self.keep_lines else _without(after, piece, [w.line for w in wanted if w.result != PLEAT])
        after, trued, told = trued_after(pattern, after, self.true)
        said = (*said_of(piece, done, self.within), *lost, *told)
        motions = tuple(spread.moved for spread in done.spreads)
        return Outcome(pattern=after, figures=(*figures, *trued), warnings=said, motions=motions)

    def _over(
        self, pattern: Pattern, piece: Piece, taking: frozenset[str], results: Sequence[str]
    ) -> tuple[str, float, float] | None:
        """The edge (uid) whose gathers are to lie between two places of it, mm sewn."""
        if not self.over:
            return None
        if self.either_side is not None:
            raise UsageError(
                Option("over"), " and ", Option("either-side"), " both say how far gathers reach; give one"
            )
        part = found_run(pattern, Run((Part(place=self.over),)))[0]
        if part.piece != piece.uid or part.of not in taking or GATHERS not in results:
            raise UsageError(
                f"nothing is gathered on '{self.over}'; name an edge of {piece.name} that is, in ", Option("over")
            )
        return (part.of, *ends(pattern, part))

    def _results(self, count: int) -> list[str]:
        if not self.each:
            return [self.to] * count
        if len(self.each) != count:
            raise UsageError(Option("each"), f" gives {len(self.each)} results for {count} lines; give one for each")
        return list(self.each)

    def _gaps(self, piece: Piece, cuts: Sequence[Slash]) -> list[tuple[float, float]]:
        """mm at the start and the end of each line."""
        if not self.amount:
            raise UsageError(
                "spread takes ", Option("amount"), ", how much the lines open, such as ", Option("amount", "4cm")
            )
        if self.other and not self.at:
            raise UsageError(
                Option("other"),
                " is for the other end than ",
                Option("at"),
                "; say which with ",
                Option("at", f"{piece.name}.EDGE"),
            )
        amounts, others = (self._for_each(name, len(cuts)) for name in ("amount", "other"))
        found = []
        for cut, amount, other in zip(cuts, amounts, others, strict=True):
            if not self.at:
                gaps = (amount, amount)
            else:
                gaps = (amount, other) if self._end(piece, cut) == 0 else (other, amount)
            for gap in gaps:
                if 0 < abs(gap) < LEAST:
                    raise UsageError(f"an opening of {gap:g} mm is nothing that can be cut; give 0 or at least {LEAST}")
            if gaps == (0.0, 0.0):
                raise UsageError(f"{piece.name}.{cut.line.name} opens by nothing; give an amount, above or below 0")
            found.append(gaps)
        return found

    def _for_each(self, name: str, count: int) -> list[float]:
        given = getattr(self, name) or (0.0,)
        if len(given) not in (1, count):
            raise UsageError(Option(name), f" gives {len(given)} lengths for {count} lines; give one, or one for each")
        return list(given) * (count if len(given) == 1 else 1)

    def _end(self, piece: Piece, cut: Slash) -> int:
        """0 when the line starts at the edge of --at, 1 when it ends there."""
        name = f"{piece.name}.{cut.line.name}"
        edges = [edge.name for edge in piece.edges]
        assert self.at is not None
        if not self.at.piece and self.at.name in ENDS and self.at.name not in edges:
            return ENDS.index(self.at.name)
        edge = named_edge(piece, self.at)
        there = [edge.uid in cut.edges(k) for k in (0, 1)]
        if there == [True, True]:
            raise UsageError(
                f"{name} starts and ends at {edge.name}; write ", Option("at", "start"), " or ", Option("at", "end")
            )
        if there == [False, False]:
            ways = [" or ".join(piece.edge_of(uid).name for uid in cut.edges(k)) for k in (0, 1)]
            raise UsageError(f"{name} does not end at {edge.name}; it runs from {ways[0]} to {ways[1]}")
        return there.index(True)

    def _taking(
        self, piece: Piece, cuts: Sequence[Slash], gaps: Sequence[tuple[float, float]], results: Sequence[str]
    ) -> frozenset[str]:
        """uids of the edges on which fullness is taken up."""
        if self.taken_up:
            if set(results) == {FLARE}:
                raise UsageError(Option("taken-up"), " is for gathers and pleats; a flare hangs open")
            return frozenset(named_edge(piece, place).uid for place in self.taken_up)
        opened: dict[str, set[str]] = {}
        for cut, gap, result in zip(cuts, gaps, results, strict=True):
            for k in (0, 1):
                if gap[k] > 0:
                    for uid in cut.edges(k):
                        opened.setdefault(uid, set()).add(result)

        def takes(edge: Edge) -> bool:
            return PLEAT in opened.get(edge.uid, ()) or edge.use not in FREE

        return frozenset(uid for uid in opened if takes(piece.edge_of(uid)))


def _without(pattern: Pattern, piece: Piece, spent: Sequence[str]) -> Pattern:
    """The pattern without lines of a piece that nothing refers to, by their uids: they were drawn to be cut along."""
    used = {part.of for seam in pattern.seams for part in (*seam.a, *seam.b)}
    used |= {button.on for own in pattern.pieces for button in own.buttons}
    now = pattern.piece_of(piece.uid)
    kept = tuple(inner for inner in now.lines if inner.uid not in spent or inner.uid in used)
    return pattern.with_piece(replace(now, lines=kept))
