"""Finding the named places of an outline again after it was edited by hand.

The drawn ring is held against the ring as last written, in this order, the first that fits wins:

1. the same nodes and handles within SAME mm: as written, then with the start shifted, then walked the other way;
2. the same after one motion: rigid, mirrored, then stretched;
3. unchanged nodes anchor: each mark (a node where an edge, a dart leg or a part starts) is an anchor, or the only
   corner between two anchors, or, where no node was added or removed, the node of the same number.

Anything else is refused: it is never guessed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten, reverse, transform

SAME = 1e-3
"""mm: the editor writes about 1e-5 mm; a hand never moves a node less than a hundredth."""


class Match(NamedTuple):
    """curve: the drawn ring in stored direction, its first mark first; starts: the marks' span indices on it; marks:
    those on `last`, of an edited one.

    last: the ring as last written, where its transform has put it; motion: of the outline as a whole; changed: for each
    mark moved by hand, its index among the marks and how far (mm); largest: mm of the largest change; how: 'same',
    'moved', 'renoded' for other nodes on the same line, 'edited'.
    """

    curve: Curve
    starts: list[int]
    last: Curve
    motion: Affine = IDENTITY
    changed: tuple[tuple[int, float], ...] = ()
    largest: float = 0.0
    marks: tuple[int, ...] = ()
    how: str = "same"


def match(last: Curve, marks: list[int], drawn: Curve, *, moved: Affine = IDENTITY) -> Match:
    """Find `marks` of the ring `last` on the ring `drawn`. moved: what the element's transform says happened to it.

    Errors: InputError when an edge cannot be found again.

    >>> from flatcut.geometry.curves import polyline
    >>> ring = polyline([(0, 0), (90, 0), (90, 60), (0, 60), (0, 0)])
    >>> found = match(ring, [0, 1, 2, 3], reverse(ring))
    >>> found.how, found.starts
    ('same', [0, 1, 2, 3])
    """
    if last is drawn and moved == IDENTITY:
        return Match(curve=last, starts=marks, last=last)
    placed = transform(last, moved)
    if len(placed) == len(drawn):
        for candidate in _orders(drawn):
            if _equal(placed, candidate):
                if moved == IDENTITY:
                    return Match(curve=last, starts=marks, last=last)
                return Match(curve=placed, starts=marks, last=placed, motion=moved, how="moved")
        for candidate in _orders(drawn):
            motion = _motion(placed, candidate)
            if motion is not None:
                whole = motion @ moved
                image = transform(last, whole)
                return Match(curve=image, starts=marks, last=image, motion=whole, how="moved")
    return _aligned(placed, marks, drawn, moved)


def _orders(drawn: Curve) -> Iterator[Curve]:
    """The ring as written, started at every other node, then all that walked the other way; mostly the first fits."""
    yield drawn
    from flatcut.pattern.tracing import (
        rolled,  # what traces corners is loaded for the few rings that a hand has changed
    )

    yield from (rolled(drawn, k) for k in range(1, len(drawn)))
    back = reverse(drawn)
    yield from (rolled(back, k) for k in range(len(drawn)))


def _shape(curve: Curve) -> Array:
    """Nodes and handles; the handles of straight spans say nothing and stand at the thirds."""
    controls = np.array(curve.controls)
    step = (controls[:, 3] - controls[:, 0]) / 3
    flat = curve.straight
    controls[flat, 1], controls[flat, 2] = (controls[:, 0] + step)[flat], (controls[:, 3] - step)[flat]
    return controls


def _equal(a: Curve, b: Curve) -> bool:
    return bool(np.abs(_shape(a) - _shape(b)).max() <= SAME)


def _motion(a: Curve, b: Curve) -> Affine | None:
    """The motion that carries a onto b: rigid, mirrored, then, with points enough to tell, any affine one."""
    p, q = _shape(a).reshape(-1, 2), _shape(b).reshape(-1, 2)
    chords_p, chords_q = (np.linalg.norm(np.diff(c[:, [0, 3]], axis=1)[:, 0], axis=-1) for c in (_shape(a), _shape(b)))
    if np.abs(chords_p - chords_q).max() <= 2 * SAME:
        for mirrored in (False, True):
            found = _rigid(p, q, mirrored=mirrored)
            if np.abs(found.apply(p) - q).max() <= SAME:
                return found
    said = np.concatenate([a.nodes, a.controls[~a.straight].reshape(-1, 2)])
    if len(np.unique(said.round(3), axis=0)) < 4:
        return None  # three points have an affine image in any other three: a dragged corner would pass for a stretch
    ones = np.column_stack([p, np.ones(len(p))])
    solved, *_ = np.linalg.lstsq(ones, q, rcond=None)
    (ax, ay), (bx, by), (ex, ey) = solved
    found = Affine(float(ax), float(ay), float(bx), float(by), float(ex), float(ey))
    fits = np.abs(found.apply(p) - q).max() <= SAME and abs(found.determinant) > 1e-6
    return found if fits else None


def _rigid(p: Array, q: Array, *, mirrored: bool) -> Affine:
    """Least squares rigid motion (Kabsch), proper or mirrored."""
    pc, qc = p.mean(axis=0), q.mean(axis=0)
    u, _, vt = np.linalg.svd((p - pc).T @ (q - qc))
    sign = np.sign(np.linalg.det(u @ vt)) * (-1 if mirrored else 1)
    turn = (u @ np.diag([1.0, sign]) @ vt).T
    shift = qc - turn @ pc
    return Affine(
        float(turn[0, 0]), float(turn[1, 0]), float(turn[0, 1]), float(turn[1, 1]), float(shift[0]), float(shift[1])
    )


def _aligned(last: Curve, marks: list[int], drawn: Curve, moved: Affine) -> Match:
    from flatcut.pattern.tracing import CORNER_ANGLE, rolled, turns

    forward, backward = _anchors(last, drawn), _anchors(last, reverse(drawn))
    ring, anchors = (drawn, forward) if len(forward) >= len(backward) else (reverse(drawn), backward)
    if not anchors:
        raise InputError("none of its nodes stands where it stood; undo the change or make the piece anew")
    n, m = len(last), len(ring)
    corner = np.abs(turns(ring)) > CORNER_ANGLE
    olds = sorted(anchors)
    found: dict[int, int] = {mark: anchors[mark] for mark in marks if mark in anchors}
    for k, old in enumerate(olds):
        following = olds[(k + 1) % len(olds)]
        gap_old = [(old + i) % n for i in range(1, (following - old - 1) % n + 1)]
        gap_new = [(anchors[old] + i) % m for i in range(1, (anchors[following] - anchors[old] - 1) % m + 1)]
        lost = [node for node in gap_old if node in marks]
        if not lost:
            continue
        corners = [node for node in gap_new if corner[node]]
        if len(gap_old) == len(gap_new):
            found.update(zip(gap_old, gap_new, strict=True))
        elif len(lost) == 1 and len(corners) == 1:
            found[lost[0]] = corners[0]
        else:
            raise InputError(
                "nodes were added or removed beside a moved corner, so its edges cannot be told apart; "
                "undo the change or make the piece anew"
            )
    starts = [found[mark] for mark in marks]
    turned = rolled(ring, starts[0])
    shifted = [(start - starts[0]) % m for start in starts]
    if sorted(shifted) != shifted:
        raise InputError("the order of its edges has changed; undo the change or make the piece anew")
    moves = [
        float(np.linalg.norm(turned.controls[s, 0] - last.controls[o, 0])) for s, o in zip(shifted, marks, strict=True)
    ]
    changed = tuple((k, move) for k, move in enumerate(moves) if move > SAME)
    # a node put on a line, or taken from one, says nothing of how far that line has moved
    course = max(off(last, turned), off(turned, last))
    return Match(
        curve=turned,
        starts=shifted,
        last=last,
        motion=moved,
        changed=changed,
        marks=tuple(marks),
        largest=course if n != m else _largest(last, turned),
        how="edited" if changed or course > SAME else "renoded",
    )


def _anchors(last: Curve, ring: Curve) -> dict[int, int]:
    """Nodes of `last` that stand where they stood, old index to new, in cyclic order on both."""
    old, new = last.controls[:, 0], ring.controls[:, 0]
    away = np.abs(old[:, None] - new[None]).max(axis=-1)
    pairs = [(i, int(np.argmin(away[i]))) for i in range(len(old)) if away[i].min() <= SAME]
    if not pairs:
        return {}
    # the longest cyclic run in order: a start is tried at each pair, and out-of-order pairs are dropped
    best: dict[int, int] = {}
    m = len(new)
    for k in range(len(pairs)):
        kept: dict[int, int] = {}
        reached = -1
        for i, j in pairs[k:] + pairs[:k]:
            step = (j - pairs[k][1]) % m
            if step > reached:
                kept[i] = j
                reached = step
        if len(kept) > len(best):
            best = kept
        if len(best) == len(pairs):
            break
    return best


def off(one: Curve, other: Curve) -> float:
    """mm by which the second curve strays from the first at most."""
    from flatcut.geometry.nearest import nearest

    return float(nearest(one, flatten(other, tolerance=SAME))[1].max())


def _largest(last: Curve, now: Curve) -> float:
    """mm of the largest change: how far a node or handle of one ring lies from the nearest of the other."""
    p, q = _shape(last).reshape(-1, 2), _shape(now).reshape(-1, 2)
    away = np.linalg.norm(p[:, None] - q[None], axis=-1)
    return float(max(away.min(axis=0).max(), away.min(axis=1).max()))
