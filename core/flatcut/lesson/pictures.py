"""The pictures of a step: before, with what will move; after, with what is new heavy and what was there dotted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import CUT, OUTLINE, STITCH, Role
from flatcut.errors import FlatcutError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, chain, flatten, line, polyline, transform
from flatcut.geometry.region import contains, ring_centroid
from flatcut.geometry.rigid import brought
from flatcut.lesson.figures import written
from flatcut.lesson.motions import Sheet, parted, sheets
from flatcut.lesson.naming import named_piece
from flatcut.lesson.room import Room
from flatcut.lesson.scene import SAME, Inks, Scene, added, redrawn, ring_of, spoken_of
from flatcut.lesson.values import Card, Leaf, Turn
from flatcut.lesson.words import called
from flatcut.pattern.motions import Motion
from flatcut.pattern.places import Place, Reference, Run
from flatcut.pattern.pointing import middle, pointed
from flatcut.pattern.spots import spots
from flatcut.pattern.values import Figure, Pattern, Piece, outline

WIDE, BESIDE = 178.0, 87.0
"""mm of the page: a picture by itself, and one of two side by side."""
HIGH, STACKED = 90.0, 84.0
"""mm of the page: how high a picture may be, side by side and one above the other."""
ROOM = 7.0
"""mm of the page left free round the pieces, for words."""
MOVING = Role(name="moving", width=0.01, colour="#dddddd", fill="#dddddd")
"""The part of the paper that moves."""
GHOST = Role(name="as-it-was", width=0.18, dashes=(0.5, 0.7))
"""What lay elsewhere before."""
HEAVY = 0.8
"""mm: what is new."""
WAY = Role(name="way", width=0.3)
"""How a part moves: from where to where."""
SPOT = Role(name="spot", width=0.2, fill="#000000")
PIVOT = Role(name="pivot", width=0.3, fill="#ffffff")
"""A place that a step names, and the point about which a part turns."""
BAR = Role(name="scale", width=0.4)
TURNED = 10
"""More parts than these are arranged anew rather than moved: no arrows are drawn for them."""
WHOLE = 2
"""So are more whole pieces than these."""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """The pictures of a stage, and its paper taken apart into what moves."""

    before: Card | None
    after: Card
    leaves: tuple[Leaf, ...]


def shown(
    inks: Inks,
    seen: Scene,
    before: Pattern,
    after: Pattern,
    *,
    motions: Sequence[Motion],
    named: Sequence[Reference],
    figures: Sequence[Figure],
    title: str,
    labels: Mapping[str, str] | None = None,
) -> Shown:
    """The pictures of steps.

    named: the references that they speak of; figures: those that are written on the pictures; labels: by the name of a
    piece what is written on it. Where no line is drawn anew there is one picture, on which all stands.
    """
    rings = {piece.uid: ring_of(piece) for piece in seen.before}
    boxes = [bounds(curve) for piece in (*seen.before, *seen.after) for curve in outline(piece)]
    boxes += [ink.box for ink in (*inks.of(seen.before, before.style), *inks.of(seen.after, after.style))]
    across = max(
        max(b[2] for b in boxes) - min(b[0] for b in boxes), max(b[3] for b in boxes) - min(b[1] for b in boxes)
    )
    motions = [motion for motion in motions if motion.piece in rings]
    cut = not any(motion.moves for motion in motions) and _is_cut(motions)
    motions = parted(motions, across)
    paper = _cut_sheets(motions) if cut else sheets(rings, motions)
    shifts = _shifts(seen.after, motions) if cut else {}
    inked = [
        (piece, ink.moved(*shifts.get(piece.uid, (0.0, 0.0))))
        for piece, ink in zip(seen.after, inks.of(seen.after, after.style), strict=True)
    ]
    boxes += [ink.box for _, ink in inked]
    boxes += [(*moved.min(axis=0), *moved.max(axis=0)) for moved in (sheet.to.apply(sheet.ring) for sheet in paper)]
    corners = np.array(boxes)
    frame = Frame.of(corners[:, :2].min(axis=0), corners[:, 2:].max(axis=0), alone=not (seen.before and seen.drawn))
    moving = [sheet for sheet in paper if any(motion.moves for motion in sheet.motions)]
    told = not cut and len(moving) <= TURNED and len(moving) < len(paper)
    told &= len(moving) <= WHOLE or len(paper) > len(rings)
    pair = bool(seen.before) and seen.drawn
    first = _before(frame, inks, seen, before, moving if told else [], named, title) if pair else None
    second = _after(
        frame, inked, inks, seen, before, after, moving if told else [], figures, title, shifts, named, labels or {}
    )
    leaves = tuple(frame.leaf(sheet) for sheet in paper) if moving else ()
    return Shown(before=first, after=second, leaves=leaves)


def _is_cut(motions: Sequence[Motion]) -> bool:
    """Whether the parts lie in one piece that they are cut from."""
    return len({motion.piece for motion in motions}) < len(motions)


def _cut_sheets(motions: Sequence[Motion]) -> list[Sheet]:
    return [Sheet(ring=motion.ring, motions=(motion,)) for motion in motions]


def _degrees(way: Array | None) -> float | None:
    return None if way is None else math.degrees(math.atan2(float(way[1]), float(way[0])))


def _shifts(pieces: Sequence[Piece], motions: Sequence[Motion]) -> dict[str, tuple[float, float]]:
    """How far each part of a piece that was cut is drawn from where it lies."""
    found = {}
    for piece in pieces:
        at = ring_centroid(ring_of(piece))
        mine = next((m for m in motions if contains(m.ring, at[None])[0] or _on(m.ring, at)), None)
        if mine is not None:
            found[piece.uid] = (float(mine.shift[0]), float(mine.shift[1]))
    return found


def _on(ring: Array, at: Array) -> bool:
    return bool(np.hypot(*(ring_centroid(ring) - at)) < 1.0)


@dataclass(frozen=True, kw_only=True)
class Frame:
    """How the pattern is laid on a picture of that size, mm of the page."""

    to: Affine
    scale: float
    size: tuple[float, float]

    @staticmethod
    def of(low: Array, high: Array, *, alone: bool, high_at_most: float = HIGH) -> Frame:
        """The frame of a box of the pattern, from `low` to `high`, (2,) each. alone: no other picture beside it."""
        wide, deep = np.maximum(high - low, 1.0)
        choices = [(WIDE, high_at_most)] if alone else [(BESIDE, HIGH), (WIDE, STACKED)]
        scales = [min((w - 2 * ROOM) / wide, (h - 2 * ROOM) / deep) for w, h in choices]
        best = 1 if len(scales) > 1 and scales[1] > 1.45 * scales[0] else 0
        scale, across = float(scales[best]), choices[best][0]
        left = (across - scale * wide) / 2
        to = Affine.translation(left, ROOM) @ Affine.scaling(scale) @ Affine.translation(-float(low[0]), -float(low[1]))
        return Frame(to=to, scale=scale, size=(across, float(scale * deep) + 2 * ROOM))

    def leaf(self, sheet: Sheet) -> Leaf:
        """A part of the paper and its turns, on the page."""
        turns = tuple(
            Turn(about=self.to.apply(m.about), degrees=m.degrees, shift=self.scale * m.shift, over=_degrees(m.over))
            for m in sheet.motions
        )
        return Leaf(ring=self.to.apply(sheet.ring), turns=turns, new=sheet.new)

    def stroke(self, role: Role, curves: Iterable[Curve], *, closed: bool = False, of: str = "") -> Stroke:
        """A stroke on the page."""
        return Stroke(role=role, curves=tuple(transform(c, self.to) for c in curves), closed=closed, of=of)

    def bar(self) -> list[Stroke | Words]:
        """A length to see the scale by."""
        size = next((s for s in (500.0, 200.0, 100.0, 50.0, 20.0) if s * self.scale < 0.3 * self.size[0]), 10.0)
        x, y, far = 3.0, self.size[1] - 2.0, size * self.scale
        ends = [line((x + k * far, y - 0.8), (x + k * far, y + 0.8)) for k in (0, 1)]
        words = Words(lines=(f"{size / 10:g} cm",), at=np.array([x + far + 1.2, y]), height=2.0, align="start")
        return [Stroke(role=BAR, curves=(line((x, y), (x + far, y)), *ends)), words]


@cache
def fine(role: Role) -> Role:
    """The pen of a role on a small picture: dashes closer together."""
    return role._replace(width=max(0.8 * role.width, 0.18), dashes=tuple(0.4 * dash for dash in role.dashes))


@cache
def _heavy(role: Role) -> Role:
    wide = HEAVY if role in (OUTLINE, STITCH, CUT) else max(0.55, 1.8 * role.width)
    return role._replace(name=f"new-{role.name}", width=wide, dashes=tuple(0.5 * dash for dash in role.dashes))


def _before(
    frame: Frame,
    inks: Inks,
    seen: Scene,
    before: Pattern,
    moving: Sequence[Sheet],
    named: Sequence[Reference],
    title: str,
) -> Card:
    items: list[Stroke | Words] = [
        frame.stroke(MOVING, [polyline(_closed(sheet.ring))], closed=True) for sheet in moving if not sheet.new
    ]
    for ink in inks.of(seen.before, before.style):
        items += [frame.stroke(fine(s.role), s.curves, closed=s.closed, of=s.of) for s in ink.strokes]
    for sheet in moving:
        items += _ways(frame, sheet)
    marks, names = _named(before, named, {piece.name for piece in seen.before})
    items += [_dot(frame.to.apply(at)) for at in marks]
    room = Room(frame.size, [item for item in items if isinstance(item, Stroke)])
    items += room.kept(frame.bar())
    items += _piece_names(frame, seen.before, room, {})
    for name in names:
        items += room.put((name.text,), frame.to.apply(name.at), along=frame.to.apply(name.along))
    return Card(ink=Ink(items=tuple(items)), size=frame.size, label=f"before: {title}", scale=frame.scale)


def _after(
    frame: Frame,
    inked: Sequence[tuple[Piece, Ink]],
    inks: Inks,
    seen: Scene,
    before: Pattern,
    after: Pattern,
    moving: Sequence[Sheet],
    figures: Sequence[Figure],
    title: str,
    shifts: dict[str, tuple[float, float]],
    named: Sequence[Reference],
    labels: Mapping[str, str],
) -> Card:
    items: list[Stroke | Words] = [
        frame.stroke(MOVING, [polyline(_closed(sheet.to.apply(sheet.ring)))], closed=True) for sheet in moving
    ]
    was = inks.of(seen.before, before.style)
    old = [ring_of(piece) for piece in seen.before]
    now = [ring_of(piece) for piece in seen.after]
    known = {piece.uid for piece in seen.before}
    new: list[int] = []
    arranged = {piece.uid for piece, _ in inked if _lies_elsewhere(piece, before)}
    if not shifts:
        ghosts = [curve for piece in seen.before if piece.uid not in arranged for curve in redrawn(piece, now)]
        items += [frame.stroke(GHOST, [curve]) for curve in ghosts] if seen.after else []
    told = False
    for piece, ink in inked:
        fresh = piece.uid not in known and not shifts
        for stroke, is_new in zip(ink.strokes, added(was, ink), strict=True):
            heavy = is_new and not fresh and piece.uid not in arranged and not shifts
            if heavy or fresh:
                new.append(len(items))
            role = _heavy(stroke.role) if heavy else fine(stroke.role)
            told |= heavy
            items.append(frame.stroke(role, stroke.curves, closed=stroke.closed, of=stroke.of))
        if piece.uid not in arranged and not fresh:
            shift = Affine.translation(*shifts.get(piece.uid, (0.0, 0.0)))
            for curve in redrawn(piece, old):
                told = True
                new.append(len(items))
                items.append(frame.stroke(_heavy(OUTLINE), [transform(curve, shift)]))
    if not told and not arranged:
        for curve in spoken_of(after, named, [piece.name for piece, _ in inked]):
            new.append(len(items))
            items.append(frame.stroke(_heavy(OUTLINE), [curve]))
    names: list[_Name] = []
    if not seen.drawn:
        marks, names = _named(after, named, {piece.name for piece in seen.after})
        items += [_dot(frame.to.apply(at)) for at in marks]
    room = Room(frame.size, [item for item in items if isinstance(item, Stroke)])
    items += room.kept(frame.bar())
    items += _piece_names(frame, seen.after, room, shifts, labels)
    for at, rows in written(after, figures):
        items += room.put(rows, frame.to.apply(at))
    for name in names:
        items += room.put((name.text,), frame.to.apply(name.at), along=frame.to.apply(name.along))
    return Card(
        ink=Ink(items=tuple(items)), size=frame.size, label=f"after: {title}", scale=frame.scale, new=tuple(new)
    )


def _lies_elsewhere(piece: Piece, before: Pattern) -> bool:
    """Whether a piece was moved as a whole, or turned over: its outline is the one it was, and lies elsewhere."""
    was = next((one for one in before.pieces if one.uid == piece.uid), None)
    if was is None or np.hypot(*(piece.edges[0].start - was.edges[0].start)) < SAME:
        return False
    now, then = (np.concatenate([curve.controls.reshape(-1, 2) for curve in outline(one)]) for one in (piece, was))
    if len(now) != len(then):
        return False
    hands = (then, then * [-1.0, 1.0])
    return any(float(np.abs(brought(hand, now).apply(hand) - now).max()) < SAME for hand in hands)


def _piece_names(
    frame: Frame,
    pieces: Sequence[Piece],
    room: Room,
    shifts: dict[str, tuple[float, float]],
    labels: Mapping[str, str] | None = None,
) -> list[Stroke | Words]:
    items: list[Stroke | Words] = []
    for piece in pieces:
        at = middle(piece) + np.array(shifts.get(piece.uid, (0.0, 0.0)))
        x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-3))
        box = np.array([x1 - x0, y1 - y0]) * frame.scale
        told = (labels or {}).get(piece.name)
        items += named_piece(room, piece.name, frame.to.apply(at), box, told)
    return items


class _Name(NamedTuple):
    """A name and where it stands; along: points (n, 2) of what it is the name of, so far as that is a line inside."""

    at: Array
    text: str
    along: Array


def _named(pattern: Pattern, named: Sequence[Reference], pieces: set[str]) -> tuple[list[Array], list[_Name]]:
    """Places that are spoken of, and names with where they stand, of what there is on those pieces."""
    marks: list[Array] = []
    names: dict[tuple[str, str], _Name] = {}
    for one in named:
        places = [part.place for part in one.parts] if isinstance(one, Run) else [one] if isinstance(one, Place) else []
        for place in places:
            for own in place.chord or (place,):
                if own.piece not in pieces or not own.name:
                    continue
                exact = bool(own.at or own.other or own.part) and own.to is None
                try:
                    found = [spot.point for spot in spots(pattern, own)] if exact and not own.mirror else []
                except FlatcutError:
                    continue
                marks += found
                inner = pattern.piece(own.piece).lines
                for name in filter(None, (own.name, own.other, own.toward)):
                    along = [flatten(drawn.curve, tolerance=0.5) for drawn in inner if drawn.name == name]
                    for _, at in pointed(pattern, str(Place(piece=own.piece, name=name))):
                        named_at = _Name(at, called(name), np.concatenate(along) if along else at[None])
                        names.setdefault((own.piece, name), named_at)
    return marks, list(names.values())


def _dot(at: Array) -> Stroke:
    return Stroke(role=SPOT, curves=(_circle(at, 0.7),), closed=True)


def _circle(at: Array, radius: float) -> Curve:
    around = np.linspace(0, 2 * math.pi, 17)
    ring = np.column_stack([np.cos(around), np.sin(around)]) * radius + at
    ring[-1] = ring[0]
    return polyline(ring)


def _closed(ring: Array) -> Array:
    return ring if np.array_equal(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]])


def _ways(frame: Frame, sheet: Sheet) -> list[Stroke | Words]:
    """How a part goes: an arc about each point that it turns about, or a straight way, with an arrow head."""
    items: list[Stroke | Words] = []
    to = Affine()
    for motion in sheet.motions:
        if not motion.moves:
            continue
        ring = to.apply(sheet.ring)
        far = ring[int(np.argmax(np.hypot(*(ring - motion.about).T)))]
        turns = abs(motion.degrees) > 1e-6
        start = motion.about + 0.62 * (far - motion.about) if turns else ring_centroid(ring)
        course = np.array([motion.at(share).apply(start) for share in np.linspace(0, 1, 13 if turns else 2)])
        page = frame.to.apply(course)
        if float(np.hypot(*(page[-1] - page[0]))) > 1.0:
            items += [Stroke(role=WAY, curves=(polyline(page),)), Stroke(role=WAY, curves=(_head(page),))]
        about = frame.to.apply(motion.about)
        if turns and bool((about > 0).all() and (about < np.array(frame.size)).all()):
            items.append(Stroke(role=PIVOT, curves=(_circle(about, 1.0),), closed=True))
        to = motion.at() @ to
    return items


def _head(course: Array) -> Curve:
    way = course[-1] - course[-2]
    way = way / float(np.hypot(*way))
    across = np.array([-way[1], way[0]])
    tip = course[-1]
    return polyline([tip - 1.8 * way + 0.7 * across, tip, tip - 1.8 * way - 0.7 * across])
