"""The offset of an outline with a width per edge and a corner kind per corner: the cut line of a stitch line.

A clockwise outline (on the screen, y down) has its outside on the left of the walk; outlines may run either way, and
what is outward is decided by the sense in which they run (see offset_ring for the one conversion).

Fast: every corner is solved for itself, the curved stretches of all outlines are fitted in one call, and each ring
must pass the gate: simple, in the sense of its source, and everywhere where the allowances say (offset_gate). What does
not pass has loops, swallowed edges or a corner that was solved wrongly, and is made anew from the bands that its
allowances cover (offset_loops), by exact rows and then by following the boundary, through the same gate. No ring is
returned unverified.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry import region
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.arrays import Ints as Ints
from flatcut.geometry.curves import cut_up
from flatcut.geometry.offset_corners import RUNS_ON, UNEQUAL, UNSOLVED, only_full_ends, solve_joints
from flatcut.geometry.offset_crumbs import short_starts, tidied
from flatcut.geometry.offset_cusps import parted, whole_sources, with_cusps
from flatcut.geometry.offset_fit import UnfitError
from flatcut.geometry.offset_gate import Fault
from flatcut.geometry.offset_made import (
    MANY,
    Gate,
    Made,
    fault_of,
    mitred_instead,
    swallowed,
    told_of,
    worth_telling,
)
from flatcut.geometry.offset_ring import (
    Chains,
    Spans,
    after_in_ring,
    assemble,
    courses,
    flat_rings,
    gathered,
    runs_between,
    sound,
    without_crumbs,
)
from flatcut.geometry.offset_rules import Outline, rules_of
from flatcut.geometry.offset_simple import proved_simple
from flatcut.geometry.offset_special import Corner, Special, met_far, solve_special, stepped
from flatcut.geometry.offset_values import (
    CornerNote,
    Drawn,
    OffsetCorner,
    OffsetEdge,
    OutlineOffset,
    all_sound,
    corner_name,
    drawn,
    edge_name,
    refuse_bad_input,
)

CORNER = math.cos(math.radians(15.0))
"""Cosine of a turn: a sharper one inside an edge is a corner that has not been named; a smaller one is mitred."""

NEEDLE = math.cos(math.radians(170.0))
"""Cosine of a turn: at a sharper one two edges may cross by less than the chords show, and it is looked at finely."""

POINT = 1e-6
"""mm: a shorter straight span is no span, but the rounding of its ends."""

MITRED = 2
"""Of the ways to make a ring by its bands the first that mitres squared and turned corners."""

CRUMBS = 0.7
"""Tolerances by which a ring may move where a short span is left out of it."""

MOST_KEPT, NEAR_CRUMB = 4, 2.0
"""Of short spans so many are kept, one after the other, for which the gate found a fault within so many mm."""

TOGETHER = 200
"""Outlines in one go: with more the tables outgrow what a processor keeps at hand, with fewer each costs more calls."""

SLACK = 1.5
"""Tolerances that a place may be off at the gate: the fit takes one, where two ends are joined a quarter more."""


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
    if len(outlines) > TOGETHER:
        parts = (outlines[k : k + TOGETHER] for k in range(0, len(outlines), TOGETHER))
        return [answer for part in parts for answer in try_outlines(part, inward=inward, tolerance=tolerance)]
    answers: list[OutlineOffset | GeometryError | None] = [None] * len(outlines)
    table = _drawn(outlines)
    for i, (edges, corners) in () if all_sound(table, outlines) else enumerate(outlines):
        try:
            refuse_bad_input(edges, corners)
        except GeometryError as error:
            answers[i] = error
    ready = [i for i, answer in enumerate(answers) if answer is None]
    if ready:
        cut = {i: parted(*outlines[i]) for i in with_cusps(table) if answers[i] is None}
        if cut or len(ready) < len(outlines):
            sound = [cut[i][:2] if i in cut else outlines[i] for i in ready]
            table = _drawn(sound)
        else:
            sound = list(outlines)
        for i, result in zip(ready, _offset(sound, table, inward, tolerance), strict=True):
            answers[i] = result
            if isinstance(result, OutlineOffset):
                sources = whole_sources(result.sources, cut[i][2]) if i in cut else result.sources
                gone = swallowed(outlines[i][0], sources)
                if i in cut or gone:
                    answers[i] = result._replace(sources=sources, warnings=(*result.warnings, *gone))
    return [answer for answer in answers if answer is not None]


def _drawn(outlines: Sequence[Outline]) -> Drawn:
    return drawn(
        [[e.curve for e in edges] for edges, _ in outlines],
        [[(e.width, e.width if e.end_width is None else e.end_width) for e in edges] for edges, _ in outlines],
    )


def _offset(
    outlines: Sequence[Outline], table: Drawn, inward: bool, tolerance: float
) -> list[OutlineOffset | GeometryError]:
    """The fast path for all, then the slow one for those that need it."""
    c = gathered(table, None, inward)
    rules = rules_of(outlines, c)
    answers: list[OutlineOffset | GeometryError | None] = list(_refuse_hidden(outlines, c, rules.turn))
    gate = Gate(c, rules, inward, SLACK * tolerance)
    plain = bool(gate.easy.all())  # then the gate proves of most, on its way, that they do not cross themselves
    if not plain:
        _refuse_crossing(outlines, c, np.ones_like(gate.easy), rules.turn, tolerance, answers)
    specials, notes = _specials(outlines, c, np.flatnonzero(rules.ended), answers)
    rows = np.arange(len(c.rows))
    joints = solve_joints(c.rows, rows, c.after, rules, tolerance=tolerance)
    done = Made(c, rules, joints, dict(specials), [list(n) for n in notes])
    _meet_or_step(outlines, done, answers)
    unsolved = joints.state == UNSOLVED
    unsolved[list(done.specials)] = False
    runs = runs_between(c, rows, joints, done.specials, tolerance=tolerance)
    course = courses(c, runs)
    fast = np.array([a is None for a in answers])
    fast[c.chain[(unsolved | ~sound(c, runs, course)) & runs.kept]] = False
    while fast.any():
        try:
            spans = without_crumbs(assemble(c, fast, runs, course, done.specials, tolerance=tolerance), POINT)
        except UnfitError as error:
            fast[c.chain[error.number]] = False
            continue
        spans = tidied(spans, CRUMBS * tolerance)
        passed = gate.passed(spans, tolerance / 5)[0] & fast
        told = [list(done.notes[i]) for i in range(len(outlines))]
        for i in np.flatnonzero(passed & worth_telling(done)).tolist():
            told[i] = told_of(outlines[i], done, i)
        for i, answer in _answers(c, spans, passed, told):
            answers[i] = answer
        break
    if plain:
        _refuse_crossing(outlines, c, ~gate.plain, rules.turn, tolerance, answers)
    missing = [i for i, answer in enumerate(answers) if answer is None]
    if missing:
        full = only_full_ends(c.rows, rows, c.after, joints, rules.turn[:, 0])
        stepped = Made(c, rules, full, specials, notes)
        mitred = Made(c, rules, full, {}, [[] for _ in notes])
        at_one_width = rules._replace(cut_at=np.ones(len(rows)))
        blunt = solve_joints(c.rows, rows, c.after, at_one_width, tolerance=tolerance)
        bare = mitred._replace(joints=only_full_ends(c.rows, rows, c.after, blunt, rules.turn[:, 0]))
        for i in missing:
            answers[i] = _slow(outlines[i], i, gate, (done, stepped, mitred, bare), tolerance)
    return [answer for answer in answers if answer is not None]


def _meet_or_step(outlines: Sequence[Outline], made: Made, answers: Sequence[object]) -> None:
    """Unequal allowances that the next rows could not join: by rows farther on, or by a step."""
    c, joints = made.c, made.joints
    unequal = joints.state == UNEQUAL
    unequal |= (joints.state == UNSOLVED) & c.last & (c.rows.far != c.rows.near[c.after])
    for row in np.flatnonzero(unequal).tolist():
        i = int(c.chain[row])
        if row in made.specials or answers[i] is not None:
            continue
        corner = _corner(outlines[i], c, row)
        sharp = made.rules.turn[row, 1] < RUNS_ON
        made.specials[row] = (met_far(c.rows, corner) if sharp else None) or stepped(c.rows, corner)


def _refuse_hidden(outlines: Sequence[Outline], c: Chains, turn: Array) -> list[GeometryError | None]:
    """Errors for outlines that hide a corner inside an edge; turn: see `Rules`."""
    answers: list[GeometryError | None] = [None] * len(outlines)
    for row in np.flatnonzero(~c.last & (turn[:, 1] < CORNER) & turn.any(axis=1)).tolist():
        i = int(c.chain[row])
        x, y = c.rows.controls[row, 3]
        by = abs(math.degrees(math.atan2(*turn[row])))
        answers[i] = answers[i] or GeometryError(
            f"{edge_name(outlines[i][0], int(c.edge[row]))} turns by {by:.1f}° near {x:.1f}, "
            f"{-y if c.mirrored[i] else y:.1f}; make that place a corner between two edges"
        )
    return answers


def _refuse_crossing(
    outlines: Sequence[Outline],
    c: Chains,
    rest: BoolArray,
    turn: Array,
    tolerance: float,
    answers: list[OutlineOffset | GeometryError | None],
) -> None:
    """Errors in the places of those of the outlines `rest` that cross themselves."""
    if np.count_nonzero(rest) >= MANY:
        rest = rest & ~proved_simple(c.rows.controls, c.chain, len(outlines))
    if not rest.any():
        return
    sharp = np.zeros(len(outlines), dtype=np.bool_)
    sharp[c.chain[turn[:, 1] < NEEDLE]] = True
    for chosen, fine in ((rest & ~sharp, tolerance / 2), (rest & sharp, tolerance / 500)):
        mine = chosen[c.chain]
        if not mine.any():
            continue
        points, owner = flat_rings(c.rows.controls[mine], c.rows.straight[mine], c.chain[mine], tolerance=fine)
        for i in np.flatnonzero(chosen & ~region.simple_owned(points, owner, len(outlines))).tolist():
            place = region.crossing_place(points[owner == i])
            where = ""
            if place is not None:
                where = f" near {place[0]:.1f}, {-place[1] if c.mirrored[i] else place[1]:.1f}"
            first = edge_name(outlines[i][0], 0)
            answers[i] = GeometryError(
                f"the outline that begins with {first} crosses or touches itself{where}; redraw it"
            )


def _slow(
    outline: Outline, i: int, gate: Gate, ways: Sequence[Made], tolerance: float
) -> OutlineOffset | GeometryError:
    """One outline by its bands: with its corners as they are, then with steps where unequal widths do not meet, with
    its squared and turned corners as mitres too, and at last with all tips cut off at one width. The first ring that
    passes the gate."""
    edges, _ = outline
    c, trouble = gate.c, None
    for way, made in enumerate(ways):
        if way == MITRED and not any(c.chain[row] == i for row in ways[way - 1].specials):
            continue
        runs = runs_between(c, np.arange(len(c.rows)), made.joints, made.specials, tolerance=tolerance)
        from flatcut.geometry.offset_loops import rings_by_bands  # only few outlines go the long way

        tried = rings_by_bands(
            c,
            i,
            made.joints,
            runs,
            made.specials,
            inward=gate.inward,
            tolerance=tolerance,
            exact=way == 0,
            name=lambda k: edge_name(edges, k),
        )
        try:
            for found in tried:
                if isinstance(found, GeometryError):
                    continue
                spans, notes = found
                plain = without_crumbs(spans, tolerance)
                for ring in _tidier_first(plain, spans, i, tolerance):
                    passed, faults = gate.passed(ring.spans, tolerance / 25, careful=True)
                    if passed[i]:
                        told = told_of(outline, made, i) + notes
                        if way >= MITRED:
                            told += mitred_instead(outline, c, i, ways[MITRED - 1].specials)
                        told_of_all = [told if k == i else [] for k in range(len(passed))]
                        return _answers(c, ring.spans, passed, told_of_all)[0][1]
                    ring.fault = faults.get(i)
                trouble = trouble or fault_of(outline, c, i, faults.get(i))
        except GeometryError as error:
            trouble = trouble or error
    return trouble or fault_of(outline, c, i, None)


@dataclass(eq=False, repr=False)
class _Try:
    """A ring, and what the gate found wrong with it."""

    spans: Spans
    fault: Fault | None = None


def _tidier_first(plain: Spans, spans: Spans, i: int, tolerance: float) -> Iterator[_Try]:
    """One ring to be tried after the other: without its short spans, then with those that lie nearest to where the gate
    found that wrong, at last with all of them. What is the very same ring is tried once."""
    kept: list[Array] = []
    short = short_starts(plain, i)
    last: Spans | None = None
    while len(kept) < min(len(short), MOST_KEPT):
        ring = _Try(tidied(plain, tolerance, kept))
        if ring.spans is plain:
            break
        yield ring
        last = ring.spans
        if ring.fault is None:
            break
        away = [
            np.inf if any((p == k).all() for k in kept) else float(np.hypot(*(p - ring.fault.place))) for p in short
        ]
        if min(away) > NEAR_CRUMB:
            break
        kept.append(short[int(np.argmin(away))])
    if plain is not last:
        yield _Try(plain)
    if spans is not plain:
        yield _Try(spans)


def _specials(
    outlines: Sequence[Outline], c: Chains, ended: Ints, answers: list[OutlineOffset | GeometryError | None]
) -> tuple[dict[int, Special], list[list[str]]]:
    """Squared and turned corners by the row before them (`ended`), and the warnings so far."""
    solved: dict[int, Special] = {}
    notes: list[list[str]] = [[] for _ in outlines]
    for row in ended.tolist():
        i, k = int(c.chain[row]), int(c.edge[row])
        if answers[i] is not None:
            continue
        found = solve_special(c.rows, _corner(outlines[i], c, row), outlines[i][1][k].kind)
        if isinstance(found, str):
            notes[i].append(CornerNote(found, outlines[i][1][k].name))
            continue
        solved[row] = found
        if found.warning:
            notes[i].append(CornerNote(found.warning, outlines[i][1][k].name))
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


def _answers(c: Chains, spans: Spans, passed: BoolArray, notes: list[list[str]]) -> list[tuple[int, OutlineOffset]]:
    """Spans as answers, turned back from the kernel's own sense."""
    controls = spans.controls.copy()
    if c.mirrored.any():
        controls[c.mirrored[spans.chain], :, 1] *= -1.0
    controls[:, 3] = controls[after_in_ring(spans.chain), 0]  # ends are the next span's start to the last bit
    first = np.searchsorted(spans.chain, np.arange(len(passed) + 1))
    having = np.flatnonzero(passed).tolist()
    if len(having) < len(passed):
        mine = passed[spans.chain]
        controls, spans = controls[mine], spans.of(mine)
        first = np.searchsorted(spans.chain, np.append(np.flatnonzero(passed), len(passed)))
    bounds, source = first.tolist(), spans.source.tolist()
    rings = cut_up(controls, spans.straight, bounds)
    return [
        (i, OutlineOffset(ring, tuple(source[lo:hi]), tuple(notes[i])))
        for i, ring, (lo, hi) in zip(having, rings, pairwise(bounds), strict=True)
    ]
