"""`strip`: a waistband, cuff, binding, strap, tie or tier along what it is sewn to."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, flag, further, number, piece_names, ref, text
from flatcut.declared.fields import length as mm
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.notch_setting import with_mated_notches
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.redrawing import as_before, made_way, sewn_on, source_of
from flatcut.pattern.run_order import both_halves, in_order, joints, refuse_double, unjoined
from flatcut.pattern.runs import found_run, owner, run_sewn, walk
from flatcut.pattern.seam_ends import seam_end
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, RunPart, Seam
from flatcut.strips.kinds import KINDS, LAYERS, Usual
from flatcut.strips.strip import Cutting, drafted, folded_seams, parts_of_cloth, sewn_part, square_of_cloth
from flatcut.units import plain, show

STRIP = "strip"
CLOTH = 1400.0
"""mm of cloth, selvedges off, where a strip across it or on the bias says nothing (common practice, no source)."""


@operation(menu="Derive", title="Draft strip")
@dataclass(frozen=True, kw_only=True)
class DraftStrip(Operation):
    """Draft a strip: a waistband, cuff, binding, strap, tie or tier, as long as what it is sewn to.

    With --to its length is that of the edges, less --ease, which is what they are eased in, or times --gathers; it has
    a notch wherever a seam or a notch of the garment meets it, and the seam is stated. Otherwise give --length. It lies
    with its seam edge below; its edges are seam, start, top and end. An overlap lies at its end, buttonholes at its
    start. A strip longer than the cloth shows where it is joined: cut along those lines. On children's clothes, cords
    and ties at head and neck and small parts such as buttons can harm; keep to the rules of the place where they are
    sold, and ask somebody qualified.
    """

    target: tuple[str, ...] = piece_names(("name of the piece", "by default that of its kind"))
    kind: str = choice("strip", ("kind", "what it is; from that follows what is not stated"), tuple(KINDS))
    to: Place | Run | None = ref(
        ("run", "edge"), ("sewn to", "edges joined by +, such as skirt-back.waist+skirt-front.waist"), filled=False
    )
    both: bool = flag(False, ("both halves", "along the edges and then their mirror image"))
    length: float | None = mm(None, ("length", "finished, without the overlap", "that of the edges"), low=1)
    width: float | None = mm(None, ("finished width", "", "by its kind"), low=1, high=3000)
    ease: float = mm(0.0, ("ease", "how much longer the edges are than the strip"), low=-200, high=500)
    gathers: float = number(1.0, ("times as long, gathered", "1.6 for a tier that is drawn up"), low=1, high=10)
    fold: str = choice("", ("folded", "along its length: not, once, or as a binding is", "by its kind"), ("", *LAYERS))
    grain: str = choice("", ("grain", "along its length", "by its kind"), ("", "straight", "cross", "bias"))
    cut: str = choice(
        "",
        ("how it is cut", "on the fold: half of it is drawn", "by what it is sewn to"),
        ("", "single", "pair", "fold"),
    )
    overlap: float | None = mm(None, ("overlap", "at its end", "by its kind"), high=300)
    lap: str = further(
        choice(
            "",
            ("the overlap lies", "beyond what is sewn, as on a waistband, or within it, as on a cuff", "by its kind"),
            ("", "beyond", "within"),
        )
    )
    buttons: float | None = further(
        number(
            None, ("buttons", "beside one another on the overlap", "one where it overlaps"), low=0, high=12, digits=0
        )
    )
    size: float | None = further(mm(None, ("width of a button", "", "by its kind"), low=3, high=80))
    cloth: float = further(mm(CLOTH, ("width of the cloth", "without its selvedges"), low=100))
    material: str = further(text("", ("material", "it is cut from")))

    def _apply(self, pattern: Pattern) -> Outcome:

        name = self._name()
        pattern, old = made_way(pattern, [name], (STRIP,))
        usual = KINDS[self.kind]
        run = self._run(pattern)
        cut = self._cutting(pattern, usual, run)
        count = parts_of_cloth(cut)
        if count == 0:
            raise UsageError(
                f"a strip {plain(cut.high)} mm wide does not come out of cloth {show(self.cloth, 'cm')} wide; give a "
                "wider one with ",
                Option("cloth"),
            )
        uids = Uids(pattern.uids())
        # a half is drawn from its start to the fold: of a run over both halves that is the first one
        if cut.half and any(part.mirrored for part in run):
            run = run[: len(run) // 2]
        fit = (cut.long if cut.drawn_up is None else cut.drawn_up) / (2 if cut.half else 1)
        scale = fit / run_sewn(pattern, run) if run and cut.drawn_up is None else 1.0
        places = [at * scale for at in joints(pattern, run)] if run else []
        piece = drafted(name, cut, places, uids)
        piece = self._labelled(pattern, piece, run)

        left, top = free_place(pattern)
        piece = laid_out((piece,), left=left, top=top)[0]
        piece = replace(piece, source=source_of(pattern, run, kind=STRIP, line=self.line()))
        piece = as_before(piece, old.get(name))
        pattern, told = sewn_on(pattern, run, "finished" if cut.layers == 4 else "seam")
        pattern = replace(pattern, pieces=(*pattern.pieces, piece))
        seams = [*self._seams(pattern, piece, cut, run, scale, uids), *folded_seams(piece, cut, uids)]
        pattern = replace(pattern, seams=(*pattern.seams, *seams))
        # then those on the strip's own second side, where it is folded
        for edges in ([part.of for part in run], [edge.uid for edge in piece.edges]):
            pattern = with_mated_notches(pattern, piece.uid, edges)
        return Outcome(
            pattern=pattern,
            figures=tuple(self._figures(pattern, piece, cut, run, count)),
            warnings=(*told, *unjoined(pattern, run), *self._warnings(pattern, cut, fit, run)),
        )

    def spelled(self, after: Pattern) -> DraftStrip:
        """With the name of its piece, where it is the usual one."""
        return replace(self, target=(self._name(),))

    def _name(self) -> str:
        if len(self.target) > 1:
            raise UsageError(f"strip drafts one piece, and {len(self.target)} names are given; name one")
        return self.target[0] if self.target else self.kind

    def _run(self, pattern: Pattern) -> tuple[RunPart, ...]:
        """What it is sewn to, in the order in which that goes on."""
        if self.to is None:
            if self.both or self.ease or self.gathers != 1.0:
                raise UsageError("without edges there is nothing to fit the strip to; name them with ", Option("to"))
            if self.length is None:
                raise UsageError("a strip wants a length; give ", Option("length"), ", or edges with ", Option("to"))
            return ()
        stated = self.to if isinstance(self.to, Run) else Run((Part(place=self.to),))
        run = found_run(pattern, stated)
        refuse_double(run, "the run")
        run = in_order(pattern, run).run
        return both_halves(pattern, run) if self.both else run

    def _cutting(self, pattern: Pattern, usual: Usual, run: tuple[RunPart, ...]) -> Cutting:
        overlap = usual.overlap if self.overlap is None else self.overlap
        within = {"": usual.within, "within": True, "beyond": False}[self.lap]
        sewn = run_sewn(pattern, run) if run else 0.0
        long = (sewn - self.ease) * self.gathers
        if self.length is not None:
            long = self.length + (overlap if within else 0.0)
        half = self.cut == "fold"
        if half and overlap:
            if self.overlap:
                raise UsageError("an overlap makes its two halves unlike; leave ", Option("cut", "fold"), " out")
            overlap = 0.0
        if half and run and not any(part.mirrored for part in run):
            long *= 2  # the run is one half
        net = long - (overlap if within else 0.0)
        if net <= max(overlap, 1.0):
            raise UsageError(f"the strip would be {plain(net)} mm long, its overlap {plain(overlap)} mm; check them")
        count = self.buttons if self.buttons is not None else (1 if usual.across and overlap else 0)
        if count and not overlap:
            raise UsageError(
                "buttons want an overlap; give ", Option("overlap"), ", or leave ", Option("buttons"), " out"
            )
        fold = LAYERS[self.fold or usual.fold]
        if self.gathers != 1.0 and fold == 4:
            raise UsageError("a binding is not gathered; leave ", Option("gathers"), " out")
        size = self.size or usual.across or 15.0
        width = self.width or usual.width
        if count and size > min(overlap, width / count):
            raise UsageError(
                f"{int(count)} buttons of {plain(size)} mm have no room on an overlap of {plain(overlap)} x "
                f"{plain(width)} mm; take smaller or fewer ones"
            )
        return Cutting(
            long=long,
            width=width,
            layers=fold,
            overlap=overlap,
            within=within,
            half=half,
            ring=usual.ring and not overlap,
            grain=self.grain or usual.grain,
            drawn_up=long / self.gathers if self.gathers != 1.0 else None,
            buttons=int(count),
            across=size,
            cloth=self.cloth,
        )

    def _labelled(self, pattern: Pattern, piece: Piece, run: tuple[RunPart, ...]) -> Piece:
        """How it is cut, and from what: as what it is sewn to, where nothing is stated."""
        owners = [owner(pattern, part)[0] for part in run]
        kind = self.cut
        if not kind:
            kind = "pair" if run and _there_twice(pattern, run) else "single"
        materials = {p.material for p in owners}
        material = self.material or (materials.pop() if len(materials) == 1 else "")
        return replace(piece, cut_as=kind, quantity=2 if kind == "pair" else 1, material=material)

    def _seams(
        self, pattern: Pattern, piece: Piece, cut: Cutting, run: tuple[RunPart, ...], scale: float, uids: Uids
    ) -> list[Seam]:
        """The seam with the garment; where that is eased in, one for each edge, with its share of the ease."""
        if not run:
            return []
        if cut.drawn_up is not None or abs(scale - 1.0) * run_sewn(pattern, run) < 1e-6:
            total = run_sewn(pattern, run)
            a = sewn_part(piece, cut, 0.0, total if cut.drawn_up is None else cut.whole)
            return [Seam(uid=uids.fresh("seam", piece.uid, "garment"), a=(a,), b=run, reversed=True)]
        found, walked = [], 0.0
        for k, step in enumerate(walk(pattern, run)):
            start, end = walked * scale, (walked + step.sewn) * scale
            a, ease = sewn_part(piece, cut, start, end), step.sewn * (1 - scale)
            uid = uids.fresh("seam", piece.uid, "garment", str(k))
            found.append(Seam(uid=uid, a=(a,), b=(run[k],), reversed=True, ease=ease))
            walked += step.sewn
        return found

    def _figures(
        self, pattern: Pattern, piece: Piece, cut: Cutting, run: tuple[RunPart, ...], count: int
    ) -> list[Figure]:
        name = piece.name
        figures = [Figure(f"{name} length", cut.whole), Figure(f"{name} width as cut, net", cut.high)]
        if run:
            figures.append(Figure(f"{name} sewn to", run_sewn(pattern, run)))
        if cut.overlap:
            figures.append(Figure(f"{name} overlap", cut.overlap))
        if cut.buttons:
            figures.append(Figure(f"{name} buttons", cut.buttons, ""))
        if count > 1:
            figures += [Figure(f"{name} joins", count - 1, ""), Figure(f"{name} each part", cut.whole / count)]
        if cut.grain == "bias":
            figures.append(Figure(f"{name} square of cloth that gives it", square_of_cloth(cut)))
        return figures

    def _warnings(self, pattern: Pattern, cut: Cutting, fit: float, run: tuple[RunPart, ...]) -> list[str]:
        said = []
        if cut.grain == "straight" and cut.cloth is not None and cut.high > cut.cloth:
            said.append(
                f"{self._name()} is {plain(cut.high)} mm wide as cut, and the cloth {plain(cut.cloth)} mm; cut it on "
                "the cross grain, make it narrower, or say how wide the cloth is"
            )
        off = run_sewn(pattern, run) - fit if run and self.length is not None else 0.0
        if abs(off) >= 0.01:
            how = "longer" if off > 0 else "shorter"
            said.append(f"the edges are {plain(abs(off))} mm {how} than the strip, spread evenly as ease")
        return said


def _there_twice(pattern: Pattern, run: tuple[RunPart, ...]) -> bool:
    """Whether a run is on the garment twice: on each of a pair, or on each side of a fold that it does not come to."""
    if any(part.mirrored for part in run):
        return False
    cut = {owner(pattern, part)[0].cut_as for part in run}
    steps = walk(pattern, run)
    ends = [seam_end(steps, first=first) for first in (True, False)]
    return cut <= {"pair", "fold"} and not any(end is not None and end.across.use == "fold" for end in ends)
