"""What stands on an edge by its distance, put right after the edge was changed by hand."""

from __future__ import annotations

from dataclasses import replace

from flatcut.findings import Finding, on_reading
from flatcut.pattern.values import Edge, Notch, Piece, Position, TakeUp
from flatcut.pattern.walking import SLACK, drawn_length, sewn_length


def fitted(piece: Piece, *, scale: float = 1.0) -> tuple[Piece, list[Finding]]:
    """The piece with every take-up and notch on its edge, and what was done to that end, as findings.

    scale: how many times the whole piece was enlarged; take-ups grow with it.

    >>> from flatcut.geometry.curves import polyline
    >>> ring = polyline([(0, 0), (90, 0), (0, 90), (0, 0)])
    >>> notch = Notch(uid="n", edge="e", at=Position(mode="start", value=500.0))
    >>> piece = Piece(uid="p", name="a", edges=(Edge(uid="e", name="e1", parts=(ring,)),), notches=(notch,))
    >>> [(said.where, str(said)) for said in fitted(piece)[1]]
    [(('a.e1',), 'a notch lay beyond the end of a.e1, which is shorter now; it stands at its end')]
    """
    said: list[Finding] = []
    edges = tuple(_with_takeups(piece, edge, scale, said) for edge in piece.edges)
    piece = replace(piece, edges=edges)
    notches = tuple(_on_edge(piece, notch, said) for notch in piece.notches)
    return replace(piece, notches=notches), said


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


def _on_edge(piece: Piece, notch: Notch, said: list[Finding]) -> Notch:
    edge = piece.edge_of(notch.edge)
    total = sewn_length(edge)
    if notch.at.mode == "fraction" or notch.at.value <= total + SLACK:
        return notch
    far = "end" if notch.at.mode == "start" else "start"
    where = f"{piece.name}.{edge.name}"
    text = f"a notch lay beyond the {far} of {where}, which is shorter now; it stands at its {far}"
    said.append(on_reading(text, where))
    return replace(notch, at=Position(mode=notch.at.mode, value=total))
