"""The offset of an outline with a width per edge and a corner kind per corner: the cut line of a stitch line.

A clockwise outline (on the screen, y down) has its outside on the left of the walk; outlines may run either way, and
what is outward is decided by the sense in which they run (see offset_ring for the one conversion).

Two paths. Fast: every corner is solved for itself, the curved stretches of all outlines are fitted in one call, and
the ring must then pass a gate (simple, same sense, larger outward and smaller inward). What does not pass has loops or
swallowed edges and goes the slow path (offset_loops), and through the same gate. No ring is returned unverified.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry import region
from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.curves import Curve
from flatcut.geometry.offset_corners import BEVEL, UNEQUAL, UNSOLVED, Joints, solve_joints
from flatcut.geometry.offset_exact import trace
from flatcut.geometry.offset_fit import UnfitError
from flatcut.geometry.offset_loops import resolved
from flatcut.geometry.offset_ring import Chains, Runs, Spans, areas, assemble, flat_rings, gather, runs_between, sound
from flatcut.geometry.offset_special import Corner, Special, met_far, solve_special, stepped
from flatcut.geometry.offset_values import (
    OffsetCorner,
    OffsetEdge,
    OutlineOffset,
    corner_name,
    edge_name,
    refuse_bad_input,
)

CORNER_ANGLE = 15.0
"""Degrees: a sharper turn inside an edge is a corner that has not been named; a smaller one is mitred."""

NEEDLE = 170.0
"""Degrees: where an outline turns back like this its two edges may cross by less than the chords show: a finer look."""

SAMPLINGS = (1, 8)
"""Chords of the slow path, as multiples: what fails at the first is tried once more before it is an error."""

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
            refuse_bad_input(edges, corners)
        except GeometryError as error:
            answers[i] = error
    ready = [i for i, answer in enumerate(answers) if answer is None]
    if ready:
        for i, result in zip(ready, _offset([outlines[i] for i in ready], inward, tolerance), strict=True):
            answers[i] = result
    return [answer for answer in answers if answer is not None]


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
    unequal = joints.state == UNEQUAL
    unequal |= (joints.state == UNSOLVED) & c.last & (c.rows.far != c.rows.near[c.after])
    for row in np.flatnonzero(unequal).tolist():
        i = int(c.chain[row])
        if row in specials or answers[i] is not None:
            continue
        found = met_far(c.rows, _corner(outlines[i], c, row)) if c.last[row] else None
        if found is not None:
            specials[row] = found
        elif c.last[row] and outlines[i][1][int(c.edge[row])].step:
            specials[row] = stepped(c.rows, _corner(outlines[i], c, row))
            notes[i].append(_unequal(outlines[i], c, row) + "; they are joined by a step")
        else:
            advice = "; make them equal, let one taper, or make the corner stepped" if c.last[row] else ""
            answers[i] = GeometryError(_unequal(outlines[i], c, row) + advice)
    decided = np.isin(np.arange(len(c.rows)), list(specials))
    runs = runs_between(c, np.arange(len(c.rows)), joints, specials, tolerance=tolerance)
    bad = (((joints.state == UNSOLVED) & ~decided) | ~sound(c, runs)) & runs.kept
    fast = np.array([a is None for a in answers]) & (np.bincount(c.chain, weights=bad, minlength=len(answers)) == 0)
    _warn_of_bevels(outlines, c, joints, ~decided, notes)
    while fast.any():
        try:
            spans = assemble(c, fast, runs, specials, tolerance=tolerance)
        except UnfitError as error:
            fast[c.chain[error.number]] = False
            continue
        passed = _gate(c, spans, inward, tolerance / 5) & fast
        for i, answer in _answers(c, spans, passed, notes):
            answers[i] = answer
        break
    for i in [i for i, answer in enumerate(answers) if answer is None]:
        answers[i] = _slow(outlines[i], c, i, joints, runs, specials, notes, inward, tolerance)
    return [answer for answer in answers if answer is not None]


def _refuse_sources(outlines: Sequence[Outline], c: Chains, tolerance: float) -> list[GeometryError | None]:
    """Errors for outlines that cross themselves or hide a corner inside an edge."""
    answers: list[GeometryError | None] = [None] * len(outlines)
    n = len(c.rows)
    at = trace(c.rows, np.concatenate([np.arange(n), c.after]), np.repeat([1.0, 0.0], n))
    turn = np.degrees(np.arctan2(cross(at.tangent[:n], at.tangent[n:]), (at.tangent[:n] * at.tangent[n:]).sum(axis=1)))
    sharp = np.bincount(c.chain, weights=np.abs(turn) > NEEDLE, minlength=len(outlines)) > 0
    for chosen, fine in ((~sharp, tolerance / 2), (sharp, tolerance / 500)):
        mine = chosen[c.chain]
        if not mine.any():
            continue
        points, owner = flat_rings(c.rows.controls[mine], c.rows.straight[mine], c.chain[mine], tolerance=fine)
        rings = np.split(points, np.searchsorted(owner, np.arange(1, len(outlines))))
        for i in np.flatnonzero(chosen & ~region.simple_rings(rings)).tolist():
            place = region.crossing_place(rings[i])
            where = ""
            if place is not None:
                where = f" near {place[0]:.1f}, {-place[1] if c.mirrored[i] else place[1]:.1f}"
            first = edge_name(outlines[i][0], 0)
            answers[i] = GeometryError(
                f"the outline that begins with {first} crosses or touches itself{where}; redraw it"
            )
    for row in np.flatnonzero(~c.last & (np.abs(turn) > CORNER_ANGLE)):
        i = int(c.chain[row])
        x, y = c.rows.controls[row, 3]
        answers[i] = answers[i] or GeometryError(
            f"{edge_name(outlines[i][0], int(c.edge[row]))} turns by {abs(turn[row]):.1f}° near {x:.1f}, "
            f"{-y if c.mirrored[i] else y:.1f}; make that place a corner between two edges"
        )
    return answers


def _slow(
    outline: Outline,
    c: Chains,
    i: int,
    joints: Joints,
    runs: Runs,
    specials: dict[int, Special],
    notes: list[list[str]],
    inward: bool,
    tolerance: float,
) -> OutlineOffset | GeometryError:
    """One outline by its bands, twice if need be: the second time with finer samples."""
    edges, corners = outline
    trouble = GeometryError("")
    for finer in SAMPLINGS:
        try:
            spans, swallowed = resolved(
                c,
                i,
                joints,
                runs,
                specials,
                inward=inward,
                tolerance=tolerance,
                finer=finer,
                name=lambda k: edge_name(edges, k),
                step=lambda k: corners[k].step or corners[k - 1].step,
            )
        except GeometryError as error:
            trouble = error
            continue
        passed = _gate(c, spans, inward, tolerance / 25)
        if passed[i]:
            notes[i] += swallowed
            return _answers(c, spans, passed, notes)[0][1]
        trouble = GeometryError(
            f"the cut line of the outline that begins with {edge_name(edges, 0)} would cross itself; "
            f"make its allowances smaller"
        )
    return trouble


def _specials(
    outlines: Sequence[Outline], c: Chains, answers: list[OutlineOffset | GeometryError | None]
) -> tuple[dict[int, Special], list[list[str]]]:
    """Squared and turned corners by the row before them, and the warnings so far; failures go into `answers`."""
    solved: dict[int, Special] = {}
    notes: list[list[str]] = [[] for _ in outlines]
    for row in np.flatnonzero(c.last).tolist():
        i, k = int(c.chain[row]), int(c.edge[row])
        kind = outlines[i][1][k].kind
        if answers[i] is not None or not kind.startswith(("squared", "turned")):
            continue
        try:
            found = solve_special(c.rows, _corner(outlines[i], c, row), kind)
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


def _corner(outline: Outline, c: Chains, row: int) -> Corner:
    """The corner after a row, for the solvers of single corners."""
    edges, corners = outline
    i, k = int(c.chain[row]), int(c.edge[row])
    two = (k + 1) % len(edges)
    mine = np.arange(c.first[i], c.first[i + 1])
    return Corner(
        mine[c.edge[mine] == k],
        mine[c.edge[mine] == two],
        corners[k].limit,
        corner_name(edges, corners, k),
        edge_name(edges, k),
        edge_name(edges, two),
    )


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
    """Which chains have a ring that is simple, runs in the sense of its source and lies on the right side of it.

    The ring is judged on chords within `tolerance` mm; its area may err by as much along its whole length.
    """
    count = len(c.mirrored)
    points, owner = flat_rings(spans.controls, spans.straight, spans.chain, tolerance=tolerance)
    rings = np.split(points, np.searchsorted(owner, np.arange(1, count)))
    area = areas(spans.controls, spans.chain, count)
    around = np.bincount(owner, weights=np.abs(points - np.roll(points, -1, axis=0)).sum(axis=1), minlength=count)
    larger = np.abs(area) - np.abs(c.area)
    right = (np.sign(area) == np.sign(c.area)) & ((-larger if inward else larger) >= -tolerance * around)
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
    """The warnings about mitres that are cut off, after the chosen rows."""
    for row in np.flatnonzero((joints.state == BEVEL) & c.last & chosen).tolist():
        i, k = int(c.chain[row]), int(c.edge[row])
        edges, corners = outlines[i]
        if corners[k].told and corners[k].kind != "bevelled":
            notes[i].append(
                f"the mitre at {corner_name(edges, corners, k)} would reach {joints.ratio[row]:.1f} widths from the "
                f"seam end and is cut off at {corners[k].limit:g}"
            )


def _unequal(outline: Outline, c: Chains, row: int) -> str:
    edges, corners = outline
    k = int(c.edge[row])
    if not c.last[row]:
        return f"the tapering allowance of {edge_name(edges, k)} cannot be drawn at a kink; make it more even"
    a, b = float(c.rows.far[row]), float(c.rows.near[c.after[row]])
    return (
        f"at {corner_name(edges, corners, k)} allowances of {a:g} and {b:g} mm cannot meet within {corners[k].limit:g} "
        f"widths of the seam end"
    )
