"""A derived piece held against what it was made of: laid on it again, and measured across."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.nearest import nearest
from flatcut.pattern.finding import as_edge, parts_of
from flatcut.pattern.sources import LOOKS
from flatcut.pattern.values import Edge, Piece, area, outline
from flatcut.pattern.walking import drawn_length, points_at

ALIKE = 0.05
"""mm: what lies so near to an edge lies on it."""
SAME = 1e-8
"""Two motions whose numbers differ by less (mm, and parts of a right angle) lay a piece on the same place."""
LEVELS = 60
"""Levels at which pieces are measured across."""
STEP = 3.0
"""mm beside a facing at which nothing is measured."""
ENDS = 0.04
"""Part of the height of a piece at its ends where levels run along its edges, and nothing is measured."""


def rigid(at: Array, to: Array, *, flipped: bool = False) -> tuple[Affine, float]:
    """The motion, with a mirror image or without, that brings points (n, 2) nearest to others, and mm they miss by.

    >>> rigid(np.array([[0.0, 0], [2, 0], [2, 1]]), np.array([[5.0, 1], [5, 3], [4, 3]]))[1] < 1e-9
    True
    """
    flip = Affine.scaling(-1, 1) if flipped else Affine()
    image = flip.apply(at)
    centre, middle = image.mean(axis=0), to.mean(axis=0)
    p, q = to - middle, image - centre
    turn = math.atan2(float(cross(q, p).sum()), float((p * q).sum()))
    x, y = middle - centre
    motion = Affine.translation(float(x), float(y)) @ Affine.rotation(turn, (float(centre[0]), float(centre[1]))) @ flip
    return motion, float(np.hypot(*(motion.apply(at) - to).T).max())


def laid_on(piece: Piece, source: Piece) -> Affine | None:
    """The motion that lays a derived piece on its source: that of an end of an edge, by which most others lie there.

    None where no edge of the same name ends as it did.
    """
    names = {edge.name for edge in source.edges}
    shared = [(edge, source.edge(edge.name)) for edge in piece.edges if edge.name in names]
    # a lining that is shorter at both ends lies where the lines inside it lie
    known = {line.name: line for line in source.lines if len(parts_of(source, line)) == 1}
    shared += [
        (as_edge(piece, line), as_edge(source, known[line.name]))
        for line in piece.lines
        if line.name in known and len(parts_of(piece, line)) == 1
    ]
    flipped = area(piece) * area(source) < 0
    best: tuple[int, Affine] | None = None
    places, ends = [], []
    for edge, its in shared:
        total, other = drawn_length(edge), drawn_length(its)
        reach = np.linspace(0.0, min(total, other) / 2, LOOKS)
        mine = points_at(edge, np.concatenate([reach, total - reach, np.linspace(0.0, total, LOOKS)]))
        places.append(mine[2 * LOOKS :])
        ends.append((mine[: 2 * LOOKS], points_at(its, np.concatenate([reach, other - reach]))))
    tried: list[Affine] = []
    for one, two in ends:
        for end in (slice(0, LOOKS), slice(LOOKS, None)):
            motion, away = rigid(one[end], two[end], flipped=flipped)
            if away >= ALIKE or any(_same(motion, other) for other in tried):
                continue
            tried.append(motion)
            lying = sum(_lying(motion.apply(at), other) for at, (_, other) in zip(places, shared, strict=True))
            if best is None or lying > best[0]:
                best = lying, motion
            if lying == sum(map(len, places)):
                return motion
    return None if best is None else best[1]


def _same(one: Affine, two: Affine) -> bool:
    return max(abs(a - b) for a, b in zip(one, two, strict=True)) <= SAME


def _lying(points: Array, edge: Edge) -> int:
    """How many points (n, 2) lie on an edge."""
    spots = np.concatenate([part.controls.reshape(-1, 2) for part in edge.parts])
    about = points[((spots.min(axis=0) - ALIKE <= points) & (points <= spots.max(axis=0) + ALIKE)).all(axis=1)]
    if not len(about):
        return 0
    return int((np.min([nearest(part, about)[1] for part in edge.parts], axis=0) < ALIKE).sum())


def narrower(
    piece: Piece,
    source: Piece,
    motion: Affine | None,
    facings: Sequence[Piece] = (),
    left_out: Sequence[Array] = (),
) -> tuple[float, float] | None:
    """mm by which a piece is wider than its source where it is least so, and mm of the source's width there.

    Across the grain, at LEVELS over what both have, but where facings of the source lie, or places (n, 2) of it that
    are left out, such as its vent. motion: what lays the piece on its source, `laid_on`; None where they cannot be.
    """
    if motion is None or source.grain is None:
        return None
    way = unit(source.grain.end - source.grain.start)
    side = np.array([-way[1], way[0]])
    rings = [_ring(p) for p in (piece, source)]
    mine, its = (np.stack([ring @ way, ring @ side], axis=1) for ring in (motion.apply(rings[0]), rings[1]))
    low, high = max(mine[:, 0].min(), its[:, 0].min()), min(mine[:, 0].max(), its[:, 0].max())
    rest = ENDS * (high - low)
    bands = [(laid.apply(_ring(one)) @ way) for one in facings if (laid := laid_on(one, source)) is not None]
    bands += [places @ way for places in left_out]
    # an edge of its own is where it is sewn to a facing: there the source goes on beside it
    own = {edge.name for edge in source.edges}
    free = [edge for edge in piece.edges if facings and edge.name not in own]
    bands += [motion.apply(flatten(part, tolerance=0.1)) @ way for edge in free for part in edge.parts]
    levels = np.linspace(low + rest, high - rest, LEVELS)
    seen = [at for at in levels if not any(band.min() - STEP <= at <= band.max() + STEP for band in bands)]
    found = [(across(mine, at) - across(its, at), across(its, at)) for at in seen]
    return min(found, default=None)


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def across(ring: Array, at: float) -> float:
    """mm inside a ring (n, 2), closed from its last point to its first, along the level where its first number is `at`.

    >>> across(np.array([[0.0, 0], [0, 8], [4, 8], [4, 0]]), 1.0)
    8.0
    """
    after = np.roll(ring, -1, axis=0)
    over = (ring[:, 0] <= at) != (after[:, 0] <= at)
    a, b = ring[over], after[over]
    met = np.sort(a[:, 1] + (at - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1]))
    return float((met[1::2] - met[::2]).sum())
