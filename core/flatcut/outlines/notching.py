"""Notches cut into an outline: found, taken out, and kept as what they are and where they stood.

A notch is a small excursion from an edge that runs on behind it: at its foot the outline turns aside, and where it
comes back it turns the same way once more. It may point into the piece or out of it.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten, point, section, tangent
from flatcut.geometry.length import span_lengths
from flatcut.geometry.nearest import nearest_place
from flatcut.pattern.bridging import CLOSED, mended
from flatcut.pattern.tracing import halved, rolled, turns

DEEPEST, WIDEST = 12.0, 8.0
"""mm: a deeper or wider cut is outline or a dart (common practice, no source)."""
SLACK = 0.01
"""mm: a cut of just the limit is a notch, whatever the last digits of the drawing."""
SHALLOWEST = 1.0
"""mm: what is shallower is an unsteady hand, not a notch."""
SLIMMEST = 0.25
"""Least depth as a part of the mouth: what is flatter is a kink of the edge."""
FOOT = 20.0
"""Degrees that the outline turns at least at both feet. Larger, and wide V's are lost; smaller, and bends are taken."""
RUN_ON = 30.0
"""Degrees that the edge may turn from foot to foot: more is a corner, and which edge it is on cannot be told."""
NARROW = 1.0
"""mm: across a mouth narrower than this two nodes are too near each other to tell a direction."""
SHARP = 15.0
"""Degrees: a turn inside a notch above this is a corner of it, and tells a V (one) from a castle (two)."""
TEETH = 3
"""More notches than this foot to foot are a toothed or scalloped edge, which is outline."""


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A notch found in an outline.

    at: (2,) mm, the middle of its mouth on the closed edge; kind: slit, v, castle, u or t; into: 'in' or 'out';
    depth: mm from the edge; width: mm of the mouth.
    """

    at: Array
    kind: str
    into: str
    depth: float
    width: float


@dataclass(frozen=True, kw_only=True)
class Cleaned:
    """An outline without its notches. doubtful: places of cuts that stay, each with why."""

    ring: Curve
    cuts: tuple[Cut, ...]
    doubtful: tuple[tuple[Array, str], ...] = ()


@dataclass(frozen=True)
class _Window:
    """A notch on the ring: from node `start` over `count` spans.

    corners: how many sharp nodes it takes away; room: mm of the shorter span beside it.
    """

    start: int
    count: int
    cut: Cut
    corners: int
    room: float = 0.0

    def end(self, n: int) -> int:
        return (self.start + self.count) % n


def without_notches(ring: Curve, *, deepest: float = DEEPEST, widest: float = WIDEST, sampled: bool = False) -> Cleaned:
    """Take the notches out of a clockwise closed ring and close the edge over their mouths.

    deepest, widest: mm; sampled: the ring is points on curves, which are fitted later: mouths are closed by chords.

    >>> from flatcut.geometry.curves import polyline
    >>> v = [(0, 0), (47, 0), (50, 6), (53, 0), (100, 0), (100, 80), (0, 80), (0, 0)]
    >>> done = without_notches(polyline(v))
    >>> len(done.ring), [(cut.kind, cut.into, cut.depth, cut.at.tolist()) for cut in done.cuts]
    (4, [('v', 'in', 6.0, [50.0, 0.0])])
    """
    n = len(ring)
    found = _windows(ring, deepest, widest)
    rows = [(row, _doubt(ring, row)) for row in _rows(_best(found, n), n)]
    chosen = [w for row, doubt in rows if not doubt for w in row]
    doubtful = tuple((w.cut.at, doubt) for row, doubt in rows if doubt for w in row)
    if not chosen:
        return Cleaned(ring=ring, cuts=(), doubtful=doubtful)
    closed, cuts = _taken_out(ring, chosen, sampled)
    return Cleaned(ring=closed, cuts=cuts, doubtful=doubtful)


def _windows(ring: Curve, deepest: float, widest: float) -> list[_Window]:
    """Every stretch of the ring that could be a notch, also those that overlap."""
    n = len(ring)
    turn = turns(ring)
    spans = span_lengths(ring)
    nodes = ring.controls[:, 0]
    # along its path a notch is at most down, across and up again
    longest = 2 * deepest + 2 * widest
    found: list[_Window] = []
    feet = np.abs(turn) >= FOOT
    for i in np.flatnonzero(feet).tolist():
        gone = spans[i]
        for count in range(2, n - 1):
            gone += spans[(i + count - 1) % n]
            if gone > longest:
                break
            j = (i + count) % n
            if not feet[j] or turn[i] * turn[j] <= 0 or np.hypot(*(nodes[j] - nodes[i])) > widest + SLACK:
                continue
            window = _looked_at(ring, turn, i, count, deepest, widest)
            if window is not None:
                near = float(min(spans[i - 1], spans[j]))
                found.append(replace(window, room=near))
    return found


def _looked_at(ring: Curve, turn: Array, i: int, count: int, deepest: float, widest: float) -> _Window | None:
    n = len(ring)
    j = (i + count) % n
    inner = [(i + k) % n for k in range(1, count)]
    mouth = ring.controls[j, 0] - ring.controls[i, 0]
    width = float(np.hypot(*mouth))
    leaving, arriving = _beside(ring, i, j)
    # across a narrow mouth the direction is that of the edge beside it, across a wide one the mouth tells it better
    along = unit(mouth if width > NARROW else leaving + arriving)
    sense = float(np.sign(turn[i]))
    deep = sense * np.array([-along[1], along[0]])
    path = flatten(_stretch(ring, i, count), tolerance=0.02) - ring.controls[i, 0]
    depths, places = path @ deep, path @ along
    depth = float(depths.max()) - float(depths[-1]) / 2
    if depths.min() < -0.3 - abs(float(depths[-1])) or not SHALLOWEST <= depth <= deepest + SLACK:
        return None
    if depth < SLIMMEST * width or np.ptp(places) > widest + SLACK:
        return None
    # two notches side by side come back to the edge between them
    if any(turn[k] * sense >= FOOT and (ring.controls[k, 0] - ring.controls[i, 0]) @ deep < 0.3 for k in inner):
        return None
    sharp = [k for k in inner if abs(turn[k]) > SHARP]
    kind = _kind(ring, sharp, inner, i, width, float(np.ptp(places)))
    cut = Cut(
        at=ring.controls[i, 0] + mouth / 2, kind=kind, into="in" if sense > 0 else "out", depth=depth, width=width
    )
    return _Window(i, count, cut, len(sharp) + 2)


def _beside(ring: Curve, i: int, j: int) -> tuple[Array, Array]:
    """Unit tangents of the edge that arrives at node i and of the edge that leaves node j."""
    return tangent(ring, i if i else len(ring), before=True), tangent(ring, j)


def _kind(ring: Curve, sharp: list[int], inner: list[int], i: int, width: float, extent: float) -> str:
    """The trade's name of a notch, from its corners and whether its sides are straight."""
    straight = all(ring.straight[k] for k in (i, *inner))
    if extent > 1.4 * width + 0.6:
        return "t"
    if width < CLOSED:
        return "slit"
    if straight and len(sharp) == 2:
        bottom = float(np.hypot(*(ring.controls[sharp[1], 0] - ring.controls[sharp[0], 0])))
        return "castle" if bottom > width / 3 else "v"
    return "v" if len(sharp) == 1 else "u"


