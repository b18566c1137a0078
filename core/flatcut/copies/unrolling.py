"""A stretch of the outline with the edges beside it, every dart on it closed: what a facing is drawn from."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, transform
from flatcut.geometry.length import length
from flatcut.geometry.welding import starting_at
from flatcut.pattern.values import Dart, Edge, Piece

STILL = ("fold", "centre", "opening")
"""Uses of the edge beside a facing on whose side nothing turns, before others."""


@dataclass(frozen=True, kw_only=True)
class Unrolled:
    """Curves in the direction of the outline, each whole, every dart closed.

    before, after: the edges beside; along: the edges between them; darts: those that were closed, each with the uid of
    its edge and, on the edges beside, the mm at which it stood from those between.
    """

    before: tuple[Edge, Curve]
    along: tuple[tuple[Edge, Curve], ...]
    after: tuple[Edge, Curve]
    darts: tuple[tuple[Dart, str, float], ...]

    def closed(self, lead: float, trail: float) -> list[Dart]:
        """The darts on the edges between, and on so many mm of the edges beside."""
        reach = {self.before[0].uid: lead, self.after[0].uid: trail}
        return [dart for dart, on, away in self.darts if away < reach.get(on, np.inf)]


def contiguous(piece: Piece, named: Collection[str]) -> list[Edge]:
    """The edges of a piece from the first to the last of those named (uids), and those between, in outline order.

    Of the two ways round it is the one with fewer edges that are not named. Errors: UsageError where they go all round.
    """
    edges = piece.edges
    count = len(edges)
    places = [k for k, edge in enumerate(edges) if edge.uid in named]
    gaps = [((places[(i + 1) % len(places)] - k - 1) % count, k) for i, k in enumerate(places)]
    widest, last = max(gaps)
    if widest < 2:
        raise UsageError(f"nothing of {piece.name} would be left beside the facing; name fewer edges")
    size = count - widest
    first = (last - size + 1) % count
    return [edges[(first + k) % count] for k in range(size)]


def unrolled(piece: Piece, along: Sequence[Edge]) -> Unrolled:
    """Edges that follow one another, with the ones beside them, as they lie once the darts on them are closed.

    What stays where it is, is the end at the fold, the centre or an opening, else the end at the edge before.
    """
    order = [edge.uid for edge in piece.edges]
    first, last = order.index(along[0].uid), order.index(along[-1].uid)
    before, after = piece.edges[first - 1], piece.edges[(last + 1) % len(order)]
    matrix = Affine()
    made: list[tuple[Edge, list[Curve]]] = []
    darts: list[tuple[Dart, str, float]] = []
    at_first = at_last = Affine()
    at: Array | None = None
    every = [before, *along, after]
    for edge in every:
        _refuse_takeups(piece, edge, edge in along)
        at_first = matrix if edge is along[0] else at_first
        at_last = matrix if edge is after else at_last
        curves = []
        for k, part in enumerate(edge.parts):
            curve = transform(part, matrix)
            if at is not None:
                curve = starting_at(curve, at)
            curves.append(curve)
            at = curve.end
            dart = piece.cut_in(edge, k)
            if dart is not None and not (edge is after and k == len(edge.parts) - 1):
                matrix = matrix @ _closing(dart)
                rest = edge.parts[k + 1 :] if edge is before else edge.parts[: k + 1] if edge is after else ()
                darts.append((dart, edge.uid, sum(map(length, rest))))
        made.append((edge, curves))
    still = at_last if after.use in STILL and before.use not in STILL else at_first
    back = still.inverse()
    done = [(edge, transform(chain(curves, within=1e-6), back)) for edge, curves in made]
    return Unrolled(before=done[0], along=tuple(done[1:-1]), after=done[-1], darts=tuple(darts))


def _closing(dart: Dart) -> Affine:
    """The turn about the point of a dart that brings its second leg onto its first."""
    tip, (one, two) = dart.points[0], dart.feet
    a, b = one - tip, two - tip
    turn = math.atan2(a[1], a[0]) - math.atan2(b[1], b[0])
    return Affine.rotation(turn, (float(tip[0]), float(tip[1])))


def _refuse_takeups(piece: Piece, edge: Edge, faced: bool) -> None:
    if faced and edge.takeups:
        kinds = " and ".join(dict.fromkeys(takeup.kind for takeup in edge.takeups))
        raise UsageError(
            f"{piece.name}.{edge.name} has {kinds} in it, and a facing lies flat; copy the piece before it is"
            " slashed, and face the copy"
        )
