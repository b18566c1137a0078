"""A V that stands in the outline as two edges, taken as a dart."""

from __future__ import annotations

import math
from dataclasses import replace

from flatcut.errors import UsageError
from flatcut.geometry.arrays import cross, signed_angle
from flatcut.geometry.curves import tangent
from flatcut.geometry.length import length
from flatcut.pattern.tracing import DART_RUN_ON
from flatcut.pattern.values import Dart, Edge, Piece, area
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import cycle, rebuilt
from flatcut.reshape.splitting import merged
from flatcut.units import plain

WIDEST = 60.0
"""Degrees between the legs of a V that is named a dart; a wider one is the outline's own shape."""
UNEVEN = 15.0
"""mm that the legs of such a V may differ; they can be made equal afterwards."""


def taken_from_outline(piece: Piece, first: Edge, second: Edge, dart: Dart, *, referred: frozenset[str]) -> Change:
    """The change by which two edges that form a V become the legs of a dart.

    The edges beside the V become one when they run on as the edge of a dart does, and no seam names the second;
    else the dart stands in the corner between them. referred: uids of edges that seams name.
    Errors: UsageError when the V is none, or one of its edges is named by a seam.
    """

    order = [e.uid for e in piece.edges]
    before = piece.edges[(order.index(first.uid) - 1) % len(order)]
    after = piece.after(second)
    if len(order) < 4 or len(first.parts) > 1 or len(second.parts) > 1:
        raise UsageError(f"{first.name} and {second.name} are no V in an outline; name the corner at a dart's point")
    if {first.uid, second.uid} & referred or any(n.edge in (first.uid, second.uid) for n in piece.notches):
        raise UsageError(f"a seam or a notch is on {first.name} or {second.name}; they are no dart legs while it is")
    legs = first.parts[0], second.parts[0]
    apex = first.end
    turn = float(cross(tangent(legs[0], len(legs[0]), before=True), tangent(legs[1], 0.0)))
    wide = math.degrees(abs(signed_angle(legs[0].start - apex, legs[1].end - apex)))
    lengths = [length(leg) for leg in legs]
    if turn * area(piece) >= 0 or wide > WIDEST or abs(lengths[0] - lengths[1]) > UNEVEN:
        raise UsageError(
            f"{first.name} and {second.name} are no dart: they open by {plain(wide)}° and are {plain(lengths[0])} and "
            f"{plain(lengths[1])} mm long; a dart must point into the piece, open by at most {plain(WIDEST)}° "
            f"and its legs differ by at most {plain(UNEVEN)} mm"
        )
    run_on = math.degrees(
        abs(signed_angle(tangent(before.parts[-1], len(before.parts[-1]), before=True), tangent(after.parts[0], 0.0)))
    )
    merge = (
        run_on <= DART_RUN_ON + wide and after.uid not in referred and before.use == after.use and before is not after
    )
    legs_of = {first.uid: 0, second.uid: 1}
    items = [
        replace(item, of=dart.uid, leg=legs_of[item.of]) if item.part and item.of in legs_of else item
        for item in cycle(piece)
    ]
    darts = {d.uid: d for d in (*piece.darts, replace(dart, form="cut", host=before.uid))}
    result = rebuilt(piece, items, darts)
    if not merge:
        return Change(pieces=(result,))
    result, ways = merged(result, {after.uid: before.uid})
    return Change(pieces=(result,), ways=ways)
