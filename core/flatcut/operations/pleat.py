"""`pleat`: knife, box or inverted pleats along an edge."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, flag, length, number, ref, refs, text
from flatcut.errors import Option, UsageError
from flatcut.fullness.from_width import InWidth, folded_from_width, refuse_beyond_width, side_toward
from flatcut.fullness.fullness import PLEAT, Wanted, with_fullness
from flatcut.fullness.fullness_figures import CM2, MET, fullness_figures, said_of
from flatcut.fullness.holding import bent_straight, held_place, pressed_part
from flatcut.fullness.on_fold import fold_beside, opened_at_fold, place_beside
from flatcut.fullness.pleating import Row, pleat_lines, refuse_on_darts, row_of
from flatcut.fullness.pleats import FIRST, OPEN, SECOND, Fold
from flatcut.fullness.slashing import Slash, slash
from flatcut.geometry.arrays import unit
from flatcut.geometry.length import length as length_of
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.graining import grain_off_lines
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of, named_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.reshape.holding import KEPT
from flatcut.units import plain

KINDS = ("knife", "box", "inverted")
LAYERS = {"knife": 2.0, "box": 4.0, "inverted": 4.0}
"""How many times its depth a pleat takes up (closed form)."""
DEPTH = 20.0
"""mm (common practice, no source)."""
LEVEL = 200.0
"""mm from a waist to the hip, where folds that are shaped begin to lean (common practice: 20 to 21 cm, no source)."""
STITCHED = 40.0
"""mm of fold line that is drawn where no cloth is put in (common practice, no source)."""
HAIR = 1e-6


@dataclass(frozen=True, kw_only=True)
class _Made:
    """The piece with the lines of the pleats, their cuts, and how many pleats one line stands for."""

    piece: Piece
    row: Row
    cuts: tuple[Slash, ...]
    share: float


@operation(menu="Spread and pleat", title="Fold pleats")
@dataclass(frozen=True, kw_only=True)
class Pleats(Operation):
    """Put knife, box or inverted pleats along an edge or a stretch of it, evenly spaced.

    Each pleat is a line across the piece, along the grain, which is opened and folded. Its ends are shaped, so that the
    folded pleat meets the seam line. With --less the folds lean from the level up to the edge, which becomes so much
    shorter: a straight skirt as wide as the hip is pleated to the waist. With --on-fold half a box or inverted pleat
    stands where the edge meets the fold of a piece that is cut on the fold. With --taken-up they are folded at the
    edges named and hang open at the other end, as those of a shirt's back below its yoke. With --from-width nothing is
    opened: the width that is there is folded, as that of a sleeve at its cuff.
    """

    target: tuple[Place, ...] = refs(("stretch", "edge"), ("edge or stretch", "such as skirt.waist@5cm..-5cm"))
    kind: str = choice("knife", "how the pleats are folded", KINDS)
    count: float = number(1, "how many pleats", low=1, high=200, digits=0)
    depth: float = length(DEPTH, "how deep a pleat is folded", low=1, high=500)
    other_depth: float | None = length(None, ("how deep at its other end", "", "as deep"), high=500)
    face: float | None = length(None, ("width of a box", "", "twice the depth"), low=1, high=1000)
    less: float = length(
        0, ("all take up more at the edge", "how much more together there, such as hip - waist"), high=2000
    )
    level: float = length(
        LEVEL, ("folds lean as far as", "from the edge to where folds that lean are straight again"), low=5, high=2000
    )
    pressed: Place | None = ref(
        "edge",
        ("pressed toward", "an edge to which knife pleats are pressed, or start or end of the edge"),
        filled=False,
        words=("start", "end"),
    )
    name: str = text("pleat", ("name of the lines", "which are numbered"), named=True)
    hold: Place | None = ref("edge", ("edge that stays still", "such as front.centre"), filled=False)
    on_fold: bool = flag(False, ("at the fold of the piece", "half a box or inverted pleat, whose middle is the fold"))
    taken_up: tuple[Place, ...] = refs(
        "edge",
        ("edges that are taken up", "where the pleats are folded, the others hang open", "at both ends"),
        filled=False,
    )
    from_width: bool = flag(
        False, ("fold the width that is there", "no cloth is put in, so the edge is sewn so much shorter")
    )
    stitched: float | None = length(
        None, ("fold lines of", "how long the folds of a width that is there are drawn", "4 cm"), high=2000
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        done = self._pleated(pattern)
        piece = done.pattern.piece_of(edge_of(pattern, self.target[0])[0].uid)
        return done._replace(pattern=done.pattern.with_piece(grain_off_lines(piece)))

    def _pleated(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(
                f"pleats stand on one edge, and {len(self.target)} are named: {', '.join(map(str, self.target))}; "
                "give the one at which they are folded"
            )
        place = self.target[0]
        before, edge = edge_of(pattern, place)
        named = self._named(before, edge)
        if self.from_width:
            return self._from_width(pattern, before, edge, place)
        if self.stitched is not None:
            raise UsageError(Option("stitched"), " is for a width that is there; add ", Option("from-width"))
        if self.on_fold:
            self._refuse_on_fold(place)
            if self.kind == "inverted":
                return self._inverted_at_fold(pattern, before, edge, named)
            row = self._row_at_fold(before, edge)
        else:
            row = row_of(before, edge, place, int(self.count))
        if self.less and self.less / row.count > row.spacing:
            raise UsageError(
                Option("less"),
                f" takes {plain(self.less / row.count)} mm off each pleat, more than the {plain(row.spacing)} mm "
                "between them; make it less, or spread the pleats over more of the edge",
            )
        made = self._lines(pattern, before, row)
        shortest = min(float(length_of(cut.line.curve)) for cut in made.cuts)
        if self.less and self.level > shortest - 1.0:
            raise UsageError(
                Option("level"),
                f" is {plain(self.level)} mm, and the pleats are {plain(shortest)} mm long; make it less",
            )
        piece = made.piece
        still, reason = held_place(piece, made.cuts, named_edge(piece, self.hold).uid if self.hold else "")
        takes = LAYERS[self.kind] * self.depth * made.share
        other = takes if self.other_depth is None else LAYERS[self.kind] * self.other_depth * made.share
        sides = [self._side(piece, cut, k, row) for k, cut in enumerate(made.cuts)]
        for cut, side in zip(made.cuts, sides, strict=True):
            refuse_on_darts(
                piece, cut, side, (self.depth, self.depth if self.other_depth is None else self.other_depth)
            )
        wanted = [
            Wanted(
                line=cut.line.uid,
                gaps=(takes, other),
                result=PLEAT,
                fold=Fold(
                    pressed=side,
                    more=(self.less / len(made.cuts), 0.0),
                    level=self.level,
                ),
            )
            for cut, side in zip(made.cuts, sides, strict=True)
        ]
        reached = frozenset(uid for cut in made.cuts for k in (0, 1) for uid in cut.edges(k))
        taking = named or reached
        for uid in sorted(taking - reached):
            raise UsageError(
                Option("taken-up"),
                f" names {piece.name}.{piece.edge_of(uid).name}, which no pleat reaches; they run from "
                f"{edge.name} to {' and '.join(piece.edge_of(u).name for u in sorted(reached) if u != edge.uid)}",
            )
        start = pattern.with_piece(piece)
        done = with_fullness(start, piece, wanted, still=still, within=0.0, taking=taking)
        after, more, _ = bent_straight(done.pattern, before, straighten=False)
        result = after.piece_of(before.uid)
        figures = (
            *self._cloth(row, made.share, before, edge, result),
            *fullness_figures(before, done, wanted, reason),
            *more,
        )
        motions = tuple(spread.moved for spread in done.spreads)
        warnings = (*self._said(row), *said_of(before, done, 0.0))
        return Outcome(pattern=after, figures=figures, warnings=warnings, motions=motions)

    def _named(self, piece: Piece, edge: Edge) -> frozenset[str]:
        """uids of the edges of --taken-up, none where it is not said. Errors: UsageError."""
        named = frozenset(named_edge(piece, place).uid for place in self.taken_up)
        if named and edge.uid not in named:
            raise UsageError(
                f"the pleats stand on {piece.name}.{edge.name} and are folded there; name it with ", Option("taken-up")
            )
        return named

    def _from_width(self, pattern: Pattern, piece: Piece, edge: Edge, place: Place) -> Outcome:
        """Pleats of the width that is there."""
        for given, name in (
            (self.on_fold, "on-fold"),
            (self.taken_up, "taken-up"),
            (self.less, "less"),
            (self.other_depth is not None, "other-depth"),
            (self.hold, "hold"),
        ):
            if given:
                raise UsageError(Option("from-width"), " opens nothing; leave ", Option(name), " out")
        row = row_of(piece, edge, place, int(self.count))
        face = self._face() if self.kind == "box" else 0.0
        wide = LAYERS[self.kind] * self.depth
        on = f"{piece.name}.{edge.name}"
        refuse_beyond_width(on, row.spacing * row.count, wide + face, row.count)
        places, share = [row.start + (k + 0.5) * row.spacing for k in range(row.count)], 1.0
        if self.kind == "box":
            places, share = [at + side * (face / 2 + self.depth) for at in places for side in (-1, 1)], 0.5
        pleats = [
            InWidth(
                middle=at,
                wide=wide * share,
                pressed=self._stated_side(piece, k) or side_toward(piece, row, at, self.pressed),
            )
            for k, at in enumerate(places)
        ]
        stitched = STITCHED if self.stitched is None else self.stitched
        done = folded_from_width(pattern, piece, row, pleats, stitched=stitched, name=self.name)
        after = done.pattern.piece_of(piece.uid).edge_of(edge.uid)
        figures = [
            Figure(f"{on} pleats", row.count, ""),
            *(Figure(f"{on} pleat taken up", takeup.amount) for takeup in done.takeups),
            Figure(f"{on} drawn", drawn_length(after)),
            Figure(f"{on} sewn", sewn_length(after)),
            Figure(f"{on} sewn, shorter by", sewn_length(edge) - sewn_length(after)),
            Figure(f"{on} folded pleats off its seam line", done.off),
            *done.notches,
        ]
        missed = (
            f"a folded pleat misses its seam line by {done.off:.1f} mm; true the edge beside it"
            if done.off > MET
            else ""
        )
        return Outcome(pattern=done.pattern, figures=tuple(figures), warnings=(*filter(None, [missed]), *done.dropped))

    def _refuse_on_fold(self, place: Place) -> None:
        """UsageError for what a pleat on the fold cannot be."""
        at = Option("on-fold")
        if self.kind == "knife":
            raise UsageError(at, " is for a pleat with two alike halves; add ", Option("kind", "box"), " or inverted")
        if place.at is not None or place.to is not None or self.count != 1:
            raise UsageError(
                at,
                f" puts one pleat where {place.name} meets the fold; name the whole edge, and put others in after it",
            )
        if self.less:
            raise UsageError(at, " keeps the fold straight, so nothing leans there; leave ", Option("less"), " out")
        if self.kind == "inverted":
            for value, name in ((self.other_depth, "other-depth"), (self.hold, "hold"), (self.pressed, "pressed")):
                if value is not None and value != self.depth:
                    raise UsageError(
                        at, " moves the fold edge straight out, by twice the depth; leave ", Option(name), " out"
                    )
            if self.face is not None:
                raise UsageError(Option("face"), " is the width of a box; add ", Option("kind", "box"))

    def _inverted_at_fold(self, pattern: Pattern, piece: Piece, edge: Edge, named: frozenset[str]) -> Outcome:
        """Half an inverted pleat, of which the fold edge is the middle. named: edges (uids) taken up, none for both."""
        fold, _ = fold_beside(piece, edge)
        done = opened_at_fold(pattern, piece, fold, self.depth, self.name, taking=named)
        after = done.pattern.piece_of(piece.uid)
        figures = [Figure(f"{piece.name}.{fold.name} moved out by", 2 * self.depth)]
        for uid, takeup in done.takeups:
            name = f"{piece.name}.{after.edge_of(uid).name}"
            figures += [
                Figure(f"{name} drawn", drawn_length(after.edge_of(uid))),
                Figure(f"{name} pleat taken up", takeup.amount),
                Figure(f"{name} sewn", sewn_length(after.edge_of(uid))),
            ]
        grown = (abs(area(after)) - abs(area(piece))) / CM2
        figures.append(Figure(f"{piece.name} area changed by", grown, "cm²"))
        return Outcome(pattern=done.pattern, figures=tuple(figures), warnings=done.dropped)

    def _row_at_fold(self, piece: Piece, edge: Edge) -> Row:
        """Where half a box stands: half its face long, from the fold edge on."""
        fold, first = fold_beside(piece, edge)
        half, total = self._face() / 2, sewn_length(edge)
        deep = max(self.depth, self.other_depth or 0.0)
        if deep > half + HAIR:
            raise UsageError(
                f"both halves of a box of {plain(2 * half)} mm would lie over each other, folded {plain(deep)} mm "
                "deep; make it wider with ",
                Option("face"),
                ", or less deep",
            )
        at = place_beside(piece, edge, fold, half)
        way = unit(fold.end - fold.start) * (-1.0 if first else 1.0)
        return Row(edge=edge.uid, start=0.0 if first else at, spacing=at if first else total - at, count=1, across=way)

    def _boxes_meet(self, row: Row) -> bool:
        return not self.on_fold and self.kind == "box" and abs(self._face() - row.spacing) <= 0.5

    def _face(self) -> float:
        return 2 * self.depth if self.face is None else self.face

    def _lines(self, pattern: Pattern, piece: Piece, row: Row) -> _Made:
        """The lines of the pleats; a box has one on each side of it, where it does not meet the next box."""
        if self.face is not None and self.kind != "box":
            raise UsageError(Option("face"), " is the width of a box; add ", Option("kind", "box"), ", or leave it out")
        middles = [row.start + (k + 0.5) * row.spacing for k in range(row.count)]
        share = 1.0
        if self.on_fold:
            middles, share = [row.start or row.spacing], 0.5
        elif self.kind == "box" and not self._boxes_meet(row):
            if self._face() > row.spacing:
                raise UsageError(
                    f"boxes of {plain(self._face())} mm do not fit side by side, {plain(row.spacing)} mm apart; "
                    "make them narrower with ",
                    Option("face"),
                    ", or fewer",
                )
            half = self._face() / 2
            middles = [at + side * half for at in middles for side in (-1, 1)]
            share = 0.5
        lines = pleat_lines(piece, row, middles, self.name, Uids(pattern.uids()))
        piece = replace(piece, lines=(*piece.lines, *lines))
        return _Made(piece=piece, row=row, cuts=tuple(slash(piece, line) for line in lines), share=share)

    def _side(self, piece: Piece, cut: Slash, k: int, row: Row) -> str:
        """To which part of the piece a pleat is pressed. At the line's start the second part comes first."""
        if self.kind == "inverted" or self._boxes_meet(row):
            self._refuse_pressed()
            return OPEN
        if self.on_fold:
            self._refuse_pressed()
            return FIRST if row.start else SECOND
        stated = self._stated_side(piece, k)
        if stated:
            return stated
        if self.pressed:
            return pressed_part(piece, cut, self.pressed, cut.line.curve.start)
        for edge in piece.edges:
            if edge.use in KEPT and edge.uid not in (*cut.edges(0), *cut.edges(1)):
                return pressed_part(piece, cut, Place(name=edge.name), cut.line.curve.start)
        return SECOND

    def _refuse_pressed(self) -> None:
        if self.kind != "knife" and self.pressed:
            raise UsageError(Option("pressed"), f" is for knife pleats; {self.kind} pleats are pressed both ways")

    def _stated_side(self, piece: Piece, k: int) -> str:
        """To which part a pleat is pressed by its kind or by a word, the k-th of them; '' where an edge decides."""
        self._refuse_pressed()
        if self.kind == "inverted":
            return OPEN
        if self.kind == "box":
            return FIRST if k % 2 == 0 else SECOND
        word = "" if self.pressed is None or self.pressed.piece else self.pressed.name
        if word in ("start", "end") and word not in [edge.name for edge in piece.edges]:
            return SECOND if word == "start" else FIRST
        return ""

    def _cloth(self, row: Row, share: float, before: Piece, edge: Edge, after: Piece) -> list[Figure]:
        """Finished width, cloth, and how often the one goes into the other."""
        name = f"{before.name}.{edge.name}"
        finished = row.spacing * row.count - self.less
        part = share if self.on_fold else 1.0
        cloth = row.spacing * row.count + LAYERS[self.kind] * self.depth * row.count * part
        return [
            Figure(f"{name} pleats", row.count, ""),
            Figure(f"{name} from pleat to pleat, finished", finished / row.count),
            Figure(f"{name} pleated width, finished", finished),
            Figure(f"{name} pleated width, cloth", cloth),
            Figure(f"{name} cloth over finished", cloth / finished, "×"),
            Figure(f"{name} whole edge sewn", sewn_length(after.edge_of(edge.uid))),
        ]

    def _said(self, row: Row) -> list[str]:
        """What a person should know of pleats that lie over each other."""
        room = {"knife": row.spacing, "box": self._face() / 2, "inverted": row.spacing / 2}[self.kind]
        said = []
        if self.depth > room + HAIR:
            said.append(
                f"the pleats lie over each other: they are {plain(self.depth)} mm deep with {plain(room)} mm for each; "
                "fewer or shallower ones are less thick"
            )
        if row.aslant is not None:
            said.append(
                f"the pleats run square to the edge, for the grain leaves it at {plain(row.aslant, 0)}° there; turn "
                "the grain with grain, or pleat another edge, if they are to fall along it"
            )
        if self._boxes_meet(row):
            said.append("the boxes meet, so the pleated stretch begins and ends in the middle of one")
        return said
