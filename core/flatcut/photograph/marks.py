"""The control square: four marks whose outer corners are those of a square of known side.

The marks are squares of four by four cells in a black frame, the first sixteen of the set of fifty that the general
vision library opencv has in its main module and finds by itself. Source of the method: S. Garrido-Jurado et al.,
Automatic generation and detection of highly reliable fiducial markers under occlusion, Pattern Recognition 47, 2014.
Four squares can be told from each other, so that several may lie on one table.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray

SQUARES = 4
"""Control squares that can be told from each other."""
SHARE = 0.3
"""Side of a mark as a part of that of its square."""
CELLS = 6
"""Cells across a mark, its black frame with them."""
_BLACK = (
    ".#.. #.#. ##.. ##.#",
    "#### .... .##. .#.#",
    "##.. ##.. ##.# ..#.",
    ".##. .##. #.## #..#",
    "#.#. #.## .##. ...#",
    "#... .##. ..## ..#.",
    ".##. ...# ##.# ...#",
    "..## #.## .... ##.#",
    ".... ...# ..#. .#.#",
    "..## .... #.#. #..#",
    ".... .##. .##. ###.",
    "###. ###. .#.# #...",
    "#### ...# .#.. #...",
    "##.# .#.# #### ....",
    "##.# #.## .#.. ###.",
    "##.# #..# ##.. ...#",
)


def cells(mark: int) -> BoolArray:
    """Which cells of a mark are black, (6, 6).

    >>> cells(0).astype(int).tolist()[1]
    [1, 0, 1, 0, 0, 1]
    """
    inner = np.array([[letter == "#" for letter in row] for row in _BLACK[mark].split()])
    return np.pad(inner, 1, constant_values=True)


def corners(mark: int, side: float) -> Array:
    """The corners of a mark on its square, (4, 2) mm, clockwise from its upper left one; side: of the square.

    The marks stand clockwise from the upper left corner of the square, which is at (0, 0), all upright.

    >>> corners(0, 100)[:2].tolist(), corners(2, 100)[2].tolist()
    ([[0.0, 0.0], [30.0, 0.0]], [100.0, 100.0])
    """
    size = SHARE * side
    at = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    return np.asarray(at[mark % 4] * (side - size) + at * size)
