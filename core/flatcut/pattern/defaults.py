"""What an edge's use gives until something else is said: common practice of the trade, no source."""

from __future__ import annotations

ALLOWANCES: dict[str, float] = {
    "seam": 10.0,
    "hem": 40.0,
    "opening": 20.0,
    "fold": 0.0,
    "centre": 0.0,
    "finished": 0.0,
}
"""Width of the allowance in mm by the use of the edge."""

NO_ALLOWANCE = frozenset({"fold", "centre", "finished"})
"""Uses that get an allowance only when the edge itself is named."""

CORNERS: dict[str, str] = {"hem": "turned"}
"""Corner kind at both ends of an edge by its use; all others are mitred."""
