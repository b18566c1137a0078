"""Control squares found in a photograph, with the corners of their marks to a small part of a point."""

from __future__ import annotations

from typing import Any

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.arrays import Array
from flatcut.photograph.library import light, vision
from flatcut.photograph.marks import SQUARES

LEAST_MARK = 24.0
"""Points of the picture along the side of a mark, below which its corners are not known well enough."""
ACROSS, STEP = 3.0, 0.25
"""Points of the picture that the side of a mark is looked for on either side of where it was found, and how densely."""
BETWEEN = np.linspace(0.15, 0.85, 29)
"""Where along a side of a mark it is looked for: its ends are left out, where the next side blurs into it."""
WORN = 0.6
"""Points: places of a side that lie farther from their common line are left out of it."""


def squares_in(picture: Any) -> dict[int, dict[int, Array]]:
    """The control squares by number from 0, each its marks by number with their corners, (4, 2) points of the picture.

    A square counts with two marks or more, as something may lie on one. Errors: InputError where there is none.
    """
    cv2 = vision()
    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    known = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    found, numbers, _ = cv2.aruco.ArucoDetector(known, cv2.aruco.DetectorParameters()).detectMarkers(grey)
    bright = cv2.LUT(grey, light().astype(np.float32))
    marks: dict[int, dict[int, Array]] = {}
    twice = set()
    for ring, number in zip(found, [] if numbers is None else np.ravel(numbers), strict=False):
        mark = int(number)
        if mark >= 4 * SQUARES:
            continue
        square = marks.setdefault(mark // 4, {})
        if mark in square:
            twice.add(mark // 4 + 1)
        square[mark] = _sharp(bright, np.asarray(ring, dtype=float).reshape(4, 2))
    if twice:
        raise InputError(
            f"control square {min(twice)} is in the photograph twice; lay squares of different numbers on the table"
        )
    squares = {number: square for number, square in sorted(marks.items()) if len(square) >= 2}
    if not squares:
        raise InputError(
            "no control square is found in the photograph; print one with flatcut print --control-square, lay it flat "
            "beside the paper with all four marks in sight, and photograph both sharply"
        )
    sides = [np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).min() for s in squares.values() for ring in s.values()]
    if min(sides) < LEAST_MARK:
        raise InputError(
            f"the picture is too small: the marks of the control square are {min(sides):.0f} points wide in it, and "
            f"{LEAST_MARK:.0f} are the least; take the picture from nearer, or with more points"
        )
    return squares


def _sharp(bright: Array, ring: Array) -> Array:
    """The corners of a mark where the lines along its sides meet; each line goes through the steepest places."""
    cv2 = vision()
    lines = []
    offsets = np.arange(-ACROSS, ACROSS + STEP / 2, STEP)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / np.hypot(*(b - a))
        out = np.array([along[1], -along[0]])  # the ring is clockwise on the screen
        middles = a + BETWEEN[:, None] * (b - a)
        at = (middles[:, None] + offsets[:, None] * out).astype(np.float32)
        seen = cv2.remap(bright, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        rise = np.clip(np.diff(seen.astype(float), axis=1), 0.0, None)  # from black to white
        weight = rise * (rise >= 0.15 * rise.max(axis=1, keepdims=True))
        sums = weight.sum(axis=1)
        ok = sums > 1e-6
        if ok.sum() < 5:
            return ring
        away = (weight[ok] * (offsets[:-1] + STEP / 2)).sum(axis=1) / sums[ok]
        lines.append(_line(middles[ok] + away[:, None] * out))
    made = [_meeting(lines[k - 1], lines[k]) for k in range(4)]
    sharp = np.array(made)
    return sharp if np.abs(sharp - ring).max() <= ACROSS else ring


def _line(points: Array) -> tuple[Array, Array]:
    """A place on the straight line through points (n, 2), and its direction; places that stand out are left out."""
    kept = points
    for _ in range(3):
        middle = kept.mean(axis=0)
        way = np.linalg.svd(kept - middle, full_matrices=False)[2][0]
        off = np.abs((points - middle) @ np.array([-way[1], way[0]]))
        inside = off <= max(WORN, 3 * float(np.median(off)))
        if inside.sum() < 5:
            break
        kept = points[inside]
    return middle, way


def _meeting(one: tuple[Array, Array], two: tuple[Array, Array]) -> Array:
    """Where two lines meet."""
    (p, v), (q, w) = one, two
    t = np.linalg.solve(np.stack([v, -w], axis=1), q - p)
    return np.asarray(p + t[0] * v)
