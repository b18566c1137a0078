"""Where each piece is put round the form before it is sewn: from the centre front over the sides to the centre back.

Copies are laid side by side as seams join them: beside each other where a seam runs up and down, above each other where
it runs across. How far a vertex then lies from the centre front, of the way to the centre back, says how far round the
form it begins, a little outside of it.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.pattern.walking import drawn_length
from flatcut.worn.cells import ASSUMED
from flatcut.worn.form import Form
from flatcut.worn.outer import hangs
from flatcut.worn.placing_hung import Hung, hung_of, hung_on, shown_flat
from flatcut.worn.placing_limbs import on_arm, on_legs
from flatcut.worn.sewn import Copy, Meeting, Sewn, centre_of

SIDES = ("front", "back")
"""Where a piece with a centre edge can be."""
ARMS = ("left-arm", "right-arm")
"""Where a sleeve can be; of a pair either word means both."""
BESIDE, STACKED, FOLDED = 1, 10, 100
"""What it costs to lay a copy against another: along a seam up and down, across, or one that only meets when worn, such
as a shoulder's."""
OFF, ASKEW = 20, (15.0, 100.0)
"""What it costs to lay a copy so that its centre lies so many mm beside the centre front: that of a yoke between front
and back lies behind."""
YOKE = 250.0
"""mm: a piece less high may be drawn upside down."""
LOOSE = 1.10
"""Of the form's own width: how far outside of it cloth begins."""


class Layout(NamedTuple):
    """Where vertices of copies lie before they are put on: round (v,) mm from the centre front, to the wearer's right
    positive; up (v,) mm above the waist; half: mm from the centre front to the centre back. assumed: sentences.

    arms: numbers of copies that lie round an arm; start (v, 3): where their vertices begin, nan for others. hung:
    strips and collars, in their order; shown (v, 2): where vertices are shown laid out, x to the wearer's right and y
    up, mm.
    """

    round: Array
    up: Array
    half: float
    assumed: tuple[str, ...]
    arms: frozenset[int]
    start: Array
    hung: tuple[Hung, ...]
    shown: Array


def side_of(piece: Piece, places: Mapping[str, str]) -> str:
    """'front', 'back' or '' by what was said or by the piece's name."""
    if piece.name in places:
        return places[piece.name] if places[piece.name] in SIDES else ""
    found = [side for side in SIDES if side in piece.name.lower().split("-")]
    return found[0] if len(found) == 1 else ""


def limb_of(piece: Piece, places: Mapping[str, str]) -> str:
    """'arm', 'leg' or '': the limb that a piece goes round, by what was said or by the names of its edges."""
    if piece.name in places:
        said = places[piece.name]
        if said in ARMS:
            return "arm"
    elif SLEEVES & set(piece.name.lower().split("-")) or any(edge.name == "cap" for edge in piece.edges):
        return "arm"
    return "leg" if any(edge.name in LEG_EDGES for edge in piece.edges) else ""


SLEEVES = {"sleeve", "cuff"}
"""Words in the names of pieces that go round an arm."""
LEG_EDGES = ("inseam", "crotch", "inside-leg")
"""Names of edges that only a leg has."""
APART = 60.0
"""mm between a sleeve and the body, laid out."""


