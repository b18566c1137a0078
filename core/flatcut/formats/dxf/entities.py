"""The entities of a DXF file, taken out of their blocks, as curves and words in the file's own numbers, y up."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from flatcut.errors import FileName, InputError
from flatcut.formats.dxf import library
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line

MOST = 200_000
"""Entities of a file once its blocks are taken out: a set of fifty digitised pieces has a hundredth of them."""
DEEPEST = 12
"""Blocks within blocks."""
TURN = math.pi / 4
"""Radians of an arc that one cubic stands for: it then lies within 4.3e-6 of the radius (see `formats/svg/arcs.py`)."""
QUIET = {"VIEWPORT", "ATTDEF", "SEQEND", "VERTEX", "HATCH", "DIMENSION", "LEADER", "IMAGE", "WIPEOUT", "OLE2FRAME"}
"""Kinds of entities that are no lines of a pattern, or are drawn about such lines only; nobody misses them."""
FRAME = 16
"""A vertex of a polyline that only controls a curve through others (DXF reference, group 70 of VERTEX)."""


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line: on a layer; of: the number of the insert that it came by, 0 for none."""

    layer: str
    curve: Curve
    closed: bool
    of: int = 0


@dataclass(frozen=True, eq=False)
class Dot:
    """A point: at (2,); its height over the plane, its thickness, its angle in degrees: all have a use in exchange."""

    layer: str
    at: Array
    height: float
    thickness: float
    angle: float
    of: int = 0


@dataclass(frozen=True, eq=False)
class Lettering:
    """A text, where it starts (2,), and its height and angle in degrees, counter-clockwise."""

    layer: str
    text: str
    at: Array
    height: float
    angle: float
    of: int = 0


@dataclass(eq=False)
class Found:
    """What a file draws. blocks: the block of each insert, by its number from 1 on; missed: kinds not read."""

    strokes: list[Stroke] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    letterings: list[Lettering] = field(default_factory=list)
    blocks: dict[int, str] = field(default_factory=dict)
    missed: Counter[str] = field(default_factory=Counter)
    hidden: int = 0


def entities(drawing: Any, *, name: str) -> Found:
    """What is drawn in the model space. Errors: InputError."""
    found = Found()
    off = {layer.dxf.name.lower() for layer in drawing.layers if layer.is_off() or layer.is_frozen()}
    walk = _Walk(found, off, name)
    space = library.model(drawing)
    if _count(drawing, space, {}) > MOST:
        raise InputError(FileName(name), f" has more than {MOST} lines once its blocks are taken out; delete some")
    walk.all(space)
    if not (found.strokes or found.dots):
        # a file of blocks alone, as a library of parts is
        for block in library.blocks(drawing):
            found.blocks[len(found.blocks) + 1] = block.name
            walk.all(block, of=len(found.blocks))
    return found


def _count(drawing: Any, layout: library.Layout, known: dict[str, int]) -> int:
    """How many entities there are once blocks are taken out, without doing it; `known`: of blocks, by their names."""
    total = 0
    for entity in layout:
        if entity.dxftype() != "INSERT":
            total += 1
            continue
        called = str(entity.dxf.name)
        if called not in known:
            known[called] = 1  # of one that holds itself no more is counted
            block = drawing.blocks.get(called)
            known[called] = _count(drawing, block, known) if block is not None else 1
        total += known[called] * max(1, int(entity.mcount))
    return total


