"""Whether a piece that was read can have been written: attributes may be damaged by other programs and by hand."""

from __future__ import annotations

import numpy as np

from flatcut.pattern.marks import BUTTON_KINDS, CORNER_KINDS, HOLE_OF, NOTCH_KINDS
from flatcut.pattern.values import CUT_AS, TAKEUP_KINDS, USES, Piece, Position, checked_name
from flatcut.units import LARGEST


def check_piece(piece: Piece, *, cut_in: set[str]) -> None:
    """Raise ValueError for what no operation could have written. cut_in: uids of the darts in the outline."""
    names = [thing.name for thing in piece.things()]
    uids = [*(thing.uid for thing in piece.things()), *(notch.uid for notch in piece.notches)]
    hosts = {edge.uid: len(edge.parts) for edge in piece.edges}
    for text in (piece.uid, *uids, piece.side, piece.material, piece.source):
        _hold(isinstance(text, str))
    for name in (piece.name, *names):
        checked_name(name)
    _hold(len(set(names)) == len(names) and len(set(uids)) == len(uids) and all(uids))
    _hold(type(piece.quantity) is int and piece.quantity > 0 and piece.cut_as in CUT_AS)
    for edge in piece.edges:
        corner = edge.corner
        _hold(edge.use in USES and corner.kind in ("", *CORNER_KINDS) and isinstance(corner.through, str))
        widths = () if edge.allowance is None else (edge.allowance.width, edge.allowance.end_width or 0.0)
        _finite(corner.limit, *widths)
        for stretch in edge.allowance.stretches if edge.allowance else ():
            _hold(all(_is_position(at) for at in (stretch.start, stretch.end)))
            _finite(stretch.width, stretch.end_width or 0.0)
        for takeup in edge.takeups:
            _hold(isinstance(takeup.uid, str) and takeup.kind in TAKEUP_KINDS)
            _finite(takeup.start, takeup.end, takeup.amount)
            _hold(0 <= takeup.start <= takeup.end and 0 <= takeup.amount <= takeup.end - takeup.start + 1e-6)
    standing = {dart.uid for dart in piece.darts if dart.form == "cut"}
    _hold(standing == cut_in)
    for dart in piece.darts:
        _hold(dart.form in ("cut", "lines") and isinstance(dart.pressed, str))
        _hold(0 <= dart.after < hosts[dart.host] if dart.host else dart.form == "lines")
    for notch in piece.notches:
        _hold(notch.edge in hosts and notch.kind in NOTCH_KINDS and notch.into in ("in", "out"))
        _hold(_is_position(notch.at) and type(notch.count) is int and 1 <= notch.count <= 9)
        _finite(notch.depth, notch.apart)
    for hole in piece.holes:
        _hold(isinstance(hole.uid, str) and isinstance(hole.dart, str) and hole.of in HOLE_OF)
        _finite(hole.diameter, hole.by)
    for button in piece.buttons:
        _hold(isinstance(button.uid, str) and isinstance(button.on, str) and button.kind in BUTTON_KINDS)
        _finite(button.size, *(np.ravel(button.slit) if button.slit is not None else ()))
    _hold(isinstance(piece.caption.text, str))
    places = [point.at for point in piece.points] + [button.at for button in piece.buttons]
    places += [at for at in (piece.caption.at, *(hole.at for hole in piece.holes)) if at is not None]
    for place in places:
        _hold(place.shape == (2,))
        _finite(*place)


def _is_position(at: Position) -> bool:
    most = 1.0 if at.mode == "fraction" else LARGEST
    return at.mode in ("fraction", "start", "end") and 0 <= at.value <= most


def _hold(condition: bool) -> None:
    if not condition:
        raise ValueError


def _finite(*values: float) -> None:
    _hold(all(abs(value) <= LARGEST for value in values))
