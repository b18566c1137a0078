"""`placket`: a button stand with its facing, grown on to a front or back edge, or a slit that is bound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, further, length, number, piece_name, refs
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.marks.button import slit_across
from flatcut.pattern.places import Place
from flatcut.pattern.redrawing import as_before, made_way
from flatcut.pattern.sources import Source
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Button, Figure, Notch, Pattern, Piece
from flatcut.pattern.walking import drawn_length, point_at, sewn_at, to_drawn
from flatcut.reshape.change import applied
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.strips.placketing import grown_on, with_notches
from flatcut.strips.slits import bound_slit
from flatcut.units import plain

KINDS = ("stand", "bound")
BOUND = Option("kind", "bound")
SLIT, BINDING = 80.0, 10.0
"""mm: depth of a slit at a cuff, 6 to 10 cm, and the finished width of its binding (common practice, no source)."""
BOUND_NAME, SLIT_KIND = "slit-binding", "slit"
SAME = 0.5
"""mm: a notch so near to where a slit opens is the slit's."""


@operation(menu="Derive", title="Make placket")
@dataclass(frozen=True, kw_only=True)
class MakePlacket(Operation):
    """Give a centre edge a button stand and a facing that are cut on, or an edge a bound slit.

    A stand is folded at the front edge, and the facing is mirrored beyond it.

    The old edge stays as a line of its name, on which the buttons stand; the neck runs on over the stand, a hem over
    the facing as well. A piece on the fold becomes a pair. Buttonholes lie along the centre line, the first and last so
    far from the neck and the hem as stated. A bound slit, as that of a sleeve at its cuff, runs in from a place of an
    edge along the grain; one strip, folded along its length, binds it up one side and down the other. On
    children's clothes small parts such as buttons can harm; keep to the rules of the place where they are sold, and ask
    somebody qualified.
    """

    target: tuple[Place, ...] = refs(
        ("edge", "place"), ("the edge", "straight, such as front.centre; the place of a bound slit, as sleeve.hem@3/4")
    )
    kind: str = choice("stand", ("kind", "a button stand with its facing, or a bound slit"), KINDS)
    stand: float = length(15.0, ("button stand", "from the centre to the front edge"), low=5, high=150)
    facing: float = length(40.0, ("facing", "from the front edge back"), low=10, high=300)
    buttons: float = number(0, ("buttons", "how many, with their buttonholes"), low=0, high=40, digits=0)
    size: float = length(11.0, ("width of a button", "a buttonhole is 3 mm longer"), low=3, high=80)
    first: float = length(20.0, ("first button", "from the start of the edge"), high=1000)
    last: float = length(100.0, ("last button", "from its end"), high=2000)
    lie: str = choice("along", ("buttonholes lie", "along the centre, or across it"), ("along", "across"))
    slit: float = further(length(SLIT, ("depth of a bound slit", "from the edge in"), low=15, high=400))
    binding: float = further(length(BINDING, ("width of its binding", "finished"), low=3, high=40))
    name: str = further(piece_name(("name of its binding", "", "slit-binding")))

    def spelled(self, after: Pattern) -> MakePlacket:
        """With the name of a binding, where it is the usual one."""
        return replace(self, name=self.name or BOUND_NAME) if self.kind == "bound" else self

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"placket takes one edge, and {len(self.target)} are given; name it")
        if self.kind == "bound":
            return self._bound(pattern, self.target[0])
        self._refuse(("slit", "binding", "name"), "bound")
        if self.target[0].at is not None:
            raise UsageError(f"'{self.target[0]}' is a place; a stand is grown on to a whole edge, or give ", BOUND)
        piece, edge = edge_of(pattern, self.target[0])
        if self.buttons and self.size / 2 + 2 > self.stand:
            raise UsageError(
                f"a button of {plain(self.size)} mm stands out over a stand of {plain(self.stand)} mm; give more with ",
                Option("stand"),
            )
        uids = Uids(pattern.uids())
        made = grown_on(piece, edge, self.stand, self.facing, uids)
        refuse_overlap(made.change.pieces[0], advice="make the facing narrower")
        pattern, lost = applied(pattern, made.change)
        pattern = with_notches(pattern, piece.uid, made.marks, uids)
        held = pattern.piece_of(piece.uid)
        warnings = list(lost)
        if held.cut_as == "fold" and not any(e.use == "fold" for e in held.edges):
            held = replace(held, cut_as="pair", quantity=2 * held.quantity)
            warnings.append(f"{held.name} has no fold any more and is cut as a pair")
        held = replace(held, buttons=(*held.buttons, *self._buttons(held, made.centre, uids)))
        pattern = replace(pattern.with_piece(held), seams=(*pattern.seams, *made.seams))
        figures = [
            Figure(f"{held.name} stand", self.stand),
            *(Figure(f"{held.name}.{name} drawn", drawn_length(held.edge(name))) for name in made.edges),
        ]
        if self.buttons:
            figures.append(Figure(f"{held.name} buttons", self.buttons, ""))
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(warnings))

    def _refuse(self, names: Sequence[str], kind: str) -> None:
        """UsageError for figures of the other kind."""
        for name in names:
            if getattr(self, name) != type(self).__dataclass_fields__[name].default:
                raise UsageError(Option(name), f" is for a placket of kind {kind}; leave it out, or give that kind")

    def _bound(self, pattern: Pattern, place: Place) -> Outcome:
        """A slit with the strip that binds it."""
        self._refuse(("stand", "facing", "buttons", "size", "first", "last", "lie"), "stand")
        if place.at is None or place.to is not None:
            raise UsageError(f"'{place}' is no place; a bound slit wants where it opens, such as sleeve.hem@3/4")
        name = self.name or BOUND_NAME
        gone = _slits_of(pattern, name)
        pattern, old = made_way(pattern, [name], (SLIT_KIND,))
        pattern = _without_slits(pattern, gone if old else set())
        piece, edge = edge_of(pattern, place)
        uids = Uids(pattern.uids())
        made = bound_slit(piece, edge, sewn_at(edge, place.at), self.slit, self.binding, name, uids)
        left, top = free_place(pattern)
        strip = laid_out((made.strip,), left=left, top=top)[0]
        strip = replace(strip, source=Source(kind=SLIT_KIND, of=(piece.uid,), line=self.line()))
        strip = as_before(strip, old.get(name))
        pattern = pattern.with_piece(made.garment)
        done = replace(pattern, pieces=(*pattern.pieces, strip), seams=(*pattern.seams, *made.seams))
        figures = (
            Figure(f"{piece.name}.{made.line} drawn", self.slit),
            Figure(f"{name} length", drawn_length(strip.edge("seam"))),
            Figure(f"{name} width as cut, net", 2 * self.binding),
        )
        return Outcome(pattern=done, figures=figures)

    def _buttons(self, piece: Piece, name: str, uids: Uids) -> list[Button]:
        count = int(self.buttons)
        if not count:
            return []
        line = next(one for one in piece.lines if one.name == name)
        start, end = line.curve.start, line.curve.end
        way = (end - start) / float(((end - start) ** 2).sum() ** 0.5)
        long = float((end - start) @ way) - self.first - self.last
        gap = long / (count - 1) if count > 1 else 0.0
        if long < 0 or (count > 1 and gap < self.size + 4):
            raise UsageError(
                f"{count} buttons of {plain(self.size)} mm do not fit on {plain(max(long, 0.0))} mm; "
                "take fewer, or less of ",
                Option("first"),
                " and ",
                Option("last"),
            )
        fold = next(one for one in piece.lines if one.kind == "fold" and one.name.startswith("front-edge")).curve
        out = fold.start - start
        out = out - float(out @ way) * way
        out = out / float((out**2).sum() ** 0.5)
        found = []
        for k in range(count):
            at = start + (self.first + k * gap) * way
            slit = slit_across(at, out if self.lie == "across" else -way, self.size)
            mid = slit.mean(axis=0) - at
            slit = slit - mid if self.lie == "along" else slit
            uid = uids.fresh("button", line.uid, str(k))
            found.append(Button(uid=uid, kind="button", at=at, size=self.size, on=line.uid))
            uid = uids.fresh("buttonhole", line.uid, str(k))
            found.append(Button(uid=uid, kind="buttonhole", at=at, size=self.size, slit=slit, on=line.uid))
        return found


