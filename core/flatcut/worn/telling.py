"""What a worn garment tells: ease where it is felt, how it hangs, where it is tight and where it stands off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.region import Ints
from flatcut.pattern.values import Piece
from flatcut.worn.ground import OnForm
from flatcut.worn.placing import side_of, sides
from flatcut.worn.sewn import Copy, Sewn, alone
from flatcut.worn.wearing import Worn

LEVELS = ("bust", "waist", "hip")
PLACES = 5
"""How many of the tightest and of the loosest places are named."""
APART = 70.0
"""mm between two places that are named."""
PATCH = 40.0
"""mm round a vertex over which strain is averaged, less and less toward the rim, before it is called tight: at points
of darts and at corners the strain itself has no bound, and would grow with every finer net."""
LAP = 5
"""Degrees round the form over which two pieces must lie on each other for them to be laid over each other there."""
LOWEST = 200.0
"""mm above the lowest hem within which others are told with it."""
RISEN = 30.0
"""mm that cloth may end from a level and still be measured there."""
SPIN = 2.0
"""Degrees round the form that a garment may leave open at a level and still go round it."""
TOUCHES = 0.5
"""mm that a vertex may lie inside the form without a word: between two of its points the net cuts a corner."""
TORN = 0.25
"""Stretch over a patch that no woven cloth bears (common practice, no source): what was computed is then no garment."""
WITHIN = 2.0
"""mm inside the form from which on what was computed is no garment on a body."""


class Level(NamedTuple):
    """A height at which ease is felt: girth of the form and of the cloth, mm; nan where no cloth goes round."""

    name: str
    height: float
    form: float
    cloth: float

    @property
    def ease(self) -> float:
        """mm that the cloth is longer than the form's girth."""
        return self.cloth - self.form


class Spot(NamedTuple):
    """A named place. vertex: of the copies; value: strain as a share or gap in mm; where: in words."""

    vertex: int
    value: float
    where: str


@dataclass(frozen=True, kw_only=True)
class Told:
    """All that is told of a worn garment; per vertex of the copies: warp and weft strain and gap (mm).

    lean: degrees by which side seams lean, foot forward positive, by the names of the two pieces. hem: lowest and
    highest mm above the waist, nan without one. inside: mm that a vertex lies inside the form at most; deep: the
    places where it does by more than half a millimetre, the deepest first.
    """

    levels: tuple[Level, ...]
    lean: tuple[tuple[str, float], ...]
    hem: tuple[float, float]
    warp: Array
    weft: Array
    gap: Array
    tight: tuple[Spot, ...]
    loose: tuple[Spot, ...]
    inside: float
    deep: tuple[Spot, ...]
    stretch: tuple[float, float]


def told(worn: Worn, places: dict[str, str]) -> Told:
    """What is to be seen on a garment at rest."""
    near = OnForm(worn.form).near(worn.at)[0]
    gap = _gaps(worn)
    area = worn.energy.area
    of = worn.triangles
    warp, weft = (_averaged(worn, values, of, area) for values in (worn.strain.warp, worn.strain.weft))
    flat_warp, flat_weft, flat_gap = (values[worn.sewn.joined] for values in (warp, weft, gap))
    pull = np.maximum(flat_warp, flat_weft)
    finite = near[np.isfinite(near)]
    order = np.argsort(np.maximum(worn.strain.warp, worn.strain.weft))
    share = np.cumsum(area[order]) / area.sum()
    high = float(np.maximum(worn.strain.warp, worn.strain.weft)[order][np.searchsorted(share, 0.95)])
    order = np.argsort(np.minimum(worn.strain.warp, worn.strain.weft))
    share = np.cumsum(area[order]) / area.sum()
    low = float(np.minimum(worn.strain.warp, worn.strain.weft)[order][np.searchsorted(share, 0.05)])
    hung = [one.own for one in worn.layout.hung if one.course != "up"]
    standing = flat_gap.copy()  # what hangs free or lies on other cloth stands off by nature
    for own in hung:
        standing[own] = 0.0
    return Told(
        levels=tuple(_levels(worn)),
        lean=tuple(_leans(worn.sewn, worn.at, places)),
        hem=_hem(worn),
        warp=flat_warp,
        weft=flat_weft,
        gap=flat_gap,
        tight=_spots(worn, pull, 0.0005),
        loose=_spots(worn, standing, 1.0),
        inside=float(max(-finite.min(), 0.0)) if len(finite) else 0.0,
        deep=_spots(worn, np.where(np.isfinite(near), -near, 0.0)[worn.sewn.joined], TOUCHES),
        stretch=(high, low),
    )


