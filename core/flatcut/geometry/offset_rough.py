"""The boundary of bands followed as it is, with its own vertices as ends of the runs. See offset_loops.

Exact meeting places are found wherever they can be. Where a fold is as tight as its allowance, or two allowances touch
without crossing, there is none to be found, but the boundary of what the allowances cover is there all the same: runs
follow their exact rows between its vertices, and where a row folds, a curve is fitted to the vertices themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line, polyline
from flatcut.geometry.fit_points import fit_points
from flatcut.geometry.offset_bands import SPOKE, Bands
from flatcut.geometry.offset_exact import Parallels
from flatcut.geometry.offset_fit import Stretches, UnfitError, fit_stretches
from flatcut.geometry.offset_ring import Spans
from flatcut.geometry.offset_runs import Run, folds, step_note

SHARE = 0.5
"""Part of the tolerance for the fit; the chords take a quarter, the rest is for what lies between."""

CORNER = np.radians(12.0)
"""A sharper turn of the boundary is kept as a corner."""

CRUMB = 0.3
"""mm: a run shorter than this goes with its neighbour."""

SAME = 1e-3
"""mm: vertices of the boundary that are one."""


class Piece(NamedTuple):
    """A stretch of the boundary: its run, the vertices (k, 2), and whether these are the run's own and nothing more."""

    run: Run
    points: Array
    whole: bool


def followed(
    runs: list[Run],
    bands: Bands,
    number: int,
    *,
    tolerance: float,
    most: float,
    crumb: float,
    name: Callable[[int], str],
    notes: list[str],
) -> Spans:
    """The ring of one chain along its boundary's vertices, within `tolerance` mm of them.

    crumb: mm below which a run goes with its neighbour; 0: the vertices alone are followed, not their rows. most: mm up
    to which the side of a band is debris and nothing to be told. Errors: GeometryError.
    """
    read = [Piece(r, r.points, True) for r in runs if r.points is not None and len(r.points) > 1]
    pieces = _without_crumbs(read, crumb)
    if not pieces:
        raise GeometryError("nothing is left of the outline inside its allowances; make them smaller")
    table = bands.table()
    curves = _along_rows(table, pieces, tolerance, bent=crumb > 0)
    source: list[int] = []
    for k, piece in enumerate(pieces):
        edge = bands.source.get(piece.run.row, -1)
        if piece.run.row == SPOKE:
            near = [bands.source.get(pieces[j].run.row, -1) for j in (k - 1, (k + 1) % len(pieces))]
            beside = sorted({e if e >= 0 else -1 - e for e in near})
            edge = -1 - beside[0]
            size = float(np.linalg.norm(piece.points[-1] - piece.points[0]))
            if size > most:
                notes.append(step_note(" and ".join(map(name, beside)), size))
        if k not in curves:
            curves[k] = _along_vertices(piece.points, SHARE * tolerance)
        source += [edge] * len(curves[k])
    controls = np.concatenate([curves[k].controls for k in range(len(pieces))])
    straight = np.concatenate([curves[k].straight for k in range(len(pieces))])
    return Spans(controls, straight, np.full(len(controls), number), np.array(source, dtype=np.intp))


def _along_rows(table: Parallels, pieces: list[Piece], tolerance: float, *, bent: bool) -> dict[int, Curve]:
    """Curves of the pieces that follow one row which does not fold there, by their numbers."""
    found: dict[int, Curve] = {}
    open_ = []
    for k, (run, points, whole) in enumerate(pieces):
        if len(points) == 2 or (
            whole and (run.row == SPOKE or table.straight[run.row]) and run.bow < SHARE * tolerance
        ):
            found[k] = line(points[0], points[-1])
        elif whole and run.row != SPOKE and not table.straight[run.row] and run.t1 > run.t0 and not folds(table, run):
            open_.append(k)
    while bent and open_:
        mine = [pieces[k] for k in open_]
        stretches = Stretches(
            np.array([piece.run.row for piece in mine], dtype=np.intp),
            np.array([piece.run.t0 for piece in mine]),
            np.array([piece.run.t1 for piece in mine]),
            np.array([piece.points[0] for piece in mine]),
            np.array([piece.points[-1] for piece in mine]),
        )
        try:
            fitted, owner = fit_stretches(table, stretches, tolerance=tolerance)
        except UnfitError as error:
            del open_[error.number]
            continue
        for number, k in enumerate(open_):
            own = fitted[owner == number]
            found[k] = Curve(own, np.zeros(len(own), dtype=np.bool_))
        break
    for k, piece in enumerate(pieces):
        if k not in found and len(piece.points) <= 4:
            found[k] = polyline(piece.points)
    return found


def _along_vertices(points: Array, tolerance: float) -> Curve:
    """Lines and curves along vertices, cornered where these turn sharply."""
    apart = np.append(True, np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)) > SAME)
    apart[-1] = True
    if len(points) > 2 and apart[:-1].sum() > 1 and np.sqrt(((points[-1] - points[apart][-2]) ** 2).sum()) <= SAME:
        apart[np.flatnonzero(apart)[-2]] = False
    points = points[apart]
    way = unit(np.diff(points, axis=0))
    turn = np.arctan2(np.abs(cross(way[:-1], way[1:])), (way[:-1] * way[1:]).sum(axis=1))
    cuts = [0, *(np.flatnonzero(turn > CORNER) + 1).tolist(), len(points) - 1]
    parts = []
    for a, b in pairwise(cuts):
        part = points[a : b + 1]
        parts.append(polyline(part) if len(part) <= 4 else fit_points(part, tolerance=tolerance, corner_angle=180.0))
    return chain(parts)


def _without_crumbs(pieces: list[Piece], crumb: float) -> list[Piece]:
    """Pieces so that none is shorter than `crumb`: a crumb's vertices go with the piece before it, or the one after."""
    if len(pieces) < 3:
        return pieces
    start = next((k for k, piece in enumerate(pieces) if _size(piece.points) >= crumb), 0)
    found: list[Piece] = []
    for piece in pieces[start:] + pieces[:start]:
        last = found[-1] if found else None
        if last and _size(piece.points) < crumb:
            found[-1] = Piece(last.run, np.concatenate([last.points, piece.points[1:]]), False)
        elif last and piece.run.row == last.run.row and _straight_on(last.points, piece.points):
            both = last.run._replace(t1=piece.run.t1, last=piece.run.last, bow=max(last.run.bow, piece.run.bow))
            found[-1] = Piece(both, np.concatenate([last.points, piece.points[1:]]), last.whole and piece.whole)
        else:
            found.append(piece)
    return found


def _straight_on(a: Array, b: Array) -> bool:
    return bool(unit(a[-1] - a[-2]) @ unit(b[1] - b[0]) > 0.999)


def _size(points: Array) -> float:
    return float(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)).sum())
