"""The proof of a lay, by areas and distances of the cut lines themselves; it shares nothing with how it was found."""

from __future__ import annotations

from collections import Counter

from flatcut.errors import GeometryError
from flatcut.geometry.region import nearest_pairs, overlap_area
from flatcut.lay.values import Lay

OVERLAP = 0.01
"""mm²: what two cut lines may share, for the rounding of figures."""
SHORT = 0.01
"""mm: how much of the gap, or of the cloth's edge, may be wanting for the same reason."""


def hold(lay: Lay, *, gap: float) -> None:
    """Raise for a lay that is not one: something missing or twice, off the cloth, over another or too near to it.

    Errors: GeometryError that names the pieces.
    """
    counted = Counter(placed.item for placed in lay.placed)
    for number, item in enumerate(lay.items):
        if counted[number] != 1:
            raise GeometryError(f"{item.name} was laid {counted[number]} times instead of once")
    rings = lay.rings()
    for placed, ring in zip(lay.placed, rings, strict=True):
        name = lay.items[placed.item].name
        low, high = ring[:, 1].min(), ring[:, 1].max()
        if low < -SHORT or high > lay.width + SHORT or ring[:, 0].min() < -SHORT:
            raise GeometryError(f"{name} was laid beyond the edge of the cloth")
        if not any(abs((placed.turn - turn + 180.0) % 360.0 - 180.0) < 1e-6 for turn in lay.items[placed.item].turns):
            raise GeometryError(f"{name} was laid turned by {placed.turn:g}°, off its grain")
    for one, two, distance in nearest_pairs(rings, within=gap):
        names = " and ".join(lay.items[lay.placed[k].item].name for k in (one, two))
        shared = overlap_area(rings[one], rings[two])
        if shared > OVERLAP:
            raise GeometryError(f"{names} were laid over each other, by {shared:.2f} mm²")
        if distance < gap - SHORT:
            raise GeometryError(f"{names} were laid {distance:.2f} mm apart instead of {gap:g}")
