"""A set of sizes as a rule table: how far each cardinal point of a size lies from that of the base size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import FlatcutError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import flatten, polyline
from flatcut.geometry.nearest import nearest
from flatcut.grading.grading import graded
from flatcut.grading.rules import Rule, Rules
from flatcut.pattern.places import Place, parse_place
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.pattern.walking import drawn_length, nearest_drawn
from flatcut.sizes.over import Over, laid_over

CLEAR = 8.0
"""mm: a place between corners that comes nearer to a dart than this has no rule of its own."""
EVEN = 41
"""Places of an edge at which two sizes are held against each other."""


@dataclass(frozen=True, kw_only=True)
class Off:
    """How far the outline of a size as drawn lies from that which the rules give, mm at most, and where."""

    size: str
    edge: str
    far: float


@dataclass(frozen=True, kw_only=True)
class Ruled:
    """A rule table of sizes as they are drawn; said: what it does not hold, in sentences."""

    rules: Rules
    said: tuple[str, ...]


def ruled(sizes: Sequence[tuple[str, Pattern]], base: str, on: Sequence[Place] = (), *, between: int = 2) -> Ruled:
    """The rule table. on: places that stay where they are, one of a piece; between: rules of each curved edge.

    Errors: UsageError for sizes of one name, or a base size that is not there.
    """
    names = [size for size, _ in sizes]
    if len(names) < 2 or len(set(names)) < len(names) or "" in names:
        raise UsageError("rules tell how sizes differ, each drawing by the size of its own; tell it with 'style'")
    if base not in names:
        raise UsageError(f"there is no drawing of size '{base}' to be the base size; there are {', '.join(names)}")
    start = dict(sizes)[base]
    found: list[Rule] = []
    said: list[str] = []
    for piece in start.pieces:
        lacking = [size for size, pattern in sizes if piece.name not in {p.name for p in pattern.pieces}]
        if lacking:
            said.append(f"{piece.name} is not there in size {', '.join(lacking)}, so it has no rules")
            continue
        over = laid_over(sizes, piece.name, next((place for place in on if place.piece == piece.name), None))
        names_of = [{edge.name for edge in one.piece.edges} for one in over]
        if any(other != names_of[0] for other in names_of):
            said.append(f"{piece.name} has other edges in one size than in another, so it has no rules")
            continue
        found += _of_piece(piece, over, names.index(base), between, said)
    if not found:
        raise UsageError(" and ".join(said) or "the drawings have no piece; make their outlines pieces first")
    extra = [p.name for size, pattern in sizes for p in pattern.pieces if p.name not in {q.name for q in start.pieces}]
    said += [f"{name} is not there in size {base}, so it has no rules" for name in dict.fromkeys(extra)]
    return Ruled(rules=Rules(sizes=tuple(names), base=base, rules=tuple(found)), said=tuple(said))


def _of_piece(piece: Piece, over: Sequence[Over], base: int, between: int, said: list[str]) -> Iterator[Rule]:
    missing = []
    for name in _cardinal(piece, over, between):
        place = parse_place(f"{piece.name}.{name}")
        try:
            at = np.array([one.matrix.apply(spot(one.pattern, place).point) for one in over])
        except FlatcutError:
            missing.append(name)
            continue
        yield Rule(place=place, shifts=(at - at[base]) * [1.0, -1.0])
    if missing:
        said.append(f"{piece.name} has not in every size: {', '.join(missing)}; they have no rules")
    amounts = [[round(t.amount, 2) for e in one.piece.edges for t in e.takeups if t.kind != "dart"] for one in over]
    if any(other != amounts[0] for other in amounts):
        said.append(
            f"fullness of {piece.name} takes up other amounts from size to size; rules move points and keep it as it is"
        )


def _cardinal(piece: Piece, over: Sequence[Over], between: int) -> Iterator[str]:
    """The cardinal points of a piece by name: corners, darts, places on curved edges, named points, ends of lines."""
    for edge in piece.edges:
        for k in range(len(edge.parts)):
            dart = piece.cut_in(edge, k)
            if dart is not None:
                yield from (f"{dart.name}.{part}" for part in ("foot-1", "point", "foot-2"))
            elif k == len(edge.parts) - 1:
                yield f"{edge.name}/{piece.after(edge).name}"
        if not all(part.straight.all() for part in edge.parts):
            for k in range(1, between + 1):
                if all(_clear(one.piece, edge.name, k / (between + 1)) for one in over):
                    yield f"{edge.name}@{k}/{between + 1}"
    for dart in piece.darts:
        if dart.double:
            yield from (f"{dart.name}.upper", f"{dart.name}.lower")
        elif dart.form == "lines":
            yield f"{dart.name}.point"
    yield from (point.name for point in piece.points)
    for line in piece.lines:
        yield from (f"{line.name}@0", f"{line.name}@100%")


def _clear(piece: Piece, edge: str, share: float) -> bool:
    """Whether a place stands clear of darts and ends of an edge."""
    own = piece.edge(edge)
    whole = drawn_length(own)
    marks = [0.0, whole, *(nearest_drawn(own, part.end) for part in own.parts[:-1])]
    return min(abs(share * whole - mark) for mark in marks) > CLEAR


def held_against(sizes: Sequence[tuple[str, Pattern]], found: Ruled, on: Sequence[Place] = ()) -> list[Off]:
    """Each size as drawn held against the base size graded by the rules: by size and piece where they part most."""
    start = dict(sizes)[found.rules.base]
    rows = []
    for size, pattern in sizes:
        if size == found.rules.base:
            continue
        made = graded(start, found.rules.between(found.rules.base, size)).pattern
        for name in dict.fromkeys(rule.place.piece for rule in found.rules.rules):
            place = next((place for place in on if place.piece == name), None)
            one, two = laid_over([(size, pattern), ("graded", made)], name, place)
            far = [(_apart(one, edge, two.piece.edge(edge.name), two.matrix), edge.name) for edge in one.piece.edges]
            most, edge = max(far)
            rows.append(Off(size=size, edge=f"{name}.{edge}", far=most))
    return rows


def _apart(one: Over, edge: Edge, other: Edge, matrix: Affine) -> float:
    """mm from places of an edge to the same edge of another piece, both where they are laid."""
    lines = [polyline(matrix.apply(flatten(part, tolerance=0.005))) for part in other.parts]
    points = one.matrix.apply(np.concatenate([_even(flatten(part, tolerance=0.005)) for part in edge.parts]))
    return float(np.min([nearest(line, points)[1] for line in lines], axis=0).max())


def _even(points: Array) -> Array:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, along[-1], EVEN)
    return np.stack([np.interp(at, along, points[:, k]) for k in (0, 1)], axis=1)
