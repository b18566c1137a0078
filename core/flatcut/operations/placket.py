"""`placket`: a button stand with its facing, grown on to a front or back edge."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, length, number, refs
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.marks.button import slit_across
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Button, Figure, Pattern, Piece
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.strips.placketing import grown_on, with_notches
from flatcut.units import plain


@operation(menu="Derive", title="Make placket")
@dataclass(frozen=True, kw_only=True)
class MakePlacket(Operation):
    """Give a centre edge a button stand and a facing that are cut on: folded at the front edge, mirrored beyond it.

    The old edge stays as a line of its name, on which the buttons stand; the neck runs on over the stand, a hem over
    the facing as well. A piece on the fold becomes a pair. Buttonholes lie along the centre line, the first and last so
    far from the neck and the hem as stated. On children's clothes small parts such as buttons can harm; keep to the
    rules of the place where they are sold, and ask somebody qualified.
    """

    target: tuple[Place, ...] = refs("edge", ("the edge", "straight, such as front.centre"))
    stand: float = length(15.0, ("button stand", "from the centre to the front edge"), low=5, high=150)
    facing: float = length(40.0, ("facing", "from the front edge back"), low=10, high=300)
    buttons: float = number(0, ("buttons", "how many, with their buttonholes"), low=0, high=40, digits=0)
    size: float = length(11.0, ("width of a button", "a buttonhole is 3 mm longer"), low=3, high=80)
    first: float = length(20.0, ("first button", "from the start of the edge"), high=1000)
    last: float = length(100.0, ("last button", "from its end"), high=2000)
    lie: str = choice("along", ("buttonholes lie", "along the centre, or across it"), ("along", "across"))

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"placket takes one edge, and {len(self.target)} are given; name it")
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
