"""A dart cut into the outline, or drawn inside it, or gone: the edge with and without its mouth."""

from __future__ import annotations

from dataclasses import replace

from flatcut.darts.darting import dart_of, in_corner
from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, line, reverse, section
from flatcut.geometry.length import length
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Pattern, Piece, TakeUp
from flatcut.pattern.walking import drawn_length, part_at
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import Item, cycle, rebuilt, with_edge
from flatcut.reshape.ways import kept_ends

ALIKE = 0.05
"""mm: a foot and the end of its take-up this near are the same place."""


def as_cut(pattern: Pattern, piece: Piece, dart: Dart) -> tuple[Pattern, Piece, Dart]:
    """The pattern, piece and dart with a dart that was drawn inside cut into its edge; a cut-in dart stays as it is.

    The edge's length as sewn stays: what the take-up took off is the mouth now.
    """
    if dart.form == "cut" or dart.double:
        return pattern, piece, dart
    host = piece.edge_of(dart.host)
    ends = [nearest_drawn(host, foot) for foot in dart.feet]
    if ends[0] > ends[1]:
        dart = replace(dart, legs=(reverse(dart.legs[1]), reverse(dart.legs[0])))
        ends.reverse()
    start, end = ends
    (k, u), (j, v) = part_at(host, start), part_at(host, end)
    if k != j:
        raise UsageError(f"another dart stands inside {piece.name}.{dart.name}; move it away first")
    if u <= 0 or v >= len(host.parts[k]):
        raise UsageError(f"{piece.name}.{dart.name} reaches the corner of {host.name}; draw its foot inside the edge")
    items = cycle(piece)
    number = [i for i, item in enumerate(items) if item.of == host.uid][k]
    items[number : number + 1] = [
        replace(items[number], curve=ending_at(section(host.parts[k], 0.0, u), dart.feet[0])),
        *(Item(of=dart.uid, curve=leg, leg=i) for i, leg in enumerate(dart.legs)),
        replace(items[number], curve=starting_at(section(host.parts[k], v, len(host.parts[k])), dart.feet[1])),
    ]
    darts = {d.uid: replace(dart, form="cut") if d.uid == dart.uid else d for d in piece.darts}
    made = rebuilt(piece, items, darts)
    total = drawn_length(host)
    ways = kept_ends(host.uid, total, drawn_length(made.edge_of(host.uid)), start, total - end)
    mouth = frozenset(t.uid for t in host.takeups if _of_mouth(t, start, end))
    change = Change(pieces=(made,), ways={host.uid: ways}, undone=mouth)
    pattern = applied(pattern, change).pattern
    piece = pattern.piece_of(piece.uid)
    return pattern, piece, dart_of(piece, dart.uid)


def _of_mouth(takeup: TakeUp, start: float, end: float) -> bool:
    return takeup.kind == "dart" and abs(takeup.start - start) < ALIKE and abs(takeup.end - end) < ALIKE


def bridged(piece: Piece, dart: Dart, across: Curve, takeup: TakeUp | None) -> Change:
    """A cut-in dart without its legs: its edge runs on over the mouth along `across`.

    takeup: what takes the place of the dart, its start and end counted from foot 1; None for nothing.
    Errors: UsageError in a corner, where no edge runs on.
    """
    if in_corner(piece, dart):
        raise UsageError(
            f"{piece.name}.{dart.name} stands in a corner, where no edge runs on; pivot it to an edge first"
        )
    host = piece.edge_of(dart.host)
    foot = sum(length(part) for part in host.parts[: dart.after + 1])
    items = [item for item in cycle(piece) if item.of != dart.uid or item.leg == 0]
    items = [Item(of=host.uid, curve=across) if item.of == dart.uid else item for item in items]
    made = rebuilt(piece, items, {d.uid: d for d in piece.darts if d.uid != dart.uid})
    edge = made.edge_of(host.uid)
    if takeup is not None:
        put = replace(takeup, start=foot + takeup.start, end=foot + takeup.end)
        made = with_edge(made, replace(edge, takeups=(*edge.takeups, put)))
    total = drawn_length(host)
    ways = kept_ends(host.uid, total, drawn_length(edge), foot, total - foot)
    return Change(pieces=(made,), ways={host.uid: ways})


def without(pattern: Pattern, piece: Piece, dart: Dart) -> tuple[Pattern, tuple[str, ...]]:
    """The pattern without a dart that nobody sews, and what went with it: the edge runs over its mouth as it is drawn.

    Over one that is cut in it runs straight from foot to foot. Errors: UsageError in a corner.
    """
    if dart.double:
        change = Change(pieces=(replace(piece, darts=tuple(d for d in piece.darts if d.uid != dart.uid)),))
        return applied(pattern, change)
    across = line(dart.feet[0], dart.feet[1])
    if dart.form == "lines":
        host = piece.edge_of(dart.host)
        (k, u), (_, v) = sorted(part_at(host, nearest_drawn(host, foot)) for foot in dart.feet)
        across = section(host.parts[k], u, v)
        pattern, piece, dart = as_cut(pattern, piece, dart)
        across = ending_at(starting_at(across, dart.feet[0]), dart.feet[1])
    return applied(pattern, bridged(piece, dart, across, None))


def as_lines(piece: Piece, dart: Dart, across: Curve, uids: Uids) -> Change:
    """A cut-in dart drawn inside instead; its edge runs along `across`, the dart's cap."""
    wide = length(across)
    takeup = TakeUp(uid=uids.fresh("takeup", dart.host, dart.uid), kind="dart", start=0.0, end=wide, amount=wide)
    change = bridged(piece, dart, across, takeup)
    (without,) = change.pieces
    order = [d.uid for d in piece.darts]
    darts = sorted((*without.darts, replace(dart, form="lines", after=0)), key=lambda d: order.index(d.uid))
    return replace(change, pieces=(replace(without, darts=tuple(darts)),))
