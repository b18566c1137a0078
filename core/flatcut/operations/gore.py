"""`gore`: the gores of a flared skirt, all alike."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import flag, further, length, number, piece_names, ref, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out, sewn_to
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.redrawing import as_before, made_way, sewn_on, source_of
from flatcut.pattern.run_order import both_halves, in_order, refuse_double
from flatcut.pattern.runs import found_run, owner, run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, RunPart, Seam
from flatcut.pattern.walking import drawn_length
from flatcut.strips.goring import Gore, gore
from flatcut.strips.parting import part_seams

GORE = "gore"
NAMES = (GORE, "gore-front", "gore-back")
WAIST_EASE, HIP_EASE = 10.0, 40.0
"""mm over the body's waist and hip, the whole skirt (common practice, no source)."""
LEVEL = 200.0
"""mm from waist to hip where the body says nothing (common practice: 20 to 21 cm, no source)."""


@operation(menu="Derive", title="Draft gores")
@dataclass(frozen=True, kw_only=True)
class DraftGores(Operation):
    """Draft the gores of a flared skirt: equal parts of waist and hip, each seam flared from the hip or below.

    One gore is drawn and cut so many times; its hem is square to both seams. Waist and hip are those of the body with
    usual ease, unless they are stated or --to names what the waist is sewn to. With --opening the two gores beside a
    zip are pieces of their own, in front of it and behind it as it is worn on the left side. All figures are common
    practice and can be set.
    """

    target: tuple[str, ...] = piece_names(
        ("names of the pieces", "by default gore; with an opening gore, gore-front and gore-back")
    )
    count: float = number(6, ("gores", "how many make the skirt"), low=2, high=36, digits=0)
    waist: float | None = length(None, ("waist", "finished, all round", "the body's and 1 cm"), low=50, high=3000)
    to: Place | Run | None = ref(
        ("run", "edge"), ("sewn to", "edges joined by +, such as back.waist+front.waist"), filled=False
    )
    both: bool = flag(False, ("both halves", "along the edges and then their mirror image"))
    hip: float | None = length(None, ("hip", "finished, all round", "the body's and 4 cm"), low=50, high=4000)
    level: float | None = length(None, ("from waist to hip", "", "the body's, else 20 cm"), low=10, high=500)
    high: float = length(600.0, ("how long it is", "from the waist to the hem"), low=60, high=2000)
    flare: float = length(60.0, ("flare at each seam", "how much wider each edge ends than at the hip"), high=1500)
    from_: float | None = length(None, ("flares from", "how far below the waist", "the hip"), low=10, high=2000)
    opening: float | None = length(
        None, ("opening", "for a zip, from the waist down, between two of the gores", "none"), low=1, high=1000
    )
    edge: str = further(text("waist", ("name of the upper edge", "such as waist"), named=True))
    material: str = further(text("", ("material", "it is cut from; that of what it is sewn to")))

    @property
    def begins(self) -> bool:
        """Gores that are sewn to nothing are drafted from measurements alone."""
        return self.to is None

    def spelled(self, after: Pattern) -> DraftGores:
        """With the names of its pieces, where they are the usual ones."""
        return replace(self, target=self._names())

    def _names(self) -> tuple[str, ...]:
        most = len(NAMES) if self.opening else 1
        if len(self.target) > most:
            raise UsageError(
                f"{len(self.target)} names are given for {most} piece{'s' * (most > 1)}; without ",
                Option("opening"),
                " gores are one piece, with it three",
            )
        # those beside the opening are called after the first
        first = self.target[0] if self.target else GORE
        return (*self.target, *(name.replace(GORE, first, 1) for name in NAMES[len(self.target) : most]))

    def _apply(self, pattern: Pattern) -> Outcome:
        names = self._names()
        count = int(self.count)
        if self.count != count:
            raise UsageError(Option("count"), " takes a whole number")
        if self.opening and count < 3:
            raise UsageError(Option("opening"), " wants three gores or more, so that one is left beside it")
        pattern, old = made_way(pattern, names, (GORE,))
        run = self._run(pattern)
        cut = self._cut(pattern, run, count)
        uids = Uids(pattern.uids())
        made = [gore(names[0], cut, uids, edge=self.edge)]
        made[0] = replace(made[0], quantity=count - (2 if self.opening else 0))
        if self.opening:
            zipped = replace(cut, zip=self.opening)
            made.append(gore(names[1], replace(zipped, zipped="side"), uids, edge=self.edge))
            made.append(gore(names[2], replace(zipped, zipped="side-2"), uids, edge=self.edge))
        materials = {owner(pattern, part)[0].material for part in run}
        material = self.material or (materials.pop() if len(materials) == 1 else "")
        left, top = free_place(pattern)
        source = source_of(pattern, run, kind=GORE, line=self.line())
        pieces = tuple(
            replace(as_before(replace(piece, source=source), old.get(piece.name)), quantity=piece.quantity)
            for piece in laid_out((replace(piece, material=material) for piece in made), left=left, top=top)
        )
        pattern, told = sewn_on(pattern, run, "seam")
        pattern = replace(pattern, pieces=(*pattern.pieces, *pieces))
        seams = [*_closing(pieces, uids), *self._to_garment(pattern, pieces, run, count, told, uids)]
        return Outcome(
            pattern=replace(pattern, seams=(*pattern.seams, *seams)),
            figures=_figures(pieces[0], cut, count, self.edge),
            warnings=tuple(told),
        )

    def _run(self, pattern: Pattern) -> tuple[RunPart, ...]:
        if self.to is None:
            if self.both:
                raise UsageError("without edges there are no halves of them; name them with ", Option("to"))
            return ()
        if self.waist is not None:
            raise UsageError(Option("to"), " and ", Option("waist"), " both give the waist; leave one out")
        if self.opening:
            raise UsageError(
                "an opening begins at the top of the skirt, so nothing is sewn to it there yet; leave ",
                Option("to"),
                " out, and state the seams",
            )
        run = found_run(pattern, self.to if isinstance(self.to, Run) else Run((Part(place=self.to),)))
        refuse_double(run, "the run")
        run = in_order(pattern, run).run
        return both_halves(pattern, run) if self.both else run

    def _cut(self, pattern: Pattern, run: tuple[RunPart, ...], count: int) -> Gore:
        body = pattern.body

        def girth(stated: float | None, name: str, ease: float) -> float:
            if stated is not None:
                return stated
            if name not in body:
                raise UsageError(
                    f"gores want a {name}; give ", Option(name), ", or draw them in a pattern of a body that says it"
                )
            return body[name] + ease

        level = self.level if self.level is not None else body.get("waist-to-hip", LEVEL)
        return Gore(
            waist=(run_sewn(pattern, run) if run else girth(self.waist, "waist", WAIST_EASE)) / count,
            hip=girth(self.hip, "hip", HIP_EASE) / count,
            level=level,
            high=self.high,
            flare=self.flare,
            since=level if self.from_ is None else self.from_,
        )

    def _to_garment(
        self,
        pattern: Pattern,
        pieces: tuple[Piece, ...],
        run: tuple[RunPart, ...],
        count: int,
        told: list[str],
        uids: Uids,
    ) -> list[Seam]:
        if not run:
            return []
        seams, said = part_seams(pattern, pieces[0], self.edge, run, count, 0.0, uids)
        told += said
        return seams


