"""Nine edges at five widths to both sides: pieces and true deviation. Run with -s to print every case.

The deviation is measured both ways with shapely's distances (GEOS) on chords of 1/2000 span, so it owes nothing to the
fit's own samples: from the offset to the edge as |distance - width|, and from exact offset points to the offset drawn.
"""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, derivative, point, tangent
from flatcut.geometry.offset import offset_curve

DATA = json.loads((Path(__file__).parent / "data" / "offset_edges.json").read_text(encoding="utf-8"))
EDGES = {e["name"]: Curve(np.array(e["cubics"]), np.zeros(len(e["cubics"]), dtype=bool)) for e in DATA["edges"]}
CASES = [(name, sign * width) for name in EDGES for width in DATA["widths"] for sign in (1, -1)]
GOALS = {0.05: 1.05, 0.01: 1.2}  # output cubics per input cubic, on average
CUSP = 0.08  # cases whose 1 + k d comes below this have a radius equal to the width: no offset, an error


def least_factor(curve, width):
    """Least 1 + k d, from second differences of dense points (independent of the kernel's closed form)."""
    least = np.inf
    for i in range(len(curve)):
        v = derivative(curve, i + np.linspace(1e-9, 1 - 1e-9, 4001))
        a = np.gradient(v, 1 / 4000, axis=0)
        k = (v[:, 0] * a[:, 1] - v[:, 1] * a[:, 0]) / np.hypot(*v.T) ** 3
        least = min(least, (1 + k * width).min())
    return least


def deviation(edge, offset, width):
    line = shapely.LineString(point(edge, np.linspace(0, len(edge), 2000 * len(edge) + 1)))
    there = shapely.distance(shapely.points(point(offset, np.linspace(0, len(offset), 60 * len(offset) + 1))), line)
    u = np.linspace(0, len(edge), 60 * len(edge) + 1)
    t = tangent(edge, u)
    exact = point(edge, u) + width * np.stack([t[:, 1], -t[:, 0]], axis=1)
    drawn = shapely.LineString(point(offset, np.linspace(0, len(offset), 2000 * len(offset) + 1)))
    return max(np.abs(there - abs(width)).max(), shapely.distance(shapely.points(exact), drawn).max())


@pytest.mark.parametrize("tolerance", list(GOALS))
def test_few_pieces_and_a_true_deviation_within_the_tolerance(tolerance):
    rows, refused = [], []
    for name, width in CASES:
        edge = EDGES[name]
        if least_factor(edge, width) < CUSP:
            with pytest.raises(GeometryError, match=f"edge '{name}' has a radius of .* mm, too tight"):
                offset_curve(edge, width, tolerance=tolerance, name=name)
            refused.append((name, width))
            continue
        offset = offset_curve(edge, width, tolerance=tolerance, name=name)
        rows.append((name, width, len(edge), len(offset), deviation(edge, offset, width)))
    ratio = np.mean([out / into for _, _, into, out, _ in rows])
    total = sum(r[3] for r in rows) / sum(r[2] for r in rows)
    print(f"\ntolerance {tolerance} mm\n{'edge':12} width  in out  deviation / tolerance")
    for name, width, into, out, dev in rows:
        print(f"{name:12} {width:5} {into:3} {out:3}  {dev / tolerance:6.3f}")
    print(f"{len(rows)} cases, mean out/in {ratio:.3f}, all out/in {total:.3f}, refused {refused}")
    assert len(rows) >= 88
    assert max(dev for *_, dev in rows) <= tolerance
    assert ratio <= GOALS[tolerance]
    assert total <= GOALS[tolerance]
