"""The offset of an outline with a width per edge and a corner kind per corner: the cut line of a stitch line.

A clockwise outline (on the screen, y down) has its outside on the left of the walk; outlines may run either way, and
what is outward is decided by the sense in which they run (see offset_ring for the one conversion).

Two paths. Fast: every corner is solved for itself, the curved stretches of all outlines are fitted in one call, and
the ring must then pass a gate (simple, same sense, larger outward and smaller inward). What does not pass has loops or
swallowed edges and goes the slow path (offset_loops), and through the same gate. No ring is returned unverified.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry import region
from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.curves import Curve
from flatcut.geometry.offset_corners import BEVEL, UNEQUAL, UNSOLVED, Joints, solve_joints
from flatcut.geometry.offset_exact import trace
from flatcut.geometry.offset_ring import Chains, Spans, assemble, flat_rings, gather, runs_between, sound
from flatcut.geometry.offset_special import Corner, Special, solve_special

KINDS = ("mitred", "squared-first", "squared-second", "turned-first", "turned-second", "bevelled", "stepped")

CORNER_ANGLE = 15.0
"""Degrees: a sharper turn inside an edge is a corner that has not been named; a smaller one is mitred."""

OPEN = 1e-6
"""mm: edges of one outline must meet this closely; they are then welded to the last bit."""


@dataclass(frozen=True, kw_only=True)
class OffsetEdge:
    """One edge of an outline, with its allowance.

    width: mm, >= 0; end_width: the width at the end of the edge, tapering linearly along the arc length; name: for
    messages.
    """

    curve: Curve
    width: float
    end_width: float | None = None
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class OffsetCorner:
    """The corner at the END of an edge, towards the next one.

    kind: mitred; squared-first or squared-second (through which of the two edges the stitch line is extended: the seam
    sewn first); turned-first or turned-second (mirrored about that edge: the hem); bevelled (cut square at one width
    from the seam end); stepped (the cut line steps from one width to the other, where the stitch line runs on).
    limit: a mitre longer than this many widths is cut off there, with a warning. name: for messages.
    """

    kind: str = "mitred"
    limit: float = 3.0
    name: str = ""


@dataclass(frozen=True)
class OutlineOffset:
    """The answer: a closed ring (its end is its start to the last bit) that runs in the sense of the source.

    sources: for each span of `curve` the number of the edge it belongs to, or -1-k for an own piece of corner k.
    warnings: one sentence each.
    """

    curve: Curve
    sources: tuple[int, ...]
    warnings: tuple[str, ...]


Outline = tuple[Sequence[OffsetEdge], Sequence[OffsetCorner]]


def offset_outline(
    edges: Sequence[OffsetEdge], corners: Sequence[OffsetCorner], *, inward: bool = False, tolerance: float = 0.05
) -> OutlineOffset:
    """The outline at its allowances, outward or inward.

    edges: in order, end to start and closed; corners: as many, each at the end of its edge. The true deviation of
    curved stretches is within `tolerance` mm. Errors: GeometryError with edge, corner and figures where there is no
    such ring: see OFFSETS in offset_loops.

    >>> from flatcut.geometry.curves import line, bounds
    >>> nodes = [(0, 0), (40, 0), (40, 30), (0, 30), (0, 0)]
    >>> edges = [OffsetEdge(curve=line(a, b), width=10) for a, b in zip(nodes, nodes[1:])]
    >>> bounds(offset_outline(edges, [OffsetCorner()] * 4).curve)
    (-10.0, -10.0, 50.0, 40.0)
    """
    return offset_outlines([(edges, corners)], inward=inward, tolerance=tolerance)[0]


def offset_outlines(
    outlines: Sequence[Outline], *, inward: bool = False, tolerance: float = 0.05
) -> list[OutlineOffset]:
    """Many outlines in one call, several times faster than one by one. The first failure is raised."""
    answers = try_outlines(outlines, inward=inward, tolerance=tolerance)
    for answer in answers:
        if isinstance(answer, GeometryError):
            raise answer
    return [answer for answer in answers if isinstance(answer, OutlineOffset)]


def try_outlines(
    outlines: Sequence[Outline], *, inward: bool = False, tolerance: float = 0.05
) -> list[OutlineOffset | GeometryError]:
    """As `offset_outlines`, with the error in place of each outline that has no offset."""
    answers: list[OutlineOffset | GeometryError | None] = [None] * len(outlines)
    for i, (edges, corners) in enumerate(outlines):
        try:
            _refuse_bad_input(edges, corners)
        except GeometryError as error:
            answers[i] = error
    ready = [i for i, answer in enumerate(answers) if answer is None]
    if ready:
        for i, result in zip(ready, _offset([outlines[i] for i in ready], inward, tolerance), strict=True):
            answers[i] = result
    return [answer for answer in answers if answer is not None]


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


def _refuse_bad_input(edges: Sequence[OffsetEdge], corners: Sequence[OffsetCorner]) -> None:
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


def _offset(outlines: Sequence[Outline], inward: bool, tolerance: float) -> list[OutlineOffset | GeometryError]:
    """The fast path for all, then the slow one for those that need it."""
    c = gather(
        [[e.curve for e in edges] for edges, _ in outlines],
        [[(e.width, e.width if e.end_width is None else e.end_width) for e in edges] for edges, _ in outlines],
        None,
        inward,
    )
    answers: list[OutlineOffset | GeometryError | None] = list(_refuse_sources(outlines, c, tolerance))
    specials, notes = _specials(outlines, c, answers)
    joints = _solve(outlines, c, tolerance)
    decided = np.isin(np.arange(len(c.rows)), list(specials))
    for row in np.flatnonzero((joints.state == UNEQUAL) & ~decided).tolist():
        i = int(c.chain[row])
        answers[i] = answers[i] or GeometryError(_unequal(outlines[i], c, joints, row))
    runs = runs_between(c, np.arange(len(c.rows)), joints, specials, tolerance=tolerance)
    bad = (((joints.state == UNSOLVED) & ~decided) | ~sound(c, runs)) & runs.kept
    fast = np.array([a is None for a in answers]) & (np.bincount(c.chain, weights=bad, minlength=len(answers)) == 0)
    if fast.any():
        spans = assemble(c, fast, runs, specials, tolerance=tolerance)
        passed = _gate(c, spans, inward, tolerance) & fast
        _warn_of_bevels(outlines, c, joints, passed[c.chain] & ~decided, notes)
        for i, answer in _answers(c, spans, passed, notes):
            answers[i] = answer
    for i in [i for i, answer in enumerate(answers) if answer is None]:
        answers[i] = GeometryError("the allowances of this outline run into each other; make them smaller")
    return [answer for answer in answers if answer is not None]


def _refuse_sources(outlines: Sequence[Outline], c: Chains, tolerance: float) -> list[GeometryError | None]:
    """Errors for outlines that cross themselves or hide a corner inside an edge."""
    answers: list[GeometryError | None] = [None] * len(outlines)
    points, owner = flat_rings(c.rows.controls, c.rows.straight, c.chain, tolerance=tolerance / 2)
    rings = np.split(points, np.searchsorted(owner, np.arange(1, len(outlines))))
    for i in np.flatnonzero(~region.simple_rings(rings)).tolist():
        place = region.crossing_place(rings[i])
        where = ""
        if place is not None:
            where = f" near {place[0]:.1f}, {-place[1] if c.mirrored[i] else place[1]:.1f}"
        first = edge_name(outlines[i][0], 0)
        answers[i] = GeometryError(f"the outline that begins with {first} crosses or touches itself{where}; redraw it")
    n = len(c.rows)
    at = trace(c.rows, np.concatenate([np.arange(n), c.after]), np.repeat([1.0, 0.0], n))
    turn = np.degrees(np.arctan2(cross(at.tangent[:n], at.tangent[n:]), (at.tangent[:n] * at.tangent[n:]).sum(axis=1)))
    for row in np.flatnonzero(~c.last & (np.abs(turn) > CORNER_ANGLE)):
        i = int(c.chain[row])
        x, y = c.rows.controls[row, 3]
        answers[i] = answers[i] or GeometryError(
            f"{edge_name(outlines[i][0], int(c.edge[row]))} turns by {abs(turn[row]):.1f}° near {x:.1f}, "
            f"{-y if c.mirrored[i] else y:.1f}; make that place a corner between two edges"
        )
    return answers


def _specials(
    outlines: Sequence[Outline], c: Chains, answers: list[OutlineOffset | GeometryError | None]
) -> tuple[dict[int, Special], list[list[str]]]:
    """Squared and turned corners by the row before them, and the warnings so far; failures go into `answers`."""
    solved: dict[int, Special] = {}
    notes: list[list[str]] = [[] for _ in outlines]
    for row in np.flatnonzero(c.last).tolist():
        i, k = int(c.chain[row]), int(c.edge[row])
        edges, corners = outlines[i]
        kind = corners[k].kind
        if answers[i] is not None or not kind.startswith(("squared", "turned")):
            continue
        two = (k + 1) % len(edges)
        mine = np.arange(c.first[i], c.first[i + 1])
        corner = Corner(
            mine[c.edge[mine] == k],
            mine[c.edge[mine] == two],
            corners[k].limit,
            corner_name(edges, corners, k),
            edge_name(edges, k),
            edge_name(edges, two),
        )
        try:
            found = solve_special(c.rows, corner, kind)
        except GeometryError as error:
            answers[i] = error
            continue
        if isinstance(found, str):
            notes[i].append(found)
            continue
        solved[row] = found
        if found.warning:
            notes[i].append(found.warning)
    return solved, notes


def _solve(outlines: Sequence[Outline], c: Chains, tolerance: float) -> Joints:
    """All joints: those between edges by their corners, those inside an edge as mitres."""
    kinds = [corner.kind for _, corners in outlines for corner in corners]
    n = len(c.rows)
    limit, cut_at = np.full(n, OffsetCorner.limit), np.full(n, OffsetCorner.limit)
    limit[c.last] = cut_at[c.last] = [corner.limit for _, corners in outlines for corner in corners]
    bevelled, stepped = np.zeros(n, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    bevelled[c.last] = [kind == "bevelled" for kind in kinds]
    stepped[c.last] = [kind == "stepped" for kind in kinds]
    cut_at[bevelled] = 1.0
    return solve_joints(c.rows, np.arange(n), c.after, limit=limit, cut_at=cut_at, stepped=stepped, tolerance=tolerance)


def _gate(c: Chains, spans: Spans, inward: bool, tolerance: float) -> BoolArray:
    """Which chains have a ring that is simple, runs in the sense of its source and lies on the right side of it."""
    count = len(c.mirrored)
    points, owner = flat_rings(spans.controls, spans.straight, spans.chain, tolerance=tolerance / 2)
    rings = np.split(points, np.searchsorted(owner, np.arange(1, count)))
    area = np.array([region.ring_area(r) if len(r) > 2 else 0.0 for r in rings])
    slack = 1e-9 * np.abs(c.area) + tolerance**2
    sized = np.abs(area) <= np.abs(c.area) + slack if inward else np.abs(area) >= np.abs(c.area) - slack
    right = (np.sign(area) == np.sign(c.area)) & (sized | (slack > np.abs(c.area)))
    right[right] = region.simple_rings([rings[i] for i in np.flatnonzero(right)])
    return np.asarray(right, dtype=np.bool_)


def _answers(c: Chains, spans: Spans, passed: BoolArray, notes: list[list[str]]) -> list[tuple[int, OutlineOffset]]:
    """Spans as answers, turned back from the kernel's own sense."""
    controls = spans.controls.copy()
    controls[c.mirrored[spans.chain], :, 1] *= -1.0
    found = []
    for i in np.flatnonzero(passed).tolist():
        lo, hi = np.searchsorted(spans.chain, [i, i + 1])
        ring = Curve(_closed(controls[lo:hi]), spans.straight[lo:hi])
        found.append((i, OutlineOffset(ring, tuple(spans.source[lo:hi].tolist()), tuple(notes[i]))))
    return found


