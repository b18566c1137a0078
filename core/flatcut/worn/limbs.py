"""Arms and legs of a form: round bars that taper along a bent axis. One side is held, the other is its mirror image.

The proportions where nothing is measured are those of common dress forms (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array

OUT, AHEAD, BENT = np.radians(26.0), np.radians(4.0), np.radians(14.0)
"""How far the arm is lifted from hanging down, how far it reaches forward, and how far the elbow is bent."""
TIP = np.radians(40.0)
"""Where on the ball of the shoulder its tip lies: from straight up, outward."""
BALL, ELBOW, HAND = 0.93, 0.86, 60.0
"""Of the upper arm's radius at the shoulder and the elbow; mm of arm beyond the wrist."""
FULLEST, AT_ELBOW = 0.22, 0.56
"""Of the way to the wrist: where the upper arm is fullest, where the elbow is."""
THIGH, KNEE, CALF, ANKLE = 0.58, 0.385, 0.37, 0.25
"""Girths of the leg as parts of the hip's."""


@dataclass(frozen=True, kw_only=True)
class Limb:
    """An arm or a leg on the wearer's left: spheres along an axis and all that lies between them.

    name: arm or leg; axis (k, 3) mm, from the body outward; radii (k,) mm; begins: mm along the axis at
    which a sleeve's crown or a leg's top begins.
    """

    name: str
    axis: Array
    radii: Array
    begins: float = 0.0

    def near(self, points: Array) -> tuple[Array, Array]:
        """Distance (n,) mm of points (n, 3) from the limb or its mirror image, exact; and its slope (n, 3)."""
        side = np.where(points[:, :1] < 0, (-1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
        at = points * side
        found, way = np.full(len(at), np.inf), np.zeros_like(at)
        for k in range(len(self.axis) - 1):
            a, b, r, s = self.axis[k], self.axis[k + 1], self.radii[k], self.radii[k + 1]
            long = float(np.linalg.norm(b - a))
            along = (b - a) / long
            taper = (r - s) / long
            up = (at - a) @ along
            off = np.linalg.norm((at - a) - up[:, None] * along, axis=1)
            # the sphere of all those between that comes nearest
            share = np.clip((up - off * taper / np.sqrt(1 - taper**2)) / long, 0.0, 1.0)
            out = at - (a + share[:, None] * (b - a))
            size = np.maximum(np.linalg.norm(out, axis=1), 1e-9)
            here = size - (r + share * (s - r))
            nearer = here < found
            found = np.where(nearer, here, found)
            way = np.where(nearer[:, None], out / size[:, None], way)
        return found, way * side

    def around(self, along: Array, turn: Array, off: Array) -> Array:
        """Points (n, 3): mm along the axis from its start, radians from the outside over the front, mm off the limb."""
        long = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(self.axis, axis=0), axis=1))])
        k = np.clip(np.searchsorted(long, along, side="right") - 1, 0, len(self.axis) - 2)
        ways = np.diff(self.axis, axis=0) / np.diff(long)[:, None]
        middle = self.axis[k] + (along - long[k])[:, None] * ways[k]
        out = np.array([1.0, 0.0, 0.0]) - ways[:, :1] * ways
        out /= np.linalg.norm(out, axis=1)[:, None]
        front = np.cross(ways, out)
        front *= np.sign(front[:, 2:])
        radius = np.interp(along, long, self.radii) + off
        return np.asarray(
            middle + radius[:, None] * (np.cos(turn)[:, None] * out[k] + np.sin(turn)[:, None] * front[k])
        )

    def mesh(self) -> tuple[Array, Array]:
        """Points (n, 3) and triangles (t, 3) of its surface."""
        long = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(self.axis, axis=0), axis=1))])
        r = self.radii[0]
        cap = np.linspace(-1.0, 0.0, 7)[1:-1]
        rows = np.concatenate([r * np.sin(0.5 * np.pi * cap), np.linspace(0.0, long[-1], 40)])
        thin = np.concatenate([r * (np.cos(0.5 * np.pi * cap) - 1.0), np.zeros(40)])
        turn = np.linspace(0.0, 2 * np.pi, 33)[:-1]
        grid = self.around(np.repeat(rows, 32), np.tile(turn, len(rows)), np.repeat(thin, 32))
        i, j = np.meshgrid(np.arange(len(rows) - 1), np.arange(32), indexing="ij")
        a, b = (32 * i + j).ravel(), (32 * i + (j + 1) % 32).ravel()
        return grid, np.vstack([np.column_stack([a, b, b + 32]), np.column_stack([a, b + 32, a + 32])])


def usual_limbs(m: Mapping[str, float]) -> dict[str, float]:
    """Measurements of arms and legs that follow from bust and hip where they were not taken (common practice)."""
    return {
        "top-arm": 288.0 + 0.32 * (m["bust"] - 900.0),
        "wrist": 162.0 + 0.09 * (m["bust"] - 900.0),
        "sleeve-length": 588.0 + 0.06 * (m["bust"] - 900.0),
        "body-rise": 284.0 + 0.17 * (m["hip"] - 970.0),
        "waist-to-floor": 1042.0,
    }


def arm(m: Mapping[str, float], tip: Array) -> Limb:
    """The arm from the shoulder tip (3,), with its measurements: top-arm, wrist, sleeve-length, mm."""
    full, wrist = m["top-arm"] / (2 * np.pi), m["wrist"] / (2 * np.pi)
    ball = BALL * full
    start = tip - ball * np.array([np.sin(TIP), np.cos(TIP), 0.0])
    upper = np.array([np.sin(OUT), -np.cos(OUT) * np.cos(AHEAD), np.cos(OUT) * np.sin(AHEAD)])
    lower = np.array([0.9 * np.sin(OUT), -np.cos(OUT) * np.cos(AHEAD + BENT), np.cos(OUT) * np.sin(AHEAD + BENT)])
    upper, lower = upper / np.linalg.norm(upper), lower / np.linalg.norm(lower)
    # over the ball the tape goes from its tip to where the arm's outside begins
    long = m["sleeve-length"] - ball * (0.5 * np.pi - OUT - TIP)
    elbow = start + AT_ELBOW * long * upper
    wrist_at = elbow + (1 - AT_ELBOW) * long * lower
    axis = np.array([start, start + FULLEST * long * upper, elbow, wrist_at, wrist_at + HAND * lower])
    radii = np.array([ball, full, ELBOW * full, wrist, wrist])
    return Limb(name="arm", axis=axis, radii=radii, begins=float((tip - start) @ upper))


def leg(m: Mapping[str, float], ahead: float, hip: tuple[float, float]) -> Limb:
    """The leg below a crotch at the body rise. ahead: z of its middle, mm; hip: where it is flush with the
    trunk, half its width there and mm above the crotch."""
    thigh, knee, calf, ankle = (share * m["hip"] / (2 * np.pi) for share in (THIGH, KNEE, CALF, ANKLE))
    top = -m["body-rise"]
    floor = -m["waist-to-floor"]
    at_knee = -m["waist-to-knee"]
    axis = np.array(
        [
            (hip[0] - 0.9 * thigh, top + hip[1], ahead),
            (thigh + 1.0, top - 30.0, ahead),
            (knee + 24.0, at_knee, ahead + 6.0),
            (calf + 26.0, at_knee + 0.28 * (floor - at_knee), ahead - 4.0),
            (ankle + 46.0, floor + 90.0, ahead - 14.0),
            (ankle + 46.0, floor + 20.0, ahead - 14.0),
        ]
    )
    return Limb(name="leg", axis=axis, radii=np.array([0.9 * thigh, thigh, knee, calf, ankle, ankle]))