def hold(of: Told) -> None:
    """Raise for cloth that lies inside the body or is stretched beyond what cloth bears.

    Errors: GeometryError, with the deepest or the tightest place.
    """
    if of.tight and of.tight[0].value > TORN:
        tightest = of.tight[0]
        raise GeometryError(
            f"the cloth of {tightest.where} came out stretched by {100 * tightest.value:.0f} %, which tears it, so "
            "nothing of it is shown; see whether its seams are stated as they are sewn, or leave pieces out with ",
            Option("pieces"),
        )
    if of.deep and of.deep[0].value > WITHIN:
        deepest = of.deep[0]
        raise GeometryError(
            f"the cloth of {deepest.where} came to lie {deepest.value:.0f} mm inside the body, so nothing of it is "
            "shown; try a finer net with ",
            Option("mesh"),
            ", or say with ",
            Option("place"),
            " or ",
            Option("pieces"),
            " where pieces belong and which are worn",
        )


def _averaged(worn: Worn, values: Array, of: Ints, area: Array) -> Array:
    """Values of triangles at sewn vertices: means over what lies within a patch."""
    from scipy.spatial import cKDTree

    middle = worn.at[of].mean(axis=1)
    tree = cKDTree(middle)
    found = np.empty(len(worn.at))
    for k, at in enumerate(worn.at):
        near = tree.query_ball_point(at, PATCH)
        away = np.linalg.norm(middle[near] - at, axis=1) / PATCH
        weight = area[near] * (1.0 - away**2) ** 2
        found[k] = float((values[near] * weight).sum() / weight.sum()) if near else 0.0
    return found


def _gaps(worn: Worn) -> Array:
    """mm from each sewn vertex to the form."""
    from scipy.spatial import cKDTree

    form = worn.form
    points = []
    for k in range(len(form.heights)):
        r = form.radii[:, k]
        x, z = r * np.sin(form.angles), r * np.cos(form.angles)
        if form.heights[k] >= form.floor:
            points.append(np.column_stack([np.abs(x), np.full(len(x), form.heights[k]), z]))
    tree = cKDTree(np.vstack(points))
    far = tree.query(worn.at * np.where(worn.at[:, :1] < 0, (-1.0, 1.0, 1.0), (1.0, 1.0, 1.0)))[0]
    for limb in form.limbs:
        far = np.minimum(far, np.abs(limb.near(worn.at)[0]))
    near = OnForm(form).near(worn.at)[0]
    return np.asarray(np.where(np.abs(near) < 8.0, near, far))


def _levels(worn: Worn) -> Iterator[Level]:
    """Girths at the named heights; where the cloth ends near one, at the nearest height that it goes round."""
    away = np.arange(RISEN / 6, RISEN + 1e-9, RISEN / 6)
    for name in LEVELS:
        heights = [worn.form.levels[name] + up for up in (0.0, *np.column_stack([away, -away]).ravel())]
        girths = [_round(worn, height) for height in heights]
        k = next((k for k, girth in enumerate(girths) if np.isfinite(girth)), 0)
        yield Level(name, heights[k], worn.form.girth(heights[k]), girths[k])


def _round(worn: Worn, height: float) -> float:
    """mm of cloth round the form at a height; nan where it does not go all the way round."""
    half = len(worn.sewn.plane) > 0
    mine = _once_round(worn)
    cut, crossed = _cut(worn.at, worn.triangles[mine], height)
    if not len(cut):
        return float("nan")
    turn = np.sort(np.degrees(np.arctan2(cut[:, :, 0], cut[:, :, 2])), axis=1)
    layers = np.ones(len(cut))
    if half:
        turn = np.sort(np.abs(turn), axis=1)
    else:
        layers = _layers(turn, worn.sewn.owner[mine][crossed])
        # what crosses the back reaches both ends of the range
        over = turn[:, 1] - turn[:, 0] > 180.0
        turn = np.vstack([turn[~over], *([(-180.0, low), (high, 180.0)] for low, high in turn[over])])
    reached, open_ = (0.0 if half else -180.0), 0.0
    for low, high in turn[np.argsort(turn[:, 0])]:
        open_ += max(low - reached, 0.0)
        reached = max(reached, high)
    if open_ + 180.0 - reached > SPIN:
        return float("nan")
    return float((np.linalg.norm(cut[:, 1] - cut[:, 0], axis=1) / layers).sum()) * (2.0 if half else 1.0)


def _layers(turn: Array, owner: Ints) -> Array:
    """How many pieces lie over each other where each of some stretches (n, 2), degrees, of pieces `owner` (n,) lies."""
    low, high = np.floor(turn + 180.0).astype(int).T
    over = high - low > 180
    low, high = np.where(over, high, low), np.where(over, low + 360, high)
    cover = {k: np.zeros(360, dtype=bool) for k in np.unique(owner).tolist()}
    for a, b, k in zip(low.tolist(), high.tolist(), owner.tolist(), strict=True):
        cover[k][np.arange(a, b + 1) % 360] = True
    middle = (low + high) // 2 % 360
    found = np.ones(len(turn))
    for k, mine in cover.items():
        for other, its in cover.items():
            if other != k and (mine & its).sum() > LAP:
                found[owner == k] += its[middle[owner == k]]
    return found


