"""What stands on a piece beside its outline: places, allowances, corner kinds, notches, holes, buttons, grain, caption.

Frozen values; lengths in mm, document coordinates, y down. `values.py` hands all of them on.
"""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.geometry.arrays import Array, frozen

CORNER_KINDS = ("mitred", "squared", "turned", "bevelled")
NOTCH_KINDS = ("slit", "v", "castle", "u", "t")
BUTTON_KINDS = ("button", "buttonhole")
HOLE_OF = ("", "point", "upper", "lower", "side-1", "side-2")
"""Where a drill hole of a dart stands: short of a point, or inside the widest place of a double-pointed dart."""


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

    kind: one of CORNER_KINDS, or '' for that of the edges' uses. through: uid of the edge whose stitch line runs on
    ('squared') or about which the other side is mirrored ('turned'); limit: a mitre longer than so many widths is
    bevelled.
    """

    kind: str = ""
    through: str = ""
    limit: float = 3.0


BY_USE = Corner()
"""A corner of which nothing was said."""


@dataclass(frozen=True, kw_only=True)
class NamedPoint:
    """A point that has a name, such as the bust point; at: (2,) mm; origin: as for a dart."""

    uid: str
    name: str
    at: Array
    origin: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", frozen(self.at))


@dataclass(frozen=True, kw_only=True)
class Notch:
    """`count` marks, `apart` mm from each other, about a place on an edge; depth: mm, 'in' or 'out' of the cut line."""

    uid: str
    edge: str
    at: Position
    kind: str = "slit"
    count: int = 1
    depth: float = 3.0
    into: str = "in"
    apart: float = 8.0


@dataclass(frozen=True, kw_only=True)
class Grain:
    """The grain line of a piece; start and end (2,) mm."""

    start: Array
    end: Array
    kind: str = "straight"
    ways: str = "both"

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", frozen(self.start))
        object.__setattr__(self, "end", frozen(self.end))


@dataclass(frozen=True, kw_only=True)
class Hole:
    """A drill hole: at (2,) mm, or bound to a dart, whose uid is `dart`, and then going where the dart goes.

    of: one of HOLE_OF; by: mm short of the dart's point along its axis, or inside its widest place; diameter: mm.
    """

    uid: str
    at: Array | None = None
    dart: str = ""
    of: str = ""
    by: float = 0.0
    diameter: float = 2.0

    def __post_init__(self) -> None:
        if self.at is not None:
            object.__setattr__(self, "at", frozen(self.at))


@dataclass(frozen=True, kw_only=True)
class Button:
    """A button of `size` mm across at (2,) mm, or the buttonhole for one, with its two ends, slit (2, 2) mm.

    on: uid of the edge or line along which it was set.
    """

    uid: str
    kind: str
    at: Array
    size: float
    slit: Array | None = None
    on: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", frozen(self.at))
        if self.slit is not None:
            object.__setattr__(self, "slit", frozen(self.slit))


@dataclass(frozen=True, kw_only=True)
class Caption:
    """What the label of a piece says beside what is known of the piece; at: where its middle is wanted, (2,) mm.

    shown: false once the label was deleted by hand.
    """

    text: str = ""
    at: Array | None = None
    shown: bool = True

    def __post_init__(self) -> None:
        if self.at is not None:
            object.__setattr__(self, "at", frozen(self.at))


UNCAPTIONED = Caption()
"""A label of which nothing was said."""
