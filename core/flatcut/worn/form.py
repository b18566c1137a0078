"""A smooth dress form from body measurements: one posture, with arms or legs where they are asked for.

Axes in mm: x to the wearer's left, y up from the waist, z forward; the axis of the polar sections goes through the
middle of the neck's base. The form is a table of radii over angle (from the front, over the left side, to the back) and
height: superellipses through stated depths and widths, the shoulders as the ends of shrinking sections, two bumps for
the bust and a tilted oval neck. What was measured is met by correcting the parts that it depends on, round by round.

The proportions where nothing is measured are those of common dress forms (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.worn.girths import hull_length, over_length
from flatcut.worn.limbs import Limb, arm, leg, usual_limbs

UNDER = 70.0
"""mm above the crotch from which the trunk is rounded, where it has legs."""
STEP = 4.0
"""mm between the heights of the table."""
ANGLES = 181
"""Directions of a half section, front to back."""
ROUNDS = 40
"""Corrections of a form, at most, until it has what was measured."""
FIRST_ROUNDS = 8
"""Rounds with whole corrections; then half ones, which do not swing where one part depends on another."""
MET = 0.2
"""mm within which it has it."""
SLOPE = 20.0
"""Degrees of the shoulder (common practice, no source)."""
TILT = 26.0
"""Degrees of the neck's base, lower in front (common practice, no source)."""
WIDE_NECK = 1.22
"""Width of the neck's base over its depth (common practice, no source)."""
ALONG_SHOULDER = (0.2, 0.5, 0.8)
"""Parts of the shoulder at which it is held straight, neither bulging at its tip nor hollow at the neck."""
BLEND = 6.0
"""mm: how softly the neck grows out of the shoulders."""
BELOW, ABOVE, BESIDE = 56.0, 84.0, 64.0
"""mm: spread of the bust below its point, above it and to the sides."""


class Asked(NamedTuple):
    """A measurement of the form: as it was asked for, and as it came out, mm."""

    name: str
    asked: float
    got: float


@dataclass(frozen=True, kw_only=True)
class Form:
    """Radii of a form. angles (k,) from 0, the front, to pi, the back; heights (m,) mm; radii (k, m) mm.

    levels: height of what is named, such as bust or nape, mm. checked: girths and lengths as asked for and as they came
    out. assumed: measurements that were not given. limbs: arms and legs; floor: height at which the trunk ends, where
    legs go on.
    """

    angles: Array
    heights: Array
    radii: Array
    levels: Mapping[str, float]
    checked: tuple[Asked, ...]
    assumed: Mapping[str, float]
    limbs: tuple[Limb, ...] = ()
    floor: float = -np.inf

    def section(self, height: float) -> Array:
        """Half a level section, (k, 2) as x and z in mm, from front to back."""
        radii = self._radii_at(height)
        return np.column_stack([radii * np.sin(self.angles), radii * np.cos(self.angles)])

    def girth(self, height: float) -> float:
        """mm round the form at a height, as a tape lies."""
        return hull_length(self.section(height))

    def _radii_at(self, height: float) -> Array:
        at = np.clip((height - self.heights[0]) / STEP, 0, len(self.heights) - 1.000001)
        k = int(at)
        return np.asarray((1 - (at - k)) * self.radii[:, k] + (at - k) * self.radii[:, k + 1])


NEEDED = ("bust", "waist", "hip")
"""What no form can be made without."""


def completed(body: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float]]:
    """All that a form is made from, and which of it was not measured; from bust, waist and hip (common practice).

    >>> measures, assumed = completed({"bust": 900.0, "waist": 730.0, "hip": 970.0, "nape-to-waist": 412.0})
    >>> measures["under-bust"], "nape-to-waist" in assumed
    (775.0, False)
    """
    bust = body["bust"]
    back = body.get("nape-to-waist", 412.0 + 0.06 * (bust - 900.0))
    usual = {
        "under-bust": max(bust - 125.0, 0.5 * (bust + body["waist"]) - 40.0),
        "nape-to-waist": back,
        "scye-depth": back * 0.517,
        "neck": 0.21 * bust + 185.0,
        "shoulder": 123.0 + 0.02 * (bust - 900.0),
        "across-back": 350.0 + 0.25 * (bust - 900.0),
        "across-chest": 330.0 + 0.27 * (bust - 900.0),
        "bust-span": 190.0 + 0.2 * (bust - 900.0),
        "front-waist-length": back + 29.0,
        "neck-to-bust": 273.6 + 0.27 * (bust - 900.0),
        "waist-to-hip": 207.0,
        "waist-to-knee": 590.0,
    }
    assumed = {name: value for name, value in usual.items() if name not in body}
    return {**{k: body[k] for k in NEEDED}, **{k: body.get(k, v) for k, v in usual.items()}}, assumed


