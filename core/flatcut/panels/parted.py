"""What is marked inside a piece that is cut goes with the part it lies on; lines that are cut through lie on both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten, point, section, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length_to
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.panels.chains import Course
from flatcut.panels.faces import Face
from flatcut.panels.links import MEET, inside
from flatcut.pattern.graining import laid
from flatcut.pattern.marks.balance import Balance
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Dart,
    Edge,
    Grain,
    Hole,
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
from flatcut.reshape.turning import rejoined
from flatcut.reshape.ways import Way, Ways, composed


def marks_parted(
    piece: Piece,
    parts: Sequence[Piece],
    faces: Sequence[Face],
    way: Course,
    still: int,
    halves: Mapping[tuple[str, int], str],
    uids: Uids,
) -> tuple[list[Piece], dict[str, Ways], list[str]]:
    """The parts with their marks, what became of lines, and what is gone, in sentences.

    still: the part that is the piece itself still; it keeps what lies nowhere. halves: uids of halves of darts.
    """
    marks: list[list[Mark]] = [[], []]
    said: list[str] = []
    used = {item.uid for item in way.lines}
    ways: dict[str, Ways] = dict.fromkeys(used, ())
    for mark in piece.marks():
        if isinstance(mark, Grain) or (isinstance(mark, Line) and mark.uid in used):
            continue
        if isinstance(mark, Line):
            sections, dropped = _sections(mark, way, faces, still, uids)
            for k, item, _ in sections:
                marks[k].append(item)
            if dropped:
                said.append(f"what of {piece.name}.{mark.name} lay inside a dart went with it")
            if len(sections) != 1 or sections[0][0] != still or dropped:
                ways[mark.uid] = tuple(w for _, _, w in sections)
            continue
        if isinstance(mark, NamedPoint) and any(float(nearest(c, mark.at)[1]) <= MEET for c in way.sides):
            marks[still].append(mark.moved(_nearest_cell(faces[still], mark.at)[0]))
            other = mark.moved(_nearest_cell(faces[1 - still], mark.at)[0])
            marks[1 - still].append(replace(other, uid=uids.fresh("cut", mark.uid)))
            continue
        at = mark.standing()
        k, matrix = (still, IDENTITY) if at is None else _side(faces, at)
        if isinstance(mark, Balance) and mark.dart in {dart.uid for dart in way.darts}:
            continue  # the new edges get notches there
        if isinstance(mark, Hole):
            halved = _of_half(mark, way, halves)
            if halved is None:
                said.append(f"the drill hole at the widest place of {piece.name}.{_called(piece, mark.dart)} is gone")
                continue
            mark = halved
        if mark.goes_with():
            k = next((i for i, part in enumerate(parts) if mark.goes_with() in {d.uid for d in part.darts}), still)
        marks[k].append(mark if matrix is IDENTITY else mark.moved(matrix))
    found = []
    for k, part in enumerate(parts):
        if faces[k].closes:
            marks[k], ways = _run_on(marks[k], ways)
        made = replace(part, **held_marks(marks[k]))
        made = replace(made, points=(*made.points, *_of_darts(made, faces[k], way, uids)))
        found.append(replace(made, grain=_grain(piece, made, keep=k == still)))
    return found, ways, said


def _called(piece: Piece, uid: str) -> str:
    return next(dart.name for dart in piece.darts if dart.uid == uid)


def _of_half(hole: Hole, way: Course, halves: Mapping[tuple[str, int], str]) -> Hole | None:
    """A drill hole of a dart that is halved, of the half that it belongs to; None for one at its widest place."""
    if hole.dart not in {one.dart.uid for one in way.overs if one.dart.double}:
        return hole
    if hole.of in ("side-1", "side-2"):
        return None
    return replace(hole, dart=halves[hole.dart, 1] if hole.of == "lower" else hole.dart, of="point")


def _run_on(marks: Sequence[Mark], ways: Mapping[str, Ways]) -> tuple[list[Mark], dict[str, Ways]]:
    """Marks with lines that run on into each other now that a dart between them is closed made one again."""
    lines = [mark for mark in marks if isinstance(mark, Line)]
    whole, again = rejoined(lines, {item.name for item in lines}, lambda a, b: True, within=MEET)
    if len(whole) == len(lines):
        return list(marks), dict(ways)
    return [*whole, *(mark for mark in marks if not isinstance(mark, Line))], composed(dict(ways), again)


def _side(faces: Sequence[Face], at: Array) -> tuple[int, Affine]:
    """The part on which a place lies, or to which it is nearer, and how what lies there is moved."""
    for k, own in enumerate(faces):
        cell = own.cell_at(at)
        if cell is not None:
            return k, cell.matrix
    near = [_nearest_cell(own, at) for own in faces]
    k = int(np.argmin([away for _, away in near]))
    return k, near[k][0]


def _nearest_cell(own: Face, at: Array) -> tuple[Affine, float]:
    """How what lies nearest to a place is moved, and how far off it is."""
    away = [_away(cell.ring, at) for cell in own.cells]
    k = int(np.argmin(away))
    return own.cells[k].matrix, away[k]


def _away(ring: Array, at: Array) -> float:
    p, q = ring, np.roll(ring, -1, axis=0)
    d = q - p
    t = np.clip(((at - p) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-18), 0.0, 1.0)
    return float(np.hypot(*(p + t[:, None] * d - at).T).min())


def _sections(
    mark: Line, way: Course, faces: Sequence[Face], still: int, uids: Uids
) -> tuple[list[tuple[int, Line, Way]], bool]:
    """The stretches of a line on each part, and whether some of it lay in a dart and is gone."""
    shut = [one for own in faces for one in own.closes]
    walls = [*way.sides, *(one.mouth(leg) for one in shut for leg in (0, 1))]
    cuts = sorted({round(c.u, 9) for wall in walls for c in crossings(mark.curve, wall)})
    places = [0.0, *(u for u in cuts if 1e-6 < u < len(mark.curve) - 1e-6), float(len(mark.curve))]
    if len(places) == 2:
        k, matrix = _side(faces, point(mark.curve, len(mark.curve) / 2))
        whole = length_to(mark.curve, float(len(mark.curve)))
        return [(k, mark if matrix is IDENTITY else mark.moved(matrix), Way(0.0, whole, mark.uid, 0.0, whole))], False
    runs: list[tuple[int, float, float, Affine]] = []
    dropped = False
    for a, b in pairwise(places):
        middle = point(mark.curve, (a + b) / 2)
        if any(dart.double and inside(dart, middle) for dart in way.darts):
            dropped = True
            continue
        if any(contains(one.mouth_ring, middle[None])[0] for one in shut):
            continue  # the dart is closed there
        k, matrix = _side(faces, middle)
        if runs and runs[-1][0] == k and runs[-1][2] == a and matrix is runs[-1][3] and not _walled(mark, way, a):
            runs[-1] = (k, runs[-1][1], b, matrix)
        else:
            runs.append((k, a, b, matrix))
    found: list[tuple[int, Line, Way]] = []
    for k, a, b, matrix in runs:
        start, end = length_to(mark.curve, a), length_to(mark.curve, b)
        uid = mark.uid if not found else uids.fresh("cut", mark.uid, str(len(found)))
        curve = section(mark.curve, a, b)
        curve = curve if matrix is IDENTITY else transform(curve, matrix)
        item = replace(mark, uid=uid, curve=curve, origin="" if found else mark.origin)
        found.append((k, item, Way(start, end, uid, 0.0, end - start)))
    return found, dropped


def _walled(mark: Line, way: Course, u: float) -> bool:
    """Whether a line meets the course at a place of it."""
    at = point(mark.curve, u)
    return any(float(nearest(side, at)[1]) <= MEET for side in way.sides)


def _of_darts(part: Piece, own: Face, way: Course, uids: Uids) -> list[NamedPoint]:
    """The points and mouths of darts that the cut used up or closed; each has a name, also where another point lies."""
    wanted: list[tuple[Dart, str, Array]] = []
    for dart in way.darts:
        words = ("upper", "lower") if dart.double else ("point",)
        wanted += [(dart, word, at) for word, at in zip(words, dart.points, strict=True)]
        if not dart.double:
            wanted.append((dart, "mouth", min(dart.feet, key=lambda foot: _away(_ring(part), foot))))
    wanted += [(one.dart, "point", one.dart.points[0]) for one in way.overs if one.mouth_right is not None]
    for j, one in enumerate(own.closes):
        wanted.append((one.dart, "mouth", own.cells[j].matrix.apply(one.dart.feet[0])))
    found: list[NamedPoint] = []
    for dart, word, at in wanted:
        name = free_name(f"{dart.name}-{word}", part.names() | {p.name for p in found})
        found.append(NamedPoint(uid=uids.fresh("cut", dart.uid, word, part.uid), name=name, at=at))
    return found


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def balanced(piece: Piece, part: Piece, way: Course, uids: Uids) -> Piece:
    """A part with notches where balance marks stood on the darts that the cut used up."""
    cut = {dart.uid for dart in way.darts}
    found: list[Notch] = []
    for mark in piece.others:
        places = mark.places(piece) if isinstance(mark, Balance) and mark.dart in cut else None
        for at in () if places is None else places:
            for edge in part.edges:
                if not _about(edge, at):
                    continue
                along = nearest_drawn(edge, at)
                if float(np.hypot(*(point_at(edge, along)[0] - at))) <= MEET:
                    uid = uids.fresh("cut", mark.uid, edge.uid)
                    found.append(Notch(uid=uid, edge=edge.uid, at=Position(mode="start", value=to_sewn(edge, along))))
                    break
    return replace(part, notches=(*part.notches, *found)) if found else part


def _about(edge: Edge, at: Array) -> bool:
    """Whether a place lies in the box about an edge's nodes and handles, a pencil line wider; else it is off it."""
    spots = np.concatenate([curve.controls.reshape(-1, 2) for curve in edge.parts])
    return bool((spots.min(axis=0) - MEET <= at).all() and (at <= spots.max(axis=0) + MEET).all())


def _grain(piece: Piece, part: Piece, *, keep: bool) -> Grain | None:
    """The grain line of a part: that of the piece where it lies on it, else one parallel to it in its middle."""
    grain = piece.grain
    if grain is None:
        return None
    if keep and contains(_ring(part), np.linspace(grain.start, grain.end, 33)).all():
        return grain
    start, end, _ = laid(part, (grain.end - grain.start) / float(np.linalg.norm(grain.end - grain.start)))
    return replace(grain, start=start, end=end)
