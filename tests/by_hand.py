"""What a person does to a drawing in the editor, done to its XML with the editor's own rules.

The rules are those measured with Inkscape 1.2.2: paths are written again with relative coordinates and numbers that are
off by about 1e-5; a move, turn or flip of a path is baked into its data, that of a group stands in its transform;
boolean operations and break apart lose all foreign attributes and keep the id of one operand; a duplicate and a paste
keep them, uids included, and get new ids.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from lxml import etree

from flatcut.formats.svg.elements import SODIPODI, SVG, tag
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.read import read
from flatcut.formats.svg.transforms import parse_transform, unparse_transform
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, line, polyline, reverse, section, split_spans, transform
from flatcut.operations.operation import load
from flatcut.pattern.values import Dart, Grain, Line, NamedPoint, Notch, Pattern, Position, TakeUp

DATA = Path(__file__).parent / "data"
NOISE = 5e-6
"""The editor's numbers are off by up to this in user units."""

Root = etree._Element


def perform(data: bytes, name: str, /, *targets: str, **options: object) -> bytes:
    """One operation on a file."""
    drawing, pattern, _ = read(data)
    values = {"target": targets} if targets else {}
    return write(drawing, load(name)(**values, **options)(pattern))  # type: ignore[arg-type]  # its fields


@lru_cache
def two_pieces() -> bytes:
    """Front and back of a bodice with everything that a piece can hold, as flatcut writes it."""
    data = (DATA / "two-pieces.svg").read_bytes()
    data = perform(data, "piece", "id:p1", "id:p2", names=("front", "back"))
    for piece, names in (
        ("front", "neck,shoulder,armhole,side,waist,centre"),
        ("back", "neck,shoulder,armhole,side,waist,centre"),
    ):
        edges = [f"{piece}.e{k}" for k in range(1, 7)]
        data = perform(data, "edge", *edges, names=tuple(names.split(",")))
    data = perform(data, "edge", "front.centre", "back.centre", use="centre")
    data = perform(data, "seam", "front.side", "back.side")
    data = perform(data, "seam", "front.shoulder", "back.shoulder", ease=-26.0)
    data = perform(data, "allowance", "all", width=10.0)
    drawing, pattern, findings = read(data)
    assert not findings
    return write(drawing, furnished(pattern))


def furnished(pattern: Pattern) -> Pattern:
    """The pattern with what has no operation yet: on its front a drawn dart, ease, notches, grain, a line, a point."""
    front = pattern.piece("front")
    side, armhole, shoulder = front.edge("side"), front.edge("armhole"), front.edge("shoulder")
    diamond = Dart(
        uid="d1a3",
        name="waist-fish",
        form="lines",
        legs=(
            chain([line((90, 200), (84, 260)), line((84, 260), (90, 330))]),
            chain([line((90, 330), (96, 260)), line((96, 260), (90, 200))]),
        ),
    )
    changed = replace(
        front,
        edges=tuple(
            replace(e, takeups=(TakeUp(uid="7a", kind="ease", start=20.0, end=80.0, amount=4.0),)) if e is side else e
            for e in front.edges
        ),
        darts=(*(replace(dart, pressed=front.edge("centre").uid) for dart in front.darts), diamond),
        lines=(Line(uid="b1", name="balance", curve=line((25, 150), (200, 155)), kind="balance"),),
        points=(NamedPoint(uid="c0", name="bust-point", at=np.array([140.0, 230.0])),),
        notches=(
            Notch(uid="a1", edge=armhole.uid, at=Position(mode="fraction", value=0.4), kind="v", count=2),
            Notch(uid="a2", edge=side.uid, at=Position(mode="end", value=60.0)),
            Notch(uid="a3", edge=shoulder.uid, at=Position(mode="start", value=30.0), kind="castle", depth=4.5),
        ),
        grain=Grain(start=np.array([60.0, 140.0]), end=np.array([60.0, 380.0]), ways="one"),
        quantity=2,
        cut_as="pair",
        material="shell",
    )
    return replace(pattern, pieces=tuple(changed if p is front else p for p in pattern.pieces))


# Finding --------------------------------------------------------------------------------------------------------------


def root_of(data: bytes) -> Root:
    return etree.fromstring(data)


