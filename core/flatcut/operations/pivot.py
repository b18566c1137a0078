"""`pivot`: a dart, or a part of it, carried about its point to another place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.darting import angle, dart_of, intake, single
from flatcut.darts.pivot_figures import pivot_figures, turned_by
from flatcut.darts.pivoting import Pivoted, Target, pivoted
from flatcut.darts.pressing import pressing_advice, pressing_told
from flatcut.darts.targets import along_line, free_for_dart, one_dart, target_of
from flatcut.declared.fields import also_true, flag, length, number, ref, refs, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.renewing import free_name
from flatcut.pattern.spots import named_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Figure, Pattern, Piece
from flatcut.reshape.change import Change, applied
from flatcut.reshape.straightening import straight_again
from flatcut.truing.after import trued_after
from flatcut.units import plain

SLACK = 1e-9
"""A part of an angle this near to the whole is the whole."""


@operation(menu="Darts", title="Pivot dart")
@dataclass(frozen=True, kw_only=True)
class Pivot(Operation):
    """Pivot a dart, or a part of it, about its point to another place, corner or dart.

    Nothing is stretched: one part of the piece turns about the dart's point, and the angle closed is the angle opened.
    --along opens it along a line instead of straight. The part with the edge named by --hold stays still; without it
    that with the fold edge, then that with the centre edge, then the larger one.
    """

    target: tuple[Place, ...] = refs("dart", "the dart")
    to: Place | None = ref(
        "place", ("where to", "a place on an edge, a corner, or a dart with the same point"), optional=True
    )
    along: Place | None = ref(
        "line",
        ("opened along the line", "from the dart's point, or over it, to an edge; straight or curved", "straight"),
        filled=False,
    )
    amount: float | None = length(None, ("how much of the mouth closes", "measured at the feet", "all of it"), high=500)
    share: float | None = number(None, ("share of the angle, 0 to 1", "that is moved", "all of it"), low=0, high=1)
    angle: float | None = number(None, ("degrees that are moved", "", "all of them"), low=0, high=180)
    name: str = text("", ("name of the new dart", "at its new place"), named=True)
    hold: Place | None = ref("edge", ("edge that stays still", "such as front.side"), filled=False)
    straighten: bool = flag(
        False, ("straighten a bent fold", "draw a fold or centre edge that is bent by it straight again")
    )
    true: float | None = also_true()

    def _apply(self, pattern: Pattern) -> Outcome:
        piece, dart = one_dart(pattern, self.target)
        single(piece, dart, "pivoted")
        share = self._share(piece, dart)
        pattern, piece, dart = as_cut(pattern, piece, dart)
        if self.along is not None:
            to, pattern = along_line(pattern, piece, dart, self.along, self.to)
        elif self.to is not None:
            to, pattern = target_of(pattern, piece, self.to)
        else:
            raise UsageError("pivot wants where the dart goes; give ", Option("to"), " or ", Option("along"))
        piece = pattern.piece_of(piece.uid)
        dart = dart_of(piece, dart.uid)
        name = self._named(piece, dart, to, whole=share >= 1)
        hold = named_edge(piece, self.hold).uid if self.hold else ""
        done = pivoted(piece, dart, to, share=share, uids=Uids(pattern.uids()), name=name, hold=hold)
        after, dropped = applied(pattern, Change(pieces=(done.piece,), ways=done.broken))
        after, more, lost = self._straight(after, piece, done)
        result = after.piece_of(piece.uid)
        figures = (*pivot_figures(piece, dart, to, done, result), *more)
        born = dart_of(result, done.dart)
        warnings = () if to.dart else (*pressing_told(piece, dart, result, born), *pressing_advice(result, born))
        after, trued, told = trued_after(pattern, after, self.true)
        return Outcome(
            pattern=after,
            figures=(*figures, *trued),
            warnings=(*warnings, *dropped, *lost, *told),
            motions=(done.motion,),
        )

    def _share(self, piece: Piece, dart: Dart) -> float:
        """Which part of the angle is moved, above 0 and at most 1."""
        given = [value for value in (self.amount, self.share, self.angle) if value is not None]
        if len(given) > 1:
            raise UsageError(
                Option("amount"), ", ", Option("share"), " and ", Option("angle"), " say the same thing; give one"
            )
        if not given:
            return 1.0
        name, whole = f"{piece.name}.{dart.name}", angle(dart)
        if self.share is not None:
            share = self.share
        elif self.angle is not None:
            share = self.angle / whole
        else:
            assert self.amount is not None
            wide, leg = intake(dart), max(float(np.linalg.norm(foot - dart.points[0])) for foot in dart.feet)
            if self.amount > wide + SLACK:
                raise UsageError(
                    Option("amount"), f" is {plain(self.amount)} mm, and the mouth of {name} is {plain(wide)} mm"
                )
            # the foot goes round the point: a chord of `amount` on a circle of the leg's length
            share = math.degrees(2 * math.asin(min(1.0, self.amount / 2 / leg))) / whole
        if share <= 0:
            raise UsageError(f"nothing of {name} is moved; give an amount above 0")
        if share > 1 + SLACK:
            raise UsageError(f"{name} has {plain(whole)}°, and more is to be moved; give less")
        return 1.0 if share > 1 - SLACK else share

    def _named(self, piece: Piece, dart: Dart, to: Target, *, whole: bool) -> str:
        if to.dart:
            if self.name:
                raise UsageError(
                    Option("name"), " names a dart that is new there; rename the one that grows with: dart --name"
                )
            return ""
        if self.name:
            return free_for_dart(piece, self.name, of=dart.name if whole else "")
        return dart.name if whole else free_name(dart.name, piece.names())

    def _straight(
        self, pattern: Pattern, before: Piece, done: Pivoted
    ) -> tuple[Pattern, list[Figure], tuple[str, ...]]:
        """The pattern with the bent fold and centre edges straight again. Errors: UsageError unless that is wanted."""
        figures: list[Figure] = []
        dropped: tuple[str, ...] = ()
        for name in done.bent:
            edge = before.edge(name)
            if not self.straighten:
                raise UsageError(
                    f"{before.name}.{name} is a {edge.use} edge and would be bent by {turned_by(done)}°; "
                    f"make it a seam with: edge {before.name}.{name} --use=seam, or add --straighten"
                )
            pattern, more, lost = straight_again(pattern, before, edge.uid)
            figures += more
            dropped += lost
        return pattern, figures, dropped
