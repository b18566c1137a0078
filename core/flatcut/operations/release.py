"""`release`: a dart given up for ease, gathers, a tuck, a pleat or flare."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.darting import angle, folded_corner, intake, single
from flatcut.darts.releasing import FLARE, released
from flatcut.darts.targets import one_dart
from flatcut.declared.fields import also_true, choice, length, refs
from flatcut.errors import Option, UsageError
from flatcut.geometry.length import length as length_of
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.notch_setting import with_notches
from flatcut.pattern.paper_motions import unfolded_wedge
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern, TakeUp, area
from flatcut.pattern.walking import drawn_length, sewn_length, to_sewn
from flatcut.truing.after import trued_after
from flatcut.truing.over_mouth import bends_over, flared, gathered

KINDS = ("gathers", "ease", "tuck", "pleat", FLARE)
HALF = 0.5
"""Part of a leg that a tuck is stitched unless it is said (common practice, no source)."""
FOLD = 40.0
"""mm of fold line that is drawn for a pleat unless it is said (common practice, no source)."""


@operation(menu="Darts", title="Release dart")
@dataclass(frozen=True, kw_only=True)
class Release(Operation):
    """Release a dart into gathers, ease, a tuck, a pleat or flare at its place.

    The legs go, the edge runs over the mouth as one fair curve, and what the dart took up is taken up there. Gathers
    and ease spread to both sides of the mouth, on an edge that bends to no side to which it did not; gathers have a
    notch where they begin and end; a tuck keeps the stitched length of its legs as lines, a pleat its folds. Flare
    takes nothing up: a dart that was pivoted to the hem hangs open there, and the hem turns evenly from end to end.
    """

    target: tuple[Place, ...] = refs("dart", "the dart")
    to: str = choice("gathers", "what it becomes", KINDS)
    either_side: float | None = length(
        None, ("gathers reach beyond by", "how far gathers or ease reach beyond the mouth on each side"), high=1000
    )
    stitched: float | None = length(
        None, ("stitched length", "of a tuck's stitching, or of a pleat's fold lines"), high=1000
    )
    true: float | None = also_true()

    def _apply(self, pattern: Pattern) -> Outcome:
        piece, dart = one_dart(pattern, self.target)
        single(piece, dart, "released")
        full = self.to in ("gathers", "ease")
        if self.to == FLARE and (self.stitched is not None or self.either_side is not None):
            raise UsageError("flare hangs open and takes neither ", Option("either-side"), " nor ", Option("stitched"))
        if full and self.stitched is not None:
            raise UsageError(Option("stitched"), f" is for a tuck or a pleat; {self.to} take ", Option("either-side"))
        if not full and self.either_side is not None:
            raise UsageError(Option("either-side"), f" is for gathers and ease; a {self.to} takes ", Option("stitched"))
        drawn_inside = dart.form != "cut"
        pattern, piece, dart = as_cut(pattern, piece, dart)
        leg = length_of(dart.legs[0])
        stitched = self.stitched
        if stitched is None:
            stitched = {"tuck": HALF * leg, "pleat": min(FOLD, leg)}.get(self.to, 0.0)
        if stitched > leg + 1e-6:
            raise UsageError(
                Option("stitched"), f" is {stitched:.1f} mm, and the legs are {leg:.1f} mm long; give less"
            )
        host = piece.edge_of(dart.host)
        after, takeup, dropped = released(
            pattern, piece, dart, self.to, either_side=self.either_side, stitched=stitched
        )
        bends = bends_over(piece, dart) if full else 0
        edge = after.piece_of(piece.uid).edge_of(host.uid)
        drawn: list[Figure] = []
        if full and takeup:
            after, drawn = gathered(after, edge, dart.after, takeup.uid, bends=bends)
        elif self.to == FLARE:
            after, drawn, told = flared(after, edge, dart.after)
            dropped += told
        result = after.piece_of(piece.uid)
        # what a dart that is drawn inside takes up is paper of the piece already
        motions = () if drawn_inside else unfolded_wedge(piece, dart, result)
        edge = result.edge_of(host.uid)
        takeup = next((t for t in edge.takeups if takeup and t.uid == takeup.uid), None)
        name, on = f"{piece.name}.{dart.name}", f"{piece.name}.{host.name}"
        figures = [
            Figure(f"{name} angle before", angle(dart), "°"),
            Figure(f"{name} intake before", intake(dart)),
            Figure(f"{name} folded, edge off a smooth line", folded_corner(piece, dart) - 180, "°"),
            *(_taken_up(f"{on} {self.to}", takeup) if takeup else ()),
            *([Figure(f"{name} {self.to} stitched", stitched)] if not full and stitched > 0 else []),
            *drawn,
            Figure(f"{on} drawn", drawn_length(edge)),
            Figure(f"{on} sewn", sewn_length(edge)),
            Figure(f"{on} sewn, longer by", sewn_length(edge) - sewn_length(host)),
            Figure(f"{piece.name} area changed by", (abs(area(result)) - abs(area(piece))) / 100, "cm²"),
        ]
        if takeup and full:
            span = takeup.end - takeup.start
            figures.append(Figure(f"{on} {self.to}, cloth over finished", span / (span - takeup.amount), "×"))
        if takeup and self.to == "gathers":
            ends = [to_sewn(edge, at) for at in (takeup.start, takeup.end)]
            after, more = with_notches(after, edge.uid, ends, "notch, gathers")
            figures += more
        after, trued, told = trued_after(pattern, after, self.true)
        return Outcome(pattern=after, figures=(*figures, *trued), warnings=(*dropped, *told), motions=motions)


def _taken_up(what: str, takeup: TakeUp) -> tuple[Figure, ...]:
    """Where a take-up lies on its edge, and how much it takes up."""
    return (
        Figure(f"{what} from", takeup.start),
        Figure(f"{what} to", takeup.end),
        Figure(f"{what} taken up", takeup.amount),
    )
