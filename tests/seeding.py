"""Sound sets of pieces for the checks, and faults put into them by hand, node by node."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from flatcut.findings import Finding
from flatcut.formats.svg.read import read
from flatcut.geometry.curves import Curve
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.recipe import read_recipe, replay

ROOT = Path(__file__).parents[1]

BODICE = """
block bodice --size=bust-90
block sleeve --size=bust-90
edge front.neck back.neck front.waist back.waist --use=finished
style --name=bodice --size=bust-90 --materials=shell
allowance all
notch front.side@8cm --mates
label all --material=shell
"""

SKIRT = """
block skirt --size=bust-90
edge skirt-front.waist skirt-back.waist --use=finished
allowance all
notch skirt-front.side@-20cm --mates
label all --material=shell
"""


def made(text: str, start: Pattern | None = None) -> Pattern:
    """A pattern from lines of a recipe."""
    return replay(read_recipe(text), start or Pattern())


@lru_cache
def bodice() -> Pattern:
    """A drafted bodice with its sleeve, made up with allowances, notches and labels."""
    return made(BODICE)


@lru_cache
def skirt() -> Pattern:
    """A drafted skirt, made up."""
    return made(SKIRT)


@lru_cache
def top() -> Pattern:
    """The demo's top: drawn, not drafted."""
    drawn = read((ROOT / "samples/demo/top.svg").read_bytes())[1]
    return made((ROOT / "samples/demo/top.recipe").read_text(), drawn)


SETS: dict[str, Callable[[], Pattern]] = {"bodice": bodice, "skirt": skirt, "top": top}

Corner = tuple[str, str, str]
"""Piece, edge that ends there, edge that starts there."""


def with_piece(pattern: Pattern, piece: Piece) -> Pattern:
    return replace(pattern, pieces=tuple(piece if p.uid == piece.uid else p for p in pattern.pieces))


def with_edge(pattern: Pattern, piece: str, edge: Edge) -> Pattern:
    held = pattern.piece(piece)
    return with_piece(pattern, replace(held, edges=tuple(edge if e.uid == edge.uid else e for e in held.edges)))


def controls(pattern: Pattern, piece: str, edge: str, part: int) -> np.ndarray:
    return pattern.piece(piece).edge(edge).parts[part].controls.copy()


def with_controls(pattern: Pattern, piece: str, edge: str, part: int, points: np.ndarray) -> Pattern:
    """The pattern with other control points (n, 4, 2) of one part; spans that are bent are no longer straight."""
    held = pattern.piece(piece).edge(edge)
    old = held.parts[part]
    thirds = points[:, :1] + (points[:, 3:] - points[:, :1]) * np.array([0.0, 1 / 3, 2 / 3, 1.0])[None, :, None]
    bent = np.abs(points - thirds).max(axis=(1, 2)) > 1e-9
    straight = old.straight & ~bent if len(old.straight) == len(points) else ~bent
    parts = list(held.parts)
    parts[part if part >= 0 else len(parts) + part] = Curve(points, straight)
    return with_edge(pattern, piece, replace(held, parts=tuple(parts)))


def corner_moved(pattern: Pattern, corner: Corner, along: float, across: float = 0.0) -> Pattern:
    """A corner moved by mm along the edge that ends there and across it; handles beside it go along."""
    piece, first, second = corner
    before, after = controls(pattern, piece, first, -1), controls(pattern, piece, second, 0)
    way = before[-1, 3] - before[-1, 2]
    way = way / np.linalg.norm(way)
    by = along * way + across * np.array([-way[1], way[0]])
    straight_before = pattern.piece(piece).edge(first).parts[-1].straight[-1]
    straight_after = pattern.piece(piece).edge(second).parts[0].straight[0]
    before[-1, 3] += by
    after[0, 0] += by
    before[-1] = _thirds(before[-1]) if straight_before else _carried(before[-1], 2, by)
    after[0] = _thirds(after[0]) if straight_after else _carried(after[0], 1, by)
    return with_controls(with_controls(pattern, piece, first, -1, before), piece, second, 0, after)


def _thirds(span: np.ndarray) -> np.ndarray:
    return span[0] + (span[3] - span[0]) * np.array([0.0, 1 / 3, 2 / 3, 1.0])[:, None]


def _carried(span: np.ndarray, handle: int, by: np.ndarray) -> np.ndarray:
    span[handle] += by
    return span


def handle_turned(pattern: Pattern, piece: str, edge: str, part: int, degrees: float) -> Pattern:
    """The tangent at the start (part 0) or the end (part -1) of an edge turned about its node by an angle."""
    points = controls(pattern, piece, edge, part)
    span, node, handle = (0, 0, 1) if part >= 0 else (-1, 3, 2)
    return with_controls(pattern, piece, edge, part, _turned(points, span, node, handle, degrees))


def _turned(points: np.ndarray, span: int, node: int, handle: int, degrees: float) -> np.ndarray:
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points[span, handle] = points[span, node] + turn @ (points[span, handle] - points[span, node])
    return points


@dataclass(frozen=True)
class Seed:
    """A fault put into a set: the check that must name it first, and a part of the reference it must be named by."""

    name: str
    set: str
    check: str
    where: str
    put: Callable[[Pattern], Pattern]


def near(pattern: Pattern, where: tuple[str, ...]) -> set[str]:
    """The edges that a seeded fault may show on: those named, those beside them, and what all of these are sewn to."""
    named = {name for text in where for name in edges_of(pattern, text)}
    beside = {name for text in named for name in _beside(pattern, text)}
    mates = {mate for text in named | beside for mate in _mates(pattern, text)}
    return named | beside | mates


def edges_of(pattern: Pattern, text: str) -> Iterator[str]:
    """Names `piece.edge` in a reference; a piece stands for all its edges, a dart for the edge it opens on."""
    for part in text.split("+"):
        bare = part.strip().lstrip("-~")
        piece_name, _, rest = bare.partition(".")
        piece = next((p for p in pattern.pieces if p.name == piece_name), None)
        if piece is None:
            continue
        known = {e.name for e in piece.edges}
        words = rest.partition("@")[0].split("/")
        darts = {d.name: piece.edge_of(d.host).name for d in piece.darts if d.host}
        found = {darts.get(word, word) for word in words} & known
        yield from (f"{piece_name}.{edge}" for edge in (found or known))


def _beside(pattern: Pattern, text: str) -> set[str]:
    piece_name, edge = text.split(".")
    order = [e.name for e in pattern.piece(piece_name).edges]
    k = order.index(edge)
    return {f"{piece_name}.{order[k - 1]}", f"{piece_name}.{order[(k + 1) % len(order)]}"}


def _mates(pattern: Pattern, text: str) -> set[str]:
    names = {edge.uid: f"{piece.name}.{edge.name}" for piece in pattern.pieces for edge in piece.edges}
    found = set()
    for seam in pattern.seams:
        for mine, other in ((seam.a, seam.b), (seam.b, seam.a)):
            if text in {names[part.of] for part in mine if part.of in names}:
                found |= {names[part.of] for part in other if part.of in names}
    return found


def touches(pattern: Pattern, finding: Finding, allowed: set[str]) -> bool:
    return bool({name for text in finding.where for name in edges_of(pattern, text)} & allowed)