def laid(pattern: Pattern, whole: Sewn, form: Form, places: Mapping[str, str]) -> Layout:
    """The copies laid out round the body. Errors: UsageError where it cannot be told where a piece belongs."""
    pieces = {uid: cells.piece for uid, cells in whole.cells.items()}
    assumed: list[str] = []
    count = len(whole.copies)
    span = [slice(whole.first[k], whole.first[k + 1]) for k in range(count)]
    number = {copy: k for k, copy in enumerate(whole.copies)}
    near: dict[int, list[tuple[int, Meeting, bool]]] = defaultdict(list)
    for meeting in whole.meetings:
        near[number[meeting.one]].append((number[meeting.two], meeting, False))
        near[number[meeting.two]].append((number[meeting.one], meeting, True))
    hanging = frozenset(k for k, copy in enumerate(whole.copies) if hangs(pieces[copy.piece]))
    arms = frozenset(k for k, copy in enumerate(whole.copies) if limb_of(pieces[copy.piece], places) == "arm") - hanging
    shift: dict[int, Array] = {}
    drawn = replace(whole, flat=_drawn_up(whole, pieces))
    starts = [one for one in _starts(whole, pieces, places) if one[0] not in hanging]
    if not starts:
        raise UsageError(
            "it cannot be told where the front is: no worn piece with a centre edge is called front; say which with "
            "--place"
        )
    _spread(drawn, pieces, places, near, shift, [(k, np.array([-at, 0.0])) for k, at in starts[:1]], arms | hanging)
    body = [k for k in range(count) if k not in arms | hanging]
    if any(k not in shift for k in body):
        lost = next(pieces[whole.copies[k].piece].name for k in body if k not in shift)
        raise UsageError(f"{lost} is sewn to no piece that can be put on; state its seam, or leave it out")
    flat = np.full((len(whole.flat), 2), np.nan)
    for k in body:
        flat[span[k]] = drawn.flat[span[k]] + shift[k]
    half = _half(drawn, pieces, flat, span, places, body)
    ring = any(one.kind == ASSUMED for piece in pieces.values() for one in piece.lines)
    if ring:
        half = _girth(whole, flat) / 2
    _brought_round(flat, drawn, pieces, places, body, half)
    waist, said = _waist(whole, pieces, flat, span, shift, form)
    assumed += said
    round_, up = -flat[:, 0], waist - flat[:, 1]
    start = np.full((len(flat), 3), np.nan)
    for seed in sorted(arms):
        if seed in shift:
            continue
        before = set(shift)
        others = frozenset(range(count)) - arms
        _spread(whole, pieces, places, near, shift, [(seed, np.zeros(2))], others)
        on = on_arm(whole, form, set(shift) - before, shift, round_, half)
        mine = np.isfinite(on.flat[:, 0])
        start[mine] = on.at[mine]
        up[mine] = on.flat[mine, 1]
        round_[mine] = (half + APART + on.flat[mine, 0]) * (-1.0 if on.left else 1.0)
    hung, arms = hung_of(whole, pieces, hanging, frozenset(body) | arms, arms, up)
    shown = np.column_stack([round_, up])
    if ring:  # shown, panels that widen downward lie apart; worn, what is over the centre back is on the other side
        middle, wide = (np.array([f(round_[span[k]]) for k in body]) for f in (np.mean, np.ptp))
        for k, at in zip(body, middle, strict=True):
            shown[span[k], 0] += at * (len(body) * (wide.max() + APART) / (2 * half) - 1.0)
        round_ = (round_ + half) % (2 * half) - half
    for one in hung:
        round_[one.own] = one.on_seam(round_)
        shown[one.own] = shown_flat(one, whole, shown[:, 0], shown[:, 1])
    return Layout(round_, up, half, tuple(assumed), arms, start, tuple(hung), shown)


def _drawn_up(whole: Sewn, pieces: Mapping[str, Piece]) -> Array:
    """Vertices (v, 2) of the copies, those of cloth that is pleated or gathered as wide as it is when sewn."""
    found: Array = whole.flat.copy()
    for k, copy in enumerate(whole.copies):
        piece = pieces[copy.piece]
        taken = [
            sum(t.amount for t in edge.takeups if t.kind in ("pleat", "tuck", "gathers")) / drawn_length(edge)
            for edge in piece.edges
        ]
        share = 1.0 - max(taken)
        if share > 1.0 - FULL:
            continue
        centre = centre_of(piece)
        about = 0.0 if centre is None else float(centre[:, 0].mean()) * (-1.0 if copy.turned else 1.0)
        mine = slice(whole.first[k], whole.first[k + 1])
        at = float(_middle_of(piece.edges[int(np.argmax(taken))])[1])
        plain = [
            float(_middle_of(edge)[1]) for edge, t in zip(piece.edges, taken, strict=True) if not t and _across(edge)
        ]
        far = max(plain, key=lambda y: abs(y - at), default=at)
        if abs(far - at) > DEEP:  # where it is sewn to others across its other end it is as wide as it was drawn
            part = np.clip((found[mine, 1] - at) / (far - at), 0.0, 1.0)
            found[mine, 0] = about + (share + (1.0 - share) * part) * (found[mine, 0] - about)
            continue
        found[mine, 0] = about + share * (found[mine, 0] - about)
    return found


def _middle_of(edge: Edge) -> Array:
    return np.asarray(0.5 * (edge.start + edge.end))


def _across(edge: Edge) -> bool:
    """Whether an edge is sewn and runs across its piece."""
    way = np.abs(edge.end - edge.start)
    return edge.use == "seam" and bool(way[0] > way[1])


DEEP = 80.0
"""mm from an edge that is drawn up to one that is not, at least, for a piece to widen from the one to the other."""
FULL = 0.15
"""Of an edge that is taken up by pleats or gathers, for its piece to be laid out as wide as it is when sewn."""


