"""`facing`: the shaped inside of edges, as a piece of its own or grown on and turned at the fold."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.copies.deriving import FACING, Had, derived_names, like_seams, on_facings, put_in
from flatcut.copies.facings import SEWN, Facing, faced
from flatcut.copies.growing_on import with_grown_on
from flatcut.copies.linings import faced_edges
from flatcut.copies.unrolling import contiguous
from flatcut.declared.fields import flag, length, piece_names, ref, refs, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.sourcing import derived_from
from flatcut.pattern.spots import edge_of, find
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Line, Pattern, Piece, RunPart, Seam
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.reshape.change import applied


@operation(menu="Derive", title="Make facing")
@dataclass(frozen=True, kw_only=True)
class MakeFacing(Operation):
    """Make the facing of edges: a neckline, an armhole, both in one, a front edge, a hem.

    Edges of one piece that follow one another get one facing; what lies between two of them, as the shoulder between
    neck and armhole, is faced with them. Darts on these edges are closed in it. It is sewn to each edge named, to the
    facings of the pieces beside it, and has a free edge, `inner`. Named again for the same edges it is drawn anew and
    keeps its seams and allowances; other edges of the piece get a facing of their own. Grown on, it is part of the
    piece: mirrored about a straight edge, which becomes the fold.
    """

    target: tuple[Place, ...] = refs("edge", ("the edges", "to be faced"))
    # 5 to 6.5 cm at the centre, 3.5 to 5 cm at the shoulder: common practice, no source
    width: float = length(60.0, ("how wide it is", "at the fold, the centre or an opening"), low=3, high=1000)
    at_seam: float | None = length(
        None, ("how wide it is at a seam", "as at the shoulder or the side", "as wide"), low=3, high=1000
    )
    inner: Place | None = ref("line", ("line on the piece", "that is its inner edge", "by the width"), filled=False)
    # 1 to 3 mm are common practice, no source
    roll: float = length(
        2.0, ("how much shorter for roll", "the inner edge is at each seam, so that the facing stays inside"), high=20
    )
    grown_on: bool = flag(False, ("grown on", "part of the piece, turned at the edge"))
    names: tuple[str, ...] = piece_names(
        ("names of the facings", "in the order of the pieces", "the name with -facing, or with the edge before it")
    )
    material: str = text("", ("material", "", "that of the piece"))

    def _apply(self, pattern: Pattern) -> Outcome:
        pieces, named = self._named(pattern)
        if self.grown_on:
            return self._grown(pattern, pieces, named)
        drawn = self._line(pattern, pieces)
        uids = Uids(pattern.uids())
        called = derived_names(pattern, pieces, self._names(pattern, pieces, named), "facing")
        made: list[Facing] = []
        for piece, (name, _) in zip(pieces, called, strict=True):
            along = contiguous(piece, named[piece.uid])
            own = tuple(Place(piece=piece.name, name=e.name) for e in along if e.uid in named[piece.uid])
            made.append(
                faced(
                    piece,
                    along,
                    named[piece.uid],
                    widths=self._widths(piece, along),
                    drawn=drawn,
                    roll=self.roll,
                    name=name,
                    material=self.material,
                    step=replace(self, target=own, names=(name,)).line(),
                    uids=uids,
                )
            )
        pattern, said = _as_seams(pattern, pieces, named)
        seams = self._seams(pattern, pieces, made, uids)
        after, done = put_in(pattern, [(m.piece, old) for m, (_, old) in zip(made, called, strict=True)], seams)
        after = on_facings(after)
        figures = [f for m, one, piece in zip(made, done, pieces, strict=True) for f in _figures(piece, one, m)]
        for facing in made:
            if facing.closed:
                said.append(f"{' and '.join(facing.closed)} is closed in {facing.piece.name}")
        return Outcome(pattern=after, figures=tuple(figures), warnings=tuple(said))

    def _names(self, pattern: Pattern, pieces: list[Piece], named: dict[str, list[str]]) -> list[str]:
        """The names as given, else of the facing that these edges have, else a free one of the piece and the edge.

        Errors: UsageError for the name of a facing of other edges, which would be lost.
        """
        found = []
        for k, piece in enumerate(pieces):
            faces = {one.name: faced_edges(pattern, piece, one) for one in derived_from(pattern, piece, FACING)}
            # one that faces nothing any more is drawn anew as well
            alike = [
                name for name, edges in faces.items() if not edges or {e.uid for e in edges} & set(named[piece.uid])
            ]
            usual = f"{piece.name}-{FACING}"
            if usual in faces and usual not in alike:
                usual = f"{piece.name}-{piece.edge_of(named[piece.uid][0]).name}-{FACING}"
            name = self.names[k] if k < len(self.names) else next(iter(alike), usual)
            if name in faces and name not in alike:
                edges = " and ".join(f"{piece.name}.{edge.name}" for edge in faces[name])
                raise UsageError(
                    f"{name} is the facing of {edges}, and would be lost; give another name with ", Option("names")
                )
            found.append(name)
        return [*found, *self.names[len(pieces) :]]

    def _named(self, pattern: Pattern) -> tuple[list[Piece], dict[str, list[str]]]:
        pieces: list[Piece] = []
        named: dict[str, list[str]] = {}
        for place in self.target:
            piece, edge = edge_of(pattern, place)
            if edge.use == "fold":
                raise UsageError(f"{place} is a fold, which has no inside to be faced; name another edge")
            if piece.uid not in named:
                pieces.append(piece)
            named.setdefault(piece.uid, []).append(edge.uid)
        if not pieces:
            raise UsageError("facing wants edges; name them")
        return pieces, named

    def _line(self, pattern: Pattern, pieces: list[Piece]) -> Line | None:
        if self.inner is None:
            return None
        piece, thing = find(pattern, self.inner)
        if not isinstance(thing, Line) or len(pieces) != 1 or piece.uid != pieces[0].uid:
            raise UsageError(f"{self.inner} is no line on the piece that is faced; name one, and edges of that piece")
        return thing

    def _widths(self, piece: Piece, along: list[Edge]) -> tuple[float, float]:
        order = [edge.uid for edge in piece.edges]
        before = piece.edges[order.index(along[0].uid) - 1]
        after = piece.after(along[-1])
        at_seam = self.width if self.at_seam is None else self.at_seam
        first, last = (at_seam if edge.use == "seam" else self.width for edge in (before, after))
        return first, last

    def _seams(self, pattern: Pattern, pieces: list[Piece], made: list[Facing], uids: Uids) -> list[Seam]:
        """The seams of the facings: to the edges that they face, and to each other where their pieces are sewn."""
        found = []
        edges = {had: own for piece in pattern.pieces for had, own in _had(pattern, piece).items()}
        for piece, facing in zip(pieces, made, strict=True):
            edges |= {had: (facing.piece.uid, new) for had, new in facing.others.items()}
            for old, new in facing.named.items():
                shell, own = RunPart(piece=piece.uid, of=old), RunPart(piece=facing.piece.uid, of=new)
                # the facing lies on its piece, so both run the same way
                found.append(Seam(uid=uids.fresh("facing", old, new), a=(shell,), b=(own,)))
        return [*found, *like_seams(pattern, edges, {facing.piece.uid for facing in made}, uids)]

    def _grown(self, pattern: Pattern, pieces: list[Piece], named: dict[str, list[str]]) -> Outcome:
        if self.names or self.inner is not None:
            raise UsageError(
                "a facing that is grown on is no piece of its own; leave out ",
                Option("names"),
                " and ",
                Option("inner"),
            )
        figures: list[Figure] = []
        warnings: list[str] = []
        for piece in pieces:
            for uid in named[piece.uid]:
                here = pattern.piece_of(piece.uid)
                edge = here.edge_of(uid)
                change, names = with_grown_on(here, edge, self.width, Uids(pattern.uids()))
                pattern, lost = applied(pattern, change)
                warnings += lost
                after = pattern.piece_of(piece.uid)
                figures += [Figure(f"{piece.name}.{n} drawn", drawn_length(after.edge(n))) for n in names]
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)))


def _had(pattern: Pattern, piece: Piece) -> dict[Had, tuple[str, str]]:
    """What facings that are there have of the edges of a piece, but for those that they face."""
    found = {}
    faced_by = {(seam.a[0].of, seam.b[0].of) for seam in pattern.seams if len(seam.a) == len(seam.b) == 1}
    for facing in derived_from(pattern, piece, "facing"):
        own = {edge.name: edge.uid for edge in facing.edges}
        names = {edge.uid: edge.name for edge in piece.edges}
        for t in facing.source.taken if facing.source else ():
            uid = own.get(names.get(t.edge, ""), "")
            if uid and (t.edge, uid) not in faced_by:
                which = "whole" if t.start is t.end is None else "end" if t.end is None else "start"
                found[t.edge, which] = (facing.uid, uid)
    return found


def _as_seams(pattern: Pattern, pieces: list[Piece], named: dict[str, list[str]]) -> tuple[Pattern, list[str]]:
    """The pattern with what is faced as seams: a hem or a finished edge is sewn to its facing, and turned with it."""
    said = []
    for piece in pieces:
        edges = []
        for edge in piece.edges:
            if edge.uid in named[piece.uid] and edge.use not in SEWN:
                said.append(f"{piece.name}.{edge.name} was a {edge.use} edge and is a seam now, sewn to its facing")
                wide = edge.allowance if edge.use not in ("hem",) else None
                edge = replace(edge, use="seam", allowance=wide)
            elif edge.uid in named[piece.uid] and edge.use == "opening":
                edge = replace(edge, use="seam")
            edges.append(edge)
        pattern = pattern.with_piece(replace(pattern.piece_of(piece.uid), edges=tuple(edges)))
    return pattern, said


def _figures(piece: Piece, done: Piece, made: Facing) -> list[Figure]:
    found = []
    for old in made.named:
        edge = piece.edge_of(old)
        rest = sewn_length(done.edge(edge.name)) - sewn_length(edge)
        found.append(Figure(f"{done.name}.{edge.name} sewn", sewn_length(done.edge(edge.name))))
        found.append(Figure(f"{done.name}.{edge.name} longer than {piece.name}.{edge.name}", rest))
    inner = done.edge(made.inner.name)
    found.append(Figure(f"{done.name}.{inner.name} drawn", drawn_length(inner)))
    found += [
        Figure(f"{done.name} width at its {n} end", w) for n, w in zip(("first", "last"), made.widths, strict=True)
    ]
    return found