class _Walk:
    def __init__(self, found: Found, off: set[str], name: str) -> None:
        self.found, self.off, self.name = found, off, name

    def all(self, every: Iterable[Any], *, of: int = 0, depth: int = 0) -> None:
        for entity in every:
            layer = str(entity.dxf.get("layer", "0"))
            if layer.lower() in self.off or entity.dxf.get("invisible", 0):
                self.found.hidden += 1
            elif entity.dxftype() == "INSERT":
                self._insert(entity, of, depth)
            else:
                self._one(entity, layer, of)

    def _insert(self, insert: Any, of: int, depth: int) -> None:
        if depth >= DEEPEST:
            raise InputError(f"{self.name} has blocks in blocks, more than {DEEPEST} deep; take them apart")
        for single in insert.multi_insert():
            number = of
            if not of:
                number = len(self.found.blocks) + 1
                self.found.blocks[number] = insert.dxf.name
            self.all(single.virtual_entities(), of=number, depth=depth + 1)
            for attribute in single.attribs:
                self._one(attribute, str(attribute.dxf.layer), number)

    def _one(self, entity: Any, layer: str, of: int) -> None:
        kind = entity.dxftype()
        try:
            if kind == "POINT":
                x, y, z = entity.dxf.location
                form = entity.dxf
                thick, angle = float(form.get("thickness", 0.0)), float(form.get("angle", 0.0))
                self.found.dots.append(Dot(layer, _plane(x, y), float(z), thick, angle, of))
            elif kind in ("TEXT", "ATTRIB", "MTEXT"):
                self._text(entity, layer, of)
            elif kind not in QUIET:
                strokes = list(_curves(entity))
                if not strokes:
                    self.found.missed[kind] += 1
                self.found.strokes += [Stroke(layer, curve, closed, of) for curve, closed in strokes]
        except (ValueError, TypeError, ArithmeticError, LookupError, AttributeError) as error:
            if isinstance(error, InputError):
                raise
            raise InputError(f"{self.name} has an entity {kind} of numbers that cannot be drawn; delete it") from None

    def _text(self, entity: Any, layer: str, of: int) -> None:
        text = entity.plain_text() if hasattr(entity, "plain_text") else str(entity.dxf.text)
        x, y, _ = entity.dxf.insert
        high = float(entity.dxf.get("char_height" if entity.dxftype() == "MTEXT" else "height", 2.5))
        said = " ".join(str(text).split())
        if said:
            self.found.letterings.append(
                Lettering(layer, said, _plane(x, y), high, float(entity.dxf.get("rotation", 0.0)), of)
            )


def _plane(x: float, y: float) -> Array:
    at = np.array([float(x), float(y)])
    if not np.isfinite(at).all():
        raise ValueError
    return at


def _curves(entity: Any) -> Iterator[tuple[Curve, bool]]:
    """The lines of one entity; none for a kind that is no line."""
    kind = entity.dxftype()
    if kind == "LINE":
        a, b = (_plane(end.x, end.y) for end in (entity.dxf.start, entity.dxf.end))
        if (a != b).any():
            yield line(a, b), False
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        yield from _polyline(entity)
    elif kind in ("ARC", "CIRCLE"):
        yield _arc_of(entity), kind == "CIRCLE"
    elif kind in ("SPLINE", "ELLIPSE", "HELIX"):
        yield from _smooth(entity)
    elif kind in ("SOLID", "TRACE", "3DFACE"):
        corners = [_plane(p.x, p.y) for p in entity.wcs_vertices()]
        yield from _ring(corners, closed=True)


def _ring(corners: list[Array], *, closed: bool) -> Iterator[tuple[Curve, bool]]:
    points = [p for k, p in enumerate(corners) if k == 0 or np.hypot(*(p - corners[k - 1])) > 0]
    if closed and len(points) > 1 and np.hypot(*(points[0] - points[-1])) > 0:
        points.append(points[0])
    if len(points) > 1:
        yield chain([line(a, b) for a, b in pairwise(points)]), closed and len(points) > 3


def _polyline(entity: Any) -> Iterator[tuple[Curve, bool]]:
    """A polyline with its bulges; the control frame of a fitted one is left out."""
    if entity.dxftype() == "LWPOLYLINE":
        rows = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        closed, elevation = bool(entity.closed), float(entity.dxf.get("elevation", 0.0))
    elif entity.is_2d_polyline or entity.is_3d_polyline:
        vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & FRAME]
        rows = [(*v.dxf.location.vec2, float(v.dxf.get("bulge", 0.0))) for v in vertices]
        closed, elevation = bool(entity.is_closed), 0.0
    else:
        return
    if entity.dxftype() == "POLYLINE" and entity.is_3d_polyline:
        yield from _ring([_plane(x, y) for x, y, _ in rows], closed=closed)
        return
    ocs = entity.ocs()
    ends = [*rows[1:], rows[0]] if closed else rows[1:]
    parts: list[Curve] = []
    for (x0, y0, bulge), (x1, y1, _) in zip(rows, ends, strict=False):
        a, b = _plane(x0, y0), _plane(x1, y1)
        if np.hypot(*(b - a)) > 0:
            parts.append(_bulged(a, b, float(bulge)) if abs(bulge) > 1e-12 else line(a, b))
    if parts:
        whole = chain(parts, within=1e-6)
        if ocs.transform:
            controls = whole.controls.reshape(-1, 2)
            turned = [ocs.to_wcs((float(x), float(y), elevation)) for x, y in controls]
            whole = Curve(np.array([(p.x, p.y) for p in turned]).reshape(-1, 4, 2), np.array(whole.straight))
        yield whole, closed