def bytes_of(root: Root) -> bytes:
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def group(root: Root, name: str) -> Root:
    """The group of a piece."""
    return next(g for g in root.iter(tag("g")) if g.get(own("piece")) is not None and g.get(own("name")) == name)


def outline(root: Root, name: str) -> Root:
    """The outline path of a piece."""
    return next(p for p in group(root, name).iter(tag("path")) if p.get(own("outline")) is not None)


def derived(root: Root, role: str, name: str = "front") -> list[Root]:
    """Derived drawing of a kind: cut, cap, notch, label, leader, point, arrow."""
    uid = group(root, name).get(own("piece"))
    return [e for e in root.iter() if e.get(own("drawn")) == role and e.get(own("piece-of")) == uid]


# Paths as the editor writes them --------------------------------------------------------------------------------------


def curve_of(element: Root) -> Curve:
    return parse(element.get("d", ""))[0].curve


def redrawn(element: Root, curves: Curve | Iterable[Curve], *, closed: bool = True) -> None:
    """Set the data of a path in the editor's way: relative, with noise, node types added."""
    items = [curves] if isinstance(curves, Curve) else list(curves)
    words: list[str] = []
    at = np.zeros(2)
    for curve in items:
        controls = noisy(curve.controls)
        words.append(f"m {_pair(controls[0, 0] - at)}")
        start = at = np.round(controls[0, 0], 7)
        for k, points in enumerate(controls):
            if closed and k == len(controls) - 1 and curve.straight[k]:
                break
            if curve.straight[k]:
                words.append(f"l {_pair(points[3] - at)}")
            else:
                words.append("c " + " ".join(_pair(p - at) for p in points[1:]))
            at = points[3]
        if closed:
            words.append("z")
            at = start
    element.set("d", " ".join(words))
    element.set(f"{{{SODIPODI}}}nodetypes", "c" * sum(len(c) for c in items))


def noisy(controls: np.ndarray) -> np.ndarray:
    """Points off by up to NOISE, the same for the same node, so that spans go on touching."""
    return controls + NOISE * np.sin(controls[..., ::-1] * 1234.5)


def _pair(xy: np.ndarray) -> str:
    return f"{xy[0]:.7f},{xy[1]:.7f}"


def with_controls(curve: Curve, change: Callable[[np.ndarray], None]) -> Curve:
    controls = np.array(curve.controls)
    change(controls)
    controls[1:, 0] = controls[:-1, 3]
    for k in np.flatnonzero(curve.straight):
        p, q = controls[k, 0], controls[k, 3]
        controls[k, 1], controls[k, 2] = p + (q - p) / 3, q - (q - p) / 3
    return Curve(controls, curve.straight)


# Node edits -----------------------------------------------------------------------------------------------------------


def move_node(element: Root, k: int, by: tuple[float, float]) -> None:
    """Node k of a closed path with its handles."""
    curve = curve_of(element)

    def change(controls: np.ndarray) -> None:
        shift = np.array(by)
        controls[k, :2] += shift
        controls[k - 1, 2:] += shift

    redrawn(element, with_controls(curve, change))


def add_node(element: Root, span: int, t: float) -> None:
    """A node inside a span; the shape stays."""
    curve = curve_of(element)
    one, two = split_spans(curve.controls[span : span + 1], [t])
    controls = np.concatenate([curve.controls[:span], one, two, curve.controls[span + 1 :]])
    straight = np.insert(curve.straight, span, curve.straight[span])
    redrawn(element, Curve(controls, straight))


def delete_node(element: Root, k: int) -> None:
    """Node k (not the first) goes; the two spans beside it become one."""
    curve = curve_of(element)
    flat = bool(curve.straight[k - 1] and curve.straight[k])
    before, after = curve.controls[k - 1], curve.controls[k]
    p, q = before[0], after[3]
    merged = (
        line(p, q).controls[0]
        if flat
        else np.array([p, p + 2 * (before[1] - before[0]), q - 2 * (after[3] - after[2]), q])
    )
    controls = np.concatenate([curve.controls[: k - 1], merged[None], curve.controls[k + 1 :]])
    straight = np.concatenate([curve.straight[: k - 1], [flat], curve.straight[k + 1 :]])
    redrawn(element, Curve(controls, straight))


