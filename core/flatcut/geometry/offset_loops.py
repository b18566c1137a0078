"""The slow path: offsets that run into themselves or each other, and edges that they swallow.

1. Bands (offset_bands) are united with the outline, or taken from it; one ring must be left.
2. Its boundary is read back as runs of exact rows, by the labels of the segments it follows.
3. Where two runs meet, the meeting place is made exact by Newton on the exact rows. Cubics are fitted to what is left
   of each row afterwards, so nothing is ever fitted over a cusp and no cubic is cut.

Where that fails, because a fold is too tight for cubics or two allowances only touch, the boundary itself is followed
(offset_rough): chords within a quarter of the tolerance, a curve along each run.

OFFSETS. There is no cut line, and the error says so with edge, place and figures,
- where the outline is open, crosses itself or hides a corner inside an edge;
- where nothing, several parts or a hole of more than HOLE mm² would be left;
- where no ring that was made passed the gate (offset_gate).
An edge that its neighbours' allowances swallow, a step that nobody asked for, and a squared or turned corner that does
not reach its other edge and is mitred, are warnings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry import region
from flatcut.geometry.arrays import Array, BoolArray, cross, unit
from flatcut.geometry.offset_bands import SPOKE, Bands, bands_of
from flatcut.geometry.offset_corners import Joints
from flatcut.geometry.offset_exact import Parallels
from flatcut.geometry.offset_fit import Stretches, UnfitError, fit_stretches
from flatcut.geometry.offset_ring import Chains, Ints, Runs, Spans
from flatcut.geometry.offset_rough import CRUMB, followed
from flatcut.geometry.offset_runs import (
    DEBRIS,
    DEBRIS_SHARE,
    Joined,
    Run,
    Swept,
    folded,
    joined,
    overswept,
    swept,
    without_debris,
)
from flatcut.geometry.offset_special import Special

TOUCH = 1e-6
"""mm: a boundary segment follows a labelled one when its middle lies this close to it."""

SAME_PLACE = 1e-4
"""mm: a run goes on while its place on the row does, to this."""

HOLE = 10.0
"""mm²: allowances that close around less than this (a spot of 3 by 3 mm) close over it; the cut line goes round."""

SLIVER = 0.5
"""Part of the tolerance: a part thinner than this comes from the chords, not from the outline."""


def rings_by_bands(
    c: Chains,
    chain: int,
    joints: Joints,
    runs: Runs,
    specials: Mapping[int, Special],
    *,
    inward: bool,
    tolerance: float,
    exact: bool,
    name: Callable[[int], str],
) -> Iterator[tuple[Spans, list[str]] | GeometryError]:
    """Rings of one chain by its bands, one after the other, and warnings about steps; or an error in the place of one.
    `name` calls edge i by its name; `exact`: first along its rows, then by following the boundary.

    Errors: GeometryError as under OFFSETS.
    """
    bands = bands_of(c, chain, joints, runs, specials, tolerance=tolerance)
    outline = np.concatenate(bands.outline)
    parts = region.subtracted(outline, bands.rings) if inward else region.united([outline, *bands.rings])
    told: list[str] = []
    ring = _only_ring(parts, bands, inward, tolerance, name, told, flip=bool(c.mirrored[chain]))
    if np.sign(region.ring_area(ring)) != np.sign(c.area[chain]):
        ring = ring[::-1]
    table = bands.table()
    mine = slice(c.first[chain], c.first[chain + 1])  # no other outline of the batch has a say
    widest = float(max(table.near[mine].max(), table.far[mine].max()))
    found = _read(ring, bands, table)
    most = max(DEBRIS, DEBRIS_SHARE * widest)
    if exact:
        try:
            yield _along_rows(c, chain, bands, found, most, tolerance, name, list(told))
        except GeometryError as error:
            yield error
    for crumb in (CRUMB, 0.0):
        notes = list(told)
        spans = followed(found, bands, chain, tolerance=tolerance, most=most, crumb=crumb, name=name, notes=notes)
        yield spans, notes


def _along_rows(
    c: Chains,
    chain: int,
    bands: Bands,
    found: list[Run],
    most: float,
    tolerance: float,
    name: Callable[[int], str],
    notes: list[str],
) -> tuple[Spans, list[str]]:
    """The ring along exact rows that meet exactly. Errors: GeometryError."""
    found = without_debris(found, most, tolerance, bands, name, notes)
    stretches = joined(bands, found, most=most, tolerance=tolerance, name=name)
    table = bands.table()
    runs = [run for run, _, _ in stretches]
    edges: dict[int, Swept | None] = {}
    for run, back in zip(runs, folded(table, runs), strict=True):
        source = bands.source[run.row]
        if source not in edges:
            own = [r for r in range(c.first[chain], c.first[chain + 1]) if bands.source.get(r) == source]
            edges[source] = swept(table, own) if own else None
        edge = edges[source]
        if back or (edge is not None and overswept(table, run, edge, tolerance)):
            raise GeometryError(_fold(bands, run, name))
    try:
        controls, straight, row = _fitted(table, stretches, tolerance)
    except UnfitError as error:
        raise GeometryError(_fold(bands, stretches[error.number][0], name)) from None
    sources = np.array([bands.source[r] for r in row], dtype=np.intp)
    spans = Spans(controls, straight, np.full(len(row), chain, dtype=np.intp), sources)
    return spans, notes


def _fold(bands: Bands, run: Run, name: Callable[[int], str]) -> str:
    edge = bands.source[run.row]
    return (
        f"the radius of {name(edge if edge >= 0 else -1 - edge)} is no more than its allowance near one end: the cut "
        f"line would fold there; change the width or ease the curve"
    )


def _only_ring(
    parts: list[region.Part],
    bands: Bands,
    inward: bool,
    tolerance: float,
    name: Callable[[int], str],
    notes: list[str],
    *,
    flip: bool,
) -> Array:
    """The one ring that is left; a hole or a second part is an error with its area, its place (y turned round where
    `flip`) and the edge it lies at."""

    def near(ring: Array) -> str:
        x, y = (ring.min(axis=0) + ring.max(axis=0)) / 2
        return f"near {x:.0f}, {-y if flip else y:.0f}"

    def thick(ring: Array) -> bool:
        around = float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())
        return abs(region.ring_area(ring)) > SLIVER * tolerance * around / 2

    parts = [part for part in parts if thick(part.ring)]
    if not parts:
        raise GeometryError("nothing is left of the outline inside its allowances; make them smaller")
    if not inward:
        parts = parts[:1]  # what does not hang together with the outline is no allowance of it
    spots = [part for part in parts[1:] if abs(region.ring_area(part.ring)) <= HOLE]
    if spots and len(parts) == len(spots) + 1:
        size = max(abs(region.ring_area(part.ring)) for part in spots)
        notes.append(
            f"a spot of {size:.1f} mm² at {_edge_at(spots[0].ring, bands, name)} is cut off by the allowances and gone"
        )
        parts = parts[:1]
    if len(parts) > 1:
        areas = " and ".join(f"{abs(region.ring_area(part.ring)):.0f} mm²" for part in parts)
        raise GeometryError(
            f"the outline falls into {len(parts)} parts inside its allowances ({areas}), "
            f"the smaller {near(parts[-1].ring)}, divided at {_edge_at(parts[1].ring, bands, name)}; make the "
            f"allowance there smaller"
        )
    holes = [hole for hole in parts[0].holes if abs(region.ring_area(hole)) > HOLE]
    if holes:
        hole = max(holes, key=lambda h: abs(region.ring_area(h)))
        raise GeometryError(
            f"the allowance of {_edge_at(hole, bands, name)} closes around a hole of "
            f"{abs(region.ring_area(hole)):.0f} mm² {near(hole)}; make it smaller there, or the gap wider"
        )
    return parts[0].ring[:-1]


def _edge_at(ring: Array, bands: Bands, name: Callable[[int], str]) -> str:
    """The edge whose offset bounds most of a ring."""
    start, end, row, _, _ = bands.segments()
    middle = (ring[:-1] + ring[1:]) / 2
    which, segment = region.near_segments(start, end, middle, within=TOUCH)
    size = np.linalg.norm(np.diff(ring, axis=0), axis=1)
    total: dict[int, float] = {}
    for k, s in zip(which.tolist(), segment.tolist(), strict=True):
        if row[s] != SPOKE:
            edge = bands.source[int(row[s])]
            total[edge] = total.get(edge, 0.0) + float(size[k])
    edges = sorted(total, key=lambda e: -total[e])
    return name(edges[0] if edges[0] >= 0 else -1 - edges[0]) if edges else "one of the edges"


def _without_slits(ring: Array) -> Array:
    """A ring without the places where it goes out and straight back: what rounding leaves between two bands."""
    while len(ring) > 3:
        u, v = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        longest = np.sqrt(np.maximum((u * u).sum(axis=1), (v * v).sum(axis=1)))
        back = (np.abs(cross(u, v)) <= TOUCH * longest) & ((u * v).sum(axis=1) <= 0)
        if not back.any():
            break
        # never two neighbours at once: each is judged by the other
        back[1:] &= ~back[:-1]
        ring = ring[~back]
    return ring


def _read(ring: Array, bands: Bands, table: Parallels) -> list[Run]:
    """The boundary as runs of rows, from some place where one run ends."""
    ring = _without_slits(ring)
    start, end, row, t_start, t_end = bands.segments()
    a, b = ring, np.roll(ring, -1, axis=0)
    long_enough = np.linalg.norm(b - a, axis=1) > 1e-9
    a, b = a[long_enough], b[long_enough]
    which, segment = region.near_segments(start, end, (a + b) / 2, within=TOUCH)
    along = end[segment] - start[segment]
    way = b[which] - a[which]
    size = np.linalg.norm(along, axis=1)
    align = (along * way).sum(axis=1) / np.maximum(size * np.linalg.norm(way, axis=1), 1e-300)
    # a row walked forward first, then the nearest in direction; then sides of bands
    rank = np.where((row[segment] != SPOKE) & (align > 0), 0.0, 10.0) - align
    order = np.lexsort((rank, which))
    first = np.unique(which[order], return_index=True)
    chosen = np.full(len(a), -1, dtype=np.intp)
    chosen[first[0]] = segment[order][first[1]]
    label = np.where((chosen >= 0), row[chosen], SPOKE)
    best = np.zeros(len(a))
    best[first[0]] = rank[order][first[1]]
    label[best >= 0] = SPOKE  # nothing that runs along it
    d = end[chosen] - start[chosen]
    scale = (d * d).sum(axis=1)
    scale = np.where(scale > 0, scale, 1.0)
    f0, f1 = (((x - start[chosen]) * d).sum(axis=1) / scale for x in (a, b))
    t0 = t_start[chosen] + f0 * (t_end - t_start)[chosen]
    t1 = t_start[chosen] + f1 * (t_end - t_start)[chosen]
    pace = np.where(
        t_end != t_start,
        np.sqrt(((end - start) ** 2).sum(axis=1)) / np.where(t_end != t_start, t_end - t_start, 1.0),
        0.0,
    )[chosen]
    t_before = np.roll(t1, 1)
    goes_on = (label == np.roll(label, 1)) & ((label == SPOKE) | (np.abs(t0 - t_before) * pace < SAME_PLACE))
    breaks = np.flatnonzero(~goes_on)
    if len(breaks) == 0:
        breaks = np.array([0])
    runs = []
    for k, lo in enumerate(breaks.tolist()):
        hi = int(breaks[(k + 1) % len(breaks)]) - 1
        part = a[lo : hi + 1] if hi >= lo else np.concatenate([a[lo:], a[: hi + 1]])
        way = unit(b[hi] - a[lo])
        bow = float(np.abs(cross(part - a[lo], np.broadcast_to(way, part.shape))).max())
        whole = np.concatenate([part, b[hi][None]])
        runs.append(Run(int(label[lo]), float(t0[lo]), float(t1[hi]), a[lo], b[hi], bow, whole))
    return runs


def _fitted(table: Parallels, met: list[Joined], tolerance: float) -> tuple[Array, BoolArray, Ints]:
    """Controls, straight marks and table rows of the finished spans. Errors: UnfitError with the number of the run."""
    bent: list[int] = [k for k, (run, _, _) in enumerate(met) if not table.straight[run.row]]
    column = [met[k] for k in bent]
    stretches = Stretches(
        np.array([run.row for run, _, _ in column], dtype=np.intp),
        np.array([run.t0 for run, _, _ in column]),
        np.array([run.t1 for run, _, _ in column]),
        np.array([a for _, a, _ in column]).reshape(-1, 2),
        np.array([b for _, _, b in column]).reshape(-1, 2),
    )
    try:
        fitted, owner = fit_stretches(table, stretches, tolerance=tolerance)
    except UnfitError as error:
        raise UnfitError(bent[error.number]) from None
    controls, straight, rows = [], [], []
    for k, (run, a, b) in enumerate(met):
        own = fitted[owner == bent.index(k)] if k in bent else np.array([[a, a + (b - a) / 3, b - (b - a) / 3, b]])
        controls.append(own)
        straight += [k not in bent] * len(own)
        rows += [run.row] * len(own)
    return np.concatenate(controls), np.array(straight, dtype=np.bool_), np.array(rows, dtype=np.intp)
