"""`flounce`: a circle skirt or a flounce, a ring or a part of one, from the edge it is sewn to."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from flatcut.declared.fields import flag, length, number, piece_names, ref, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.redrawing import as_before, made_way, sewn_on, source_of
from flatcut.pattern.run_order import both_halves, in_order, joints, refuse_double, unjoined
from flatcut.pattern.runs import found_run, owner, run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, RunPart, Seam
from flatcut.pattern.walking import drawn_length
from flatcut.strips.circling import parts_of, radius, sector
from flatcut.strips.parting import part_seams
from flatcut.units import plain

CLOTH = 1400.0
"""mm of cloth, selvedges off (common practice, no source)."""
FLOUNCE = "flounce"


@operation(menu="Derive", title="Draft circle or flounce")
@dataclass(frozen=True, kw_only=True)
class DraftFlounce(Operation):
    """Draft a circle skirt or a flounce: a ring, or part of one, whose inner edge is as long as what it is sewn to.

    --circles says how much of a circle it is: 1, 0.75, 0.5, 0.25, or more than one for a flounce. It is cut in as many
    equal parts as the cloth is wide enough for, which is told. The edge stretches where it lies on the bias: --less
    makes it smaller. Let it hang before the hem is levelled; a round hem is turned no wider than 1.3 cm.
    """

    target: tuple[str, ...] = piece_names(("name of the piece", "by default flounce"))
    to: Place | Run | None = ref(
        ("run", "edge"), ("sewn to", "edges joined by +, such as skirt-back.waist+skirt-front.waist"), filled=False
    )
    both: bool = flag(False, ("both halves", "along the edges and then their mirror image"))
    inner: float | None = length(None, ("length of the inner edge", "", "that of the edges"), low=20)
    high: float = length(600.0, ("how long it is", "from the inner edge to the hem"), low=10, high=2000)
    circles: float = number(1.0, ("how many circles", "1 is a whole one"), low=0.05, high=6)
    less: float = length(0.0, ("inner edge shorter by", "than what it is sewn to, as it stretches"), high=60)
    cloth: float = length(CLOTH, ("width of the cloth", "without its selvedges"), low=100)
    edge: str = text("waist", ("name of the inner edge", "such as waist"), named=True)
    material: str = text("", ("material", "it is cut from; that of what it is sewn to"))

    def spelled(self, after: Pattern) -> DraftFlounce:
        """With the name of its piece, where it is the usual one."""
        return replace(self, target=(self._name(),))

    def _name(self) -> str:
        if len(self.target) > 1:
            raise UsageError(f"flounce drafts one piece, and {len(self.target)} names are given; name one")
        return self.target[0] if self.target else FLOUNCE

    def _apply(self, pattern: Pattern) -> Outcome:
        name = self._name()
        pattern, old = made_way(pattern, [name], (FLOUNCE,))
        run = self._run(pattern)
        sewn = run_sewn(pattern, run) if run else 0.0
        long = (self.inner if self.inner is not None else sewn) - self.less
        if long <= 1.0:
            raise UsageError(f"the inner edge would be {plain(long)} mm long; give more with ", Option("inner"))
        size = radius(long, self.circles)
        count = parts_of(size + self.high, self.circles, self.cloth)
        turn = 2 * math.pi * self.circles / count
        uids = Uids(pattern.uids())
        # one part is sewn to all of it, or to its half: it has a notch where the seams of the garment meet it
        part = run if count == 1 else run[: len(run) // 2] if count == 2 and any(p.mirrored for p in run) else ()
        total = run_sewn(pattern, part) if part else 0.0
        # parts that meet the garment anywhere have none, for nothing there answers to it
        middle = [] if run else [long / count / 2]
        places = [long / count * (1 - at / total) for at in joints(pattern, part)] if part else middle
        piece = sector(name, size, self.high, turn, places, uids, edge=self.edge)
        materials = {owner(pattern, part)[0].material for part in run}
        material = self.material or (materials.pop() if len(materials) == 1 else "")
        left, top = free_place(pattern)
        piece = laid_out((replace(piece, material=material),), left=left, top=top)[0]
        piece = as_before(replace(piece, source=source_of(pattern, run, kind=FLOUNCE, line=self.line())), old.get(name))
        piece = replace(piece, quantity=count)
        pattern, changed = sewn_on(pattern, run, "seam")
        changed = [*unjoined(pattern, run), *changed]
        pattern = replace(pattern, pieces=(*pattern.pieces, piece))
        seams, told = self._seams(pattern, piece, run, count, sewn - long, uids)
        hem = drawn_length(piece.edge("hem")) * count
        figures = (
            Figure(f"{name} inner edge", long),
            Figure(f"{name} inner radius", size),
            Figure(f"{name} outer radius", size + self.high),
            Figure(f"{name} hem", hem),
            Figure(f"{name} parts", count, ""),
        )
        return Outcome(
            pattern=replace(pattern, seams=(*pattern.seams, *seams)),
            figures=figures,
            warnings=(*told, *changed),
        )

    def _run(self, pattern: Pattern) -> tuple[RunPart, ...]:
        if self.to is None:
            if self.inner is None:
                raise UsageError(
                    "a flounce wants its inner edge; name what it is sewn to with ",
                    Option("to"),
                    ", or give ",
                    Option("inner"),
                )
            return ()
        if self.inner is not None:
            raise UsageError(Option("to"), " and ", Option("inner"), " both give the inner edge; leave one out")
        stated = self.to if isinstance(self.to, Run) else Run((Part(place=self.to),))
        run = found_run(pattern, stated)
        refuse_double(run, "the run")
        run = in_order(pattern, run).run
        return both_halves(pattern, run) if self.both else run

    def _seams(
        self, pattern: Pattern, piece: Piece, run: tuple[RunPart, ...], count: int, ease: float, uids: Uids
    ) -> tuple[list[Seam], list[str]]:
        """Part to part, and each to its stretch of the garment."""
        edges = {edge.name: edge.uid for edge in piece.edges}
        sides = [(RunPart(piece=piece.uid, of=edges[name]),) for name in ("side", "side-2")]
        seams = [Seam(uid=uids.fresh("seam", piece.uid, "side"), a=sides[0], b=sides[1], reversed=True)]
        if not run:
            return seams, []
        found, told = part_seams(pattern, piece, self.edge, run, count, ease, uids)
        return [*seams, *found], told
