"""A worn garment as what a page shows: both sides of it, normals, lines, and its figures in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from itertools import pairwise
from typing import Any

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.region import Ints
from flatcut.worn.form import Form
from flatcut.worn.telling import TOUCHES, Told
from flatcut.worn.wearing import Worn

EVERY = 3
"""Of the directions and heights of the form's table: each so many are drawn."""


def vertices(worn: Worn, of: Told) -> dict[str, Any]:
    """The garment as arrays of its vertices, as `both_sides`, with its strain and its gaps."""
    times = 2 if len(worn.sewn.plane) else 1
    values = {"warp": of.warp, "weft": of.weft, "gap": of.gap}
    return both_sides(worn) | {name: np.tile(value, times) for name, value in values.items()}


def both_sides(worn: Worn) -> dict[str, Any]:
    """Vertices, normals, triangles and lines, the second half of a garment that is the same on both sides with it."""
    sewn = worn.sewn
    at = worn.at[sewn.joined]
    normal = _normals(worn.at, worn.triangles)[sewn.joined]
    flat = worn.layout.shown * (-1.0, 1.0)
    triangles = sewn.triangles[:, ::-1]
    lines = _lines(sewn)
    found = {"at": at, "normal": normal, "flat": flat}
    if len(sewn.plane):
        count = len(at)
        mirror = {"at": (-1.0, 1.0, 1.0), "normal": (-1.0, 1.0, 1.0), "flat": (-1.0, 1.0)}
        found = {k: np.concatenate([v, v * mirror[k]]) for k, v in found.items()}
        triangles = np.vstack([triangles, triangles[:, ::-1] + count])
        lines = np.vstack([lines, lines + count])
    return {**found, "triangles": triangles, "lines": lines}


def _lines(sewn: Any) -> Array:
    """Pairs of vertices of copies along edges and darts."""
    pairs = []
    for k, copy in enumerate(sewn.copies):
        cells = sewn.cells[copy.piece]
        for found in cells.edges.values():
            along = [sewn.first[k] + on.vertex for on in found]
            # over a dart's mouth there is no line
            pairs += [(a, b) for a, b in pairwise(along) if sewn.joined[a] != sewn.joined[b]]
        for leg in (leg for both in cells.legs.values() for leg in both):
            along = [sewn.first[k] + v for v in leg]
            pairs += list(pairwise(along))
    return np.array(pairs, dtype=int).reshape(-1, 2)


def _normals(at: Array, triangles: Ints) -> Array:
    corners = at[triangles]
    face = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    found = np.column_stack([np.bincount(triangles.ravel(), np.repeat(face[:, axis], 3), len(at)) for axis in range(3)])
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=1), 1e-12)[:, None])


def form_mesh(form: Form) -> tuple[Array, Array, Array]:
    """Points (n, 3), normals (n, 3) and triangles (t, 3) of the form."""
    radii = form.radii[::EVERY, ::EVERY]
    angles, heights = form.angles[::EVERY], form.heights[::EVERY]
    radii = np.vstack([radii, radii[-2:0:-1]])
    angles = np.concatenate([angles, 2 * np.pi - angles[-2:0:-1]])
    rows, columns = radii.shape
    points = np.stack(
        [radii * np.sin(angles)[:, None], np.broadcast_to(heights, radii.shape), radii * np.cos(angles)[:, None]],
        axis=-1,
    ).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows), np.arange(columns - 1), indexing="ij")
    a, b = (i * columns + j).ravel(), (((i + 1) % rows) * columns + j).ravel()
    triangles = np.vstack([np.column_stack([a, b, b + 1]), np.column_stack([a, b + 1, a + 1])])
    triangles = triangles[points[triangles, 1].max(axis=1) >= form.floor]
    for limb in form.limbs:
        grid, faces = limb.mesh()
        for side in (1.0, -1.0):
            triangles = np.vstack([triangles, (faces if side > 0 else faces[:, ::-1]) + len(points)])
            points = np.vstack([points, grid * (side, 1.0, 1.0)])
    return points, _normals(points, triangles), triangles


def spots(of: Told) -> list[tuple[str, int, str]]:
    """The named places as numbers: T1 .. for the tightest, L1 .. for the loosest."""
    found = [(f"T{k}", spot.vertex, "tight") for k, spot in enumerate(of.tight, start=1)]
    return found + [(f"L{k}", spot.vertex, "loose") for k, spot in enumerate(of.loose, start=1)]


