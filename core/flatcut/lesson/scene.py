"""What is to be seen of a step: which pieces, what on them is new, what was there before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from flatcut.drawing.ink import Ink, Stroke
from flatcut.drawing.pieces import piece_ink
from flatcut.drawing.roles import OUTLINE, STITCH
from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, point, same
from flatcut.geometry.region import distance_to
from flatcut.marking.derived import derive_all
from flatcut.pattern.finding import find
from flatcut.pattern.places import Part, Place, Reference, Run
from flatcut.pattern.runs import found_run, run_curves, walk
from flatcut.pattern.values import Edge, Pattern, Piece, Style, outline

SAME = 0.05
"""mm: a line that strays no farther from one that was there is that line."""


class Inks:
    """What is drawn of pieces, each piece worked out once."""

    def __init__(self) -> None:
        self._found: dict[tuple[int, Style], tuple[Piece, Ink]] = {}

    def of(self, pieces: Sequence[Piece], style: Style) -> list[Ink]:
        """The ink of each piece; one that can have no cut line is drawn without it."""
        missing = [piece for piece in pieces if (id(piece), style) not in self._found]
        for piece, derived in zip(missing, derive_all(missing, style), strict=True):
            # the piece is kept too, so that its number stands for no other
            self._found[id(piece), style] = piece, piece_ink(piece, derived)
        return [self._found[id(piece), style][1] for piece in pieces]


@dataclass(frozen=True, kw_only=True)
class Scene:
    """The pieces to be seen before and after steps."""

    before: tuple[Piece, ...]
    after: tuple[Piece, ...]
    drawn: bool = True
    """Whether any line of them is another one afterwards, or names only and words on them."""


def scene(inks: Inks, before: Pattern, after: Pattern, named: Iterable[str], besides: Iterable[str] = ()) -> Scene:
    """What steps have changed, else what they speak of (names of pieces), else everything.

    besides: names of pieces that are to be seen in any case.
    """
    was = {piece.uid: piece for piece in before.pieces}
    now = {piece.uid: piece for piece in after.pieces}
    changed = {uid for uid in (*was, *now) if uid not in was or uid not in now}
    both = [uid for uid in now if uid in was and was[uid] is not now[uid]]
    pairs = list(
        zip(
            both,
            inks.of([was[uid] for uid in both], before.style),
            inks.of([now[uid] for uid in both], after.style),
            strict=True,
        )
    )
    lines = changed | {uid for uid, one, two in pairs if not _drawn_alike(one, two)}
    changed = lines | {uid for uid, one, two in pairs if not _said_alike(one, two)}
    called = set(besides) | (set() if changed else set(named))
    seen = changed | {piece.uid for piece in (*before.pieces, *after.pieces) if piece.name in called}
    seen = seen or set(now)
    return Scene(
        before=tuple(piece for piece in before.pieces if piece.uid in seen),
        after=tuple(piece for piece in after.pieces if piece.uid in seen),
        drawn=bool(lines),
    )


def _drawn_alike(one: Ink, two: Ink) -> bool:
    strokes = zip_or_none(one.strokes, two.strokes)
    return strokes is not None and all(a.role == b.role and _same(a.curves, b.curves) for a, b in strokes)


def _said_alike(one: Ink, two: Ink) -> bool:
    words = zip_or_none(one.words, two.words)
    return words is not None and all(a.lines == b.lines for a, b in words)


_One = TypeVar("_One")


def zip_or_none(one: Sequence[_One], two: Sequence[_One]) -> list[tuple[_One, _One]] | None:
    """Pairs of two sequences, None where they are not of one length.

    >>> zip_or_none([1], [2]), zip_or_none([1], [])
    ([(1, 2)], None)
    """
    return list(zip(one, two, strict=True)) if len(one) == len(two) else None


def _same(one: Sequence[Curve], two: Sequence[Curve]) -> bool:
    return len(one) == len(two) and all(same(a, b, tolerance=1e-3) for a, b in zip(one, two, strict=True))


def ring_of(piece: Piece) -> Array:
    """The outline of a piece as points (n, 2), closed."""
    return flatten(chain(outline(piece), within=1e-3), tolerance=0.01)


def redrawn(piece: Piece, rings: Sequence[Array]) -> list[Curve]:
    """The parts of edges, and legs of darts, that lie on none of the outlines that there were."""
    if not rings:
        return []
    found: list[Curve] = []
    for curve in outline(piece):
        off = np.min(
            [distance_to(ring, point(curve, np.linspace(0, len(curve), 8 * len(curve) + 1))) for ring in rings], axis=0
        )
        if float(off.max()) > SAME:
            found.append(curve)
    return found


def added(before: Iterable[Ink], after: Ink) -> list[bool]:
    """Which strokes of a piece were not there before; outlines are told edge by edge, by `redrawn`."""
    was: dict[tuple[str, str], list[Stroke]] = {}
    for ink in before:
        for stroke in ink.strokes:
            was.setdefault((stroke.role.name, stroke.of), []).append(stroke)
    found = []
    for stroke in after.strokes:
        known = was.get((stroke.role.name, stroke.of), [])
        ring = stroke.role in (OUTLINE, STITCH)
        found.append(not ring and not any(_same(stroke.curves, one.curves) for one in known))
    return found


def spoken_of(pattern: Pattern, references: Iterable[Reference], pieces: Iterable[str]) -> list[Curve]:
    """The drawn course of edges, stretches and lines that are named. pieces: names of those that are to be seen."""
    found: list[Curve] = []
    seen = set(pieces)
    for one in references:
        parts = [part.place for part in one.parts] if isinstance(one, Run) else [one]
        if not all(isinstance(part, Place) and part.piece in seen for part in parts):
            continue
        run = one if isinstance(one, Run) else None
        try:
            if isinstance(one, Place) and not one.chord and one.name and not one.other and (one.at is None or one.to):
                thing = find(pattern, one)[1]
                if isinstance(thing, Edge) and one.at is None:
                    found += thing.parts
                    continue
                run = _as_run(one)
            if run is not None:
                found += [curve for step in walk(pattern, found_run(pattern, run)) for curve in run_curves(step)]
        except FlatcutError:
            continue
    return found


def _as_run(place: Place) -> Run:
    return Run((Part(place=place),))
