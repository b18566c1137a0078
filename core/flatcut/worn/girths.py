"""Lengths as a tape lies: straight over hollows."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array


def hull_length(half: Array) -> float:
    """mm round a section of which half is given, (n, 2) with x from the middle outward, mirrored about x = 0.

    >>> turn = np.linspace(0, np.pi, 2000)
    >>> round(hull_length(100 * np.column_stack([np.sin(turn), np.cos(turn)])), 2)
    628.32
    """
    whole = np.vstack([half, half * (-1.0, 1.0)])
    from scipy.spatial import ConvexHull

    return float(ConvexHull(whole).area)  # of a plane hull its perimeter


def over_length(course: Array) -> float:
    """mm along a course (n, 2), ascending or descending in its first column, pulled tight over what stands out in its
    second.

    >>> over_length(np.array([(0.0, 0.0), (3.0, 4.0), (6.0, 0.0)])), over_length(np.array([(0.0, 0), (3, -4), (6, 0)]))
    (10.0, 6.0)
    """
    ordered = course[np.argsort(course[:, 0], kind="stable")]
    kept: list[Array] = []
    for point in ordered:
        while len(kept) > 1:
            (ax, ay), (bx, by), (cx, cy) = kept[-2], kept[-1], point
            if (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0:
                break
            kept.pop()
        kept.append(point)
    return float(np.linalg.norm(np.diff(np.array(kept), axis=0), axis=1).sum())
