"""How much cloth a set takes at least, and the joins of pieces that are longer than the cloth allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flatcut.listing.cut_list import Row


@dataclass(frozen=True, kw_only=True)
class Cloth:
    """What a material takes of cloth `width` mm wide between its selvedges.

    least: mm of length that no lay can go below; about: mm at the stated use of the cloth. too_wide: pieces that do not
    lie across it with their grain along it; joins: for each of those how many seams across it would take. laid: mm of
    length of a lay that was made, 0 for none.
    """

    material: str
    width: float
    least: float
    about: float
    joins: tuple[tuple[str, int], ...] = ()
    laid: float = 0.0


def cloth(material: str, listed: Sequence[Row], width: float, *, used: float, seam: float) -> Cloth:
    """The bound: the area of all pieces over the width, and no less than the longest piece along its grain.

    used: the part of the cloth that pieces cover; seam: mm that each side of a join takes.

    >>> row = Row(piece="a", count=2, cut_as="pair", material="", size="", grain="straight", along=500.0, across=400.0,
    ...     area=180000.0, netted=False)
    >>> found = cloth("", [row], 900.0, used=0.75, seam=10.0)
    >>> round(found.least), round(found.about, 1), found.joins
    (500, 533.3, ())
    """
    area = sum(row.count * row.area for row in listed)
    longest = max((row.along for row in listed), default=0.0)
    joins = tuple((row.piece, joined(row.across, width, seam)) for row in listed if row.across > width)
    return Cloth(
        material=material,
        width=width,
        least=max(area / width, longest),
        about=max(area / width / used, longest),
        joins=joins,
    )


def joined(long: float, width: float, seam: float) -> int:
    """How many joins a piece `long` mm across the grain takes, cut from widths; each join takes the seam twice.

    >>> joined(2457.6, 1400.0, 10.0), joined(1400.0, 1400.0, 10.0), joined(2781.0, 1400.0, 10.0)
    (1, 0, 2)
    """
    if long <= width:
        return 0
    return math.ceil((long - width) / (width - 2 * seam) - 1e-9)
