"""What an offset of an outline is asked for and what it answers, and what each part of it is called in messages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, BoolArray, Ints
from flatcut.geometry.curves import Curve

KINDS = ("mitred", "squared-first", "squared-second", "turned-first", "turned-second", "bevelled", "stepped")
_KINDS = frozenset(KINDS)

OPEN = 1e-6
"""mm: edges of one outline must meet this closely; they are then welded to the last bit."""


class OffsetEdge(NamedTuple):
    """One edge of an outline, with its allowance.

    width: mm, >= 0; end_width: the width at the end of the edge, tapering linearly along the arc length; name: for
    messages.
    """

    curve: Curve
    width: float
    end_width: float | None = None
    name: str = ""


class OffsetCorner(NamedTuple):
    """The corner at the END of an edge, towards the next one.

    kind: mitred; squared-first or squared-second (through which of the two edges the stitch line is extended: the seam
    sewn first); turned-first or turned-second (mirrored about that edge: the hem); bevelled (cut square at one width
    from the seam end); stepped (the cut line steps from one width to the other, where the stitch line runs on).
    limit: a mitre longer than this many widths is cut off there, with a warning. Unequal allowances that do not meet
    within the limit, or meet where the stitch line runs on, step from one to the other, with a warning. told: whether
    these are worth a warning. name: for messages.
    """

    kind: str = "mitred"
    limit: float = 3.0
    told: bool = True
    name: str = ""


class CornerNote(str):
    """A warning about one corner: a sentence, and in `corner` the name of the corner.

    >>> CornerNote("the mitre is cut off", "front.side/hem").corner
    'front.side/hem'
    """

    corner: str

    def __new__(cls, text: str, corner: str = "") -> CornerNote:
        """A sentence that knows its corner."""
        made = super().__new__(cls, text)
        made.corner = corner
        return made


class OutlineOffset(NamedTuple):
    """The answer: a closed ring (its end is its start to the last bit) that runs in the sense of the source.

    sources: for each span of `curve` the number of the edge it belongs to, or -1-k for an own piece of corner k.
    warnings: one sentence each; a CornerNote where it is about a corner.
    """

    curve: Curve
    sources: tuple[int, ...]
    warnings: tuple[str, ...]


def edge_name(edges: Sequence[OffsetEdge], i: int) -> str:
    """How a message calls an edge."""
    i %= len(edges)
    return f"edge '{edges[i].name}'" if edges[i].name else f"edge {i + 1}"


def corner_name(edges: Sequence[OffsetEdge], corners: Sequence[OffsetCorner], k: int) -> str:
    """How a message calls a corner."""
    k %= len(corners)
    if corners[k].name:
        return f"corner '{corners[k].name}'"
    return f"the corner of {edge_name(edges, k)} and {edge_name(edges, k + 1)}"


class Drawn(NamedTuple):
    """Edges of many chains (closed outlines or open curves) as they are drawn: controls (n, 4, 2) and straight (n,) of
    all their spans; ends (edges,): how many spans there are up to the end of each edge; widths (edges, 2) at its start
    and end; first (chains + 1,): the edge that each chain begins with."""

    curves: list[Curve]
    controls: Array
    straight: BoolArray
    ends: Ints
    widths: Array
    first: Ints


def drawn(edges: Sequence[Sequence[Curve]], widths: Sequence[Sequence[tuple[float, float]]]) -> Drawn:
    """The edges of chains, each with its widths at start and end, in one table."""
    curves = [curve for chain in edges for curve in chain]
    parts = [curve.controls for curve in curves]
    none = np.zeros((0, 4, 2))
    return Drawn(
        curves,
        np.concatenate([*parts, none]),
        np.concatenate([*(curve.straight for curve in curves), none[:, 0, 0] > 0]),
        np.array([len(part) for part in parts], dtype=np.intp).cumsum(),
        np.array([w for chain in widths for w in chain], dtype=np.float64).reshape(-1, 2),
        np.array([0, *map(len, edges)], dtype=np.intp).cumsum(),
    )


def all_sound(d: Drawn, outlines: Sequence[tuple[Sequence[OffsetEdge], Sequence[OffsetCorner]]]) -> bool:
    """Whether `refuse_bad_input` refuses none of many outlines, looked at all at once."""
    if not outlines:
        return True
    begin, beyond = d.first[:-1], d.first[1:]
    if not (begin < beyond).all() or any(len(edges) != len(corners) for edges, corners in outlines):
        return False
    wide = (d.widths >= 0) & (d.widths < math.inf)
    start = d.controls[np.append(0, d.ends[:-1]), 0]
    after = np.arange(1, len(start) + 1)
    after[beyond - 1] = begin
    gap = np.abs(start[after] - d.controls[d.ends - 1, 3])
    kinds = all(corner.kind in _KINDS and corner.limit >= 1 for _, corners in outlines for corner in corners)
    return bool(kinds and wide.all() and (gap <= OPEN).all())


def refuse_bad_input(edges: Sequence[OffsetEdge], corners: Sequence[OffsetCorner]) -> None:
    """GeometryError for edges and corners that do not make a closed outline with allowances."""
    if not edges or len(edges) != len(corners):
        raise GeometryError(f"an outline needs one corner for each edge, not {len(corners)} for {len(edges)} edges")
    for i, edge in enumerate(edges):
        for width in (edge.width, edge.width if edge.end_width is None else edge.end_width):
            if not (math.isfinite(width) and width >= 0):
                raise GeometryError(f"the allowance of {edge_name(edges, i)} is {width} mm; it must be zero or more")
        after = edges[(i + 1) % len(edges)]
        gap = after.curve.controls[0, 0] - edge.curve.controls[-1, 3]
        if max(abs(gap[0]), abs(gap[1])) > OPEN:
            raise GeometryError(
                f"{edge_name(edges, i)} ends {math.hypot(gap[0], gap[1]):.3g} mm from where "
                f"{edge_name(edges, i + 1)} begins; close the outline"
            )
    for k, corner in enumerate(corners):
        if corner.kind not in KINDS:
            raise GeometryError(f"'{corner.kind}' is no kind of corner; choose one of {', '.join(KINDS)}")
        if not corner.limit >= 1:
            raise GeometryError(
                f"the limit of {corner_name(edges, corners, k)} is {corner.limit}; it must be at least 1"
            )
