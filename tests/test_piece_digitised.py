"""Outlines of many points: read as few curves, with their corners and notches, in any unit.

The points are samples of curves that are known, so the outside check is the curve itself.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, polyline
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.operations.piece import MakePieces
from flatcut.outlines.digitised import is_sampled, thinned
from flatcut.pattern.tracing import ring_of, trace
from flatcut.pattern.values import DrawnPath, Notch, Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, point_at, sewn_at, to_drawn

SAMPLES = Path(__file__).parent.parent / "samples" / "digitised"


def parts() -> list[Curve]:
    """A sleeve-like outline of four edges, clockwise."""
    return [
        chain([cubic((0, 150), (60, 140), (90, 0), (170, 0)), cubic((170, 0), (250, 0), (290, 150), (345, 160))]),
        line((345, 160), (300, 560)),
        cubic((300, 560), (200, 575), (140, 575), (40, 560)),
        line((40, 560), (0, 150)),
    ]


def samples(curve: Curve, spacing: float) -> Array:
    """Points at equal distances, the last left out."""
    total = length(curve)
    count = max(2, round(total / spacing))
    return point(curve, places_at(curve, np.linspace(0, total, count + 1)))[:-1]


def drawn(points: Array) -> Pattern:
    ring = polyline(np.concatenate([points, points[:1]]))
    return Pattern(drawn=(DrawnPath(id="p", curves=(ring,), closed=(True,)),))


def ring(piece: Piece) -> Curve:
    return chain(outline(piece), within=1e-6)


def place(piece: Piece, notch: Notch) -> Array:
    edge = piece.edge_of(notch.edge)
    return point_at(edge, to_drawn(edge, sewn_at(edge, notch.at)))[0]


def figure(pattern: Pattern, ending: str) -> float:
    return next(f.value for f in pattern.steps[-1].figures if f.label.endswith(ending))


def made(points: Array, **options: object) -> Pattern:
    return MakePieces(**options)(drawn(points))  # type: ignore[arg-type]


@pytest.mark.parametrize("spacing", [0.6, 2.0, 5.0])
def test_few_curves_lie_on_the_curve_that_was_sampled(spacing: float) -> None:
    points = np.concatenate([samples(part, spacing) for part in parts()])
    done = made(points)
    (piece,) = done.pieces
    whole = chain(parts(), within=1e-6)
    assert len(piece.edges) == 4
    assert [edge.start.round(6).tolist() for edge in piece.edges] == [[0, 150], [345, 160], [300, 560], [40, 560]]
    assert nearest(whole, flatten(ring(piece), tolerance=0.01))[1].max() < 0.12
    assert nearest(ring(piece), flatten(whole, tolerance=0.01))[1].max() < 0.12
    for edge, part in zip(piece.edges, parts(), strict=True):
        assert drawn_length(edge) == pytest.approx(length(part), abs=0.1)
    assert figure(done, "points drawn") == len(points)
    assert figure(done, "spans fitted") == len(ring(piece)) < 20
    assert figure(done, "points stray") <= 0.1


def test_notches_keep_their_places_on_sampled_curves() -> None:
    points, wanted = [], []
    for k, part in enumerate(parts()):
        at = 0.4 * length(part)
        before, after = places_at(part, [at - 2.5, at + 2.5])
        run = samples(part, 3.0)
        along = places_at(part, np.arange(len(run)) * length(part) / len(run))
        a, b = point(part, [before, after])
        inward = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a)) * (5 if k % 2 else -5)
        points += [
            run[along < before - 1e-3],
            a[None],
            ((a + b) / 2 + inward)[None],
            b[None],
            run[along > after + 1e-3],
        ]
        wanted.append(point(part, places_at(part, at)))
    (piece,) = made(np.concatenate(points)).pieces
    assert [(notch.kind, notch.into) for notch in piece.notches] == [("v", "out"), ("v", "in")] * 2
    for notch, where in zip(piece.notches, wanted, strict=True):
        assert np.hypot(*(place(piece, notch) - where)) < 0.1
    assert length(ring(piece)) == pytest.approx(sum(length(part) for part in parts()), abs=0.2)


def test_a_smooth_closed_outline_is_one_edge() -> None:
    # a circle of radius 80: 2π·80, closed form
    t = np.linspace(0, 2 * np.pi, 181)[:-1]
    (piece,) = made(80 * np.stack([np.cos(t), np.sin(t)], axis=1)).pieces
    assert len(piece.edges) == 1
    assert drawn_length(piece.edges[0]) == pytest.approx(2 * np.pi * 80, abs=0.2)
    assert len(piece.edges[0].parts[0]) <= 12


def test_a_dart_in_a_sampled_outline() -> None:
    top = [samples(line((0, 0), (140, 0)), 5), [(140, 0)], samples(line((140, 0), (150, 110)), 5)[1:]]
    back = [samples(line((150, 110), (160, 0)), 5), [(160, 0)], samples(line((160, 0), (300, 0)), 5)[1:]]
    rest = [samples(line(p, q), 9) for p, q in (((300, 0), (300, 400)), ((300, 400), (0, 400)), ((0, 400), (0, 0)))]
    points = np.concatenate([np.asarray(run, dtype=float) for run in (*top, *back, *rest)])
    (piece,) = made(points).pieces
    (dart,) = piece.darts
    assert dart.points[0].tolist() == pytest.approx([150, 110], abs=1e-6)
    assert [len(leg) for leg in dart.legs] == [1, 1]
    assert sum(edge.segments for edge in piece.edges) == 5


def test_a_small_corner_inside_an_edge_is_kept() -> None:
    bend = [(0, 0), (200, 20), (400, 0)]  # 11.4° at (200, 20): twice atan(0.1)
    corners = [*bend, (400, 300), (0, 300), (0, 0)]
    points = np.concatenate([samples(line(p, q), 4) for p, q in pairwise(corners)])
    done = made(points)
    (piece,) = done.pieces
    assert len(piece.edges) == 4
    assert any("kink of 11.4°" in warning for warning in done.steps[-1].warnings)
    assert np.abs(piece.edges[0].parts[0].nodes - (200, 20)).max(axis=1).min() < 0.01


def test_points_are_kept_when_asked() -> None:
    points = np.concatenate([samples(part, 4.0) for part in parts()])
    done = made(points, keep_points=True)
    assert len(ring(done.pieces[0])) == len(points)
    assert done.steps[-1].line == "piece --keep-points=true"
    assert not done.steps[-1].warnings


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.3, 6.0), st.floats(0.0, 0.04), st.integers(0, 50))
def test_rough_points_at_any_spacing_have_the_same_corners(seed: int, spacing: float, rough: float, turn: int) -> None:
    points = np.concatenate([samples(part, spacing) for part in parts()])
    noise = np.random.default_rng(seed).uniform(-rough, rough, points.shape)
    whole = ring_of(polyline(np.roll(points + noise, turn, axis=0)[[*range(len(points)), 0]]))
    assert is_sampled(whole, corner_angle=15)
    found = trace(thinned(whole))
    assert len(found.runs) == 4
    starts = np.array([run[0].start for run in found.runs])
    for part in parts():
        assert np.hypot(*(starts - part.start).T).min() < 0.5


@pytest.mark.parametrize("spacing", [4.0, 9.0, 14.0])
def test_a_tight_curve_of_few_points_has_no_corners(spacing: float) -> None:
    # an armhole of radius 40: at 14 mm the points turn by 20°, more than a corner of 15°
    t = np.linspace(0, np.pi / 2, round(20 * np.pi / spacing) + 1)
    armhole = np.stack([240 - 40 * np.cos(t), 40 + 40 * np.sin(t)], axis=1)
    rest = [samples(line(p, q), 25) for p, q in (((240, 80), (240, 400)), ((240, 400), (0, 400)), ((0, 400), (0, 40)))]
    top = samples(line((0, 40), (200, 40)), 25)
    points = np.concatenate([top, armhole[:-1], *rest])
    done = made(points, keep_points=True)
    assert len(done.pieces[0].edges) == 5
    assert length(done.pieces[0].edges[1].parts[0]) == pytest.approx(20 * np.pi, abs=1.0)


def test_a_polygon_of_many_corners_is_what_was_meant() -> None:
    star = [(r * np.cos(a), r * np.sin(a)) for k in range(24) for a, r in [(k * np.pi / 12, 100 if k % 2 else 60)]]
    done = MakePieces()(drawn(np.array(star)))
    assert done.pieces[0].edges[0].segments == 1
    assert len(done.pieces[0].edges) == 24


def test_round_notches_in_a_polygon_do_not_make_it_a_sampled_curve() -> None:
    a = np.linspace(np.pi, 0, 9)
    half = np.stack([2 + 2 * -np.cos(a) * -1, 3 + 2 * np.sin(a)], axis=1)
    u = [(100 + x, y) for x, y in [(0, 0), *half.tolist(), (4, 0)]]
    points = np.array([(0, 0), *u, (250, 10), (260, 300), *[(x, 300 - y) for x, y in u[::-1]], (0, 300)], dtype=float)
    done = MakePieces()(drawn(points))
    assert [notch.kind for notch in done.pieces[0].notches] == ["u", "u"]
    assert "points drawn" not in "".join(f.label for f in done.steps[-1].figures)


NAMED = {"front": 3, "side-front": 2, "side-back": 3, "back": 3, "front-yoke": 2, "back-yoke": 3}
"""Pieces of the skirt and how many notches were cut in each."""


def without_notches(drawn_path: DrawnPath) -> float:
    """mm round an outline drawn in inches without its notches, by a polygon library: grown by 8 mm what is cut in
    closes, and shrunk by as much what stands out is gone."""
    points = drawn_path.curves[0].nodes * 96  # a unit, a 96th of an inch in SVG, stands for an inch
    shape = Polygon(points)
    for by in (8, -16, 8):
        shape = shape.buffer(by, join_style="mitre", mitre_limit=20)
    return float(shape.length)


def test_the_skirt_in_inches() -> None:
    drawing, pattern, _ = read((SAMPLES / "skirt-inches.svg").read_bytes())
    around = {
        path.id.removesuffix("-outline"): without_notches(path) for path in pattern.drawn if isinstance(path, DrawnPath)
    }
    table = (SAMPLES / "skirt.csv").read_text(encoding="utf-8")
    done = MakePieces(drawing_unit="in", table=table)(pattern)
    assert {piece.name for piece in done.pieces} == set(NAMED)
    for piece in done.pieces:
        assert len(piece.edges) == 4
        assert sum(notch.count for notch in piece.notches) == NAMED[piece.name]
        assert length(ring(piece)) == pytest.approx(around[piece.name], abs=0.8)
        assert len(ring(piece)) <= 14
    back = done.piece("back")
    # the double notch of the back, 8 mm apart (single is front, double is back: common practice, no source)
    assert [(notch.kind, notch.count) for notch in back.notches] == [("v", 2), ("castle", 1)]
    assert back.notches[0].apart == pytest.approx(7.84, abs=0.15)
    assert [notch.into for notch in done.piece("front-yoke").notches if notch.kind == "v"] == ["out"]
    assert done.piece("side-front").cut_as == "pair"
    assert done.piece("back-yoke").edges[0].allowance is not None
    _, again, found = read(write(drawing, done))
    assert found == []
    assert [piece.name for piece in again.pieces] == [piece.name for piece in done.pieces]
    assert [piece.notches for piece in again.pieces] != [()] * 6


def test_faults_are_told_and_the_rest_is_done() -> None:
    _, pattern, _ = read((SAMPLES / "faults.svg").read_bytes())
    done = MakePieces()(pattern)
    said = "\n".join(done.steps[-1].warnings)
    assert [piece.origin for piece in done.pieces] == ["sound", "tiny"]
    assert "'crossed': the outline crosses itself near x 628.8, y 166.4 mm" in said
    assert "'flat': the outline encloses nothing" in said
    assert "'open' is open by 2.00 mm" in said
    assert "piece-2 is 3 mm over its longer side; check the unit" in said
