"""Gores of a skirt, and godets: parts that widen toward the hem, alike on both sides of their middle. mm, y down.

From the line at which it flares to the hem a gore is a part of a ring: so its hem is square to both seams, as far from
that line all along, and exactly as long as stated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, reverse, section, transform
from flatcut.geometry.length import length, place_at
from flatcut.pattern.assembling import Mark, Side, assembled
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Corner, Line, Piece
from flatcut.strips.circling import arc
from flatcut.units import plain

WIDEST = math.radians(60.0)
"""Half the angle of a gore beyond which it is a part of a circle, and no gore."""
SMOOTH = 50.0
"""mm to either side of where a seam begins to flare over which it bends (common practice, no source)."""
SHARP = math.radians(45.0)
"""Angle of a godet below which the allowance at its point is cut square (common practice, no source)."""
APART = 15.0
"""mm: a notch at the hip this near to that at the end of a zip is left out."""
MIRROR = Affine.scaling(-1.0, 1.0)


@dataclass(frozen=True, kw_only=True)
class Gore:
    """One gore, mm. waist, hip: its widths there; level: from waist to hip; high: from waist to hem; flare: at each
    seam, hem over hip; since: from the waist to where the flare begins, at the hip or below; zip: mm that are open from
    the waist at its right seam ('side') or at its left one ('side-2'), by name."""

    waist: float
    hip: float
    level: float
    high: float
    flare: float
    since: float
    zip: float = 0.0
    zipped: str = ""

    @property
    def hem(self) -> float:
        """mm of the hem."""
        return self.hip + 2 * self.flare


def gore(name: str, cut: Gore, uids: Uids, *, edge: str = "waist") -> Piece:
    """The piece. Errors: UsageError for figures that make no gore.

    >>> made = gore("gore", Gore(waist=120, hip=160, level=200, high=600, flare=60, since=200), Uids())
    >>> [round(sum(map(length, edge.parts)), 3) for edge in made.edges if edge.name in ("waist", "hem")]
    [120.0, 280.0]
    """
    _refuse(cut)
    half, apex = _flared(cut)
    side, waist, hip = _side(cut, half, apex)
    hem = arc(float(np.hypot(*(side.end - apex))), math.pi / 2 - half, 2 * half) if half > 0 else None
    hem = line(side.end, MIRROR.apply(side.end)) if hem is None else transform(hem, Affine.translation(*apex))
    left = reverse(transform(side, MIRROR))
    sides = [
        Side(name=edge, parts=(waist,)),
        *_opened("side", side, cut, first=True),
        Side(name="hem", parts=(hem,), use="hem"),
        *_opened("side-2", left, cut, first=False),
    ]
    deep = length(section(side, 0.0, hip[1]))
    marks = []
    for own in ("side", "side-2"):
        open_here = cut.zip if cut.zipped == own else 0.0
        at, held = deep - open_here, own
        if at < 0.0:
            at, held = deep, "zip"
        if not open_here or abs(deep - open_here) > APART:
            marks.append(Mark(edge=held, at=at, from_end=own == "side-2"))
        if open_here:
            marks.append(Mark(edge=own, at=0.0, from_end=own == "side-2"))
    _gate(waist, cut.waist, side, np.array([1.0, 0.0]))
    _gate(hem, cut.hem, reverse(side), np.array([-1.0, 0.0]))
    middle = np.array([0.0, 0.08 * cut.high]), np.array([0.0, 0.92 * cut.high])
    piece = assembled(name, sides, uids, marks=marks, grain=middle, cut_as="single")
    over = Line(uid=uids.fresh("line", piece.uid, "hip"), name="hip-line", curve=hip[0], kind="balance")
    return replace(piece, lines=(over,))


def _gate(edge: Curve, wanted: float, side: Curve, way: Array) -> None:
    """GeometryError where an edge, measured by chords, is not as long as wanted or not square to the seam it meets.

    way: about how the edge runs toward that seam.
    """
    points, down = flatten(edge, tolerance=0.001), flatten(side, tolerance=0.001)
    points = points if float((points[-1] - points[0]) @ way) > 0 else points[::-1]
    off = float(np.hypot(*np.diff(points, axis=0).T).sum()) - wanted
    chords = [points[-1] - points[-2], down[1] - down[0]]
    if way[0] < 0:  # the hem runs away from the right seam
        chords[0] = points[0] - points[1]
    one, two = (chord / float(np.hypot(*chord)) for chord in chords)
    if abs(off) > 0.1 or abs(float(one @ two)) > math.sin(math.radians(1.0)):
        raise GeometryError(
            "no gore has these widths with seams square to its edges; flare it less, or take more gores"
        )


def _refuse(cut: Gore) -> None:
    if cut.waist > cut.hip:
        raise UsageError(
            f"a gore {plain(cut.waist)} mm wide at the waist is wider than its {plain(cut.hip)} mm at the hip; check ",
            Option("waist"),
            " and ",
            Option("hip"),
        )
    if not 0 < cut.level <= cut.since < cut.high - 10.0:
        raise UsageError(
            f"hip, flare and hem follow one another: {plain(cut.level)} mm, {plain(cut.since)} mm and "
            f"{plain(cut.high)} mm from the waist are not in that order; check ",
            Option("level"),
            ", ",
            Option("from"),
            " and ",
            Option("high"),
        )
    if cut.zip and not 10.0 < cut.zip < cut.high - 20.0:
        raise UsageError(Option("opening"), f" takes more than 10 mm and less than the skirt of {plain(cut.high)} mm")


def _flared(cut: Gore) -> tuple[float, Array]:
    """Half the angle between its seams below, and where they would meet.

    At the hip the gore is an arc as long as stated, about that place. Below the hip it is as wide as there, straight,
    and its seams turn.
    """
    run = cut.high - cut.since
    if cut.since <= cut.level:
        half = cut.flare / run
        size = cut.hip / (2 * half) if half else 0.0
        apex = np.array([0.0, cut.level - size])
    else:
        # (hip / 2 + run sin a) / sin a is the radius of the hem, whose arc is 2 a of it
        low, high = 0.0, 2 * WIDEST
        for _ in range(80):
            half = (low + high) / 2
            far = 2 * half * (cut.hip / 2 / math.sin(half) + run)
            low, high = (half, high) if far < cut.hem else (low, half)
        half = half if cut.flare else 0.0
        apex = np.array([0.0, cut.since - (cut.hip / 2 / math.tan(half) if half else 0.0)])
    if half > WIDEST:
        raise UsageError(
            f"a gore {plain(run)} mm long below its flare cannot flare by {plain(cut.flare)} mm at each seam; flare it "
            "less, take more gores, or draft a circle skirt with flounce"
        )
    return half, apex


def _side(cut: Gore, half: float, apex: Array) -> tuple[Curve, Curve, tuple[Curve, float]]:
    """The right seam downward, the waist from the left, and the line at the hip with where on the seam it ends."""
    way = np.array([math.sin(half), math.cos(half)])
    above = half if cut.since <= cut.level else 0.0
    at_hip = np.array([cut.hip / 2, cut.level])
    if above:
        at_hip = apex + cut.hip / (2 * half) * way
    # the waist is an arc square to both seams: how they lean there follows from where it ends, a few times over
    lean = 0.0
    for _ in range(60):
        waist = _waist(cut.waist, lean)
        mean = float((at_hip[0] - waist.end[0]) / (at_hip[1] - waist.end[1]))
        lean, before = math.atan(max(0.0, 2 * mean - math.tan(above))), lean
        if abs(lean - before) < 1e-13:
            break
    upper = _bent(waist.end, lean, at_hip, above)
    if cut.since > cut.level:
        corner = np.array([cut.hip / 2, cut.since])
        reach = min(SMOOTH, (cut.since - cut.level) / 2, (cut.high - cut.since) / 2)
        end = corner + (cut.high - cut.since) * way
        first, last = corner - np.array([0.0, reach]), corner + reach * way
        parts = [line(at_hip, first), _quadratic(first, corner, last), line(last, end)]
        if not half:
            parts = [line(at_hip, end)]
    else:
        parts = [line(at_hip, at_hip + (cut.high - cut.level) * way)]
    hip = line(MIRROR.apply(at_hip), at_hip)
    if above:
        size = float(np.hypot(*(at_hip - apex)))
        hip = transform(arc(size, math.pi / 2 + half, -2 * half), Affine.translation(*apex))
    return chain([upper, *parts], within=1e-6), waist, (hip, float(len(upper)))


def _waist(long: float, lean: float) -> Curve:
    """The waist from the left to the right, its middle at the origin; it meets seams that lean so much squarely."""
    if lean < 1e-9:
        return line((-long / 2, 0.0), (long / 2, 0.0))
    size = long / (2 * lean)
    return transform(arc(size, math.pi / 2 + lean, -2 * lean), Affine.translation(0.0, -size))


def _bent(start: Array, lean: float, end: Array, arrive: float) -> Curve:
    """The seam from the waist to the hip: a parabola between its directions there, where it has one."""
    one, two = np.array([math.sin(lean), math.cos(lean)]), np.array([math.sin(arrive), math.cos(arrive)])
    turn = float(one[0] * two[1] - one[1] * two[0])
    if abs(turn) < 1e-9:
        return line(start, end)
    off = end - start
    u = float(off[0] * two[1] - off[1] * two[0]) / turn
    v = float(off[0] * one[1] - off[1] * one[0]) / turn
    if u <= 1e-6 or (v >= -1e-6 and v <= 1e-6):
        raise GeometryError("waist and hip leave no smooth seam between them; make the waist smaller or flare less")
    return _quadratic(start, start + u * one, end)


def _quadratic(a: Array, middle: Array, b: Array) -> Curve:
    return cubic(a, a + 2 / 3 * (middle - a), b + 2 / 3 * (middle - b), b)


def _opened(name: str, curve: Curve, cut: Gore, *, first: bool) -> list[Side]:
    """A seam, in two where a zip is put in above: walked downward, or upward where it is not the first."""
    if cut.zipped != name:
        return [Side(name=name, parts=(curve,))]
    u = place_at(curve, cut.zip if first else length(curve) - cut.zip)
    upper, lower = section(curve, 0.0, u), section(curve, u, float(len(curve)))
    if first:
        return [Side(name="zip", parts=(upper,), use="opening"), Side(name=name, parts=(lower,))]
    return [Side(name=name, parts=(upper,)), Side(name="zip", parts=(lower,), use="opening")]


def godet(name: str, high: float, turn: float, uids: Uids) -> Piece:
    """A godet whose two seams are so long and stand at that angle, radians; its hem is an arc about its point.

    >>> made = godet("godet", 300.0, math.radians(60.0), Uids())
    >>> round(sum(map(length, made.edge("hem").parts)), 2)
    314.16
    """
    end = high * np.array([math.sin(turn / 2), math.cos(turn / 2)])
    top = np.zeros(2)
    hem = arc(high, math.pi / 2 - turn / 2, turn)
    sides = (
        Side(name="side", parts=(line(top, end),)),
        Side(name="hem", parts=(hem,), use="hem"),
        Side(name="side-2", parts=(line(MIRROR.apply(end), top),)),
    )
    middle = np.array([0.0, 0.25 * high]), np.array([0.0, 0.9 * high])
    made = assembled(name, sides, uids, grain=middle, cut_as="single")
    # a point so sharp would carry a long tip
    last = replace(made.edges[-1], corner=Corner(kind="bevelled" if turn < SHARP else ""))
    return replace(made, edges=(*made.edges[:-1], last))
