"""The outline of a piece as one cycle of parts and dart legs, changed and put together again.

Edges are never born or lost here: a part that is cut by a dart becomes two parts of its edge, and two parts between
which no dart is left become one again, without the node that the cut had left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, chain, line, split_spans, transform
from flatcut.pattern.values import Dart, Edge, Piece

SAME = 1e-6
"""mm: two spans that one span replaces this closely were one before they were cut."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """One stretch of the outline. of: uid of the edge or the dart; leg: 0 or 1 for a dart's legs, -1 for a part."""

    of: str
    curve: Curve
    leg: int = -1

    @property
    def part(self) -> bool:
        """Whether it is part of an edge."""
        return self.leg < 0


def cycle(piece: Piece) -> list[Item]:
    """The outline in order, from the start of the first edge."""
    items: list[Item] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            items.append(Item(of=edge.uid, curve=part))
            dart = piece.cut_in(edge, k)
            if dart is not None:
                items += [Item(of=dart.uid, curve=leg, leg=i) for i, leg in enumerate(dart.legs)]
    return items


def turned(item: Item, matrix: Affine) -> Item:
    """The item under a motion."""
    return replace(item, curve=transform(item.curve, matrix))


def rebuilt(piece: Piece, items: Sequence[Item], darts: Mapping[str, Dart]) -> Piece:
    """The piece with the outline of `items`; `darts` gives the darts whose legs stand in it, and those inside.

    Parts of one edge that follow each other are joined, the second welded onto the first.
    """
    parts: dict[str, list[Curve]] = {edge.uid: [] for edge in piece.edges}
    legs: dict[str, list[Curve]] = {}
    places: dict[str, tuple[str, int]] = {}
    host, open_ = "", False
    for item in items:
        if item.part:
            run = parts[item.of]
            if run and item.of == host and not open_:
                run[-1] = joined(run[-1], item.curve)
            else:
                run.append(item.curve)
            host, open_ = item.of, False
        else:
            legs.setdefault(item.of, []).append(item.curve)
            places[item.of] = (host, len(parts[host]) - 1)
            open_ = True
    kept = []
    for dart in darts.values():
        if dart.form == "cut" and not dart.double:
            first, second = legs[dart.uid]
            at, after = places[dart.uid]
            dart = replace(dart, legs=(first, second), host=at, after=after)
        kept.append(dart)
    edges = tuple(replace(edge, parts=tuple(parts[edge.uid])) for edge in piece.edges)
    return replace(piece, edges=edges, darts=tuple(kept))


def joined(before: Curve, after: Curve) -> Curve:
    """Two curves end to start as one; the two spans at the joint become one span where they were one before.

    The start of the second is put on the end of the first.

    >>> from flatcut.geometry.curves import cubic, split
    >>> whole = cubic((0, 0), (3, 9), (20, 9), (30, 0))
    >>> again = joined(*split(whole, 0.3))
    >>> len(again), bool(np.abs(again.controls - whole.controls).max() < 1e-9)
    (1, True)
    >>> len(joined(line((0, 0), (9, 0)), line((9, 0), (9, 5))))
    2
    """
    after = starting_at(after, before.end)
    one = _one_span(before, after)
    if one is None:
        return chain([before, after])
    pieces = [Curve(before.controls[:-1], before.straight[:-1])] if len(before) > 1 else []
    pieces.append(one)
    if len(after) > 1:
        pieces.append(Curve(after.controls[1:], after.straight[1:]))
    return chain(pieces)


def _one_span(before: Curve, after: Curve) -> Curve | None:
    p, q = before.controls[-1], after.controls[0]
    if before.straight[-1] != after.straight[0]:
        return None
    if before.straight[-1]:
        along = q[3] - p[0]
        size = float(np.hypot(*along))
        if size < SAME or abs(float(cross(along, p[3] - p[0]))) > SAME * size or (p[3] - p[0]) @ (q[3] - q[0]) <= 0:
            return None
        return line(p[0], q[3])
    into, out = float(np.hypot(*(p[3] - p[2]))), float(np.hypot(*(q[1] - q[0])))
    if min(into, out) < SAME:
        return None
    # de Casteljau at t leaves handles in the ratio t : 1 - t at the new node, and t of the first handle
    t = into / (into + out)
    whole = np.array([[p[0], p[0] + (p[1] - p[0]) / t, q[3] + (q[2] - q[3]) / (1 - t), q[3]]])
    first, second = split_spans(whole, [t])
    if max(np.abs(first[0] - p).max(), np.abs(second[0] - q).max()) > SAME:
        return None
    return Curve(whole, np.zeros(1, dtype=np.bool_))


def starting_at(curve: Curve, at: Array) -> Curve:
    """The curve with its start put elsewhere, the first handle carried along."""
    controls = np.array(curve.controls)
    if curve.straight[0]:
        controls[:1] = line(at, curve.controls[0, 3]).controls
    else:
        controls[0, :2] += at - curve.start
        controls[0, 0] = at
    return Curve(controls, curve.straight)


def ending_at(curve: Curve, at: Array) -> Curve:
    """The curve with its end put elsewhere, the last handle carried along."""
    controls = np.array(curve.controls)
    if curve.straight[-1]:
        controls[-1:] = line(curve.controls[-1, 0], at).controls
    else:
        controls[-1, 2:] += at - curve.end
        controls[-1, 3] = at
    return Curve(controls, curve.straight)


def with_edge(piece: Piece, edge: Edge, darts: Iterable[Dart] | None = None) -> Piece:
    """The piece with the edge of that uid, and the darts where given, in place of its own."""
    edges = tuple(edge if e.uid == edge.uid else e for e in piece.edges)
    return replace(piece, edges=edges, darts=piece.darts if darts is None else tuple(darts))
