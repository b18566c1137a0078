"""Sizes of a piece laid over each other on one place, with one direction."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.places import Place
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Edge, Pattern, Piece

STILL = 0.05
"""mm: a corner that goes less far from every size to the next stands still."""
LEAST = 1.5
"""mm by which a step has to be off before it is told: less than this nobody cuts."""
UNEVEN = 2.0
"""How many times over a corner's step may grow or shrink beside the other corners' from one size to the next."""


@dataclass(frozen=True, kw_only=True)
class Over:
    """A piece in one size. size: what it is called; matrix: from the drawing of that size to the place they share."""

    size: str
    pattern: Pattern
    piece: Piece
    matrix: Affine


def laid_over(
    sizes: Sequence[tuple[str, Pattern]], name: str, on: Place | None = None, toward: Place | None = None
) -> list[Over]:
    """The sizes that have a piece of that name, the place `on` of each at the origin.

    on: by default where its fold or centre begins, without one its first edge; toward: a second place that lies the
    same way from it in all sizes, by default the grain line is upright. Errors: UsageError, UnknownNameError for a
    place that a size does not have.
    """
    found: list[Over] = []
    for size, pattern in sizes:
        piece = next((piece for piece in pattern.pieces if piece.name == name), None)
        if piece is None:
            continue
        at = _meeting(piece) if on is None else spot(pattern, on).point
        turn = Affine() if piece.grain is None else piece.grain.upright
        if toward is not None:
            way = spot(pattern, toward).point - at
            if float(np.hypot(*way)) < 1e-6:
                raise UsageError(f"{toward} lies on {on} in size {size} and shows no direction; name another place")
            # as in the first size, where its grain is upright
            wanted = _way(found[0].matrix, found[0].pattern, toward) if found else turn.apply(way) - turn.apply([0, 0])
            turn = Affine.rotation(math.atan2(*wanted[::-1]) - math.atan2(*way[::-1]))
        found.append(Over(size=size, pattern=pattern, piece=piece, matrix=turn @ Affine.translation(*-at)))
    return found


def _meeting(piece: Piece) -> Array:
    edge = next((edge for edge in piece.edges if edge.use in ("fold", "centre")), piece.edges[0])
    return np.asarray(edge.start)


def _way(matrix: Affine, pattern: Pattern, toward: Place) -> Array:
    return np.asarray(matrix.apply(spot(pattern, toward).point))


@dataclass(frozen=True, kw_only=True)
class Step:
    """How far a corner goes from one size to the next, mm, and how far it would go in line with its other steps."""

    corner: str
    sizes: tuple[str, str]
    far: float
    usual: float


def uneven(pieces: Sequence[Sequence[Over]]) -> list[Step]:
    """Steps that are out of line: a corner that goes on by more than UNEVEN times what it does beside the others.

    Tables of sizes need not go on evenly; what is held is each corner against the middle one of all corners that move,
    of all pieces in all their sizes. Nothing is told of fewer than three sizes, or of a piece that one of them lacks.
    """
    most = max(map(len, pieces), default=0)
    held = [over for over in pieces if len(over) == most]
    if most < 3:
        return []
    names: list[str] = []
    rows = []
    for over in held:
        places = [_corners(one) for one in over]
        shared = [name for name in places[0] if all(name in found for found in places)]
        names += [f"{over[0].piece.name}.{name}" for name in shared]
        at = np.array([[found[name] for name in shared] for found in places]).reshape(most, -1, 2)
        rows.append(np.hypot(*np.moveaxis(np.diff(at, axis=0), -1, 0)))
    far = np.concatenate(rows, axis=1)
    moving = far.max(axis=0) > STILL
    if not moving.any():
        return []
    usual = np.median(far[:, moving], axis=1)
    share = np.median(far[:, moving] / np.maximum(usual, STILL)[:, None], axis=0)
    wanted = np.zeros_like(far)
    wanted[:, moving] = share * usual[:, None]
    off = (np.abs(far - wanted) > LEAST) & ((far > UNEVEN * wanted) | (wanted > UNEVEN * far))
    sizes = [one.size for one in held[0]]
    return [
        Step(corner=names[c], sizes=(sizes[k], sizes[k + 1]), far=float(far[k, c]), usual=float(wanted[k, c]))
        for k, c in zip(*np.nonzero(off), strict=True)
    ]


def _corners(one: Over) -> dict[str, Array]:
    """Where the corners lie, by name."""
    edges = one.piece.edges
    return {
        f"{edge.name}/{after.name}": one.matrix.apply(_end(edge))
        for edge, after in zip(edges, (*edges[1:], edges[0]), strict=True)
    }


def _end(edge: Edge) -> Array:
    return np.asarray(edge.parts[-1].end)


def differences(sizes: Sequence[tuple[str, Pattern]], pieces: Sequence[str] = ()) -> list[str]:
    """What is not the same in all sizes: pieces and edges that one has and another lacks, a sentence each.

    pieces: the names that are looked at; none for all.
    """
    told = []
    names = list(pieces or dict.fromkeys(piece.name for _, pattern in sizes for piece in pattern.pieces))
    for name in names:
        having = {size: piece for size, pattern in sizes for piece in pattern.pieces if piece.name == name}
        lacking = [size for size, _ in sizes if size not in having]
        if lacking:
            told.append(f"{name} is not there in size {', '.join(lacking)}")
        first, *others = having.items()
        edges = {edge.name for edge in first[1].edges}
        for size, piece in others:
            strange = edges ^ {edge.name for edge in piece.edges}
            if strange:
                told.append(f"{name} has other edges in size {size} than in {first[0]}: {', '.join(sorted(strange))}")
    return told
