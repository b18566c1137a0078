"""`piece`: closed paths become pieces."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.errors import InputError, UsageError, unknown
from flatcut.geometry.curves import Curve, bounds, flatten
from flatcut.geometry.region import crossing_place
from flatcut.operations.fields import number, refs, texts
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.tracing import CORNER_ANGLE, Traced, ring_of, trace
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, DrawnPath, Edge, Figure, Pattern, Piece, area, checked_name
from flatcut.pattern.walking import drawn_length

SMALLEST, LARGEST = 20.0, 3000.0
"""mm: a piece smaller or larger over its longer side is likely in the wrong unit (common practice, no source)."""


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class MakePieces(Operation):
    """Make pieces of closed paths: the outline drawn is the stitch line.

    Edges run from corner to corner, clockwise, and are called e1, e2 ... until they are named.
    """

    target: tuple[str, ...] = refs("drawn", "closed paths; none means every closed path", optional=True)
    names: tuple[str, ...] = texts("names of the pieces, in order, with commas between them")
    corner_angle: float = number(CORNER_ANGLE, "a sharper turn is a corner, degrees", low=1, high=90, digits=1)

    def _settled(self, pattern: Pattern) -> MakePieces:
        if not self.target:
            return self
        order = [drawn.id for drawn in closed_paths(pattern)]
        target = []
        for text in self.target:
            kind, _, wanted = text.partition(":")
            if kind == "drawn":
                if not wanted.isdigit() or not 1 <= int(wanted) <= len(order):
                    raise UsageError(
                        f"'{text}' is not there; the document has {len(order)} closed paths that are no piece"
                    )
                target.append(text)
            elif wanted in order:
                target.append(f"drawn:{order.index(wanted) + 1}")
            elif wanted in [thing.id for thing in pattern.drawn]:
                raise InputError(f"'{wanted}' is not one closed path; close it, or select another")
            else:
                raise unknown("closed path", wanted, order)
        return replace(self, target=tuple(target))

    def _apply(self, pattern: Pattern) -> Outcome:
        paths = closed_paths(pattern)
        if self.target:
            paths = [paths[int(text.partition(":")[2]) - 1] for text in self.target]
        if not paths:
            raise InputError("there is no closed path to make a piece of; draw one, or close the outline")
        if len(self.names) > len(paths):
            raise UsageError(f"--names gives {len(self.names)} names for {len(paths)} closed paths; give one for each")
        uids = Uids(pattern.uids())
        pieces = list(pattern.pieces)
        figures: list[Figure] = []
        warnings: list[str] = []
        for k, path in enumerate(paths):
            name = self._name(k, path, [piece.name for piece in pieces])
            piece, said = self._made(name, path, uids)
            pieces.append(piece)
            warnings += said
            figures.append(Figure(f"{name} edges", len(piece.edges), ""))
            figures.append(Figure(f"{name} outline", sum(drawn_length(edge) for edge in piece.edges)))
            figures.append(Figure(f"{name} area", area(piece) / 100, "cm²"))
        return Outcome(pattern=replace(pattern, pieces=tuple(pieces)), figures=tuple(figures), warnings=tuple(warnings))

    def _name(self, k: int, path: DrawnPath, taken: list[str]) -> str:
        if k < len(self.names):
            name = checked_name(self.names[k], kind="piece's name")
            if name in taken:
                raise UsageError(f"there is a piece '{name}' already; give another name")
            return name
        count = 1
        while f"piece-{count}" in taken:
            count += 1
        return f"piece-{count}"

    def _made(self, name: str, path: DrawnPath, uids: Uids) -> tuple[Piece, list[str]]:
        try:
            ring = ring_of(path.curves[0])
            _refuse_crossing(ring)
        except InputError as error:
            raise InputError(f"'{path.id}': {error}") from None
        traced = trace(ring, corner_angle=self.corner_angle)
        uid = uids.fresh("piece", name, path.id)
        edges = tuple(
            Edge(uid=uids.fresh("edge", uid, str(k)), name=f"e{k + 1}", parts=parts)
            for k, parts in enumerate(traced.runs)
        )
        piece = Piece(uid=uid, name=name, edges=edges, darts=_darts(traced, edges, uids), origin=path.id)
        return piece, _warnings(piece, traced, ring)


def closed_paths(pattern: Pattern) -> list[DrawnPath]:
    """Drawn paths that are one closed outline and have not become pieces, in document order."""
    taken = {piece.origin for piece in pattern.pieces}
    paths = [thing for thing in pattern.drawn if isinstance(thing, DrawnPath) and thing.id not in taken]
    return [path for path in paths if len(path.curves) == 1 and path.closed[0]]


def _refuse_crossing(ring: Curve) -> None:
    where = crossing_place(flatten(ring, tolerance=0.02)[:-1])
    if where is not None:
        raise InputError(f"the outline crosses itself near x {where[0]:.1f}, y {where[1]:.1f} mm; mend it there")


def _darts(traced: Traced, edges: tuple[Edge, ...], uids: Uids) -> tuple[Dart, ...]:
    darts: list[Dart] = []
    for (run, after), legs in traced.darts.items():
        host = edges[run].uid
        uid = uids.fresh("dart", host, str(after))
        darts.append(Dart(uid=uid, name=f"dart-{len(darts) + 1}", legs=legs, host=host, after=after))
    return tuple(darts)


def _warnings(piece: Piece, traced: Traced, ring: Curve) -> list[str]:
    said = [
        f"{piece.name}.{piece.edges[run].name} has a kink of {abs(angle):.1f}° inside it" for run, angle in traced.kinks
    ]
    x0, y0, x1, y1 = bounds(ring)
    size = max(x1 - x0, y1 - y0)
    if not SMALLEST <= size <= LARGEST:
        said.append(f"{piece.name} is {size:.1f} mm over its longer side; check the unit of the drawing")
    return said
