"""Pieces made of what an exchange file says of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.errors import FlatcutError, InputError
from flatcut.exchange.allowances import width_of, with_allowances
from flatcut.exchange.layers import BOUNDARY, CUT_OUT, INTERNAL, SEW
from flatcut.exchange.nicks import notched
from flatcut.exchange.through import through
from flatcut.exchange.values import Course, Part, Set
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line, polyline, signed_area
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.marking.labels import words
from flatcut.outlines.gathering import Gathered
from flatcut.outlines.making import Manner, make
from flatcut.pattern.renewing import free_name, numbered
from flatcut.pattern.tracing import CORNER_ANGLE
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Allowance,
    Caption,
    DrawnPath,
    Grain,
    Hole,
    Line,
    Pattern,
    Piece,
    Style,
)

CORNER = 5.0
"""Degrees: a turn point that turns more ends an edge; the file says where lines break, so little is needed."""
STEADY = 0.05
"""mm that the allowance along an edge may vary and still be one width."""
MOSTLY = 0.5
"""A sew line that encloses more than this part of the boundary is the stitch line of the piece."""
BROADEST = 45.0
"""mm: so is one of a narrow piece that the boundary lies no farther from: an allowance of 3 cm at a mitred corner."""


def pattern_of(held: Set) -> tuple[Pattern, list[str]]:
    """The pieces of a set, and sentences on what is other than it was read. Errors: InputError without any piece."""
    uids, taken = Uids(), set[str]()
    sizes = {part.size for part in held.parts}
    style = Style(name=held.style, size=held.sample or (sizes.pop() if len(sizes) == 1 else ""))
    found: list[Piece] = []
    said: list[str] = []
    several = {p.name for p in held.parts if sum(p.name == other.name for other in held.parts) > 1}
    for part in held.parts:
        wanted = _name(f"{part.name}-{part.size}" if part.name in several and part.size else part.name)
        name = free_name(wanted, taken) if wanted else numbered("piece", taken)
        try:
            piece, told = _piece(name, part, style, uids)
        except FlatcutError as error:
            said.append(f"{part.name or name} is left out: {error}")
            continue
        taken.add(name)
        found.append(piece)
        said += told
    if not found:
        raise InputError(said[0] if said else "it has no pieces")
    materials = tuple(dict.fromkeys(piece.material for piece in found if piece.material))
    return Pattern(pieces=tuple(found), style=replace(style, materials=materials)), said


def _name(text: str) -> str:
    """A piece's name from the words of a file.

    >>> _name("FRONT  (left)"), _name("2nd yoke"), _name("1")
    ('FRONT-left', 'nd-yoke', '')
    """
    return re.sub(r"^[\W\d_]+|-+$", "", re.sub(r"[^\w-]+", "-", text.strip()))


def curves_of(courses: Sequence[Course]) -> list[Curve]:
    """The lines through the points of courses: straight between turn points, curved where curve points stand."""
    stretches = [_stretches(course) if course.turn.any() else [] for course in courses]
    parts = iter(through([stretch for mine in stretches for stretch in mine]))
    return [
        chain([next(parts) for _ in mine], within=1e-6) if mine else polyline(_closed(course))
        for course, mine in zip(courses, stretches, strict=True)
    ]


def _closed(course: Course) -> Array:
    """The points of a course, of a closed one the first also as the last."""
    return np.concatenate([course.points, course.points[:1]]) if course.closed else course.points


def _stretches(course: Course) -> list[tuple[Array, bool]]:
    """The points from one turn point to the next, and whether they go all round."""
    points, count = course.points, len(course.points)
    if course.closed:
        first = int(np.argmax(course.turn))
        points = np.concatenate([course.points[first:], course.points[:first], course.points[first : first + 1]])
        marks = [*np.flatnonzero(np.roll(course.turn, -first)).tolist(), count]
    else:
        marks = sorted({0, *np.flatnonzero(course.turn).tolist(), count - 1})
    if course.closed and len(marks) == 2 and count > 1:
        return [(points[:-1], True)]
    return [(points[a : b + 1], False) for a, b in pairwise(marks)]


def _piece(name: str, part: Part, style: Style, uids: Uids) -> tuple[Piece, list[str]]:
    """The piece, its edges parted at every corner or at the sharper ones only: as its cut line can be made of them."""
    read = _Read()
    first, said = _parted(name, part, style, uids, CORNER, read)
    if first.cut_by_hand is None:
        return first, said
    second, told = _parted(name, part, style, uids, CORNER_ANGLE, read)
    return (second, told) if second.cut_by_hand is None else (first, said)


class _Read:
    """The curves through the points of courses, each fitted once and many together."""

    def __init__(self) -> None:
        self._found: dict[int, tuple[Course, Curve]] = {}

    def curves(self, courses: Sequence[Course]) -> list[Curve]:
        new = [course for course in courses if id(course) not in self._found]
        for course, curve in zip(new, curves_of(new), strict=True):
            self._found[id(course)] = course, curve  # the course is kept: its number is no other's
        return [self._found[id(course)][1] for course in courses]


def _parted(name: str, part: Part, style: Style, uids: Uids, angle: float, read: _Read) -> tuple[Piece, list[str]]:
    """The same with edges parted where the outline turns by more than so many degrees."""
    boundaries = [course for course in part.of(BOUNDARY) if course.closed]
    if not boundaries:
        raise InputError("it has no closed boundary on layer 1; close it where it was drawn")
    boundary = max(boundaries, key=lambda course: _area(course.points))
    stitch, taken = _stitch(name, part, boundary)
    others = [c for c in part.courses if c.layer in (INTERNAL, CUT_OUT, SEW) and c is not stitch]
    curve, *curves = read.curves([stitch, *others])
    path = DrawnPath(id=f"outline-of-{name}", curves=(curve,), closed=(True,))
    inside = [
        DrawnPath(id=f"line-{k}-of-{name}", curves=(curve,), closed=(course.closed,))
        for k, (course, curve) in enumerate(zip(others, curves, strict=True), start=1)
    ]
    gathered = Gathered(
        path=path,
        curve=path.curves[0],
        inner=[p.curves[0] for p, c in zip(inside, others, strict=True) if c.closed and c.layer == CUT_OUT],
        closed=[p for p, c in zip(inside, others, strict=True) if c.closed and c.layer != CUT_OUT],
        open=[p for p, c in zip(inside, others, strict=True) if not c.closed],
    )
    known = bool(stitch.turn.any())
    manner = Manner(deepest=0.0, keep_points=True, corner_angle=angle) if known else Manner(deepest=0.0)
    made = make(name, gathered, manner, uids)
    piece = _without_origins(made.piece)
    names = piece.names()
    left = [path for path in gathered.open if path.id not in made.taken]
    lines = []
    for path in left:
        called = numbered("line", names)
        names.add(called)
        lines.append(Line(uid=uids.fresh("line", piece.uid, path.id), name=called, curve=path.curves[0]))
    piece = replace(
        piece,
        lines=(*piece.lines, *lines),
        quantity=part.quantity,
        cut_as=part.cut_as,
        material=part.material,
        grain=None if part.grain is None else Grain(start=part.grain[0], end=part.grain[1]),
        holes=tuple(Hole(uid=uids.fresh("hole", piece.uid, str(k)), at=at) for k, at in enumerate(part.holes)),
    )
    said = [*taken, *made.warnings]
    piece = _folded(piece, part, said)
    if stitch is not boundary:
        piece = _cut(piece, boundary, read, said)
    cut = cut_line(piece)
    notches, told = notched(piece, part.nicks, None if cut is None else cut.curve, uids)
    return _captioned(replace(piece, notches=notches), part, style), [*said, *told]


def _stitch(name: str, part: Part, boundary: Course) -> tuple[Course, list[str]]:
    """The sew line that is the stitch line of a piece, its boundary where none is; and what is to be said of it."""
    closed = [course for course in part.of(SEW) if course.closed]
    largest = max(closed, key=lambda course: _area(course.points), default=boundary)
    if largest is boundary or _area(largest.points) > MOSTLY * _area(boundary.points):
        return largest, []
    ring = polyline(np.concatenate([largest.points, largest.points[:1]]))
    if float(nearest(ring, boundary.points)[1].max()) > BROADEST:
        return boundary, []
    return largest, [
        f"{name}: the sew line that runs all round it, within {BROADEST:g} mm, is taken for its stitch line"
    ]


def _area(points: Array) -> float:
    return abs(signed_area(polyline(np.concatenate([points, points[:1]]))))


def _without_origins(piece: Piece) -> Piece:
    """The piece as one that was made of nothing that is drawn."""
    darts = tuple(replace(dart, origin="") for dart in piece.darts)
    return replace(piece, origin="", darts=darts, lines=tuple(replace(one, origin="") for one in piece.lines))


def _folded(piece: Piece, part: Part, said: list[str]) -> Piece:
    """The piece with its fold, where the file has a mirror line."""
    if part.mirror is None:
        if piece.cut_as == "fold":
            said.append(f"{piece.name} is to be cut on the fold, but has no mirror line; it is a single piece now")
            return replace(piece, cut_as="single")
        return piece
    mirror = line(part.mirror[0], part.mirror[1])
    edges = [e for e in piece.edges if all(nearest(mirror, p.nodes)[1].max() <= STEADY for p in e.parts)]
    if not edges:
        said.append(f"the mirror line of {piece.name} lies on none of its edges; tell its fold with the step 'edge'")
        return piece
    uids = {edge.uid for edge in edges}
    changed = tuple(replace(e, use="fold") if e.uid in uids else e for e in piece.edges)
    return replace(piece, edges=changed, cut_as="fold")


def _cut(piece: Piece, course: Course, read: _Read, said: list[str]) -> Piece:
    """The piece with the allowances that lie between its stitch line and its boundary, or with that as it was drawn."""
    # its points do for a comparison: a curve is fitted only where it is kept
    found = with_allowances(piece, polyline(_closed(course)))
    if found is not None:
        return found
    (boundary,) = read.curves([course])
    said.append(f"the cut line of {piece.name} is kept as it was drawn: no usual allowances and corners give it")
    edges = tuple(replace(edge, allowance=Allowance(width=width_of(piece, edge, boundary))) for edge in piece.edges)
    return replace(piece, edges=edges, cut_by_hand=boundary)


def _captioned(piece: Piece, part: Part, style: Style) -> Piece:
    """The piece with the words of the file that its own label does not say."""
    own = {*words(piece, style), *(line.name for line in piece.lines), f"size {part.size}"}
    further = [note.text for note in part.notes if note.text not in own and not _of_label(note.text)]
    return replace(piece, caption=Caption(text="; ".join(dict.fromkeys(further)))) if further else piece


def _of_label(text: str) -> bool:
    """Whether a line of a label says what the piece itself says: how many are cut, its allowance, its size."""
    return bool(re.match(r"cut \d|size |allowance included|[\d.]+ mm(:| allowance)", text))
