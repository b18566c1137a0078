"""To which side a dart is folded after it was moved, and how that is told."""

from __future__ import annotations

import math
from dataclasses import replace

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import flatten
from flatcut.marking.caps import AFTER, BEFORE, OPEN, capped, lies_level, middle_edge, pressed_side
from flatcut.pattern.values import Dart, Figure, Piece
from flatcut.units import plain

FAR = 20.0
"""mm that a cap stands out and is spoken of (common practice, no source)."""


def kept_pressing(piece: Piece, dart: Dart) -> Dart:
    """A dart at a new place, pressed as stated where that means something there, else as is usual.

    Open stays open; an edge stays where it adjoins the edge that the dart opens on now.
    """
    if dart.pressed in ("", OPEN):
        return dart
    host = piece.edge_of(dart.host)
    before = next(edge for edge in piece.edges if piece.after(edge).uid == host.uid)
    in_corner = dart.after == len(host.parts) - 1
    near = {before.uid, piece.after(host).uid} | ({host.uid} if in_corner else set())
    return dart if dart.pressed in near else replace(dart, pressed="")


def pressing_figure(piece: Piece, dart: Dart) -> list[Figure]:
    """How a cut-in dart is folded, in words, and how far its cap stands out beyond its mouth, mm."""
    if dart.form != "cut" or dart.double:
        return []
    beyond = _beyond(piece, dart, pressed_side(piece, dart))
    if math.isinf(beyond):
        return []
    return [Figure(f"{piece.name}.{dart.name} {_words(piece, dart)}, cap beyond its mouth", beyond)]


def pressing_advice(piece: Piece, dart: Dart) -> tuple[str, ...]:
    """A sentence where the cap of a dart that is folded as is usual stands out far, and not so folded the other way."""
    if dart.form != "cut" or dart.double or dart.pressed:
        return ()
    usual = pressed_side(piece, dart)
    other = BEFORE if usual == AFTER else AFTER
    host = piece.edge_of(dart.host)
    beside = next(e for e in piece.edges if piece.after(e).uid == host.uid) if other == BEFORE else piece.after(host)
    stands, would = _beyond(piece, dart, usual), _beyond(piece, dart, other)
    stated = replace(dart, pressed=beside.uid)
    if stands <= FAR or would > stands / 2 or pressed_side(piece, stated) != other:
        return ()
    name = f"{piece.name}.{dart.name}"
    return (
        f"{name} {_words(piece, dart)} stands out by {plain(stands)} mm, folded the other way by {plain(would)} mm; "
        f"for that: dart {name} --pressed={piece.name}.{beside.name}",
    )


def _beyond(piece: Piece, dart: Dart, side: str) -> float:
    """mm that the cap stands out beyond the dart's mouth; infinite where it has no end."""
    foot = dart.feet[0]
    out = unit(dart.feet.mean(axis=0) - dart.points[0])
    try:
        halves = capped(piece, dart, toward=side)
    except GeometryError:
        return math.inf
    return max(0.0, *(float(((flatten(half, tolerance=0.01) - foot) @ out).max()) for half in halves))


def pressing_told(before: Piece, was: Dart, after: Piece, now: Dart) -> tuple[str, ...]:
    """A sentence where the side that was stated for a dart means nothing at its new place."""
    if not was.pressed or was.pressed == now.pressed:
        return ()
    name = f"{after.name}.{now.name}"
    toward = next((edge.name for edge in before.edges if edge.uid == was.pressed), was.pressed)
    return (
        f"{name} was to be pressed toward {toward}, which is not beside it any more, so it is {_words(after, now)}; "
        f"else state it with: dart {name} --pressed=EDGE",
    )


def _words(piece: Piece, dart: Dart) -> str:
    if dart.pressed == OPEN:
        return "pressed open, as stated"
    edge = next((edge for edge in piece.edges if edge.uid == dart.pressed), None)
    if edge is not None:
        return f"folded toward {edge.name}, as stated"
    if lies_level(piece, dart):
        return "folded down, as is usual"
    middle = middle_edge(piece, dart)
    return f"folded toward {middle.name}, as is usual" if middle else "folded toward the middle, as is usual"
