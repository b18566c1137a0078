"""Panels that go round the body without any centre edge, such as gores: their order, and where the centre front lies.

What is right and left of a panel is as it lies face up: in front its right lies to the wearer's left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Pattern, Piece, RunPart, Seam
from flatcut.pattern.walking import sewn_length
from flatcut.worn.cells import ASSUMED, CENTRE
from flatcut.worn.outer import hangs
from flatcut.worn.placing import limb_of, side_of
from flatcut.worn.sewn import alone, centre_of, seams_of

EVEN = 1.0
"""mm by which the two sides of an opening may differ and still be done up."""


class Ringed(NamedTuple):
    """The pattern with a centre on one of the panels, the place of that one, and what is assumed."""

    pattern: Pattern
    places: dict[str, str]
    said: tuple[str, ...]


class _Panel(NamedTuple):
    """A panel. left, right: its edges that run down there, the upper one first."""

    piece: Piece
    left: list[Edge]
    right: list[Edge]

    def top(self) -> Array:
        """Its upper corners (2, 2), the left one first."""
        return np.array([min((e.start, e.end), key=lambda at: float(at[1])) for e in (self.left[0], self.right[0])])


def ringed(
    pattern: Pattern, there: Mapping[str, Piece], places: Mapping[str, str], alike: Sequence[Sequence[str]]
) -> Ringed:
    """The pattern, as it was where panels are no ring, one of them has a centre, or nothing says what is in front.

    there: the pieces that are worn. alike: names of panels that are cut from one, so that any may be in front.
    """
    panels = [piece for piece in there.values() if not hangs(piece)]
    if any(centre_of(p) is not None or limb_of(p, places) or not alone(p) for p in panels):
        return Ringed(pattern, {}, ())
    ring = _ring(pattern, panels)
    wide = [float(np.ptp(panel.top()[:, 0])) for panel in ring]
    from_left = np.concatenate([[0.0], np.cumsum(wide)])
    closed, opening = _done_up(pattern, ring)
    at, said = _front(ring, from_left, places, alike, opening)
    if not said:
        return Ringed(pattern, {}, ())
    pairs = [(ring[k].piece.name, ring[(k + 1) % len(ring)].piece.name) for k in opening]
    said = (*(f"the opening between {one} and {two} is done up" for one, two in pairs), *said)
    at = (at + 1e-6) % float(from_left[-1])  # a centre that lies in a seam lies on the panel at its right
    k = int(np.searchsorted(from_left, at, side="right")) - 1
    piece, (left, right) = ring[k].piece, ring[k].top()
    x = float(left[0] + (at - from_left[k]) / wide[k] * (right[0] - left[0]))
    ys = [float(end[1]) for edge in piece.edges for end in (edge.start, edge.end)]
    uid = Uids(pattern.uids()).fresh("centre", piece.uid)
    centre = Line(uid=uid, name=CENTRE, kind=ASSUMED, curve=line((x, min(ys)), (x, max(ys))))
    return Ringed(closed.with_piece(replace(piece, lines=(*piece.lines, centre))), {piece.name: "front"}, said)


def _front(
    ring: Sequence[_Panel],
    from_left: Array,
    places: Mapping[str, str],
    alike: Sequence[Sequence[str]],
    opening: Sequence[int],
) -> tuple[float, tuple[str, ...]]:
    """mm along the ring where the centre front lies, and what is said of it: nothing where that is not known."""
    names = [panel.piece.name for panel in ring]
    sides = [side_of(panel.piece, places) for panel in ring]
    fronts = [k for k, name in enumerate(names) if places.get(name) == "front"]
    for k in opening if not fronts else ():
        one, two = k, (k + 1) % len(ring)
        if {sides[one], sides[two]} == {"front", "back"}:
            left = sides[one] == "front"
            away = 0.25 * float(from_left[-1])
            return float(from_left[k + 1]) + (-away if left else away), (
                f"the opening between {names[one]} and {names[two]} lies in the "
                f"{'left' if left else 'right'} side, a quarter of the way round from the centre front",
            )
    fronts = fronts or [k for k, side in enumerate(sides) if side == "front"]
    if not fronts and any(set(names) == set(row) for row in alike):
        fronts = [names.index(min(names, key=lambda name: (len(name), name)))]
    if len(fronts) != 1:
        return 0.0, ()
    k = fronts[0]
    return float(from_left[k : k + 2].mean()), (f"the middle of {names[k]} is the centre front",)


def _done_up(pattern: Pattern, ring: Sequence[_Panel]) -> tuple[Pattern, list[int]]:
    """The pattern with openings in seams of a ring sewn with these, and after which panels they lie."""
    found = []
    for k, panel in enumerate(ring):
        mine, its = panel.right, ring[(k + 1) % len(ring)].left
        uses = sorted(edge.use for edge in mine), sorted(edge.use for edge in its)
        there = [s for s in pattern.seams if {s.a[0].of, s.b[0].of} & {e.uid for e in mine} & _whole(s)]
        there = [s for s in there if {s.a[0].of, s.b[0].of} & {e.uid for e in its}]
        off = sum(map(sewn_length, mine)) - sum(map(sewn_length, its))
        if uses == (["opening", "seam"], ["opening", "seam"]) and len(there) == 1 and abs(off) < EVEN:
            (one, down), (two, its_down) = _run(panel, mine), _run(ring[(k + 1) % len(ring)], its)
            seam = replace(there[0], a=one, b=two, reversed=down != its_down)
            pattern = replace(pattern, seams=tuple(seam if s is there[0] else s for s in pattern.seams))
            found.append(k)
    return pattern, found


def _whole(seam: Seam) -> set[str]:
    """The edges of a seam that are sewn from end to end."""
    return {part.of for part in (*seam.a, *seam.b) if part.start is None and part.end is None}


def _run(panel: _Panel, edges: Sequence[Edge]) -> tuple[tuple[RunPart, ...], bool]:
    """Edges that run down, as they follow one another on the outline, and whether that is downward."""
    down = bool(edges[0].start[1] < edges[0].end[1])
    return tuple(RunPart(piece=panel.piece.uid, of=edge.uid) for edge in (edges if down else edges[::-1])), down


def _panel(piece: Piece) -> _Panel:
    middle = float(np.mean([edge.start[0] for edge in piece.edges]))
    down = [edge for edge in piece.edges if abs(edge.end[1] - edge.start[1]) > abs(edge.end[0] - edge.start[0])]
    down.sort(key=lambda edge: float(edge.start[1] + edge.end[1]))
    right = [float(edge.start[0] + edge.end[0]) > 2 * middle for edge in down]
    return _Panel(
        piece,
        [edge for edge, there in zip(down, right, strict=True) if not there],
        [edge for edge, there in zip(down, right, strict=True) if there],
    )


def _ring(pattern: Pattern, pieces: Sequence[Piece]) -> list[_Panel]:
    """Panels in their order toward the right, each sewn to the next; nothing where they are no such ring."""
    panels = {piece.uid: _panel(piece) for piece in pieces}
    right = {edge.uid for panel in panels.values() for edge in panel.right}
    left = {edge.uid for panel in panels.values() for edge in panel.left}
    after: dict[str, set[str]] = {uid: set() for uid in panels}
    for seam in seams_of(pattern, {piece.uid: piece for piece in pieces}):
        if len(seam.a) != 1 or len(seam.b) != 1:
            return []
        one, two = (*seam.a, *seam.b) if seam.a[0].of in right else (*seam.b, *seam.a)
        if one.of not in right or two.of not in left:
            return []
        after[one.piece].add(two.piece)
    found = [piece.uid for piece in pieces[:1]]
    while found and len(after[found[-1]]) == 1 and len(found) <= len(pieces):
        found += after[found[-1]]
    is_ring = len(found) == len(pieces) + 1 and found[0] == found[-1] and len(set(found)) == len(pieces)
    return [panels[uid] for uid in found[:-1]] if is_ring else []
