"""Runs of exact rows along a boundary: cleared of debris, and made to meet exactly. See offset_loops."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.offset_bands import SPOKE, Bands
from flatcut.geometry.offset_exact import Parallels, Rows, crossing, line_rows, trace

DEBRIS, DEBRIS_SHARE = 0.5, 0.15
"""mm, and part of the largest width: the side of a band that shows on the boundary is a cusp's debris up to this."""

LOOKS = 257
"""Places at which a run is asked whether it runs backwards ..."""

BLOCK = 8
"""Places in a row that are looked at together first."""

SQUARE = 0.02
"""Sine of the angle within which a place counts as lying on a normal of the stitch line."""

BACKWARD = 1e-3
"""... which is where 1 + k d is below minus this: at a cusp itself it is zero."""

TINY = 0.1
"""Part of the tolerance: a run shorter than this is left out."""

CLOSE = 0.1
"""mm: parts of one row this close to each other, once a tiny run between them is gone, are one part."""

ROUNDS = 4
"""Rounds of joining: each may leave out tiny runs or put in short lines."""

EXACT = 1e-9
"""mm: a vertex of the boundary this close to the end of a row is that end."""


class Run(NamedTuple):
    """A stretch of the boundary that follows one row: places and vertices at both ends."""

    row: int
    t0: float
    t1: float
    first: Array
    last: Array
    bow: float = 0.0
    """Largest distance of its vertices from the straight line between its ends."""
    points: Array | None = None
    """Its vertices (k, 2), as long as it is what was read."""


class Joined(NamedTuple):
    """A run with the exact points at its ends."""

    run: Run
    start: Array
    end: Array


def without_debris(
    runs: list[Run], most: float, tolerance: float, bands: Bands, name: Callable[[int], str], notes: list[str]
) -> list[Run]:
    """Runs without the short sides of bands that show where a cusp fell between two samples; a longer side is a step,
    from the wider allowance to the narrower, square to the stitch line, and is told of."""
    kept = []
    for k, run in enumerate(runs):
        if run.row != SPOKE:
            kept.append(run)
            continue
        size = float(np.linalg.norm(run.last - run.first))
        if size > most:
            near = [r for r in (runs[k - 1], runs[(k + 1) % len(runs)]) if r.row != SPOKE]
            beside = sorted({e if e >= 0 else -1 - e for e in (bands.source[r.row] for r in near)})
            if not beside or run.bow > tolerance:
                raise GeometryError(
                    f"the allowances of {' and '.join(map(name, beside)) or 'neighbouring edges'} leave a step of "
                    f"{size:.1f} mm between them; make them equal, or let one taper"
                )
            number = bands.add_row(line_rows(run.first[None], run.last[None]), -1 - beside[0])
            kept.append(Run(number, 0.0, 1.0, run.first, run.last))
            notes.append(step_note(" and ".join(map(name, beside)), size))
    # a stretch too short to be seen would only leave two nodes where one does; but never the last two
    short = [float(np.linalg.norm(r.last - r.first)) < TINY * tolerance and abs(r.t1 - r.t0) < 0.01 for r in kept]
    if sum(not s for s in short) >= 2:
        kept = [r for r, s in zip(kept, short, strict=True) if not s]
    if not kept:
        raise GeometryError("nothing is left of the outline inside its allowances; make them smaller")
    return kept


def step_note(who: str, size: float) -> str:
    """What is told of a step that nobody asked for."""
    return f"the cut line steps by {size:.1f} mm at {who}, square to the stitch line, where unequal allowances meet"


def folds(table: Parallels, run: Run) -> list[tuple[float, float]]:
    """Places on a run between which its row runs backwards."""
    if table.straight[run.row]:
        return []
    t = np.linspace(run.t0, run.t1, LOOKS)
    back = trace(table, np.full(LOOKS, run.row), t).factor < -BACKWARD
    edges = np.flatnonzero(np.diff(np.concatenate([[False], back, [False]]).astype(np.int8)))
    return [(float(t[max(lo - 1, 0)]), float(t[min(hi, LOOKS - 1)])) for lo, hi in edges.reshape(-1, 2)]


def folded(table: Parallels, runs: list[Run]) -> list[bool]:
    """Whether the row of each run runs backwards somewhere on it."""
    bent = [k for k, run in enumerate(runs) if not table.straight[run.row]]
    answer = np.zeros(len(runs), dtype=np.bool_)
    if bent:
        t = np.linspace([runs[k].t0 for k in bent], [runs[k].t1 for k in bent], LOOKS, axis=1)
        factor = trace(table, np.array([runs[k].row for k in bent], dtype=np.intp), t).factor
        answer[bent] = factor.min(axis=1) < -BACKWARD
    return list(map(bool, answer))


class Swept(NamedTuple):
    """An edge of which some row folds back: places on its stitch line (n, 2), unit directions and widths (n,) there."""

    stitch: Array
    tangent: Array
    width: Array


