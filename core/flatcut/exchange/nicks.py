"""Notches of a piece from the places on its boundary where a file has them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from flatcut.errors import FlatcutError
from flatcut.exchange.values import Nick
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.marking.ticks import REACH, standings, ticks
from flatcut.outlines.doubling import doubled
from flatcut.outlines.making import notch_of
from flatcut.outlines.notching import Cut
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Notch, Piece
from flatcut.pattern.walking import drawn_of, nearest_drawn, point_at, to_sewn

BESIDE = 0.1
"""mm that a notch may stand beside the line on which a dart's leg runs on, and still be that foot's."""
SAME = 0.2
"""mm along an edge: notches of one kind that are nearer each other are one, as those at both feet of a dart are."""
OFF = 0.3
"""mm from a notch of the file to the tick that is drawn for it: farther off it is said."""


def notched(piece: Piece, nicks: Sequence[Nick], cut: Curve | None, uids: Uids) -> tuple[tuple[Notch, ...], list[str]]:
    """The notches, and sentences on those whose tick is not drawn where the file has it. cut: the cut line."""
    stands: dict[str, list[tuple[float, Cut]]] = {}
    mouths = list(_mouths(piece))
    for nick in nicks:
        edge, sewn, out = _stands(piece, nick, mouths)
        into = "out" if float(nick.into @ out) > 0 else "in"
        row = stands.setdefault(edge.uid, [])
        if not any(abs(s - sewn) <= SAME and cut.kind == nick.kind for s, cut in row):
            row.append((sewn, Cut(at=nick.at, kind=nick.kind, into=into, depth=nick.depth or 3.0, width=nick.width)))
    notches = tuple(notch_of(piece.edge_of(edge), mark, uids) for edge, row in stands.items() for mark in doubled(row))
    return notches, list(_told(piece, notches, nicks, cut))


def _mouths(piece: Piece) -> Iterator[tuple[Edge, float]]:
    """The edges and sewn places at which darts open."""
    for dart in piece.darts:
        if dart.double:
            continue
        host = piece.edge_of(dart.host)
        if dart.form == "lines":
            yield host, to_sewn(host, nearest_drawn(host, dart.feet[0]))
        else:
            yield host, to_sewn(host, drawn_of(host, dart.after, float(len(host.parts[dart.after]))))
            if dart.after == len(host.parts) - 1:
                yield piece.after(host), 0.0


def _stands(piece: Piece, nick: Nick, mouths: Sequence[tuple[Edge, float]]) -> tuple[Edge, float, Array]:
    """The edge and the sewn place of a notch, and the way out of the piece there."""
    for edge, sewn in mouths:
        for foot, way in standings(piece, edge, sewn):
            along = float((nick.at - foot) @ way)
            if -BESIDE <= along <= REACH and np.hypot(*(nick.at - foot - along * way)) <= BESIDE:
                return edge, sewn, way
    places = [(edge, nearest_drawn(edge, nick.at)) for edge in piece.edges]
    edge, drawn = min(places, key=lambda one: float(np.hypot(*(point_at(one[0], one[1])[0] - nick.at))))
    sewn = to_sewn(edge, drawn)
    return edge, sewn, standings(piece, edge, sewn)[0][1]


def _told(piece: Piece, notches: Sequence[Notch], nicks: Sequence[Nick], cut: Curve | None) -> Iterator[str]:
    """What of the file's notches is drawn elsewhere, or of the ticks is none of the file's."""
    try:
        tips = np.array([tick.tip for notch in notches for tick in ticks(piece, notch, cut)]).reshape(-1, 2)
    except FlatcutError as error:
        yield f"the notches of {piece.name} cannot be drawn: {error}"
        return
    places = np.array([nick.at for nick in nicks]).reshape(-1, 2)
    if not len(places):
        return
    apart = np.hypot(*np.moveaxis(places[:, None] - tips[None], -1, 0))
    for row, at in zip(apart, places, strict=True):
        if row.min() > OFF:
            yield (
                f"the notch of {piece.name} at x {at[0]:.1f}, y {at[1]:.1f} mm of the file is drawn "
                f"{row.min():.1f} mm beside it"
            )
    more = int((apart.min(axis=0) > OFF).sum())
    if more:
        yield f"{piece.name} has {more} ticks that the file does not have, at the other feet of darts"
