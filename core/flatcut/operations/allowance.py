"""`allowance`: the seam allowance of edges, and with it the cut line."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import length, position, refs
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.defaults import ALLOWANCES, NO_ALLOWANCE
from flatcut.pattern.places import Place
from flatcut.pattern.values import Allowance, Edge, Figure, Pattern, Position, Stretch
from flatcut.pattern.walking import sewn_at, sewn_length
from flatcut.pattern.widths import LEAST, reach

_START, _END = Position(mode="start", value=0.0), Position(mode="end", value=0.0)


@operation(menu="Finish", title="Add allowance")
@dataclass(frozen=True, kw_only=True)
class SetAllowance(Operation):
    """Give edges their seam allowance; the cut line follows from it.

    A piece as target means all its edges. Without a width each edge gets that of its use. Fold, centre and finished
    edges get none unless they are named themselves. With an end width the allowance tapers. On a stretch of an edge
    (front.side@0..1/2, or --from and --to) it gets a width of its own; where that changes the cut line steps.
    """

    target: tuple[Place, ...] = refs(("edge", "piece", "stretch"), ("edges or stretches", "a piece for all its edges"))
    width: float | None = length(None, ("width", "of the allowance", "by the use of each edge"), high=200)
    end_width: float | None = length(
        None, ("width at the end", "of the edge or stretch, where it tapers", "the same"), high=200
    )
    from_: Position | None = position(("begins at", "where on the edge, such as 5cm, -5cm or 1/2", "at its start"))
    to: Position | None = position(("ends at", "where on the edge", "at its end"))

    def _apply(self, pattern: Pattern) -> Outcome:
        if (self.from_ or self.to) and not all(place.name for place in self.target):
            raise UsageError(
                Option("from"), " and ", Option("to"), " count along an edge; name edges such as front.side, not pieces"
            )
        if self.end_width is not None and self.width is None:
            raise UsageError("a tapering allowance has two widths; give ", Option("width"), " for its start as well")
        figures: list[Figure] = []
        pieces = []
        for piece in pattern.pieces:
            edges = []
            for old in piece.edges:
                edge = old
                for place in self._places(piece.name, old.name):
                    edge = self._widened(edge, place, explicit=bool(place.name))
                    figures += _figures(f"{piece.name}.{edge.name}", place, edge)
                edges.append(edge)
            changed = any(new is not old for new, old in zip(edges, piece.edges, strict=True))
            pieces.append(replace(piece, edges=tuple(edges)) if changed else piece)
        return Outcome(pattern=replace(pattern, pieces=tuple(pieces)), figures=tuple(figures))

    def _places(self, piece: str, edge: str) -> list[Place]:
        """What of an edge is meant: its places in the order they were given."""
        found = [place for place in self.target if place.piece == piece and place.name in ("", edge)]
        if not (self.from_ or self.to):
            return found
        if any(place.to is not None for place in found):
            raise UsageError(f"'{found[0]}' is a stretch already; leave out ", Option("from"), " and ", Option("to"))
        return [replace(place, at=self.from_ or _START, to=self.to or _END) for place in found]

    def _widened(self, edge: Edge, place: Place, *, explicit: bool) -> Edge:
        by_use = self.width is None or (edge.use in NO_ALLOWANCE and not explicit)
        width = ALLOWANCES[edge.use] if by_use else self.width
        assert width is not None
        end_width = None if by_use or self.end_width == self.width else self.end_width
        if place.at is None or place.to is None:
            return replace(edge, allowance=Allowance(width=width, end_width=end_width))
        start, end = sewn_at(edge, place.at), sewn_at(edge, place.to)
        if end - start < LEAST:
            raise UsageError(
                f"the stretch '{place}' runs backwards or is empty; write the place nearer its start first"
            )
        if start <= 0 and end >= sewn_length(edge):
            return replace(edge, allowance=Allowance(width=width, end_width=end_width))
        base = edge.allowance or Allowance(width=ALLOWANCES[edge.use])
        stretch = Stretch(start=place.at, end=place.to, width=width, end_width=end_width)
        kept = [old for old in base.stretches if not _within(reach(edge, old), (start, end))]
        return replace(edge, allowance=replace(base, stretches=(*kept, stretch)))


def _within(inner: tuple[float, float], outer: tuple[float, float]) -> bool:
    """Whether one stretch lies in another, so that nothing of it is left once the other is set."""
    return outer[0] <= inner[0] + LEAST and inner[1] <= outer[1] + LEAST


def _figures(name: str, place: Place, edge: Edge) -> list[Figure]:
    assert edge.allowance is not None
    said: Allowance | Stretch = edge.allowance
    if place.to is not None and edge.allowance.stretches:
        said = edge.allowance.stretches[-1]
        name = str(replace(place, name=edge.name))
    if said.end_width is None:
        return [Figure(f"{name} allowance", said.width)]
    return [Figure(f"{name} allowance at its start", said.width), Figure(f"{name} at its end", said.end_width)]
