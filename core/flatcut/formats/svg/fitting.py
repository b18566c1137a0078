"""What stands on an edge by its distance, put right after the edge was changed by hand."""

from __future__ import annotations

from dataclasses import replace

from flatcut.findings import Finding, on_reading
from flatcut.pattern.values import Edge, Mark, Piece, Position, TakeUp
from flatcut.pattern.walking import SLACK, drawn_length, sewn_length


def fitted(piece: Piece, *, scale: float = 1.0) -> tuple[Piece, list[Finding]]:
    """The piece with every take-up and mark on its edge, and what was done to that end, as findings.

    scale: how many times the whole piece was enlarged; take-ups grow with it.

    >>> from flatcut.geometry.curves import polyline
    >>> from flatcut.pattern.values import Notch
    >>> ring = polyline([(0, 0), (90, 0), (0, 90), (0, 0)])
    >>> notch = Notch(uid="n", edge="e", at=Position(mode="start", value=500.0))
    >>> piece = Piece(uid="p", name="a", edges=(Edge(uid="e", name="e1", parts=(ring,)),), notches=(notch,))
    >>> [(said.where, str(said)) for said in fitted(piece)[1]]
    [(('a.e1',), 'a notch lay beyond the end of a.e1, which is shorter now; it stands at its end')]
    """
    said: list[Finding] = []
    edges = tuple(_with_takeups(piece, edge, scale, said) for edge in piece.edges)
    if any(new is not old for new, old in zip(edges, piece.edges, strict=True)):
        piece = replace(piece, edges=edges)
    return piece.with_marks(lambda mark: _on_edge(piece, mark, said)), said


def _with_takeups(piece: Piece, edge: Edge, scale: float, said: list[Finding]) -> Edge:
    if not edge.takeups:
        return edge
    takeups = [_sized(takeup, scale, scale) for takeup in edge.takeups]
    total, reach = drawn_length(edge), max(takeup.end for takeup in takeups)
    if reach > total + SLACK:
        takeups = [_sized(takeup, total / reach, 1.0) for takeup in takeups]
        kinds = " and ".join(dict.fromkeys(takeup.kind for takeup in takeups))
        where = f"{piece.name}.{edge.name}"
        text = f"the {kinds} of {where} lay beyond its end, which is shorter now; it was moved in"
        said.append(on_reading(text, where))
    return replace(edge, takeups=tuple(takeups))


def _sized(takeup: TakeUp, places: float, amount: float) -> TakeUp:
    start, end = takeup.start * places, takeup.end * places
    return replace(takeup, start=start, end=end, amount=min(takeup.amount * amount, end - start))


def _on_edge(piece: Piece, mark: Mark, said: list[Finding]) -> Mark:
    stood = mark.stands_on()
    if stood is None:
        return mark
    edge, at = piece.edge_of(stood.edge), stood.at
    total = sewn_length(edge)
    if at.mode == "fraction" or at.value <= total + SLACK:
        return mark
    far = "end" if at.mode == "start" else "start"
    where = f"{piece.name}.{edge.name}"
    text = f"a {mark.role} lay beyond the {far} of {where}, which is shorter now; it stands at its {far}"
    said.append(on_reading(text, where))
    return mark.put_on(edge.uid, Position(mode=at.mode, value=total))
