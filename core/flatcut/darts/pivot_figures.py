"""What a pivot reports."""

from __future__ import annotations

import math

from flatcut.darts.darting import angle, dart_figures, dart_of, folded_corner, in_corner, intake
from flatcut.darts.pivoting import Pivoted, Target
from flatcut.darts.pressing import pressing_figure
from flatcut.geometry.length import length
from flatcut.pattern.values import Dart, Figure, Piece, area
from flatcut.units import plain

TOLD = 0.01
"""mm: legs that differ by more are told when they are brought together."""
CM2 = 100.0
"""mm² in a cm²."""


def turned_by(done: Pivoted) -> str:
    """Degrees of the turn, as text."""
    return plain(math.degrees(abs(done.radians)))


def pivot_figures(piece: Piece, dart: Dart, to: Target, done: Pivoted, result: Piece) -> list[Figure]:
    """Figures of a dart pivoted: what was held and why, the turn, both darts, what the old edge keeps, the area.

    piece: before the step; result: after it.
    """
    still = f"{piece.name}.{done.held[0]}" if done.held else "the rest"
    found = [
        Figure(f"turned, {still} held as {done.reason}", math.degrees(abs(done.radians)), "°"),
        Figure("largest move", done.largest),
    ]
    involved = {dart.uid, done.dart}
    before = [d for d in piece.darts if d.uid in involved]
    after = [d for d in result.darts if d.uid in involved]
    found += [
        Figure(f"{piece.name}.{dart.name} angle before", angle(dart), "°"),
        Figure(f"{piece.name}.{dart.name} intake before", intake(dart)),
    ]
    if to.dart:
        grown = dart_of(piece, to.dart)
        found.append(Figure(f"{piece.name}.{grown.name} angle before", angle(grown), "°"))
        found.append(Figure(f"{piece.name}.{grown.name} intake before", intake(grown)))
    for here in sorted(after, key=lambda d: d.uid != done.dart):
        found += [*dart_figures(result, here), *pressing_figure(result, here)]
    if not any(d.uid == dart.uid and d.host == dart.host and d.after == dart.after for d in after):
        found += _left_behind(piece, dart, result)
        first, second = (length(leg) for leg in dart.legs)
        if abs(first - second) > TOLD:
            found.append(Figure(f"{piece.name}.{dart.name} legs differed, drawn together over", abs(first - second)))
    found.append(Figure("dart angles together, changed by", sum(map(angle, after)) - sum(map(angle, before)), "°"))
    found.append(Figure(f"{piece.name} area", abs(area(result)) / CM2, "cm²"))
    found.append(Figure(f"{piece.name} area changed by", (abs(area(result)) - abs(area(piece))) / CM2, "cm²"))
    return found


def _left_behind(piece: Piece, dart: Dart, result: Piece) -> list[Figure]:
    """The kink that the closed dart leaves in its edge, positive where the edge dips into the piece, or the corner."""
    host = piece.edge_of(dart.host)
    folded = folded_corner(piece, dart)
    name = f"{piece.name}.{host.name}"
    if in_corner(piece, dart):
        return [Figure(f"{name}/{piece.after(host).name} corner, closed", folded, "°")]
    return [Figure(f"{name} off a smooth line where {dart.name} was", folded - 180, "°")]
