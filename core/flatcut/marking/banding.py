"""The closed outline cut where the allowance changes within an edge, so that each stretch has one width, or tapers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from flatcut.geometry.curves import Curve, section
from flatcut.geometry.length import length, place_at
from flatcut.pattern.values import Dart, Edge
from flatcut.pattern.widths import LEAST, bands, even_width, width_at


class Stretch(Protocol):
    """What is cut: a stretch of the outline, or half a dart's cap; last: an edge's corner is at its end."""

    @property
    def edge(self) -> Edge:
        """The edge that it belongs to."""

    @property
    def curve(self) -> Curve:
        """What is drawn of it."""

    @property
    def dart(self) -> Dart | None:
        """The dart whose cap it is half of, if it is."""

    @property
    def last(self) -> bool:
        """Whether an edge's corner is at its end."""

    @property
    def reach(self) -> float:
        """mm beyond its end that the cut line goes at most, 0 for what the corner allows."""


class Banded(NamedTuple):
    """A stretch with one allowance, linear from `width` to `end_width`, mm.

    stepped: it ends where that jumps; reach: as in Stretch.
    """

    edge: Edge
    curve: Curve
    width: float
    end_width: float
    dart: Dart | None = None
    last: bool = False
    stepped: bool = False
    reach: float = 0.0


def banded(stretches: Sequence[Stretch]) -> list[Banded]:
    """The stretches of an outline, in order, each in as many as its edge's allowance has bands on it.

    A dart's cap has the width that its edge has at the dart.
    """
    found: list[Banded] = []
    walked: dict[str, float] = {}
    for rim in stretches:
        before = walked.get(rim.edge.uid, 0.0)
        if rim.dart is not None or _even(rim.edge, rim.curve):
            width = width_at(rim.edge, before, before=before > 0)
            found.append(
                Banded(
                    edge=rim.edge,
                    curve=rim.curve,
                    dart=rim.dart,
                    width=width,
                    end_width=width,
                    last=rim.last,
                    reach=rim.reach,
                )
            )
            continue
        total = length(rim.curve)
        walked[rim.edge.uid] = before + total
        mine = [band for band in bands(rim.edge) if band.end > before + LEAST and band.start < before + total - LEAST]
        for k, band in enumerate(mine):
            start, end = max(band.start, before), min(band.end, before + total)
            last = k == len(mine) - 1
            u0 = place_at(rim.curve, start - before) if k else 0.0
            u1 = float(len(rim.curve)) if last else place_at(rim.curve, end - before)
            found.append(
                Banded(
                    edge=rim.edge,
                    curve=section(rim.curve, u0, u1) if len(mine) > 1 else rim.curve,
                    width=band.at(start),
                    end_width=band.at(end),
                    last=rim.last and last,
                    reach=rim.reach if last else 0.0,
                    stepped=not last and abs(band.at(end) - mine[k + 1].at(end)) > LEAST,
                )
            )
    return found


def _even(edge: Edge, curve: Curve) -> bool:
    """Whether an edge has one allowance all along, so that no length has a say, on a stretch that is no crumb."""
    return even_width(edge) is not None and float(np.abs(curve.nodes - curve.start).max()) > LEAST