def _bulged(a: Array, b: Array, bulge: float) -> Curve:
    """The arc from a to b; bulge: the tangent of a quarter of its turn, positive counter-clockwise (DXF reference)."""
    turn = 4 * math.atan(bulge)
    chord = b - a
    middle = (a + b) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge * bulge) / (4 * bulge)
    start = a - middle
    return _turned(middle, start, turn, end=b)


def _turned(centre: Array, start: Array, turn: float, *, end: Array | None = None) -> Curve:
    """An arc about a centre from where `start` (2,) leads from it, through `turn` radians counter-clockwise."""
    count = max(1, math.ceil(abs(turn) / TURN - 1e-9))
    step = turn / count
    reach = 4 / 3 * math.tan(step / 4)
    parts: list[Curve] = []
    here = start
    for k in range(1, count + 1):
        cos, sin = math.cos(k * step), math.sin(k * step)
        there = np.array([cos * start[0] - sin * start[1], sin * start[0] + cos * start[1]])
        p = centre + here
        q = centre + there if k < count or end is None else end
        if parts:
            p = parts[-1].end
        parts.append(
            cubic(p, p + reach * np.array([-here[1], here[0]]), q - reach * np.array([-there[1], there[0]]), q)
        )
        here = there
    return chain(parts, within=1e-6)


def _arc_of(entity: Any) -> Curve:
    centre, radius = entity.dxf.center, float(entity.dxf.radius)
    if not radius > 0 or not math.isfinite(radius):
        raise ValueError
    whole = entity.dxftype() == "CIRCLE"
    first = 0.0 if whole else math.radians(float(entity.dxf.start_angle))
    last = 2 * math.pi if whole else math.radians(float(entity.dxf.end_angle))
    turn = 2 * math.pi if whole else (last - first) % (2 * math.pi) or 2 * math.pi
    start = radius * np.array([math.cos(first), math.sin(first)])
    curve = _turned(_plane(centre.x, centre.y), start, turn)
    if whole:
        controls = np.array(curve.controls)
        controls[-1, 3] = controls[0, 0]
        curve = Curve(controls, np.array(curve.straight))
    ocs = entity.ocs()
    if not ocs.transform:
        return curve
    turned = [ocs.to_wcs((float(x), float(y), float(centre.z))) for x, y in curve.controls.reshape(-1, 2)]
    return Curve(np.array([(p.x, p.y) for p in turned]).reshape(-1, 4, 2), np.array(curve.straight))


def _smooth(entity: Any) -> Iterator[tuple[Curve, bool]]:
    """A spline or an ellipse, as the library makes cubics of it: exact for cubic splines without weights."""
    turn = 2 * math.pi
    if entity.dxftype() == "ELLIPSE":
        turn = (float(entity.dxf.end_param) - float(entity.dxf.start_param)) % turn or turn
    path = library.package().path.make_path(entity, segments=math.ceil(turn / TURN - 1e-9), level=8)
    if not len(path):
        return
    parts: list[Curve] = []
    here = path.start
    for command in path.commands():
        kind = command.type.name
        p, q = _plane(here.x, here.y), _plane(command.end.x, command.end.y)
        if kind == "LINE_TO" and np.hypot(*(q - p)) > 0:
            parts.append(line(p, q))
        elif kind == "CURVE4_TO":
            one, two = command.ctrl1, command.ctrl2
            parts.append(cubic(p, _plane(one.x, one.y), _plane(two.x, two.y), q))
        elif kind == "CURVE3_TO":
            c = _plane(command.ctrl.x, command.ctrl.y)
            parts.append(cubic(p, p + 2 / 3 * (c - p), q + 2 / 3 * (c - q), q))
        here = command.end
    if parts:
        whole = chain(parts, within=1e-6)
        yield whole, bool(np.hypot(*(whole.end - whole.start)) <= 1e-6 * (1 + np.abs(whole.controls).max()))
