"""A kink in an edge made fair over a stated way to either side: one curve that keeps its ends and their directions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, chain, point, section, tangent
from flatcut.geometry.even import most_even
from flatcut.geometry.fairness import fairness
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import ending_at, starting_at
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
    it moved; change: mm by which the edge is longer. sharper: the tightest bend over that which the edge had before, 0
    where that is no more than it may be; bent: how many times more often it bends to the other side than it may.
    """

    piece: Piece
    kink: float
    reach: float
    largest: float
    change: float
    sharper: float = 0.0
    bent: int = 0


def blended(
    piece: Piece, edge: Edge, at: float, reach: float, *, bends: int, tightest: float = np.inf
) -> Blended | None:
    """The piece with an edge made fair beside `at` (mm drawn), `reach` mm to either side or to its corner or dart.

    bends: how often the edge may bend to the other side; tightest: the curvature (1/mm) that it may have, and a quarter
    more; where it would be more, a longer way is taken, and then a curve that bends as evenly as its ends allow. Where
    none is as wanted the best is taken, which `sharper` and `bent` tell. None where there is no kink.
    """
    k, u = part_at(edge, at)
    part = edge.parts[k]
    total, here = length(part), length_to(part, u)
    others = sum(fairness(p).inflections for j, p in enumerate(edge.parts) if j != k)
    best: _Tried | None = None
    for made, wider in ((make, wider) for make in (_flowing, _even) for wider in WIDER):
        tried = _tried(part, here, wider * reach, made)
        if tried is None:
            return None
        if isinstance(tried, _Tried):
            bent = max(0, others + fairness(tried.whole).inflections - bends)
            sharp = tightest_of([tried.fair]) / tightest if np.isfinite(tightest) and tightest > 0 else 0.0
            tried = replace(tried, bent=bent, sharper=sharp if sharp > TIGHTER else 0.0)
            if best is None or tried.more < best.more:
                best = tried
            if best.more == 0:
                break
    if best is None:
        return None
    parts = (*edge.parts[:k], best.whole, *edge.parts[k + 1 :])
    return Blended(
        piece=with_edge(piece, replace(edge, parts=parts)),
        kink=best.kink,
        reach=best.reach,
        largest=best.largest,
        change=length(best.whole) - total,
        sharper=best.sharper,
        bent=best.bent,
    )


@dataclass(frozen=True, kw_only=True)
class _Tried:
    """A part made fair: fair, the new stretch of it; whole, all of it; the rest as in Blended."""

    fair: Curve
    whole: Curve
    kink: float
    reach: float
    largest: float
    sharper: float = 0.0
    bent: int = 0

    @property
    def more(self) -> float:
        """How far it is from what is wanted; 0 for as wanted."""
        return self.bent * 10.0 + max(0.0, self.sharper - TIGHTER)


def _flowing(start: Array, leave: Array, end: Array, arrive: Array) -> Curve | None:
    try:
        return flowing([start, end], leave=leave, arrive=arrive)
    except GeometryError:
        return None


def _even(start: Array, leave: Array, end: Array, arrive: Array) -> Curve | None:
    return most_even(start, leave, end, arrive)


def _tried(
    part: Curve, here: float, reach: float, make: Callable[[Array, Array, Array, Array], Curve | None]
) -> _Tried | bool | None:
    """A part made fair `reach` mm to either side of a place; None where it has no kink, False where that fails."""
    total = length(part)
    low, high = max(0.0, here - reach), min(total, here + reach)
    a, b = (_onto_node(place_at(part, at)) for at in (low, high))
    window = section(part, a, b)
    kink = max([_kink(window, j) for j in range(1, len(window))], default=0.0)
    if kink < KINK:
        return None
    # the edge beyond the window tells the directions: at its ends there may be a kink
    fair = make(window.start, tangent(part, a, before=a > 0), window.end, tangent(part, b, before=b >= len(part)))
    if fair is None:
        return False
    fair = ending_at(starting_at(fair, window.start), window.end)
    whole = [section(part, 0.0, a)] if a > 1e-9 else []
    whole.append(fair)
    whole += [section(part, b, float(len(part)))] if b < len(part) - 1e-9 else []
    return _Tried(
        fair=fair,
        whole=chain(whole, within=1e-6),
        kink=kink,
        reach=max(here - low, high - here),
        largest=_largest(window, fair),
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
