"""Closed darts: the edge runs on across them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import number
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import tangent
from flatcut.pattern.seam_ends import end_way
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.pattern.walking import point_at
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class DartKink(Check):
    """The edge that a dart opens on runs on without a kink once the dart is closed."""

    most: float = number(
        2.0, ("darts: kink, degrees", "of the edge once they are closed, that passes"), low=0, high=90, digits=1
    )
    meant: float = number(
        30.0, ("darts: meant kink, degrees", "from which on a corner is meant"), low=0, high=180, digits=1
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Darts over which the closed edge has a kink."""
        for piece in subject.pattern.pieces:
            for dart in piece.darts:
                kink = closed_kink(piece, dart)
                if kink is None or not self.most < abs(kink) < self.meant:
                    continue
                name, host = f"{piece.name}.{dart.name}", f"{piece.name}.{piece.edge_of(dart.host).name}"
                yield Finding(
                    check=self.name,
                    # a dart that is drawn as lines has its straight edge between the feet until it is trued
                    severity=FAULT if dart.form == "cut" else WARNING,
                    where=(name, host),
                    text=f"with {name} closed {host} has a kink of {plain(abs(kink))}°; make it fair with: true {host}",
                    figure=kink,
                    unit="°",
                    passes=self.most,
                )


def closed_kink(piece: Piece, dart: Dart) -> float | None:
    """Degrees by which the edge turns where the closed dart's feet meet; None for a dart in a corner or inside."""
    if not dart.host:
        return None
    host = piece.edge_of(dart.host)
    ways = _ways(host, dart)
    if ways is None:
        return None
    before, after = ways
    # at each foot the angle between the edge, walked away from the dart, and the leg; together a straight line
    one = _between(-before, tangent(dart.legs[0], 0.0))
    two = _between(after, -end_way(dart.legs[1]))
    return 180.0 - one - two


def _ways(host: Edge, dart: Dart) -> tuple[Array, Array] | None:
    """Direction of the edge where it comes to the first foot and where it leaves the second."""
    if dart.form == "cut":
        if dart.after >= len(host.parts) - 1:
            return None
        return end_way(host.parts[dart.after]), tangent(host.parts[dart.after + 1], 0.0)
    places = [nearest_drawn(host, foot) for foot in dart.feet]
    return point_at(host, places[0])[1], point_at(host, places[1])[1]


def _between(a: Array, b: Array) -> float:
    return math.degrees(math.acos(float(np.clip(a @ b, -1.0, 1.0))))
