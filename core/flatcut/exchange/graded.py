"""Several sizes of a style as one set: the sample size, and a grade rule for each of its points."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError
from flatcut.exchange.planned import Plan
from flatcut.exchange.sampled import sampled
from flatcut.exchange.values import Part
from flatcut.geometry.arrays import Array
from flatcut.grading.written import Numbering

Plans = Sequence[tuple[str, Sequence[Plan]]]
"""The plans of each size, by its name."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Graded:
    """parts: of the sample size, with the numbers of their rules, and of sizes that differ by themselves.

    rules: by number from 1 on, (sizes, 2); apart: sentences on pieces that are written size by size.
    """

    parts: tuple[Part, ...]
    rules: tuple[Array, ...]
    apart: tuple[str, ...]


def every_size(sizes: Plans) -> tuple[Part, ...]:
    """Every piece of every size by itself, those of one form with the same points."""
    found: list[Part] = []
    for name in _names(sizes):
        found += [part for group in _alike(sizes, name) for part in _made(group)]
    return tuple(found)


def graded(sizes: Plans, sample: str) -> Graded:
    """The sample size with rules for the others. Errors: UsageError for a sample size that is not there."""
    order = [size for size, _ in sizes]
    if sample not in order:
        raise UsageError(f"there is no drawing of size '{sample}' to be the sample size; there are {', '.join(order)}")
    number = Numbering(len(order))
    parts: list[Part] = []
    apart: list[str] = []
    for name in _names(sizes):
        for group in _alike(sizes, name):
            here = [size for size, _ in group]
            made = _made(group)
            if sample not in here or len(group) != len(order):
                parts += made
                apart.append(f"{name} of {_listed(here)} has other points than the other sizes, and stands by itself")
                continue
            parts.append(_ruled(made, here, order, sample, number))
    return Graded(parts=tuple(parts), rules=tuple(number.rules), apart=tuple(apart))


def _ruled(
    made: Sequence[Part], here: Sequence[str], order: Sequence[str], sample: str, number: Callable[[Array], int]
) -> Part:
    base = made[here.index(sample)]
    places = np.stack([made[here.index(size)].places() for size in order])
    deltas = places - base.places()
    deltas -= deltas[:, :1]  # every size is laid on the sample size where its outline begins
    return base.ruled([number(deltas[:, k]) for k in range(deltas.shape[1])])


def _names(sizes: Plans) -> list[str]:
    """The pieces, in the order in which they come."""
    return list(dict.fromkeys(plan.piece.name for _, plans in sizes for plan in plans))


def _alike(sizes: Plans, name: str) -> list[list[tuple[str, Plan]]]:
    """A piece in its sizes, those of one form together."""
    groups: dict[object, list[tuple[str, Plan]]] = {}
    for size, plans in sizes:
        for plan in plans:
            if plan.piece.name == name:
                groups.setdefault(plan.form, []).append((size, plan))
    return list(groups.values())


def _made(group: Sequence[tuple[str, Plan]]) -> list[Part]:
    return sampled([plan for _, plan in group], sizes=[size for size, _ in group])


def _listed(sizes: Sequence[str]) -> str:
    return ("size " if len(sizes) == 1 else "sizes ") + ", ".join(sizes)