@dataclass
class _Shape:
    """What is corrected from round to round. scale: factor of a level's section; bump: mm of the bust."""

    scale: dict[str, float]
    bump: float
    nape: float
    side_neck: float
    bust: float
    neck: float
    tip: float


def form_of(body: Mapping[str, float], limbs: Collection[str] = ()) -> Form:
    """The form of a body: name -> mm; bust, waist and hip must be there. limbs: 'arm', 'leg', those that it has."""
    m, assumed = completed(body)
    shape = _Shape(
        scale=dict.fromkeys(("waist", "hip", "under-bust"), 1.0),
        bump=45.0,
        nape=0.985 * m["nape-to-waist"],
        side_neck=0.985 * m["nape-to-waist"] - 2.0,
        bust=0.97 * (m["front-waist-length"] - m["neck-to-bust"]),
        neck=1.0,
        tip=0.0,
    )
    for k in range(ROUNDS):
        heights, radii, levels = _built(m, shape)
        got = _measured(heights, radii, levels, m)
        if max(abs(value - m[name]) for name, value in got.items()) < MET:
            break
        _correct(m, shape, got, 1.0 if k < FIRST_ROUNDS else 0.5)
    angles = np.linspace(0.0, np.pi, ANGLES)
    checked = [Asked(name, m[name], value) for name, value in got.items()]
    form = Form(angles=angles, heights=heights, radii=radii, levels=levels, checked=(), assumed=assumed)
    return _with_limbs(form, body, m, checked, limbs)


