"""Photographs of a paper piece on a table, rendered from a known drawing: camera, lens, light, wrinkles and noise.

The camera is that of the general vision library (`cv2.projectPoints`: a pinhole and the lens of D. Brown, Close-range
camera calibration, 1971), which flatcut itself does not use. What is blurred and lit is light, as in a camera; the
file holds it by the curve of IEC 61966-2-1.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
import shapely

from flatcut.geometry.curves import point, polyline
from flatcut.geometry.nearest import nearest
from flatcut.photograph.marks import CELLS, SHARE, cells

TABLE, WHITE, INK = (0.06, 0.07, 0.09), (0.78, 0.8, 0.8), (0.03, 0.03, 0.03)
FINE = 3
"""Parts of a point along each side in which what lies on the table is drawn."""


@dataclass(frozen=True, kw_only=True)
class Shot:
    """paper: (n, 2) mm; squares: number -> (x, y, degrees) of its upper left corner; tilt, about: degrees of the camera
    from upright, and which way; lens: mm on 24 by 36; bends: radial coefficients by the focal length; shadow: how much
    darker the table is at one end; wrinkles: of the paper; noise: of a number between 0 and 255.
    """

    paper: np.ndarray
    squares: dict[int, tuple[float, float, float]]
    side: float = 100.0
    size: tuple[int, int] = (2800, 2100)
    tilt: float = 0.0
    about: float = 30.0
    roll: float = 7.0
    lens: float = 26.0
    bends: tuple[float, float] = (0.0, 0.0)
    wide: float = 900.0
    looks_at: tuple[float, float] | None = None
    shadow: float = 0.0
    wrinkles: float = 0.0
    noise: float = 1.5
    blur: float = 0.7
    colour: tuple[float, float, float] = (0.45, 0.6, 0.7)
    table: tuple[float, float, float] = TABLE
    more: list = field(default_factory=list)
    seed: int = 1

    def project(self, points):
        points = np.asarray(points, dtype=float)
        w, h = self.size
        focal = self.lens / 43.267 * np.hypot(w, h)
        matrix = np.array([[focal, 0, (w - 1) / 2 + 4.0], [0, focal, (h - 1) / 2 - 3.0], [0, 0, 1]])
        at = np.array(self.looks_at) if self.looks_at else (self.paper.max(axis=0) + self.paper.min(axis=0)) / 2
        a, b, c = np.radians([self.about, self.tilt, self.roll])
        axis = np.array([np.cos(a), np.sin(a), 0.0])
        turn = cv2.Rodrigues(axis * b)[0] @ cv2.Rodrigues(np.array([0, 0, c]))[0]
        away = focal * self.wide / w
        shift = np.array([0, 0, away]) - turn @ np.array([*at, 0.0])
        table = np.column_stack([points, np.zeros(len(points))])
        return cv2.projectPoints(table, cv2.Rodrigues(turn)[0], shift, matrix, np.array([*self.bends, 0.0, 0.0]))[
            0
        ].reshape(-1, 2)

    def picture(self):
        """(height, width, 3) numbers from 0 to 255."""
        w, h = self.size
        layer = np.zeros((h * FINE, w * FINE), dtype=np.uint8)
        colours = [self.table, self.colour, WHITE, INK]

        def fill(ring, k):
            dense = np.concatenate(
                [
                    p + np.linspace(0, 1, max(2, int(np.hypot(*(q - p)) / 5)), endpoint=False)[:, None] * (q - p)
                    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True)
                ]
            )
            at = (self.project(dense) + 0.5) * FINE - 0.5
            # the library fills what its outline touches too, which is half a part more on every side
            inner = shapely.Polygon(at).buffer(-0.5, join_style="mitre", mitre_limit=20.0)
            at = np.asarray(inner.exterior.coords)[:-1]
            cv2.fillPoly(layer, [np.round(at * 16).astype(np.int32)], k, shift=4)

        fill(self.paper, 1)
        for ring, k in self.more:
            fill(np.asarray(ring, dtype=float), k)
        for number, (x, y, angle) in self.squares.items():
            c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))

            def placed(points, turn=((c, s), (-s, c)), to=(x, y)):
                return np.asarray(points, dtype=float) @ np.array(turn) + np.array(to)

            edge = 0.18 * self.side
            lo, hi = -edge, self.side + edge
            fill(placed([(lo, lo), (hi, lo), (hi, hi), (lo, hi)]), 2)
            mark = SHARE * self.side
            cell = mark / CELLS
            for k, (i, j) in enumerate([(0, 0), (1, 0), (1, 1), (0, 1)]):
                x0, y0 = i * (self.side - mark), j * (self.side - mark)
                for row, line in enumerate(cells(4 * (number - 1) + k)):
                    for column, black in enumerate(line):
                        if black:
                            p, q = x0 + column * cell, y0 + row * cell
                            fill(placed([(p, q), (p + cell, q), (p + cell, q + cell), (p, q + cell)]), 3)
        # 16 bits hold what a camera's 8 hold by their curve
        table = np.round(np.array(colours) * 65535).astype(np.uint16)
        made = np.stack(
            [
                cv2.resize(table[:, k][layer], (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) / 65535
                for k in range(3)
            ],
            axis=-1,
        )
        x, y = np.meshgrid(np.linspace(0, 1, w, dtype=np.float32), np.linspace(0, 1, h, dtype=np.float32))
        light = 1 - self.shadow * (0.7 * x + 0.3 * y * y)
        if self.wrinkles:
            creases = np.sin(40 * x + 9 * np.sin(7 * y)) + 0.6 * np.sin(63 * y - 8 * np.sin(5 * x))
            sharp = np.exp(-((np.sin(11 * x + 17 * y) / 0.03) ** 2)) - np.exp(
                -((np.sin(11 * x + 17 * y - 0.06) / 0.03) ** 2)
            )
            on = cv2.resize((layer == 1).astype(np.uint8), (w, h), interpolation=cv2.INTER_NEAREST)
            light = light * (1 + self.wrinkles * (0.5 * creases + sharp) * on)
        made = cv2.GaussianBlur(made * light[..., None], (0, 0), self.blur)
        coded = np.where(made <= 0.0031308, 12.92 * made, 1.055 * np.clip(made, 0.0031308, 1) ** (1 / 2.4) - 0.055)
        noise = np.random.default_rng(self.seed).normal(0, self.noise, coded.shape).astype(np.float32)
        return np.clip(np.round(coded * 255 + noise), 0, 255).astype(np.uint8)


def block():
    """A front of 24 by 50 cm with neck, armhole, a bust dart cut out and two V notches, (n, 2) mm, clockwise."""

    def arc(p, q, bulge, n=60):
        p, q = np.array(p, dtype=float), np.array(q, dtype=float)
        t = np.linspace(0, 1, n)[:, None]
        return p + t * (q - p) + 4 * t * (1 - t) * bulge * np.array([q[1] - p[1], p[0] - q[0]]) / np.hypot(*(q - p))

    neck = arc((0, 70), (70, 0), -22)
    armhole = arc((195, 45), (240, 190), -26)
    side = [(240, 240), (130, 252), (239, 268)]  # a dart of 15°
    v_side = [(236, 318), (231, 321), (236.4, 324)]
    ring = [*neck, *armhole, *side, *v_side, (232, 500), (120, 504), (116.5, 498), (113, 503.7), (0, 500)]
    return np.array(ring, dtype=float)


def off(outline, paper, square):
    """mm that the points of an outline, in the coordinates of a square, lie off the paper that it is of, (n,)."""
    x, y, angle = square
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    ring = polyline([*paper, paper[0]])
    at = outline.nodes @ np.array([[c, s], [-s, c]]) + np.array([x, y])
    for _ in range(12):  # laid on each other: where the square lay is no part of the shape
        to = point(ring, nearest(ring, at)[0])
        a, b = at - at.mean(axis=0), to - to.mean(axis=0)
        u, _, v = np.linalg.svd(a.T @ b)
        at = a @ (u @ v) + to.mean(axis=0)
    return nearest(ring, at)[1]
