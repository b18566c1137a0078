"""To which side a dart is folded after it was moved, and how that is told."""

from __future__ import annotations

import math
from dataclasses import replace

from flatcut.marking.caps import BEFORE, OPEN
from flatcut.marking.pressed import middle_edge, other_side, pressed_side, stands_out, usual_fold
from flatcut.pattern.values import Dart, Edge, Figure, Piece
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
    beyond = stands_out(piece, dart, pressed_side(piece, dart))
    if math.isinf(beyond):
        return []
    return [Figure(f"{piece.name}.{dart.name} {_words(piece, dart)}, cap beyond its mouth", beyond)]


def pressing_advice(piece: Piece, dart: Dart) -> tuple[str, ...]:
    """A sentence where the cap of a dart that is folded as is usual stands out far, and not so folded the other way."""
    if dart.form != "cut" or dart.double or dart.pressed:
        return ()
    usual = pressed_side(piece, dart)
    other = other_side(usual)
    beside = beside_edge(piece, dart, other)
    stands, would = stands_out(piece, dart, usual), stands_out(piece, dart, other)
    stated = replace(dart, pressed=beside.uid)
    if stands <= FAR or would > stands / 2 or pressed_side(piece, stated) != other:
        return ()
    name = f"{piece.name}.{dart.name}"
    return (
        f"{name} {_words(piece, dart)} stands out by {plain(stands)} mm, folded the other way by {plain(would)} mm; "
        f"for that: dart {name} --pressed={piece.name}.{beside.name}",
    )


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
    fold = usual_fold(piece, dart)
    middle = middle_edge(piece, dart)
    usual = "down" if fold.toward == "down" else f"toward {middle.name}" if middle else "toward the middle"
    if not fold.turned:
        return f"folded {usual}, as is usual"
    edge = beside_edge(piece, dart, fold.side)
    return f"folded toward {edge.name}, since {usual} its end would stand out by more than its mouth is wide"


def beside_edge(piece: Piece, dart: Dart, side: str) -> Edge:
    """The edge on a side of a cut-in dart, its own or, where that has no name of its own there, the next one."""
    host = piece.edge_of(dart.host)
    return next(e for e in piece.edges if piece.after(e).uid == host.uid) if side == BEFORE else piece.after(host)
