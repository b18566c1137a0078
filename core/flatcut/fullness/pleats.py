"""Pleats over an opened line: where they are folded, and the edge across them, shaped so that it meets the seam line.

Fold the pleat as it will be pressed and cut along the seam: next to the fold the edge is the mirror image of the seam
edge that it is folded over, across that fold, and from the inner fold on the mirror image of that (closed form, as for
the cap of a dart). Pressed to one side there is one inner fold, half way; pressed open (an inverted pleat) each side is
folded to the middle, with an inner fold half way to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.fullness.slashing import NODE
from flatcut.fullness.spreading import WELDED, Spread
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line, point, polyline, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.welding import ending_at
from flatcut.pattern.mirrored import between, mirrored_half
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Line, Piece

FIRST, SECOND, OPEN = "first", "second", "open"
"""To which part of the piece a pleat is pressed, counted as `Slash` does, or to both."""
ARROW, HEAD = 0.25, 6.0
"""Where the arrow that shows the fold stands, as a part of the line from its wider end; mm of its head."""
ARROW_FROM = 60.0
"""mm that it stands from that end at most."""


@dataclass(frozen=True, kw_only=True)
class Fold:
    """How an opened line is folded. pressed: FIRST, SECOND or OPEN.

    more: mm that the pleat takes up beyond what was opened, at the line's start and end; level: mm from that end at
    which the folds begin to lean for it.
    """

    pressed: str
    more: tuple[float, float] = (0.0, 0.0)
    level: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Folded:
    """The folds of one pleat on the piece, uids of lines from the first part to the second.

    An uneven place in the row is an inner fold: outer, inner, outer for a pleat pressed to one side; outer, inner,
    middle, inner, outer for one that is pressed open. opened: uid of the line that was opened, one of them.
    """

    opened: str
    pressed: str
    row: tuple[str, ...]


def fold_lines(piece: Piece, spread: Spread, fold: Fold, uids: Uids) -> tuple[Piece, Folded]:
    """The piece with the folds of a pleat as lines, and an arrow from each fold to where it is brought.

    Errors: UsageError for a curved line, which cannot be folded.
    """
    opened = spread.line
    if not opened.curve.straight.all() or len(opened.curve) > 1:
        raise UsageError(f"{piece.name}.{opened.name} is not straight, so no pleat can be folded along it; gather it")
    curves = [_leaning(spread, fold, float(share)) for share in fold_shares(fold.pressed)]
    wide = abs(spread.gaps[1]) > abs(spread.gaps[0])
    return folds_drawn(piece, opened, curves, fold.pressed, uids, from_end=wide)


def fold_shares(pressed: str) -> Array:
    """Where the folds of a pleat stand, as parts of its width from the first part of the piece to the second."""
    return np.linspace(0.0, 1.0, 5 if pressed == OPEN else 3)


def folds_drawn(
    piece: Piece, opened: Line, curves: list[Curve], pressed: str, uids: Uids, *, from_end: bool = False
) -> tuple[Piece, Folded]:
    """The piece with the folds of a pleat as lines, and an arrow from each fold to where it is brought.

    opened: the line of the piece that becomes the middle one of the folds; curves: all of them, from the first part to
    the second; from_end: whether the arrows stand nearer to their ends than to their starts.
    """
    lines = list(piece.lines)
    number = next(k for k, item in enumerate(lines) if item.uid == opened.uid)
    taken, row = piece.names(), []
    for k, curve in enumerate(curves):
        kind, word = _kind(pressed, k, len(curves))
        if 2 * k == len(curves) - 1:
            lines[number] = replace(lines[number], curve=curve, kind=kind)
            row.append(opened.uid)
            continue
        name = free_name(f"{opened.name}-{word}", taken)
        taken.add(name)
        uid = uids.fresh("fold", opened.uid, name)
        lines.append(Line(uid=uid, name=name, curve=curve, kind=kind))
        row.append(uid)
    for start, end in _brought(pressed, curves):
        name = free_name(f"{opened.name}-way", taken)
        taken.add(name)
        way = arrow(start, end, from_end=from_end)
        lines.append(Line(uid=uids.fresh("way", opened.uid, name), name=name, curve=way))
    return replace(piece, lines=tuple(lines)), Folded(opened=opened.uid, pressed=pressed, row=tuple(row))


def _kind(pressed: str, k: int, count: int) -> tuple[str, str]:
    """Kind of the line in a row, and the word that its name gets."""
    if k % 2:
        return "fold", "inner"
    brought_to = {FIRST: count - 1, SECOND: 0, OPEN: 2}[pressed]
    return ("placement", "meets") if k == brought_to else ("fold", "fold")


def _brought(pressed: str, curves: list[Curve]) -> list[tuple[Curve, Curve]]:
    """Each outer fold, and the line that it is brought to."""
    if pressed == OPEN:
        return [(curves[0], curves[2]), (curves[4], curves[2])]
    return [(curves[0], curves[2])] if pressed == FIRST else [(curves[2], curves[0])]


def _leaning(spread: Spread, fold: Fold, share: float) -> Curve:
    """A fold so far across the opening, leaning outward at an end where the pleat takes up more than was opened."""
    straight = spread.line_at(share)
    nodes = [straight.start, straight.end]
    first, last = spread.line_at(0.0), spread.line_at(1.0)
    for k, more in enumerate(fold.more):
        off = (share - 0.5) * more
        if not off:
            continue
        ends = (first.start, last.start) if k == 0 else (first.end, last.end)
        across = unit(ends[1] - ends[0])
        along = unit(nodes[-1] - nodes[0]) * (1 if k == 0 else -1)
        if k == 0:
            nodes = [nodes[0] + off * across, nodes[0] + fold.level * along, *nodes[1:]]
        else:
            nodes = [*nodes[:-1], nodes[-1] + fold.level * along, nodes[-1] + off * across]
    return polyline(nodes)


def arrow(start: Curve, end: Curve, *, from_end: bool = False) -> Curve:
    """From one fold to the line that it is brought to, drawn as one path with its head.

    from_end: whether it stands nearer to the end of the fold than to its start.
    """
    far = length(start)
    along = min(ARROW * far, ARROW_FROM)
    if from_end:
        along = far - along
    tail, tip = (point(c, place_at(c, min(along, length(c)))) for c in (start, end))
    way = unit(tip - tail)
    side = np.array([-way[1], way[0]])
    head = min(HEAD, 0.4 * float(np.hypot(*(tip - tail))))
    wings = [tip - head * way + sign * 0.35 * head * side for sign in (1, -1)]
    return polyline([tail, tip, wings[0], tip, wings[1]])


@dataclass(frozen=True, kw_only=True)
class End:
    """The edge's part with the end of a pleat shaped. low, high: mm along the part from where to where it is folded.

    were: the mm of the part as it was that became these; off: mm by which the folded pleat misses the seam line;
    evened: mm that the ends of leaning folds were moved, so that they are equally long.
    """

    curve: Curve
    low: float
    high: float
    were: tuple[float, float]
    off: float
    evened: float


def shaped_end(
    part: Curve, span: tuple[float, float], folds: list[Curve], toward: str, nets: tuple[Curve, Curve], name: str
) -> End:
    """A part of an edge with the end of a pleat shaped.

    span: from where to where on the part the opening stands, mm; folds: the pleat's lines in the part's own direction;
    toward: 'before', 'after' or 'open', the side to which it is pressed; nets: the seam line before and after the
    opening as it runs on when every other pleat is folded, wherever it lies. Errors: GeometryError, UsageError.
    """
    low, high = (_place(part, at) for at in span)
    if low <= 0 or high >= len(part):
        raise UsageError(f"the pleat {name} stands at the end of its edge; choose a place inside it")
    rays = [_through(fold, section(part, low, high)) for fold in folds]
    before, u = _up_to(section(part, 0.0, low), rays[0], name)
    back, v = _up_to(reverse(section(part, high, len(part))), rays[-1], name)
    before, back, evened = _evened(before, rays[0], back, rays[-1])
    after = reverse(back)
    lost = (length_to(part, low) - u, length(part) - length_to(part, high) - v)
    seams = (_seam(reverse(nets[0]), lost[0], reverse(before)), _seam(nets[1], lost[1], after))
    reach = 4 * float(np.hypot(*(after.start - before.end))) + 10.0
    if toward == "open":
        first = _folded_twice(seams[0], rays[0], rays[1], rays[2], reach, name)
        second = reverse(_folded_twice(seams[1], rays[4], rays[3], rays[2], reach, name))
    elif toward == "before":
        first = _mirrored(seams[0], rays[0], rays[1], reach, name)
        second = reverse(transform(first, Affine.reflection(rays[1].start, rays[1].end)))
    else:
        half = _mirrored(seams[1], rays[2], rays[1], reach, name)
        first = transform(half, Affine.reflection(rays[1].start, rays[1].end))
        second = reverse(half)
    off = max(
        float(np.hypot(*(a - b)))
        for a, b in ((first.start, before.end), (first.end, second.start), (second.end, after.start))
    )
    middle = (first.end + second.start) / 2
    cap = chain([between(first, before.end, middle), between(second, middle, after.start)])
    lengths = length(before), length(cap)
    return End(
        curve=chain([before, cap, after], within=1e-6),
        low=lengths[0],
        high=lengths[0] + lengths[1],
        were=(u, length(part) - v),
        off=off,
        evened=evened,
    )


def _seam(net: Curve, lost: float, away: Curve) -> Curve:
    """The seam line that leaves a fold as the edge `away` does there, running on as the net does.

    lost: mm of the net before the fold, where that leans into it.
    """
    at = place_at(net, lost) if lost > WELDED else 0.0
    rest = section(net, at, len(net)) if at < len(net) - 1e-9 else away
    way, wanted = tangent(rest, 0.0), tangent(away, 0.0)
    turn = Affine.rotation(float(np.arctan2(cross(way, wanted), way @ wanted)))
    shift = away.start - turn.apply(rest.start)
    return transform(rest, Affine.translation(*shift) @ turn)


def _place(part: Curve, at: float) -> float:
    """The place at so many mm of a part; a node near it is that place."""
    u = place_at(part, at)
    node = round(u)
    return float(node) if abs(length_to(part, u) - length_to(part, node)) <= NODE else u


def _evened(before: Curve, first: Curve, after: Curve, last: Curve) -> tuple[Curve, Curve, float]:
    """The edges up to the outer folds, both brought to one height of their folds where these lean; how far, mm.

    Folds that lean close like a dart, so both must be equally long from where they begin to lean.
    """
    lengths = [float(np.hypot(*(part.end - ray.start))) for part, ray in ((before, first), (after, last))]
    off = abs(lengths[1] - lengths[0]) / 2
    if off < WELDED or float(np.hypot(*(first.start - last.start))) < WELDED or _parallel(first, last):
        return before, after, 0.0
    mean = sum(lengths) / 2
    ends = [ray.start + mean * unit(ray.end - ray.start) for ray in (first, last)]
    return ending_at(before, ends[0]), ending_at(after, ends[1]), off


def _parallel(one: Curve, other: Curve) -> bool:
    return abs(float(cross(unit(one.end - one.start), unit(other.end - other.start)))) < 1e-9


def _folded_twice(away: Curve, outer: Curve, inner: Curve, middle: Curve, reach: float, name: str) -> Curve:
    half = _mirrored(away, outer, inner, reach, name)
    back = reverse(transform(half, Affine.reflection(inner.start, inner.end)))
    return chain([half, back], within=1e-6)


def _mirrored(away: Curve, fold: Curve, until: Curve, reach: float, name: str) -> Curve:
    return mirrored_half(away, (fold.start, fold.end), until, reach=reach, name=name)


def _through(fold: Curve, opening: Curve) -> Curve:
    """The straight of a fold at the end that lies nearer to an opening, drawn on beyond it."""
    at = point(opening, len(opening) / 2)
    here = fold if np.hypot(*(fold.start - at)) < np.hypot(*(fold.end - at)) else reverse(fold)
    way = unit(here.start - here.controls[0, 3])
    far = length(opening) + 20.0
    return line(here.controls[0, 3], here.start + far * way)


def _up_to(part: Curve, ray: Curve, name: str) -> tuple[Curve, float]:
    """The part up to its last crossing with a fold, and the length of that; all of it where the fold is at its end."""
    if np.hypot(*(_foot(ray, part.end) - part.end)) < 1e-6:
        return part, length(part)
    met = [c.u for c in crossings(part, ray)]
    if not met:
        raise GeometryError(f"the folds of {name} do not meet the edge beside the opening; make the pleat less deep")
    kept = section(part, 0.0, max(met))
    return kept, length(kept)


def _foot(ray: Curve, at: Array) -> Array:
    way = unit(ray.end - ray.start)
    return np.asarray(ray.start + float((at - ray.start) @ way) * way)


def to_outline(piece: Piece, uid: str, edges: list[Curve], *, reach: float) -> Piece:
    """The piece with a line drawn on, or cut back, to the edges near which it ends.

    edges: parts of the outline; reach: mm that an end may be off.
    """
    found = next(item for item in piece.lines if item.uid == uid)
    curve = found.curve
    for turn in (False, True):
        way = reverse(curve) if turn else curve
        ended = _ended(way, edges, reach)
        curve = reverse(ended) if turn else ended
    changed = replace(found, curve=curve)
    return replace(piece, lines=tuple(changed if item.uid == uid else item for item in piece.lines))


def _ended(curve: Curve, edges: list[Curve], reach: float) -> Curve:
    """The curve with its end on an edge, along its own direction there."""
    end, way = curve.end, tangent(curve, float(len(curve)), before=True)
    size = length(curve)
    longer = chain([curve, line(end, end + reach * way)])
    best: tuple[float, float] | None = None
    for edge in edges:
        for c in crossings(longer, edge):
            # far from the end it is the edge at the other end that is met
            away = float(np.hypot(*(c.point - end)))
            if away <= min(reach, size / 2) and (best is None or away < best[0]):
                best = (away, c.u)
    if best is None or best[0] < 1e-6:
        return curve
    u = best[1]
    if u <= len(curve):
        return section(curve, 0.0, u)
    grown = section(longer, 0.0, u)
    if curve.straight[-1]:
        controls = np.array(curve.controls)
        controls[-1:] = line(curve.controls[-1, 0], grown.end).controls
        return Curve(controls, curve.straight)
    return grown
