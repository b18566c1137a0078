"""Whether a piece that was read can have been written: attributes may be damaged by other programs and by hand."""

from __future__ import annotations

from dataclasses import replace

from flatcut.errors import FlatcutError, OutputError
from flatcut.pattern.sound import hold, hold_finite, hold_position
from flatcut.pattern.values import CORNER_KINDS, CUT_AS, TAKEUP_KINDS, USES, Piece, checked_name


def check_piece(piece: Piece, *, cut_in: set[str]) -> None:
    """Raise ValueError for what no operation could have written. cut_in: uids of the darts in the outline."""
    names = [thing.name for thing in piece.things()]
    uids = [*(thing.uid for thing in piece.things()), *(notch.uid for notch in piece.notches)]
    hosts = {edge.uid: len(edge.parts) for edge in piece.edges}
    for text in (piece.uid, *uids, piece.side, piece.material):
        hold(isinstance(text, str))
    for name in (piece.name, *names):
        checked_name(name)
    hold(len(set(names)) == len(names) and len(set(uids)) == len(uids) and all(uids))
    hold(type(piece.quantity) is int and piece.quantity > 0 and piece.cut_as in CUT_AS)
    for edge in piece.edges:
        corner = edge.corner
        hold(edge.use in USES and corner.kind in ("", *CORNER_KINDS) and isinstance(corner.through, str))
        hold(isinstance(edge.words, str) and isinstance(edge.centre, bool))
        widths = () if edge.allowance is None else (edge.allowance.width, edge.allowance.end_width or 0.0)
        hold_finite(corner.limit, *widths)
        for stretch in edge.allowance.stretches if edge.allowance else ():
            hold_position(stretch.start)
            hold_position(stretch.end)
            hold_finite(stretch.width, stretch.end_width or 0.0)
        for takeup in edge.takeups:
            hold(isinstance(takeup.uid, str) and takeup.kind in TAKEUP_KINDS)
            hold_finite(takeup.start, takeup.end, takeup.amount)
            hold(0 <= takeup.start <= takeup.end and 0 <= takeup.amount <= takeup.end - takeup.start + 1e-6)
    standing = {dart.uid for dart in piece.darts if dart.form == "cut"}
    hold(standing == cut_in)
    for dart in piece.darts:
        hold(dart.form in ("cut", "lines") and isinstance(dart.pressed, str))
        hold(0 <= dart.after < hosts[dart.host] if dart.host else dart.form == "lines")
    for mark in piece.marks():
        hold(isinstance(mark.uid, str))
        mark.hold(piece)


def hold_readable(piece: Piece) -> None:
    """Refuse to write a piece that could not be read again. Errors: OutputError."""
    bare = replace(piece, lines=(), grain=None)  # these are read from what is drawn
    try:
        check_piece(bare, cut_in={dart.uid for dart in piece.darts if dart.form == "cut"})
    except (ValueError, LookupError, FlatcutError):
        raise OutputError(
            f"{piece.name} could not be read again from the drawing, so nothing was written; this is a fault of flatcut"
        ) from None
