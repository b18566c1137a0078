"""A plain lay: each piece as far to the beginning of the cloth as it goes, the larger ones first.

For cloth on the fold, and for cloth whose stripes or checks are to meet: pieces there may lie only on the fold, or a
whole repeat apart. What is free is known on a grid of cells; a piece takes every cell that it may touch, so that the
grid promises no room that is not there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array, BoolArray, ComplexArray
from flatcut.geometry.region import covered, swollen
from flatcut.lay.nesting import refuse_wider
from flatcut.lay.values import Item, Lay, Placed

CELL = 4.0
"""mm: the sides of a cell at most."""
TRIES = 6
"""Orders of the pieces that are tried; the shortest lay is kept."""


@dataclass(frozen=True, kw_only=True)
class Repeat:
    """along, across: mm after which the cloth's pattern comes again, 0 for a plain one that way.

    anchors: per item number the place (2,) of it, as given, that stands on the beginning of a repeat.
    """

    along: float = 0.0
    across: float = 0.0
    anchors: Mapping[int, Array] = field(default_factory=dict)


PLAIN = Repeat()


def placed_in_turn(
    items: Sequence[Item], width: float, *, gap: float, repeat: Repeat = PLAIN, seed: int = 1, tries: int = TRIES
) -> Lay:
    """The shortest of some plain lays on cloth of a width, mm; pieces lie at least `gap` apart.

    The same for the same items and seed. Errors: UsageError for an item wider than the cloth.
    """
    refuse_wider(items, width)
    forms = [[_form(item, number, turn, gap, repeat) for turn in item.turns] for number, item in enumerate(items)]
    best: Lay | None = None
    for order in _orders(items, seed, tries):
        placed = _tried(items, forms, order, width, repeat)
        lay = _from_start(Lay(items=tuple(items), placed=placed, width=width))
        if best is None or lay.length < best.length - 1e-6:
            best = lay
    assert best is not None
    return best


def _from_start(lay: Lay) -> Lay:
    """The same from the beginning of the cloth on: where a repeat begins along it is chosen with the scissors."""
    first = min(float(ring[:, 0].min()) for ring in lay.rings())
    placed = tuple(replace(one, at=(one.at[0] - first, one.at[1])) for one in lay.placed)
    return replace(lay, placed=placed)


@dataclass(frozen=True, kw_only=True)
class _Form:
    """An item in one turn. shift: the move that brings it to its first place; size: its extent along and across;
    low: where its first cell lies from there; near, taken: cells that must be free for it, and that it takes.
    """

    turn: float
    shift: Array
    size: tuple[float, float]
    low: tuple[int, int]
    near: BoolArray
    taken: BoolArray
    first: tuple[float, float]


def _cells(repeat: Repeat) -> tuple[float, float]:
    """The sides of a cell: a whole number of them makes a repeat."""
    return (
        repeat.along / math.ceil(repeat.along / CELL) if repeat.along else CELL,
        repeat.across / math.ceil(repeat.across / CELL) if repeat.across else CELL,
    )


def _form(item: Item, number: int, turn: float, gap: float, repeat: Repeat) -> _Form:
    matrix = Placed(item=number, turn=turn, at=(0.0, 0.0)).matrix
    ring = matrix.apply(item.ring)
    low = ring.min(axis=0)
    shift = -low
    anchor = repeat.anchors.get(number)
    if anchor is not None:
        at = matrix.apply(np.asarray(anchor)[None])[0] + shift
        for axis, period in enumerate((repeat.along, repeat.across)):
            if period:
                shift[axis] += (-at[axis]) % period
    ring = ring + shift
    cell = np.array(_cells(repeat))
    first = np.floor(ring.min(axis=0) / cell - gap / cell.min() - 2).astype(int)
    last = np.ceil(ring.max(axis=0) / cell + gap / cell.min() + 2).astype(int)
    corners = [np.arange(first[k], last[k]) * cell[k] for k in (0, 1)]
    return _Form(
        turn=turn,
        shift=shift,
        size=(float(np.ptp(ring[:, 0])), float(np.ptp(ring[:, 1]))),
        low=(int(first[0]), int(first[1])),
        near=covered(swollen(ring, by=gap) if gap else ring, corners[0], corners[1], cell),
        taken=covered(ring, corners[0], corners[1], cell),
        first=(float(ring[:, 0].min()), float(ring[:, 1].min())),
    )


def _orders(items: Sequence[Item], seed: int, tries: int) -> Iterator[list[int]]:
    """Orders to try: by area, by length, by width, and by area with a little chance."""
    numbers = range(len(items))
    rules = (
        lambda k: -items[k].area,
        lambda k: -min(items[k].extent(turn)[0] for turn in items[k].turns),
        lambda k: -min(items[k].extent(turn)[1] for turn in items[k].turns),
    )
    chance = np.random.default_rng(seed)
    for number in range(tries):
        if number < len(rules):
            order = sorted(numbers, key=rules[number])
        else:
            weight = [items[k].area * chance.uniform(0.5, 1.5) for k in numbers]
            order = [int(k) for k in np.argsort([-w for w in weight], kind="stable")]
        # what has its place on the fold goes before what may lie anywhere
        yield sorted(order, key=lambda k: not items[k].folded)


class _Grid:
    """Which cells are taken; it grows along the cloth as pieces are laid."""

    def __init__(self, width: float, cell: tuple[float, float], margin: int) -> None:
        self.margin = margin
        self.cells = np.zeros((0, math.ceil(width / cell[1]) + 2 * margin), dtype=np.float32)
        self._seen: dict[tuple[int, tuple[int, ...]], ComplexArray] = {}

    def grow(self, length: int) -> None:
        """Make room for so many cells along the cloth."""
        more = length + 2 * self.margin - len(self.cells)
        if more > 0:
            self.cells = np.concatenate([self.cells, np.zeros((more, self.cells.shape[1]), dtype=np.float32)])

    def met(self, forms: Sequence[_Form]) -> list[Array]:
        """How many taken cells each form would meet, for every step along and across: a correlation."""
        shape = tuple(2 ** math.ceil(math.log2(n)) for n in self.cells.shape)
        whole = np.fft.rfft2(self.cells, shape)
        found = []
        for form in forms:
            key = (id(form), shape)
            if key not in self._seen:
                self._seen[key] = np.conj(np.fft.rfft2(form.near.astype(np.float32), shape))
            found.append(np.fft.irfft2(whole * self._seen[key], shape))
        return found


def _tried(
    items: Sequence[Item], forms: list[list[_Form]], order: list[int], width: float, repeat: Repeat
) -> tuple[Placed, ...]:
    cell = _cells(repeat)
    margin = max(max(max(form.near.shape), -min(form.low)) for some in forms for form in some) + 2
    grid = _Grid(width, cell, margin)
    placed: list[Placed] = []
    length = 0.0
    for number in order:
        best: tuple[float, float, float, _Form, int, int] | None = None
        along = math.ceil((length + repeat.along) / cell[0]) + 2 * max(len(form.near) for form in forms[number])
        grid.grow(2 * along)
        for form, met in zip(forms[number], grid.met(forms[number]), strict=True):
            x, y = grid.margin + form.low[0], grid.margin + form.low[1]
            steps = math.floor((width - form.first[1] - form.size[1]) / cell[1] + 1e-9)
            free = met[x : x + along, y : y + max(steps + 1, 0)] < 0.5
            _restrict(free, repeat if number in repeat.anchors else PLAIN, cell, folded=items[number].folded)
            rows = free.any(axis=1)
            if not rows.any():
                continue
            i = int(rows.argmax())
            j = int(free[i].argmax())
            end = form.first[0] + i * cell[0] + form.size[0]
            key = (max(end, length), end, j * cell[1])
            if best is None or key < best[:3]:
                best = (*key, form, i, j)
        if best is None:
            raise UsageError(f"{items[number].name} has no place on the cloth at its repeat; take wider cloth")
        *_, form, i, j = best
        _take(grid, form, i, j)
        at = form.shift + np.array([i * cell[0], j * cell[1]])
        placed.append(Placed(item=number, turn=form.turn, at=(float(at[0]), float(at[1]))))
        length = max(length, best[1])
    return tuple(placed)


def _restrict(free: BoolArray, repeat: Repeat, cell: tuple[float, float], *, folded: bool) -> None:
    """Take away the steps that are on no fold, or between repeats."""
    if folded:
        free[:, 1:] = False
    if repeat.along:
        free[np.arange(len(free)) % round(repeat.along / cell[0]) != 0] = False
    if repeat.across:
        free[:, np.arange(free.shape[1]) % round(repeat.across / cell[1]) != 0] = False


def _take(grid: _Grid, form: _Form, i: int, j: int) -> None:
    x, y = grid.margin + form.low[0] + i, grid.margin + form.low[1] + j
    wide, high = form.taken.shape
    part = grid.cells[x : x + wide, y : y + high]
    np.maximum(part, form.taken, out=part)
