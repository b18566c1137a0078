"""Which lines a piece is cut along, which part of it stays still then, and what must not be bent by it."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.errors import UsageError, unknown
from flatcut.fullness.pleats import FIRST, OPEN, SECOND
from flatcut.fullness.slashing import Slash, regions
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line
from flatcut.geometry.nearest import nearest
from flatcut.pattern.finding import unbroken
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, named_edge
from flatcut.pattern.values import Edge, Figure, Line, Pattern, Piece
from flatcut.pattern.walking import drawn_length, point_at
from flatcut.reshape.holding import KEPT, held
from flatcut.reshape.straightening import straight_again
from flatcut.units import plain

BOW = 0.01
"""mm: an edge that strays no more from its chord is straight."""


def lines_of(pattern: Pattern, target: Sequence[Place]) -> tuple[Piece, list[Line]]:
    """The piece and its lines that a target names. Errors: UsageError, UnknownNameError."""
    found: list[Line] = []
    home: Piece | None = None
    for place in target:
        piece, thing = find(pattern, place)
        if not isinstance(thing, Line):
            raise unknown(f"line of {piece.name}", thing.name, [item.name for item in piece.lines])
        if home is not None and piece.uid != home.uid:
            raise UsageError(f"{place} lies on another piece than {home.name}; spread one piece at a time")
        home = piece
        found.append(unbroken(piece, thing))
    if home is None:
        raise UsageError("no line is named; draw one from edge to edge, select it, or name it such as front.slash")
    return home, found


def held_place(piece: Piece, cuts: Sequence[Slash], hold: str) -> tuple[Array, str]:
    """A place (2,) on the outline of the part that stays still, and why that one does.

    hold: uid of the edge that is wanted still, '' for the usual: the part with the fold edge, then that with the centre
    edge, then the largest. Errors: UsageError when a line ends on the edge to be held.
    """
    touched = {uid for cut in cuts for k in (0, 1) for uid in cut.edges(k) if len(cut.edges(k)) == 1}
    edge, reason = held(piece, touched, hold, by="a line")
    if edge is not None:
        return point_at(edge, drawn_length(edge) / 2)[0], reason
    largest = max(regions(piece, list(cuts)), key=lambda part: round(part[0], 6))
    return largest[1], "it is the largest part"


def pressed_part(piece: Piece, cut: Slash, pressed: Place | None, still: Array) -> str:
    """To which part of a cut a pleat there is pressed: FIRST, SECOND or OPEN.

    pressed: an edge, 'open' as a bare name, or None for the part with the place `still` (2,) on its
    outline. Errors: UsageError.
    """
    if pressed == Place(name="open"):
        return OPEN
    if pressed is None:
        away = [float(nearest(item.curve, still)[1]) for item in cut.items]
        return FIRST if away.index(min(away)) in cut.first else SECOND
    edge = named_edge(piece, pressed)
    first, second = ({cut.items[k].of for k in part} for part in (cut.first, cut.second))
    if (edge.uid in first) == (edge.uid in second):
        name = f"{piece.name}.{cut.line.name}"
        raise UsageError(f"{piece.name}.{edge.name} lies on both sides of {name}; name an edge on one side of it")
    return FIRST if edge.uid in first else SECOND


def bent_straight(
    pattern: Pattern, before: Piece, *, straighten: bool
) -> tuple[Pattern, list[Figure], tuple[str, ...]]:
    """The pattern with the fold and centre edges of a piece that were bent straight again, if that is wanted.

    before: the piece as it was. Figures, and what could not be carried over.
    Errors: UsageError when one is bent and that is not wanted.
    """
    figures: list[Figure] = []
    dropped: tuple[str, ...] = ()
    for edge in before.edges:
        now = pattern.piece_of(before.uid).edge_of(edge.uid)
        if edge.use not in KEPT or _bow(edge) > BOW or _bow(now) <= BOW:
            continue
        name = f"{before.name}.{edge.name}"
        if not straighten:
            raise UsageError(
                f"{name} is a {edge.use} edge and would be bent, {plain(_bow(now))} mm off a straight line; "
                f"make it a seam with: edge {name} --use=seam, or add --straighten"
            )
        pattern, more, lost = straight_again(pattern, before, edge.uid)
        figures += more
        dropped += lost
    return pattern, figures, dropped


def _bow(edge: Edge) -> float:
    """mm that an edge strays from its chord."""
    chord = line(edge.start, edge.end)
    return max(float(nearest(chord, part.controls.reshape(-1, 2))[1].max()) for part in edge.parts)
