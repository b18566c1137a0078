"""A piece cut along a line and opened, or overlapped, there: one part moves rigidly against the other.

The amounts are the chords by which the line's two ends part (closed form): over a line H long with a
at one end and b at the other the turn is 2·asin((b − a) / 2H), about a point on the line, a·H / (b − a) beyond the end
with a. Alike amounts are a shift across the line. Where an amount is negative as much is cut out of the outline, half
on each side of the line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.fullness.slashing import FLAT, NODE, Slash, slash
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.motions import Motion
from flatcut.pattern.spots import is_mirrored
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Line, Piece
from flatcut.reshape.cycle import Item, item_under, rebuilt
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.turning import Turn, travelled
from flatcut.reshape.ways import Ways
from flatcut.units import plain

WELDED = 1e-6
"""mm: ends this near to each other are one place."""


@dataclass(frozen=True, kw_only=True)
class Opening:
    """What an edge is longer by where a line has been opened on it.

    start, end: mm of the drawn edge as it was; alike unless something was cut out between them. width: mm that stand
    there now. line: uid of the line; at: 0 for its start, 1 for its end.
    """

    edge: str
    line: str
    at: int
    start: float
    end: float
    width: float


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A piece opened along one line.

    broken: what became of the other lines by uid; line: as it was; chord: its two ends as they count, (2, 2); gaps: mm
    at its start and end; side: as for `motion`, of the part that moved; first_moved: which one that is; radians: signed
    turn of the part in which the outline does not begin against the other, which adds up over lines side by side;
    moved: the part that moved, and how.
    """

    piece: Piece
    openings: tuple[Opening, ...]
    broken: Mapping[str, Ways]
    line: Line
    chord: Array
    gaps: tuple[float, float]
    side: int
    first_moved: bool
    radians: float
    moved: Motion

    def line_at(self, share: float) -> Curve:
        """The line so far on its way from the side of the first part (0) to that of the second (1)."""
        part = 1 - share if self.first_moved else share
        return transform(self.line.curve, motion(self.chord[0], self.chord[1], self.gaps, side=self.side, share=part))


def motion(p: Array, q: Array, gaps: tuple[float, float], *, side: int, share: float = 1.0) -> Affine:
    """What takes the part on one side of the chord from p to q away from the other side, by the gaps at p and at q.

    side: 1 for the part to the right of a walker from p to q on the screen, -1 for that to his left; share: of the way.
    Errors: UsageError when the ends are to part by more than a turn of 90 degrees.

    >>> turn = motion(np.array([0.0, 0]), np.array([0.0, 600]), (10.0, 50.0), side=-1)
    >>> [round(float(np.hypot(*(turn.apply(p) - p))), 6) for p in np.array([[0.0, 0], [0, 600], [0, -150]])]
    [10.0, 50.0, 0.0]
    """
    a, b = gaps
    along = q - p
    size = float(np.hypot(*along))
    if abs(b - a) > math.sqrt(2) * size:
        raise UsageError(f"a line {plain(size)} mm long cannot be opened by {plain(abs(b - a))} mm; open it by less")
    turn = side * 2 * math.asin((b - a) / 2 / size)
    across = side * np.array([-along[1], along[0]]) / size
    # p goes on a chord of its circle; without a turn that is a shift
    part = share if abs(turn) < 1e-12 else math.sin(share * turn / 2) / math.sin(turn / 2)
    way = Affine.rotation(share * turn / 2).apply(part * a * across)
    return Affine.translation(*way) @ Affine.rotation(share * turn, (float(p[0]), float(p[1])))


