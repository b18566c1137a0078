"""A dart cut into the outline, or drawn inside it, or gone: the edge with and without its mouth."""

from __future__ import annotations

from dataclasses import replace

from flatcut.darts.darting import in_corner
from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, chain, reverse, section
from flatcut.geometry.length import length
from flatcut.geometry.welding import ending_at, joined, starting_at
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Piece, TakeUp
from flatcut.pattern.walking import part_at
from flatcut.reshape.cycle import with_edge

ALIKE = 0.05
"""mm: a foot and the end of its take-up this near are the same place."""


def as_cut(piece: Piece, dart: Dart) -> tuple[Piece, Dart]:
    """The piece with a dart that was drawn inside cut into its edge, and the dart; a cut-in dart stays as it is.

    The edge's length as sewn stays: what the take-up took off is the mouth now.
    """
    if dart.form == "cut" or dart.double:
        return piece, dart
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
    before = ending_at(section(host.parts[k], 0.0, u), dart.feet[0])
    after = starting_at(section(host.parts[k], v, len(host.parts[k])), dart.feet[1])
    width = end - start
    takeups = tuple(
        replace(t, start=t.start - width, end=t.end - width) if t.start >= end - ALIKE else t
        for t in host.takeups
        if not _of_mouth(t, start, end)
    )
    changed = replace(host, parts=(*host.parts[:k], before, after, *host.parts[k + 1 :]), takeups=takeups)
    cut = replace(dart, form="cut", after=k)
    darts = []
    for other in piece.darts:
        if other.uid == dart.uid:
            darts.append(cut)
        elif other.form == "cut" and other.host == host.uid and other.after >= k:
            darts.append(replace(other, after=other.after + 1))
        else:
            darts.append(other)
    return with_edge(piece, changed, darts), cut


def _of_mouth(takeup: TakeUp, start: float, end: float) -> bool:
    return takeup.kind == "dart" and abs(takeup.start - start) < ALIKE and abs(takeup.end - end) < ALIKE


def mouth_of(edge: Edge, dart: Dart) -> TakeUp | None:
    """The take-up of a dart that is drawn inside."""
    start, end = sorted(nearest_drawn(edge, foot) for foot in dart.feet)
    return next((t for t in edge.takeups if _of_mouth(t, start, end)), None)


def bridged(piece: Piece, dart: Dart, across: Curve, takeup: TakeUp | None) -> Piece:
    """The piece without the legs of a cut-in dart: its edge runs on over the mouth along `across`.

    takeup: what takes the place of the dart, its start and end counted from foot 1; None for nothing.
    Errors: UsageError in a corner, where no edge runs on.
    """
    if in_corner(piece, dart):
        raise UsageError(
            f"{piece.name}.{dart.name} stands in a corner, where no edge runs on; pivot it to an edge first"
        )
    host = piece.edge_of(dart.host)
    foot = sum(length(part) for part in host.parts[: dart.after + 1])
    wide = length(across)
    parts = list(host.parts)
    one = chain([joined(parts[dart.after], across)])
    parts[dart.after : dart.after + 2] = [joined(one, parts[dart.after + 1])]
    takeups = [
        replace(t, start=t.start + wide, end=t.end + wide) if t.start >= foot - ALIKE else t for t in host.takeups
    ]
    if takeup is not None:
        takeups.append(replace(takeup, start=foot + takeup.start, end=foot + takeup.end))
    takeups.sort(key=lambda t: t.start)
    changed = replace(host, parts=tuple(parts), takeups=tuple(takeups))
    darts = [
        replace(d, after=d.after - 1) if d.form == "cut" and d.host == host.uid and d.after > dart.after else d
        for d in piece.darts
        if d.uid != dart.uid
    ]
    return with_edge(piece, changed, darts)


def as_lines(piece: Piece, dart: Dart, across: Curve, uids: Uids) -> Piece:
    """The piece with a cut-in dart drawn inside instead; its edge runs along `across`, the dart's cap."""
    wide = length(across)
    takeup = TakeUp(uid=uids.fresh("takeup", dart.host, dart.uid), kind="dart", start=0.0, end=wide, amount=wide)
    without = bridged(piece, dart, across, takeup)
    drawn = replace(dart, form="lines", after=0)
    order = [d.uid for d in piece.darts]
    darts = sorted((*without.darts, drawn), key=lambda d: order.index(d.uid))
    return replace(without, darts=tuple(darts))
