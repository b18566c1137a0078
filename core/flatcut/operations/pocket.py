"""`pocket`: a patch or a flap with its placement line on the garment, or a bag in a seam."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, length, number, piece_names, refs, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.mating import mates
from flatcut.pattern.notch_setting import with_notches
from flatcut.pattern.places import Place
from flatcut.pattern.redrawing import as_before, made_way
from flatcut.pattern.sources import Source
from flatcut.pattern.spots import edge_of, spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import sewn_at
from flatcut.strips.pocketing import Placed, bag, flap, patch
from flatcut.units import plain

KINDS = ("patch", "flap", "in-seam")
NAMES = {"patch": ("pocket",), "flap": ("flap", "under-flap"), "in-seam": ("pocket-bag", "under-bag")}
WIDTHS = {"patch": 120.0, "flap": 130.0, "in-seam": 170.0}
DEPTHS = {"patch": 135.0, "flap": 55.0, "in-seam": 290.0}
"""mm: usual sizes (common practice, no source)."""
POCKET = "pocket"


@operation(menu="Derive", title="Draft pocket")
@dataclass(frozen=True, kw_only=True)
class DraftPocket(Operation):
    """Draft a pocket and say where it goes: a patch, a flap, or a bag in a seam.

    A patch or flap lies about the place that is named, the middle of its opening, across the grain of the garment: it
    gets a placement line there, and a patch drill holes inside its corners. For a bag name the stretch of a seam that
    stays open, such as skirt-front.side@4cm..20cm: both sides get notches there, and each a side of the bag.
    """

    target: tuple[Place, ...] = refs(
        ("place", "stretch", "point"), ("where it goes", "the middle of the opening, or a stretch of a seam")
    )
    kind: str = choice("patch", ("kind", "a patch, a flap, or a bag in a seam"), KINDS)
    width: float | None = length(None, ("width", "", "by its kind"), low=20, high=600)
    depth: float | None = length(None, ("depth", "from the opening's top", "by its kind"), low=15, high=800)
    point: float = length(15.0, ("point", "how much longer the middle of its bottom is; 0 is straight"), high=100)
    turn: float = number(0.0, ("turned by", "degrees, clockwise"), low=-90, high=90)
    under: float = length(1.0, ("lining of a flap smaller by", "so that the seam rolls under"), high=10)
    names: tuple[str, ...] = piece_names(("names of the pieces", "with commas between them"))
    material: str = text("", ("material", "it is cut from; that of the garment"))

    def spelled(self, after: Pattern) -> DraftPocket:
        """With the names of its pieces, where they are the usual ones."""
        return replace(self, names=self._names())

    def _names(self) -> tuple[str, ...]:
        usual = NAMES[self.kind]
        if len(self.names) > len(usual):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(usual)} pieces; give one for each"
            )
        return (*self.names, *usual[len(self.names) :])

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"pocket takes one place, and {len(self.target)} are given; name where it goes")
        names = self._names()
        pattern, old = made_way(pattern, names, (POCKET, "under-pocket"))
        pattern = _without_lines(pattern, old)
        uids = Uids(pattern.uids())
        place = self.target[0]
        made = (self._bag if self.kind == "in-seam" else self._laid)(pattern, place, names, uids)
        pattern = pattern.with_piece(made.garment)
        left, top = free_place(pattern)
        pieces = []
        for k, piece in enumerate(laid_out(made.pieces, left=left, top=top)):
            source = Source(kind="under-pocket" if k else POCKET, of=(made.garment.uid,), line="" if k else self.line())
            material = self.material or ("" if self.kind == "in-seam" else made.garment.material)
            piece = replace(piece, source=source, material=material)
            pieces.append(as_before(piece, old.get(piece.name)))
        done = replace(pattern, pieces=(*pattern.pieces, *pieces), seams=(*pattern.seams, *made.seams))
        if self.kind == "in-seam":
            _, edge = edge_of(done, place)
            assert place.at is not None
            assert place.to is not None
            ends = [sewn_at(edge, at) for at in (place.at, place.to)]
            done, _ = with_notches(done, edge.uid, ends, "end of the pocket")
        return Outcome(
            pattern=done,
            figures=(Figure(f"{names[0]} width", self._wide()), Figure(f"{names[0]} depth", self._deep())),
        )

    def _wide(self) -> float:
        return self.width or WIDTHS[self.kind]

    def _deep(self) -> float:
        return self.depth or DEPTHS[self.kind]

    def _laid(self, pattern: Pattern, place: Place, names: tuple[str, ...], uids: Uids) -> Placed:
        if place.to is not None:
            raise UsageError(f"'{place}' is a stretch; a {self.kind} pocket wants the place of its middle")
        at = spot(pattern, place)
        garment = pattern.piece_of(at.piece)
        wide, deep = self._wide(), self._deep()
        if self.kind == "patch":
            return patch(garment, at.point, names[0], wide=wide, deep=deep, point=self.point, turn=self.turn, uids=uids)
        return flap(
            garment,
            at.point,
            names,
            wide=wide,
            deep=deep,
            point=self.point,
            turn=self.turn,
            under=self.under,
            uids=uids,
        )

    def _bag(self, pattern: Pattern, place: Place, names: tuple[str, ...], uids: Uids) -> Placed:
        if place.at is None or place.to is None:
            raise UsageError("a bag wants the stretch that stays open; name it, such as skirt-front.side@4cm..20cm")
        garment, edge = edge_of(pattern, place)
        ends = sewn_at(edge, place.at), sewn_at(edge, place.to)
        long = ends[1] - ends[0]
        if long < 80:
            raise UsageError(f"an opening of {plain(long)} mm lets no hand in; name a longer stretch")
        others = [[m for m in mates(pattern, edge.uid, at) if m.edge.uid != edge.uid] for at in ends]
        if not others[0] or not others[1] or others[0][0].edge.uid != others[1][0].edge.uid:
            raise UsageError(f"{place} is not sewn to one edge along all of it; state that seam first")
        first, last = others[0][0], others[1][0]
        sides = [bag(name, opening=long, wide=self._wide(), deep=self._deep(), uids=uids) for name in names]
        seams = [
            _opened(sides[0], garment, edge, ends, uids),
            _opened(sides[1], first.piece, first.edge, (min(first.sewn, last.sewn), max(first.sewn, last.sewn)), uids),
        ]
        parts = [RunPart(piece=p.uid, of=p.edge("bag").uid) for p in sides]
        seams.append(Seam(uid=uids.fresh("seam", sides[0].uid, "bag"), a=(parts[0],), b=(parts[1],)))
        return Placed(garment=garment, pieces=tuple(sides), seams=tuple(seams))


def _opened(side: Piece, garment: Piece, edge: Edge, ends: tuple[float, float], uids: Uids) -> Seam:
    """The seam of a bag's opening with a stretch of the garment."""
    a = RunPart(piece=side.uid, of=side.edge("opening").uid)
    start, end = (Position(mode="start", value=at) for at in ends)
    b = RunPart(piece=garment.uid, of=edge.uid, start=start, end=end)
    return Seam(uid=uids.fresh("seam", side.uid, "opening"), a=(a,), b=(b,), reversed=True)


def _without_lines(pattern: Pattern, old: dict[str, Piece]) -> Pattern:
    """The pattern without the placement lines, and their drill holes, of pockets that are drawn anew."""
    for name, piece in old.items():
        for uid in piece.source.of if piece.source else ():
            garment = next((p for p in pattern.pieces if p.uid == uid), None)
            if garment is None:
                continue
            gone = {line.uid for line in garment.lines if line.name == name and line.kind == "placement"}
            fresh = {Uids().fresh("hole", line, str(k)) for line in gone for k in (0, 1)}
            lines = tuple(line for line in garment.lines if line.uid not in gone)
            holes = tuple(hole for hole in garment.holes if hole.uid not in fresh)
            pattern = pattern.with_piece(replace(garment, lines=lines, holes=holes))
    return pattern
