"""A kink in an edge made fair over a stated way to either side: one curve that keeps its ends and their directions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import cross
from flatcut.geometry.curves import Curve, chain, point, section, tangent
from flatcut.geometry.fairness import fairness
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.nearest import nearest
from flatcut.pattern.values import Edge, Piece
from flatcut.pattern.walking import part_at
from flatcut.reshape.cycle import with_edge

KINK = 0.1
"""Degrees: a smaller kink is none."""
NODE = 1e-6
"""A place so near to a node is that node."""
WIDER = (1.0, 2.0, 4.0, 8.0)
"""Times the stated way that are tried where the curve would bend to a new side, or more tightly than the edge did."""
TIGHTER = 1.25
"""Times the tightest bend of the edge as it was that a fair line may have."""
PLACES = 40
"""Places on each span at which its bend is measured."""
CHECKED = 60
"""Places at which the move is measured."""


@dataclass(frozen=True, kw_only=True)
class Blended:
    """piece: with the edge made fair; kink: degrees before; reach: mm to either side, the longer one; largest: mm that
    it moved; change: mm by which the edge is longer.
    """

    piece: Piece
    kink: float
    reach: float
    largest: float
    change: float


def blended(
    piece: Piece, edge: Edge, at: float, reach: float, *, bends: int, tightest: float = np.inf
) -> Blended | None:
    """The piece with an edge made fair beside `at` (mm drawn), `reach` mm to either side or to its corner or dart.

    bends: how often the edge may bend to the other side; tightest: the curvature (1/mm) that it may have, and a quarter
    more; where it would be more, a longer way is taken.
    None where there is no kink.
    """
    k, u = part_at(edge, at)
    part = edge.parts[k]
    total, here = length(part), length_to(part, u)
    best: tuple[float, Curve, float, float, float] | None = None
    for wider in WIDER:
        low, high = max(0.0, here - wider * reach), min(total, here + wider * reach)
        a, b = (_onto_node(place_at(part, at)) for at in (low, high))
        window = section(part, a, b)
        kink = max([_kink(window, j) for j in range(1, len(window))], default=0.0)
        if kink < KINK:
            return None
        # the edge beyond the window tells the directions: at its ends there may be a kink
        leave, arrive = tangent(part, a, before=a > 0), tangent(part, b, before=b >= len(part))
        try:
            fair = flowing([window.start, window.end], leave=leave, arrive=arrive)
        except GeometryError:
            continue
        whole = [section(part, 0.0, a)] if a > 1e-9 else []
        whole.append(fair)
        whole += [section(part, b, float(len(part)))] if b < len(part) - 1e-9 else []
        made = chain(whole, within=1e-6)
        others = sum(fairness(p).inflections for j, p in enumerate(edge.parts) if j != k)
        tight = max(0.0, tightest_of([fair]) / tightest - TIGHTER) if np.isfinite(tightest) and tightest > 0 else 0.0
        more = max(0, others + fairness(made).inflections - bends) * 10.0 + tight
        if best is None or more < best[0]:
            best = more, made, max(here - low, high - here), _largest(window, fair), kink
        if more == 0:
            break
    if best is None:
        return None
    _, made, way, largest, kink = best
    parts = (*edge.parts[:k], made, *edge.parts[k + 1 :])
    return Blended(
        piece=with_edge(piece, replace(edge, parts=parts)),
        kink=kink,
        reach=way,
        largest=largest,
        change=length(made) - total,
    )


def _onto_node(u: float) -> float:
    return float(round(u)) if abs(u - round(u)) < NODE else u


def tightest_of(curves: Sequence[Curve]) -> float:
    """The largest curvature, 1/mm, of curves."""
    most = 0.0
    for curve in curves:
        d = np.diff(curve.controls, axis=1)
        dd = np.diff(d, axis=1)
        t = np.linspace(0.0, 1.0, PLACES)[:, None, None]
        first = 3 * ((1 - t) ** 2 * d[None, :, 0] + 2 * t * (1 - t) * d[None, :, 1] + t**2 * d[None, :, 2])
        second = 6 * ((1 - t) * dd[None, :, 0] + t * dd[None, :, 1])
        speed = np.maximum(np.hypot(first[..., 0], first[..., 1]), 1e-9)
        most = max(most, float((np.abs(cross(first, second)) / speed**3).max()))
    return most


def bends_of(edge: Edge) -> int:
    """How often an edge bends to the other side."""
    return sum(fairness(part).inflections for part in edge.parts)


def _kink(curve: Curve, j: int) -> float:
    into, out = tangent(curve, float(j), before=True), tangent(curve, float(j))
    return float(np.degrees(abs(np.arctan2(cross(into, out), into @ out))))


def _largest(old: Curve, new: Curve) -> float:
    away = 0.0
    for a, b in ((old, new), (new, old)):
        away = max(away, float(nearest(b, point(a, np.linspace(0.0, len(a), CHECKED)))[1].max()))
    return away
