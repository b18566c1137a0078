"""What an outline's allowances cover, as polygons, with every boundary segment labelled by the exact row it samples.

Each row sweeps a band between the stitch line and its offset; each corner adds the polygon under its tip or its own
parts. The cut line is then the boundary of outline and bands together (outward), or of the outline without them
(inward): local and global loops, cusps and swallowed edges go in one step, with no distinction of cases.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from flatcut.geometry import region
from flatcut.geometry.arrays import Array
from flatcut.geometry.offset_corners import TRIMMED, UNSOLVED, Joints
from flatcut.geometry.offset_exact import Parallels, Rows, line_rows, stacked, trace
from flatcut.geometry.offset_ring import Chains, Runs
from flatcut.geometry.offset_special import Part, Special

SPOKE = -1
"""Label of segments that no cut line may follow: sides of bands, and the stitch line where it has an allowance."""

PROBES = 64
"""Chords on which the bend of a row is measured before it is sampled."""

FEWEST, MOST = 8, 2048
"""Chords per curved row."""

BETWEEN = 5
"""Places in each chord at which a row is asked whether it runs backwards."""

TURN, HALVINGS = np.cos(np.radians(6.0)), 12
"""Cosine of the turn between two places on a row, and how often more of them are put between."""


@dataclass
class Bands:
    """Polygons and labelled segments, collected row by row and corner by corner (the only values here that grow)."""

    base: Parallels
    extra: list[Parallels] = field(default_factory=list)
    source: dict[int, int] = field(default_factory=dict)
    rings: list[Array] = field(default_factory=list)
    outline: list[Array] = field(default_factory=list)
    points: list[Array] = field(default_factory=list)  # chains of points ...
    rows: list[int] = field(default_factory=list)  # ... their row in the table, or SPOKE ...
    places: list[Array] = field(default_factory=list)  # ... and their places on it

    def add_row(self, row: Parallels, source: int) -> int:
        """A row of a corner's own; returns its number in the table."""
        number = len(self.base) + len(self.extra)
        self.extra.append(row)
        self.source[number] = source
        return number

    def label(self, row: int, points: Array, places: Array) -> None:
        """A chain of points lies on a row at these places."""
        self.points.append(points)
        self.rows.append(row)
        self.places.append(places)

    def table(self) -> Parallels:
        """All rows: those of the outlines first."""
        return stacked([self.base, *self.extra])

    def segments(self) -> tuple[Array, Array, Rows, Array, Array]:
        """Starts, ends, rows, and places at both ends, of all labelled segments."""
        count = [len(p) - 1 for p in self.points]
        return (
            np.concatenate([p[:-1] for p in self.points]),
            np.concatenate([p[1:] for p in self.points]),
            np.repeat(np.array(self.rows, dtype=np.intp), count),
            np.concatenate([t[:-1] for t in self.places]),
            np.concatenate([t[1:] for t in self.places]),
        )


class Stitch(NamedTuple):
    """Samples of a row's own span: places and points."""

    t: Array
    points: Array


def bands_of(
    c: Chains, chain: int, joints: Joints, runs: Runs, specials: Mapping[int, Special], *, tolerance: float
) -> Bands:
    """The bands of one closed chain. Chords keep within a quarter of the tolerance."""
    p = c.rows
    bands = Bands(p)
    mine = np.arange(c.first[chain], c.first[chain + 1])
    count = _chords(p, mine, tolerance / 4)
    starts, ends, corners = _open_ends(c, joints, runs, specials, mine)
    stitch: dict[int, Stitch] = {}
    for r in mine.tolist():
        bands.source[r] = int(c.edge[r])
        own0, own1 = (min(max(float(t), 0.0), 1.0) for t in (runs.t0[r], runs.t1[r]))
        t0, t1 = 0.0 if r in starts else own0, 1.0 if r in ends else own1
        t = _turning_little(p, r, np.unique(np.concatenate([np.linspace(0.0, 1.0, count[r] + 1), [own0, own1]])))
        stitch[r] = Stitch(t, _stitch_points(p, r, t))
        bands.outline.append(stitch[r].points[:-1])
        if t0 >= t1 or not (runs.kept[r] or (r in starts and r in ends)):
            bands.label(SPOKE, stitch[r].points, t)
            continue
        _add_band(bands, p, r, (t0, t1), stitch[r], runs, (r in starts, r in ends))
    for r in corners:
        _add_corner(bands, c, r, runs, specials, stitch, tolerance)
    return bands


