"""The outline of a piece as one cycle of parts and dart legs, changed and put together again.

Edges are never born or lost here: a part that is cut by a dart becomes two parts of its edge, and two parts between
which no dart is left become one again, without the node that the cut had left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, transform
from flatcut.geometry.welding import joined
from flatcut.pattern.values import Dart, Edge, Piece


@dataclass(frozen=True, kw_only=True)
class Item:
    """One stretch of the outline. of: uid of the edge or the dart; leg: 0 or 1 for a dart's legs, -1 for a part.

    first: whether the outline starts in it.
    """

    of: str
    curve: Curve
    leg: int = -1
    first: bool = False

    @property
    def part(self) -> bool:
        """Whether it is part of an edge."""
        return self.leg < 0


def cycle(piece: Piece) -> list[Item]:
    """The outline in order, from the start of the first edge."""
    items: list[Item] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            items.append(Item(of=edge.uid, curve=part, first=not items))
            dart = piece.cut_in(edge, k)
            if dart is not None:
                items += [Item(of=dart.uid, curve=leg, leg=i) for i, leg in enumerate(dart.legs)]
    return items


def item_under(item: Item, matrix: Affine) -> Item:
    """The item under a motion."""
    return replace(item, curve=transform(item.curve, matrix))


def rebuilt(piece: Piece, items: Sequence[Item], darts: Mapping[str, Dart]) -> Piece:
    """The piece with the outline of `items`; `darts` gives the darts whose legs stand in it, and those inside.

    Parts of one edge that follow each other are joined, the second welded onto the first. The items go once round, from
    anywhere; edges that no item has are left out.
    """
    items = _from_a_corner(items)
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
    edges = tuple(replace(edge, parts=tuple(parts[edge.uid])) for edge in piece.edges if parts[edge.uid])
    return replace(piece, edges=edges, darts=tuple(kept))


def _from_a_corner(items: Sequence[Item]) -> list[Item]:
    """The items from one on which another edge begins; of an edge that goes all round from where it begins."""
    parts = [k for k, item in enumerate(items) if item.part]
    starts = [k for i, k in enumerate(parts) if items[k].of != items[parts[i - 1]].of]
    starts += [k for i, k in enumerate(parts) if items[k].first and not items[parts[i - 1]].first]
    start = next(iter(starts), 0)
    return [*items[start:], *items[:start]]


def with_edge(piece: Piece, edge: Edge, darts: Iterable[Dart] | None = None) -> Piece:
    """The piece with the edge of that uid, and the darts where given, in place of its own."""
    edges = tuple(edge if e.uid == edge.uid else e for e in piece.edges)
    return replace(piece, edges=edges, darts=piece.darts if darts is None else tuple(darts))
