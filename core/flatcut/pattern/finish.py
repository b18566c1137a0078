"""Places along an edge, and how it is finished: its allowance and the corner at its end.

Frozen values; lengths in mm. `values.py` hands all of them on.
"""

from __future__ import annotations

from dataclasses import dataclass

CORNER_KINDS = ("mitred", "squared", "turned", "bevelled", "stepped")


@dataclass(frozen=True, kw_only=True)
class Position:
    """A place along an edge's sewn line.

    mode: 'fraction' of the sewn length, 'start' or 'end': mm from the edge's start or end.
    """

    mode: str
    value: float

    def along(self, total: float) -> float:
        """mm from the start on a line `total` mm long.

        >>> Position(mode="end", value=50.0).along(200.0)
        150.0
        """
        if self.mode == "fraction":
            return self.value * total
        return self.value if self.mode == "start" else total - self.value


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Another allowance from one place of an edge to another, tapering where `end_width` is given. mm."""

    start: Position
    end: Position
    width: float
    end_width: float | None = None


@dataclass(frozen=True, kw_only=True)
class Allowance:
    """Seam allowance along one edge; `end_width` where it tapers along the whole edge. mm.

    stretches: parts of the edge with a width of their own; where two overlap, the later one holds.
    """

    width: float
    end_width: float | None = None
    stretches: tuple[Stretch, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Corner:
    """Treatment of the corner at the end of an edge.

    kind: one of CORNER_KINDS, or '' for that of the edges' uses and seams. through: uid of the edge whose stitch line
    runs on ('squared') or about which the other side is mirrored ('turned'); with kind '' that of the seam that is sewn
    first, as told from the seams; limit: a mitre longer than so many widths is bevelled.
    """

    kind: str = ""
    through: str = ""
    limit: float = 3.0


BY_USE = Corner()
"""A corner of which nothing was said."""
