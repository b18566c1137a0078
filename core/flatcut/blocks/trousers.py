"""The trousers block: front and back of a leg, straight from the knee down, with a crotch seam and waist darts.

The relations are common practice of the trade, no source, and differ from school to school: a quarter of the hip each,
5 mm more behind; the crotch line at the body rise and 1 cm below the waist; forks of a sixteenth of the hip in front
and a ninth behind; creases midway between side and fork; the seat seam leaning by 9°, its top 2.5 cm above the waist;
the back leg 2 cm wider than the front at knee and hem. Own choices: all curves, and that front and back are made
equally long at the side by the waist's rise there, and at the inside leg by the level of the back's fork.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import fair, fairest
from flatcut.blocks.opening import Opened, Wedge, opened
from flatcut.blocks.shaping import BETWEEN, MOST_DART, MOST_SIDE, ROUNDED, SHORTER, STEEPEST, dart_warning, shared
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, reverse
from flatcut.geometry.length import length
from flatcut.pattern.assembling import Draft, Mark, Side, Wedged, assembled, dart_figures, girth, laid_out, sewn_to
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Piece, Position
from flatcut.units import show

NEEDED = ("waist", "hip", "waist-to-hip", "body-rise", "waist-to-knee", "waist-to-floor")
WAIST_EASE, HIP_EASE, RISE_EASE = 10.0, 40.0, 10.0
"""mm over the whole girths, and of the crotch line below the body rise."""
APART, LEG_APART = 5.0, 10.0
"""mm that the back is wider and the front narrower than a quarter of the hip; the same at half the knee and hem."""
FRONT_FORK, BACK_FORK = 1 / 16, 1 / 9
"""How far the crotch reaches beyond the centre, as parts of the hip with its ease."""
SEAT, SEAT_RISE, FRONT_IN, SIDE_RISE = math.radians(9), 25.0, 8.0, 8.0
"""Lean of the seat seam; mm of its top above the waist; of the front centre's lean; of the waist's rise at the side."""
OFF_FLOOR = 20.0
"""mm of the hem above the floor."""
KNEE, KNEE_BY, HEM, HEM_BY = 460.0, 0.25, 420.0, 0.2
"""mm round the leg at knee and hem for a hip of 96 cm, and how much more for each mm of hip."""
BACK_SHARE, FRONT_SHARE = 0.36, 0.24
"""Parts of what is taken off at the waist: back darts, front darts; the rest goes into the side edges."""
BACK_LENGTH, FRONT_LENGTH = 115.0, 85.0
"""mm of the darts."""
LEAN = 1.6
"""Slope of the side seam at the waist, as a part of its mean slope from hip to waist."""
MOST_THIGH = 0.42
"""Slope of the inside leg at the fork, at most."""
FLY = 25.0
"""mm below the hip line to which the front opens."""
SETTLED = 1e-8
RIGHT, DOWN = np.array([1.0, 0.0]), np.array([0.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class TrousersFrame:
    """mm, y down from the waist. Both halves have their centre at x = 0 on the hip line, the front's side at the left.

    front, back: widths at the hip; forks: beyond the centre; knee, hem: half girths of the leg; waist: half girth with
    ease; stretch: mm that the back's inside leg is shorter. darts: intakes; taken: of each side edge.
    """

    front: float
    back: float
    front_fork: float
    back_fork: float
    waist: float
    knee: float
    hem: float
    hip_y: float
    crotch_y: float
    knee_y: float
    hem_y: float
    stretch: float
    back_darts: tuple[float, ...]
    front_darts: tuple[float, ...]
    taken: float


@dataclass(frozen=True, kw_only=True)
class Leg:
    """Half a leg: from the waist's end at the centre outward, all curves walked downward or away from the centre.

    out: +1 where the side lies at the right of the centre, -1 at the left.
    """

    waist: Opened
    wedges: tuple[Wedge, ...]
    centre: Curve
    crotch: Curve
    inside: Curve
    side: Curve
    crease: float
    out: float


def trousers_frame(
    body: Mapping[str, float],
    *,
    knee: float | None = None,
    hem: float | None = None,
    waist_ease: float = WAIST_EASE,
    hip_ease: float = HIP_EASE,
    stretch: float = 0.0,
    back_darts: int = 1,
    front_darts: int = 1,
) -> TrousersFrame:
    """The frame for a body (mm, keys as in NEEDED) and a leg of `knee` and `hem` mm all round, left out: by the hip.

    Errors: UsageError, GeometryError for measurements that cannot belong to one body.
    """
    hip = body["hip"] + hip_ease
    waist = (body["waist"] + waist_ease) / 2
    hip_y, crotch_y = body["waist-to-hip"], body["body-rise"] + RISE_EASE
    knee_y, hem_y = body["waist-to-knee"], body["waist-to-floor"] - OFF_FLOOR
    if not hip_y + 40 <= crotch_y <= knee_y - 100 or hem_y < knee_y + 100:
        raise GeometryError(
            f"waist-to-hip {show(hip_y, 'cm')}, body-rise {show(body['body-rise'], 'cm')}, waist-to-knee"
            f" {show(knee_y, 'cm')} and waist-to-floor {show(body['waist-to-floor'], 'cm')} do not follow one another"
        )
    front, back = hip / 4 - APART, hip / 4 + APART
    knee = KNEE + KNEE_BY * (body["hip"] - 960) if knee is None else knee
    hem = HEM + HEM_BY * (body["hip"] - 960) if hem is None else hem
    for name, wide in (("knee", knee), ("hem", hem)):
        if not 60 <= wide / 2 - 2 * LEG_APART <= front + FRONT_FORK * hip:
            raise UsageError(
                f"a leg of {show(wide, 'cm')} at the {name} does not go with this hip; give another ", Option(name)
            )
    seat_in = math.tan(SEAT) * (hip_y + SEAT_RISE)
    total = front + back - FRONT_IN - seat_in - waist
    most = min(MOST_SIDE, math.tan(STEEPEST) * (hip_y + SIDE_RISE) / LEAN)
    curved = 0.0
    for _ in range(6):
        found = shared(
            total,
            [BACK_SHARE * total / back_darts] * back_darts,
            [FRONT_SHARE * total / front_darts] * front_darts,
            most_side=most - curved,
        )
        frame = TrousersFrame(
            front=front,
            back=back,
            front_fork=FRONT_FORK * hip,
            back_fork=BACK_FORK * hip,
            waist=waist,
            knee=knee / 2,
            hem=hem / 2,
            hip_y=hip_y,
            crotch_y=crotch_y,
            knee_y=knee_y,
            hem_y=hem_y,
            stretch=stretch,
            back_darts=found.back,
            front_darts=found.front,
            taken=found.side,
        )
        # the waist seam rises and falls, so the sides take off more than planned: drawing it says by how much
        over = _legs(frame)[2] - most
        if over <= 0.0:
            break
        curved += over + 0.1
    return frame


def _legs(frame: TrousersFrame) -> tuple[Leg, Leg, float]:
    """Back and front, and what each side edge takes off, so that the waist comes out with the darts closed."""
    taken, low, drop = frame.taken, 0.0, 0.0
    for _ in range(80):
        front = _leg(frame, back=False, taken=taken, low=0.0, drop=0.0)
        back = _leg(frame, back=True, taken=taken, low=low, drop=drop)
        excess = length(back.waist.closed) + length(front.waist.closed) - frame.waist
        longer = length(back.side) - length(front.side)
        inner = length(back.inside) - length(front.inside) + frame.stretch
        if max(abs(excess), abs(longer), abs(inner)) < SETTLED:
            return back, front, taken
        taken, low, drop = taken + excess / 2, low + longer, drop + inner
    raise GeometryError("waist and leg seams do not come out with these measurements")


def _leg(frame: TrousersFrame, *, back: bool, taken: float, low: float, drop: float) -> Leg:
    """low: mm that the waist lies lower at the side; drop: mm that the fork lies below the crotch line."""
    out = 1.0 if back else -1.0
    wide, reach = (frame.back, frame.back_fork) if back else (frame.front, frame.front_fork)
    apart = LEG_APART if back else -LEG_APART
    knee, hem = (frame.knee + apart) / 2, (frame.hem + apart) / 2
    crease = out * (wide - reach) / 2
    flip = np.array([out, 1.0])
    fork = np.array([-out * reach, frame.crotch_y + drop])
    hip = np.array([out * wide, frame.hip_y])
    legs = [
        [np.array([crease + s * out * half, y]) for half, y in ((knee, frame.knee_y), (hem, frame.hem_y))]
        for s in (-1, 1)
    ]
    (knee_in, hem_in), (knee_out, hem_out) = legs
    shin_in, shin_out = unit(hem_in - knee_in), unit(hem_out - knee_out)
    # half as much again as on the whole way to the knee, but never so that the crotch would bend both ways
    thigh_lean = 1.5 * float(knee_in[0] - fork[0]) / (frame.knee_y - float(fork[1]))
    thigh = unit(np.array([min(max(thigh_lean, -MOST_THIGH), MOST_THIGH), 1.0]))
    inside = chain([fair(fork, thigh, knee_in, shin_in), line(knee_in, hem_in)])
    lean = LEAN * taken / (frame.hip_y + SIDE_RISE)
    top = np.array([out * (wide - taken), -SIDE_RISE + low])
    side = chain(
        [
            fair(top, unit(np.array([out * lean, 1.0])), hip, DOWN),
            fair(hip, DOWN, knee_out, shin_out),
            line(knee_out, hem_out),
        ]
    )
    seat = np.array([0.0, frame.hip_y])
    if back:
        high = frame.hip_y + SEAT_RISE
        waist = np.array([out * math.tan(SEAT) * high, -SEAT_RISE])
    else:
        waist = np.array([out * FRONT_IN, 0.0])
    centre_way = unit(seat - waist)
    # square to the inside leg, so that the joined crotch runs through
    crotch = fairest(seat, centre_way, fork, -out * np.array([thigh[1], -thigh[0]]))
    outward = np.array([centre_way[1], -centre_way[0]]) * out
    into = flip * unit(np.array([1.0, -lean]))
    wedges = _wedges(frame, waist, top, crease, back=back)
    return Leg(
        waist=opened(waist, outward, top, into, wedges),
        wedges=wedges,
        centre=line(waist, seat),
        crotch=crotch,
        inside=inside,
        side=side,
        crease=crease,
        out=out,
    )


def _wedges(frame: TrousersFrame, waist: Array, top: Array, crease: float, *, back: bool) -> tuple[Wedge, ...]:
    """The darts: the front's on the crease, the back's in the middle of its waist; a second farther out and shorter."""
    intakes = frame.back_darts if back else frame.front_darts
    out = 1.0 if back else -1.0
    x = float(waist[0] + 0.48 * (top[0] - waist[0])) if back else crease
    if len(intakes) > 1:
        x -= out * BETWEEN / 2 if back else 0.0
    long = BACK_LENGTH if back else FRONT_LENGTH
    level = float(waist[1] + (top[1] - waist[1]) * (x - waist[0]) / (top[0] - waist[0]))
    found = [Wedge(name="waist-dart", apex=np.array([x, level + long]), axis=-DOWN, intake=intakes[0])]
    if len(intakes) > 1:
        apex = np.array([x + out * (BETWEEN + sum(intakes) / 2), level + long - SHORTER])
        found.append(Wedge(name="waist-dart-2", apex=apex, axis=-DOWN, intake=intakes[1]))
    return tuple(found)


def draft_trousers(
    frame: TrousersFrame, uids: Uids, *, names: tuple[str, str] = ("trouser-back", "trouser-front")
) -> Draft:
    """Back and front, laid at the origin. Errors: GeometryError where the frame admits no fair trousers."""
    legs = _legs(frame)
    # the sides are drawn apart, and from the waist to the hip line they are not equally long
    hip_at = length(Curve(legs[1].side.controls[:1], legs[1].side.straight[:1]))
    back, front = (_piece(frame, leg, name, uids, hip_at) for leg, name in zip(legs[:2], names, strict=True))
    back, front = laid_out((back, front), left=0.0, top=0.0)
    seams = [sewn_to((front, "side"), (back, "side"), uids)]
    thigh = float(legs[1].inside.nodes[0][1]), length(Curve(legs[1].inside.controls[:1], legs[1].inside.straight[:1]))
    if frame.stretch:
        knee = thigh[1]
        seams += [
            sewn_to((front, "inside-leg"), (back, "inside-leg"), uids, ease=ease, a_stretch=a, b_stretch=b)
            for ease, a, b in (
                (-frame.stretch, (_start(0.0), _start(knee)), (_end(knee - frame.stretch), _end(0.0))),
                (0.0, (_start(knee), _end(0.0)), (_start(0.0), _end(knee - frame.stretch))),
            )
        ]
    else:
        seams.append(sewn_to((front, "inside-leg"), (back, "inside-leg"), uids))
    seams += [
        sewn_to((piece, name), (piece, name), uids, mirrored=True)
        for piece in (front, back)
        for name in ("centre", "crotch")
    ]
    crotch = sum(length(part) for leg in legs[:2] for part in (leg.centre, leg.crotch))
    figures = (
        Figure("half waist with ease", girth((back, front), "waist")),
        Figure("half hip with ease", girth((back, front), "hip-line")),
        Figure("crotch, waist to waist", crotch),
        Figure("inside leg", length(legs[1].inside)),
        *dart_figures((back, front)),
    )
    wide = [
        dart_warning(name, f"waist-dart{'-2' * (k > 0)}", intake, len(intakes))
        for name, intakes in zip(names, (frame.back_darts, frame.front_darts), strict=True)
        for k, intake in enumerate(intakes)
        if intake > MOST_DART + ROUNDED
    ]
    return Draft(pieces=(back, front), seams=tuple(seams), figures=figures, warnings=tuple(wide))


def _piece(frame: TrousersFrame, leg: Leg, name: str, uids: Uids, hip_at: float) -> Piece:
    """Front or back of a leg; hip_at: mm from the waist, on both, to the notch of the side at the front's hip line."""
    back = leg.out > 0
    hem_in, hem_out = leg.inside.end, leg.side.end
    shin_in, shin_out = _end_way(leg.inside), _end_way(leg.side)
    # the sides are walked clockwise: a back's from the centre over the side, a front's from the side over the centre
    if back:
        hem = fair(hem_out, _clockwise(shin_out), hem_in, _clockwise(shin_in))
        edges = (
            Side(name="waist", parts=leg.waist.parts),
            Side(name="side", parts=(leg.side,)),
            Side(name="hem", parts=(hem,), use="hem"),
            Side(name="inside-leg", parts=(reverse(leg.inside),)),
            Side(name="crotch", parts=(reverse(leg.crotch),)),
            Side(name="centre", parts=(reverse(leg.centre),), words="CB", centre=True),
        )
        feet: Sequence[Array] = leg.waist.feet
    else:
        hem = fair(hem_in, _clockwise(shin_in), hem_out, _clockwise(shin_out))
        edges = (
            Side(name="waist", parts=tuple(reverse(part) for part in leg.waist.parts[::-1])),
            Side(name="centre", parts=(leg.centre,), words="CF", centre=True),
            Side(name="crotch", parts=(leg.crotch,)),
            Side(name="inside-leg", parts=(leg.inside,)),
            Side(name="hem", parts=(hem,), use="hem"),
            Side(name="side", parts=(reverse(leg.side),)),
        )
        feet = [pair[::-1] for pair in leg.waist.feet]
    count = len(leg.wedges)
    wedges = [
        Wedged(
            name=wedge.name,
            host="waist",
            legs=np.array([pair[0], wedge.apex, pair[1]]),
            after=k if back else count - 1 - k,
            pressed="centre",
        )
        for k, (wedge, pair) in enumerate(zip(leg.wedges, feet, strict=True))
    ]
    knee_at = length(Curve(leg.side.controls[:2], leg.side.straight[:2]))
    thigh = length(Curve(leg.inside.controls[:1], leg.inside.straight[:1]))
    side_of, inner_of = leg.side.nodes, leg.inside.nodes
    marks = [
        Mark(edge="side", at=hip_at, from_end=not back),
        Mark(edge="side", at=knee_at, from_end=not back),
        Mark(edge="inside-leg", at=thigh, from_end=back),
        # single in front, where the fly ends; double behind
        Mark(edge="crotch", at=FLY, count=2 if back else 1, from_end=back),
    ]
    fork = inner_of[0]
    at_side = side_of[1]
    level = min(frame.crotch_y, float(fork[1]) - 1e-6)
    return assembled(
        name,
        edges,
        uids,
        wedges=wedges,
        levels=(
            ("hip-line", np.array([0.0, frame.hip_y]), at_side),
            ("crotch-line", fork, np.array([leg.crease, float(fork[1])])),
            ("knee-line", inner_of[1], side_of[2]),
            ("crease", np.array([leg.crease, level]), np.array([leg.crease, frame.hem_y - 15])),
        ),
        marks=marks,
        grain=(np.array([leg.crease, frame.hem_y - 40]), np.array([leg.crease, frame.hip_y * 0.8])),
        cut_as="pair",
    )


def _end_way(curve: Curve) -> Array:
    return unit(curve.controls[-1, 3] - curve.controls[-1, 2])


def _clockwise(way: Array) -> Array:
    """A quarter turn clockwise on the screen: from down a leg to along its hem."""
    return np.array([-way[1], way[0]])


def _start(at: float) -> Position:
    return Position(mode="start", value=at)


def _end(at: float) -> Position:
    return Position(mode="end", value=at)
