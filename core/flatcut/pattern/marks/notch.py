"""A notch: where two edges meet when they are sewn, or where a fold or a seam begins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.edges import Edge
from flatcut.pattern.finish import Position
from flatcut.pattern.marks.mark import Compared, Mark, Marked, OnEdge
from flatcut.pattern.sound import hold, hold_finite, hold_position
from flatcut.pattern.walking import nearest_drawn, point_at, sewn_at, sewn_length, to_drawn, to_sewn

NOTCH_KINDS = ("slit", "v", "castle", "u", "t")
OWN_EDGE = 2.0
"""mm: a notch put to where two edges are about as near stays on its own."""


@dataclass(frozen=True, kw_only=True)
class Notch(Mark):
    """`count` marks, `apart` mm from each other, about a place on an edge; depth: mm, 'in' or 'out' of the cut line."""

    uid: str
    edge: str
    at: Position
    kind: str = "slit"
    count: int = 1
    depth: float = 3.0
    into: str = "in"
    apart: float = 8.0

    role: ClassVar[str] = "notch"
    plural: ClassVar[str] = "notches"
    table: ClassVar[str] = "notches"
    home: ClassVar[str] = "notches"

    def referring(self, uids: Mapping[str, str]) -> Notch:
        return replace(self, edge=uids.get(self.edge, self.edge))

    def stands_on(self) -> OnEdge:
        return OnEdge(self.edge, self.at)

    def put_on(self, edge: str, at: Position) -> Notch:
        return replace(self, edge=edge, at=at)

    def place(self, piece: Marked) -> Array:
        """Its place on the edge's stitch line, (2,) mm."""
        edge = piece.edge_of(self.edge)
        return point_at(edge, to_drawn(edge, sewn_at(edge, self.at)))[0]

    def put(self, piece: Marked, at: Array) -> Notch:
        """At the place of an edge that is nearest; it is counted from where it was counted before."""

        def away(edge: Edge) -> float:
            there = point_at(edge, nearest_drawn(edge, at))[0]
            return float(np.linalg.norm(there - at)) - (OWN_EDGE if edge.uid == self.edge else 0.0)

        edge = min(piece.edges, key=away)
        sewn, total = to_sewn(edge, nearest_drawn(edge, at)), sewn_length(edge)
        value = {"start": sewn, "end": total - sewn, "fraction": sewn / total}[self.at.mode]
        return replace(self, edge=edge.uid, at=Position(mode=self.at.mode, value=value))

    def told(self, piece: Marked) -> str:
        return f"a notch on {piece.edge_of(self.edge).name}"

    def record(self) -> dict[str, Any]:
        return {
            "uid": self.uid,
            "edge": self.edge,
            "at": [self.at.mode, self.at.value],
            "kind": self.kind,
            "count": self.count,
            "depth": self.depth,
            "into": self.into,
            "apart": self.apart,
        }

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Notch:
        mode, value = record["at"][:2]
        return cls(
            uid=record["uid"],
            edge=record["edge"],
            at=Position(mode=mode, value=float(value)),
            kind=record["kind"],
            count=record["count"],
            depth=float(record["depth"]),
            into=record.get("into", "in"),
            apart=float(record.get("apart", 8.0)),
        )

    def hold(self, piece: Marked) -> None:
        hold(any(edge.uid == self.edge for edge in piece.edges))
        hold(self.kind in NOTCH_KINDS and self.into in ("in", "out"))
        hold_position(self.at)
        hold(type(self.count) is int and 1 <= self.count <= 9)
        hold_finite(self.depth, self.apart)

    def listed(self, piece: Marked) -> dict[str, Any]:
        edge = piece.edge_of(self.edge)
        return {
            "edge": edge.name,
            "at": sewn_at(edge, self.at),
            "kind": self.kind,
            "count": self.count,
            "depth": self.depth,
            "point": self.place(piece),
        }

    def compared(self, piece: Marked) -> Compared:
        said = (piece.edge_of(self.edge).name, self.at.mode, self.kind, self.count)
        return Compared(said=said, sizes=(("at", self.at.value), ("depth", self.depth)))
