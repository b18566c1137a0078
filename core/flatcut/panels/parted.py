"""What is marked inside a piece that is cut goes with the part it lies on; lines that are cut through lie on both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length_to
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.panels.chains import MEET, Course
from flatcut.pattern.graining import laid
from flatcut.pattern.marks.balance import Balance
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Grain,
    Line,
    Mark,
    NamedPoint,
    Notch,
    Piece,
    Position,
    held_marks,
    outline,
)
from flatcut.pattern.walking import nearest_drawn, point_at, to_sewn
from flatcut.reshape.ways import Way, Ways


def marks_parted(
    piece: Piece, parts: Sequence[Piece], way: Course, still: int, uids: Uids
) -> tuple[list[Piece], dict[str, Ways], list[str]]:
    """The parts with their marks, what became of lines, and what is gone, in sentences.

    still: the part that is the piece itself still; it keeps what lies nowhere.
    """
    rings = [_ring(part) for part in parts]
    marks: list[list[Mark]] = [[], []]
    said: list[str] = []
    used = {item.uid for item in way.lines}
    ways: dict[str, Ways] = dict.fromkeys(used, ())
    for mark in piece.marks():
        if isinstance(mark, Grain) or (isinstance(mark, Line) and mark.uid in used):
            continue
        if isinstance(mark, Line):
            sections, dropped = _sections(mark, way, rings, parts, still, uids)
            for k, item, _ in sections:
                marks[k].append(item)
            if dropped:
                said.append(f"what of {piece.name}.{mark.name} lay inside a dart went with it")
            if len(sections) != 1 or sections[0][0] != still or dropped:
                ways[mark.uid] = tuple(w for _, _, w in sections)
            continue
        if isinstance(mark, NamedPoint) and any(float(nearest(c, mark.at)[1]) <= MEET for c in (way.along, way.back)):
            marks[still].append(mark)
            marks[1 - still].append(replace(mark, uid=uids.fresh("cut", mark.uid)))
            continue
        at = mark.standing()
        k = still if at is None else _side(rings, at)
        if isinstance(mark, Balance) and mark.dart in {dart.uid for dart in way.darts}:
            continue  # the new edges get notches there
        if mark.goes_with():
            k = next((i for i, part in enumerate(parts) if mark.goes_with() in {d.uid for d in part.darts}), still)
        marks[k].append(mark)
    found = []
    for k, part in enumerate(parts):
        made = replace(part, **held_marks(marks[k]))
        made = replace(made, points=(*made.points, *_of_darts(piece, made, way, uids)))
        found.append(replace(made, grain=_grain(piece, made, rings[k], keep=k == still)))
    return found, ways, said


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def _side(rings: Sequence[Array], at: Array) -> int:
    """The part on which a place lies, or to which it is nearer."""
    for k, ring in enumerate(rings):
        if contains(ring, at[None])[0]:
            return k
    away = []
    for ring in rings:
        p, q = ring, np.roll(ring, -1, axis=0)
        d = q - p
        t = np.clip(((at - p) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-18), 0.0, 1.0)
        away.append(float(np.hypot(*(p + t[:, None] * d - at).T).min()))
    return int(np.argmin(away))


def _sections(
    mark: Line, way: Course, rings: Sequence[Array], pieces: Sequence[Piece], still: int, uids: Uids
) -> tuple[list[tuple[int, Line, Way]], bool]:
    """The stretches of a line on each part, and whether some of it lay in a dart and is gone."""
    cuts = sorted({round(c.u, 9) for side in (way.along, way.back) for c in crossings(mark.curve, side)})
    places = [0.0, *(u for u in cuts if 1e-6 < u < len(mark.curve) - 1e-6), float(len(mark.curve))]
    if len(places) == 2:
        k = _side(rings, point(mark.curve, len(mark.curve) / 2))
        whole = length_to(mark.curve, float(len(mark.curve)))
        return [(k, mark, Way(0.0, whole, mark.uid, 0.0, whole))], False
    taken = [piece.names() for piece in pieces]
    runs: list[tuple[int, float, float]] = []
    dropped = False
    for a, b in pairwise(places):
        middle = point(mark.curve, (a + b) / 2)
        lens = [flatten(chain(d.legs, within=1e-6), tolerance=0.02) for d in way.darts if d.double]
        if any(contains(ring, middle[None])[0] for ring in lens):
            dropped = True
            continue
        runs.append((_side(rings, middle), a, b))
    found: list[tuple[int, Line, Way]] = []
    for k, a, b in runs:
        start, end = length_to(mark.curve, a), length_to(mark.curve, b)
        name = mark.name
        if any(i == k for i, _, _ in found):
            name = free_name(mark.name, taken[k] | {mark.name} | {item.name for i, item, _ in found if i == k})
        uid = mark.uid if not found else uids.fresh("cut", mark.uid, str(len(found)))
        item = replace(mark, uid=uid, name=name, curve=section(mark.curve, a, b), origin="" if found else mark.origin)
        found.append((k, item, Way(start, end, uid, 0.0, end - start)))
    return found, dropped


def _of_darts(piece: Piece, part: Piece, way: Course, uids: Uids) -> list[NamedPoint]:
    """The points of darts that the cut used up, where there is none with a name yet."""
    found: list[NamedPoint] = []
    for dart in way.darts:
        words = ("upper", "lower") if dart.double else ("point",)
        for word, at in zip(words, dart.points, strict=True):
            if any(float(np.hypot(*(p.at - at))) <= MEET for p in (*part.points, *found)):
                continue
            name = free_name(f"{dart.name}-{word}", part.names() | {p.name for p in found})
            found.append(NamedPoint(uid=uids.fresh("cut", dart.uid, word, part.name), name=name, at=at))
    return found


def balanced(piece: Piece, part: Piece, way: Course, uids: Uids) -> Piece:
    """A part with notches where balance marks stood on the darts that the cut used up."""
    cut = {dart.uid for dart in way.darts}
    found: list[Notch] = []
    for mark in piece.others:
        places = mark.places(piece) if isinstance(mark, Balance) and mark.dart in cut else None
        for at in () if places is None else places:
            for edge in part.edges:
                along = nearest_drawn(edge, at)
                if float(np.hypot(*(point_at(edge, along)[0] - at))) <= MEET:
                    uid = uids.fresh("cut", mark.uid, edge.uid)
                    found.append(Notch(uid=uid, edge=edge.uid, at=Position(mode="start", value=to_sewn(edge, along))))
                    break
    return replace(part, notches=(*part.notches, *found)) if found else part


def _grain(piece: Piece, part: Piece, ring: Array, *, keep: bool) -> Grain | None:
    """The grain line of a part: that of the piece where it lies on it, else one parallel to it in its middle."""
    grain = piece.grain
    if grain is None:
        return None
    if keep and contains(ring, np.linspace(grain.start, grain.end, 33)).all():
        return grain
    start, end, _ = laid(part, (grain.end - grain.start) / float(np.linalg.norm(grain.end - grain.start)))
    return replace(grain, start=start, end=end)
