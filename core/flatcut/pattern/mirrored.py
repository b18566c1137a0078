"""Half an end of a fold: a seam edge mirrored across the line that the cloth is folded on, up to the next fold."""

from __future__ import annotations

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest

SAME = 1e-6
"""mm: an edge that ends this near to the line ends on it, so that no span of no length is left there."""


def mirrored_half(away: Curve, fold: tuple[Array, Array], until: Curve, *, reach: float, name: str) -> Curve:
    """The edge that leaves a fold, mirrored across it, up to the line `until`.

    away: the edge, from the fold on; fold: two points (2,) of it; reach: mm that an edge which is too short is drawn
    straight on. Errors: GeometryError when the image never meets the line.
    """
    image = transform(away, Affine.reflection(*fold))
    met = crossings(image, until)
    if met:
        return section(image, 0.0, min(c.u for c in met))
    if nearest(until, image.end)[1] < SAME:
        return image
    # the edge is shorter than half the mouth: it runs straight on
    onward = chain([image, line(image.end, image.end + reach * tangent(image, float(len(image)), before=True))])
    met = [c for c in crossings(onward, until) if c.u > 1e-9]
    if not met:
        raise GeometryError(
            f"the edge beside {name} runs along the fold, so what is folded has no end; redraw the edge"
        )
    return section(onward, 0.0, min(c.u for c in met))


def between(curve: Curve, start: Array, end: Array) -> Curve:
    """The curve with its ends on points that differ from them by rounding only."""
    controls = np.array(curve.controls)
    controls[0, 0], controls[-1, 3] = start, end
    return Curve(controls, curve.straight)
