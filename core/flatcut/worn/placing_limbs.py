"""Where sleeves and legs are put round the limbs of the form before they are sewn."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.worn.form import Form
from flatcut.worn.limbs import Limb
from flatcut.worn.sewn import Meeting, Sewn

LOOSE = 6.0
"""mm off the limb at which cloth begins."""
ROW = 12.0
"""mm of height over which the width of a sleeve or leg is taken."""
OVER = 90.0
"""mm below the crotch over which cloth goes from round the trunk to round a leg."""


class OnArm(NamedTuple):
    """Copies of cloth round one arm: at (v, 3), their vertices of all, nan for others; flat (v, 2) as laid out, x away
    from the body and y up, nan for others; left: whether it is the wearer's left arm."""

    at: Array
    flat: Array
    left: bool


def on_arm(
    whole: Sewn, form: Form, copies: Collection[int], shift: Mapping[int, Array], round_: Array, half: float
) -> OnArm:
    """A sleeve put on the arm that its crown is sewn to.

    copies: numbers of its copies; shift: how each is moved to lie beside the others; round_ (v,): mm from the centre
    front of all vertices of the body. Errors: UsageError for a sleeve that no armhole holds.
    """
    limb = next(limb for limb in form.limbs if limb.name == "arm")
    mine = np.concatenate([np.arange(whole.first[k], whole.first[k + 1]) for k in sorted(copies)])
    flat = np.full((len(whole.flat), 2), np.nan)
    for k in copies:
        part = slice(whole.first[k], whole.first[k + 1])
        flat[part] = whole.flat[part] + shift[k]
    crown, hole = _met(whole, copies, np.isfinite(round_))
    if not len(crown):
        name = whole.cells[whole.copies[min(copies)].piece].piece.name
        raise UsageError(f"{name} is sewn to no armhole that is worn; state the seam of its cap")
    left = float(np.mean(round_[hole])) < 0
    across = flat[:, 0] - 0.5 * (flat[mine, 0].min() + flat[mine, 0].max())
    # the front of the cap is what meets the front of the armhole
    ahead = 0.5 * half - np.abs(round_[hole])
    way = 1.0 if float(np.sum((across[crown] - across[crown].mean()) * (ahead - ahead.mean()))) > 0 else -1.0
    across *= way
    down = flat[:, 1] - flat[mine, 1].min()
    below = float(down[crown].max())
    low, high = _widths(across[mine], np.maximum(down[mine], below))
    rows = np.maximum(down[mine], below)
    middle, wide = 0.5 * (low(rows) + high(rows)), 0.5 * (high(rows) - low(rows))
    turn = np.pi * np.clip((across[mine] - middle) / wide, -1.0, 1.0)
    off = np.full(len(mine), LOOSE)
    at = np.full((len(whole.flat), 3), np.nan)
    at[mine] = limb.around(limb.begins + down[mine], turn, off) * (1.0 if left else -1.0, 1.0, 1.0)
    shown = np.full((len(whole.flat), 2), np.nan)
    tip = form.levels["shoulder-tip"]
    shown[mine] = np.column_stack([across[mine] - across[mine].min(), tip - down[mine]])
    return OnArm(at, shown, left)


def _met(whole: Sewn, copies: Collection[int], laid: BoolArray) -> tuple[list[int], list[int]]:
    """Vertices of copies that are sewn to others that are laid (v,) already, and those of the others."""
    names = {whole.copies[k] for k in copies}
    crown: list[int] = []
    hole: list[int] = []
    for meeting in whole.meetings:
        for one, two in _both(meeting):
            if one in names and two not in names:
                mine, its = (meeting.mine, meeting.its) if one == meeting.one else (meeting.its, meeting.mine)
                if laid[its].all():
                    crown += mine
                    hole += its
    return crown, hole


def _both(meeting: Meeting) -> Sequence[tuple[object, object]]:
    return ((meeting.one, meeting.two), (meeting.two, meeting.one))


class _Curve:
    """Values over heights, straight between them."""

    def __init__(self, at: Array, values: Array) -> None:
        self.at, self.values = at, values

    def __call__(self, rows: Array) -> Array:
        return np.asarray(np.interp(rows, self.at, self.values))


def _widths(across: Array, down: Array) -> tuple[_Curve, _Curve]:
    """The least and the most of `across` at each height."""
    steps = np.arange(down.min(), down.max() + ROW, ROW)
    found = []
    for at in steps:
        here = across[np.abs(down - at) <= ROW]
        found.append((at, here.min(), here.max()) if len(here) else (at, np.nan, np.nan))
    rows = np.array(found)
    rows = rows[np.isfinite(rows[:, 1])]
    return _Curve(rows[:, 0], rows[:, 1]), _Curve(rows[:, 0], rows[:, 2])


def on_legs(at: Array, side: Array, along: Array, up: Array, form: Form) -> Array:
    """Vertices of a body (v, 3), with those below the crotch put round the legs.

    side (v,): -1 for copies on the left of the wearer, else 1; along (v,): mm from the centre front outward,
    below zero on the fork; up (v,): mm above the waist.
    """
    limb: Limb = next(limb for limb in form.limbs if limb.name == "leg")
    found: Array = at.copy()
    inside = along < 0
    found[inside, 0] = 0.0
    share = np.clip((form.floor + 0.3 * OVER - up) / OVER, 0.0, 1.0)
    low_part = share > 0
    if not low_part.any():
        return found
    for one in (-1.0, 1.0):
        mine = np.flatnonzero(low_part & (side == one))
        if not len(mine):
            continue
        rows = np.minimum(up[mine], form.floor)
        low, high = _widths(along[mine], rows)
        part = np.clip((along[mine] - low(rows)) / np.maximum(high(rows) - low(rows), 1.0), 0.0, 1.0)
        turn = np.pi - 2 * np.pi * part  # from the inside over the front to the outside
        long = float(limb.axis[0, 1])
        there = limb.around(long - rows, turn, np.full(len(mine), LOOSE)) * (-one, 1.0, 1.0)
        there[:, 1] = up[mine]
        found[mine] += share[mine, None] * (there - found[mine])
    return found