def _closed(controls: Array) -> Array:
    """Spans whose ends are the next span's start, the last one's the first one's, to the last bit."""
    controls[:, 3] = np.roll(controls[:, 0], -1, axis=0)
    return controls


def _warn_of_bevels(
    outlines: Sequence[Outline], c: Chains, joints: Joints, chosen: BoolArray, notes: list[list[str]]
) -> None:
    """The warnings about mitres that were cut off, after the chosen rows."""
    for row in np.flatnonzero((joints.state == BEVEL) & c.last & chosen).tolist():
        i, k = int(c.chain[row]), int(c.edge[row])
        edges, corners = outlines[i]
        if corners[k].kind != "bevelled":
            notes[i].append(
                f"the mitre at {corner_name(edges, corners, k)} would reach {joints.ratio[row]:.1f} widths from the "
                f"seam end and is cut off at {corners[k].limit:g}"
            )


def _unequal(outline: Outline, c: Chains, joints: Joints, row: int) -> str:
    edges, corners = outline
    if not c.last[row]:
        return f"the tapering allowance of {edge_name(edges, int(c.edge[row]))} cannot be drawn; make it more even"
    k = int(c.edge[row])
    a, b = float(c.rows.far[row]), float(c.rows.near[c.after[row]])
    return (
        f"at {corner_name(edges, corners, k)} allowances of {a:g} and {b:g} mm cannot meet within {corners[k].limit:g} "
        f"widths of the seam end; make them equal, let one taper, or make the corner stepped"
    )
