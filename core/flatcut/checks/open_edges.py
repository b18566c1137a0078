"""Edges of use 'seam' are sewn to something, each once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding, plural
from flatcut.marking.cutline import wants_cut
from flatcut.pattern.places import show_position
from flatcut.pattern.runs import ends, owner
from flatcut.pattern.values import Edge, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import sewn_length
from flatcut.units import plain

Stretched = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class OpenEdges(Check):
    """Edges of use 'seam' are sewn over their whole length, and no more than once in a layer of cloth.

    Pieces without allowances are still being drafted and may have open edges.
    """

    passed: float = length(
        1.0, ("open edges: open over", "how long a stretch that is sewn to nothing may be"), high=1000
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Open edges, one finding for each piece; one in all for a layer of cloth in which there is no seam."""
        pattern = subject.pattern
        if not pattern.seams:
            yield from self._unseamed([piece for piece in pattern.pieces if wants_cut(piece)], "")
            return
        for layer in dict.fromkeys(piece.material for piece in pattern.pieces):
            pieces = [piece for piece in pattern.pieces if piece.material == layer and wants_cut(piece)]
            seamed = any(_touches(pattern, seam, layer) for seam in pattern.seams)
            if seamed:
                for piece in pieces:
                    yield from self._piece(pattern, piece)
            else:
                yield from self._unseamed(pieces, layer)
        yield from self._twice(pattern)

    def _unseamed(self, pieces: list[Piece], layer: str) -> Iterator[Finding]:
        """One line for a layer without seams: a fusing needs none, and a set just read in has none yet."""
        edges = [f"{piece.name}.{edge.name}" for piece in pieces for edge in piece.edges if edge.use == "seam"]
        if edges:
            of = f" of {layer}" if layer else ""
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=tuple(edges[:1]),
                text=f"no seam{of} is stated, so {edges[0]}"
                + (f" and {plural(len(edges) - 1, 'other edge')} are" if len(edges) > 1 else " is")
                + " sewn to nothing; state seams with seam, or give edges another use with edge",
                figure=float(len(edges)),
                unit="",
            )

    def _piece(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        found = []
        for edge in piece.edges:
            if edge.use == "seam":
                # what is sewn on the one half, or the one of a pair, is sewn on the other
                covered = [s for s, _ in _sewn(pattern, edge, both=piece.cut_as != "single")]
                gaps = _gaps(covered, sewn_length(edge), self.passed)
                if covered and _free_edge(piece, edge):
                    continue
                found += [(_named(piece, edge, gap), gap[1] - gap[0]) for gap in gaps]
        if found:
            listed = ", ".join(f"{name} ({plain(long)} mm)" for name, long in found)
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=tuple(name for name, _ in found),
                text=f"{listed} {'is' if len(found) == 1 else 'are'} sewn to nothing; state the seam with seam, or "
                f"another use with edge",
                figure=sum(long for _, long in found),
            )

    def _twice(self, pattern: Pattern) -> Iterator[Finding]:
        """Stretches that two seams sew to one layer; a lining or facing beside the shell is another layer."""
        for piece in pattern.pieces:
            for edge in piece.edges:
                sewn = _sewn(pattern, edge)
                # of a piece that is cut several times, such as a gore, each is sewn to something else
                if piece.cut_as == "single" and 1 < len(sewn) <= piece.quantity:
                    continue
                for k, (one, first) in enumerate(sewn):
                    for two, second in sewn[k + 1 :]:
                        both = min(one[1], two[1]) - max(one[0], two[0])
                        if both > self.passed and first == second:
                            name = f"{piece.name}.{edge.name}"
                            yield Finding(
                                check=self.name,
                                severity=WARNING,
                                where=(name,),
                                text=f"{name} is sewn twice over {plain(both)} mm; take one of the seams back",
                                figure=both,
                            )


def _free_edge(piece: Piece, edge: Edge) -> bool:
    """Whether it is the inner edge of a facing, which a lining is sewn to as far as that reaches: it may end higher."""
    return piece.source is not None and piece.source.kind == "facing" and edge.uid == piece.edges[-1].uid


def _touches(pattern: Pattern, seam: Seam, layer: str) -> bool:
    return any(owner(pattern, part)[0].material == layer for part in (*seam.a, *seam.b))


def _sewn(pattern: Pattern, edge: Edge, *, both: bool = False) -> list[tuple[Stretched, tuple[str, str]]]:
    """The stretches of an edge that seams cover, sewn mm, each with the layer of cloth on the other side.

    both: also those on its mirror image.
    """
    found = []
    for seam in pattern.seams:
        for run, other in ((seam.a, seam.b), (seam.b, seam.a)):
            mine = [part for part in run if _on(part, edge, both)]
            if not mine:
                continue
            mate = owner(pattern, other[0])[0]
            # a strip that is folded is sewn to the garment and then to itself
            alone = all(part.piece == mate.uid for part in (*seam.a, *seam.b))
            layer = mate.uid if alone else (mate.source.kind if mate.source else "")
            found += [(ends(pattern, part), (mate.material, layer)) for part in mine]
    return found


def _on(part: RunPart, edge: Edge, both: bool) -> bool:
    # the mirrored half is another stretch of cloth: it is sewn too, but not twice
    return part.of == edge.uid and (both or not part.mirrored)


def _gaps(covered: list[Stretched], total: float, least: float) -> list[Stretched]:
    """What is left of 0..total, where it is longer than `least`.

    >>> _gaps([(0.0, 40.0), (60.0, 100.0)], 100.0, 1.0)
    [(40.0, 60.0)]
    """
    found, reached = [], 0.0
    for start, end in sorted(covered):
        if start - reached > least:
            found.append((reached, start))
        reached = max(reached, end)
    return [*found, (reached, total)] if total - reached > least else found


def _named(piece: Piece, edge: Edge, gap: Stretched) -> str:
    name = f"{piece.name}.{edge.name}"
    if gap[0] <= 0 and gap[1] >= sewn_length(edge) - 1e-6:
        return name
    start, end = (show_position(Position(mode="start", value=round(at, 2))) for at in gap)
    return f"{name}@{start}..{end}"
