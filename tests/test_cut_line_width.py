"""How far the cut line lies from the stitch line, by dense points and another library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from flatcut.geometry.curves import flatten
from flatcut.marking.cutline import cut_line
from flatcut.pattern.values import outline
from flatcut.pattern.widths import bands
from tests.faulty import garment

WITHIN = 0.03
"""mm: 0.02 that a cut line may stray, and what the chords of this measurement do."""


@pytest.mark.parametrize("name", ["top", "bodice", "dress", "trousers"])
def test_a_cut_line_keeps_its_distance_to_hundredths(name: str) -> None:
    """Along curves, away from the corners: the nearest place of the stitch line is as far as the edge's allowance."""
    measured, curved = 0, 0
    for piece in garment(name).pieces:
        cut = cut_line(piece)
        assert cut is not None
        stitch = shapely.LinearRing(np.concatenate([flatten(c, tolerance=0.001)[:-1] for c in outline(piece)]))
        by_edge = {e.uid: {w for band in bands(e) for w in (band.width, band.end_width)} for e in piece.edges}
        for edge in piece.edges:
            widths = by_edge[edge.uid]
            if len(widths) > 1 or max(widths) == 0:
                continue
            (width,) = widths
            spans = np.flatnonzero(np.array(cut.edges) == edge.uid)
            ends = [end for part in edge.parts for end in (part.start, part.end)]
            for k in spans:
                points = bezier(cut.curve.controls[k], np.linspace(0, 1, 40))
                clear = np.min([np.hypot(*(points - end).T) for end in ends], axis=0) > 2.5 * width
                away = shapely.distance(shapely.points(points[clear]), stitch)
                assert np.abs(away - width).max(initial=0.0) < WITHIN, (piece.name, edge.name)
                measured += int(clear.sum())
                curved += int(clear.sum()) * (not cut.curve.straight[k])
    assert measured > 200
    assert curved > 100


def bezier(p: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Points (n, 2) of a cubic (4, 2), by Bernstein's polynomials."""
    u = 1 - t
    return np.stack([u**3, 3 * u * u * t, 3 * u * t * t, t**3], axis=1) @ p
