"""Pieces with darts for tests, and how two nets are held against each other. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, cubic, line
from flatcut.pattern.values import Dart, Edge, NamedPoint, Pattern, Piece, outline

APEX = np.array([0.0, 0.0])


def at(distance: float, degrees: float) -> Array:
    """A point so far from the apex; 0° points right, 90° down the page."""
    return distance * np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])


def fan(leg: float, angle: float, distances: Sequence[float]) -> Pattern:
    """A star-shaped piece about the apex (0, 0): a dart at the top, corners at the distances, clockwise from it.

    Edges are top (with the dart), s1, s2 ...; corner k lies between s(k-1) and s(k), the first between top and s1.
    """
    turn = (300.0) / (len(distances) - 1)
    corners = [at(d, -60 + k * turn) for k, d in enumerate(distances)]
    foot_1, foot_2 = at(leg, -90 - angle / 2), at(leg, -90 + angle / 2)
    edges = [Edge(uid="top", name="top", parts=(line(corners[-1], foot_1), line(foot_2, corners[0])))]
    for k in range(len(corners) - 1):
        edges.append(Edge(uid=f"s{k + 1}", name=f"s{k + 1}", parts=(line(corners[k], corners[k + 1]),)))
    dart = Dart(uid="dart", name="dart", legs=(line(foot_1, APEX), line(APEX, foot_2)), host="top", after=0)
    return Pattern(pieces=(Piece(uid="p", name="front", edges=tuple(edges), darts=(dart,)),))


def corner(k: int) -> str:
    """The corner of `fan` that stands at distances[k - 1]."""
    return f"front.{'top' if k == 1 else f's{k - 1}'}/s{k}"


def square() -> Pattern:
    """A square, closed form: 40 × 40 cm with a dart (18, 0)-(20, 20)-(22, 0)."""
    p = [np.array(xy) * 10.0 for xy in [(0, 0), (18, 0), (20, 20), (22, 0), (40, 0), (40, 40), (0, 40)]]
    edges = (
        Edge(uid="t", name="top", parts=(line(p[0], p[1]), line(p[3], p[4]))),
        Edge(uid="r", name="right", parts=(line(p[4], p[5]),)),
        Edge(uid="b", name="bottom", parts=(line(p[5], p[6]),)),
        Edge(uid="l", name="left", parts=(line(p[6], p[0]),)),
    )
    dart = Dart(uid="d", name="dart", legs=(line(p[1], p[2]), line(p[2], p[3])), host="t", after=0)
    return Pattern(pieces=(Piece(uid="p", name="front", edges=edges, darts=(dart,)),))


def front(*, centre: str = "centre") -> Pattern:
    """A bodice-like front: curved neck, armhole, side and waist, a waist dart to a named bust point."""
    neck = cubic((60, 130), (95, 128), (118, 100), (122, 60))
    shoulder = line((122, 60), (236, 88))
    upper = cubic((236, 88), (228, 130), (226, 170), (246, 200))
    lower = cubic((246, 200), (256, 215), (272, 224), (292, 230))
    armhole = chain([upper, lower])
    side = cubic((292, 230), (288, 300), (280, 370), (284, 440))
    tall = math.hypot(28, 187)
    foot_2 = np.array([186, 260]) + tall * np.array([28.0, 187]) / math.hypot(28, 187)
    foot_1 = np.array([186, 260]) + tall * np.array([-28.0, 187]) / math.hypot(28, 187)
    waist = (
        cubic((284, 440), (262, 444), (238, 446), foot_2),
        cubic(foot_1, (124, 447), (92, 446), (60, 446)),
    )
    centre_front = line((60, 446), (60, 130))
    apex = np.array([186.0, 260.0])
    curves = {
        "neck": (neck,),
        "shoulder": (shoulder,),
        "armhole": (armhole,),
        "side": (side,),
        "waist": waist,
        "centre": (centre_front,),
    }
    edges = tuple(
        Edge(uid=f"e-{name}", name=name, parts=parts, use=centre if name == "centre" else "seam")
        for name, parts in curves.items()
    )
    dart = Dart(uid="d", name="waist-dart", legs=(line(foot_2, apex), line(apex, foot_1)), host="e-waist", after=0)
    point = NamedPoint(uid="bp", name="bust-point", at=apex)
    return Pattern(pieces=(Piece(uid="p", name="front", edges=edges, darts=(dart,), points=(point,)),))


def the(pattern: Pattern) -> Piece:
    """The one piece."""
    return pattern.pieces[0]


def dart(pattern: Pattern, name: str) -> Dart:
    """The dart of that name."""
    return next(d for d in the(pattern).darts if d.name == name)


def controls(piece: Piece) -> Array:
    """Every control point of the outline, in order."""
    return np.concatenate([curve.controls.reshape(-1, 2) for curve in outline(piece)])


def rigid_rest(a: Array, b: Array) -> float:
    """Largest distance left between two lists of points after the best turn and shift (Kabsch 1976, from memory)."""
    p, q = a - a.mean(axis=0), b - b.mean(axis=0)
    u, _, vt = np.linalg.svd(p.T @ q)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return float(np.abs(p @ turn - q).max())


def shape(piece: Piece) -> list[tuple[str, str, list[int]]]:
    """Names and counts that a step there and back must leave as they were."""
    return [
        *(("edge", e.name, [len(part) for part in e.parts]) for e in piece.edges),
        *(("dart", d.name, [d.after]) for d in piece.darts),
        *(("line", item.name, [len(item.curve)]) for item in piece.lines),
        *(("point", p.name, []) for p in piece.points),
    ]
