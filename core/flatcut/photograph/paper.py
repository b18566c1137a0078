"""The paper in a photograph: where it lies on the table, and its edge to a small part of a point of the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.photograph.library import light, vision

COARSE = 560
"""Points across the small picture on which paper and table are told apart."""
FRAME = 0.03
"""Part of the picture along its border that is taken for table to begin with."""
LEAST_CONTRAST = 4.0
"""How many times as far from the table as the table's own unsteadiness the paper's brightness lies at least."""
LEAST_STEP = 0.18
"""Logarithm of how much lighter or darker paper is than the table at least: a fifth."""
LEAST_PAPER = 0.002
"""Part of the picture that paper takes at least."""
SHEET = 1.5
"""How many times as large as its square the sheet of one is taken to be."""
CRUMB = 0.08
"""A patch smaller than this part of the largest is no paper: a pin, a reel, a shadow."""
LOCAL = 61
"""Points of the picture about each one from which the brightness of paper and table is taken there, an odd number."""
NEAR = 4
"""Points from the edge that the brightness is taken at no nearer than: what lies between is blurred."""
REACH = np.arange(-2.5, 2.51, 0.25)
"""Points of the picture across the edge at which the change is looked for."""


def paper_edge(picture: Any, squares: Sequence[Array]) -> Array:
    """The edge of the one paper beside the control squares, (n, 2) points of the picture, about one a point.

    squares: corners of marks on each, (m, 2). Errors: InputError with a sentence for what is in the way.
    """
    cv2 = vision()
    high, wide = picture.shape[:2]
    shrink = min(1.0, COARSE / max(high, wide))
    small = cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    table = _table(small)
    mask = _patch(table.apart, [square * shrink for square in squares])
    return _edge(picture, mask, table)


@dataclass(frozen=True, kw_only=True)
class _Table:
    """bright: coefficients (6, 3) of the logarithm of the table's light over the picture; apart: (h, w) how far each
    point of the small picture is from it.
    """

    bright: Array
    apart: Array

    def at(self, x: Array, y: Array) -> Array:
        """Light of the table at places from 0 to 1 across and down, (..., 3)."""
        return np.asarray(np.exp(_powers(x, y) @ self.bright))


def _powers(x: Array, y: Array) -> Array:
    x, y = np.broadcast_arrays(x, y)
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _linear(picture: Any) -> Any:
    """A picture as light, 32-bit: what is black has a little."""
    return vision().LUT(picture, np.maximum(light(), 1e-3).astype(np.float32))


def _table(small: Any) -> _Table:
    """The table's light, as a bowl over the picture: first from its border, then from all that is like it."""
    cv2 = vision()
    logs = np.log(cv2.GaussianBlur(_linear(small), (0, 0), 1.0).astype(float))
    high, wide = logs.shape[:2]
    x, y = (np.arange(wide) + 0.5) / wide, (np.arange(high) + 0.5) / high
    powers = _powers(x[None, :], y[:, None]).reshape(-1, 6)
    flat = logs.reshape(-1, 3)
    rows, columns = np.meshgrid(y, x, indexing="ij")
    on = (np.minimum(np.minimum(rows, 1 - rows), np.minimum(columns, 1 - columns)) < FRAME).ravel()
    found = np.zeros((6, 3))
    apart = np.zeros(len(flat))
    for turn in range(8):
        some = np.flatnonzero(on)[:: max(1, int(on.sum()) // 20000)]
        found = np.linalg.lstsq(powers[some], flat[some], rcond=None)[0]
        apart = np.sqrt(((flat - powers @ found) ** 2).mean(axis=1))
        inside = apart[some] if turn < 4 else apart[on]
        limit = max(3 * float(np.median(inside)), LEAST_STEP / 3)
        on = on & (apart < limit) if turn < 3 else apart < limit
        if on.sum() < 200:
            raise InputError(
                "the table about the paper is too uneven to be told from it; lay the paper on a plain table, "
                "with table in sight all round"
            )
    return _Table(bright=found, apart=apart.reshape(high, wide))


def _patch(apart: Array, squares: Sequence[Array]) -> BoolArray:
    """Where the paper lies, on the small picture."""
    cv2 = vision()
    free = ~_about(apart.shape, squares)  # white paper of the squares says nothing of how light the other is
    most = max(float(np.quantile(apart[free], 0.995)), 1e-9)
    scaled = np.clip(apart[free] / most * 255, 0, 255).astype(np.uint8)
    level = cv2.threshold(scaled.reshape(-1, 1), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)[0]
    step = float(level) / 255 * most
    above = apart > step
    papered = apart[above & free]
    if step < LEAST_STEP / 2 or len(papered) < LEAST_PAPER * apart.size or _unsteady(papered, apart[~above & free]):
        raise InputError(
            "there is no paper beside the control square that stands out from the table; lay it flat on a plain table "
            "that is much darker or lighter, in even light, apart from the square"
        )
    mask = above.astype(np.uint8)
    _, numbers, about, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    taken = _covered(numbers, squares)
    areas = {k: int(about[k, 4]) for k in range(1, len(about)) if k not in taken}
    largest = max(areas.values(), default=0)
    if largest < LEAST_PAPER * apart.size:
        raise InputError("the paper touches the control square; lay it apart from it, with table between them")
    papers = [k for k, area in areas.items() if area > CRUMB * largest]
    high, wide = apart.shape
    for k in papers:
        x, y, w, h = (int(n) for n in about[k, :4])
        if x <= 1 or y <= 1 or x + w >= wide - 1 or y + h >= high - 1:
            raise InputError(
                "the paper is cut by the border of the picture, or something else lies there; take the picture from "
                "farther away, with table in sight all round the paper"
            )
    if len(papers) > 1:
        raise InputError(
            f"{len(papers)} papers lie beside the control square; take a photograph of each by itself, or lay what "
            "else is on the table aside"
        )
    return np.asarray(numbers == papers[0])


def _unsteady(paper: Array, table: Array) -> bool:
    """Whether the table is not much steadier than the paper is far from it."""
    return float(np.median(paper)) < LEAST_CONTRAST * float(np.median(table))


def _about(shape: tuple[int, ...], squares: Sequence[Array]) -> BoolArray:
    """Where the sheets of control squares lie."""
    cv2 = vision()
    found = np.zeros(shape, dtype=np.uint8)
    for square in squares:
        hull = cv2.convexHull(square.astype(np.float32)).reshape(-1, 2)
        wide = hull.mean(axis=0) + SHEET * (hull - hull.mean(axis=0))
        cv2.fillConvexPoly(found, np.round(wide).astype(np.int32), 1)
    return np.asarray(found > 0)


def _covered(numbers: Any, squares: Sequence[Array]) -> set[int]:
    """The patches that control squares lie on, each by the white about its marks."""
    cv2 = vision()
    taken: set[int] = set()
    for square in squares:
        hull = cv2.convexHull(square.astype(np.float32))
        inside = np.zeros(numbers.shape, dtype=np.uint8)
        cv2.fillConvexPoly(inside, np.round(hull).astype(np.int32), 1)
        taken |= {int(k) for k in np.unique(numbers[inside > 0])}
    return taken - {0}


def _edge(picture: Any, mask: BoolArray, table: _Table) -> Array:
    """The paper's edge where it is half way between table and paper, as bright as both are there."""
    cv2 = vision()
    high, wide = picture.shape[:2]
    fine = cv2.resize(mask.astype(np.uint8), (wide, high), interpolation=cv2.INTER_NEAREST)
    x0, y0, w, h = cv2.boundingRect(fine)
    room = LOCAL
    x1, y1 = min(wide, x0 + w + room), min(high, y0 + h + room)
    x0, y0 = max(0, x0 - room), max(0, y0 - room)
    fine = fine[y0:y1, x0:x1]
    seen = _linear(picture[y0:y1, x0:x1])
    # the light changes slowly, so that every eighth place is enough
    xs, ys = (np.arange(x0, x1 + 8, 8) + 0.5) / wide, (np.arange(y0, y1 + 8, 8) + 0.5) / high
    light_there = table.at(xs[None, :], ys[:, None]).astype(np.float32)
    light_there = cv2.resize(light_there, (len(xs) * 8, len(ys) * 8))[: y1 - y0, : x1 - x0]
    ratio = seen / light_there - 1
    way = np.median(ratio[cv2.erode(fine, np.ones((9, 9), np.uint8)) > 0], axis=0)
    across = ratio @ (way / float(way @ way)).astype(np.float32)
    across = cv2.GaussianBlur(across, (0, 0), 0.8)
    paper = fine
    for _ in range(2):  # the second time from the edge as the first has found it
        share = _share(across, paper)
        paper = _filled(share > 0.5, fine)
    ring = max(cv2.findContours(paper, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0], key=len).reshape(-1, 2)
    return np.asarray(_sharpened(_between(share, ring.astype(float))) + np.array([x0, y0]))


def _share(across: Any, paper: Any) -> Any:
    """How much paper there is at each point, 0 on the table and 1 on the paper, by how bright both are about it."""
    cv2 = vision()
    kernel = np.ones((2 * NEAR + 1, 2 * NEAR + 1), np.uint8)

    def mean(mask: Any, size: int) -> tuple[Any, Any]:
        weight = mask.astype(np.float32)
        total = cv2.boxFilter(weight, -1, (size, size), normalize=True)
        held = cv2.boxFilter(across * weight, -1, (size, size), normalize=True)
        return held / np.maximum(total, 1e-6), total > 0.01

    def level(mask: Any, usual: float) -> Any:
        """From a larger neighbourhood where the usual one has nothing of the mask in it."""
        near, known = mean(mask, LOCAL)
        if known.all():
            return near
        far, seen = mean(mask, 4 * LOCAL + 1)
        return np.where(known, near, np.where(seen, far, usual)).astype(np.float32)

    on = level(cv2.erode(paper, kernel), 1.0)
    off = level(cv2.erode(1 - paper, kernel), 0.0)
    return (across - off) / np.maximum(on - off, 0.1)


def _filled(share: Any, mask: Any) -> Any:
    """The patch that lies most on a mask, without holes."""
    cv2 = vision()
    near = cv2.dilate(mask, np.ones((15, 15), np.uint8))
    _, numbers, about, _ = cv2.connectedComponentsWithStats((share & (near > 0)).astype(np.uint8), connectivity=4)
    best = 1 + int(np.argmax(about[1:, 4]))
    patch = (numbers == best).astype(np.uint8)
    rings = cv2.findContours(patch, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    cv2.drawContours(patch, rings, -1, 1, thickness=-1)
    return patch


def _between(share: Any, ring: Array) -> Array:
    """The ring (n, 2) moved to where the share is a half, across itself."""
    cv2 = vision()
    ahead = np.roll(ring, -3, axis=0) - np.roll(ring, 3, axis=0)
    size = np.hypot(*ahead.T)
    ok = size > 1e-9
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1) / np.maximum(size, 1e-9)[:, None]
    at = (ring[:, None] + REACH[:, None] * normal[:, None]).astype(np.float32)
    seen = cv2.remap(
        share.astype(np.float32), at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(float)
    below, above = seen[:, :-1] - 0.5, seen[:, 1:] - 0.5
    crossing = (below * above <= 0) & (below != above)
    t = REACH[:-1] + (REACH[1] - REACH[0]) * below / np.where(crossing, below - above, 1.0)
    t = np.where(crossing, t, np.inf)
    nearest = np.take_along_axis(t, np.abs(t).argmin(axis=1)[:, None], axis=1)[:, 0]
    ok &= np.isfinite(nearest)
    return np.asarray(ring[ok] + nearest[ok, None] * normal[ok])


SIDE = (3, 10)
"""Places along the edge from which, and to which, the side of a corner is taken: nearer ones are blurred round."""
TURN = 22.0
"""Degrees that the edge turns at what may be a corner."""
ROUNDED = 2.5
"""Points of the picture that the tip of a blunt corner lies at most from where blur has rounded it; that of a sharp one
lies farther off, as the sine of half its angle is smaller."""
AWAY, MOST_BLUNT = 1.5, 15
"""Its sides are looked at so many times as far off, by the sine of half its angle, and so many times at most: nearer to
the tip the blur of both runs together."""


def _sharpened(ring: Array) -> Array:
    """A ring with its corners, which blur has rounded, where their sides meet."""
    n = len(ring)
    near, far = SIDE
    if n < 8 * far:
        return ring
    before = np.roll(ring, near, axis=0) - np.roll(ring, far, axis=0)
    after = np.roll(ring, -far, axis=0) - np.roll(ring, -near, axis=0)
    turn = np.degrees(
        np.abs(np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)))
    )
    most = np.max([np.roll(turn, k) for k in range(-near - 1, near + 2)], axis=0)
    keep = np.ones(n, dtype=np.bool_)
    tips: dict[int, Array] = {}
    some = np.flatnonzero((turn == most) & (turn > TURN))
    for k in some[np.argsort(-turn[some], kind="stable")].tolist():
        tip, sharp, more = None, 1.0, 0
        for _ in range(
            3
        ):  # each time from the place nearest to the tip, and off its blur: the sharper, the longer that is
            at, upto = near + more, far + 2 * more
            corner = _corner(*(ring[(k + way * np.arange(at, upto + 1)) % n] for way in (1, -1)))
            if corner is None:
                break
            tip, sharp = corner
            more = min(int(AWAY / sharp), MOST_BLUNT) - 1
            around = (k + np.arange(-2 * near, 2 * near + 1)) % n
            k = int(around[np.argmin(np.hypot(*(ring[around] - tip).T))])
        if tip is not None and np.hypot(*(tip - ring[k])) <= ROUNDED / sharp and keep[k]:
            keep[(k + np.arange(1 - at, at)) % n] = False
            tips[k] = tip
    made = ring.copy()
    for k, tip in tips.items():
        made[k] = tip
        keep[k] = True
    return np.asarray(made[keep])


def _corner(one: Array, two: Array) -> tuple[Array, float] | None:
    """Where the lines through two rows of points meet, both from the tip on, and the sine of half the angle there; None
    where they are no lines, or run alike."""
    lines = []
    for points in (one, two):
        middle = points.mean(axis=0)
        _, sizes, ways = np.linalg.svd(points - middle, full_matrices=False)
        if sizes[1] > 0.25 * np.sqrt(len(points)):
            return None
        lines.append((middle, ways[0] * np.sign(ways[0] @ (points[-1] - points[0]))))
    (p, v), (q, w) = lines
    across = v[0] * w[1] - v[1] * w[0]
    if abs(across) < 0.1:
        return None
    t = ((q - p)[0] * w[1] - (q - p)[1] * w[0]) / across
    return np.asarray(p + t * v), float(np.sqrt(max(1 - v @ w, 1e-9) / 2))
