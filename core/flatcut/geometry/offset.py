"""The offset of one curve: a parallel line at a constant or tapering width, as few cubics within a tolerance.

Sign: a positive width lies to the LEFT of the walking direction as seen on the screen (y down), which is outside for a
clockwise outline; a negative one to the right.
"""

from __future__ import annotations

import math

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.offset_corners import UNEQUAL, UNSOLVED, Rules, solve_joints, turn_at
from flatcut.geometry.offset_exact import trace
from flatcut.geometry.offset_fit import UnfitError
from flatcut.geometry.offset_ring import Chains, assemble, courses, gather, runs_between, sound

KINK_LIMIT = 3.0
"""Tips at the small kinks inside an edge are cut off beyond this many widths (never at a small one)."""


CUSP = 0.08
"""Least 1 + k d: nearer to a cusp the offset turns so sharply that nobody could edit its cubics."""


def offset_curve(
    curve: Curve, width: float, *, end_width: float | None = None, tolerance: float = 0.05, name: str = ""
) -> Curve:
    """The curve `width` mm to the left (negative: right); `end_width`: tapering to it along the arc length.

    Method: least-squares G1 cubics, piece by piece of the source (offset_fit). The true deviation, both ways, is within
    `tolerance` mm. Kinks between spans are mitred or trimmed. Lines give lines. Not handled: loops. Errors:
    GeometryError where the curve is bent more sharply than its width allows, with the place and the radius; use
    `offset_outline` for outlines, which removes the loops.

    >>> from flatcut.geometry.curves import line
    >>> offset_curve(line((0, 0), (9, 0)), 2).nodes
    array([[ 0., -2.],
           [ 9., -2.]])
    """
    far = width if end_width is None else end_width
    if not (math.isfinite(width) and math.isfinite(far)) or width * far < 0:
        raise GeometryError(f"a width from {width} to {far} mm does not stay on one side; give both the same sign")
    right = width < 0 or far < 0
    chains = gather([[curve]], [[(abs(width), abs(far))]], [right], False)
    inner = np.arange(len(curve) - 1)
    limit = np.full(len(inner), KINK_LIMIT)
    no, turn = np.zeros(len(inner), dtype=np.bool_), turn_at(chains.rows, inner, inner + 1)
    joints = solve_joints(chains.rows, inner, inner + 1, Rules(limit, limit, no, no, no, no, turn), tolerance=tolerance)
    runs = runs_between(chains, inner, joints, {}, tolerance=tolerance)
    course = courses(chains, runs)
    good = sound(chains, runs, course, least=CUSP)
    if not good.all() or np.isin(joints.state, (UNEQUAL, UNSOLVED)).any():
        raise GeometryError(_too_sharp(chains, curve, max(abs(width), abs(far)), name))
    try:
        spans = assemble(chains, np.ones(1, dtype=np.bool_), runs, course, {}, tolerance=tolerance)
    except UnfitError:
        raise GeometryError(_too_sharp(chains, curve, max(abs(width), abs(far)), name)) from None
    controls = spans.controls
    if right:
        controls[..., 1] *= -1.0
    return Curve(controls, spans.straight)


def _too_sharp(chains: Chains, curve: Curve, width: float, name: str) -> str:
    """The sentence for a curve that its offset cannot follow: the sharpest place and the radius there."""
    t = np.linspace(0, 1, 65)[None].repeat(len(chains.rows), axis=0)
    at = trace(chains.rows, np.arange(len(t)), t)
    row, k = np.unravel_index(np.argmin(at.factor), at.factor.shape)
    who = f"edge '{name}'" if name else "the curve"
    if at.factor[row, k] > CUSP:
        return f"the spans of {who} are too short or too bent for an allowance of {width:g} mm; make it smaller"
    radius = width / (1 - float(at.factor[row, k]))
    x, y = point(curve, row + t[row, k])
    return (
        f"{who} has a radius of {radius:.1f} mm, too tight for an allowance of {width:g} mm on its hollow side "
        f"(near {x:.1f}, {y:.1f}); make the allowance smaller or ease the curve"
    )
