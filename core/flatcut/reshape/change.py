"""What became of pieces whose outline was changed, and the one place where all that stands on an edge is carried over.

What refers to an edge: take-ups, the allowance with its stretches and tapers, corner kinds and the edge they go
through, notches and other marks, hosts and pressing of darts, buttons along it, and the runs of seams, in every piece.
What cannot be carried is told, each in a sentence.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from flatcut.geometry.curves import chain, point
from flatcut.geometry.nearest import nearest
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Button, Dart, Mark, Pattern, Piece, held_marks, outline
from flatcut.pattern.walking import to_sewn
from flatcut.reshape.allowances import carried_allowance
from flatcut.reshape.corners import lost_corners, with_corners
from flatcut.reshape.runs import carried_seams
from flatcut.reshape.tracks import Tracks
from flatcut.reshape.ways import Ways
from flatcut.units import plain

SAME_OUTLINE = 0.01
"""mm: an outline that strays no more from another one is the same."""
_UNTOLD: Mapping[str, Ways] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class Change:
    """What became of one piece or several.

    pieces: as they are drawn now; marks inside them lie where they belong. What stands on edges is taken from the
    pattern as it was; only take-ups and edges whose uid is new are kept as they are here.
    ways: by uid of an edge or of a line inside what became of it, mm along the drawn line; one of which nothing is told
    is as it was, or gone where no piece has it.
    gone: uids of pieces that are part of the others now; undone: uids of take-ups that are none any more.
    sewn: the ways count along the sewn line, and the take-ups of `pieces` hold.
    """

    pieces: tuple[Piece, ...]
    ways: Mapping[str, Ways] = field(default_factory=lambda: _UNTOLD)
    gone: tuple[str, ...] = ()
    undone: frozenset[str] = frozenset()
    sewn: bool = False


class Applied(NamedTuple):
    """The pattern after a change, and what could not be carried over, in sentences."""

    pattern: Pattern
    dropped: tuple[str, ...]


def applied(pattern: Pattern, change: Change) -> Applied:
    """The pattern with a change made to it: everything that refers to an edge, a line or a dart follows.

    >>> from flatcut.geometry.curves import line
    >>> from flatcut.pattern.values import Edge, Notch, Position
    >>> from flatcut.reshape.ways import Way
    >>> ring = [(0, 0), (90, 0), (90, 60), (0, 60)]
    >>> edges = [Edge(uid=str(k), name=f"e{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4)]
    >>> notch = Notch(uid="n", edge="0", at=Position(mode="start", value=70.0))
    >>> old = Piece(uid="p", name="p", edges=tuple(edges), notches=(notch,))
    >>> half = Edge(uid="h", name="h", parts=(line((50, 0), (90, 0)),))
    >>> new = replace(old, edges=(replace(edges[0], parts=(line((0, 0), (50, 0)),)), half, *edges[1:]))
    >>> ways = {"0": (Way(0, 50, "0", 0, 50), Way(50, 90, "h", 0, 40))}
    >>> found = applied(Pattern(pieces=(old,)), Change(pieces=(new,), ways=ways)).pattern.pieces[0].notches[0]
    >>> found.edge, found.at
    ('h', Position(mode='start', value=20.0))
    """
    tracks = Tracks.of(pattern, change.pieces, change.ways, change.gone, undone=change.undone, sewn=change.sewn)
    dropped: list[str] = []
    marks = [new for piece in tracks.was for m in piece.marks() for new in _on_edge(tracks, piece, m, dropped)]
    dropped += _lost_with_edges(tracks)
    carried: set[tuple[str, str]] = set()
    pieces = []
    for piece in tracks.pieces:
        reached = {way.to for uid in change.ways for way in tracks.ways.get(uid, ())}
        edges = [
            replace(edge, allowance=carried_allowance(tracks, edge)) if edge.uid in reached else edge
            for edge in piece.edges
        ]
        piece, corners = with_corners(tracks, replace(piece, edges=tuple(edges)))
        carried |= corners
        own = {edge.uid for edge in piece.edges}
        piece = piece.with_marks(lambda mark: None if mark.stands_on() else mark)
        pieces.append(
            replace(
                piece,
                **held_marks((*piece.marks(), *(mark for mark, edge in marks if edge in own))),
                darts=tuple(_dart(tracks, piece, dart, dropped) for dart in piece.darts),
            )
        )
        pieces[-1] = replace(pieces[-1], buttons=tuple(_button(tracks, piece, b, dropped) for b in piece.buttons))
    dropped += lost_corners(tracks, carried)
    pieces = _with_cuts(pattern, _with_darts(tracks, pieces, dropped), dropped)
    seams, gone = carried_seams(tracks, pattern)
    return Applied(
        replace(pattern, pieces=_in_place(pattern, pieces, change.gone), seams=seams),
        tuple(dict.fromkeys((*dropped, *gone))),
    )


def _in_place(pattern: Pattern, pieces: Sequence[Piece], gone: Sequence[str]) -> tuple[Piece, ...]:
    """The pieces of the pattern with the changed ones in the places of their own, a new one after the one before it."""
    known = {piece.uid for piece in pattern.pieces}
    groups: list[list[Piece]] = []
    for piece in pieces:
        if piece.uid in known or not groups:
            groups.append([])
        groups[-1].append(piece)
    here = {group[0].uid: group for group in groups}
    return tuple(new for piece in pattern.pieces if piece.uid not in gone for new in here.get(piece.uid, [piece]))


def _on_edge(tracks: Tracks, piece: Piece, mark: Mark, dropped: list[str]) -> list[tuple[Mark, str]]:
    """A mark that stands on an edge, where it stands now, with the uid of that edge; none where its edge is gone."""
    stood = mark.stands_on()
    if stood is None:
        return []
    if stood.edge not in tracks.told:
        return [(mark, stood.edge)]
    edge = piece.edge_of(stood.edge)
    if not tracks.ways[edge.uid]:
        return []
    to, at, lost = tracks.position(edge.uid, stood.at)
    if lost:
        told = f"{plain(tracks.along(edge.uid, stood.at))} mm of {piece.name}.{edge.name}"
        dropped.append(
            f"the {mark.role} at {told} lies on cloth that is taken out or folded away now; it stands beside it"
        )
    return [(mark.put_on(to, at), to)]


def _lost_with_edges(tracks: Tracks) -> list[str]:
    """Sentences on the marks of edges that are gone."""
    found = []
    for piece in tracks.was:
        on = [(stood.edge, mark) for mark in piece.marks() if (stood := mark.stands_on()) is not None]
        for edge in piece.edges:
            if tracks.ways[edge.uid]:
                continue
            kinds = Counter((mark.role, mark.plural) for uid, mark in on if uid == edge.uid)
            for (one, several), count in kinds.items():
                told = f"1 {one}" if count == 1 else f"{count} {several}"
                found.append(f"{told} of {piece.name}.{edge.name} went with that edge")
    return found


def _dart(tracks: Tracks, piece: Piece, dart: Dart, dropped: list[str]) -> Dart:
    """The dart with the edge it is pressed toward, and one that is drawn inside with its host, as they are now."""
    if dart.form == "lines" and not dart.double and dart.host in tracks.told:
        was, edge = tracks.old[dart.host]
        before = next((d for d in was.darts if d.uid == dart.uid), None)
        if before is not None:
            middle = sum(nearest_drawn(edge, foot) for foot in before.feet) / 2
            dart = replace(dart, host=tracks.sewn_now(edge.uid, to_sewn(edge, middle))[0])
    if dart.pressed not in tracks.told:
        return dart
    ways = tracks.ways[dart.pressed]
    if not ways:
        toward = f"{tracks.old[dart.pressed][0].name}.{tracks.old[dart.pressed][1].name}"
        dropped.append(f"dart {dart.name} was pressed toward {toward}, which is gone; it is folded as is usual now")
        return replace(dart, pressed="")
    # in a corner it is the half beside it that is meant
    return replace(dart, pressed=ways[-1 if dart.host == dart.pressed else 0].to)


def _button(tracks: Tracks, piece: Piece, button: Button, dropped: list[str]) -> Button:
    """The button with the edge or line along which it was set: of several that it became the nearest."""
    if button.on not in tracks.told:
        return button
    targets = [
        uid for uid in dict.fromkeys(way.to for way in tracks.ways[button.on]) if tracks.new[uid][0].uid == piece.uid
    ]
    if not targets:
        was, edge = tracks.old[button.on]
        dropped.append(f"{was.name}.{edge.name}, along which buttons were set, is gone; they stay where they are")
        return replace(button, on="")

    def away(uid: str) -> float:
        return min(float(nearest(part, button.at)[1]) for part in tracks.new[uid][1].parts)

    return replace(button, on=min(targets, key=away))


def _with_darts(tracks: Tracks, pieces: Sequence[Piece], dropped: list[str]) -> list[Piece]:
    """The pieces without the marks of darts that are gone."""
    names = {dart.uid: f"{piece.name}.{dart.name}" for piece in tracks.was for dart in piece.darts}
    found = []
    for piece in pieces:
        own = {dart.uid for dart in piece.darts}
        lost = [mark for mark in piece.marks() if mark.goes_with() and mark.goes_with() not in own]
        for mark in lost:
            told = mark.told(piece).removeprefix("a ")
            dropped.append(f"the {told} of {names.get(mark.goes_with(), 'a dart')} is gone with it")
        found.append(replace(piece, **held_marks(m for m in piece.marks() if m not in lost)) if lost else piece)
    return found


def _with_cuts(pattern: Pattern, pieces: Sequence[Piece], dropped: list[str]) -> list[Piece]:
    """The pieces without a cut line that was drawn by hand about an outline which is another one now."""
    before = {piece.uid: piece for piece in pattern.pieces}
    found = []
    for piece in pieces:
        if piece.cut_by_hand is not None and (piece.uid not in before or _reshaped(before[piece.uid], piece)):
            dropped.append(
                f"the cut line of {piece.name} that was drawn by hand went round its outline as it was; it is made anew"
            )
            piece = replace(piece, cut_by_hand=None)
        found.append(piece)
    return found


def _reshaped(before: Piece, after: Piece) -> bool:
    """Whether any place of the one outline is off the other."""
    one, two = (chain(outline(piece), within=1e-3) for piece in (before, after))
    return any(
        float(nearest(b, point(a, np.linspace(0.0, len(a), 8 * len(a) + 1)))[1].max()) > SAME_OUTLINE
        for a, b in ((one, two), (two, one))
    )