def _slits_of(pattern: Pattern, name: str) -> set[str]:
    """uids of the lines that a piece of that name binds."""
    own = {piece.uid for piece in pattern.pieces if piece.name == name}
    lines = {line.uid for piece in pattern.pieces if piece.uid not in own for line in piece.lines}
    return {part.of for seam in pattern.seams if seam.a[0].piece in own for part in seam.b} & lines


def _without_slits(pattern: Pattern, gone: set[str]) -> Pattern:
    """The pattern without slits whose binding is drawn anew, and their notches."""
    for piece in pattern.pieces:
        starts = [line.curve.start for line in piece.lines if line.uid in gone]
        if not starts:
            continue
        lines = tuple(line for line in piece.lines if line.uid not in gone)
        notches = tuple(notch for notch in piece.notches if not _at_one_of(piece, notch, starts))
        pattern = pattern.with_piece(replace(piece, lines=lines, notches=notches))
    return pattern


def _at_one_of(piece: Piece, notch: Notch, places: Sequence[Array]) -> bool:
    """Whether a notch stands at one of some places (2,)."""
    edge = piece.edge_of(notch.edge)
    at = point_at(edge, to_drawn(edge, sewn_at(edge, notch.at)))[0]
    return any(float(np.hypot(*(at - place))) < SAME for place in places)
