"""Random outlines, far wilder than garment pieces: never a crash, never a ring that crosses itself; refusals justified.

Outlines have 3 to 8 edges between nodes 110 to 250 mm from a centre; an edge is a line, one cubic or two, with handles
that lean up to 0.35 of the chord to either side. Corners turn by 20° to 170°: less is no corner, more a needle.
References: shapely (GEOS) for validity, distances and what an offset leaves over. Far more, and wilder ones, are judged
in test_offset_wild; these hold each refusal against what shapely leaves.
"""

import re

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.curves import chain, cubic, flatten, line, point, signed_area, tangent
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, try_outlines

TOLERANCE = 0.05
FINE = 0.002
RULES = (  # what a refusal may say of widths that are mixed: see OFFSETS in offset_loops
    r"closes around a hole",
    r"would (come|lie|fold|cross)",
)


def random_edge(rng, a, b):
    chord = b - a
    size = np.hypot(*chord)
    t = chord / size
    n = np.array([t[1], -t[0]])
    kind = rng.integers(0, 3)
    if kind == 0:
        return line(a, b)
    if kind == 1:
        lean, reach = rng.uniform(-0.35, 0.35, 2) * size, rng.uniform(0.1, 0.5, 2) * size
        return cubic(a, a + reach[0] * t + lean[0] * n, b - reach[1] * t + lean[1] * n, b)
    middle = a + chord * rng.uniform(0.35, 0.65) + n * rng.uniform(-0.15, 0.15) * size
    turn = rng.uniform(-0.5, 0.5)
    way = np.array([t[0] * np.cos(turn) - t[1] * np.sin(turn), t[0] * np.sin(turn) + t[1] * np.cos(turn)])
    lean, reach = rng.uniform(-0.2, 0.2, 2) * size, rng.uniform(0.1, 0.3, 4) * size
    return chain(
        [
            cubic(a, a + reach[0] * t + lean[0] * n, middle - reach[1] * way, middle),
            cubic(middle, middle + reach[2] * way, b - reach[3] * t + lean[1] * n, b),
        ]
    )


def turns(edges):
    for one, two in zip(edges, edges[1:] + edges[:1], strict=True):
        u, v = tangent(one, len(one), before=True), tangent(two, 0.0)
        yield abs(np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)))


def random_outline(rng):
    while True:
        angles = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 9))))
        if np.diff(np.append(angles, angles[0] + 2 * np.pi)).min() < 0.15:
            continue
        nodes = rng.uniform(110, 250, len(angles))[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        edges = [random_edge(rng, a, b) for a, b in zip(nodes, np.roll(nodes, -1, axis=0), strict=True)]
        if all(20 <= turn <= 170 for turn in turns(edges)) and shapely.Polygon(flat(chain(edges))).is_valid:
            return edges


def flat(curve):
    return flatten(curve, tolerance=FINE)


def samples(curve):
    return shapely.points(point(curve, np.linspace(0, len(curve), 40 * len(curve) + 1)))


def offset(edges, widths, inward):
    outline = [OffsetEdge(curve=e, width=w, name=f"e{i}") for i, (e, w) in enumerate(zip(edges, widths, strict=True))]
    corners = [OffsetCorner()] * len(edges)
    return try_outlines([(outline, corners)], inward=inward, tolerance=TOLERANCE)[0]


def check_ring(answer, edges):
    assert (answer.curve.start == answer.curve.end).all()
    assert shapely.Polygon(flat(answer.curve)).is_valid
    assert signed_area(answer.curve) * signed_area(chain(edges)) > 0
    assert len(answer.sources) == len(answer.curve)


def justified(message, edges, width, inward):
    """Whether shapely's own mitred offset shows what the refusal says."""
    left = shapely.Polygon(flat(chain(edges))).buffer(-width if inward else width, join_style="mitre", mitre_limit=3)
    if "nothing is left" in message:
        return left.area < 1
    if re.search(r"falls into \d parts", message):
        return left.geom_type == "MultiPolygon"
    if "closes around a hole" in message:
        return left.geom_type == "Polygon" and len(left.interiors) > 0
    gone = re.search(r"edge 'e(\d)' \(([\d.]+) mm long\) disappears", message)
    if gone:
        edge = shapely.LineString(flat(edges[int(gone[1])]))
        assert edge.length == pytest.approx(float(gone[2]), abs=0.1)
        return edge.length > 2 * width and length_beside(left, edge, width) < 1
    return False


def length_beside(shape, edge, width):
    """mm of a shape's boundary that run at the width from the inside of an edge."""
    along = shapely.segmentize(shape.boundary, 0.2)
    points = shapely.points(shapely.get_coordinates(along))
    foot = shapely.line_locate_point(edge, points)
    near = np.abs(shapely.distance(points, edge) - width) < 0.01
    return 0.2 * np.count_nonzero(near & (foot > 0.01) & (foot < edge.length - 0.01))


def uniform(seed, count):
    rng = np.random.default_rng(seed)
    refused = 0
    for k in range(count):
        edges, width, inward = random_outline(rng), float(rng.uniform(5, 40)), bool(rng.integers(0, 2))
        answer = offset(edges, [width] * len(edges), inward)
        if isinstance(answer, GeometryError):
            refused += 1
            assert justified(str(answer), edges, width, inward), f"outline {k} of seed {seed}: {answer}"
            continue
        check_ring(answer, edges)
        source = shapely.LineString(flat(chain(edges)))
        too_near = width - shapely.distance(samples(answer.curve), source).min()
        assert too_near <= 2 * TOLERANCE, f"outline {k} of seed {seed} comes {too_near} mm too near"
    print(f"\none width, seed {seed}: {count} outlines, {refused} refused, each shown by shapely")
    return refused / count


def mixed(seed, count):
    rng = np.random.default_rng(seed)
    refused = 0
    for k in range(count):
        edges = random_outline(rng)
        widths = rng.choice(np.arange(0, 45, 5), len(edges)).astype(float)
        answer = offset(edges, widths, False)
        if isinstance(answer, GeometryError):
            refused += 1
            assert any(re.search(rule, str(answer)) for rule in RULES), f"outline {k} of seed {seed}: {answer}"
            continue
        check_ring(answer, edges)
        outside = shapely.Polygon(flat(chain(edges))).difference(shapely.Polygon(flat(answer.curve)).buffer(TOLERANCE))
        assert outside.is_empty, f"outline {k} of seed {seed} is cut into"
        for controls, source in zip(answer.curve.controls, answer.sources, strict=True):
            if source >= 0:  # a stretch of an edge keeps that edge's own width
                edge, places = shapely.LineString(flat(edges[source])), samples(cubic(*controls))
                foot = shapely.line_locate_point(edge, places)
                # the ends are the corners' matter; where one is tightly bent its last chord misplaces a foot by this
                inner = places[(foot > 1) & (foot < edge.length - 1)]
                near = shapely.distance(inner, edge).min(initial=np.inf)
                assert near >= widths[source] - 2 * TOLERANCE, f"outline {k} of seed {seed}, edge {source}"
    print(f"\nmixed widths, seed {seed}: {count} outlines, {refused} refused by a rule")
    return refused / count


@pytest.mark.parametrize("seed", [1, 2])
def test_random_outlines_of_one_width(seed):
    assert uniform(seed, 50) <= 0.06


@pytest.mark.parametrize("seed", [3, 4])
def test_random_outlines_of_mixed_widths(seed):
    assert mixed(seed, 50) <= 0.06  # of fifty
