"""`collar`: bands, stand and fall, flat and shawl collars, from a neckline as measured.

Its kinds are classes of their own, one file each in `flatcut.collars.kinds`; from their fields follow those of the
operation, and so options and dialog.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, make_dataclass, replace

from flatcut.collars.growing import EDGES, Grown
from flatcut.collars.kinds.kind import FAMILY, Kind
from flatcut.collars.neckline import Neckline, measured, stated
from flatcut.copies.deriving import on_facings
from flatcut.declared.declared import kinds
from flatcut.declared.fields import choice, further, piece_names, ref, text, texts
from flatcut.declared.fields import length as mm
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, load, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.places import Part, Place, Run
from flatcut.pattern.redrawing import as_before, made_way, source_of
from flatcut.pattern.runs import found_run, owner, run_sewn, walk
from flatcut.pattern.seam_ends import seam_end
from flatcut.pattern.seaming import runs_meet_head_to_tail
from flatcut.pattern.sources import taken
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, Position, RunPart, Seam, area
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied

KINDS = tuple(FAMILY.names())
TOP, UNDER = "collar", "under-collar"
"""Kinds of source: what lies on top is told of when its neckline has changed, and stands for all."""


@dataclass(frozen=True, kw_only=True)
class Drafting(Operation):
    """The fields that every kind has, and the work."""

    target: tuple[str, ...] = texts(("kind of collar", f"one of {', '.join(KINDS)}"), choices=KINDS)
    neck: Place | Run | None = ref(
        ("run", "edge"), ("the neckline", "half of it, from the centre back on: back.neck+front.neck"), filled=False
    )
    back_neck: float | None = mm(None, ("back neckline", "centre to shoulder, where no edges are named"), high=1000)
    front_neck: float | None = mm(None, ("front neckline", "from shoulder to centre, likewise"), high=1000)
    opening: str = choice("front", ("opens at the", "the collar is on the fold at the other centre"), ("front", "back"))
    extension: float = mm(0.0, ("button stand", "how much of the neckline lies beyond the centre"), high=120)
    short: float = mm(0.0, ("neck edge shorter by", "than the neckline, stretched into it"), high=20)
    names: tuple[str, ...] = piece_names(("names of the pieces", "with commas between them"))
    material: str = further(text("", ("material", "they are cut from")))

    def __post_init__(self) -> None:
        super().__post_init__()
        given = [item.name for item in dataclasses.fields(self) if getattr(self, item.name) != item.default]
        self.refuse(self.target, given)

    @classmethod
    def refuse(cls, targets: Sequence[str], given: Iterable[str]) -> None:
        """Raise for an option that only another kind has."""
        FAMILY.refuse(targets, given, kinds(Drafting))

    @classmethod
    def more(cls) -> list[str]:
        """Which options each kind takes."""
        return FAMILY.more()

    def _apply(self, pattern: Pattern) -> Outcome:
        kind = FAMILY.asked(self.target, self)
        self._refuse_grown(pattern)
        pattern, old = made_way(pattern, self._names(kind), (TOP, UNDER))
        names = self._names(kind)
        neck = self._neckline(pattern)
        whole = neck.long
        if self.short:
            share = 1 - self.short / (2 * (whole - (neck.beyond if neck.free else 0.0)))
            long = whole - self.short / 2
            neck = replace(neck, long=long, joints=tuple(at * share for at in neck.joints))
        uids = Uids(pattern.uids())
        made = kind.draft(neck, uids, names)
        if made.grown is not None:
            after, more = _with_shawl(pattern, made.grown, names[0], old.get(names[0]), self.material)
            return Outcome(
                pattern=replace(after, steps=pattern.steps),
                figures=(Figure("half neckline", whole), *made.figures, *more.figures),
                warnings=(*made.warnings, *more.warnings),
            )
        material = self.material or self._material(pattern, neck)
        left, top = free_place(pattern)
        pieces = laid_out([replace(piece, material=material) for piece in made.pieces], left=left, top=top)
        pieces = tuple(as_before(self._told(pattern, piece, neck), old.get(piece.name)) for piece in pieces)
        seams = made.seams
        if self.short:
            seams = tuple(replace(s, ease=self.short / 2) if s.b == neck.run else s for s in seams)
        done = replace(pattern, pieces=(*pattern.pieces, *pieces), seams=(*pattern.seams, *seams))
        figures = (
            Figure("half neckline", whole),
            *(Figure("from the fold to a seam of the garment", at) for at in neck.joints),
            *made.figures,
        )
        return Outcome(pattern=done, figures=figures, warnings=made.warnings)

    def _refuse_grown(self, pattern: Pattern) -> None:
        """UsageError for a piece that a collar is grown on to: its neckline is inside it now."""
        parts = self.neck.parts if isinstance(self.neck, Run) else (Part(place=self.neck),) if self.neck else ()
        for piece in pattern.pieces:
            if piece.name in {p.place.piece for p in parts} and EDGES[-1] in {edge.name for edge in piece.edges}:
                raise UsageError(
                    f"{piece.name} has a collar that is grown on to it already; undo that step, or change its figures "
                    "in the recipe"
                )

    def _told(self, pattern: Pattern, piece: Piece, neck: Neckline) -> Piece:
        """With what it was made of; what lies under it follows by its seams."""
        source = source_of(pattern, neck.run, kind=TOP, line=self.line())
        if piece.name in self._under():
            source = replace(source, kind=UNDER, taken=())
        return replace(piece, source=source)

    def _under(self) -> set[str]:
        """The names of the pieces that lie under others."""
        kind = FAMILY.asked(self.target, self)
        return {name for name, usual in zip(self._names(kind), kind.pieces, strict=True) if usual.startswith("under-")}

    def spelled(self, after: Pattern) -> Drafting:
        """With the names of its pieces, where they are the usual ones."""
        return replace(self, names=self._names(FAMILY.asked(self.target, self)))

    def _names(self, kind: Kind) -> tuple[str, ...]:
        known = kind.pieces
        if len(self.names) > len(known):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(known)} pieces; give one for each"
            )
        return (*self.names, *known[len(self.names) :])

    def _neckline(self, pattern: Pattern) -> Neckline:
        if self.neck is not None:
            if self.back_neck is not None or self.front_neck is not None:
                raise UsageError(
                    Option("neck"), " and lengths both give the neckline; leave ", Option("back-neck"), " out"
                )
            run = self.neck if isinstance(self.neck, Run) else Run((Part(place=self.neck),))
            found = measured(pattern, found_run(pattern, run), opening=self.opening, beyond=self.extension)
        elif self.back_neck is None or self.front_neck is None:
            raise UsageError(
                "a collar wants its neckline; name half of it with ",
                Option("neck"),
                ", or give ",
                Option("back-neck"),
                " and ",
                Option("front-neck"),
            )
        else:
            found = stated(back=self.back_neck, front=self.front_neck, opening=self.opening, beyond=self.extension)
        if found.beyond >= found.long / 2:
            raise UsageError(Option("extension"), f" takes less than half of the neckline, {found.long:.1f} mm")
        return found

    def _material(self, pattern: Pattern, neck: Neckline) -> str:
        found = {owner(pattern, part)[0].material for part in neck.run}
        return found.pop() if len(found) == 1 else ""


def _with_shawl(pattern: Pattern, made: Grown, name: str, old: Piece | None, material: str) -> tuple[Pattern, Outcome]:
    """The pattern with a collar grown on to its front and the facing that lies on top of it, and what is told of it."""
    # the facing is drawn from the front whose collar is larger by what it has to turn
    (own, lost), (wide, _) = (applied(pattern, change) for change in (made.change, made.larger))
    front, large = (
        replace(p.piece_of(made.piece), notches=(*p.piece_of(made.piece).notches, made.notch)) for p in (own, wide)
    )
    own = replace(own.with_piece(front), seams=(*own.seams, *made.seams))
    wide = replace(wide.with_piece(large), seams=own.seams)
    places = tuple(Place(piece=front.name, name=edge) for edge in EDGES if edge != "collar-centre")
    wide_at, at_seam = made.widths
    given: dict[str, object] = {"target": places, "width": wide_at, "at_seam": at_seam, "names": (name,)}
    faced = load("facing")(**given | {"material": material}).perform(wide)
    facing = faced.pattern.piece(name)
    source = facing.source
    assert source is not None
    rows = tuple(taken(front.uid, front.edge_of(row.edge), row.start, row.end) for row in source.taken)
    facing = as_before(replace(facing, source=replace(source, taken=rows)), old)
    known = {seam.uid for seam in own.seams}
    under = front.edge("collar-neck").uid  # what lies on top is sewn to the back neckline, and not to the collar
    seams = [s for s in faced.pattern.seams if s.uid not in known and under not in {part.of for part in s.a}]
    done = replace(own, pieces=(*own.pieces, facing))
    seams = [_eased(done, seam) for seam in (*seams, *_to_back(done, facing, made))]
    done = on_facings(replace(done, seams=(*own.seams, *seams)))
    figures = tuple(one for one in faced.step.figures if "longer than" not in one.label)
    return done, Outcome(pattern=done, figures=figures, warnings=(*lost, *faced.step.warnings))


def _eased(pattern: Pattern, seam: Seam) -> Seam:
    """A seam of the facing, which is larger by what it has to turn."""
    return replace(seam, ease=round(run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a), 6))


def _to_back(pattern: Pattern, facing: Piece, made: Grown) -> Iterator[Seam]:
    """The seams of the facing with the back: over its neckline, and along the shoulder from there."""
    front = pattern.piece_of(made.piece)
    like = next(seam for seam in made.seams if seam.a == made.neck)
    turned = area(facing) * area(front) < 0
    uids = Uids(pattern.uids())
    neck = RunPart(piece=facing.uid, of=facing.edge("collar-neck").uid)
    uid = uids.fresh("seam", facing.uid, "neck")
    yield replace(like, uid=uid, b=(neck,), reversed=like.reversed != turned)
    corner = seam_end(walk(pattern, made.neck), first=False)
    if made.back is None or corner is None or corner.across.uid != made.back.of:
        return
    names = [edge.name for edge in facing.edges]
    at = names.index("collar-neck")
    beside = facing.edges[(at + 1) % len(names)], facing.edges[at - 1]
    shoulder = next(edge for edge in beside if edge.name != "collar-centre")
    long, mode = drawn_length(shoulder), "start" if corner.at_end else "end"
    near, far = Position(mode=mode, value=0.0), Position(mode=mode, value=long)
    start, end = (near, far) if corner.at_end else (far, near)
    part = replace(made.back, start=start, end=end)
    mine = RunPart(piece=facing.uid, of=shoulder.uid)
    meet = runs_meet_head_to_tail(pattern, (part,), (mine,))
    yield Seam(uid=uids.fresh("seam", facing.uid, "shoulder"), a=(part,), b=(mine,), reversed=meet)


DraftCollar: type[Drafting] = operation(menu="Derive", title="Draft collar")(
    make_dataclass(
        "DraftCollar",
        list(FAMILY.fields("Shape")),
        bases=(Drafting,),
        frozen=True,
        kw_only=True,
        namespace={
            "__doc__": f"""Draft a collar from the neckline it is sewn to: {", ".join(KINDS[:-1])} or {KINDS[-1]}.

    Half of it is drawn, on the fold; a shawl collar is grown on to the front, with the facing that lies on top of it.
    Named edges are walked from the centre back on, and the seams are stated; a button stand that is part of them is
    told by --extension. Top and under collar are pieces of their own, the under one smaller and on the bias. The neck
    edge has a notch where the shoulder seam meets it. On children's clothes, ties and cords at the neck and small parts
    such as buttons can harm; keep to the rules of the place where they are sold, and ask somebody qualified.
    """,
            "__module__": __name__,
        },
    )
)
"""The operation with every kind's fields."""
