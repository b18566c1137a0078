"""How much each waist dart and each side edge takes off, within what the trade allows.

Common practice, no source: at most 3.2 cm in one waist dart; more makes two, the second 3 to 4 cm farther from the
centre and 1.5 to 2.5 cm shorter; side edges shaped by at most 4 cm and never steeper than 15° off the upright.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from flatcut.blocks.frame import Frame, WaistDart
from flatcut.units import show

MOST_DART, LEAST_DART = 32.0, 1.0
"""mm: the most that one waist dart takes without a warning; the least, so that a dart of the recipe stands on every
body. A dart of no width at all would be a slit of the outline, which nothing can be sewn or cut along."""
ROUNDED = 0.5
"""mm over that which is still the most, rounded."""
MOST_SIDE, STEEPEST = 40.0, math.radians(15)
"""The most that a side edge is shaped, mm, and its steepest lean off the upright."""
BETWEEN, SHORTER = 35.0, 20.0
"""mm of cloth between two waist darts of one half; how much sooner the second ends, at either point."""
BESIDE = 20.0
"""mm of cloth at least between the last dart and the side edge."""


@dataclass(frozen=True, kw_only=True)
class Shares:
    """mm. side: of each side edge; back, front: of each dart, nearer the centre first."""

    side: float
    back: tuple[float, ...]
    front: tuple[float, ...]


def shared(
    total: float, back: Sequence[float], front: Sequence[float], *, most_side: float, least_side: float = -math.inf
) -> Shares:
    """What `total` mm of half a waist go into: the darts as planned and the rest into the two side edges, but that

    - no dart is narrower than LEAST_DART;
    - what a dart would have over MOST_DART goes into the sides, as far as they may take it;
    - what the sides would have over `most_side` goes into the darts, first where there is room, then into all alike;
    - where the sides must take `least_side`, the darts give way, all in proportion.

    >>> shared(100.0, [58.0], [32.0], most_side=40.0)
    Shares(side=18.0, back=(32.0,), front=(32.0,))
    >>> shared(200.0, [60.0], [60.0], most_side=40.0)
    Shares(side=40.0, back=(60.0,), front=(60.0,))
    """
    darts = [min(max(LEAST_DART, one), MOST_DART) for one in (*back, *front)]
    over = total - sum(darts) - 2 * most_side
    if over > 0:
        rooms = [MOST_DART - d for d in darts]
        first = min(over, sum(rooms))
        if first > 0:
            darts = [d + first * r / sum(rooms) for d, r in zip(darts, rooms, strict=True)]
        darts = [d + (over - first) / len(darts) for d in darts]
    lacking = 2 * least_side - (total - sum(darts))
    if lacking > 0:
        spare = sum(d - LEAST_DART for d in darts)
        share = min(1.0, lacking / spare) if spare > 0 else 0.0
        darts = [d - share * (d - LEAST_DART) for d in darts]
    count = len(back)
    return Shares(side=(total - sum(darts)) / 2, back=tuple(darts[:count]), front=tuple(darts[count:]))


def shaped(frame: Frame, *, most_side: float, least_side: float = -math.inf) -> Frame:
    """The frame with darts and side edges that share what is taken off; the second darts stand BETWEEN from the first.

    most_side, least_side: mm of each side edge. A dart that is still too wide is a warning that says what to do.
    """
    total = frame.half - frame.back_shaping - frame.waist
    planned = [[dart.intake for dart in group] for group in (frame.back_darts, frame.front_darts)]
    found = shared(total, planned[0], planned[1], most_side=most_side, least_side=least_side)
    back = _placed(frame.back_darts, found.back, 1.0, frame.side - found.side)
    front = _placed(frame.front_darts, found.front, -1.0, frame.side + found.side)
    warnings = [*_too_wide("back", back), *_too_wide("front", front)]
    return replace(
        frame,
        back_darts=back,
        front_darts=front,
        side_shaping=found.side,
        warnings=(*frame.warnings, *warnings),
    )


def _placed(darts: Sequence[WaistDart], intakes: Sequence[float], outward: float, side: float) -> tuple[WaistDart, ...]:
    """The darts with their intakes; outward: +1 or -1, the way along x to the side edge, which is at x = `side`."""
    first = replace(darts[0], intake=intakes[0])
    if len(darts) == 1:
        return (first,)
    away = BETWEEN + (intakes[0] + intakes[1]) / 2
    room = outward * (side - first.x) - BESIDE - intakes[1] / 2
    second = WaistDart(
        name=f"{first.name}-2",
        x=first.x + outward * min(away, room),
        top=first.top + SHORTER,
        bottom=first.bottom - SHORTER,
        intake=intakes[1],
    )
    return first, second


def _too_wide(piece: str, darts: Sequence[WaistDart]) -> Iterable[str]:
    return [dart_warning(piece, d.name, d.intake, len(darts)) for d in darts if d.intake > MOST_DART + ROUNDED]


def dart_warning(piece: str, name: str, intake: float, count: int) -> str:
    """What to do about a waist dart that is too wide. piece: 'back', 'skirt-front' and so on.

    >>> dart_warning("front", "waist-dart", 41.0, 1)
    'front.waist-dart is 4.1 cm wide, and one dart takes 3.2 cm without a bulge; take --front-darts=2'
    """
    what = f"--{piece.rpartition('-')[2]}-darts=2" if count == 1 else "more --waist-ease, or shape a panel seam"
    return (
        f"{piece}.{name} is {show(intake, 'cm')} wide, and one dart takes {show(MOST_DART, 'cm')} without a bulge;"
        f" take {what}"
    )
