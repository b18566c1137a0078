"""Faults of many kinds put into garments at random places by random amounts, each with what has to be said of it first.

A kind is a function from a random source and a sound pattern to a faulty one; None where the garment has no place for
it. Amounts start just over what passes (the limits of `flatcut help check`: common practice, no source).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.marking.ticks import at_dart
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Allowance, Dart, Edge, Notch, Pattern, Piece, Position, Seam
from flatcut.pattern.walking import sewn_at, sewn_length
from tests.seeding import ROOT, SETS, controls, corner_moved, handle_turned, made, with_controls, with_edge, with_piece

MADE_UP = "allowance all\nlabel all --material=shell\nstyle --name=trial --size=bust-90 --materials=shell"
PANELS = (ROOT / "samples/panels/shoulder-panels.recipe").read_text()
RECIPES = {
    "dress": "block dress --size=bust-90\nblock sleeve --size=bust-90\n"
    f"edge front.neck back.neck --use=finished\n{MADE_UP}",
    "torso": "block torso --size=bust-90 --method=bust-only\nblock sleeve --size=bust-90\n"
    f"edge front.neck back.neck --use=finished\n{MADE_UP}",
    "trousers": "block trousers --size=bust-90\nedge trouser-front.waist trouser-back.waist --use=finished\n" + MADE_UP,
    "panels": PANELS.replace("block bodice", "block bodice --size=bust-90"),
    "trued": "block bodice --size=bust-94\nblock sleeve --size=bust-94\n"
    "edge front.neck back.neck front.waist back.waist --use=finished\n"
    "pivot front.bust-dart --to=front.side@6cm --true=3\ntrue front.neck+back.neck\n" + MADE_UP,
    "eased": "block skirt --size=bust-86\nedge skirt-front.waist skirt-back.waist --use=finished\n"
    "release skirt-front.waist-dart --to=ease --true=3\n" + MADE_UP,
}  # fmt: skip


@lru_cache
def garment(name: str) -> Pattern:
    """A sound garment, made up with allowances and labels."""
    return SETS[name]() if name in SETS else made(RECIPES[name])


GARMENTS = (*SETS, *RECIPES)


@dataclass(frozen=True)
class Fault:
    """A faulty pattern: what was done, the checks that may name it first, and where: a part of the reference."""

    said: str
    pattern: Pattern
    checks: tuple[str, ...]
    where: tuple[str, ...]


Kind = Callable[[random.Random, Pattern], "Fault | None"]


def amount(rng: random.Random, least: float, most: float) -> float:
    """A random amount, to either side."""
    return round(rng.choice((-1, 1)) * rng.uniform(least, most), 2)


def whole_seams(pattern: Pattern) -> list[Seam]:
    """Seams of one whole edge with another one, none of them with its own mirror image."""
    return [
        seam
        for seam in pattern.seams
        if len(seam.a) == len(seam.b) == 1
        and not any(p.mirrored or p.start is not None or p.end is not None for p in (*seam.a, *seam.b))
        and any(e.uid == seam.a[0].of for p in pattern.pieces for e in p.edges)
        and any(e.uid == seam.b[0].of for p in pattern.pieces for e in p.edges)
    ]


def sewn_edges(pattern: Pattern) -> list[tuple[Piece, Edge, Seam]]:
    return [
        (pattern.piece_of(part.piece), pattern.piece_of(part.piece).edge_of(part.of), seam)
        for seam in whole_seams(pattern)
        for part in (*seam.a, *seam.b)
    ]


def names_of(pattern: Pattern, seam: Seam) -> tuple[str, ...]:
    pieces = [(pattern.piece_of(part.piece), part.of) for part in (*seam.a, *seam.b)]
    return tuple(f"{piece.name}.{piece.edge_of(uid).name}" for piece, uid in pieces)


def changed(pattern: Pattern, piece: Piece, **fields: object) -> Pattern:
    return with_piece(pattern, replace(piece, **fields))  # type: ignore[arg-type]


# Seams ----------------------------------------------------------------------------------------------------------------


def length_of_a_seam(rng: random.Random, pattern: Pattern) -> Fault | None:
    """The corner at the end of a sewn edge slid along it; the edge it runs into is sewn to nothing."""
    found = [
        (piece, edge, piece.after(edge))
        for piece, edge, _ in sewn_edges(pattern)
        if piece.after(edge).use in ("finished", "hem") and piece.cut_in(edge, len(edge.parts) - 1) is None
    ]
    if not found:
        return None
    piece, edge, after = rng.choice(found)
    by = amount(rng, 1.7, 6)
    name = f"{piece.name}.{edge.name}"
    return Fault(
        f"{name} {by:+} mm", corner_moved(pattern, (piece.name, edge.name, after.name), by), ("seam-walk",), (name,)
    )


def ease_of_a_seam(rng: random.Random, pattern: Pattern) -> Fault | None:
    seams = whole_seams(pattern)
    if not seams:
        return None
    seam, by = rng.choice(seams), amount(rng, 1.7, 12)
    seams_now = tuple(replace(s, ease=s.ease + by) if s is seam else s for s in pattern.seams)
    names = tuple(f"{pattern.piece_of(p.piece).name}." for p in (*seam.a, *seam.b))
    return Fault(f"ease of {names[0]} {by:+} mm", replace(pattern, seams=seams_now), ("seam-walk",), names)


def open_seam(rng: random.Random, pattern: Pattern) -> Fault | None:
    if len(pattern.seams) < 2:
        return None
    piece, edge, seam = rng.choice(sewn_edges(pattern))
    name = f"{piece.name}.{edge.name}"
    return Fault(
        f"{name} sewn to nothing",
        replace(pattern, seams=tuple(s for s in pattern.seams if s is not seam)),
        ("open-edges",),
        tuple(
            f"{pattern.piece_of(p.piece).name}.{pattern.piece_of(p.piece).edge_of(p.of).name}"
            for p in (*seam.a, *seam.b)
        ),
    )


def seam_twice(rng: random.Random, pattern: Pattern) -> Fault | None:
    seam = rng.choice(whole_seams(pattern))
    names = names_of(pattern, seam)
    return Fault(
        f"{names[0]} sewn twice",
        replace(pattern, seams=(*pattern.seams, replace(seam, uid="again"))),
        ("open-edges",),
        names,
    )


def dropped_piece(rng: random.Random, pattern: Pattern) -> Fault | None:
    """A piece that others are sewn to is taken out; at least one seam is left."""
    for piece in rng.sample(pattern.pieces, len(pattern.pieces)):
        left = [s for s in pattern.seams if piece.uid not in {p.piece for p in (*s.a, *s.b)}]
        mates = {p.piece for s in pattern.seams if s not in left for p in (*s.a, *s.b)} - {piece.uid}
        if left and mates:
            where = tuple(f"{pattern.piece_of(uid).name}." for uid in mates)
            return Fault(f"{piece.name} dropped", made(f"drop {piece.name}", pattern), ("open-edges",), where)
    return None


# Notches --------------------------------------------------------------------------------------------------------------


def mated_notches(pattern: Pattern) -> Iterator[tuple[Piece, Edge, Notch, Seam]]:
    """Notches on seams without ease, alone within 40 mm and away from ends and darts."""
    for piece, edge, seam in sewn_edges(pattern):
        total = sewn_length(edge)
        places = [sewn_at(edge, n.at) for n in piece.notches if n.edge == edge.uid]
        for notch in piece.notches:
            if notch.edge != edge.uid or abs(seam.ease) > 0.5 or any(abs(t.amount) > 0 for t in edge.takeups):
                continue
            at = sewn_at(edge, notch.at)
            alone = sum(abs(at - other) < 40 for other in places) == 1
            if alone and 12 < at < total - 12 and not at_dart(piece, edge, at):
                yield piece, edge, notch, seam


def notch_moved(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = list(mated_notches(pattern))
    if not found:
        return None
    piece, edge, notch, _ = rng.choice(found)
    by = amount(rng, 1.2, 9)
    by = by / sewn_length(edge) if notch.at.mode == "fraction" else by
    other = replace(notch, at=Position(mode=notch.at.mode, value=notch.at.value + by))
    name = f"{piece.name}.{edge.name}"
    notches = tuple(other if n.uid == notch.uid else n for n in piece.notches)
    return Fault(f"a notch of {name} {by:+} mm", changed(pattern, piece, notches=notches), ("notches",), (name,))


def notch_taken(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = list(mated_notches(pattern))
    if not found:
        return None
    piece, edge, notch, seam = rng.choice(found)
    notches = tuple(n for n in piece.notches if n.uid != notch.uid)
    names = tuple(
        f"{pattern.piece_of(p.piece).name}.{pattern.piece_of(p.piece).edge_of(p.of).name}" for p in (*seam.a, *seam.b)
    )
    return Fault(f"no notch on {piece.name}.{edge.name}", changed(pattern, piece, notches=notches), ("notches",), names)


def notch_doubled(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = list(mated_notches(pattern))
    if not found:
        return None
    piece, edge, notch, _ = rng.choice(found)
    notches = tuple(replace(n, count=notch.count % 3 + 1) if n.uid == notch.uid else n for n in piece.notches)
    name = f"{piece.name}.{edge.name}"
    return Fault(f"{name} has another count", changed(pattern, piece, notches=notches), ("notches",), (name,))


def notch_too_deep(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = list(mated_notches(pattern))
    if not found:
        return None
    piece, edge, notch, _ = rng.choice(found)
    notches = tuple(replace(n, depth=rng.uniform(5.5, 9)) if n.uid == notch.uid else n for n in piece.notches)
    name = f"{piece.name}.{edge.name}"
    return Fault(f"{name} has a deep notch", changed(pattern, piece, notches=notches), ("notches",), (name,))


# Lines that run on, squares, folds ------------------------------------------------------------------------------------


def broken_line(rng: random.Random, pattern: Pattern) -> Fault | None:
    """A finished edge or a hem turned where a seam runs into it."""
    sewn = {edge.uid for _, edge, _ in sewn_edges(pattern)}
    found = [
        (piece, edge)
        for piece in pattern.pieces
        for edge in piece.edges
        if edge.uid in sewn and piece.after(edge).use in ("finished", "hem")
        and piece.cut_in(edge, len(edge.parts) - 1) is None
    ]  # fmt: skip
    if not found:
        return None
    piece, edge = rng.choice(found)
    after, by = piece.after(edge), amount(rng, 3.5, 12)
    return Fault(
        f"{piece.name}.{after.name} turned by {by}°",
        handle_turned(pattern, piece.name, after.name, 0, by),
        ("run-on",),
        (f"{piece.name}.{edge.name}/{after.name}",),
    )


def centred(pattern: Pattern, *uses: str) -> list[tuple[Piece, Edge]]:
    return [(piece, edge) for piece in pattern.pieces for edge in piece.edges if edge.use in uses]


def off_square(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [
        (piece, edge, piece.after(edge))
        for piece, edge in centred(pattern, "fold", "centre")
        if piece.after(edge).use in ("finished", "hem") and piece.cut_in(edge, len(edge.parts) - 1) is None
    ]
    if not found:
        return None
    piece, edge, after = rng.choice(found)
    by = amount(rng, 1.4, 9)
    return Fault(
        f"{piece.name}.{after.name} {by}° off square",
        handle_turned(pattern, piece.name, after.name, 0, by),
        ("square",),
        (f"{piece.name}.{edge.name}/{after.name}",),
    )


def bowed_fold(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [pair for pair in centred(pattern, "fold") if sum(len(p) for p in pair[1].parts) == 1]
    if not found:
        return None
    piece, edge = rng.choice(found)
    by = amount(rng, 0.8, 3)
    points = controls(pattern, piece.name, edge.name, 0)
    way = points[-1, 3] - points[0, 0]
    points[0, 1:3] += by * np.array([-way[1], way[0]]) / np.linalg.norm(way) * 4 / 3  # handles off by 4/3 h bow by h
    name = f"{piece.name}.{edge.name}"
    return Fault(
        f"{name} bows by {by} mm", with_controls(pattern, piece.name, edge.name, 0, points), ("square",), (name,)
    )


def tilted_fold(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [pair for pair in centred(pattern, "fold", "centre") if sum(len(p) for p in pair[1].parts) == 1]
    if not found:
        return None
    piece, edge = rng.choice(found)
    by = amount(rng, 0.4, 4)
    name = f"{piece.name}.{edge.name}"
    return Fault(f"{name} tilted by {by}°", tilted(pattern, piece.name, edge.name, by), ("square",), (name,))


def tilted(pattern: Pattern, piece: str, fold: str, degrees: float) -> Pattern:
    """A fold turned about its upper end; what it meets below goes along at that end without turning there."""
    held = pattern.piece(piece)
    order = [edge.name for edge in held.edges]
    points = controls(pattern, piece, fold, 0)
    upper_first = points[0, 0, 1] < points[-1, 3, 1]
    pivot, node = (points[0, 0], points[-1, 3]) if upper_first else (points[-1, 3], points[0, 0])
    turn = Affine.rotation(np.radians(degrees), tuple(pivot))
    by = turn.apply(node) - node
    pattern = with_controls(pattern, piece, fold, 0, turn.apply(points.reshape(-1, 2)).reshape(points.shape))
    other = order[(order.index(fold) + (1 if upper_first else -1)) % len(order)]
    part, span, at, handle = (0, 0, 0, 1) if upper_first else (-1, -1, 3, 2)
    met = controls(pattern, piece, other, part)
    met[span, at] += by
    met[span, handle] += by
    return with_controls(pattern, piece, other, part, met)


# Darts ----------------------------------------------------------------------------------------------------------------


def cut_darts(pattern: Pattern) -> list[tuple[Piece, Dart]]:
    return [
        (piece, dart)
        for piece in pattern.pieces
        for dart in piece.darts
        if dart.form == "cut" and dart.after < len(piece.edge_of(dart.host).parts) - 1
    ]


def unequal_legs(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = cut_darts(pattern)
    if not found:
        return None
    piece, dart = rng.choice(found)
    by = amount(rng, 5, 12)
    across = dart.feet[1] - dart.feet[0]
    point = dart.points[0] + by * across / np.linalg.norm(across)
    legs = (line(dart.feet[0], point), line(point, dart.feet[1]))
    darts = tuple(replace(d, legs=legs) if d.uid == dart.uid else d for d in piece.darts)
    name = f"{piece.name}.{dart.name}"
    return Fault(f"point of {name} {by:+} mm aside", changed(pattern, piece, darts=darts), ("dart-legs",), (name,))


def kink_over_a_dart(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = cut_darts(pattern)
    if not found:
        return None
    piece, dart = rng.choice(found)
    host, by = piece.edge_of(dart.host), amount(rng, 3.5, 10)
    put = handle_turned(pattern, piece.name, host.name, dart.after + 1, by)
    return Fault(f"{piece.name}.{host.name} turned by {by}°", put, ("dart-kink",), (f"{piece.name}.{dart.name}",))


# Allowances and corners -----------------------------------------------------------------------------------------------


def other_allowance(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece, edge, _ = rng.choice(sewn_edges(pattern))
    width = 10.0 + amount(rng, 0.3, 5)
    name = f"{piece.name}.{edge.name}"
    put = with_edge(pattern, piece.name, replace(edge, allowance=Allowance(width=width)))
    return Fault(f"{name} {width} mm wide", put, ("allowances",), (name,))


def allowance_on_the_fold(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = centred(pattern, "fold")
    if not found:
        return None
    piece, edge = rng.choice(found)
    width = round(rng.uniform(0.5, 15), 1)
    name = f"{piece.name}.{edge.name}"
    put = with_edge(pattern, piece.name, replace(edge, allowance=Allowance(width=width)))
    return Fault(f"{name} {width} mm wide", put, ("allowances",), (name,))


def other_corner(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [
        (piece, edge)
        for piece, edge, _ in sewn_edges(pattern)
        if piece.after(edge).use in ("finished", "hem") and piece.cut_in(edge, len(edge.parts) - 1) is None
    ]
    if not found:
        return None
    piece, edge = rng.choice(found)
    corner = f"{piece.name}.{edge.name}/{piece.after(edge).name}"
    return Fault(f"{corner} bevelled", made(f"corner {corner} --kind=bevelled", pattern), ("corners",), (corner,))


# Outlines -------------------------------------------------------------------------------------------------------------


def crossing_outline(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [(p, e) for p in pattern.pieces for e in p.edges if len(e.parts) == 1 and len(e.parts[0]) == 1]
    piece, edge = rng.choice(found)
    points = controls(pattern, piece.name, edge.name, 0)
    way = points[-1, 3] - points[0, 0]
    out = np.array([-way[1], way[0]])
    points[0, 1], points[0, 2] = points[0, 0] + 1.6 * way + 0.8 * out, points[0, 3] - 1.6 * way + 0.8 * out
    put = with_controls(pattern, piece.name, edge.name, 0, points)
    return Fault(f"{piece.name}.{edge.name} loops", put, ("shape",), (piece.name,))


def doubled_point(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece = rng.choice(pattern.pieces)
    edge = rng.choice(piece.edges)
    points = controls(pattern, piece.name, edge.name, 0)
    put = with_controls(
        pattern, piece.name, edge.name, 0, np.concatenate([np.repeat(points[:1, :1], 4, axis=1), points])
    )
    name = f"{piece.name}.{edge.name}"
    return Fault(f"{name} has a point twice", put, ("shape",), (name,))


# Grain, labels, quantities --------------------------------------------------------------------------------------------


def grain_off(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [piece for piece, _ in centred(pattern, "fold", "centre") if piece.grain is not None]
    if not found:
        return None
    piece, by = rng.choice(found), amount(rng, 0.8, 9)
    grain = piece.grain
    assert grain is not None
    turn = Affine.rotation(np.radians(by), tuple((grain.start + grain.end) / 2))
    put = changed(pattern, piece, grain=replace(grain, start=turn.apply(grain.start), end=turn.apply(grain.end)))
    return Fault(f"grain of {piece.name} {by:+}°", put, ("grain",), (piece.name,))


def grain_missing(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece = rng.choice(pattern.pieces)
    grain = piece.grain
    if grain is None:
        return None
    away = np.array([rng.choice((-1, 1)) * 2000.0, 0.0])
    put = None if rng.random() < 0.5 else replace(grain, start=grain.start + away, end=grain.end + away)
    said = "no grain" if put is None else "grain beside"
    return Fault(f"{said} {piece.name}", changed(pattern, piece, grain=put), ("grain",), (piece.name,))


def wrong_label(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece = rng.choice(pattern.pieces)
    folded = any(edge.use == "fold" for edge in piece.edges)
    wrong: list[dict[str, object]] = [{"quantity": 0}]
    if piece.cut_as == "pair":
        wrong += [{"quantity": 3}, {"side": "left"}]
    if not folded:
        wrong.append({"cut_as": "fold"})
    if pattern.style.materials:
        wrong += [{"material": "felt"}, {"material": ""}]
    if folded:
        wrong.append({"cut_as": "pair", "quantity": 2})
    fields = rng.choice(wrong)
    return Fault(f"{piece.name} {fields}", changed(pattern, piece, **fields), ("labels", "quantities"), (piece.name,))


def label_beside(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece = rng.choice(pattern.pieces)
    at = piece.edges[0].start + np.array([0.0, rng.choice((-1, 1)) * 3000.0])
    return Fault(
        f"label of {piece.name} off it", changed(pattern, piece, caption=replace(piece.caption, at=at)), ("labels",),
        (piece.name,),
    )  # fmt: skip


def too_few(rng: random.Random, pattern: Pattern) -> Fault | None:
    piece, _, _ = rng.choice(sewn_edges(pattern))
    times = rng.choice((2, 3))
    name = f"{piece.name}."
    return Fault(f"{name} {times} times as often", changed(pattern, piece, quantity=piece.quantity * times),
                 ("quantities",), (name,))  # fmt: skip


def uneven_buttons(rng: random.Random, pattern: Pattern) -> Fault | None:
    found = [(p, e) for p, e in centred(pattern, "fold", "centre", "opening") if len(e.parts) == 1]
    if not found:
        return None
    piece, edge = rng.choice(found)
    pattern = made(f"button {piece.name}.{edge.name}@3cm..-3cm --count=5", pattern)
    piece = pattern.piece(piece.name)
    buttons, by = list(piece.buttons), amount(rng, 1.2, 6)
    way = edge.end - edge.start
    k = rng.randrange(1, 4)
    buttons[k] = replace(buttons[k], at=buttons[k].at + by * way / np.linalg.norm(way))
    return Fault(f"a button of {piece.name} {by:+} mm", changed(pattern, piece, buttons=tuple(buttons)), ("buttons",),
                 (f"{piece.name}.{edge.name}",))  # fmt: skip


def unlike_pair(rng: random.Random, pattern: Pattern) -> Fault | None:
    """A piece for the left and its mirror image for the right, of which a corner was moved."""
    piece = rng.choice(pattern.pieces)
    left = replace(piece, uid="l", name=f"{piece.name}-left", side="left", cut_as="single", quantity=1, notches=())
    image = moved(left, Affine.translation(900, 30) @ Affine.rotation(rng.uniform(0, 6)) @ Affine.scaling(-1, 1))
    both = Pattern(pieces=(left, replace(image, uid="r", name=f"{piece.name}-right", side="right")))
    corners = [e for e in piece.edges if piece.cut_in(e, len(e.parts) - 1) is None]
    edge, by = rng.choice(corners), amount(rng, 0.3, 3)
    put = corner_moved(both, (f"{piece.name}-right", edge.name, piece.after(edge).name), by)
    return Fault(f"a corner of {piece.name}-right {by:+} mm", put, ("pairs",), (f"{piece.name}-left",))


KINDS: dict[str, Kind] = {
    kind.__name__.replace("_", " "): kind
    for kind in (
        length_of_a_seam, ease_of_a_seam, open_seam, seam_twice, dropped_piece, notch_moved, notch_taken, notch_doubled,
        notch_too_deep, broken_line, off_square, bowed_fold, tilted_fold, unequal_legs, kink_over_a_dart,
        other_allowance, allowance_on_the_fold, other_corner, crossing_outline, doubled_point, grain_off, grain_missing,
        wrong_label, label_beside, too_few, uneven_buttons, unlike_pair,
    )
}  # fmt: skip
