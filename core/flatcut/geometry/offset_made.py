"""One way of making the rings of many outlines, the gate that they must pass, and what is told of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry import region
from flatcut.geometry.arrays import BoolArray
from flatcut.geometry.length import span_lengths
from flatcut.geometry.offset_corners import BEVEL, COINCIDE, STEPPED, TRIMMED, Joints
from flatcut.geometry.offset_feet import Stitch, places_on
from flatcut.geometry.offset_gate import SPIKE, Fault, Tips, directions, faults
from flatcut.geometry.offset_ring import Chains, Ints, Spans, after_in_ring, areas, flat_rings
from flatcut.geometry.offset_rules import TURNS_BACK, Outline, Rules, line_of, told_to_gate
from flatcut.geometry.offset_simple import CLOSED, proved_simple
from flatcut.geometry.offset_special import Special
from flatcut.geometry.offset_sure import surely_at_width
from flatcut.geometry.offset_values import CornerNote, OffsetCorner, OffsetEdge, corner_name, edge_name

NEEDLE = 0.94
"""Cosine of the angle (20°) between the two sides of a tip of the ring that is looked at ..."""

FINER = 50
"""... on chords so many times nearer to its curves."""

MANY = 8
"""Rings from which on it is quicker to prove that they are simple than to look at chords of all of them."""

ROUGH = 0.5
"""mm that the chords may stray along which the length round a ring is taken."""

CUT_BACK = 1.0
"""Widths by which the wider allowance may be cut back before it is told of."""


class Made(NamedTuple):
    """Joints after all rows, the corners that overrule them, by their row, and what was noted of each outline."""

    c: Chains
    rules: Rules
    joints: Joints
    specials: dict[int, Special]
    notes: list[list[str]]


class Gate:
    """The gate for the rings of some chains."""

    def __init__(self, c: Chains, rules: Rules, inward: bool, slack: float):
        self.c, self.rules, self.inward, self.slack = c, rules, inward, slack
        rows = c.rows
        self._unlike = (rows.near != rows.far) | (rows.far != rows.near[c.after]) | rules.ended | rules.stepped
        self._bare = (np.minimum(rows.near, rows.far) <= slack) | rules.ended
        self.plain = np.zeros(len(c.mirrored), dtype=np.bool_)  # whose stitch lines are proved simple on the way
        self.easy = ~self._of_chains(self._unlike | self._bare | (rules.turn[:, 1] < TURNS_BACK))

    @cached_property
    def mixed(self) -> BoolArray:
        """Which chains have unequal widths or corners of other kinds."""
        return self._of_chains(self._unlike)

    @cached_property
    def bare(self) -> BoolArray:
        """Where there is no width to be kept, nothing but this tells that a ring cuts into the cloth."""
        return self._of_chains(self._bare)

    def _of_chains(self, rows: BoolArray) -> BoolArray:
        """Which chains have one of these rows."""
        having = np.zeros(len(self.c.mirrored), dtype=np.bool_)
        having[self.c.chain[rows]] = True
        return having

    @cached_property
    def told(self) -> tuple[Stitch, Tips]:
        """What is looked at closely."""
        return told_to_gate(self.c, self.rules)

    def passed(self, spans: Spans, tolerance: float, *, careful: bool = False) -> tuple[BoolArray, dict[int, Fault]]:
        """Which chains have a ring that is simple, runs in the sense of its source, lies on the right side of it, and
        is where its allowances say; and the faults of the others, where a place is known.

        careful: every chain is looked at in more places, not only those with unequal widths or corners of other kinds.
        The ring is judged to be simple on chords within `tolerance` mm; its area may err by that along its length.
        """
        if careful:
            return self._looked_at(spans, tolerance, careful)
        sure = self._sure(spans)
        rest = ~sure[spans.chain]
        if not rest.any():
            return sure, {}
        right, found = self._looked_at(spans.of(rest), tolerance, careful)
        return right | sure, found

    def _sure(self, spans: Spans) -> BoolArray:
        """Which chains have a ring for certain of which all this holds: of one width, plainly simple."""
        c, can = self.c, self.easy[spans.chain]
        count = len(self.easy)
        if not can.all():
            spans = spans.of(can)
        if not len(spans.chain):
            return np.zeros(count, dtype=np.bool_)
        area = areas(spans.controls, spans.chain, count)
        both = np.concatenate([spans.controls, c.rows.controls]), np.concatenate([spans.chain, c.chain + count])
        sure, self.plain = proved_simple(*both, 2 * count, SPIKE).reshape(2, count)
        sure &= area * c.area > 0
        sure &= np.abs(area) <= np.abs(c.area) if self.inward else np.abs(area) >= np.abs(c.area)
        sure &= surely_at_width(spans.controls, spans.chain, line_of(c, self.rules), self.slack)
        return np.asarray(sure, dtype=np.bool_)

    def _looked_at(self, spans: Spans, tolerance: float, careful: bool) -> tuple[BoolArray, dict[int, Fault]]:
        """As `passed`, looked at in many places."""
        c = self.c
        count = len(c.mirrored)
        proved = proved_simple(spans.controls, spans.chain, count) if count >= MANY else np.zeros(count, dtype=np.bool_)
        rough, of = flat_rings(spans.controls, spans.straight, spans.chain, tolerance=ROUGH)
        area = areas(spans.controls, spans.chain, count)
        first = np.searchsorted(of, np.arange(count + 1))
        there = np.flatnonzero(np.diff(first))
        following = np.roll(rough, -1, axis=0)
        following[first[there + 1] - 1] = rough[first[there]]
        step = np.abs(rough - following)
        around = np.bincount(of, weights=step[:, 0] + step[:, 1], minlength=count)
        larger = np.abs(area) - np.abs(c.area)
        right = np.sign(area) == np.sign(c.area)
        right &= (-larger if self.inward else larger) >= -(tolerance + self.slack) * around
        right &= np.bincount(spans.chain, weights=_open_ends(spans), minlength=count) == 0
        rest = ~proved[spans.chain]
        points, owner = flat_rings(spans.controls[rest], spans.straight[rest], spans.chain[rest], tolerance=tolerance)
        right &= proved | region.simple_owned(points, owner, count)
        needled = np.flatnonzero(
            right & ~proved & (np.bincount(spans.chain, weights=_needles(spans), minlength=count) > 0)
        )
        if len(needled):  # two spans that turn back so sharply may cross by less than the chords show
            mine = np.isin(spans.chain, needled)
            fine, owner_of = flat_rings(
                spans.controls[mine], spans.straight[mine], spans.chain[mine], tolerance=tolerance / FINER
            )
            looked = np.split(fine, np.searchsorted(owner_of, needled[1:]))
            right[needled] = region.simple_rings(looked)
        found: dict[int, Fault] = {}
        if right.any():
            mine = right[spans.chain]
            found = faults(
                *self.told,
                (spans.controls[mine], spans.chain[mine]),
                slack=self.slack,
                careful=self.mixed | careful,
            )
            right[list(found)] = False
        beside = np.flatnonzero(right & (self.bare | careful))
        if len(beside):
            found |= self.cut_into(spans, beside, tolerance)
            right[list(found)] = False
        for i in np.flatnonzero(~right & (np.bincount(owner, minlength=count) > 2)).tolist():
            place = region.crossing_place(points[owner == i]) if i not in found else None
            if place is not None:
                found[i] = Fault(place, -1, 0.0, "crossing")
        return np.asarray(right, dtype=np.bool_), found

    def cut_into(self, spans: Spans, chains: Ints, tolerance: float) -> dict[int, Fault]:
        """Where rings of some chains lie on the wrong side of their stitch lines."""
        rows, mine = np.isin(self.c.chain, chains), np.isin(spans.chain, chains)
        points, owner = flat_rings(
            self.c.rows.controls[rows], self.c.rows.straight[rows], self.c.chain[rows], tolerance=tolerance
        )
        places, of = places_on(spans.controls[mine], spans.chain[mine], np.ones(len(self.mixed), dtype=np.bool_))
        found = {}
        for i in chains.tolist():
            line, here = points[owner == i], places[of == i]
            wrong = here[region.contains(line, here) != self.inward]
            if len(wrong):
                deep = region.distance_to(line, wrong)
                if deep.max() > self.slack + tolerance:
                    found[i] = Fault(wrong[np.argmax(deep)], -1, float(deep.max()), "inside")
        return found


def _needles(spans: Spans) -> BoolArray:
    """Spans at whose end the ring turns back."""
    arrive, leave = directions(spans.controls[:, ::-1]), directions(spans.controls)[after_in_ring(spans.chain)]
    return np.asarray((arrive * leave).sum(axis=1) > NEEDLE, dtype=np.bool_)


def _open_ends(spans: Spans) -> BoolArray:
    """Spans that do not end where the next one of their ring begins."""
    near = np.abs(spans.controls[:, 3] - spans.controls[after_in_ring(spans.chain), 0]) <= CLOSED
    return np.asarray(~(near[:, 0] & near[:, 1]), dtype=np.bool_)


def fault_of(outline: Outline, c: Chains, i: int, fault: Fault | None) -> GeometryError:
    """The sentence for an outline of which no ring passed."""
    edges, _ = outline
    if fault is None:
        return GeometryError(
            f"the cut line of the outline that begins with {edge_name(edges, 0)} would cross itself; "
            f"make its allowances smaller"
        )
    x, y = float(fault.place[0]), float(fault.place[1])
    mine = np.arange(c.first[i], c.first[i + 1])
    ends = c.rows.controls[mine][:, (0, 3)]
    row = fault.span if fault.span >= 0 else int(mine[np.argmin(((ends - fault.place) ** 2).sum(axis=2).min(axis=1))])
    what = {
        "near": f"come {abs(fault.short):.1f} mm nearer to it than its allowance",
        "far": "lie farther from it than its allowance",
    }.get(fault.what, "fold back on itself")
    return GeometryError(
        f"the cut line of {edge_name(edges, int(c.edge[row]))} would {what} near {x:.1f}, "
        f"{-y if c.mirrored[i] else y:.1f}; make the allowance there smaller or ease the stitch line"
    )


def worth_telling(made: Made) -> BoolArray:
    """Which outlines have a corner that something may be told of."""
    c, state = made.c, made.joints.state
    uneven = c.rows.far != c.rows.near[c.after]
    rows = c.last & ((state == BEVEL) | (state == STEPPED) | ((state == TRIMMED) & uneven))
    rows[list(made.specials)] = True
    return np.asarray(np.bincount(c.chain, weights=rows, minlength=len(made.notes)) > 0, dtype=np.bool_)


def told_of(outline: Outline, made: Made, i: int) -> list[str]:
    """The warnings about one outline: what was noted, mitres that are cut off, steps, and allowances cut back."""
    c, joints = made.c, made.joints
    edges, corners = outline
    notes = list(made.notes[i])
    mine = np.arange(c.first[i], c.first[i + 1])
    for row in mine[c.last[mine]].tolist():
        k, state = int(c.edge[row]), joints.state[row]
        corner, special = corners[k], made.specials.get(row)
        a, b = float(c.rows.far[row]), float(c.rows.near[c.after[row]])
        at = corner_name(edges, corners, k)
        steps = state == STEPPED if special is None else special.whole
        if special is None and state == BEVEL and corner.told and corner.kind != "bevelled":
            notes.append(
                CornerNote(
                    f"the mitre at {at} would reach {joints.ratio[row]:.1f} widths from the seam end and is cut off at "
                    f"{corner.limit:g}",
                    corner.name,
                )
            )
        elif steps and corner.kind != "stepped" and abs(a - b) > COINCIDE and corner.told:
            notes.append(
                CornerNote(
                    f"the cut line steps from {a:g} to {b:g} mm at {at}, square to the stitch line; "
                    f"let one taper (allowance --end-width), or {say_stepped(corner)} if it should",
                    corner.name,
                )
            )
        elif special is None and state == TRIMMED and a != b:
            wide = edge_name(edges, k if a > b else k + 1)
            end = c.rows.controls[row, 3]
            back = float(np.sqrt(max(((joints.end[row] - end) ** 2).sum() - max(a, b) ** 2, 0.0)))
            if back > CUT_BACK * max(a, b) and made.rules.turn[row, 0] > 0:
                notes.append(
                    CornerNote(
                        f"at {at} the allowance of {wide} is cut back over {back:.0f} mm, where the two cut lines "
                        f"meet; {say_stepped(corner)} if it should keep its {max(a, b):g} mm",
                        corner.name,
                    )
                )
    return notes


def say_stepped(corner: OffsetCorner) -> str:
    """What makes a corner stepped: the command, where the corner is one that a person can name."""
    return f"say: corner {corner.name} --kind=stepped," if "/" in corner.name else "make the corner stepped"


def mitred_instead(outline: Outline, c: Chains, i: int, specials: Mapping[int, Special]) -> list[str]:
    """Warnings about squared and turned corners that had to give way."""
    edges, corners = outline
    rows: Sequence[int] = [row for row in specials if c.chain[row] == i]
    return [
        CornerNote(
            f"{corner_name(edges, corners, k)} cannot be {corners[k].kind.partition('-')[0]} "
            f"beside its neighbours' allowances: it is mitred",
            corners[k].name,
        )
        for k in c.edge[rows].tolist()
    ]


def swallowed(edges: Sequence[OffsetEdge], sources: Sequence[int]) -> list[str]:
    """Warnings about edges that no span of a ring belongs to."""
    gone = set(range(len(edges))).difference(sources)
    return [
        f"{edge_name(edges, k)} ({float(span_lengths(edges[k].curve).sum()):.1f} mm long) has no part in the cut line: "
        f"the allowances close over it"
        for k in sorted(gone)
    ]