def _once_round(worn: Worn) -> BoolArray:
    """Which triangles go round the body once: none of sleeves, and none beyond a centre, where two sides lap."""
    layout = worn.layout
    out = (layout.round * sides(layout, worn.sewn))[worn.sewn.triangles].mean(axis=1)
    sewn = worn.sewn
    single = np.array([alone(sewn.cells[copy.piece].piece) for copy in sewn.copies])
    lapped = ((out < 0) & ~single[sewn.owner]) | (out > layout.half + 1e-6)
    away = layout.arms | {one.copy for one in layout.hung if one.course not in ("down", "up")}
    return np.asarray(~(lapped | np.isin(sewn.owner, sorted(away))))


def _cut(at: Array, triangles: Ints, height: float) -> tuple[Array, BoolArray]:
    """Where a level cuts triangles: (n, 2, 3), and which of them."""
    y = at[:, 1][triangles] - height
    crossed = (y.min(axis=1) < 0) & (y.max(axis=1) >= 0)
    ends = []
    corners, y = at[triangles[crossed]], y[crossed]
    for k in range(3):
        a, b = y[:, k], y[:, (k + 1) % 3]
        meets = (a < 0) != (b < 0)
        share = np.where(meets, a / np.where(meets, a - b, 1.0), np.nan)
        ends.append(corners[:, k] + share[:, None] * (corners[:, (k + 1) % 3] - corners[:, k]))
    stack = np.stack(ends, axis=1)
    if not len(stack):
        return np.empty((0, 2, 3)), crossed
    order = np.argsort(np.isnan(stack[:, :, 0]), axis=1, kind="stable")[:, :2]
    return np.asarray(np.take_along_axis(stack, order[:, :, None], axis=1)), crossed


def _leans(sewn: Sewn, at: Array, places: dict[str, str]) -> Iterator[tuple[str, float]]:
    """Of each seam between front and back that runs down, how far it leans."""
    seen: set[tuple[str, str]] = set()
    for meeting in sewn.meetings:
        one, two = (sewn.cells[copy.piece].piece for copy in (meeting.one, meeting.two))
        if {side_of(one, places), side_of(two, places)} != {"front", "back"}:
            continue
        line = at[sewn.joined[meeting.mine]]
        top, foot = line[np.argmax(line[:, 1])], line[np.argmin(line[:, 1])]
        down = top[1] - foot[1]
        if down < 80.0 or down < 2.0 * abs(top[0] - foot[0]) or (one.name, two.name) in seen:
            continue
        seen.add((one.name, two.name))
        yield f"{one.name} to {two.name}", float(np.degrees(np.arctan2(foot[2] - top[2], down)))


def _hem(worn: Worn) -> tuple[float, float]:
    sewn, at = worn.sewn, worn.at
    hems = [
        at[sewn.vertices(copy, edge.uid), 1]
        for k, copy in enumerate(sewn.copies)
        if k not in worn.layout.arms
        for edge in sewn.cells[copy.piece].piece.edges
        if edge.use == "hem"
    ]
    lowest = min((hem.mean() for hem in hems), default=np.nan)
    heights = np.concatenate([hem for hem in hems if hem.mean() < lowest + LOWEST] or [np.array([np.nan])])
    return float(heights.min()), float(heights.max())


def _spots(worn: Worn, values: Array, least: float) -> tuple[Spot, ...]:
    """The places of the highest values (of vertices of copies), apart from each other on the sewn garment."""
    found: list[Spot] = []
    where = worn.at[worn.sewn.joined]
    for v in np.argsort(-values):
        if len(found) == PLACES or values[v] < least:
            break
        if all(np.linalg.norm(where[v] - where[spot.vertex]) > APART for spot in found):
            found.append(Spot(int(v), float(values[v]), place(worn.sewn, int(v))))
    return tuple(found)


def place(sewn: Sewn, vertex: int) -> str:
    """A vertex of a copy in words: its piece and what is near it."""
    k = int(np.searchsorted(sewn.first, vertex, side="right")) - 1
    copy: Copy = sewn.copies[k]
    cells = sewn.cells[copy.piece]
    at = cells.points[vertex - sewn.first[k]]
    piece = cells.piece
    near = min(_landmarks(piece, cells.points, sewn, copy), key=lambda one: float(np.linalg.norm(one[1] - at)))
    away = float(np.linalg.norm(near[1] - at))
    return f"{piece.name}, at {near[0]}" if away < 8.0 else f"{piece.name}, {away:.0f} mm from {near[0]}"


def _landmarks(piece: Piece, points: Array, sewn: Sewn, copy: Copy) -> Iterator[tuple[str, Array]]:
    for point in piece.points:
        yield point.name, point.at
    for dart in piece.darts:
        yield f"the point of {dart.name}", dart.points[-1]
    for k, edge in enumerate(piece.edges):
        yield f"{edge.name}/{piece.edges[(k + 1) % len(piece.edges)].name}", edge.end
        along = sewn.cells[copy.piece].edges[edge.uid]
        for share, word in ((0.25, "a quarter along"), (0.5, "the middle of"), (0.75, "three quarters along")):
            yield f"{word} {edge.name}", points[along[round(share * (len(along) - 1))].vertex]