def swept(p: Parallels, edge: list[int]) -> Swept | None:
    """What the rows of an edge may have swept over; None where none of them folds back."""
    rows = np.array(edge, dtype=np.intp)
    t = np.linspace(0.0, 1.0, LOOKS)
    at = trace(p, rows, np.broadcast_to(t, (len(rows), LOOKS)))
    if at.factor.min() > 0:
        return None
    width = p.near[rows, None] + (p.far - p.near)[rows, None] * t
    normal = np.stack([at.tangent[..., 1], -at.tangent[..., 0]], axis=-1)
    stitch = at.point - width[..., None] * normal
    return Swept(stitch.reshape(-1, 2), at.tangent.reshape(-1, 2), width.ravel())


def overswept(p: Parallels, run: Run, edge: Swept, tolerance: float) -> bool:
    """Whether the run lies nearer to its own edge than the allowance, square to the stitch line there: where a corner's
    rule has cut off a row that folds back, the part cut off may have swept over what is left."""
    if p.straight[run.row] or p.near[run.row] == p.far[run.row] == 0:
        return False  # what a corner has added of its own belongs to no edge that could have swept over it
    t = run.t0 + (run.t1 - run.t0) * np.linspace(0.0, 1.0, LOOKS)
    left = trace(p, np.array([run.row], dtype=np.intp), t[None]).point[0]
    which, place = _pairs_within(left, edge.stitch, float(edge.width.max()) - 2 * tolerance)
    gap = left[which] - edge.stitch[place]
    width = edge.width[place]
    near = (gap**2).sum(axis=1) < np.maximum(width - 2 * tolerance, 0.0) ** 2
    return bool((near & (np.abs((gap * edge.tangent[place]).sum(axis=1)) < SQUARE * width)).any())


def _pairs_within(a: Array, b: Array, reach: float) -> tuple[Rows, Rows]:
    """Pairs of places along two lines, (n, 2) and (m, 2), among them all that lie within reach of each other: of blocks
    of BLOCK places in a row those whose circles do."""
    (ma, ra), (mb, rb) = (_circles(x) for x in (a, b))
    apart = np.hypot(*np.moveaxis(ma[:, None] - mb[None], -1, 0)) - ra[:, None] - rb[None]
    i, j = np.nonzero(apart <= reach)
    k = np.arange(BLOCK)
    which = np.broadcast_to((i[:, None] * BLOCK + k)[:, :, None], (len(i), BLOCK, BLOCK)).ravel()
    place = np.broadcast_to((j[:, None] * BLOCK + k)[:, None], (len(i), BLOCK, BLOCK)).ravel()
    here = (which < len(a)) & (place < len(b))
    return which[here], place[here]


def _circles(points: Array) -> tuple[Array, Array]:
    """Centres and radii of circles round blocks of BLOCK places in a row."""
    short = -len(points) % BLOCK
    blocks = np.concatenate([points, np.repeat(points[-1:], short, axis=0)]).reshape(-1, BLOCK, 2)
    middle = (blocks.min(axis=1) + blocks.max(axis=1)) / 2
    return middle, np.sqrt(((blocks - middle[:, None]) ** 2).sum(axis=2)).max(axis=1)


def _sound_runs(table: Parallels, runs: list[Run], most: float) -> list[Run]:
    """Runs split where a swallowtail fell between two samples (the row crosses itself before it and after it), and cut
    back to the cusp where a short end of them runs backwards."""
    answer = []
    for run in runs:
        for lo, hi in folds(table, run):
            cusp = trace(table, np.full(2, run.row), np.array([lo, hi])).point
            if lo <= run.t0:
                if np.linalg.norm(cusp[1] - run.first) <= most:
                    run = run._replace(t0=hi, first=cusp[1])
            elif hi >= run.t1:
                if np.linalg.norm(cusp[0] - run.last) <= most:
                    run = run._replace(t1=lo, last=cusp[0])
            else:
                middle, half = (lo + hi) / 2, 3**0.5 * (hi - lo) / 2
                at = trace(table, np.array([run.row]), np.array([middle])).point[0]
                answer.append(run._replace(t1=middle - half, last=at))
                run = run._replace(t0=middle + half, first=at)
        answer.append(run)
    return answer


