"""An exchange file that was written, read again from its bytes and held against the curves that it was made of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from flatcut.errors import OutputError
from flatcut.exchange.layers import BOUNDARY, LAYERS
from flatcut.exchange.sampled import CHORD
from flatcut.formats.dxf import library
from flatcut.geometry.curves import Curve, signed_area
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest

WITHIN = 0.001
"""mm that a point of a written boundary may lie off its curve: ten times what its decimals leave out."""


def prove(data: bytes, boundaries: Sequence[tuple[str, Curve]], *, inch: bool) -> None:
    """Nothing, where each block's boundary lies on its curve, and encloses its area as nearly as chords can.

    boundaries: name and curve of each piece, mm, y down, in the order of the blocks.
    Errors: OutputError that names the piece, or says what else is wrong with the file.
    """
    if max(data, default=0) > 127:
        raise OutputError("the exchange file has letters beyond ASCII and was not written; this is a fault of flatcut")
    drawing, lost = library.loaded(data, name="the exchange file")
    if lost:
        raise OutputError(f"the exchange file would have faults and was not written: {lost[0]}")
    blocks = library.blocks(drawing)
    if len(blocks) != len(boundaries):
        raise OutputError(
            f"the exchange file has {len(blocks)} blocks for {len(boundaries)} pieces and was not written"
        )
    unit = 25.4 if inch else 1.0
    for block, (name, curve) in zip(blocks, boundaries, strict=True):
        outside = {entity.dxf.layer for entity in block} - {str(layer) for layer in LAYERS}
        if outside:
            raise OutputError(f"{name} would stand on layers that the standard does not have: {', '.join(outside)}")
        lines: list[Any] = [e for e in block.query("POLYLINE") if e.dxf.layer == str(BOUNDARY)]
        if len(lines) != 1 or not lines[0].is_closed:
            raise OutputError(f"the boundary of {name} would be {len(lines)} lines, not one closed one")
        points = np.array([(v.dxf.location.x, -v.dxf.location.y) for v in lines[0].vertices]) * unit
        off = float(nearest(curve, points)[1].max())
        x, y = points.T
        area = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
        wrong = abs(area - abs(signed_area(curve)))
        if off > WITHIN or wrong > (CHORD + WITHIN) * length(curve):
            raise OutputError(
                f"the boundary of {name} would lie up to {off:.3f} mm off its curve and enclose {wrong / 100:.2f} cm² "
                "more or less than it; nothing was written"
            )
