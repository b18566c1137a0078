"""Points to draw a piece or a line by, for who has paper and a ruler: how far to the right and down each lies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, chain, point, section
from flatcut.geometry.length import length, places_at
from flatcut.lesson.values import Plot
from flatcut.lesson.words import called
from flatcut.pattern.spots import on_edge
from flatcut.pattern.values import Dart, Pattern, Piece, outline
from flatcut.pattern.walking import sewn_at
from flatcut.units import plain

DRAFTING = ("block", "collar", "flounce", "godet", "gore", "lining", "piece", "pocket", "sleeve", "strip")
"""Operations that draw pieces which are not traced as they are."""
SPACING = 40.0
"""mm between points of a curve at most: a curve ruler laid through them strays by less than a pencil line."""
BENT = 0.3
"""mm off its chord from which on a line is no straight one for who draws it."""


def plots(command: str, before: Pattern, after: Pattern) -> tuple[Plot, ...]:
    """What a step of that operation draws that words do not tell: new pieces, and new lines that are curved."""
    if command in DRAFTING:
        was = {piece.uid for piece in before.pieces}
        return tuple(_piece(piece) for piece in after.pieces if piece.uid not in was)
    if command == "line":
        known = {line.uid for piece in before.pieces for line in piece.lines}
        fresh = [line for piece in after.pieces for line in piece.lines if line.uid not in known]
        return tuple(_line(line.name, line.curve) for line in fresh if _bow(line.curve) > BENT)
    return ()


def _piece(piece: Piece) -> Plot:
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-3))
    rows = tuple((name, plain(x - x0, 1), plain(y - y0, 1)) for name, (x, y) in _points(piece))
    head = (
        f"To draw the {piece.name} on paper: a rectangle {plain(x1 - x0, 1)} mm wide and {plain(y1 - y0, 1)} mm high, "
        "and in it each point so many mm to the right of its left side, and down from its top; then round the outline "
        "from point to point, a curve through those 'on' it"
    )
    return Plot(head=head, rows=rows)


def _points(piece: Piece) -> Iterator[tuple[str, Array]]:
    for k, edge in enumerate(piece.edges):
        before = piece.edges[k - 1]
        if piece.cut_in(before, len(before.parts) - 1) is None:
            yield f"corner of {called(before.name)} and {called(edge.name)}", edge.start
        for n, part in enumerate(edge.parts):
            yield from _on(f"on the {called(edge.name)}", part)
            dart = piece.cut_in(edge, n)
            if dart is not None:
                yield from _dart(dart)
    for dart in piece.darts:
        if dart.form != "cut":
            yield from _dart(dart)
    for mark in piece.points:
        yield called(mark.name), mark.at
    for line in piece.lines:
        yield f"{called(line.name)}, one end", line.curve.start
        yield from _on(f"on the {called(line.name)}", line.curve)
        yield f"{called(line.name)}, other end", line.curve.end
    edges = {edge.uid: edge for edge in piece.edges}
    for notch in piece.notches:
        edge = edges[notch.edge]
        yield f"notch on the {called(edge.name)}", on_edge(piece, edge, sewn_at(edge, notch.at)).point
    yield from ((button.kind, button.at) for button in piece.buttons)
    yield from (("drill hole", hole.at) for hole in piece.holes if hole.at is not None)


def _dart(dart: Dart) -> Iterator[tuple[str, Array]]:
    name = called(dart.name)
    if dart.double:
        yield f"upper point of the {name}", dart.points[0]
        yield from ((f"widest place of the {name}", foot) for foot in dart.feet)
        yield f"lower point of the {name}", dart.points[1]
        return
    yield f"foot of the {name}", dart.feet[0]
    yield from _on(f"on a leg of the {name}", dart.legs[0])
    yield f"point of the {name}", dart.points[0]
    yield from _on(f"on a leg of the {name}", dart.legs[1])
    yield f"foot of the {name}", dart.feet[1]


def _on(name: str, curve: Curve) -> Iterator[tuple[str, Array]]:
    """Points inside a curved line, none of a straight one."""
    return ((name, at) for at in _between(curve))


def _between(curve: Curve) -> Iterable[Array]:
    if _bow(curve) <= BENT:
        return ()
    found: list[Array] = []
    for k in range(len(curve)):
        span = section(curve, k, k + 1)
        whole = length(span)
        # a straight stretch needs its ends only; a short span among others is one step of the curve
        count = 1 if _bow(span) <= BENT else max(2, math.ceil(whole / SPACING))
        places = places_at(span, np.linspace(0.0, whole, count + 1)[1:])
        found += list(np.asarray(point(span, places)))
    return tuple(found[:-1])


def _bow(curve: Curve) -> float:
    """mm that a curve lies off the straight line between its ends, at most."""
    way = curve.end - curve.start
    far = float(np.hypot(*way))
    there = point(curve, np.linspace(0.0, len(curve), 8 * len(curve) + 1)) - curve.start
    if far < 1e-6:
        return float(np.hypot(*there.T).max())
    return float(np.abs(there @ np.array([-way[1], way[0]])).max()) / far


def _line(name: str, curve: Curve) -> Plot:
    """A curved line from the straight one between its ends."""
    along = curve.end - curve.start
    far = float(np.hypot(*along))
    along = along / far if far > 1e-6 else np.array([1.0, 0.0])
    out = np.array([-along[1], along[0]])
    rows = []
    for at in _between(curve):
        side = float((at - curve.start) @ out)
        which = "right" if side > 0 else "left"
        down = plain(float((at - curve.start) @ along), 1)
        rows.append((f"on the {called(name)}", down, f"{plain(abs(side), 1)} {which}"))
    head = (
        f"To draw the {called(name)} curved: a straight line of {plain(far, 1)} mm from its start to its end, from it "
        "each point so many mm along it from its start, and then square out from it to that hand as you look along it"
    )
    return Plot(head=head, rows=tuple(rows))
