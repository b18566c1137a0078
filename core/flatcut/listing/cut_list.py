"""The rows of a cut list: a piece each, as large as it is cut."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, bounds, chain, flatten, signed_area, transform
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.marking.derived import derive_all
from flatcut.pattern.values import Pattern, Piece, outline


@dataclass(frozen=True, kw_only=True)
class Row:
    """A piece as it is cut. count: how many are cut in all; cut_as: single, pair or fold.

    along, across: mm of the cut piece along its grain and across it, opened out from the fold; area: mm², of one.
    netted: it has no allowance, so that all this is of its stitch line. grain: its kind, '' for none. parts: out of how
    many a strip is joined, since no cloth is as wide as it is long.
    """

    piece: str
    count: int
    cut_as: str
    material: str
    size: str
    grain: str
    along: float
    across: float
    area: float
    netted: bool
    parts: int = 1

    @property
    def words(self) -> str:
        """How it is cut.

        >>> row = dict(piece="a", material="", size="", grain="", along=1.0, across=1.0, area=1.0, netted=False)
        >>> Row(count=4, cut_as="pair", **row).words, Row(count=1, cut_as="fold", **row).words
        ('2 pairs', '1 on fold')
        """
        if self.cut_as == "pair":
            return f"{self.count // 2} pair{'s' if self.count > 3 else ''}"
        return f"{self.count} on fold" if self.cut_as == "fold" else f"{self.count}"


def rows(pattern: Pattern) -> list[Row]:
    """A row for each piece, in their order. Errors: GeometryError for a cut line that cannot be made."""
    every = derive_all(pattern.pieces, pattern.style)
    for derived in every:
        if derived.fault is not None:
            raise derived.fault
    return [
        _row(piece, None if derived.cut is None else derived.cut.curve, pattern.style.size)
        for piece, derived in zip(pattern.pieces, every, strict=True)
    ]


def _row(piece: Piece, cut: Curve | None, size: str) -> Row:
    ring = chain(outline(piece), within=1e-3) if cut is None else cut
    halves = [ring, *_mirrored(piece, ring)]
    turned = [transform(half, _upright(piece)) for half in halves]
    boxes = np.array([bounds(half) for half in turned])
    return Row(
        piece=piece.name,
        count=piece.quantity,
        cut_as=piece.cut_as,
        material=piece.material,
        size=size,
        grain="" if piece.grain is None else piece.grain.kind,
        along=float(boxes[:, 3].max() - boxes[:, 1].min()),
        across=float(boxes[:, 2].max() - boxes[:, 0].min()),
        area=len(halves) * abs(signed_area(ring)),
        netted=cut is None,
        parts=_parts(piece),
    )


def _parts(piece: Piece) -> int:
    """Out of how many parts a strip is joined: its joins are lines across it, at equal parts of its length."""
    if piece.source is None or piece.source.kind != "strip":
        return 1
    joins = [line.curve for line in piece.lines if _JOIN.fullmatch(line.name)]
    if piece.cut_as != "fold" or not joins:
        return len(joins) + 1
    start, seam = piece.edge("start"), piece.edge("seam")
    first = min(float(nearest(start.parts[0], curve.nodes)[1].mean()) for curve in joins)
    return round(2 * length(seam.parts[0]) / first)


_JOIN = re.compile(r"join(-\d+)?")


def _mirrored(piece: Piece, ring: Curve) -> Iterator[Curve]:
    """The other half of a piece on the fold. Errors: GeometryError where its fold is not straight."""
    if piece.cut_as != "fold":
        return
    folds = [edge for edge in piece.edges if edge.use == "fold"]
    if not folds:
        raise GeometryError(f"{piece.name} is cut on the fold, and none of its edges is; tell it with the step 'edge'")
    line = _fold_line(np.concatenate([flatten(part, tolerance=0.05) for edge in folds for part in edge.parts]))
    along = unit(line[1] - line[0])
    off = (flatten(ring, tolerance=0.05) - line[0]) @ np.array([-along[1], along[0]])
    if min(-off.min(), off.max()) > 1.0:
        raise GeometryError(f"{piece.name} crosses its own fold; mend the fold edge before it is listed")
    yield transform(ring, Affine.reflection(line[0], line[1]))


def _fold_line(points: Array) -> Array:
    """The two points farthest apart of those along a fold."""
    first = points[int(np.argmax(np.hypot(*(points - points[0]).T)))]
    second = points[int(np.argmax(np.hypot(*(points - first).T)))]
    return np.array([first, second])


def _upright(piece: Piece) -> Affine:
    """The turn that sets the grain upright."""
    if piece.grain is None:
        return Affine()
    dx, dy = piece.grain.end - piece.grain.start
    return Affine.rotation(math.pi / 2 - math.atan2(dy, dx))


def by_material(listed: Sequence[Row]) -> dict[str, list[Row]]:
    """The rows of each material, in the order in which they come."""
    found: dict[str, list[Row]] = {}
    for row in listed:
        found.setdefault(row.material, []).append(row)
    return found