def _best(found: list[_Window], n: int) -> list[_Window]:
    """Of windows that overlap those that leave the fewest corners behind, then those with the most edge beside them.

    Between two castle notches the outline also looks like one that points the other way: two and two corners of the
    pair. Taking the choice that explains most corners settles it.
    """
    covered = np.zeros(n, dtype=bool)
    for w in found:
        covered[[(w.start + k) % n for k in range(1, w.count)]] = True
    free = np.flatnonzero(~covered)
    origin = int(free[0]) if free.size else 0
    # weighted interval scheduling by the end of each window; one may begin where another ends
    ends, worth = [0], [(0.0, 0.0)]
    taken: list[list[_Window]] = [[]]
    for w in sorted(found, key=lambda w: ((w.start - origin) % n + w.count, w.count)):
        a = (w.start - origin) % n
        if a + w.count > n:
            continue
        k = bisect_right(ends, a) - 1
        offer = (worth[k][0] + w.corners, worth[k][1] + min(w.room, 1000.0))
        if offer > worth[-1]:
            ends.append(a + w.count)
            worth.append(offer)
            taken.append([*taken[k], w])
    return taken[-1]


def _rows(chosen: list[_Window], n: int) -> list[list[_Window]]:
    """The windows in rows that stand foot to foot."""
    rows: list[list[_Window]] = []
    for w in chosen:
        if rows and rows[-1][-1].end(n) == w.start:
            rows[-1].append(w)
        else:
            rows.append([w])
    if len(rows) > 1 and rows[-1][-1].end(n) == rows[0][0].start:
        rows[0] = rows.pop() + rows[0]
    return rows


