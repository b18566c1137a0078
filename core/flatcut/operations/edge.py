"""`edge`: the name, the use and the words of edges, and an edge split in two."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, flag, refs, text, texts
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of, spots
from flatcut.pattern.values import USES, Edge, Figure, Pattern, Piece, checked_name
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import applied
from flatcut.reshape.splitting import split_edge

NO_WORDS = "none"
"""What takes words away."""


@operation(menu="Prepare", title="Name edge")
@dataclass(frozen=True, kw_only=True)
class SetEdge(Operation):
    """Name edges, say what they are for, or split one in two.

    With --split the target is a place on an edge, and --names gives the two halves' names in the edge's direction.
    """

    target: tuple[Place, ...] = refs(
        ("edge", "place"), ("edges, or a place to split at", "the place is where one edge is made two")
    )
    names: tuple[str, ...] = texts(("names", "one for each edge, with commas between them"), named=True)
    words: str = text("", ("words along them", "written inside the piece, such as CF; none takes them away"))
    use: str = choice("", ("what the edges are for", "gives checks and default allowances"), ("", *USES))
    centre: str = choice(
        "",
        ("on the centre line", "whether they lie there, also where they are sewn", "as their use says, or as before"),
        ("", "yes", "no"),
    )
    split: bool = flag(False, "split the edge at the place")

    def _apply(self, pattern: Pattern) -> Outcome:
        if self.split:
            return self._split(pattern)
        if not (self.names or self.use or self.words or self.centre):
            names: list[str | Option] = []
            for name in ("names", "use", "words", "centre"):
                names += [Option(name), ", "]
            either = (*names[:-1], " or ", Option("split"))
            raise UsageError("edge has nothing to change; give ", *either)
        if self.names and len(self.names) != len(self.target):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(self.target)} edges; give one for each"
            )
        figures: list[Figure] = []
        warnings: list[str] = []
        renamed: dict[str, str] = {}
        for k, place in enumerate(self.target):
            _, edge = edge_of(pattern, place)
            renamed[edge.uid] = self.names[k] if self.names else edge.name
        pieces = []
        for piece in pattern.pieces:
            if not any(edge.uid in renamed for edge in piece.edges):
                pieces.append(piece)
                continue
            edges = tuple(self._changed(edge, renamed) for edge in piece.edges)
            _refuse_clash(piece, edges, renamed)
            pieces.append(_unfolded(replace(piece, edges=edges), warnings))
            figures += [Figure(f"{piece.name}.{e.name} drawn", drawn_length(e)) for e in edges if e.uid in renamed]
        return Outcome(pattern=replace(pattern, pieces=tuple(pieces)), figures=tuple(figures), warnings=tuple(warnings))

    def _changed(self, edge: Edge, renamed: dict[str, str]) -> Edge:
        if edge.uid not in renamed:
            return edge
        words = "" if self.words == NO_WORDS else self.words or edge.words
        use = self.use or edge.use
        if self.centre == "no" and use in ("fold", "centre"):
            raise UsageError(f"{edge.name} is a {use} edge, so it lies on the centre line; give it another use first")
        # a centre that is sewn from now on is the centre still
        centre = {"yes": True, "no": False}.get(self.centre, edge.centre or (edge.middle and use != edge.use))
        return replace(edge, name=renamed[edge.uid], use=use, words=words, centre=centre)

    def _split(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"edge --split takes one place, and {len(self.target)} are given")
        found = spots(pattern, self.target[0])
        if len(found) != 1 or not found[0].edge:
            raise UsageError(f"'{self.target[0]}' is no place inside an edge; write one such as front.side@1/2")
        piece = pattern.piece_of(found[0].piece)
        edge = piece.edge_of(found[0].edge)
        names = self.names or (edge.name, f"{edge.name}-2")
        if len(names) != 2:
            raise UsageError(Option("names"), " takes two names with ", Option("split"), ", one for each half")
        for name in names:
            checked_name(name, kind="edge's name")
            if name in piece.names() - {edge.name}:
                raise UsageError(f"{piece.name} has a '{name}' already; give another name")
        if names[0] == names[1]:
            raise UsageError(f"both halves would be called '{names[0]}'; give two names")
        after, dropped = applied(pattern, split_edge(pattern, piece, edge, found[0].sewn, names=(names[0], names[1])))
        changed = after.piece_of(piece.uid)
        figures = tuple(Figure(f"{piece.name}.{name} drawn", drawn_length(changed.edge(name))) for name in names)
        return Outcome(pattern=after, figures=figures, warnings=dropped)


def _unfolded(piece: Piece, warnings: list[str]) -> Piece:
    """The piece, a pair where it was cut on a fold and has none any more."""
    if piece.cut_as != "fold" or any(edge.use == "fold" for edge in piece.edges):
        return piece
    warnings.append(f"{piece.name} has no fold any more and is cut as a pair")
    return replace(piece, cut_as="pair", quantity=2 * piece.quantity)


def _refuse_clash(piece: Piece, edges: tuple[Edge, ...], renamed: dict[str, str]) -> None:
    others = [thing.name for thing in piece.things() if thing.uid not in renamed]
    for edge in edges:
        if edge.uid in renamed:
            checked_name(edge.name, kind="edge's name")
            if edge.name in others:
                raise UsageError(f"{piece.name} has a '{edge.name}' already; give another name")
            others.append(edge.name)
