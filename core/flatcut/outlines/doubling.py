"""Notches side by side: which of them are one double or triple notch."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from flatcut.outlines.notching import Cut


@dataclass(frozen=True, kw_only=True)
class Marked:
    """`count` notches of one kind, side by side about the sewn distance `middle`, `apart` mm from each other."""

    cut: Cut
    middle: float
    count: int = 1
    apart: float = 0.0


NEAREST, FARTHEST = 6.0, 10.0
"""mm between the marks of a double or triple notch (0.6 to 1 cm: common practice, no source)."""
EVEN = 0.5
"""mm that the two gaps of a triple notch may differ."""


def doubled(places: list[tuple[float, Cut]]) -> list[Marked]:
    """Notches along one edge put together to double and triple ones: two or three of one kind that stand 6 to 10 mm
    apart, the three evenly, with no fourth beside them.

    places: sewn mm and notch, in any order.
    """
    ordered = sorted(places, key=lambda item: item[0])
    rows: list[list[tuple[float, Cut]]] = []
    for at, cut in ordered:
        last = rows[-1][-1] if rows else None
        alike = last is not None and (last[1].kind, last[1].into) == (cut.kind, cut.into)
        if alike and last is not None and NEAREST - EVEN / 2 <= at - last[0] <= FARTHEST + EVEN / 2:
            rows[-1].append((at, cut))
        else:
            rows.append([(at, cut)])
    marked: list[Marked] = []
    for row in rows:
        gaps = [b[0] - a[0] for a, b in pairwise(row)]
        if 1 < len(row) <= 3 and max(gaps) - min(gaps) <= EVEN:
            middle, apart = (row[0][0] + row[-1][0]) / 2, (row[-1][0] - row[0][0]) / (len(row) - 1)
            marked.append(Marked(cut=row[0][1], middle=middle, count=len(row), apart=apart))
        else:
            marked += [Marked(cut=cut, middle=at) for at, cut in row]
    return marked