def _doubt(ring: Curve, row: list[_Window]) -> str:
    """Why a row of windows is no notch, or ''."""
    if len(row) > TEETH:
        return "is one of a row of teeth"
    if sum(w.count for w in row) >= len(ring):
        return "is one of those that are the whole outline"
    i, j = row[0].start, row[-1].end(len(ring))
    leaving, arriving = _beside(ring, i, j)
    mouth = ring.controls[j, 0] - ring.controls[i, 0]
    if abs(_degrees(leaving, arriving)) > RUN_ON:
        return "stands in a corner, so its edge cannot be told"
    if np.hypot(*mouth) > NARROW and abs(_degrees(leaving + arriving, mouth)) > RUN_ON:
        return "stands in a step of the outline, so its edge cannot be told"
    return ""


def _taken_out(ring: Curve, chosen: list[_Window], sampled: bool) -> tuple[Curve, tuple[Cut, ...]]:
    n = len(ring)
    drawn_start = ring.start
    taken = {(w.start + k) % n for w in chosen for k in range(w.count + 1)}
    free = [k for k in range(n) if k not in taken]
    if free:
        first = free[0]
    else:
        ring, chosen, first = _with_free_node(ring, chosen)
        n = len(ring)
    ring = rolled(ring, first)
    starts = {(w.start - first) % n: w for w in chosen}
    spans: list[Curve] = []
    cuts: list[Cut] = []
    k = 0
    while k < n:
        row: list[Cut] = []
        while k in starts:
            # several foot to foot have one mouth
            row.append(starts[k].cut)
            k += starts[k].count
        span = section(ring, k, k + 1)
        k += 1
        if row:
            span = mended(spans.pop(), span, plainly=sampled)
            cuts += [replace(cut, at=point(span, nearest_place(span, cut.at)[0])) for cut in row]
        spans += [section(span, i, i + 1) for i in range(len(span))]
    whole = chain(spans, within=1e-6)
    controls = np.array(whole.controls)
    controls[-1, 3] = controls[0, 0]
    closed = Curve(controls, whole.straight)
    near = np.hypot(*(closed.controls[:, 0] - drawn_start).T)
    return rolled(closed, int(np.argmin(near))), tuple(cuts)


def _with_free_node(ring: Curve, chosen: list[_Window]) -> tuple[Curve, list[_Window], int]:
    """A node put into the longest span outside the notches, where every node belongs to one."""
    n = len(ring)
    inside = {(w.start + k) % n for w in chosen for k in range(w.count)}
    lengths = span_lengths(ring)
    longest = max((k for k in range(n) if k not in inside), key=lambda k: float(lengths[k]))
    moved = [replace(w, start=w.start + (w.start > longest)) for w in chosen]
    return halved(ring, longest), moved, longest + 1


def _stretch(ring: Curve, i: int, count: int) -> Curve:
    n = len(ring)
    if i + count <= n:
        return section(ring, i, i + count)
    return chain([section(ring, i, n), section(ring, 0, i + count - n)])


def _degrees(u: Array, v: Array) -> float:
    """Degrees from u to v, positive clockwise."""
    return float(np.degrees(np.arctan2(cross(u, v), np.dot(u, v))))
