"""Cloth against closed forms, and the form against its measurements."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.spatial import ConvexHull, Delaunay

from flatcut.geometry.arrays import Array
from flatcut.geometry.region import Ints
from flatcut.worn.cloth import Cloth
from flatcut.worn.energy import Energy, Net, Nowhere
from flatcut.worn.form import Form, form_of
from flatcut.worn.ground import OnForm
from flatcut.worn.rest import at_rest
from tests.wearing import CALICO

NONE: Ints = np.array([], dtype=np.intp)


def sheet(wide: float, high: float, columns: int, rows: int, *, round_: bool = False) -> tuple[Array, Ints, Array]:
    """A net: flat points, triangles of vertices, and their flat corners; closed to a tube where `round_`."""
    u, v = np.meshgrid(np.linspace(0, wide, columns + 1), np.linspace(0, high, rows + 1))
    flat = np.column_stack([u.ravel(), v.ravel()])
    corner = [
        (a, a + 1, a + columns + 2, a + columns + 1)
        for j in range(rows)
        for a in range(j * (columns + 1), j * (columns + 1) + columns)
    ]
    halves = [((a, b, c), (a, c, d)) if k % 2 else ((a, b, d), (b, c, d)) for k, (a, b, c, d) in enumerate(corner)]
    triangles = np.array([t for both in halves for t in both])
    vertex = np.arange(len(flat))
    if round_:
        vertex = vertex // (columns + 1) * columns + vertex % (columns + 1) % columns
    return flat, vertex[triangles], flat[triangles]


class Cylinder:
    """A ground that is a cylinder about the y axis."""

    def __init__(self, radius: float) -> None:
        self.radius = radius

    def each(self, points: Array) -> list[tuple[Array, Array]]:
        rho = np.hypot(points[:, 0], points[:, 2])
        return [(rho - self.radius, np.column_stack([points[:, 0] / rho, 0 * rho, points[:, 2] / rho]))]


@pytest.mark.parametrize("ease", [-0.10, -0.06, -0.02, 0.0, 0.04])
def test_a_tube_on_a_cylinder_is_stretched_by_what_it_lacks(ease: float) -> None:
    """Hoop strain of a tube: the girth it is stretched to over its own (elementary mechanics of thin shells)."""
    radius, columns = 140.0, 72
    girth = 2 * np.pi * radius * (1 + ease)
    _, triangles, corners = sheet(girth, 60.0, columns, 4, round_=True)
    net = Net(count=columns * 5, triangles=triangles, flat=corners, held=NONE, height=np.empty(0), plane=NONE)
    energy = Energy(net, CALICO._replace(weight=1e-3), Cylinder(radius))
    turn = 2 * np.pi * np.arange(columns) / columns
    start = np.vstack(
        [np.column_stack([150 * np.sin(turn), np.full(columns, y), 150 * np.cos(turn)]) for y in np.linspace(0, 60, 5)]
    )
    rest = at_rest(energy, start, steps=60)
    strain = energy.strain(rest.at).weft
    reached = np.hypot(rest.at[:, 0], rest.at[:, 2])
    chord = np.sin(np.pi / columns) / (np.pi / columns)  # the net is a polygon
    if ease <= 0:
        assert strain == pytest.approx(2 * np.pi * reached.mean() * chord / girth - 1, abs=2e-4)
        assert strain.mean() == pytest.approx(1 / (1 + ease) - 1, abs=0.01)
    else:
        assert np.abs(strain).max() < 2e-3


def test_a_hanging_strip_grows_by_its_weight() -> None:
    """Lengthening of a strip under its own weight: w g L² / (2 k) (elementary mechanics of materials)."""
    cloth = Cloth(warp=3000, weft=2500, shear=80, bending=2e-5, weight=1600)
    flat, triangles, corners = sheet(20.0, 1000.0, 1, 50)
    net = Net(count=len(flat), triangles=triangles, flat=corners, held=np.arange(2), height=np.zeros(2), plane=NONE)
    energy = Energy(net, cloth, Nowhere())
    rest = at_rest(energy, np.column_stack([flat[:, 0], -flat[:, 1], 0 * flat[:, 0]]), steps=80)
    hung = rest.at[:2, 1].mean() - rest.at[-2:, 1].mean() - 1000.0
    assert hung == pytest.approx(1.6 * 9.81 * 1.0**2 / (2 * 3000) * 1000.0, rel=0.01)


@pytest.mark.parametrize("bending", [0.6e-5, 2.0e-5, 6.0e-5])
def test_a_strip_hangs_over_an_edge_by_twice_its_bending_length(bending: float) -> None:
    """The cantilever test of ASTM D1388 and BS 3356 (from memory): the overhang whose tip lies on a line 41.5° below
    the edge is twice the bending length, which is the cube root of flexural rigidity over weight for each unit of area;
    at other angles by Peirce's formula, length x (cos(angle/2) / (8 tan(angle)))^(1/3) (The handle of cloth as a
    measurable quantity, 1930, from memory)."""
    cloth = CALICO._replace(bending=bending)
    bending_length = (bending / (cloth.weight * 1e-3 * 9.81)) ** (1 / 3) * 1000.0
    overhang = 2 * bending_length
    # a row of hinges bends over half a cell to either side: the edge lies half a cell before the last row that is held
    cell = overhang / 16.5
    flat, triangles, corners = sheet(8 * cell, 19 * cell, 8, 19)
    on_top = flat[:, 1] < 3.5 * cell
    held = np.flatnonzero(on_top)
    net = Net(count=len(flat), triangles=triangles, flat=corners, held=held, height=np.zeros(len(held)), plane=NONE)
    energy = Energy(net, cloth, Nowhere())
    rest = at_rest(energy, np.column_stack([flat[:, 0], 0 * flat[:, 0], flat[:, 1]]), steps=120)
    assert rest.still
    edge, tip = (rest.at[np.isclose(flat[:, 1], row * cell)].mean(axis=0) for row in (3, 19))
    edge -= (0.0, 0.0, 0.5 * cell)
    angle = np.arctan2(edge[1] - tip[1], tip[2] - edge[2])
    assert np.degrees(angle) == pytest.approx(41.5, abs=2.0)
    measured = overhang * (np.cos(0.5 * angle) / (8 * np.tan(angle))) ** (1 / 3)
    assert measured == pytest.approx(bending_length, rel=0.03)


class Ring:
    """A waist of 120 mm that ends a little below its edge."""

    def each(self, points: Array) -> list[tuple[Array, Array]]:
        rho = np.maximum(np.hypot(points[:, 0], points[:, 2]), 1e-6)
        out = np.column_stack([points[:, 0] / rho, 0 * rho, points[:, 2] / rho])
        return [(np.where(points[:, 1] > -10.0, rho - 119.0, np.inf), out)]


def test_a_circle_skirt_hangs_in_its_folds_and_its_hem_is_level() -> None:
    """A circle skirt 40 cm long begun in six folds keeps six. Cloth that does not stretch is ruled by straight lines
    (the geometry of developable surfaces): on a crest the hem is as deep as the length and its reach over the waist
    leave, and all round the hem is as long as it was cut. Crests are level within 5 mm, as far as the net goes."""
    waist, deep, wide, folds = 120.0, 400.0, 27.0, 6
    rows = []
    for k, radius in enumerate(np.linspace(waist, waist + deep, 16)):
        turn = np.linspace(0, np.pi, round(np.pi * radius / wide) + 1)
        if k % 2:
            turn = np.concatenate([[0.0], 0.5 * (turn[1:] + turn[:-1]), [np.pi]])
        rows.append(radius * np.column_stack([np.sin(turn), np.cos(turn)]))
    flat = np.vstack(rows)
    triangles = Delaunay(flat).simplices.astype(np.intp)
    one, two = (flat[triangles[:, k]] - flat[triangles[:, 0]] for k in (1, 2))
    twice = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    triangles[twice < 0] = triangles[twice < 0][:, ::-1]
    triangles = triangles[(np.hypot(*flat[triangles].mean(axis=1).T) > 0.99 * waist) & (np.abs(twice) > 1.0)]
    held = np.arange(len(rows[0]))
    plane = np.flatnonzero(np.abs(flat[:, 0]) < 1e-9)
    net = Net(
        count=len(flat),
        triangles=triangles,
        flat=flat[triangles],
        held=held,
        height=np.zeros(len(held)),
        plane=plane,
    )
    turn, down = np.arctan2(flat[:, 0], flat[:, 1]), np.hypot(*flat.T) - waist
    out = waist + down * (0.45 + 0.12 * np.cos(folds * turn))
    start = np.column_stack([out * np.sin(turn), -0.85 * down, out * np.cos(turn)])
    rest = at_rest(Energy(net, CALICO, Ring(), stiffer=18.0), start, steps=200)
    assert rest.still
    hem = rest.at[-len(rows[-1]) :]
    reach = np.hypot(hem[:, 0], hem[:, 2])
    whole = np.concatenate([reach, reach[-2:0:-1]])
    high = whole > 0.5 * (whole.min() + whole.max())
    assert (high & ~np.roll(high, 1)).sum() == folds
    crests = [k for k in range(len(reach)) if reach[k] == reach[max(k - 4, 0) : k + 5].max()]
    assert np.ptp(hem[crests, 1]) < 5.0
    assert hem[crests, 1] == pytest.approx(-np.sqrt(deep**2 - (reach[crests] - waist) ** 2), abs=6.0)
    assert 2 * np.linalg.norm(np.diff(hem, axis=0), axis=1).sum() == pytest.approx(2 * np.pi * 520.0, rel=0.005)


def test_a_sheet_bent_to_a_cylinder_holds_the_energy_of_a_plate() -> None:
    """Bending energy of a plate bent to radius R: B / (2 R²) for each unit of area (Timoshenko's plate theory)."""
    flat, triangles, corners = sheet(300.0, 300.0, 40, 40)
    net = Net(count=len(flat), triangles=triangles, flat=corners, held=NONE, height=np.empty(0), plane=NONE)
    energy = Energy(net, CALICO, Nowhere())
    for along in (0, 1):
        turn, other = flat[:, along] / 100.0, flat[:, 1 - along]
        at = np.column_stack([100 * np.sin(turn), other, 100 * np.cos(turn)])
        held = 0.5 * sum(float(at[:, k] @ (energy.bend[k] @ at[:, k])) for k in range(3))
        inner = 300.0 * 300.0 * 39 / 40  # the outermost half cells bend against nothing
        assert held == pytest.approx(0.5 * 0.02 / 100.0**2 * inner, rel=0.02)


def test_the_slope_is_that_of_the_energy() -> None:
    """Against central differences, with the form near and a plane of mirror, on a crumpled net."""
    flat, triangles, corners = sheet(60.0, 80.0, 5, 6)
    plane = np.arange(0, len(flat), 6)
    net = Net(
        count=len(flat), triangles=triangles, flat=corners, held=np.array([2]), height=np.array([5.0]), plane=plane
    )
    form = body_form(82)
    energy = Energy(net, CALICO, OnForm(form))
    front = np.array([form.section(y)[0, 1] for y in flat[:, 1]])
    noise = np.random.default_rng(3)
    at = np.column_stack([flat[:, 0], flat[:, 1], front]) + noise.normal(0, 1.0, (len(flat), 3))
    way = noise.normal(0, 1, at.shape)
    numeric = (energy.value(at + 1e-5 * way) - energy.value(at - 1e-5 * way)) / 2e-5
    assert numeric == pytest.approx(float((energy.slope(at)[0] * way).sum()), rel=1e-5)


# the bodies are invented; waist and hip stand to the bust as in common size tables (common practice, no source)
@cache
def body_form(bust: int) -> Form:
    return form_of({"bust": 10.0 * bust, "waist": 10.0 * bust - 170, "hip": 10.0 * bust + 70})


@pytest.mark.parametrize("bust", [78, 90, 104, 118])
def test_a_form_has_the_girths_asked_for(bust: int) -> None:
    """Girths of the form measured anew: the convex hull of what a level cuts from its mesh, against what was asked."""
    form = body_form(bust)
    asked = {"bust": 10.0 * bust, "waist": 10.0 * bust - 170, "hip": 10.0 * bust + 70}
    for name, wanted in asked.items():
        half = form.section(form.levels[name])
        whole = np.vstack([half, half * (-1, 1)])
        hull = whole[ConvexHull(whole).vertices]
        assert np.linalg.norm(hull - np.roll(hull, 1, axis=0), axis=1).sum() == pytest.approx(wanted, abs=2.0), name
    assert {one.name for one in form.checked} >= {"neck", "shoulder", "under-bust", "neck-to-bust", "nape-to-waist"}
    for one in form.checked:
        assert one.got == pytest.approx(one.asked, abs=2.0), one.name
    assert (form.radii > 0).all()
