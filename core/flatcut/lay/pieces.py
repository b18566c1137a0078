"""From the pieces of a pattern to what is laid: as often as each is cut, mirrored, or opened at its fold."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.drawing.ink import Ink
from flatcut.drawing.pieces import piece_ink
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, transform
from flatcut.lay.values import Item
from flatcut.marking.derived import Derived
from flatcut.marking.lettering import LETTER
from flatcut.pattern.values import Edge, Piece, outline
from flatcut.units import plain

CHORD = 0.005
"""mm: how far a chord of a ring may stray from the cut line."""
ON_FOLD = 0.02
"""mm from its mirror image within which a point lies on the fold."""
PLAIN = 8.0
"""mm: letter height of a name where no label has found room."""
OFF_GRAIN = 0.5
"""Degrees that a fold may lean off the grain of a piece that is to lie on the fold of the cloth."""
ALONG = Affine.rotation(math.pi / 2)
"""From an upright grain to one along the cloth."""
FLIPPED = Affine(1.0, 0.0, 0.0, -1.0, 0.0, 0.0)
"""The mirror at the line along the cloth."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """What is laid, as it is drawn: ink of the piece where its own drawing has it, and the matrices that bring it to
    where the item was given, the second one for the half that lies over the fold.

    at: a place (2,) inside, angle in degrees, height of letters in mm: for its name, in the drawing of the piece.
    """

    name: str
    ink: Ink
    matrices: tuple[Affine, ...]
    at: Array
    angle: float
    height: float


@dataclass(frozen=True, kw_only=True)
class Laying:
    """How pieces may lie. turns: in degrees, beside as their grain has it; folded: on cloth that lies double."""

    turns: tuple[float, ...] = (0.0,)
    folded: bool = False


def laid(
    pieces: Sequence[Piece], found: Sequence[Derived], laying: Laying, *, of: str = ""
) -> tuple[list[Item], list[Source], list[str]]:
    """The items of a pattern, what each is drawn from (`Item.source` counts in it), and what a person should know.

    of: which garment or size they belong to, where several are laid. Errors: GeometryError for a piece that can have no
    cut line; UsageError for a fold that cannot lie on that of the cloth.
    """
    items: list[Item] = []
    sources: list[Source] = []
    told: list[str] = []
    for piece, derived in zip(pieces, found, strict=True):
        if derived.fault is not None:
            raise derived.fault
        name = f"{piece.name} {of}".strip()
        told += [f"{name} {text}" for text in _warned(piece, derived, laying)]
        to_grain = ALONG @ (Affine() if piece.grain is None else piece.grain.upright)
        whole = derived.cut.curve if derived.cut is not None else chain(outline(piece), within=1e-6)
        for called, mirrored, count in _copies(piece, name, laying):
            matrices, folded = _ways(piece, to_grain, mirrored=mirrored, folded=laying.folded)
            ring = _ring(whole, matrices)
            if ring is None:
                raise GeometryError(f"{name} is not one shape laid open from its fold; `flatcut check` says why")
            turns = (0.0,) if folded else laying.turns
            items += [Item(name=called, ring=ring, turns=turns, source=len(sources), folded=folded)] * count
            sources.append(_source(piece, derived, called, matrices))
    return items, sources, told


def _warned(piece: Piece, derived: Derived, laying: Laying) -> Iterator[str]:
    if piece.grain is None:
        yield "has no grain line; it is laid as it is drawn, its top toward the end of the cloth"
    if derived.cut is None:
        yield "has no allowance and so no cut line; its stitch line is laid"
    if laying.folded and piece.cut_as == "single":
        yield "is cut once, from one layer of the folded cloth"


def _copies(piece: Piece, name: str, laying: Laying) -> Iterator[tuple[str, bool, int]]:
    """What an item is called, whether it is mirrored, and how many of it are laid."""
    if piece.cut_as != "pair":
        yield name, False, piece.quantity
        return
    half = math.ceil(piece.quantity / 2)
    yield name, False, half
    if not laying.folded and piece.quantity > 1:
        yield f"{name} mirrored", True, piece.quantity // 2


def _ways(piece: Piece, to_grain: Affine, *, mirrored: bool, folded: bool) -> tuple[tuple[Affine, ...], bool]:
    """The matrices of the halves of an item, and whether it lies on the fold of the cloth."""
    if mirrored:
        return (FLIPPED @ to_grain,), False
    fold = _fold(piece)
    if fold is None:
        return (to_grain,), False
    start, end = to_grain.apply(np.array([fold.parts[0].start, fold.parts[-1].end]))
    if not folded:
        return (to_grain, _mirror(start, end) @ to_grain), False
    lean = math.degrees(math.atan2(*(end - start)[::-1])) % 180
    if min(lean, 180 - lean) > OFF_GRAIN:
        raise UsageError(
            f"{piece.name}.{fold.name} leans {plain(min(lean, 180 - lean))}° off the grain and cannot lie on the fold "
            "of the cloth; lay single cloth"
        )
    middle = to_grain.apply(np.concatenate([part.nodes for edge in piece.edges for part in edge.parts])).mean(axis=0)
    above = middle[1] < (start[1] + end[1]) / 2
    return ((FLIPPED @ to_grain) if above else to_grain,), True


def _fold(piece: Piece) -> Edge | None:
    if piece.cut_as != "fold":
        return None
    return next((edge for edge in piece.edges if edge.use == "fold"), None)


def _mirror(start: Array, end: Array) -> Affine:
    """The mirror at the line through two places."""
    angle = math.atan2(*(end - start)[::-1])
    there, back = Affine.translation(*start) @ Affine.rotation(angle), Affine.rotation(-angle)
    return there @ FLIPPED @ back @ Affine.translation(*-start)


def _ring(whole: Curve, matrices: Sequence[Affine]) -> Array | None:
    """The ring of an item; None where a half does not lie on one side of its fold."""
    ring = flatten(transform(whole, matrices[0]), tolerance=CHORD)
    ring = ring[:-1] if np.allclose(ring[0], ring[-1]) else ring
    if len(matrices) == 1:
        return ring
    over = matrices[1] @ matrices[0].inverse()
    other = over.apply(ring)
    off = np.hypot(*(other - ring).T) > ON_FOLD
    starts = np.flatnonzero(off & ~np.roll(off, 1))
    if len(starts) != 1 or off.all():
        return None
    ring, off = np.roll(ring, -starts[0], axis=0), np.roll(off, -starts[0])
    count = int(off.sum())
    # the place on the fold before the half, the half, the place on the fold after it, then back over the fold
    half = np.concatenate([ring[-1:], ring[: count + 1]])
    return np.concatenate([half, over.apply(half)[-2:0:-1]])


def _source(piece: Piece, derived: Derived, name: str, matrices: tuple[Affine, ...]) -> Source:
    label = derived.label
    nodes = np.concatenate([part.nodes for edge in piece.edges for part in edge.parts])
    return Source(
        name=name,
        ink=piece_ink(piece, derived, lines="cut"),
        matrices=matrices,
        at=nodes.mean(axis=0) if label is None or label.leader is not None else label.centre,
        angle=0.0 if label is None else label.angle,
        height=PLAIN if label is None else min(label.size[0] / (LETTER * len(name)), label.size[1]),
    )