def move_handle(element: Root, span: int, by: tuple[float, float]) -> None:
    """The first handle of a curved span."""

    def change(controls: np.ndarray) -> None:
        controls[span, 1] += np.array(by)

    redrawn(element, with_controls(curve_of(element), change))


def reverse_path(element: Root) -> None:
    redrawn(element, reverse(curve_of(element)))


def start_at(element: Root, k: int) -> None:
    """Node k becomes the first one."""
    curve = curve_of(element)
    redrawn(element, Curve(np.roll(curve.controls, -k, axis=0), np.roll(curve.straight, -k)))


# Moves ----------------------------------------------------------------------------------------------------------------


def bake(element: Root, matrix: Affine, *, closed: bool = True) -> None:
    """Move a path: its data changes, in its own user space."""
    redrawn(element, transform(curve_of(element), matrix), closed=closed)


def put_transform(element: Root, matrix: Affine) -> None:
    """Move a group: its transform changes."""
    before = parse_transform(element.get("transform", ""))
    element.set("transform", unparse_transform(matrix @ before))


# Structure ------------------------------------------------------------------------------------------------------------


def duplicate(element: Root) -> Root:
    """A copy above the original, all attributes kept, new ids."""
    root = element.getroottree().getroot()
    twin = copy.deepcopy(element)
    _new_ids(twin, root)
    element.addnext(twin)
    return twin


def paste(element: Root, home: Root) -> Root:
    """A copy at the end of a layer of another document."""
    twin = copy.deepcopy(element)
    _new_ids(twin, home.getroottree().getroot())
    home.append(twin)
    return twin


def _new_ids(twin: Root, root: Root) -> None:
    taken = {e.get("id") for e in root.iter()}
    number = 1
    for element in twin.iter(etree.Element):
        if element.get("id") is not None:
            while f"path{number}" in taken:
                number += 1
            element.set("id", f"path{number}")
            taken.add(f"path{number}")


def ungroup(element: Root) -> None:
    """The group goes; its transform is baked into paths and written on groups and texts."""
    parent = element.getparent()
    assert parent is not None
    matrix = parse_transform(element.get("transform", ""))
    place = parent.index(element)
    for k, child in enumerate(list(element)):
        if child.tag == tag("path"):
            inside = parse_transform(child.get("transform", ""))
            child.attrib.pop("transform", None)
            subs = parse(child.get("d", ""))
            if matrix @ inside != Affine():
                redrawn(child, [transform(s.curve, matrix @ inside) for s in subs], closed=subs[0].closed)
        elif isinstance(child.tag, str) and matrix != Affine():
            put_transform(child, matrix)
        parent.insert(place + k, child)
    parent.remove(element)


def strip(element: Root) -> None:
    """What a boolean operation or break apart leaves of a path's attributes: id, style and data."""
    for name in list(element.attrib):
        if name not in ("id", "style", "d", "transform"):
            del element.attrib[name]


def unite_with_bump(element: Root, span: int) -> None:
    """Union with a flat triangle that sticks out of a straight span: three nodes more, all attributes lost."""
    curve = curve_of(element)
    p, q = curve.controls[span, 0], curve.controls[span, 3]
    along = (q - p) / np.linalg.norm(q - p)
    out = np.array([along[1], -along[0]])
    middle = (p + q) / 2
    bump = polyline([p, middle - 40 * along, middle + 3 * out, middle + 40 * along, q])
    parts = [bump]
    if span:
        parts.insert(0, section(curve, 0, span))
    if span + 1 < len(curve):
        parts.append(section(curve, span + 1, len(curve)))
    strip(element)
    redrawn(element, chain(parts))


def hide(element: Root) -> None:
    style = element.get("style", "")
    element.set("style", f"{style};display:none" if style else "display:none")


def delete(element: Root) -> None:
    parent = element.getparent()
    assert parent is not None
    parent.remove(element)


def new_document() -> Root:
    """Another document: inches, another viewBox, a scaled layer."""
    return etree.fromstring(
        f'<svg xmlns="{SVG}" width="20in" height="20in" viewBox="0 0 2000 2000">'
        '<g id="sheet" transform="scale(3.937007874)"/></svg>'.encode()
    )
