"""Grade rules proposed from a table of measurements, for pieces whose edges are called as those of a block.

For a step of 4 cm of bust, from the centre line at the bust line: across to the side and up, in the half pattern. The
shares are common practice and no source; measurements that the table has go before them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.errors import FlatcutError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.grading.rules import Rule, Rules
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import spots
from flatcut.pattern.values import Dart, Pattern, Piece
from flatcut.sizes.ruled import Ruled

STEP = 40.0
"""mm of bust in a step."""
FRONT = ("bust-point", "bust-dart")
"""A piece that has one of these is a front."""


@dataclass(frozen=True, kw_only=True)
class _Growth:
    """How much a size is larger than the base size, in steps: bust, neck, shoulder, height over the waist; and mm of a
    quarter of waist and hip, half the bust span, and of skirt lengths."""

    bust: float
    neck: float
    shoulder: float
    height: float
    waist: float
    hip: float
    span: float
    to_hip: float
    to_knee: float

    @staticmethod
    def of(body: Mapping[str, float], base: Mapping[str, float]) -> _Growth:
        def more(name: str, share: float, otherwise: float) -> float:
            return (body[name] - base[name]) * share if name in body and name in base else otherwise

        steps = more("bust", 1 / STEP, more("hip", 1 / STEP, 0.0))
        return _Growth(
            bust=steps,
            neck=more("neck", 1 / 10.0, steps),
            shoulder=more("shoulder", 1 / 2.5, steps),
            height=more("nape-to-waist", 1 / 5.0, steps),
            waist=more("waist", 1 / 4, 10.0 * steps),
            hip=more("hip", 1 / 4, 10.0 * steps),
            span=more("bust-span", 1 / 2, 3.0 * steps),
            to_hip=more("waist-to-hip", 1.0, 3.0 * steps),
            to_knee=more("waist-to-knee", 1.0, 0.0),
        )


def proposed(pattern: Pattern, bodies: Mapping[str, Mapping[str, float]], base: str) -> Ruled:
    """Rules for the pieces of one size. bodies: measurements in mm by size, the base size among them.

    Errors: UsageError for a base size that is not there, or no piece whose points are known.
    """
    if base not in bodies:
        raise UsageError(f"the table has no size '{base}' to be the base size; it has {', '.join(bodies)}")
    growths = [_Growth.of(body, bodies[base]) for body in bodies.values()]
    found: list[Rule] = []
    said: list[str] = []
    for piece in pattern.pieces:
        side = _side(piece)
        rules = [] if side == 0 else list(_of_piece(pattern, piece, growths, side))
        if not rules:
            said.append(
                f"{piece.name} has no centre edge, or no corner that is known by its edges; its rules are to be written"
            )
        found += rules
    if not found:
        raise UsageError(" and ".join(said) or "the drawing has no piece; make its outlines pieces first")
    said.append("rules proposed by common practice: lay the sizes over each other and look at them before you cut")
    return Ruled(rules=Rules(sizes=tuple(bodies), base=base, rules=tuple(found)), said=tuple(said))


def _side(piece: Piece) -> int:
    """Which way the side lies with the grain upright: 1 right, -1 left, 0 where no edge lies on the centre."""
    turn = Affine() if piece.grain is None else piece.grain.upright
    middle = [turn.apply(edge.start)[0] for edge in piece.edges if edge.middle]
    every = [turn.apply(edge.start)[0] for edge in piece.edges]
    return 0 if not middle else 1 if float(np.mean(middle)) <= float(np.mean(every)) else -1


def _of_piece(pattern: Pattern, piece: Piece, growths: Sequence[_Growth], side: int) -> Iterator[Rule]:
    rows = {name: _row(piece, name, growths) for name in _names(piece)}
    for name, row in rows.items():
        place = parse_place(f"{piece.name}.{name}")
        try:
            spots(pattern, place)
        except FlatcutError:
            continue
        if row is not None:
            yield Rule(place=place, shifts=row * [side, 1.0])


def _names(piece: Piece) -> Iterator[str]:
    yield from ("neck/centre", "neck/shoulder", "shoulder/armhole", "armhole@1/2", "armhole/side", "side/waist")
    yield from ("waist/centre", "side/hip", "hip/centre", "side/hip-line", "side/hem", "hem/centre")
    for dart in piece.darts:
        yield from (dart.name,) if dart.double else (f"{dart.name}.mouth", f"{dart.name}.point")
    yield from (point.name for point in piece.points)
    for line in piece.lines:
        yield from (f"{line.name}@0", f"{line.name}@100%")


def _row(piece: Piece, name: str, growths: Sequence[_Growth]) -> Array | None:
    """(sizes, 2) mm to the side and up; None for a point of which nothing is known."""
    found = [_shift(piece, name, growth) for growth in growths]
    return None if found[0] is None else np.array(found)


def _shift(piece: Piece, name: str, g: _Growth) -> tuple[float, float] | None:
    names = piece.names()
    upper = {"neck", "armhole"} <= names
    front = bool(set(FRONT) & names)
    low = (-4.0 * g.height) if upper else -g.to_knee
    corners = {
        "neck/centre": (0.0, (2.0 if front else 4.0) * g.height),
        "neck/shoulder": (2.0 * g.neck, 4.0 * g.height),
        "shoulder/armhole": (2.0 * g.neck + 2.5 * g.shoulder, 3.5 * g.height),
        "armhole@1/2": ((6.0 if front else 5.0) * g.bust, 2.0 * g.height),
        "armhole/side": (10.0 * g.bust, 0.0),
        "side/waist": (g.waist, -1.0 * g.height if upper else 0.0),
        "waist/centre": (0.0, -1.0 * g.height if upper else 0.0),
        "side/hip": (g.hip, -4.0 * g.height),
        "hip/centre": (0.0, -4.0 * g.height),
        "side/hip-line": (g.hip, -4.0 * g.height if upper else -g.to_hip),
        "side/hem": (g.hip, low),
        "hem/centre": (0.0, low),
        "bust-point": (g.span, 0.0),
        "shoulder-blade-point": (3.0 * g.bust, 3.0 * g.height),
    }
    if name in corners:
        return corners[name]
    dart = next((dart for dart in piece.darts if name.split(".")[0] == dart.name), None)
    if dart is not None:
        return _dart(piece, dart, name.rpartition(".")[2], g, front=front, upper=upper)
    line, _, end = name.partition("@")
    if line == "bust-line" and end:
        curve = next(item.curve for item in piece.lines if item.name == line)
        ends = (curve.start, curve.end)
        middle = [point for edge in piece.edges if edge.middle for point in (edge.start, edge.end)]
        away = [min(float(np.abs(at - point)[0]) for point in middle) for at in ends]
        return (10.0 * g.bust if away[int(end != "0")] > away[int(end == "0")] else 0.0, 0.0)
    return None


def _dart(piece: Piece, dart: Dart, part: str, g: _Growth, *, front: bool, upper: bool) -> tuple[float, float] | None:
    host = "" if dart.double else piece.edge_of(dart.host).name
    if not upper:
        if host != "waist":
            return None
        centre = next(edge.start[0] for edge in piece.edges if edge.middle)
        waist = piece.edge("waist")
        share = abs(float(dart.feet.mean(axis=0)[0] - centre)) / max(abs(float(waist.end[0] - waist.start[0])), 1.0)
        return (share * g.waist, 0.0)
    if dart.double or host == "waist":
        across = g.span if front else 5.0 * g.bust
        return (across, {"mouth": -1.0, "point": 0.0}.get(part, -0.5) * g.height)
    if host in ("shoulder", "neck"):
        corner = dart.after == len(piece.edge_of(dart.host).parts) - 1
        if part == "point":
            return (g.span, 0.0) if front else (3.0 * g.bust, 3.0 * g.height)
        return (2.0 * g.neck, 4.0 * g.height) if corner else (3.0 * g.bust, 3.8 * g.height)
    return None
