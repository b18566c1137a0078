"""A garment worn: pieces chosen, sewn, put on a form and brought to rest, coarse first and then fine."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import pairwise

import numpy as np

from flatcut.errors import MissingPackageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.region import Ints
from flatcut.pattern.values import Pattern, Piece
from flatcut.worn.cells import ROLL
from flatcut.worn.cloth import Cloth
from flatcut.worn.energy import Energy, Net, Strain
from flatcut.worn.form import Form
from flatcut.worn.ground import OnForm
from flatcut.worn.outer import outer
from flatcut.worn.placing import Layout, laid, put_on
from flatcut.worn.rest import NO_LIMIT, Limit, Rest, at_rest
from flatcut.worn.sewn import Sewn, sewn
from flatcut.worn.tacking import tacked, upper_edges

SMOOTHED = 40.0
"""Of the cloth's bending: stiffer than it is, so that it comes to lie smoothly first."""
FLOOR = 5e-7
"""N m of bending for each mm² of the net's width: softer cloth folds finer than the net can show."""
HELD_AT_TOP = 15.0
"""mm from the highest point of a front or back within which it is held, where nothing goes over the shoulders."""
FIRST_STEPS = 25
ON_CLOTH = 1.5
"""mm more off the form of a collar that is turned over: the cloth below it. Cloth does not feel other cloth itself."""
OUT_OF_IT = 3.0
"""mm off the form at which cloth begins at least."""
COARSE = 26.0
"""mm between the vertices of the first, quick net."""
STANDS = 80.0
"""mm off the form, above the bust, from which on cloth stands as a cowl does before it has fallen into its folds."""
HEAVY, FALLS = 30.0, 40
"""A coarse net is stiffer than its cloth, and holds a cowl up like a beak: it falls so many times as heavy, for so many
steps, before the finer net goes on from there."""


@dataclass(frozen=True, kw_only=True)
class Worn:
    """A garment at rest on a form. at (count, 3): its sewn vertices, mm; strain: per triangle of `sewn`."""

    sewn: Sewn
    form: Form
    at: Array
    strain: Strain
    rest: Rest
    layout: Layout
    energy: Energy

    @property
    def triangles(self) -> Ints:
        """(t, 3) of sewn vertices."""
        return np.asarray(self.sewn.joined[self.sewn.triangles])


def ready() -> None:
    """Make sure that what the computing is done with is there. Errors: MissingPackageError that says how to get it."""
    if find_spec("scipy") is None:
        raise MissingPackageError(
            "seeing garments worn needs the package scipy; install it with: pip install 'flatcut[wear]'"
        )


def net_of(whole: Sewn, layout: Layout, held: Ints, height: Array, kept: Ints) -> Net:
    """The net of a sewn garment: each triangle with its flat shape, weft across and warp along its piece's grain."""
    off, creased = _layers(whole, layout)
    flat = np.empty((len(whole.triangles), 3, 2))
    for k, copy in enumerate(whole.copies):
        mine = whole.owner == k
        piece = whole.cells[copy.piece].piece
        along = np.array([0.0, 1.0])
        if piece.grain is not None:
            along = np.asarray(piece.grain.end - piece.grain.start)
            along = along / np.linalg.norm(along)
        if copy.turned:
            along = along * (-1.0, 1.0)
        across = np.array([along[1], -along[0]])
        points = whole.flat[whole.triangles[mine]]
        flat[mine] = np.stack([points @ across, points @ along], axis=-1)
    return Net(
        count=whole.count,
        triangles=whole.joined[whole.triangles],
        flat=flat,
        held=held,
        height=height,
        plane=whole.plane,
        kept=kept,
        off=off,
        creased=creased,
    )


def _layers(whole: Sewn, layout: Layout) -> tuple[Array, Ints]:
    """Of what lies on other cloth mm more off the form for each sewn vertex, and the edges along which it is turned."""
    off, creased = np.zeros(whole.count), []
    for one in layout.hung:
        if one.course not in ("stand", "turned", "flat", "rolled"):
            continue
        creased += list(pairwise(whole.joined[one.line].tolist()))
        if one.course != "stand":
            off[whole.joined[one.own[one.away > one.roll + 1.0]]] = ON_CLOTH
        if one.course == "rolled":
            roll = np.array(whole.cells[whole.copies[one.copy].piece].inner[ROLL]) + whole.first[one.copy]
            creased += list(pairwise(whole.joined[roll].tolist()))
    return off, np.array(creased, dtype=np.intp).reshape(-1, 2)


