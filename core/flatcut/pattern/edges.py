"""What an outline is made of: edges, what is taken up along them, and darts.

Frozen values; lengths in mm, document coordinates, y down. `values.py` hands all of them on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.pattern.finish import BY_USE, Allowance, Corner

USES = ("seam", "hem", "fold", "centre", "finished", "opening")
"""What an edge is for; gives its checks and its default allowance."""

TAKEUP_KINDS = ("dart", "pleat", "tuck", "gathers", "ease")


@dataclass(frozen=True, kw_only=True)
class TakeUp:
    """`amount` mm of the stretch from `start` to `end` (mm of the drawn edge) that is not there once sewn."""

    uid: str
    kind: str
    start: float
    end: float
    amount: float


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A named run of the outline. Between two parts, and nowhere else, a cut-in dart stands.

    words: written along it, inside the piece, such as CF. centre: it lies on the centre line of the body, also where it
    is sewn or opens there; ask for `middle`.
    """

    uid: str
    name: str
    parts: tuple[Curve, ...]
    use: str = "seam"
    takeups: tuple[TakeUp, ...] = ()
    allowance: Allowance | None = None
    corner: Corner = BY_USE
    words: str = ""
    centre: bool = False

    @property
    def middle(self) -> bool:
        """Whether it lies on the centre line: a fact beside what it is for."""
        return self.centre or self.use in ("fold", "centre")

    @property
    def start(self) -> Array:
        """First point, (2,) mm."""
        return self.parts[0].start

    @property
    def end(self) -> Array:
        """Last point, (2,) mm."""
        return self.parts[-1].end

    @property
    def segments(self) -> int:
        """How many spans are drawn."""
        return sum(len(part) for part in self.parts)


@dataclass(frozen=True, kw_only=True)
class Dart:
    """A stitched wedge.

    legs: cut-in or single-pointed, foot 1 to point and point to foot 2; double-pointed, upper to lower point and back.
    form: 'cut' into the outline or 'lines' drawn inside. host: uid of the edge it opens on, '' when double-pointed.
    after: cut-in darts stand after this part of the host; after the last part means in the corner to the next edge.
    pressed: uid of the edge it is pressed toward, or 'open'.
    origin: ids of the drawn objects it was made from, with spaces between them, '' once it stands in the document.
    """

    uid: str
    name: str
    legs: tuple[Curve, Curve]
    form: str = "cut"
    host: str = ""
    after: int = 0
    pressed: str = ""
    origin: str = ""

    @property
    def double(self) -> bool:
        """Whether it has two points."""
        return not self.host

    @property
    def points(self) -> Array:
        """The point, (1, 2), or the upper and the lower one, (2, 2)."""
        return np.array([self.legs[0].start, self.legs[0].end]) if self.double else np.array([self.legs[0].end])

    @property
    def half(self) -> str:
        """'upper' or 'lower' for a dart whose one point lies above or below its mouth; '' for one with two points.

        A half of a dart with two points answers to the name that its point had.
        """
        if self.double:
            return ""
        return "upper" if self.points[0][1] <= self.feet[:, 1].mean() else "lower"

    @property
    def feet(self) -> Array:
        """Where the legs meet the edge, (2, 2); of a double-pointed dart the widest nodes of its two sides."""
        if not self.double:
            return np.array([self.legs[0].start, self.legs[1].end])
        upper, lower = self.legs[0].start, self.legs[0].end
        axis = np.array([-(lower - upper)[1], (lower - upper)[0]])
        wide = [leg.nodes[np.argmax(np.abs((leg.nodes - upper) @ axis))] for leg in self.legs]
        return np.array(wide)
