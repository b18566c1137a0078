"""The paper of a step taken apart into what moves by itself: each part with its turns, one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.region import ring_area, ring_centroid, subtracted
from flatcut.pattern.motions import Motion

SLIVER = 0.02
"""A part of a sheet this small, as a part of its area, is a seam between rings that were drawn apart, and no part."""
PARTED = 0.045
"""Parts of a piece that is cut are drawn so far from each other, as a part of the picture."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A part of the paper before a step, its ring (n, 2) mm, and how it moves, one motion after the other.

    new: it lies under the piece, and nothing is drawn on it.
    """

    ring: Array
    motions: tuple[Motion, ...] = ()
    new: bool = False

    @property
    def to(self) -> Affine:
        """Where the motions so far have led."""
        matrix = IDENTITY
        for motion in self.motions:
            matrix = motion.at() @ matrix
        return matrix


def sheets(rings: dict[str, Array], motions: Sequence[Motion]) -> list[Sheet]:
    """The pieces of paper, by their uids, cut into what moves by itself.

    >>> square = np.array([[0.0, 0], [100, 0], [100, 100], [0, 100], [0, 0]])
    >>> half = square * [0.5, 1.0]
    >>> found = sheets({"p": square}, [Motion(piece="p", ring=half, about=np.zeros(2), degrees=9.0, shift=np.zeros(2))])
    >>> [(round(abs(ring_area(sheet.ring))), sheet.motions[0].degrees) for sheet in found]
    [(5000, 9.0), (5000, 0.0)]
    """
    found: list[tuple[str, Sheet]] = [(uid, Sheet(ring=ring)) for uid, ring in rings.items()]
    for number, motion in enumerate(motions):
        still = replace(motion, degrees=0.0, shift=np.zeros(2), over=None)
        parted: list[tuple[str, Sheet]] = []
        if motion.new:
            found = [(uid, replace(sheet, motions=(*sheet.motions, still))) for uid, sheet in found]
            waits = tuple(replace(one, degrees=0.0, shift=np.zeros(2), over=None) for one in motions[:number])
            found.append((motion.piece, Sheet(ring=motion.ring, motions=(*waits, motion), new=True)))
            continue
        for uid, sheet in found:
            if uid != motion.piece:
                parted.append((uid, replace(sheet, motions=(*sheet.motions, still))))
                continue
            for ring, moves in _parted(sheet, motion):
                own = motion if moves else still
                parted.append((uid, replace(sheet, ring=ring, motions=(*sheet.motions, own))))
        found = parted
    return [sheet for _, sheet in found]


def _parted(sheet: Sheet, motion: Motion) -> list[tuple[Array, bool]]:
    """The parts of a sheet that a motion takes along, and those that it leaves."""
    to = sheet.to
    back = to.inverse()
    now = to.apply(sheet.ring)
    whole = abs(ring_area(now))
    left = [part.ring for part in subtracted(now, [motion.ring]) if abs(ring_area(part.ring)) > SLIVER * whole]
    if not left:
        return [(sheet.ring, True)]
    taken = [part.ring for part in subtracted(now, left) if abs(ring_area(part.ring)) > SLIVER * whole]
    if not taken:
        return [(sheet.ring, False)]
    return [*((back.apply(ring), True) for ring in taken), *((back.apply(ring), False) for ring in left)]


def parted(motions: Sequence[Motion], across: float) -> list[Motion]:
    """Parts of a piece that is cut, which lie where they lay, drawn away from each other. across: mm of the picture.

    Motions that lead somewhere stay as they are.
    """
    if any(motion.moves for motion in motions):
        return list(motions)
    found = []
    for uid in dict.fromkeys(motion.piece for motion in motions):
        own = [motion for motion in motions if motion.piece == uid]
        middles = [ring_centroid(motion.ring) for motion in own]
        sizes = [abs(ring_area(motion.ring)) for motion in own]
        middle = np.average(middles, axis=0, weights=sizes)
        for motion, at in zip(own, middles, strict=True):
            way = at - middle
            far = float(np.hypot(*way))
            found.append(replace(motion, shift=PARTED * across * way / far if far > 1e-6 else np.zeros(2)))
    return found
