"""The cut line of a piece: its outline with the darts capped, moved out by the allowance of each edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flatcut.derive.caps import AFTER, BEFORE, cap, pressed_side
from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve
from flatcut.geometry.offset_outline import try_outlines
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge
from flatcut.pattern.defaults import ALLOWANCES, CORNERS
from flatcut.pattern.values import Dart, Edge, Piece

TOLERANCE = 0.02
"""mm that the cut line may stray from the true offset: far below the width of a pencil line, and few curves enough."""


@dataclass(frozen=True, kw_only=True)
class CutLine:
    """curve: a closed ring; edges: per span the uid of the edge it belongs to, '' at a corner."""

    curve: Curve
    edges: tuple[str, ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Rim:
    """One stretch of the outline as it is offset: an edge's part or half a dart cap."""

    edge: Edge
    curve: Curve
    dart: Dart | None = None
    last: bool = False


def rims(piece: Piece) -> list[Rim]:
    """The closed outline that is sewn and cut along: edges' parts, and caps where cut-in darts are open.

    Errors: GeometryError.
    """
    found: list[Rim] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            last = k == len(edge.parts) - 1
            dart = piece.cut_in(edge, k)
            found.append(Rim(edge=edge, curve=part, last=last and dart is None))
            if dart is None:
                continue
            host = piece.after(edge) if last else edge
            following = host.parts[0] if last else edge.parts[k + 1]
            side = pressed_side(piece, dart)
            first, second = cap(dart, part, following, toward=side)
            # the folded dart is cut with the edge that it lies on, so its whole cap has that edge's allowance
            found.append(Rim(edge=host if side == AFTER else edge, curve=first, dart=dart))
            found.append(Rim(edge=edge if side == BEFORE else host, curve=second, dart=dart))
    return found


def width(edge: Edge) -> float:
    """mm of an edge's allowance; one that was never stated is that of the edge's use."""
    return edge.allowance.width if edge.allowance is not None else ALLOWANCES[edge.use]


def corner_kind(piece: Piece, edge: Edge) -> tuple[str, str]:
    """Kind of the corner at the end of an edge, and which of the two edges it goes by: 'first', 'second' or ''."""
    following = piece.after(edge)
    kind, through = edge.corner.kind, edge.corner.through
    if not kind:
        by_use = [(CORNERS[e.use], e.uid) for e in (edge, following) if e.use in CORNERS]
        kind, through = by_use[0] if by_use else ("mitred", "")
    if kind not in ("squared", "turned"):
        return kind, ""
    return kind, "second" if through == following.uid and len(piece.edges) > 1 else "first"


def cut_line(piece: Piece) -> CutLine | None:
    """The cut line, or None while no edge has an allowance. Errors: GeometryError that names the piece."""
    found = cut_lines([(piece, rims(piece) if wants_cut(piece) else [])])[0]
    if isinstance(found, GeometryError):
        raise found
    return found


def wants_cut(piece: Piece) -> bool:
    """Whether an edge of the piece has an allowance, so that there is a cut line to draw."""
    return any(edge.allowance is not None for edge in piece.edges)


def cut_lines(pieces: Sequence[tuple[Piece, list[Rim]]]) -> list[CutLine | GeometryError | None]:
    """The cut lines of many pieces with their rims in one call, several times faster than one by one.

    The error stands in the place of a cut line that cannot be made.
    """
    wanted = [(piece, stretches) for piece, stretches in pieces if wants_cut(piece)]
    made = iter(try_outlines([_outline(piece, stretches) for piece, stretches in wanted], tolerance=TOLERANCE))
    found: list[CutLine | GeometryError | None] = []
    for piece, stretches in pieces:
        done = next(made) if wants_cut(piece) else None
        if isinstance(done, GeometryError):
            found.append(GeometryError(f"{piece.name} can have no cut line: {done}"))
        elif done is None:
            found.append(None)
        else:
            owners = tuple(stretches[k].edge.uid if k >= 0 else "" for k in done.sources)
            found.append(CutLine(curve=done.curve, edges=owners, warnings=done.warnings))
    return found


def _outline(piece: Piece, stretches: Sequence[Rim]) -> tuple[list[OffsetEdge], list[OffsetCorner]]:
    """What the offset takes, named for its messages."""
    edges, corners = [], []
    for k, rim in enumerate(stretches):
        allowance = rim.edge.allowance
        name = f"{piece.name}.{rim.edge.name}"
        end_width = allowance.end_width if allowance else None
        edges.append(OffsetEdge(curve=rim.curve, width=width(rim.edge), end_width=end_width, name=name))
        kind, side = corner_kind(piece, rim.edge) if rim.last else ("mitred", "")
        at = f"{name}/{piece.after(rim.edge).name}" if rim.last else f"the cap of {rim.dart.name if rim.dart else name}"
        corners.append(
            OffsetCorner(
                kind=f"{kind}-{side}" if side else kind,
                limit=rim.edge.corner.limit,
                # a dart in a corner may have a wide allowance on one side and a narrow one on the other
                step=rim.dart is not None or k + 1 < len(stretches) and stretches[k + 1].dart is not None,
                name=at,
            )
        )
    return edges, corners
