"""Where cloth that is laid over other cloth is fastened: the ends of an open band, and wraps at the centre."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.worn.placing import Layout, sides
from flatcut.worn.sewn import Sewn, Union, alone, centre_of

UPPER, LEVEL = 30.0, 60.0
"""mm below the highest place within which the middle of an upper edge lies, and by how much it may rise."""
CROSSES = 30.0
"""mm beyond the centre from which on a piece is a wrap."""


def tacked(whole: Sewn, layout: Layout) -> tuple[Sewn, list[str]]:
    """The sewn garment with what laps fastened, and what is to be said of it.

    A skirt that wraps is held by ties or a button: each end of its band is fastened to what lies over or under it.
    Halves that wrap over each other alike are fastened at the centre, where their edges cross.
    """
    pairs = list(_ends(whole, layout)) if not len(whole.plane) else []
    middle = list(_crossings(whole, layout)) if len(whole.plane) else []
    if not pairs and not middle:
        return whole, []
    union = Union(whole.count)
    for a, b in pairs:
        union.join(int(whole.joined[a]), int(whole.joined[b]))
    numbers, count = union.numbers()
    made = replace(
        whole,
        joined=numbers[whole.joined],
        count=count,
        lines=[(name, [int(numbers[v]) for v in line]) for name, line in whole.lines],
        plane=np.unique(numbers[np.concatenate([whole.plane, whole.joined[np.array(middle, dtype=int)]])]),
    )
    ends = [_named(whole, a) for a, _ in pairs] + [_named(whole, v) for v in middle]
    return made, [
        f"{' and '.join(dict.fromkeys(ends))}: fastened where it laps; which layer lies on top is not computed"
    ]


def _named(whole: Sewn, vertex: int) -> str:
    k = int(np.searchsorted(whole.first, vertex, side="right")) - 1
    return whole.cells[whole.copies[k].piece].piece.name


def upper_edges(whole: Sewn, layout: Layout) -> Iterator[list[int]]:
    """The vertices of copies along each edge that is the upper end of a garment."""
    top = float(layout.up[np.isnan(layout.start[:, 0])].max())
    for k, copy in enumerate(whole.copies):
        if k in layout.arms:
            continue
        for edge in whole.cells[copy.piece].piece.edges:
            vertices = [whole.first[k] + on.vertex for on in whole.cells[copy.piece].edges[edge.uid]]
            if np.mean(layout.up[vertices]) > top - UPPER and np.ptp(layout.up[vertices]) < LEVEL:
                yield vertices


def _ends(whole: Sewn, layout: Layout) -> Iterator[tuple[int, int]]:
    """The vertices at both ends of an open band, each with the one of the band that lies over or under it.

    How far round it goes is told by its centres: from the front's to the back's it is half of that.
    """
    for one in layout.hung:
        if one.course != "up" or whole.joined[one.line[0]] == whole.joined[one.line[-1]]:
            continue
        steps = np.linalg.norm(np.diff(whole.flat[one.line], axis=0), axis=1)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        centres = [(at, v) for at, v in zip(along, one.seam, strict=True) if _on_centre(whole, int(v))]
        ahead = [at for at, v in centres if abs(layout.round[v]) < 0.5 * layout.half]
        behind = [at for at, v in centres if abs(layout.round[v]) >= 0.5 * layout.half]
        if not ahead or not behind:
            continue
        girth = 2 * abs(behind[0] - ahead[0])
        at = (1 - one.share) * along[one.step] + one.share * along[one.step + 1]
        for end, under in ((along[0], along[0] + girth), (along[-1], along[-1] - girth)):
            if not along[0] < under < along[-1]:
                continue
            rows = np.flatnonzero(np.abs(at - end) < 0.5)
            for v in {int(rows[one.away[rows].argmin()]), int(rows[one.away[rows].argmax()])}:
                apart = np.hypot(at - under, one.away - one.away[v])
                yield int(one.own[v]), int(one.own[apart.argmin()])


def _on_centre(whole: Sewn, vertex: int) -> bool:
    """Whether a vertex lies on the centre line of its piece."""
    k = int(np.searchsorted(whole.first, vertex, side="right")) - 1
    cells = whole.cells[whole.copies[k].piece]
    ends = centre_of(cells.piece)
    if ends is None:
        return False
    at, way = cells.points[vertex - whole.first[k]] - ends[0], ends[1] - ends[0]
    return abs(float(at[0] * way[1] - at[1] * way[0])) < float(np.linalg.norm(way))  # 1 mm off


def _crossings(whole: Sewn, layout: Layout) -> Iterator[int]:
    """Of each copy that wraps over the centre the vertex of its outline where it does so highest up."""
    out = layout.round * sides(layout, whole)
    for k, copy in enumerate(whole.copies):
        mine = slice(whole.first[k], whole.first[k + 1])
        if np.isfinite(layout.start[mine, 0]).any() or out[mine].min() > -CROSSES:
            continue
        if np.isin(whole.joined[mine], whole.plane).any() and not alone(whole.cells[copy.piece].piece):
            continue
        cells = whole.cells[copy.piece]
        rims: list[Sequence[int]] = [[whole.first[k] + on.vertex for on in edge] for edge in cells.edges.values()]
        crossed = [
            min(a, b, key=lambda v: abs(float(out[v])))
            for rim in rims
            for a, b in pairwise(rim)
            if (out[a] < 0) != (out[b] < 0)
        ]
        if crossed:
            yield max(crossed, key=lambda v: float(layout.up[v]))
