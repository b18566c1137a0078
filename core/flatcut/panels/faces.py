"""The two sides of a cut: what of the outline each has, the stretches of the new edge, and its shares of darts.

A part that has the mouth of a dart which the cut runs across falls into blocks, one on each side of that dart; they are
turned together about the dart's point, as paper is folded, and the dart is closed there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten, transform
from flatcut.geometry.region import contains, ring_area
from flatcut.panels.chains import NO_SHARE, Course
from flatcut.panels.crossed import Over, folds_flat
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Piece, area
from flatcut.reshape.cycle import Item


@dataclass(frozen=True)
class Span:
    """An item of the outline, and from where to where along its edge it runs as drawn, mm."""

    item: Item
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Cell:
    """Cloth that stays in one: its ring (n, 2) as the piece lies, and how it is moved to its place on the part."""

    ring: Array
    matrix: Affine

    def has(self, places: Array) -> int:
        """How many of some places (n, 2) lie on it."""
        return int(contains(self.ring, places).sum())


@dataclass(frozen=True, kw_only=True)
class Face:
    """One side of a cut. outline: of it what the piece's was, in blocks; stretches: the new edge, in as many groups,
    the first beside the last block; closes: the darts closed between the blocks, with the turn that closes each."""

    outline: tuple[tuple[Span, ...], ...]
    stretches: tuple[tuple[Curve | Over, ...], ...]
    closes: tuple[Over, ...]
    poles: dict[str, int]
    cells: tuple[Cell, ...]

    @property
    def area(self) -> float:
        """mm² of cloth."""
        return sum(abs(ring_area(cell.ring)) for cell in self.cells)

    def cell_at(self, at: Array) -> Cell | None:
        """The cell on which a place lies."""
        return next((cell for cell in self.cells if cell.has(at[None])), None)


def face(piece: Piece, ring: Sequence[Span], way: Course, k: int, within: float) -> Face:
    """The side of a course that has the part `ring` of the outline; k: 0 where that runs from its start to its end, 1
    for the other way. within: mm that legs of a closed dart may lie apart. Errors: UsageError, GeometryError."""
    right = (area(piece) > 0) == (k == 1)
    curves, overs = (way.along, way.overs) if k else (way.back, tuple(one.turned for one in way.overs[::-1]))
    poles = {
        one.dart.uid: pole for one in overs if (pole := way.pole(one if k else one.turned, right=right)) is not None
    }
    groups: list[list[Curve | Over]] = [[curves[0]]]
    closes: list[Over] = []
    for one, following in zip(overs, curves[1:], strict=True):
        if poles.get(one.dart.uid) == NO_SHARE:
            groups[-1].append(following)
        elif one.dart.uid in poles:
            groups[-1] += [one, following]
        else:
            folds_flat(piece, one, within)
            closes.insert(0, one)
            groups.append([following])
    blocks: list[list[Span]] = [[]]
    shut = {one.dart.uid for one in closes}
    met: list[str] = []
    for span in ring:
        if span.item.part or span.item.of not in shut:
            blocks[-1].append(span)
        elif span.item.leg == 0:
            met.append(span.item.of)
            blocks.append([])
    if met != [one.dart.uid for one in closes]:
        raise GeometryError(f"{way.name(piece)} runs over the mouth of a dart; draw it across the dart once")
    rings = [_ring(blocks, groups, closes, poles, j) for j in range(len(blocks))]
    matrices = _matrices(piece, blocks, rings, closes)
    return Face(
        outline=tuple(map(tuple, blocks)),
        stretches=tuple(map(tuple, groups)),
        closes=tuple(closes),
        poles=poles,
        cells=tuple(Cell(ring=r, matrix=m) for r, m in zip(rings, matrices, strict=True)),
    )


def _ring(
    blocks: Sequence[Sequence[Span]],
    groups: Sequence[Sequence[Curve | Over]],
    closes: Sequence[Over],
    poles: dict[str, int],
    j: int,
) -> Array:
    curves = [span.item.curve for span in blocks[j]]
    if j < len(closes):
        curves.append(closes[j].mouth(0))
    for one in groups[len(blocks) - 1 - j]:
        curves += one.rest(poles[one.dart.uid]) if isinstance(one, Over) else [one]
    if j > 0:
        curves.append(closes[j - 1].mouth(1))
    return np.concatenate([flatten(curve, tolerance=0.02) for curve in curves])


def _matrices(
    piece: Piece, blocks: Sequence[Sequence[Span]], rings: Sequence[Array], closes: Sequence[Over]
) -> list[Affine]:
    """How each block is moved: the one that is held stays where it lies, the others are turned onto it."""
    found = [IDENTITY]
    for one in closes:
        found.append(found[-1] @ one.closing())
    if len(found) == 1:
        return found
    uses = {edge.uid: edge.use for edge in piece.edges}
    middle = {edge.uid for edge in piece.edges if edge.middle}
    shares = []
    for block, ring in zip(blocks, rings, strict=True):
        own = {uses[span.item.of] for span in block if span.item.part}
        grain = piece.grain
        on = 0 if grain is None else int(contains(ring, np.linspace(grain.start, grain.end, 33)).sum())
        shares.append(("fold" in own, middle & {span.item.of for span in block} != set(), on, abs(ring_area(ring))))
    back = found[shares.index(max(shares))].inverse()
    held = shares.index(max(shares))
    return [IDENTITY if j == held else back @ matrix for j, matrix in enumerate(found)]


@dataclass
class Side:
    """One part while it is made: its outline, the edges that it consists of, the new one last, and its half darts."""

    items: list[Item] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)
    darts: dict[str, Dart] = field(default_factory=dict)


def close(side: Side, own: Face, new: Edge, halves: dict[tuple[str, int], str], uids: Uids) -> None:
    """Put the new edge at the end of a part, with what the part keeps of darts that the cut runs across.

    halves: uids of halves of double-pointed darts by the dart and the number of the point; filled.
    """
    parts: list[Curve] = []
    for g, group in enumerate(own.stretches):
        matrix = own.cells[len(own.cells) - 1 - g].matrix
        for one in group:
            if not isinstance(one, Over):
                curve = _under(one, matrix)
                side.items.append(Item(of=new.uid, curve=curve))
                parts.append(curve)
                continue
            dart, pole = one.dart, own.poles[one.dart.uid]
            uid = dart.uid
            if dart.double and pole == 1:
                uid = halves.setdefault((dart.uid, 1), uids.fresh("half", dart.uid))
            down, up = (_under(leg, matrix) for leg in one.rest(pole))
            side.items += [Item(of=uid, curve=down, leg=0), Item(of=uid, curve=up, leg=1)]
            side.darts[uid] = replace(dart, uid=uid, form="cut", host=new.uid, legs=(down, up), origin="")
    side.edges.append(replace(new, parts=tuple(parts)))


def _under(curve: Curve, matrix: Affine) -> Curve:
    return curve if matrix is IDENTITY else transform(curve, matrix)


def under(item: Item, matrix: Affine) -> Item:
    """An item of the outline where its block comes to lie."""
    return item if matrix is IDENTITY else replace(item, curve=transform(item.curve, matrix))