def _open_ends(
    c: Chains, joints: Joints, runs: Runs, specials: Mapping[int, Special], mine: Rows
) -> tuple[set[int], set[int], list[int]]:
    """Rows whose band begins, and ends, at the full row; and the joints that need a polygon of their own.

    Where both offsets are cut back their bands overlap and the union trims them by itself. Where one runs on and the
    other is trimmed, the corner's rule says more than the union would. Joints at rows that a special corner swallows
    are no joints any more.
    """
    starts, ends, corners = set[int](), set[int](), []
    for r in mine.tolist():
        after = int(c.after[r])
        both = joints.state[r] == TRIMMED and joints.leave[r] <= 1 and joints.enter[r] >= 0
        if r in specials:
            corners.append(r)
        elif both or joints.state[r] == UNSOLVED:
            ends.add(r)
            starts.add(after)
        elif runs.kept[r] and runs.kept[after]:
            corners.append(r)
    for r, special in specials.items():
        ends.discard(special.leave.row)
        starts.discard(special.enter.row)
        if special.whole:
            after = int(c.after[r])
            ends.update(range(special.leave.row, r + 1))
            starts.update(range(special.leave.row + 1, r + 1))
            starts.update(range(after, special.enter.row + 1))
            ends.update(range(after, special.enter.row))
    return starts, ends, corners


def _chords(p: Parallels, mine: Rows, sagitta: float) -> dict[int, int]:
    """Chords per row so that stitch line and offset both stay within `sagitta` mm of theirs."""
    t = np.tile(np.linspace(0.0, 1.0, PROBES + 1), (len(mine), 1))
    flat = p.taken(mine)
    stitch = Parallels(flat.controls, flat.straight, flat.near * 0, flat.far * 0, flat.power, flat.slope * 0, False)
    own = np.arange(len(mine))
    bend = np.zeros(len(mine))
    for rows in (flat, stitch):
        points = trace(rows, own, t).point
        second = points[:, 2:] - 2 * points[:, 1:-1] + points[:, :-2]
        bend = np.maximum(bend, np.sqrt((second**2).sum(axis=2)).max(axis=1))
    count = np.clip(np.ceil(PROBES * np.sqrt(bend / 8 / sagitta)), FEWEST, MOST)
    return dict(zip(mine.tolist(), np.where(flat.straight, 1, count).astype(int).tolist(), strict=True))


def _turning_little(p: Parallels, row: int, t: Array) -> Array:
    """Places with more between them where the row turns by more than TURN, as it does in a bend far tighter than its
    width."""
    if p.straight[row] or (p.near[row] == 0 and p.far[row] == 0):
        return t
    for _ in range(HALVINGS):
        way = trace(p, np.full(len(t), row), t).tangent
        sharp = np.flatnonzero((way[1:] * way[:-1]).sum(axis=1) < TURN)
        if not len(sharp):
            break
        t = np.sort(np.concatenate([t, (t[sharp] + t[sharp + 1]) / 2]))
    return t


def _stitch_points(p: Parallels, row: int, t: Array) -> Array:
    """Points of the span itself, its ends to the last bit."""
    c0, c1, c2, c3 = p.power[:, row]
    s = t[:, None]
    points = ((c3 * s + c2) * s + c1) * s + c0
    points[t == 0.0] = p.controls[row, 0]
    points[t == 1.0] = p.controls[row, 3]
    return np.asarray(points)


def _add_band(
    bands: Bands,
    p: Parallels,
    r: int,
    part: tuple[float, float],
    samples: Stitch,
    runs: Runs,
    whole: tuple[bool, bool],
) -> None:
    """The band of row r over a part of it, its offset labelled as the row; `whole`: ends that no joint has set."""
    t, stitch = samples
    own = (t >= part[0]) & (t <= part[1])
    at = trace(p, np.full(int(own.sum()), r), t[own])
    offset = at.point.copy()
    # ends as the joints have set them (welded, trimmed); an extension of a straight row is the corner's
    if not whole[0] and not (p.straight[r] and part[0] == 0.0):
        offset[0] = runs.start[r]
    if not whole[1] and not (p.straight[r] and part[1] == 1.0):
        offset[-1] = runs.end[r]
    bands.label(r, offset, t[own])
    if p.near[r] == 0 and p.far[r] == 0:
        return
    bands.label(SPOKE, stitch, t)
    for k in (0, -1):
        bands.label(SPOKE, np.array([stitch[own][k], offset[k]]), np.zeros(2))
    ring = np.concatenate([stitch[own], offset[::-1]])
    # where the offset runs backwards it has swept over more than its two sides enclose, though they may be simple
    fine = (t[own][:-1, None] + np.diff(t[own])[:, None] * np.linspace(0, 1, BETWEEN)).ravel()
    if trace(p, np.full(len(fine), r), fine).factor.min() > 0 and region.is_simple_ring(ring):
        bands.rings.append(ring)
        return
    s = stitch[own]
    for k in range(len(s) - 1):
        bands.rings.append(np.array([s[k], s[k + 1], offset[k + 1], offset[k]]))
        bands.label(SPOKE, np.array([s[k], offset[k]]), np.zeros(2))


