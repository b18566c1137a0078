"""Copies, facings, linings and fusing against the pieces that they were made of."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.checks.check import Check, Subject
from flatcut.copies.vents_lined import vents_of
from flatcut.copies.widths import laid_on, narrower, rigid
from flatcut.declared.fields import further, length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import chain, flatten, point
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.pattern.sources import looks
from flatcut.pattern.sourcing import changed, derived_from, edges_by_uid, sources_of
from flatcut.pattern.values import Edge, Pattern, Piece, area, outline
from flatcut.units import plain

TAB = "Derived pieces"
"""The tab of a dialog on which its fields stand."""


@dataclass(frozen=True, kw_only=True)
class Derived(Check):
    """A piece that was made of others is as they are today: its edge lies on theirs, a lining is no narrower."""

    moved: float = further(
        length(0.5, ("derived pieces: source moved by", "how far what a piece was made of may have"), high=100), TAB
    )
    off: float = further(length(1.0, ("facings: off their edge by", "how far it may lie"), high=100), TAB)
    less: float = further(length(0.5, ("linings: narrower by", "than its piece by how much it may be"), high=100), TAB)
    hangs: float = further(
        length(0.5, ("linings: below the hem by", "of its piece by how much it may reach"), high=100), TAB
    )
    out: float = further(length(0.2, ("fusing: outside by", "the cut line by how much it may lie"), high=100), TAB)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Pieces that are older than what they were made of, or do not fit it."""
        pattern = subject.pattern
        faulty: set[str] = set()
        for piece in pattern.pieces:
            of = sources_of(pattern, piece)
            # what is made of a piece that does not fit is not told as well
            found = [] if any(one.uid in faulty for one in of) or not of else self._of(subject, piece)
            if found:
                faulty.add(piece.uid)
            yield from found

    def _of(self, subject: Subject, piece: Piece) -> list[Finding]:
        """What is found of one derived piece."""
        pattern, kind = subject.pattern, piece.source.kind if piece.source else ""
        found = list(self._old(pattern, piece))
        if found:
            return found
        if kind == "facing":
            return list(self._facing(pattern, piece))
        if kind == "lining":
            return list(self._lining(pattern, piece))
        return list(self._fusing(subject, piece)) if kind == "fusing" else []

    def _old(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        source = piece.source
        assert source is not None
        found = changed(pattern, piece)
        edges = edges_by_uid(pattern)
        names = {p.uid: p.name for p in pattern.pieces}
        todo = f"draw it anew with: {source.line}" if source.line else f"make {piece.name} anew"
        gone = [uid for uid, by in found.items() if math.isinf(by)]
        if gone:
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=(piece.name,),
                text=f"an edge that {piece.name} was made of is gone; see that it fits still, or {todo}",
            )
        here = {uid: by for uid, by in found.items() if uid not in gone and by > self.moved}
        if here:
            uid, by = max(here.items(), key=lambda one: one[1])
            owner, edge = edges[uid]
            name = f"{names[owner]}.{edge.name}"
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(piece.name, name),
                text=f"{piece.name} was made of {names[owner]}, and {name} has moved by up to {plain(by)} mm since; "
                + todo,
                figure=by,
                passes=self.moved,
            )

    def _facing(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        """Edges of a facing that are sewn to its piece and are not shaped alike; those with a dart are only walked."""
        of = {one.uid for one in sources_of(pattern, piece)}
        for seam in pattern.seams:
            if len(seam.a) != 1 or len(seam.b) != 1:
                continue
            a, b = seam.a[0], seam.b[0]
            mine, its = (b, a) if b.piece == piece.uid else (a, b)
            if mine.piece != piece.uid or its.piece not in of:
                continue
            source = pattern.piece_of(its.piece)
            edge = next((e for e in source.edges if e.uid == its.of), None)
            own = next((e for e in piece.edges if e.uid == mine.of), None)
            if edge is None or own is None or len(edge.parts) > 1:
                continue
            away = rigid(looks(own), looks(edge), flipped=area(piece) * area(source) < 0)[1]
            if away > self.off:
                one, two = f"{piece.name}.{own.name}", f"{source.name}.{edge.name}"
                yield Finding(
                    check=self.name,
                    severity=FAULT,
                    where=(one, two),
                    text=f"{one} is not shaped as {two}, which it faces: it lies up to {plain(away)} mm off; "
                    f"draw {piece.name} anew with facing",
                    figure=away,
                    passes=self.off,
                )

    def _lining(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        source = sources_of(pattern, piece)[0]
        sewn = {part.of for seam in pattern.seams for part in (*seam.a, *seam.b)}
        if any(e.use == "seam" and e.uid not in sewn and e.name not in source.names() for e in piece.edges):
            return  # the facing that it was cut away for is gone, which is told of the edge that is open
        vents = [flatten(vent.fold.curve, tolerance=0.5) for vent in vents_of(source)]
        motion = laid_on(piece, source)
        found = narrower(piece, source, motion, derived_from(pattern, source, "facing"), vents)
        if found is not None and found[0] < -self.less:
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(piece.name, source.name),
                text=f"{piece.name} is {plain(-found[0])} mm narrower than {source.name} where that is "
                f"{plain(found[1])} mm wide; a lining that is narrower pulls: make it as wide at least",
                figure=-found[0],
                passes=self.less,
            )

        yield from self._hem(piece, source, motion)

    def _hem(self, piece: Piece, source: Piece, motion: Affine | None) -> Iterator[Finding]:
        """A lining that shows below the hem of its piece, on which a motion lays it."""
        mine, its = ([edge for edge in one.edges if edge.use == "hem"] for one in (piece, source))
        if motion is None or not mine or not its:
            return
        points = motion.apply(np.concatenate([flatten(part, tolerance=0.05) for e in mine for part in e.parts]))
        below = np.concatenate([part.nodes for e in its for part in e.parts]).mean(axis=0)
        middle = chain(outline(source), within=1e-6).nodes.mean(axis=0)
        down = unit(below - middle)
        if source.grain is not None:
            way = unit(source.grain.end - source.grain.start)
            down = way if float(way @ down) > 0 else -way
        far = float(((points - _feet(its, points)) @ down).max())
        if far > self.hangs:
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(piece.name, source.name),
                text=f"{piece.name} reaches up to {plain(far)} mm below the hem of {source.name}, where it would show; "
                "make it shorter",
                figure=far,
                passes=self.hangs,
            )

    def _fusing(self, subject: Subject, piece: Piece) -> Iterator[Finding]:
        source = sources_of(subject.pattern, piece)[0]
        cut = subject.cut(source.uid)
        ring = flatten(cut.curve if cut else chain(outline(source), within=1e-6), tolerance=0.02)
        motion = _by_grain(piece, source) or laid_on(piece, source)
        if motion is None:
            return
        points = motion.apply(flatten(chain(outline(piece), within=1e-6), tolerance=0.05))
        outside = points[~contains(ring, points)]
        if not len(outside):
            return
        edge = cut.curve if cut else chain(outline(source), within=1e-6)
        far = float(np.max(nearest(edge, outside)[1]))
        if far > self.out:
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(piece.name, source.name),
                text=f"{piece.name} lies up to {plain(far)} mm outside the cut line of {source.name}; fusing that "
                f"reaches beyond it sticks to the press: draw it anew with copy",
                figure=far,
                passes=self.out,
            )


def _feet(edges: Sequence[Edge], points: Array) -> Array:
    """The places (n, 2) on edges that are nearest to points (n, 2)."""
    parts = [part for edge in edges for part in edge.parts]
    rows = [nearest(part, points) for part in parts]
    first = np.argmin([away for _, away in rows], axis=0)
    found = np.stack([point(part, places) for part, (places, _) in zip(parts, rows, strict=True)])
    feet: Array = found[first, np.arange(len(points))]
    return feet


def _by_grain(piece: Piece, source: Piece) -> Affine | None:
    """The motion that lays the grain line of a piece on that of its source, where both are equally long."""
    one, two = piece.grain, source.grain
    if one is None or two is None:
        return None
    at, to = np.array([one.start, one.end]), np.array([two.start, two.end])
    motion, away = rigid(at, to, flipped=area(piece) * area(source) < 0)
    return motion if away < 0.05 else None