def _with_limbs(
    form: Form, body: Mapping[str, float], m: Mapping[str, float], checked: list[Asked], limbs: Collection[str]
) -> Form:
    usual = usual_limbs(m)
    all_ = {**usual, **m, **{name: body[name] for name in usual if name in body}}
    made: list[Limb] = []
    needed: tuple[str, ...] = ()
    floor = -np.inf
    if "arm" in limbs:
        at = form.section(form.levels["shoulder-tip"])[ANGLES // 2]
        made.append(arm(all_, np.array([at[0], form.levels["shoulder-tip"], at[1]])))
        needed += ("top-arm", "wrist", "sleeve-length")
        for name, k in (("top-arm", 1), ("wrist", 3)):
            checked = [*checked, Asked(name, all_[name], 2 * np.pi * float(made[-1].radii[k]))]
    if "leg" in limbs:
        floor = -all_["body-rise"]
        front, back = form.section(floor)[[0, -1], 1]
        wide = float(form.section(floor + UNDER)[:, 0].max())
        made.append(leg(all_, 0.5 * float(front + back), (wide, UNDER)))
        needed += ("body-rise", "waist-to-floor")
        up = np.clip((form.heights - floor) / UNDER, 0.0, 1.0)
        round_ = 0.5 + 0.5 * np.sqrt(1.0 - (1.0 - up) ** 2)
        form = replace(form, radii=form.radii * round_)
    assumed = {**form.assumed, **{name: usual[name] for name in needed if name not in body}}
    return replace(form, checked=tuple(checked), assumed=assumed, limbs=tuple(made), floor=floor)


def _correct(m: Mapping[str, float], shape: _Shape, got: Mapping[str, float], share: float) -> None:
    """share: of what is wrong that is corrected."""
    for name in shape.scale:
        shape.scale[name] *= m[name] / got[name]
    shape.bump = max(shape.bump + 0.35 * (m["bust"] - got["bust"]), 0.0)
    shape.nape += m["nape-to-waist"] - got["nape-to-waist"]
    shape.neck *= (m["neck"] / got["neck"]) ** share
    shape.tip += share * (m["shoulder"] - got["shoulder"])
    lower = m["front-waist-length"] - m["neck-to-bust"]
    shape.bust += 0.8 * (lower - (got["front-waist-length"] - got["neck-to-bust"]))
    shape.side_neck += 0.8 * share * (m["neck-to-bust"] - got["neck-to-bust"])
    shape.side_neck = float(np.clip(shape.side_neck, shape.nape - 40.0, shape.nape - 4.0))


def _levels(m: Mapping[str, float], shape: _Shape) -> dict[str, float]:
    _, deep = _neck(m, shape)
    rise = 0.5 * deep * np.sin(np.radians(TILT))
    return {
        "knee": -m["waist-to-knee"],
        "crotch": -m["waist-to-hip"] - 95.0,
        "hip": -m["waist-to-hip"],
        "waist": 0.0,
        "under-bust": shape.bust - 72.0,
        "bust": shape.bust,
        "underarm": shape.nape - 0.985 * m["scye-depth"],
        "across": shape.nape - 0.5 * m["scye-depth"],
        "shoulder-tip": shape.side_neck - m["shoulder"] * np.sin(np.radians(SLOPE)),
        "side-neck": shape.side_neck,
        "pit": shape.nape - 2 * rise,
        "nape": shape.nape,
    }


def _neck(m: Mapping[str, float], shape: _Shape) -> tuple[float, float]:
    """Width and depth of the oval that the neck's base lies on."""
    girth = m["neck"] * shape.neck
    depth = girth / (np.pi * np.sqrt(0.5 * (1 + WIDE_NECK**2)))
    return WIDE_NECK * depth, depth


def _built(m: Mapping[str, float], shape: _Shape) -> tuple[Array, Array, dict[str, float]]:
    """Heights (m,), radii (ANGLES, m) and levels."""
    from scipy.interpolate import PchipInterpolator
    from scipy.ndimage import gaussian_filter1d

    levels = _levels(m, shape)
    heights = np.arange(-STEP * np.ceil((m["waist-to-knee"] + 60.0) / STEP), levels["nape"] + 60.0, STEP)
    neck_wide, neck_deep = _neck(m, shape)
    half = 0.5 * neck_deep * np.cos(np.radians(TILT))
    tip = 0.5 * neck_wide + (m["shoulder"] + shape.tip) * np.cos(np.radians(SLOPE))
    knots = _knots(m, shape, levels, 0.5 * neck_wide, half, tip)
    names = list(knots)
    # on some bodies two levels all but meet: the upper one gives way
    at = np.array([knots[name][0] for name in names])
    for k in range(1, len(at)):
        at[k] = max(at[k], at[k - 1] + STEP)
    a, front, back, middle, power = (
        PchipInterpolator(at, [knots[name][k] for name in names], extrapolate=True)(heights) for k in range(1, 6)
    )
    fine = gaussian_filter1d(np.array([a, front, back, middle, power]), 20.0 / STEP, axis=1, mode="nearest")
    sharp = gaussian_filter1d(np.array([a, front, back, middle, power]), 3.0 / STEP, axis=1, mode="nearest")
    blend = np.clip((heights - levels["across"]) / 30.0, 0, 1)
    a, front, back, middle, power = (1 - blend) * fine + blend * sharp
    radii = _polar(a, front, back, middle, power)
    radii = _with_bust(radii, heights, levels["bust"], shape.bump, 0.5 * m["bust-span"])
    return heights, _with_neck(radii, heights, levels, neck_wide, neck_deep), levels


def _knots(
    m: Mapping[str, float], shape: _Shape, levels: Mapping[str, float], neck: float, half: float, tip: float
) -> dict[str, tuple[float, ...]]:
    """At each level its height, half width, front and back depth from the axis, where it is widest, and the power."""
    forward = 24.0  # mm that the middle of the waist lies before the middle of the neck's base

    def of(
        name: str, girth: float, aspect: float, front: float, power: float, ahead: float = forward
    ) -> tuple[float, ...]:
        size = girth / 2.0 / (np.pi * np.sqrt(0.5 * (1 + aspect**-2)))
        deep = 2 * size / aspect
        return levels[name], size, ahead + front * deep, ahead - (1 - front) * deep, ahead, power

    scale = shape.scale
    hip, waist, under = (m[name] * scale[name] for name in ("hip", "waist", "under-bust"))
    chest = 0.5 * (under + waist) if under < waist else under
    ribs = of("under-bust", under, 1.36, 0.5, 2.15)
    bust = of("bust", 1.05 * chest, 1.38, 0.46, 2.15)
    arm = of("underarm", 1.07 * chest, 1.42, 0.44, 2.2, 18.0)
    drop = levels["nape"] - levels["side-neck"]
    wide = 0.5 * max(m["across-back"], m["across-chest"]) * 0.985
    at_tip = (levels["shoulder-tip"], tip, half + 12.0, 0.35 * arm[3] - 0.65 * half, 0.0, 2.1)
    at_neck = (levels["side-neck"], neck, 0.3 * half, -half - 0.4 * drop, -4.0, 1.9)
    between = {
        f"shoulder-{k}": tuple((1 - share) * a + share * b for a, b in zip(at_tip, at_neck, strict=True))
        for k, share in enumerate(ALONG_SHOULDER)
    }
    return {
        "end": (levels["knee"] - 80.0, *of("knee", 0.76 * m["hip"], 1.35, 0.5, 2.3)[1:]),
        "knee": of("knee", 0.78 * m["hip"], 1.35, 0.5, 2.3),
        "crotch": of("crotch", 0.965 * hip, 1.42, 0.48, 2.3),
        "hip": of("hip", hip, 1.40, 0.45, 2.2),
        "waist": of("waist", waist, 1.38, 0.5, 2.1),
        "under-bust": ribs,
        "bust": bust,
        "underarm": (arm[0], max(arm[1], 0.9 * wide), *arm[2:]),
        "across": (levels["across"], wide, 0.5 * arm[2] + 0.5 * (half + 24.0), arm[3] - 2.0, 8.0, 2.4),
        "shoulder-tip": at_tip,
        **between,
        "side-neck": at_neck,
        "nape": (levels["nape"], neck * max(1 - drop / 40.0, 0.4), 0.0, -half, -14.0, 2.0),
        "top": (levels["nape"] + 25.0, 0.2 * neck, -0.1 * half, -0.5 * half, -14.0, 2.0),
        "over": (levels["nape"] + 90.0, 0.2 * neck, -0.1 * half, -0.5 * half, -14.0, 2.0),
    }


def _polar(a: Array, front: Array, back: Array, middle: Array, power: Array) -> Array:
    """Radii (ANGLES, m) of superellipses about the axis."""
    angles = np.linspace(0.0, np.pi, ANGLES)
    turn = np.linspace(0.0, np.pi, 1201)
    radii = np.empty((ANGLES, len(a)))
    for k in range(len(a)):
        c, s = np.cos(turn), np.abs(np.sin(turn))
        deep = np.where(c > 0, front[k] - middle[k], middle[k] - back[k])
        z = middle[k] + np.sign(c) * deep * np.abs(c) ** (2 / power[k])
        x = a[k] * s ** (2 / power[k])
        radii[:, k] = np.interp(angles, np.arctan2(x, z), np.hypot(x, z))
    return radii


def _with_bust(radii: Array, heights: Array, level: float, bump: float, half_span: float) -> Array:
    """With two bumps, whose points lie at half the span from the middle."""
    angles = np.linspace(0.0, np.pi, ANGLES)[:, None]
    k = int(np.clip(round((level - heights[0]) / STEP), 0, len(heights) - 1))
    outer = (radii[:, k] + bump) * np.sin(angles[:, 0])
    front = angles[:, 0] < 0.45 * np.pi
    phi = float(np.interp(half_span, outer[front], angles[front, 0]))
    spread = np.where(heights < level, BELOW, ABOVE)
    beside = (angles - phi) * float(radii[round(phi / np.pi * (ANGLES - 1)), k]) / BESIDE
    mirror = (angles + phi) * float(radii[round(phi / np.pi * (ANGLES - 1)), k]) / BESIDE
    up = ((heights - level) / spread) ** 2
    return np.asarray(radii + bump * (np.exp(-(beside**2)) + np.exp(-(mirror**2))) * np.exp(-up)[None, :])


def _with_neck(radii: Array, heights: Array, levels: Mapping[str, float], wide: float, deep: float) -> Array:
    """With the tilted oval column of the neck, above the plane of its base."""
    angles = np.linspace(0.0, np.pi, ANGLES)[:, None]
    tilt = np.radians(TILT)
    centre = 0.5 * (levels["nape"] + levels["pit"])
    shift = ((heights - centre) * np.tan(tilt))[None, :]
    p, q = 0.5 * wide, 0.5 * deep / np.cos(tilt)
    s, c = np.sin(angles), np.cos(angles)
    # |(r s / p, (r c - shift) / q)| = 1
    aa = (s / p) ** 2 + (c / q) ** 2
    bb = -2 * c * shift / q**2
    cc = (shift / q) ** 2 - 1
    root = np.sqrt(np.maximum(bb**2 - 4 * aa * cc, 0.0))
    neck = (-bb + root) / (2 * aa)
    above = heights[None, :] - (centre - neck * c * np.tan(tilt))
    neck = np.where(cc < 0, neck + 3.0 * np.minimum(above + 2.0, 0.0), 0.0)
    return np.asarray(0.5 * (radii + neck + np.sqrt((radii - neck) ** 2 + BLEND**2)))


def _measured(heights: Array, radii: Array, levels: Mapping[str, float], m: Mapping[str, float]) -> dict[str, float]:
    """What the table comes to: girths as a tape lies, lengths over the surface, mm."""
    angles = np.linspace(0.0, np.pi, ANGLES)

    def at(height: float) -> Array:
        k = (height - heights[0]) / STEP
        low = int(np.clip(k, 0, len(heights) - 2))
        return np.asarray((1 - (k - low)) * radii[:, low] + (k - low) * radii[:, low + 1])

    def girth(height: float) -> float:
        r = at(height)
        return hull_length(np.column_stack([r * np.sin(angles), r * np.cos(angles)]))

    found = {name: girth(levels[name]) for name in ("bust", "under-bust", "waist", "hip")}
    spine = np.linspace(levels["waist"], levels["nape"], 120)
    found["nape-to-waist"] = over_length(np.column_stack([spine, [at(h)[-1] for h in spine]]))
    found["neck"] = _neck_girth(at, levels, angles)
    side, tip = levels["side-neck"], levels["shoulder-tip"]
    inner, outer = (float(at(height)[ANGLES // 2]) for height in (side, tip))
    found["shoulder"] = float(np.hypot(outer - inner, side - tip))
    half = 0.5 * m["bust-span"]
    bust = levels["bust"]
    courses = []
    for top, foot in ((side, bust), (bust, levels["waist"])):
        down = np.linspace(top, foot, 70)
        across = half + (inner - half) * np.maximum(down - bust, 0.0) / (side - bust)
        ahead = np.array([_ahead(at(h), angles, x) for h, x in zip(down, across, strict=True)])
        if top == side:
            ahead[0] = 0.0  # the side of the neck, where the section turns back
        courses.append(np.column_stack([across, down, ahead]))
    found["neck-to-bust"] = _over(courses[0])
    found["front-waist-length"] = found["neck-to-bust"] + _over(courses[1])
    return found


def _ahead(radii: Array, angles: Array, x: float) -> float:
    """z of the front at a distance x from the middle."""
    front = angles <= 0.5 * np.pi
    wide = radii[front] * np.sin(angles[front])
    k = int(np.argmax(wide >= x)) if (wide >= x).any() else len(wide) - 1
    if k == 0:
        return float(radii[0])
    share = (x - wide[k - 1]) / max(wide[k] - wide[k - 1], 1e-9)
    z = radii[front] * np.cos(angles[front])
    return float(z[k - 1] + min(share, 1.0) * (z[k] - z[k - 1]))


def _over(course: Array) -> float:
    """mm of a course (n, 3) as a tape lies: straight over hollows, in the plane of height and depth."""
    if len(course) < 2:
        return 0.0
    flat = over_length(course[:, 1:])
    sideways = float(course[-1, 0] - course[0, 0])
    return float(np.hypot(flat, sideways))


def _neck_girth(at: Callable[[float], Array], levels: Mapping[str, float], angles: Array) -> float:
    """mm round the base of the neck: nape, side neck points and pit, level between by the angle."""
    side, centre = levels["side-neck"], 0.5 * (levels["nape"] + levels["pit"])
    rise = 0.5 * (levels["nape"] - levels["pit"])
    height = centre - rise * np.cos(angles) + (side - centre) * np.sin(angles) ** 2
    r = np.array([at(float(h))[k] for k, h in enumerate(height)])
    course = np.column_stack([r * np.sin(angles), height, r * np.cos(angles)])
    return 2 * float(np.linalg.norm(np.diff(course, axis=0), axis=1).sum())