def _brought_round(
    flat: Array,
    whole: Sewn,
    pieces: Mapping[str, Piece],
    places: Mapping[str, str],
    body: Sequence[int],
    half: float,
) -> None:
    """Bring, in place, what was laid on beyond the centre back to the other side, and centres onto the centre."""
    for k in body:
        part = slice(whole.first[k], whole.first[k + 1])
        middle = float(flat[part, 0].mean())
        if abs(middle) > half + BEYOND:
            flat[part, 0] -= np.sign(middle) * 2 * half
        copy = whole.copies[k]
        centre = centre_of(pieces[copy.piece])
        if centre is None or side_of(pieces[copy.piece], places) != "front":
            continue
        x = float(centre[:, 0].mean()) * (-1.0 if copy.turned else 1.0)
        x += float(flat[part.start, 0] - whole.flat[part.start, 0])
        far = float(
            flat[part, 0].min() if abs(flat[part, 0].min() - x) > abs(flat[part, 0].max() - x) else flat[part, 0].max()
        )
        if abs(x) > BEYOND and abs(far - x) > BEYOND:
            flat[part, 0] = far * (flat[part, 0] - x) / (far - x)


BEYOND = 25.0
"""mm from where it belongs that a copy may be laid."""


def _spread(
    whole: Sewn,
    pieces: Mapping[str, Piece],
    places: Mapping[str, str],
    near: Mapping[int, Sequence[tuple[int, Meeting, bool]]],
    shift: dict[int, Array],
    starts: Sequence[tuple[int, Array]],
    without: frozenset[int],
) -> None:
    """Lay copies beside those that are laid, cheapest seams first; `shift` grows by how each one is moved, and those
    that are laid upside down are turned in place."""
    middle = [whole.flat[whole.first[k] : whole.first[k + 1]].mean(axis=0) for k in range(len(whole.copies))]
    queue: list[tuple[int, int, int, Array, int]] = []
    for order, (k, move) in enumerate(starts):
        heapq.heappush(queue, (0, order, k, move, 1))
    order = len(starts)
    while queue:
        cost, _, k, move, way = heapq.heappop(queue)
        if k in shift:
            continue
        shift[k] = move
        if way < 0:
            whole.flat[whole.first[k] : whole.first[k + 1]] *= -1.0
            middle[k] = -middle[k]
        for other, meeting, swapped in near.get(k, ()):
            if other in shift or other in without:
                continue
            mine, its = (meeting.its, meeting.mine) if swapped else (meeting.mine, meeting.its)
            price = _price(whole.flat, mine, its, middle[k], middle[other])
            if _over_back(whole.copies[k], whole.copies[other], pieces, places):
                price = FOLDED
            there = move + (whole.flat[mine] - whole.flat[its]).mean(axis=0)
            off = _off_centre(whole.copies[other], pieces, there, 1)
            order += 1
            heapq.heappush(queue, (cost + price + (OFF if ASKEW[0] < off < ASKEW[1] else 0), order, other, there, 1))
            if price == FOLDED and np.ptp(whole.flat[whole.first[other] : whole.first[other + 1], 1]) < YOKE:
                there = move + (whole.flat[mine] + whole.flat[its]).mean(axis=0)
                off = _off_centre(whole.copies[other], pieces, there, -1)
                if ASKEW[1] < off < np.inf:  # drawn upside down, as a yoke is that was joined to its back the other way
                    order += 1
                    heapq.heappush(queue, (cost + STACKED, order, other, there, -1))


def _off_centre(copy: Copy, pieces: Mapping[str, Piece], move: Array, way: int) -> float:
    """mm between the centre front and the centre of a copy moved to where it would lie, upside down where `way` is -1;
    infinite for one without."""
    centre = centre_of(pieces[copy.piece])
    if centre is None:
        return float("inf")
    return abs(way * float(centre[:, 0].mean()) * (-1.0 if copy.turned else 1.0) + float(move[0]))


def _starts(whole: Sewn, pieces: Mapping[str, Piece], places: Mapping[str, str]) -> list[tuple[int, float]]:
    """The copies that stand at the centre front, and where in x that is on each."""
    found = []
    for k, copy in enumerate(whole.copies):
        piece = pieces[copy.piece]
        if side_of(piece, places) != "front":
            continue
        centre = centre_of(piece)
        if centre is not None:
            found.append((k, float(centre[:, 0].mean()) * (-1.0 if copy.turned else 1.0)))
    # those with the longest centre first would be as good: all of them stand on one line
    return found


def _over_back(one: Copy, two: Copy, pieces: Mapping[str, Piece], places: Mapping[str, str]) -> bool:
    """Whether a way from copy to copy leads over the centre back, where the layout is open."""
    return one.piece == two.piece and side_of(pieces[one.piece], places) == "back"


def _price(flat: Array, mine: Sequence[int], its: Sequence[int], middle: Array, other: Array) -> int:
    line = flat[mine]
    wide, high = np.ptp(line[:, 0]), np.ptp(line[:, 1])
    axis = 0 if high >= wide else 1
    here = np.sign(line[:, axis].mean() - middle[axis])
    there = np.sign(flat[its][:, axis].mean() - other[axis])
    if here == there:
        return FOLDED
    return BESIDE if axis == 0 else STACKED