def joined(bands: Bands, runs: list[Run], *, most: float, tolerance: float, name: Callable[[int], str]) -> list[Joined]:
    """Runs with exact meeting points. Two that come close, but do not cross, are joined by a short line.

    Errors: GeometryError when a line longer than `most` mm would be needed, or a run would run backwards.
    """

    def missed(run: Run, after: Run) -> GeometryError:
        beside = sorted({e if e >= 0 else -1 - e for e in (bands.source[run.row], bands.source[after.row])})
        who = " and ".join(name(e) for e in beside)
        return GeometryError(f"the allowances of {who} touch without crossing; change one of them a little")

    runs = _sound_runs(bands.table(), runs, most)
    for _ in range(ROUNDS):
        met, loose = _met(bands.table(), runs, tolerance)
        tiny = [k for k, j in enumerate(met) if np.linalg.norm(j.end - j.start) < TINY * tolerance]
        if not loose and tiny and len(met) - len(tiny) >= 2:
            runs = _merged([run for k, run in enumerate(runs) if k not in tiny])
            continue
        if not loose:
            for run, _, _ in met:
                if run.t1 <= run.t0:
                    raise missed(run, run)
            return met
        linked = []
        for k, run in enumerate(runs):
            linked.append(run)
            if k in loose:
                after = runs[(k + 1) % len(runs)]
                if np.linalg.norm(after.first - run.last) > most:
                    raise missed(run, after)
                edge = bands.source[run.row]
                number = bands.add_row(line_rows(run.last[None], after.first[None]), edge if edge < 0 else -1 - edge)
                linked.append(Run(number, 0.0, 1.0, run.last, after.first))
        runs = linked
    raise missed(runs[0], runs[0])


def _merged(runs: list[Run]) -> list[Run]:
    """Runs with those made one that follow each other on one row without a gap."""
    answer: list[Run] = []
    for run in runs:
        if answer and answer[-1].row == run.row and np.linalg.norm(run.first - answer[-1].last) < CLOSE:
            answer[-1] = answer[-1]._replace(t1=run.t1, last=run.last)
        else:
            answer.append(run)
    return answer


def _met(table: Parallels, runs: list[Run], tolerance: float) -> tuple[list[Joined], set[int]]:
    """Runs with the points at which each meets the next, and the numbers of those that miss it."""
    n = len(runs)
    rows = np.array([r.row for r in runs], dtype=np.intp)
    after = np.roll(rows, -1)
    t1 = np.array([r.t1 for r in runs])
    t0_after = np.roll(np.array([r.t0 for r in runs]), -1)
    last = np.array([r.last for r in runs])
    first_after = np.roll(np.array([r.first for r in runs]), -1, axis=0)
    points = np.array(last)
    loose: set[int] = set()
    at = trace(table, np.concatenate([rows, after]), np.concatenate([t1, t0_after])).point
    # ends of rows as they are, made by the joints: exact already
    settled = (last == first_after).all(axis=1) & (np.abs(at[:n] - last).max(axis=1) < EXACT)
    settled &= np.abs(at[n:] - last).max(axis=1) < EXACT
    rest = np.flatnonzero(~settled)
    if len(rest):
        guess_a, guess_b = _parted(table, rows[rest], t1[rest], after[rest], t0_after[rest])
        found = crossing(table, rows[rest], guess_a, after[rest], guess_b)
        moved = np.sqrt(((found.point - last[rest]) ** 2).sum(axis=1))
        gap = np.sqrt(((first_after - last)[rest] ** 2).sum(axis=1))
        apart = (rows[rest] != after[rest]) | (np.abs(found.ta - found.tb) > 1e-6)
        both = np.concatenate([rows[rest], after[rest]]), np.concatenate([found.ta, found.tb])
        forward = (trace(table, *both).factor > -BACKWARD).reshape(2, -1).all(axis=0)
        good = found.met & apart & forward & (moved <= gap + max(1.0, 20 * tolerance))
        t1[rest], t0_after[rest] = np.where(good, found.ta, t1[rest]), np.where(good, found.tb, t0_after[rest])
        points[rest] = np.where(good[:, None], found.point, (last + first_after)[rest] / 2)
        loose = set(rest[~good & (gap > tolerance)].tolist())
    t0 = np.roll(t0_after, 1)
    starts = np.roll(points, 1, axis=0)
    met = [Joined(run._replace(t0=float(t0[k]), t1=float(t1[k])), starts[k], points[k]) for k, run in enumerate(runs)]
    return met, loose


def _parted(table: Parallels, rows: Rows, ta: Array, after: Rows, tb: Array) -> tuple[Array, Array]:
    """Places to start Newton from. Where one row meets itself closely, the swallowtail lies between the places where
    1 + k d is zero, and crosses itself near their middle plus and minus sqrt(3) half widths (the cubic cusp's own)."""
    ta, tb = ta.copy(), tb.copy()
    for k in np.flatnonzero((rows == after) & (np.abs(tb - ta) < 0.05)).tolist():
        u = np.linspace(ta[k] - 0.02, tb[k] + 0.02, 401)
        factor = trace(table, np.full(len(u), rows[k]), u).factor
        change = np.flatnonzero(np.sign(factor[1:]) != np.sign(factor[:-1]))
        if len(change) >= 2:
            lo, hi = u[change[0]], u[change[-1] + 1]
            ta[k], tb[k] = (lo + hi) / 2 - 3**0.5 * (hi - lo) / 2, (lo + hi) / 2 + 3**0.5 * (hi - lo) / 2
    return ta, tb
