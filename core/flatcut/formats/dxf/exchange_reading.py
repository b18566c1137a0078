"""An exchange file as its pieces, in a new document."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from flatcut.errors import FileName, InputError
from flatcut.exchange.layers import (
    ANNOTATION,
    BOUNDARY,
    CHECK,
    CURVE,
    DRILL,
    GRAIN,
    INTERNAL,
    MIRROR,
    NOTCHES,
    OUTLINED,
    TURN,
)
from flatcut.exchange.pieces import pattern_of
from flatcut.exchange.values import Course, Nick, Note, Part, Set
from flatcut.findings import Finding, on_reading
from flatcut.formats.dxf.entities import Dot, Found, Stroke
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, transform
from flatcut.outlines.joining import joined
from flatcut.pattern.moving import moved
from flatcut.pattern.values import BY_HAND, Piece, Step

INCH = 25.4
MARGIN = 60.0
"""mm between the outlines and the sides of the page: cut lines and labels go in it."""
ON = 0.02
"""mm: a turn point or curve point this near to a vertex is that vertex."""


def is_exchange(found: Found) -> bool:
    """Whether a file says of its pieces what they are."""
    return any(t.layer == str(BOUNDARY) and _key(t.text)[0] == "PIECE NAME" for t in found.letterings)


def _key(text: str) -> tuple[str, str]:
    """The key and the value of a text such as 'SIZE: 38'."""
    key, _, value = text.partition(":")
    return " ".join(key.split()).upper(), value.strip()


def exchanged(found: Found, name: str) -> tuple[bytes, list[Finding]]:
    """The pieces of an exchange file, in a new document."""
    held, said = exchange_set(found, name)
    if not held.parts:
        raise InputError(FileName(name), " is an exchange file without a piece in a block; write it anew")
    try:
        pattern, told = pattern_of(held)
    except InputError as error:
        raise InputError(FileName(name), f": {error}") from None
    pieces, page = _on_page(pattern.pieces)
    step = Step(line=f"{BY_HAND} read from an exchange file: {', '.join(p.name for p in pieces)}")
    pattern = replace(pattern, pieces=pieces, steps=(step,))
    drawing, empty, _ = new_drawing(*page)
    whole = replace(empty, pieces=pattern.pieces, style=pattern.style, steps=pattern.steps)
    return write(drawing, whole), [on_reading(text) for text in (*said, *told)]


def exchange_set(found: Found, name: str) -> tuple[Set, list[str]]:
    """What an exchange file says, in mm and y down, and what is to be said of it."""
    heads = {key: value for text in found.letterings if not text.of for key, value in [_key(text.text)]}
    inside = {key: value for text in found.letterings for key, value in [_key(text.text)]}
    units = (heads.get("UNITS") or inside.get("UNITS", "")).upper()
    said = []
    if units not in ("METRIC", "ENGLISH"):
        said.append(f"{name} does not say whether its units are metric; each is taken for 1 mm, so check a length")
    scale = INCH if units == "ENGLISH" else 1.0
    parts = []
    for of in sorted(found.blocks):
        part = _part(found, of, scale, found.blocks[of])
        if part is not None:
            parts.append(part)
    style = heads.get("STYLE NAME", inside.get("STYLE NAME", ""))
    sample = heads.get("SAMPLE SIZE", inside.get("SAMPLE SIZE", ""))
    table = heads.get("GRADE RULE TABLE", inside.get("GRADE RULE TABLE", ""))
    if table:
        said.append(
            f"the other sizes of {name} stand in its rule table '{table}', which is not read: "
            f"these are of size {sample}"
        )
    return Set(style=style, sample=sample, table=table, parts=tuple(parts), inch=units == "ENGLISH"), said


def _part(found: Found, of: int, scale: float, block: str) -> Part | None:
    """A piece from the entities of one block; None for a block without a boundary."""
    flip = Affine.scaling(scale, -scale)
    strokes = [s for s in found.strokes if s.of == of]
    dots = [d for d in found.dots if d.of == of]
    texts = [t for t in found.letterings if t.of == of]
    if not any(s.layer == str(BOUNDARY) for s in strokes):
        return None
    marks = {kind: flip.apply(_rows([d.at for d in dots if d.layer == str(kind)])) for kind in (TURN, CURVE)}
    courses = []
    for layer in OUTLINED:
        lines = [transform(s.curve, flip) for s in strokes if s.layer == str(layer)]
        # lines inside may meet and stay several: only what bounds something is put together of single lines
        apart = [one for line in lines for one in joined([line])] if layer == INTERNAL else joined(lines)
        courses += [_course(layer, one.curve, one.closed, marks) for one in apart]
    said = dict(_key(t.text) for t in texts if t.layer == str(BOUNDARY))
    notes = [t for t in texts if t.layer == str(ANNOTATION)]
    quantity = re.match(r"\d+", said.get("QUANTITY", "1"))
    cut_as = said.get("ANNOTATION", "").lower()
    mirror = _line(strokes, MIRROR, flip)
    return Part(
        name=said.get("PIECE NAME") or block,
        size=said.get("SIZE", ""),
        quantity=max(1, int(quantity[0])) if quantity else 1,
        cut_as=cut_as if cut_as in ("pair", "fold") else ("fold" if mirror is not None else "single"),
        material=said.get("MATERIAL", ""),
        category=said.get("CATEGORY", ""),
        courses=tuple(courses),
        nicks=tuple(_nicks(dots, flip, scale)),
        holes=flip.apply(_rows([d.at for d in dots if d.layer == str(DRILL)])),
        grain=_line(strokes, GRAIN, flip),
        mirror=mirror,
        notes=tuple(Note(text=t.text, at=flip.apply(t.at), height=t.height * scale) for t in notes),
    )


def _rows(points: Sequence[Array]) -> Array:
    return np.array(points, dtype=float).reshape(-1, 2)


def _course(layer: int, curve: Curve, closed: bool, marks: dict[int, Array]) -> Course:
    """The points of a line, and which of them are turn points."""
    points = curve.nodes[:-1] if closed else curve.nodes
    turn = np.zeros(len(points), dtype=np.bool_)
    if len(marks[TURN]):
        for chunk in range(0, len(points), 256):
            near = np.hypot(*np.moveaxis(points[chunk : chunk + 256, None] - marks[TURN][None], -1, 0))
            turn[chunk : chunk + 256] = near.min(axis=1) <= ON
    if not closed and turn.any():
        turn[[0, -1]] = True
    return Course(layer=layer, points=points, turn=turn, closed=closed)


def _line(strokes: Sequence[Stroke], layer: int, flip: Affine) -> Array | None:
    """The longest straight line on a layer, from end to end."""
    ends = [flip.apply(np.array([s.curve.start, s.curve.end])) for s in strokes if s.layer == str(layer)]
    ends = [line for line in ends if np.hypot(*(line[1] - line[0])) > 1e-6]
    return max(ends, key=lambda line: float(np.hypot(*(line[1] - line[0]))), default=None)


def _nicks(dots: Sequence[Dot], flip: Affine, scale: float) -> Iterator[Nick]:
    layers = {*NOTCHES.values(), CHECK}
    for dot in dots:
        if not dot.layer.isdigit() or int(dot.layer) not in layers:
            continue
        angle = np.radians(dot.angle)
        into = np.array([np.cos(angle), -np.sin(angle)])
        yield Nick(
            layer=int(dot.layer),
            at=flip.apply(dot.at),
            into=into,
            depth=abs(dot.height) * scale,
            width=abs(dot.thickness) * scale,
        )


def _on_page(pieces: Sequence[Piece]) -> tuple[tuple[Piece, ...], tuple[float, float]]:
    """The pieces moved onto a page, and its size in mm."""
    boxes = np.array([bounds(part) for piece in pieces for edge in piece.edges for part in edge.parts])
    x, y = MARGIN - boxes[:, 0].min(), MARGIN - boxes[:, 1].min()
    page = (float(boxes[:, 2].max() + x + MARGIN), float(boxes[:, 3].max() + y + MARGIN))
    return tuple(moved(piece, Affine.translation(float(x), float(y))) for piece in pieces), page