def record(worn: Worn, of: Told, cloth: str, left: Mapping[str, str]) -> dict[str, Any]:
    """The figures as plain data; lengths in mm, strain in per cent, angles in degrees."""
    return {
        "cloth": cloth,
        "levels": [
            {
                "name": one.name,
                "height": _round(one.height),
                "form": _round(one.form),
                "cloth": _round(one.cloth),
                "ease": _round(one.ease),
            }
            for one in of.levels
        ],
        "side_seams": [{"seam": name, "lean": _round(lean)} for name, lean in of.lean],
        "hem": {"lowest": _round(of.hem[0]), "highest": _round(of.hem[1])},
        "strain": {"stretch": _round(100 * of.stretch[0], 2), "squeeze": _round(100 * of.stretch[1], 2)},
        "tightest": [{"place": spot.where, "strain": _round(100 * spot.value, 2)} for spot in of.tight],
        "loosest": [{"place": spot.where, "gap": _round(spot.value)} for spot in of.loose],
        "inside": _round(of.inside, 2),
        "at_rest": worn.rest.still,
        "vertices": worn.sewn.count,
        "form": [{"name": a.name, "asked": _round(a.asked), "got": _round(a.got)} for a in worn.form.checked],
        "assumed": {name: _round(value) for name, value in worn.form.assumed.items()},
        "notes": list(worn.layout.assumed),
        "left_out": dict(left),
    }


def _round(value: float, digits: int = 1) -> float | None:
    return round(float(value), digits) + 0.0 if np.isfinite(value) else None


def lines_said(found: Mapping[str, Any]) -> list[str]:
    """The figures as lines of text."""
    said = []
    for one in found["levels"]:
        if one["cloth"] is None:
            said.append(f"{one['name']}: no cloth goes round there")
        else:
            said.append(f"{one['name']}: cloth {one['cloth']} mm on {one['form']} mm, {one['ease']:+} mm of ease")
    for seam in found["side_seams"]:
        way = "foot forward" if seam["lean"] > 0 else "foot backward"
        said.append(f"seam {seam['seam']} leans {abs(seam['lean'])} degrees, {way}")
    if found["hem"]["lowest"] is not None:
        out = found["hem"]["highest"] - found["hem"]["lowest"]
        said.append(f"hem: {_round(out)} mm from its lowest to its highest point")
    strain = found["strain"]
    said.append(
        f"95 % of the cloth is stretched by less than {strain['stretch']} %, and squeezed by less than "
        f"{-strain['squeeze']} %"
    )
    said += [f"tight T{k}: {one['place']}, {one['strain']:+} %" for k, one in enumerate(found["tightest"], start=1)]
    said += [
        f"loose L{k}: {one['place']}, {one['gap']} mm off the form" for k, one in enumerate(found["loosest"], start=1)
    ]
    said += [f"left out: {name}: {why}" for name, why in found["left_out"].items()]
    said += [f"assumed: {name} {value} mm, which was not measured" for name, value in found["assumed"].items()]
    said += [f"assumed: {note}" for note in found["notes"]]
    if found["inside"] > TOUCHES:
        said.append(f"the cloth lies up to {found['inside']} mm inside the body: look at it with care")
    if not found["at_rest"]:
        said.append(
            "the cloth had not come to rest when it was left: give it more with --seconds, or where that was not used "
            "up take another --mesh"
        )
    return said


def said_html(found: Mapping[str, Any]) -> str:
    """The figures for the page: the lines, and the form as asked for and as it came out."""
    lines = "".join(f"<li>{escape(line)}</li>" for line in lines_said(found))
    rows: Sequence[Mapping[str, Any]] = found["form"]
    body = "".join(
        f"<tr><td>{escape(row['name'])}</td><td>{row['asked']}</td><td>{row['got']}</td></tr>" for row in rows
    )
    return (
        f"<p>Cloth: {escape(found['cloth'])}</p><ul>{lines}</ul><table><caption>The form, mm</caption><tr>"
        f"<th>measurement</th><th>asked</th><th>got</th></tr>{body}</table>"
    )