def _add_corner(
    bands: Bands,
    c: Chains,
    r: int,
    runs: Runs,
    specials: Mapping[int, Special],
    stitch: dict[int, Stitch],
    tolerance: float,
) -> None:
    """The polygon under a corner that spreads out: its tip or its own parts, between the two trimmed or extended
    offsets and the stitch line between them."""
    p = c.rows
    special = specials.get(r)
    leave, enter = (special.leave.row, special.enter.row) if special else (r, int(c.after[r]))
    own = -1 - int(c.edge[r]) if c.last[r] else int(c.edge[r])
    out, into = runs.reach_out[leave], runs.reach_in[enter]
    t1, t0 = min(float(runs.t1[leave]), 1.0), max(float(runs.t0[enter]), 0.0)
    ends = trace(p, np.array([leave, enter]), np.array([t1, t0])).point
    end = ends[0] if p.straight[leave] and t1 == 1.0 else runs.end[leave]
    start = ends[1] if p.straight[enter] and t0 == 0.0 else runs.start[enter]
    path = [end[None]]
    path.append(_lead(bands, p, leave, end, out, own, forward=True))
    parts = special.parts if special else ()
    if not parts and (out != into).any():
        parts = (Part(line_rows(out[None], into[None]), 0.0, 1.0, out, into),)
    for part in parts:
        number = bands.add_row(part.row, own)
        t = np.linspace(
            part.t0, part.t1, 2 if part.row.straight[0] else _chords(part.row, np.array([0]), tolerance / 4)[0] + 1
        )
        points = trace(part.row, np.zeros(len(t), dtype=np.intp), t).point
        points[0], points[-1] = part.start, part.end
        bands.label(number, points, t)
        path.append(points)
    path.append(_lead(bands, p, enter, into, start, own, forward=False))
    back = _stitch_between(c, leave, t1, enter, t0, stitch)
    ring = np.concatenate([*path, back[::-1]])
    keep = np.concatenate([[True], (np.diff(ring, axis=0) != 0).any(axis=1)])
    ring = ring[keep]
    if len(ring) >= 3:
        bands.rings.append(ring)
        for a, b in ((end, back[0]), (start, back[-1])):
            bands.label(SPOKE, np.array([a, b]), np.zeros(2))


def _lead(bands: Bands, p: Parallels, row: int, a: Array, b: Array, own: int, *, forward: bool) -> Array:
    """The straight extension from a to b, labelled as the row itself where that is straight, else as the corner's."""
    points = np.array([a, b])
    if (a != b).any():
        if p.straight[row]:
            way = p.controls[row, 3] - p.controls[row, 0]
            run = float(np.linalg.norm(b - a) / np.linalg.norm(way))
            bands.label(row, points, np.array([1.0, 1.0 + run] if forward else [-run, 0.0]))
        else:
            bands.label(bands.add_row(line_rows(a[None], b[None]), own), points, np.array([0.0, 1.0]))
    return points


def _stitch_between(c: Chains, leave: int, t1: float, enter: int, t0: float, stitch: dict[int, Stitch]) -> Array:
    """Points of the stitch line from where one edge's run ends to where the next one's begins: the very samples of the
    bands, lest slivers be left between."""
    own = stitch[leave]
    parts = [own.points[own.t >= t1]]
    row = int(c.after[leave])
    while row != enter:
        parts.append(stitch[row].points[1:])
        row = int(c.after[row])
    own = stitch[enter]
    parts.append(own.points[(own.t > 0) & (own.t <= t0)])
    return np.concatenate(parts)
