"""Left and right: one is the mirror image of the other."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.copies.vents_lined import vents_of
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Edge, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, point_at, sewn_length
from flatcut.units import plain

SAMPLES = 25
"""Places along each edge that are compared, its ends among them."""
ROUNDS = 8
"""Fits of one piece on the other."""


@dataclass(frozen=True, kw_only=True)
class Pairs(Check):
    """Pieces for the left and the right that have one name are mirror images of each other."""

    apart: float = length(0.1, ("pairs: sides differ by", "how much left and right may"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Left and right pieces that differ, or that are both for the same side."""
        for left, right in pairs(subject.pattern):
            where = (left.name, right.name)
            names = {edge.name for edge in left.edges}
            if names != {edge.name for edge in right.edges}:
                text = f"{left.name} and {right.name} have edges of other names; make one the mirror image of the other"
                yield Finding(check=self.name, severity=WARNING, where=where, text=text)
                continue
            unlike = _unlike(subject.pattern, left, right)
            mirrored, edge = _away(left, right, unlike, mirrored=True)
            if mirrored <= self.apart:
                yield from self._notches(left, right, unlike)
                continue
            alike, _ = _away(left, right, unlike, mirrored=False)
            if alike <= self.apart:
                text = f"{left.name} and {right.name} are both for one side; turn one into its mirror image"
                yield Finding(check=self.name, severity=FAULT, where=where, text=text)
                continue
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(f"{left.name}.{edge}", f"{right.name}.{edge}"),
                text=f"{left.name}.{edge} and the mirror image of {right.name}.{edge} lie up to {plain(mirrored)} mm "
                f"apart; make one piece the mirror image of the other",
                figure=mirrored,
                passes=self.apart,
            )

    def _notches(self, left: Piece, right: Piece, unlike: Collection[str]) -> Iterator[Finding]:
        turned = area(left) * area(right) > 0  # drawn the same way round, mirror images run against each other
        for edge in left.edges:
            if edge.name in unlike:
                continue
            other = right.edge(edge.name)
            one, two = _marks(left, edge), _marks(right, other)
            total = sewn_length(other)
            two = sorted(total - at for at in two) if turned else two
            away = max((abs(p - q) for p, q in zip(one, two, strict=False)), default=0.0)
            if len(one) != len(two) or away > max(self.apart, 0.1):
                a, b = f"{left.name}.{edge.name}", f"{right.name}.{edge.name}"
                how = (
                    f"{len(one)} and {len(two)} notches" if len(one) != len(two) else f"notches {plain(away)} mm apart"
                )
                yield Finding(
                    check=self.name,
                    severity=FAULT,
                    where=(a, b),
                    text=f"{a} and {b}, its mirror image, have {how}; set them alike",
                    figure=away,
                    passes=self.apart,
                )


def pairs(pattern: Pattern) -> list[tuple[Piece, Piece]]:
    """Pieces for the left with those of the same name and material for the right; a side may end the name."""
    found = []
    rights = {_stem(p): p for p in pattern.pieces if p.side == "right"}
    for piece in pattern.pieces:
        if piece.side == "left" and _stem(piece) in rights:
            found.append((piece, rights[_stem(piece)]))
    return found


def _stem(piece: Piece) -> tuple[str, str]:
    return piece.name.removesuffix(f"-{piece.side}"), piece.material


def _marks(piece: Piece, edge: Edge) -> list[float]:
    return sorted(notch.at.along(sewn_length(edge)) for notch in piece.notches if notch.edge == edge.uid)


def _unlike(pattern: Pattern, left: Piece, right: Piece) -> set[str]:
    """Names of edges in which the two linings of a vent differ: one lines the overlay, the other the underlay."""
    of = [piece.source.of[0] for piece in (left, right) if piece.source and piece.source.kind == "lining"]
    source = next((p for p in pattern.pieces if len(of) == 2 and of[0] == of[1] == p.uid), None)
    if source is None:
        return set()
    return {edge.name for vent in vents_of(source) for edge in (vent.top, vent.free, vent.hem)}


def _away(left: Piece, right: Piece, unlike: Collection[str], *, mirrored: bool) -> tuple[float, str]:
    """mm by which the best laid image of `right` misses `left` at most, and the edge where it does."""
    turned = (area(left) * area(right) > 0) == mirrored
    edges = [edge for edge in left.edges if edge.name not in unlike]
    one = np.array([_samples(edge, turned=False) for edge in edges])
    two = np.array([_samples(right.edge(edge.name), turned=turned) for edge in edges])
    image = _laid(one.reshape(-1, 2), two.reshape(-1, 2), mirrored=mirrored)
    miss = np.linalg.norm(image - one.reshape(-1, 2), axis=1).reshape(one.shape[:2])
    return float(miss.max()), edges[int(miss.max(axis=1).argmax())].name


def _laid(p: Array, q: Array, *, mirrored: bool) -> Array:
    """The points q (n, 2) laid on p by a rigid motion, with a mirror image where one is wanted.

    After a fit by least squares (Kabsch 1976) it is fitted again by the half that lies best, some times over: what
    differs then stands out, instead of pulling everything along.
    """
    kept = np.ones(len(p), dtype=bool)
    image = q
    for _ in range(ROUNDS):
        middle_p, middle_q = p[kept].mean(axis=0), q[kept].mean(axis=0)
        u, _, vt = np.linalg.svd((q[kept] - middle_q).T @ (p[kept] - middle_p))
        sign = np.linalg.det(u @ vt) * (-1.0 if mirrored else 1.0)
        turn = u @ np.diag([1.0, 1.0 if sign > 0 else -1.0]) @ vt
        image = (q - middle_q) @ turn + middle_p
        miss = np.linalg.norm(image - p, axis=1)
        kept = miss <= np.median(miss) + 1e-9
    return image


def _samples(edge: Edge, *, turned: bool) -> Array:
    total = drawn_length(edge)
    found = np.array([point_at(edge, total * k / (SAMPLES - 1))[0] for k in range(SAMPLES)])
    return found[::-1] if turned else found