def worn(
    pattern: Pattern,
    pieces: Sequence[Piece],
    form: Form,
    cloth: Cloth,
    *,
    mesh: float = 12.0,
    places: Mapping[str, str] | None = None,
    both: bool = False,
    limit: Limit = NO_LIMIT,
    told: Callable[[str], None] = lambda text: None,
) -> Worn:
    """The pieces sewn and worn. mesh: mm between vertices. both: both sides are computed though they are alike.

    Errors: UsageError, GeometryError.
    """
    ground = OnForm(form)
    pattern, pieces = outer(pattern, pieces)
    start: Array | None = None
    before: Sewn | None = None
    for wide, steps in ((COARSE, 150), (mesh, 80)) if mesh < 0.75 * COARSE else ((mesh, 200),):
        whole = sewn(pattern, pieces, wide, whole=both)
        layout = laid(pattern, whole, form, places or {})
        whole, fastened = tacked(whole, layout)
        layout = layout._replace(assumed=(*layout.assumed, *fastened, *_pressed(pieces)))
        begin = _outside(put_on(layout, whole, form), ground)
        held, height, said = _held(layout, whole, form)
        if said:
            layout = layout._replace(assumed=(*layout.assumed, said))
        net = net_of(whole, layout, held, height, kept=held if said else held[:0])
        energy = Energy(net, cloth, ground, stiffer=max(1.0, FLOOR * wide**2 / cloth.bending))

        def say(step: int, value: float, wide: float = wide) -> None:
            told(f"net of {wide:g} mm, step {step + 1}")

        if start is None or before is None:
            stiff = Energy(net, cloth, ground, stiffer=SMOOTHED)
            begin = at_rest(stiff, begin, steps=FIRST_STEPS, limit=limit, told=say).at
        else:
            begin = _finer(before, start, whole)
        rest = at_rest(energy, begin, steps=steps, limit=limit, told=say)
        start, before = rest.at, whole
        if wide > mesh and _stands(rest.at, layout, whole, ground):
            heavy = Energy(net, cloth._replace(weight=HEAVY * cloth.weight), ground)
            start = at_rest(heavy, rest.at, steps=FALLS, limit=limit, told=say).at
        if limit.over:  # what there is: a finer net that only begins would show strains that are none
            break
    return Worn(
        sewn=whole,
        form=form,
        at=rest.at,
        strain=energy.strain(rest.at),
        rest=rest,
        layout=layout,
        energy=energy,
    )


def _pressed(pieces: Sequence[Piece]) -> list[str]:
    """What is to be said of pleats that go down to a hem."""
    hems = [(piece, edge) for piece in pieces for edge in piece.edges if edge.use == "hem"]
    names = [piece.name for piece, edge in hems if any(t.kind == "pleat" for t in edge.takeups)]
    return [f"{name}: its pleats hang open below their seam; pressed folds are not computed" for name in names]


def _outside(at: Array, ground: OnForm) -> Array:
    """Vertices (n, 3), those that begin inside the form or close to it moved outward."""
    near, out = ground.near(at)
    lack = np.where(np.isfinite(near), np.maximum(OUT_OF_IT - near, 0.0), 0.0)
    return np.asarray(at + lack[:, None] * out)


def _held(layout: Layout, whole: Sewn, form: Form) -> tuple[Ints, Array, str]:
    """What hangs from no shoulder is held in height by its upper edge, as by a waistband or straps: vertices, heights,
    and what is to be said of it."""
    up = np.where(np.isfinite(layout.start[:, 0]), -np.inf, layout.up)
    if _carried(up, layout, whole, form):
        return np.array([], dtype=int), np.array([]), ""
    top = float(up.max())
    found: dict[int, float] = {}
    for vertices in upper_edges(whole, layout):
        found.update({int(whole.joined[v]): float(up[v]) for v in vertices})
    said = ""
    if top > form.levels["under-bust"]:
        said = "nothing goes over the shoulders: the garment is held on the form at its uppermost edges"
        front = np.abs(layout.round) < 0.5 * layout.half
        bust = form.levels["bust"]
        over = next(one.got for one in form.checked if one.name == "neck-to-bust")
        # in front cloth goes out over the bust and back to the neck: longer than it is high
        rises = (form.levels["side-neck"] - bust) / over
        level = np.where(front & (up > bust), bust + rises * (up - bust), up)
        for part in (front, ~front):
            high = np.flatnonzero(part & (up > up[part].max() - HELD_AT_TOP))
            found.update({int(whole.joined[v]): 0.0 for v in high})
        found = {int(whole.joined[v]): float(level[v]) for v in range(len(up)) if int(whole.joined[v]) in found}
    held = np.array(sorted(found), dtype=int)
    return held, np.array([found[int(v)] for v in held]), said


def _carried(up: Array, layout: Layout, whole: Sewn, form: Form) -> bool:
    """Whether front and back meet over the shoulders: vertices, or those of pieces that lie mostly in front or behind,
    as a cowl does whose neck reaches farther round than its shoulders."""
    high = np.flatnonzero(up > form.levels["across"])
    away = np.abs(layout.round)
    of = np.searchsorted(whole.first, high, side="right") - 1
    middle = np.array([away[a:b].mean() for a, b in pairwise(whole.first)])
    joined = whole.joined[high]
    for lies in (away[high], middle[of]):
        front = lies < 0.5 * layout.half
        if np.intersect1d(joined[front], joined[~front]).size:
            return True
    return False


def _stands(at: Array, layout: Layout, whole: Sewn, ground: OnForm) -> bool:
    """Whether cloth of front or back stands far off the form above the bust."""
    away = layout.arms | {one.copy for one in layout.hung}
    mine = [whole.joined[a:b] for k, (a, b) in enumerate(pairwise(whole.first)) if k not in away]
    found = at[np.unique(np.concatenate(mine))]
    near, _ = ground.near(found[found[:, 1] > ground.form.levels["bust"]])
    return bool((near[np.isfinite(near)] > STANDS).any())


def _finer(coarse: Sewn, at: Array, fine: Sewn) -> Array:
    """Where the vertices of a finer net begin: between those of the coarse one, in the flat cloth of each copy."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    where = np.empty((len(fine.flat), 3))
    for k in range(len(fine.copies)):
        old = slice(coarse.first[k], coarse.first[k + 1])
        new = slice(fine.first[k], fine.first[k + 1])
        values = at[coarse.joined[old]]
        found = LinearNDInterpolator(coarse.flat[old], values)(fine.flat[new])
        lost = np.isnan(found).any(axis=1)
        if lost.any():
            found[lost] = NearestNDInterpolator(coarse.flat[old], values)(fine.flat[new][lost])
        where[new] = found
    found = np.column_stack([np.bincount(fine.joined, where[:, axis], fine.count) for axis in range(3)])
    return np.asarray(found / np.bincount(fine.joined, minlength=fine.count)[:, None])
