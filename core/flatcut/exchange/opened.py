"""A piece on the fold laid open: both halves of every line, as one line where it runs over the fold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from flatcut.errors import InputError
from flatcut.exchange.layers import BOUNDARY, SEW
from flatcut.exchange.planned import Plan, Spot, Stretch, Track
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, BoolArray, unit
from flatcut.geometry.curves import Curve, chain, flatten, reverse, transform

ON = 0.15
"""mm: what lies this near to the fold lies on it; a hem that is not quite square to it leaves it by as much."""


def opened(plan: Plan) -> Plan:
    """The plan with both halves; one that is not on the fold stays as it is.

    Errors: InputError where the outline does not run along the fold in one stretch, or comes to cover it from both
    sides.
    """
    if plan.mirror is None:
        return plan
    axis, name = plan.mirror, plan.piece.name
    flip = Affine.reflection(axis[0], axis[1])
    tracks: list[Track] = []
    for track in plan.tracks:
        if track.layer in (BOUNDARY, SEW):
            tracks.append(_both(track, axis, flip, name))
        else:
            tracks += _inner(track, axis, flip)
    spots = [other for spot in plan.spots for other in _spots(spot, axis, flip)]
    holes = [at for hole in plan.holes for at in ((hole,) if on_axis(hole, axis).all() else (hole, flip.apply(hole)))]
    return replace(plan, tracks=tuple(tracks), spots=tuple(spots), holes=tuple(holes), mirror=None)


def on_axis(points: Array, axis: Array) -> BoolArray:
    """Which points (..., 2) lie on the line of the fold."""
    along = unit(axis[1] - axis[0])
    return np.asarray(np.abs((points - axis[0]) @ np.array([-along[1], along[0]])) <= ON)


def _both(track: Track, axis: Array, flip: Affine, name: str) -> Track:
    """A closed line without its stretch along the fold, and its mirror image, as one closed line."""
    folded = [bool(on_axis(one.curve.controls, axis).all()) for one in track.stretches]
    count = len(folded)
    starts = [k for k in range(count) if folded[k - 1] and not folded[k]]
    if len(starts) != 1:
        raise InputError(
            f"{name} cannot be laid open: its outline runs along the fold in {len(starts)} stretches, not in one; "
            "leave out --open, or mend the fold"
        )
    rolled = [track.stretches[(starts[0] + k) % count] for k in range(count)]
    half = _on_it([one for one in rolled if not on_axis(one.curve.controls, axis).all()], axis)
    back = [Stretch(f"~{one.name}", reverse(transform(one.curve, flip))) for one in reversed(half)]
    whole = Track(track.layer, (*half, *back), closed=True)
    across = np.array([[0.0, -1.0], [1.0, 0.0]]) @ unit(axis[1] - axis[0])
    sides = (flatten(chain([one.curve for one in half], within=1e-6), tolerance=ON) - axis[0]) @ across
    if sides.min() < -2 * ON and sides.max() > 2 * ON:
        raise InputError(f"{name} cannot be laid open: its outline crosses the fold; mend it there")
    return whole


def _on_it(half: list[Stretch], axis: Array, *, start: bool = True, end: bool = True) -> list[Stretch]:
    """Stretches of which the start, the end or both are set on the fold exactly, so that the halves meet."""
    along = unit(axis[1] - axis[0])

    def there(at: Array) -> Array:
        return np.asarray(axis[0] + ((at - axis[0]) @ along) * along)

    found = [*half]
    for k, corner, wanted in ((0, (0, 0), start), (-1, (-1, 3), end)):
        if wanted:
            controls = np.array(found[k].curve.controls)
            controls[corner] = there(controls[corner])
            found[k] = Stretch(found[k].name, Curve(controls, np.array(found[k].curve.straight)))
    return found


def _inner(track: Track, axis: Array, flip: Affine) -> Iterator[Track]:
    """A line inside and its mirror image: one line where it meets the fold, itself alone where it lies on the fold."""
    lies = [bool(on_axis(one.curve.controls, axis).all()) for one in track.stretches]
    if all(lies):
        yield track
        return
    first, last = track.stretches[0].curve.start, track.stretches[-1].curve.end
    kept = list(track.stretches)
    if not track.closed:
        kept = _on_it(kept, axis, start=bool(on_axis(first, axis)), end=bool(on_axis(last, axis)))
        track = Track(track.layer, tuple(kept), closed=False)
    back = tuple(Stretch(f"~{one.name}", reverse(transform(one.curve, flip))) for one in reversed(kept))
    if not track.closed and on_axis(last, axis):
        yield Track(track.layer, (*track.stretches, *back), closed=bool(on_axis(first, axis)))
    elif not track.closed and on_axis(first, axis):
        yield Track(track.layer, (*back, *track.stretches), closed=False)
    else:
        yield track
        yield Track(track.layer, back, closed=track.closed)


def _spots(spot: Spot, axis: Array, flip: Affine) -> Iterator[Spot]:
    yield spot
    if not on_axis(spot.at, axis):
        yield replace(spot, at=flip.apply(spot.at), into=flip.apply(spot.into) - flip.apply(np.zeros(2)))