def _half(
    whole: Sewn,
    pieces: Mapping[str, Piece],
    flat: Array,
    span: Sequence[slice],
    places: Mapping[str, str],
    body: Sequence[int],
) -> float:
    """mm from the centre front to the centre back, as laid out."""
    found = []
    for k in body:
        copy = whole.copies[k]
        piece = pieces[copy.piece]
        centre = centre_of(piece)
        if side_of(piece, places) == "back" and centre is not None:
            move = float(flat[span[k]][0, 0] - whole.flat[span[k]][0, 0])
            found.append(float(np.abs(centre[:, 0] * (-1.0 if copy.turned else 1.0) + move).max()))
    if found:
        return max(found)
    return float(np.nanmax(np.abs(flat[:, 0])))


def _girth(whole: Sewn, flat: Array) -> float:
    """mm round panels that are laid side by side: how far apart the two sides of the seam lie at which they end."""
    apart = [abs(float((flat[m.mine] - flat[m.its])[:, 0].mean())) for m in whole.meetings]
    return max(away for away in apart if np.isfinite(away))


def _waist(
    whole: Sewn, pieces: Mapping[str, Piece], flat: Array, span: Sequence[slice], shift: Mapping[int, Array], form: Form
) -> tuple[float, list[str]]:
    """y of the waist as laid out, and what was assumed."""
    for name, level in (
        ("waist-line", 0.0),
        ("waist", 0.0),
        ("bust-line", form.levels["bust"]),
        ("hip-line", form.levels["hip"]),
    ):
        for k, copy in sorted(
            ((k, copy) for k, copy in enumerate(whole.copies) if k in shift), key=lambda one: abs(shift[one[0]][0])
        ):
            piece = pieces[copy.piece]
            for line in piece.lines:
                if line.name == name:
                    return float(np.mean([line.curve.start[1], line.curve.end[1]])) + float(shift[k][1]) + level, []
            for edge in piece.edges:
                if edge.name == name:
                    along = [whole.first[k] + on.vertex for on in whole.cells[copy.piece].edges[edge.uid]]
                    innermost = min(along, key=lambda v: abs(flat[v, 0]))
                    return float(flat[innermost, 1]) + level, []
    top = float(np.nanmin(flat[:, 1]))
    return top, ["no piece says where its waist is: the uppermost point was put there"]


def put_on(layout: Layout, whole: Sewn, form: Form) -> Array:
    """The sewn vertices (count, 3) as they begin, outside of the form."""
    level = form.levels
    sleeves = np.isfinite(layout.start[:, 0])
    up = np.where(sleeves, 0.0, layout.up)
    for one in layout.hung:
        up[one.own] = 0.0
    tall = float(up.max())
    top = level["side-neck"] + 6.0
    if tall > top:
        arm = level["underarm"]
        for part in (np.abs(layout.round) < 0.5 * layout.half, np.abs(layout.round) >= 0.5 * layout.half):
            if part.any() and (highest := float(up[part].max())) > arm:
                high = part & (up > arm)
                up[high] = arm + (up[high] - arm) * (top - arm) / max(highest - arm, top - arm)
    share = np.clip(np.abs(layout.round) / layout.half, 0.0, 1.0)
    at = np.empty((len(up), 3))
    order = np.argsort(up)
    steps = max(1, len(up) // 400)
    for k in range(0, len(order), steps):
        some = order[k : k + steps]
        height = float(np.clip(up[some].mean(), form.heights[0], form.heights[-1]))
        half = form.section(height)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(half, axis=0), axis=1))])
        ease = max(LOOSE, min(layout.half / along[-1], 1.6)) if height < level["across"] else LOOSE
        x = np.interp(share[some] * along[-1], along, half[:, 0]) * ease
        z = np.interp(share[some] * along[-1], along, half[:, 1]) * ease
        at[some] = np.column_stack([-np.sign(layout.round[some]) * x, up[some], z])
    if any(limb.name == "leg" for limb in form.limbs):
        side = sides(layout, whole)
        at = on_legs(at, side, layout.round * side, layout.up, form)
    at = hung_on(np.where(sleeves[:, None], layout.start, at), layout.hung, form)
    found = np.zeros((whole.count, 3))
    for axis in range(3):
        found[:, axis] = np.bincount(whole.joined, at[:, axis], whole.count)
    found /= np.bincount(whole.joined, minlength=whole.count)[:, None]
    if not np.isfinite(found).all():
        raise GeometryError("a piece could not be put on the form")
    return found


def sides(layout: Layout, whole: Sewn) -> Array:
    """Per vertex of copies which side its copy lies on: -1 the wearer's left, 1 the right."""
    side = np.ones(len(layout.round))
    for k in range(len(whole.copies)):
        part = slice(whole.first[k], whole.first[k + 1])
        side[part] = 1.0 if float(layout.round[part].mean()) > 0 else -1.0
    return side
