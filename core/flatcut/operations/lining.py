"""`lining`: the lining of pieces, with the usual differences from the shell."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.copies.copying import copied
from flatcut.copies.deriving import derived_names
from flatcut.copies.halving import SIDES, halved, worn
from flatcut.copies.linings import (
    centre_back,
    faced_edges,
    facing_lines,
    facing_seam,
    sewn_above_the_hem,
    with_ease_pleat,
)
from flatcut.copies.vents_lined import Vent, cut_away, sewn_there, vent_seams, vents_of
from flatcut.copies.widths import laid_on, narrower
from flatcut.declared.fields import choice, further, length, piece_names, refs, text
from flatcut.errors import FlatcutError, Option, UsageError
from flatcut.geometry.curves import flatten
from flatcut.operations.operation import Operation, Outcome, load, operation
from flatcut.pattern.defaults import ALLOWANCES
from flatcut.pattern.graining import with_grain_inside
from flatcut.pattern.places import Place
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.sources import taken
from flatcut.pattern.sourcing import derived_from
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Allowance, Edge, Figure, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import sewn_at, sewn_length
from flatcut.units import plain

CAP = "cap"
UNLIKE = 4.0
"""mm by which a raised armhole and a raised cap may differ in one seam, eased in (common practice, no source)."""


@operation(menu="Derive", title="Make lining")
@dataclass(frozen=True, kw_only=True)
class MakeLining(Operation):
    """Make the lining of pieces: copies with what a lining usually has otherwise.

    What is faced is left out, and the lining is sewn to the facing instead. The centre back on the fold has an ease
    pleat, a hem is shorter, darts are folded as pleats. It has the seams of its pieces: to the linings of the pieces
    beside it, else to the shell. Named again it is drawn anew and keeps its allowances. All its differences are common
    practice; each can be set. Where a garment must protect, as workwear, or must not burn easily, linings and fusings
    count too: keep to the rules of the place where it is sold, and ask somebody qualified.
    """

    target: tuple[Place, ...] = refs("piece", "pieces")
    names: tuple[str, ...] = piece_names(
        ("names of the linings", "in the order of the pieces", "the name with -lining")
    )
    material: str = text("lining", "material")
    # all of them common practice, no source
    ease_pleat: float = length(
        25.0, ("depth of the ease pleat", "at a centre back on the fold, on each half; 0 for none"), high=200
    )
    hem: float = length(25.0, ("how much shorter its hem is", "than the finished hem of the piece"), high=1000)
    jump: float = length(0.0, ("length to spare at the hem", "for a lining that is sewn to it"), high=200)
    underarm: float = length(0.0, ("how much the underarm is raised", "at the side of an armhole"), high=100)
    darts: str = choice("pleat", ("darts become", "or stay darts"), ("pleat", "dart"))
    over: str = further(
        choice("left", ("the vent laps over on the", "side as worn, of a pair that is sewn to itself"), SIDES)
    )
    turn: float = further(
        length(10.0, ("underlay lining set back by", "from its edge, which is turned in so much deeper"), high=100)
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        pieces = [pattern.piece(name) for name in dict.fromkeys(place.piece for place in self.target)]
        if not pieces:
            raise UsageError("lining wants pieces; name them, or all")
        for piece in pieces:
            if piece.source is not None and piece.source.kind in ("lining", "facing", "fusing"):
                raise UsageError(f"{piece.name} is a {piece.source.kind}; name the pieces of the shell")
        old = _halves_before(pattern, pieces)
        pattern = replace(_without(pattern, {one.uid for one in old.values()}), steps=pattern.steps)
        called = derived_names(pattern, pieces, self.names, "lining")
        old |= {name: one for name, one in called if one is not None}
        before = _without(pattern, {one.uid for one in old.values()})
        names = [name for name, _ in called]
        # a lining lies with its right side to the body: of a piece that is no pair it is cut as the mirror image
        turned = [piece.uid for piece in pieces if piece.one_sided]
        done = copied(before, pieces, names, material=self.material, kind="lining", mirror=turned)
        after, said = done.pattern, list(done.warnings)
        for piece, name in zip(pieces, names, strict=True):
            after = self._lined(after, piece, name, said)
        made = []
        for piece, name in zip(pieces, names, strict=True):
            after, parts = self._vented(after, piece, name, said)
            for part in parts:
                if part in old:
                    after = after.with_piece(_as_before(after.piece(part), old[part]))
            made += [(piece, part) for part in parts]
        if self.underarm:
            after = _set_in_anew(after, {part for _, part in made}, said)
        after = replace(_bagged(after, made, said), steps=pattern.steps)
        figures = [figure for piece, name in made for figure in _figures(after, piece, name)]
        return Outcome(pattern=after, figures=tuple(figures), warnings=tuple(dict.fromkeys(said)))

    def _lined(self, pattern: Pattern, piece: Piece, name: str, said: list[str]) -> Pattern:
        """The pattern with what one lining has otherwise."""
        for facing in derived_from(pattern, piece, "facing"):
            pattern = _left_out(pattern, piece, facing, name)
        shorter = self.hem - self.jump
        long = pattern.piece(name)
        for edge in pattern.piece(name).edges:
            if edge.use == "hem" and shorter:
                pattern = _done(pattern, "move", target=(Place(piece=name, name=edge.name),), by=-shorter)
        pattern = self._raised(sewn_above_the_hem(pattern, long, pattern.piece(name)), name)
        if self.darts == "pleat":
            pattern = _pleated(pattern, name, said)
        fold = centre_back(pattern.piece(name))
        if fold is not None and self.ease_pleat:
            was = pattern.piece(name)
            pattern = _done(pattern, "move", target=(Place(piece=name, name=fold.name),), by=self.ease_pleat)
            eased = with_ease_pleat(was, pattern.piece(name), self.ease_pleat, Uids(pattern.uids()))
            pattern = pattern.with_piece(eased)
        made = with_grain_inside(pattern.piece(name))
        assert made.source is not None
        own = replace(self, target=(Place(piece=piece.name),), names=(name,))
        source = replace(made.source, line=own.line(), taken=tuple(taken(piece.uid, edge) for edge in piece.edges))
        return pattern.with_piece(replace(made, source=source))

    def _vented(self, pattern: Pattern, piece: Piece, name: str, said: list[str]) -> tuple[Pattern, list[str]]:
        """The pattern with the vents of one lining as they are lined, and what that is called now."""
        vents = vents_of(piece)
        if not vents:
            return pattern, [name]
        sides = {name: ""}
        if piece.cut_as == "pair" and any(_sewn_to_itself(pattern, piece, vent.seam) for vent in vents):
            drawn = worn(piece)
            if not drawn:
                raise UsageError(
                    f"nothing on {piece.name} tells whether it is drawn for the left or the right; make two pieces of "
                    f"it with halves {piece.name} --drawn=..., and line these"
                )
            # what is drawn for the right is seen from inside on the left
            inside = SIDES[1 - SIDES.index(drawn)]
            sides = {f"{name}-{side}": side for side in SIDES}
            pattern, more = halved(pattern, pattern.piece(name), list(sides), inside)
            said += more
        uids = Uids(pattern.uids())
        for part, side in sides.items():
            for k, vent in enumerate(vents):
                over = vent.over if not side else side == self.over
                mine = vents_of(pattern.piece(part))[0 if any(vents[j].over for j in range(k)) else k]
                if over:
                    pattern, lost = cut_away(pattern, pattern.piece(part), mine)
                    said += lost
                else:
                    pattern = _set_back(pattern, part, mine, self.turn)
                pattern = pattern.with_piece(with_grain_inside(pattern.piece(part)))
                mirrored = bool(side) and side != worn(piece)
                seams = vent_seams(piece, pattern.piece(part), vent, mirrored=mirrored, uids=uids)
                pattern = replace(pattern, seams=(*pattern.seams, *seams))
        return pattern, list(sides)

    def _raised(self, pattern: Pattern, name: str) -> Pattern:
        """The pattern with the underarm of a lining raised: the side of an armhole, both sides of a cap."""
        piece = pattern.piece(name)
        names = {edge.name for edge in piece.edges}
        if not self.underarm:
            return pattern
        corners = [("armhole", "side")] if {"armhole", "side"} <= names else []
        if CAP in names:
            cap = piece.edge(CAP)
            corners += [(CAP, edge_before(piece, cap).name), (CAP, piece.after(cap).name)]
        for edge, beside in corners:
            # no farther than the notch, so that all above it stays
            start = (Place(piece=name, name=edge, at=_notch_below(pattern.piece(name), edge, beside)),)
            corner = Place(piece=name, name=edge, other=beside)
            pattern = _done(pattern, "move", target=(corner,), by=self.underarm, from_=start)
        return pattern


def _notch_below(piece: Piece, name: str, beside: str) -> Position:
    """The notch of an edge that is nearest to its corner with another, or a place a third of the edge from there."""
    edge = piece.edge(name)
    at_end = piece.after(edge).name == beside
    places = sorted(sewn_at(edge, notch.at) for notch in piece.notches if notch.edge == edge.uid)
    if not places:
        return Position(mode="fraction", value=2 / 3 if at_end else 1 / 3)
    return Position(mode="start", value=places[-1] if at_end else places[0])


def _done(pattern: Pattern, operation: str, **given: object) -> Pattern:
    """The pattern after another operation, by its fields."""
    return load(operation)(**given)(pattern)


def _without(pattern: Pattern, gone: set[str]) -> Pattern:
    kept = tuple(piece for piece in pattern.pieces if piece.uid not in gone)
    seams = tuple(s for s in pattern.seams if not any(part.piece in gone for part in (*s.a, *s.b)))
    return replace(pattern, pieces=kept, seams=seams)


def _as_before(piece: Piece, old: Piece) -> Piece:
    """A lining drawn anew with the allowances and the label of the old one."""
    known = {edge.name: edge for edge in old.edges}
    edges = tuple(
        replace(edge, allowance=known[edge.name].allowance) if edge.name in known else edge for edge in piece.edges
    )
    return replace(piece, edges=edges, caption=replace(old.caption, at=None), quantity=old.quantity)


def _left_out(pattern: Pattern, piece: Piece, facing: Piece, name: str) -> Pattern:
    """The pattern with a lining cut along the free edge of a facing and sewn to it."""
    faced = {edge.name for edge in faced_edges(pattern, piece, facing)}
    if not faced:
        return pattern
    lining = pattern.piece(name)
    uids = Uids(pattern.uids())
    strokes = facing_lines(pattern, piece, facing, lining, uids)
    edge = strokes[0]
    pattern = pattern.with_piece(replace(lining, lines=(*lining.lines, *strokes)))
    touched = {one.name for one in facing.edges}
    rest = next((one.name for one in lining.edges if one.name not in touched), "")
    if not rest:
        raise UsageError(f"nothing of {piece.name} would be left beside {facing.name}; line it without")
    off = f"{name}-off"
    parts = (f"{name}.{rest}", f"{off}.{next(iter(faced))}")
    # darts that open on what is faced are cut across: the lining keeps what is below
    hosts = {lining.edge(one).uid for one in faced}
    darts = [dart.name for dart in lining.darts if dart.form == "cut" and dart.host in hosts]
    cut = tuple(Place(piece=name, name=one) for one in (edge.name, *darts))
    pattern = _done(pattern, "cut", target=cut, names=parts, drop=off)
    pattern = pattern.with_piece(_with_use(pattern.piece(name), edge.name))
    facing = _with_use(facing, facing.edges[-1].name)
    pattern = pattern.with_piece(facing)
    lining = pattern.piece(name)
    seam = Seam(
        uid=uids.fresh("lining", facing.uid, lining.uid),
        a=(RunPart(piece=facing.uid, of=facing.edges[-1].uid),),
        b=(RunPart(piece=lining.uid, of=lining.edge(edge.name).uid),),
        reversed=True,
    )
    return replace(pattern, seams=(*pattern.seams, facing_seam(facing, lining, edge.name, seam)))


def _set_in_anew(pattern: Pattern, names: set[str], said: list[str]) -> Pattern:
    """The pattern with the ease that caps of linings have once their underarm and that of the armholes is raised.

    Errors: UsageError where they would not go together any more.
    """
    own = {piece.uid: piece for piece in pattern.pieces if piece.name in names}
    caps = {edge.uid: piece.name for piece in own.values() for edge in piece.edges if edge.name == CAP}
    seams = []
    for seam in pattern.seams:
        parts = (*seam.a, *seam.b)
        cap = next((part.of for part in parts if part.of in caps), "")
        if cap and all(part.piece in own for part in parts):
            ease = run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a)
            off = abs(ease - seam.ease)
            if off > UNLIKE:
                raise UsageError(
                    f"raised at the underarm, {caps[cap]}.{CAP} and its armhole differ by {plain(off)} mm; raise "
                    "them less with ",
                    Option("underarm"),
                )
            seam = replace(seam, ease=round(ease, 6))
        seams.append(seam)
    if not caps:
        said += [
            f"{piece.name} is raised under the arm, and no lining of its sleeve is made with it; line both together"
            for piece in own.values()
            if "armhole" in {edge.name for edge in piece.edges}
        ]
    return replace(pattern, seams=tuple(seams))


def _sewn_to_itself(pattern: Pattern, piece: Piece, edge: Edge) -> bool:
    """Whether an edge is sewn to its own mirror image."""
    runs = [(*seam.a, *seam.b) for seam in pattern.seams]
    return any({part.mirrored for part in run if part.of == edge.uid} == {False, True} for run in runs)


def _set_back(pattern: Pattern, name: str, vent: Vent, by: float) -> Pattern:
    """The pattern with the lining of an underlay set back from its free edge."""
    if by:
        pattern = _done(pattern, "move", target=(Place(piece=name, name=vent.free.name),), by=-by)
    return pattern.with_piece(sewn_there(pattern.piece(name), vent))


def _halves_before(pattern: Pattern, pieces: list[Piece]) -> dict[str, Piece]:
    """Linings of pieces that were made left and right before, by name."""
    found = {}
    for piece in pieces:
        for lining in derived_from(pattern, piece, "lining"):
            if lining.side:
                found[lining.name] = lining
    return found


def _bagged(pattern: Pattern, made: list[tuple[Piece, str]], said: list[str]) -> Pattern:
    """The pattern with linings sewn to edges of the shell that are sewn to nothing, edge to edge."""
    sewn = {part.of for seam in pattern.seams for part in (*seam.a, *seam.b)}
    uids = Uids(pattern.uids())
    seams = list(pattern.seams)
    for piece, name in made:
        lining = pattern.piece(name)
        own = {edge.name: edge for edge in lining.edges if edge.uid not in sewn}
        for edge in piece.edges:
            if edge.use == "seam" and edge.uid not in sewn and edge.name in own:
                # of a lining made left and right one half lies on the mirror image of what is drawn
                mirrored = bool(lining.side) and piece.cut_as == "pair" and lining.side != worn(piece)
                shell = RunPart(piece=piece.uid, of=edge.uid, mirrored=mirrored)
                its = RunPart(piece=lining.uid, of=own[edge.name].uid)
                seams.append(Seam(uid=uids.fresh("bagged", edge.uid), a=(shell,), b=(its,), reversed=mirrored))
                said.append(f"{piece.name}.{edge.name} is sewn to nothing else, so {name}.{edge.name} is sewn to it")
    return replace(pattern, seams=tuple(seams))


def _with_use(piece: Piece, name: str) -> Piece:
    """The piece with an edge as a seam, with the usual allowance where the piece has allowances."""
    cut = any(edge.allowance is not None and edge.allowance.width > 0 for edge in piece.edges)

    def sewn(edge: Edge) -> Edge:
        return replace(edge, use="seam", allowance=Allowance(width=ALLOWANCES["seam"]) if cut else None)

    return replace(piece, edges=tuple(sewn(edge) if edge.name == name else edge for edge in piece.edges))


def _pleated(pattern: Pattern, name: str, said: list[str]) -> Pattern:
    """The pattern with the darts of a lining folded as pleats; one that cannot be stays, and is told."""
    for dart in pattern.piece(name).darts:
        if dart.double:
            continue
        try:
            pattern = _done(pattern, "release", target=(Place(piece=name, name=dart.name),), to="pleat")
        except FlatcutError:
            said.append(f"{name}.{dart.name} stays a dart: no pleat can be folded there")
    return pattern


def _figures(pattern: Pattern, piece: Piece, name: str) -> list[Figure]:
    lining = pattern.piece(name)
    found = [
        Figure(
            f"{name}.{edge.name} longer than {piece.name}.{edge.name}",
            sewn_length(edge) - sewn_length(piece.edge(edge.name)),
        )
        for edge in lining.edges
        if edge.name in {one.name for one in piece.edges}
    ]
    vents = [flatten(vent.fold.curve, tolerance=0.5) for vent in vents_of(piece)]
    wide = narrower(lining, piece, laid_on(lining, piece), derived_from(pattern, piece, "facing"), vents)
    return found if wide is None else [*found, Figure(f"{name} wider than {piece.name}, at least", wide[0])]
