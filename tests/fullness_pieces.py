"""Pieces with lines to be opened, for tests. Lengths in mm."""

from __future__ import annotations

import numpy as np
import shapely

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, cubic, flatten, line, point
from flatcut.operations.operation import load
from flatcut.pattern.values import Edge, Grain, Line, Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length


def panel(wide: float, high: float, count: int, *, use: str = "hem") -> Pattern:
    """A rectangle with `count` lines from top to hem, evenly spaced: skirt.s1 at the left, all from the waist down."""
    corners = [np.array(p, dtype=float) for p in [(0, 0), (wide, 0), (wide, high), (0, high)]]
    names = ("waist", "side", "hem", "centre")
    edges = tuple(
        Edge(
            uid=name,
            name=name,
            parts=(line(corners[k], corners[(k + 1) % 4]),),
            use=use if name == "hem" else "seam",
        )
        for k, name in enumerate(names)
    )
    places = wide * np.arange(1, count + 1) / (count + 1)
    lines = tuple(Line(uid=f"s{k + 1}", name=f"s{k + 1}", curve=line((x, 0), (x, high))) for k, x in enumerate(places))
    grain = Grain(start=np.array([wide / 20, 0.9 * high]), end=np.array([wide / 20, 0.2 * high]))
    return Pattern(pieces=(Piece(uid="p", name="skirt", edges=edges, lines=lines, grain=grain),))


def slashes(count: int) -> tuple[str, ...]:
    """The names of the lines of `panel`."""
    return tuple(f"skirt.s{k + 1}" for k in range(count))


def skirt(*lines: Curve) -> Pattern:
    """A skirt front with a curved waist, side and hem; the lines are skirt.l1, skirt.l2 ..."""
    waist = cubic((0, 20), (60, 20), (120, 16), (180, 0))
    side = cubic((180, 0), (192, 60), (200, 120), (204, 180))
    lower = line((204, 180), (216, 560))
    hem = cubic((216, 560), (150, 570), (70, 574), (0, 574))
    centre = line((0, 574), (0, 20))
    curves = {"waist": waist, "side": side, "lower": lower, "hem": hem, "centre": centre}
    uses = {"hem": "hem", "centre": "fold"}
    edges = tuple(
        Edge(uid=f"e-{name}", name=name, parts=(curve,), use=uses.get(name, "seam")) for name, curve in curves.items()
    )
    inner = tuple(Line(uid=f"l{k + 1}", name=f"l{k + 1}", curve=curve) for k, curve in enumerate(lines))
    return Pattern(pieces=(Piece(uid="p", name="skirt", edges=edges, lines=inner),))


def spread(pattern: Pattern, *target: str, **options: object) -> Pattern:
    """The pattern with `spread` done; without a target all lines of its one piece that are called s1, l1 ...

    The lines stay unless `keep_lines` says otherwise: most tests take out again along them what they have opened.
    """
    piece = pattern.pieces[0]
    names = target or tuple(f"{piece.name}.{item.name}" for item in piece.lines)
    return load("spread")(target=names, **{"keep_lines": True, **options})(pattern)


def told(pattern: Pattern, label: str) -> float:
    """The figure of the last step whose label ends so."""
    (found,) = [figure.value for figure in pattern.steps[-1].figures if figure.label.endswith(label)]
    return found


def length_of(pattern: Pattern, name: str) -> float:
    """mm of an edge as drawn."""
    return drawn_length(pattern.pieces[0].edge(name))


def sewn_of(pattern: Pattern, name: str) -> float:
    """mm of an edge as sewn."""
    return sewn_length(pattern.pieces[0].edge(name))


def apart(one: Curve, other: Curve) -> float:
    """The largest distance between two lines, by shapely from 400 places on each."""
    found = 0.0
    for a, b in ((one, other), (other, one)):
        places = shapely.points(point(a, np.linspace(0, len(a), 400)))
        found = max(found, float(shapely.distance(places, shapely.LineString(flatten(b, tolerance=1e-3))).max()))
    return found


def upright(pattern: Pattern, places: Array) -> list[tuple[Array, Array]]:
    """Ends of upright lines from waist to hem."""
    found = []
    for x in places:
        ends = []
        for name in ("waist", "hem"):
            points = flatten(pattern.pieces[0].edge(name).parts[0], tolerance=1e-6)
            points = points[np.argsort(points[:, 0])]
            ends.append(np.array([x, np.interp(x, points[:, 0], points[:, 1])]))
        found.append((ends[0], ends[1]))
    return found