def spread_along(
    piece: Piece, along: Line, gaps: tuple[float, float], *, still: Array, uids: Uids, cut: Slash | None = None
) -> Spread:
    """The piece opened along one of its lines by the gaps at its start and its end, mm; the line stands in the middle.

    still: a place (2,) on the outline of the part that stays where it is. cut: the line as a cut, where it is known.
    Errors: UsageError, GeometryError; each says what to do.
    """
    cut = cut or slash(piece, along)
    name = f"{piece.name}.{along.name}"
    away = [nearest_place(item.curve, still)[1] for item in cut.items]
    first_moves = int(np.argmin(away)) not in cut.first
    side = (1 if is_mirrored(piece) else -1) * (1 if first_moves else -1)
    # a hinge is on the outline itself, or its edge would open there
    ends = [cut.at(k) if gaps[k] == 0 else (along.curve.start, along.curve.end)[k] for k in (0, 1)]
    matrix = motion(ends[0], ends[1], gaps, side=side)
    half = motion(ends[0], ends[1], gaps, side=side, share=0.5)
    middle = transform(along.curve, half)
    walls = {first_moves: transform(along.curve, half.inverse()), not first_moves: middle}
    arcs = [
        _Arc.of(cut, numbers, walls[first], gaps if first else (gaps[1], gaps[0]), name)
        for first, numbers in ((True, cut.first), (False, cut.second))
    ]
    shrunk = min(gaps) < 0
    borders = (walls[True], walls[False]) if shrunk else (along.curve, along.curve)
    around = _rings(arcs, borders)
    turn = Turn(
        moving=around[0 if first_moves else 1],
        still=around[1 if first_moves else 0],
        cuts=borders if shrunk else (along.curve,),
        matrix=matrix,
    )
    others = tuple(item for item in piece.lines if item.uid != along.uid)
    carried, broken = travelled(replace(piece, lines=others), turn, uids)
    number = [item.uid for item in piece.lines].index(along.uid)
    kept = replace(along, curve=middle)
    carried = replace(carried, lines=(*carried.lines[:number], kept, *carried.lines[number:]))
    openings, items = _put_together(piece, cut, arcs, matrix, first_moves, name)
    result = rebuilt(carried, items, {d.uid: d for d in carried.darts})
    refuse_overlap(result, advice="open or overlap it by less")
    turned_by = math.atan2(matrix.b, matrix.a)
    return Spread(
        piece=result,
        openings=openings,
        broken=broken,
        line=along,
        chord=np.array(ends),
        gaps=gaps,
        side=side,
        first_moved=first_moves,
        radians=-turned_by if (0 in cut.first) == first_moves else turned_by,
        moved=Motion.of(piece.uid, turn.moving, matrix),
    )


@dataclass(kw_only=True)
class _Arc:
    """The outline of one part, from one end of the line to the other.

    lost: mm cut off at its start and end; gone: how many items that took away at the start.
    """

    items: list[Item]
    lost: list[float]
    gone: int = 0

    @staticmethod
    def of(cut: Slash, numbers: Sequence[int], wall: Curve, gaps: tuple[float, float], name: str) -> _Arc:
        """The part with what lies beyond the wall cut off where the gap at that end is negative."""
        arc = _Arc(items=[cut.items[k] for k in numbers], lost=[0.0, 0.0])
        if gaps[0] < 0:
            arc.items, arc.lost[0] = _cut_off(arc.items, wall, -gaps[0], name)
            arc.gone = len(numbers) - len(arc.items)
        if gaps[1] < 0:
            back = [replace(item, curve=reverse(item.curve)) for item in arc.items[::-1]]
            back, arc.lost[1] = _cut_off(back, wall, -gaps[1], name)
            arc.items = [replace(item, curve=reverse(item.curve)) for item in back[::-1]]
        return arc


def _cut_off(items: list[Item], wall: Curve, gap: float, name: str) -> tuple[list[Item], float]:
    """The items from the first place on the wall on, and how many mm were cut off before it."""
    far = 2 * gap + 5.0
    out, into = -tangent(wall, 0.0), tangent(wall, float(len(wall)), before=True)
    longer = chain([line(wall.start + far * out, wall.start), wall, line(wall.end, wall.end + far * into)])
    lost = 0.0
    for k, item in enumerate(items):
        if not item.part or item.of != items[0].of:
            break
        met = [c.u for c in crossings(item.curve, longer)]
        total = length(item.curve)
        if met:
            u = min(met)
            reached = length_to(item.curve, u)
            if total - reached <= NODE and k + 1 < len(items):
                return items[k + 1 :], lost + total
            if reached <= NODE:
                return items[k:], lost
            return [replace(item, curve=section(item.curve, u, len(item.curve))), *items[k + 1 :]], lost + reached
        lost += total
    raise GeometryError(f"there is less than {plain(gap / 2)} mm of edge beside {name} to take out; take out less")


