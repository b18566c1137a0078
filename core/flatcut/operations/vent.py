"""`vent`: a lapped opening, or a slit, at the end of a seam."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.declared.fields import flag, number, ref, refs
from flatcut.declared.fields import length as in_mm
from flatcut.drafting.ends import mate_ends, neighbour
from flatcut.drafting.venting import refuse_folded, vented, with_notch
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of, named_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Pattern, Piece
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied
from flatcut.reshape.overlapping import refuse_overlap


@operation(menu="Shape", title="Make vent")
@dataclass(frozen=True, kw_only=True)
class MakeVent(Operation):
    """Put a vent or a slit at the end of a seam: the seam is sewn only above it.

    The piece named laps over: it is folded on the old seam line, which stays as a line, its extension is the facing.
    The piece it is sewn to laps under, with a width of its own if wanted; the two halves of a pair get the same. Each
    side gets a free edge, a sloping top, a longer hem and a notch where the seam ends. With --slit nothing is added,
    and the edge below the seam's end is an edge of its own.
    """

    target: tuple[Place, ...] = refs("edge", ("the seam", "on the piece that laps over, such as skirt-back.centre"))
    length: float | None = in_mm(None, ("how high it is", "along the seam from the hem"), low=1, high=2000)
    width: float = in_mm(40.0, "how wide the extension is", low=1, high=500)
    under: float | None = in_mm(None, ("how wide the underlay is", "", "as wide"), low=1, high=500)
    slope: float = number(90.0, ("degrees of its top to the seam", "90 is square, 45 slopes down"), low=10, high=90)
    slit: bool = flag(False, "open without an extension")
    hem: Place | None = ref("edge", ("hem at which it ends", "", "the neighbour that is a hem"), filled=False)

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1 or self.length is None:
            raise UsageError("vent wants one seam and how high it is; name it and give ", Option("length"))
        piece, edge = edge_of(pattern, self.target[0])
        refuse_folded(piece, edge)
        at_end = self._end(piece, edge)
        figures: list[Figure] = []
        warnings: list[str] = []
        # what it is sewn to there is asked before the seam is opened
        others = [m for m in mate_ends(pattern, edge, at_end=at_end) if m[1].uid != edge.uid]
        sides = [(piece, edge, at_end, self.width, True)]
        sides += [(p, e, end, self.under or self.width, False) for p, e, end in others]
        if self.under is not None and len(sides) == 1:
            raise UsageError(
                f"{self.target[0]} is sewn to no other edge at its hem, so nothing laps under; state it, or leave",
                " ",
                Option("under"),
                " out",
            )
        uids = Uids(pattern.uids())
        for was, seam, end, width, over in sides:
            here = pattern.piece_of(was.uid)
            made = vented(
                here,
                here.edge_of(seam.uid),
                float(self.length),
                width,
                self.slope,
                uids,
                at_end=end,
                lapped=not self.slit,
                fold=over,
            )
            refuse_overlap(made.change.pieces[0], advice="make the vent narrower")
            pattern, lost = applied(pattern, made.change)
            warnings += lost
            after = with_notch(pattern.piece_of(was.uid), seam.uid, uids, at_end=end)
            gone = len(pattern.piece_of(was.uid).notches) + 1 - len(after.notches)
            pattern = pattern.with_piece(after)
            name = f"{was.name}.{seam.name}"
            if gone:
                notches = "1 notch" if gone == 1 else f"{gone} notches"
                warnings.append(f"{notches} of {name} stood where it opens now; one stands at the end of the seam")
            figures += [
                Figure(f"{name} sewn above it", drawn_length(after.edge_of(seam.uid))),
                *(Figure(f"{was.name}.{new} drawn", drawn_length(after.edge(new))) for new in made.edges),
                Figure(f"{name} hem and seam meet at", made.square, "°"),
            ]
            if not self.slit and abs(made.square - 90.0) > 1.0:
                warnings.append(
                    f"the hem of {was.name} meets the vent at {made.square:.1f}°, so the extension mirrors it; "
                    "square it with extend or true if the hem is to run on"
                )
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)))

    def _end(self, piece: Piece, edge: Edge) -> bool:
        """Whether the vent is at the end of the edge, or at its start."""
        beside = {at_end: neighbour(piece, edge, at_end=at_end) for at_end in (True, False)}
        if self.hem is not None:
            hem = named_edge(piece, self.hem)
            found = [at_end for at_end, other in beside.items() if other.uid == hem.uid]
        else:
            found = [at_end for at_end, other in beside.items() if other.use == "hem"]
        if len(found) != 1:
            raise UsageError(
                f"{piece.name}.{edge.name} does not meet one hem; say at which edge the vent ends with ", Option("hem")
            )
        return found[0]
