"""What an exchange file says, as values. Lengths in mm, y down as everywhere inside; a file has them y up."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.exchange.layers import NOTCH, NOTCHES
from flatcut.geometry.arrays import Array, BoolArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """A line as points. points: (n, 2); turn: (n,), True where a point is a turn point; of a closed line the first
    point is not repeated. rules: number of each point's grade rule, (n,), 0 for none.
    """

    layer: int
    points: Array
    turn: BoolArray
    closed: bool
    rules: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Nick:
    """A notch: at (2,) on the boundary; into: (2,) unit, where it points; depth, width: mm; rule: of its grade."""

    layer: int
    at: Array
    into: Array
    depth: float
    width: float = 0.0
    rule: int = 0

    @property
    def kind(self) -> str:
        """The kind of notch that its layer and width stand for.

        >>> Nick(layer=4, at=np.zeros(2), into=np.array([0.0, 1.0]), depth=3.0, width=3.0).kind
        'v'
        """
        if self.layer == NOTCH:
            return "v" if self.width > 0 else "slit"
        return next((kind for kind, layer in NOTCHES.items() if layer == self.layer), "v")


@dataclass(frozen=True, kw_only=True, eq=False)
class Note:
    """A text on layer 15: at (2,), height mm, angle in degrees, clockwise."""

    text: str
    at: Array
    height: float = 5.0
    angle: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """A piece. grain, mirror: two points (2, 2), None for none; holes: (n, 2); the rules are those of their points."""

    name: str
    size: str = ""
    quantity: int = 1
    cut_as: str = "single"
    material: str = ""
    category: str = ""
    courses: tuple[Course, ...] = ()
    nicks: tuple[Nick, ...] = ()
    holes: Array = field(default_factory=lambda: np.zeros((0, 2)))
    grain: Array | None = None
    mirror: Array | None = None
    notes: tuple[Note, ...] = ()
    hole_rules: tuple[int, ...] = ()
    grain_rules: tuple[int, ...] = ()
    mirror_rules: tuple[int, ...] = ()

    def of(self, layer: int) -> tuple[Course, ...]:
        """The lines on a layer."""
        return tuple(course for course in self.courses if course.layer == layer)

    def places(self) -> Array:
        """Every point that may have a grade rule, in one order, (n, 2)."""
        rows = [course.points for course in self.courses]
        rows.append(np.array([nick.at for nick in self.nicks]).reshape(-1, 2))
        rows += [self.holes, *(line for line in (self.grain, self.mirror) if line is not None)]
        return np.concatenate(rows) if rows else np.zeros((0, 2))

    def ruled(self, numbers: list[int]) -> Part:
        """The part with the numbers of the rules of its points, in the order of `places`."""
        left = list(numbers)

        def take(count: int) -> tuple[int, ...]:
            taken, left[:] = left[:count], left[count:]
            return tuple(taken)

        courses = tuple(replace(course, rules=take(len(course.points))) for course in self.courses)
        nicks = tuple(replace(nick, rule=take(1)[0]) for nick in self.nicks)
        holes = take(len(self.holes))
        grain = take(0 if self.grain is None else 2)
        mirror = take(0 if self.mirror is None else 2)
        return replace(self, courses=courses, nicks=nicks, hole_rules=holes, grain_rules=grain, mirror_rules=mirror)


@dataclass(frozen=True, kw_only=True, eq=False)
class Set:
    """A style. sizes: names, the sample size among them; rules: from number 1 on, (sizes, 2) mm from the sample size.

    inch: whether the file's lengths are inches. table: name of the rule table, '' for none.
    """

    style: str = ""
    author: str = ""
    date: str = ""
    sample: str = ""
    sizes: tuple[str, ...] = ()
    table: str = ""
    rules: tuple[Array, ...] = ()
    inch: bool = False
    parts: tuple[Part, ...] = ()