def _rings(arcs: Sequence[_Arc], borders: tuple[Curve, Curve]) -> tuple[Array, Array]:
    found = []
    for arc, border, back in zip(arcs, borders, (True, False), strict=True):
        outer = flatten(chain([item.curve for item in arc.items], within=NODE), tolerance=FLAT)
        found.append(np.concatenate([outer, flatten(reverse(border) if back else border, tolerance=FLAT)]))
    return found[0], found[1]


def _put_together(
    piece: Piece, cut: Slash, arcs: Sequence[_Arc], matrix: Affine, first_moves: bool, name: str
) -> tuple[tuple[Opening, ...], list[Item]]:
    """The outline with one part moved, and what was opened where."""
    moves = [matrix if first_moves else IDENTITY, IDENTITY if first_moves else matrix]
    first, second = ([item_under(item, by) for item in arc.items] for arc, by in zip(arcs, moves, strict=True))
    openings = []
    gap_0, at_0 = _joint(piece, cut, second, first, 0, name, moving_after=first_moves)
    gap_1, at_1 = _joint(piece, cut, first, second, 1, name, moving_after=not first_moves)
    for k, (edge, gap, before, after) in enumerate(
        ((at_0, gap_0, arcs[1].lost[1], arcs[0].lost[0]), (at_1, gap_1, arcs[0].lost[1], arcs[1].lost[0]))
    ):
        if edge:
            here = _drawn(cut, edge, (cut.start, cut.end)[k])
            width = 0.0 if gap is None else length(gap.curve)
            openings.append(
                Opening(edge=edge, line=cut.line.uid, at=k, start=here - before, end=here + after, width=width)
            )
    ring = [*first, *([gap_1] if gap_1 else []), *second, *([gap_0] if gap_0 else [])]
    return tuple(openings), _from_first(cut, ring, len(first) + (gap_1 is not None), arcs)


def _joint(
    piece: Piece, cut: Slash, before: list[Item], after: list[Item], k: int, name: str, *, moving_after: bool
) -> tuple[Item | None, str]:
    """What closes the outline between two parts at an end of the line, and the edge it belongs to ('' at a corner)."""
    here, there = before[-1], after[0]
    edges = cut.edges(k)
    edge = edges[0] if len(edges) == 1 else ""
    away = float(np.hypot(*(there.curve.start - here.curve.end)))
    if away > NODE:
        if not edge:
            corner = "/".join(piece.edge_of(uid).name for uid in edges)
            raise UsageError(
                f"{name} ends in the corner {piece.name}.{corner}, where it can only be hinged; "
                "give the amount at its other end, or end the line on one edge"
            )
        return Item(of=edge, curve=line(here.curve.end, there.curve.start)), edge
    if moving_after:
        after[0] = replace(there, curve=starting_at(there.curve, here.curve.end))
    else:
        before[-1] = replace(here, curve=ending_at(here.curve, there.curve.start))
    return None, edge


def _drawn(cut: Slash, edge: str, number: int) -> float:
    """mm along an edge up to an item of the outline as it was."""
    stop = number or len(cut.items)
    return sum(length(item.curve) for item in cut.items[:stop] if item.of == edge)


def _from_first(cut: Slash, ring: list[Item], second: int, arcs: Sequence[_Arc]) -> list[Item]:
    """The ring turned so that it begins where the first edge does. second: number of the second part's first item."""
    in_first = 0 in cut.first
    numbers, arc = (cut.first, arcs[0]) if in_first else (cut.second, arcs[1])
    place = max(0, numbers.index(0) - arc.gone) + (0 if in_first else second)
    return [*ring[place:], *ring[:place]]
