"""Outlines as a digitising hand gives them: edges known as curves, points with noise, notches as V cuts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, flatten, point, tangent, transform
from flatcut.geometry.length import length, place_at, places_at
from flatcut.units import INCH

NOISE = 0.04
"""mm that a point lies off the outline at most, in each direction."""
DIGITS = 3
"""Decimals of an inch: another 0.013 mm."""
FARTHEST, TURN = 12.0, 3.5
"""mm between points at most, and degrees that the outline turns between them."""
V_WIDTH, V_DEPTH = 4.0, 4.5


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A notch: mm from the start of its edge, or from its end where negative; count: 1 or 2."""

    at: float
    count: int = 1


@dataclass(frozen=True, kw_only=True)
class Edge:
    """An edge as drawn: curves between which legs of darts stand, `legs` after the first, the second ..."""

    name: str
    curves: tuple[Curve, ...]
    legs: tuple[tuple[Curve, Curve], ...] = ()
    marks: tuple[Mark, ...] = ()

    @property
    def long(self) -> float:
        """mm without the darts."""
        return sum(length(curve) for curve in self.curves)

    def place(self, mark: Mark) -> tuple[int, float]:
        """The curve that a mark stands on, and mm along it."""
        at = mark.at if mark.at >= 0 else self.long + mark.at
        for k, curve in enumerate(self.curves):
            if at <= length(curve) or k == len(self.curves) - 1:
                return k, at
            at -= length(curve)
        raise AssertionError


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A piece as it lies on the table; edges clockwise or, when mirrored, anticlockwise."""

    name: str
    edges: tuple[Edge, ...]
    cut: str = "pair"

    @property
    def ring(self) -> Curve:
        """The smooth outline without notches."""
        return chain([curve for edge in self.edges for curve in _strokes(edge)], within=1e-6)

    def edge(self, name: str) -> Edge:
        """The edge of that name."""
        return next(edge for edge in self.edges if edge.name == name)

    def placed(self, matrix: Affine) -> Sheet:
        """The same piece elsewhere."""
        return replace(self, edges=tuple(_mapped(edge, matrix) for edge in self.edges))


def _strokes(edge: Edge) -> list[Curve]:
    found: list[Curve] = []
    for k, curve in enumerate(edge.curves):
        found += [curve, *(edge.legs[k] if k < len(edge.legs) else ())]
    return found


def _mapped(edge: Edge, matrix: Affine) -> Edge:
    legs = tuple((transform(a, matrix), transform(b, matrix)) for a, b in edge.legs)
    return replace(edge, curves=tuple(transform(curve, matrix) for curve in edge.curves), legs=legs)


def lengthened(sheet: Sheet, name: str, by: float) -> Sheet:
    """The sheet with the end of an edge moved on by so many mm; the next edge begins there."""
    k = next(i for i, edge in enumerate(sheet.edges) if edge.name == name)
    edge, after = sheet.edges[k], sheet.edges[(k + 1) % len(sheet.edges)]
    last = edge.curves[-1]
    move = by * tangent(last, len(last), before=True)
    edges = list(sheet.edges)
    edges[k] = replace(edge, curves=(*edge.curves[:-1], pulled(last, move, at_end=True)))
    edges[(k + 1) % len(edges)] = replace(
        after, curves=(pulled(after.curves[0], move, at_end=False), *after.curves[1:])
    )
    return replace(sheet, edges=tuple(edges))


def pulled(curve: Curve, move: Array, *, at_end: bool) -> Curve:
    """A curve with one end moved, the rest of its span following evenly."""
    controls = np.array(curve.controls)
    share = np.array([0, 1 / 3, 2 / 3, 1]) if at_end else np.array([1, 2 / 3, 1 / 3, 0])
    controls[-1 if at_end else 0] += share[:, None] * move
    return Curve(controls, curve.straight)


def _samples(curve: Curve, rng: np.random.Generator) -> Array:
    """Lengths along a curve at which a hand would set points, the ends left out: nearer where it bends."""
    total = length(curve)
    dense = places_at(curve, np.linspace(0, total, 400))
    ways = tangent(curve, dense)
    bend = np.abs(np.diff(np.unwrap(np.arctan2(ways[:, 1], ways[:, 0]))))
    effort = np.concatenate([[0.0], np.cumsum(bend / np.radians(TURN) + total / 399 / FARTHEST)])
    count = max(1, int(np.ceil(effort[-1])))
    steps = np.arange(1, count) + rng.uniform(-0.2, 0.2, count - 1)
    return np.asarray(np.interp(steps * effort[-1] / count, effort, np.linspace(0, total, 400)))


def points(sheet: Sheet, rng: np.random.Generator) -> Array:
    """The points (n, 2), mm, that are digitised of a sheet, its notches as little cuts."""
    found: list[Array] = []
    middle = flatten(sheet.ring, tolerance=1.0)[:-1].mean(axis=0)
    for edge in sheet.edges:
        spots = [edge.place(mark) for mark in edge.marks]
        for k, curve in enumerate(edge.curves):
            cuts = [(at, mark.count) for mark, (part, at) in zip(edge.marks, spots, strict=True) if part == k]
            found += _stroke(curve, cuts, middle, rng)
            if k < len(edge.legs):
                for leg in edge.legs[k]:
                    found += _stroke(leg, [], middle, rng)
    every = np.concatenate(found)
    return np.asarray(every + rng.uniform(-NOISE, NOISE, every.shape))


def _stroke(curve: Curve, cuts: list[tuple[float, int]], middle: Array, rng: np.random.Generator) -> list[Array]:
    """The points of one curve, its end left out."""
    along = np.concatenate([[0.0], _samples(curve, rng)])
    places = [(at + shift, at) for at, count in cuts for shift in ([0.0] if count == 1 else [-4.0, 4.0])]
    keep = np.ones(len(along), dtype=bool)
    stops = []
    for at, _ in places:
        keep &= np.abs(along - at) > V_WIDTH / 2 + 1.5
        a, b = point(curve, places_at(curve, [at - V_WIDTH / 2, at + V_WIDTH / 2]))
        across = unit(np.array([-(b - a)[1], (b - a)[0]]))
        inward = across if across @ (middle - a) > 0 else -across
        stops.append((at, np.array([a, (a + b) / 2 + V_DEPTH * inward, b])))
    rows = [(float(s), point(curve, place_at(curve, float(s)))[None]) for s in along[keep]]
    return [rows_ for _, rows_ in sorted([*rows, *stops], key=lambda item: item[0])]


def path_data(at: Array) -> str:
    """Path data in thousandths of an inch, each point from the one before it."""
    whole = np.round(at / INCH * 10**DIGITS).astype(int)
    steps = np.concatenate([whole[:1], np.diff(whole, axis=0)])
    return "m" + " ".join(f"{x / 10**DIGITS:g},{y / 10**DIGITS:g}" for x, y in steps.tolist())
