"""How wide the seam allowance is along an edge: one width, tapering, or others on stretches of it."""

from __future__ import annotations

from typing import NamedTuple

from flatcut.pattern.values import Edge, Stretch
from flatcut.pattern.walking import drawn_length, sewn_length, to_drawn

LEAST = 0.01
"""mm: a shorter band is no band, but the rounding of a place."""


class Band(NamedTuple):
    """A stretch of an edge, mm of the drawn edge, and the allowance at its two ends, linear between them."""

    start: float
    end: float
    width: float
    end_width: float

    def at(self, drawn: float) -> float:
        """mm of allowance at a drawn distance within the band."""
        share = (drawn - self.start) / (self.end - self.start) if self.end > self.start else 0.0
        return self.width + min(max(share, 0.0), 1.0) * (self.end_width - self.width)


def bands(edge: Edge) -> list[Band]:
    """The allowance of an edge from its start to its end; an edge of which none was stated has none.

    >>> from flatcut.geometry.curves import line
    >>> from flatcut.pattern.values import Allowance, Position
    >>> zip_end = Stretch(start=Position(mode="start", value=0), end=Position(mode="start", value=20), width=20.0)
    >>> allowance = Allowance(width=10.0, stretches=(zip_end,))
    >>> bands(Edge(uid="e", name="e", parts=(line((0, 0), (90, 0)),), allowance=allowance))
    [Band(start=0.0, end=20.0, width=20.0, end_width=20.0), Band(start=20.0, end=90.0, width=10.0, end_width=10.0)]
    """
    total = drawn_length(edge)
    if edge.allowance is None:
        return [Band(0.0, total, 0.0, 0.0)]
    width, end_width = edge.allowance.width, edge.allowance.end_width
    found = [Band(0.0, total, width, width if end_width is None else end_width)]
    for stretch in edge.allowance.stretches:
        start, end = (to_drawn(edge, at) for at in reach(edge, stretch))
        end_width = stretch.width if stretch.end_width is None else stretch.end_width
        if end - start < LEAST:
            continue
        found = [part for band in found for part in _outside(band, start, end)]
        found.append(Band(start, end, stretch.width, end_width))
    found.sort()
    # what was too short to be a band goes to the one before it
    ends = [band.start for band in found[1:]] + [total]
    starts = [0.0, *ends[:-1]]
    return [band._replace(start=a, end=b) for band, a, b in zip(found, starts, ends, strict=True)]


def reach(edge: Edge, stretch: Stretch) -> tuple[float, float]:
    """From where to where a stretch goes, in sewn mm; what lies beyond the edge's ends is cut off."""
    total = sewn_length(edge)
    start, end = (min(max(at.along(total), 0.0), total) for at in (stretch.start, stretch.end))
    return start, end


def _outside(band: Band, start: float, end: float) -> list[Band]:
    """What of a band lies before and after a stretch."""
    found = []
    if start - band.start > LEAST:
        stop = min(start, band.end)
        found.append(Band(band.start, stop, band.width, band.at(stop)))
    if band.end - end > LEAST:
        begin = max(end, band.start)
        found.append(Band(begin, band.end, band.at(begin), band.end_width))
    return found


def even_width(edge: Edge) -> float | None:
    """mm of the allowance of an edge that has one width all along, 0 where none was stated; else None."""
    if edge.allowance is None:
        return 0.0
    width, end_width = edge.allowance.width, edge.allowance.end_width
    return None if edge.allowance.stretches or end_width not in (None, width) else width


def width_at(edge: Edge, drawn: float, *, before: bool = False) -> float:
    """mm of allowance at a drawn distance; where it steps, that after the place, or `before` it."""
    even = even_width(edge)
    if even is not None:
        return even
    found = bands(edge)
    for band in found:
        if drawn < band.end - LEAST or (before and drawn <= band.end + LEAST):
            return band.at(drawn)
    return found[-1].end_width
