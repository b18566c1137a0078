"""`divide`: one dart made into several with the same point."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.darting import angle, dart_figures, dart_of, intake, single
from flatcut.darts.pivoting import pivoted
from flatcut.darts.pressing import pressing_figure, pressing_told
from flatcut.darts.targets import along_line, free_for_dart, one_dart, target_of
from flatcut.declared.fields import also_true, numbers, ref, refs, texts
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.motions import Motion
from flatcut.pattern.places import Place
from flatcut.pattern.renewing import free_name
from flatcut.pattern.spots import named_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, area
from flatcut.reshape.change import Change, applied
from flatcut.truing.after import trued_after
from flatcut.units import plain


@operation(menu="Darts", title="Divide dart")
@dataclass(frozen=True, kw_only=True)
class Divide(Operation):
    """Divide a dart into several with the same point, at places of the edges.

    The first share stays where the dart is; the others go to the places of --to, in order, or open along lines. With as
    many shares as places nothing stays. Shares are parts of the angle, in any measure: 60,40 or 1,1,1; without them all
    are alike.
    """

    target: tuple[Place, ...] = refs("dart", "the dart")
    to: tuple[Place, ...] = refs(
        ("place", "dart"), ("where to", "places of the other darts, or darts there with the same point"), filled=False
    )
    along: tuple[Place, ...] = refs(
        "line",
        ("opened along the lines", "from the dart's point to edges, straight or curved; in the place of --to"),
        filled=False,
    )
    shares: tuple[float, ...] = numbers(
        ("shares", "parts of the angle, in any measure, with commas between them"), low=0, high=1e6
    )
    names: tuple[str, ...] = texts(("names of the other darts", "in order"), named=True)
    hold: Place | None = ref("edge", ("edge that stays still", "such as front.side"), filled=False)
    true: float | None = also_true()

    def _apply(self, pattern: Pattern) -> Outcome:
        piece, dart = one_dart(pattern, self.target)
        single(piece, dart, "divided")
        if self.to and self.along:
            raise UsageError(Option("to"), " and ", Option("along"), " say the same thing; give one")
        if not self.to and not self.along:
            raise UsageError(
                "divide takes ",
                Option("to"),
                ", the places of the other darts, such as ",
                Option("to", "front.side@1/3"),
            )
        shares = self._shares()
        places = self.to or self.along
        if len(self.names) > len(places):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(places)} places; give one for each"
            )
        before = angle(dart)
        pattern, piece, dart = as_cut(pattern, piece, dart)
        figures = [
            Figure(f"{piece.name}.{dart.name} angle before", before, "°"),
            Figure(f"{piece.name}.{dart.name} intake before", intake(dart)),
        ]
        begun, start, uids, parts = pattern, piece, Uids(pattern.uids()), [dart.uid]
        left = sum(shares)
        dropped: list[str] = []
        motions: list[Motion] = []
        for k, (place, share) in enumerate(zip(places, shares[-len(places) :], strict=True)):
            if self.along:
                to, pattern = along_line(pattern, piece, dart, place, None)
            else:
                to, pattern = target_of(pattern, piece, place)
            piece = pattern.piece_of(piece.uid)
            dart = dart_of(piece, dart.uid)
            whole = left - share <= 1e-12 * left
            hold = named_edge(piece, self.hold).uid if self.hold else ""
            name = self._named(piece, k, dart.name, grows=bool(to.dart), whole=whole)
            part = 1.0 if whole else share / left
            done = pivoted(piece, dart, to, share=part, uids=uids, name=name, hold=hold)
            if done.bent:
                edge = piece.edge(done.bent[0])
                raise UsageError(
                    f"{piece.name}.{edge.name} is a {edge.use} edge and would be bent by "
                    f"{plain(math.degrees(abs(done.radians)))}°; choose another place, or make it a seam first"
                )
            figures.append(Figure(f"largest move for {place}", done.largest))
            motions.append(done.motion)
            pattern, more = applied(pattern, Change(pieces=(done.piece,), ways=done.broken))
            dropped += more
            if not to.dart:
                dropped += pressing_told(piece, dart, pattern.piece_of(piece.uid), dart_of(done.piece, done.dart))
            piece, left = pattern.piece_of(piece.uid), left - share
            parts.append(done.dart)
        # a dart that was carried off whole ends in the last place
        there = [d for d in piece.darts if d.uid in parts]
        for here in there:
            figures += [*dart_figures(piece, here), *pressing_figure(piece, here)]
        figures.append(Figure("intakes together", sum(map(intake, there))))
        figures.append(Figure("dart angles together", sum(map(angle, there)), "°"))
        figures.append(Figure(f"{piece.name} area changed by", (abs(area(piece)) - abs(area(start))) / 100, "cm²"))
        after, trued, told = trued_after(begun, pattern, self.true)
        return Outcome(pattern=after, figures=(*figures, *trued), warnings=(*dropped, *told), motions=tuple(motions))

    def _shares(self) -> list[float]:
        count = len(self.to or self.along)
        if not self.shares:
            return [1.0] * (count + 1)
        if len(self.shares) not in (count, count + 1):
            raise UsageError(
                Option("shares"),
                f" gives {len(self.shares)} parts for {count} places; give {count + 1}, the first for what stays, "
                f"or {count} when nothing stays",
            )
        if not all(self.shares):
            raise UsageError("every share must be above 0; leave out the place of one that is nothing")
        return list(self.shares)

    def _named(self, piece: Piece, k: int, name: str, *, grows: bool, whole: bool) -> str:
        if grows:
            return ""
        if k < len(self.names) and self.names[k]:
            return free_for_dart(piece, self.names[k], of=name if whole else "")
        return name if whole else free_name(name, piece.names())
