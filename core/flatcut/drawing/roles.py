"""The roles that lines and words of a piece play, and the pen of each: the same on screen and on paper.

What an output paints is told by its role, never by where in the code it comes from: an output that knows layers, such
as a file for a cutter, puts each role on one of them. Black ink on white; widths and dashes in mm.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

BLACK = "#000000"
WHITE = "#ffffff"


class Role(NamedTuple):
    """What something drawn is for.

    width, dashes: mm of its line, 0 for an area without one; colour: of its line and letters, six hexadecimal digits
    after #; fill: of the area inside, '' for none; bold: of its letters.
    """

    name: str
    width: float = 0.25
    dashes: tuple[float, ...] = ()
    colour: str = BLACK
    fill: str = ""
    bold: bool = False


CUT = Role(name="cut", width=0.45)
"""The cut line is the one that scissors follow, so it is the boldest."""
OUTLINE = Role(name="outline", width=CUT.width)
"""The outline of a piece without a cut line: it leads the eye in its place."""
STITCH = Role(name="stitch", dashes=(4.0, 2.0))
"""The outline inside a cut line: it is sewn, not cut."""
CAP = Role(name="cap", dashes=(3.0, 1.5))
"""Where the outline runs once a dart is folded, over its mouth."""
DART = Role(name="dart", dashes=STITCH.dashes)
"""The legs of a dart that lies inside the cloth."""
LINE = Role(name="line")
"""A balance or construction line inside a piece."""
FOLD_LINE = Role(name="fold-line", dashes=(10.0, 1.5, 1.5, 1.5))
"""A line along which cloth is folded."""
PLACEMENT = Role(name="placement-line", dashes=(1.5, 1.5))
"""A line to which a fold or another piece is brought."""
GRAIN = Role(name="grain", width=0.3)
ARROW = Role(name="arrow", width=GRAIN.width)
"""An arrow head of the grain line."""
NOTCH = Role(name="notch", width=0.35)
FOLD = Role(name="fold", width=GRAIN.width)
"""The bracket on an edge that lies on the fold of the cloth."""
FOLD_WORDS = Role(name="fold-words")
LINE_WORDS = Role(name="line-words")
"""The name of a balance line, and words along an edge."""
LABEL = Role(name="label")
WORDS = Role(name="words")
"""Words of no piece, such as those of a sheet."""
LEADER = Role(name="leader")
"""From a label beside its piece to the piece."""


@cache
def of_kind(name: str) -> Role:
    """The role of the symbols of a kind of mark: all are drawn with one thin pen.

    >>> of_kind("hole").width
    0.25
    """
    return Role(name=name)