def _closing(pieces: tuple[Piece, ...], uids: Uids) -> list[Seam]:
    """Gore to gore, round the skirt: the right seam of each to the left one of the next."""
    first = pieces[0]
    found = [] if first.quantity == 1 else [sewn_to((first, "side"), (first, "side-2"), uids)]
    if len(pieces) > 1:
        front, back = pieces[1:]
        found.append(sewn_to((front, "side"), (back, "side-2"), uids))
        found.append(sewn_to((back, "side"), (first, "side-2"), uids))
        found.append(sewn_to((first, "side"), (front, "side-2"), uids))
    return found


def _figures(piece: Piece, cut: Gore, count: int, edge: str) -> tuple[Figure, ...]:
    hem = drawn_length(piece.edge("hem"))
    hip = next(one for one in piece.lines if one.name == "hip-line").curve
    from_hip = drawn_length(replace(piece.edge("hem"), parts=(hip,)))
    name = piece.name
    return (
        Figure("gores", count, ""),
        Figure(f"{name}.{edge}", drawn_length(piece.edge(edge))),
        Figure(f"{name} hip", from_hip),
        Figure(f"{name}.hem", hem),
        Figure("waist", drawn_length(piece.edge(edge)) * count),
        Figure("hip", from_hip * count),
        Figure("sweep", hem * count),
        Figure(f"{name}.side", drawn_length(piece.edge("side"))),
    )
