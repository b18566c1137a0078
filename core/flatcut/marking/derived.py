"""Everything that is drawn beside what was drawn by hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, polyline
from flatcut.marking.cutline import NONE_MADE, Made, cut_lines
from flatcut.marking.folds import FoldMark, fold_marks
from flatcut.marking.labels import Label, label, lines_of
from flatcut.marking.line_words import LineWords, line_words
from flatcut.marking.rims import Rim, rims, uncapped
from flatcut.marking.room import segments
from flatcut.marking.symbols import symbols
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.values import Piece, Style

if TYPE_CHECKING:
    from flatcut.marking.ticks import Tick


class Derived(NamedTuple):
    """caps: per cut-in dart one curve from foot to foot; folds: marks on the edges that lie on the fold of the cloth.

    words: along lines and edges; label: None once it was deleted by hand.

    fault: why there is no cut line, where there should be one.
    """

    cut: CutLine | None
    caps: tuple[Curve, ...]
    ticks: tuple[Tick, ...]
    folds: tuple[FoldMark, ...]
    words: tuple[LineWords, ...]
    label: Label | None
    warnings: tuple[str, ...]
    fault: GeometryError | None = None


_UNSTYLED = Style()


def derive(piece: Piece, style: Style = _UNSTYLED) -> Derived:
    """What follows from a piece as it stands. Errors: GeometryError that names the piece."""
    found = derive_all([piece], style)[0]
    if found.fault is not None:
        raise found.fault
    return found


def derive_all(
    pieces: Sequence[Piece], style: Style = _UNSTYLED, *, lettering: Sequence[Array] = (), made: Made = NONE_MADE
) -> list[Derived]:
    """What follows from many pieces, in one call because cut lines are faster made together.

    lettering: outlines (n, 2) of words of the document's own, which words on the pieces keep clear of.
    made: cut lines that an earlier step has made, see `cut_lines`.

    A piece that can have no cut line has the error as its `fault`, and everything else.
    """
    found, faults = [], {}
    for piece in pieces:
        try:
            found.append((piece, rims(piece)))
        except GeometryError as error:
            faults[piece.uid] = error
            found.append((replace(piece, edges=tuple(replace(e, allowance=None) for e in piece.edges)), []))
    cuts = cut_lines(found, made)
    others = segments(polyline(ring) for box in lettering for ring in _crossed(box))
    return [
        _derived(piece, stretches, faults.get(piece.uid, cut), style, others)
        for piece, (_, stretches), cut in zip(pieces, found, cuts, strict=True)
    ]


def _crossed(box: Array) -> Iterator[Array]:
    """An outline, and lines through it, so that no words fit inside."""
    yield np.concatenate([box, box[:1]])
    yield from (np.array([box[0] + s * (box[3] - box[0]), box[1] + s * (box[2] - box[1])]) for s in (0.25, 0.5, 0.75))


def _derived(
    piece: Piece, stretches: Sequence[Rim], made: CutLine | GeometryError | None, style: Style, others: Array
) -> Derived:
    fault = made if isinstance(made, GeometryError) else None
    cut = made if isinstance(made, CutLine) else None
    marks = _ticks(piece, cut.curve if cut else None)
    warnings = list(cut.warnings) if cut else uncapped(piece)
    missed = {tick.notch.uid for tick in marks if not tick.straight}
    for notch in piece.notches:
        if notch.uid in missed:
            edge = piece.edge_of(notch.edge)
            warnings.append(
                f"the notch on {piece.name}.{edge.name} misses the cut line and points to the nearest place"
            )
    caps = _caps(stretches)
    drawn = [*lines_of(piece), *caps, *(curve for tick in marks for curve in tick.curves), *symbols(piece)]
    walls = np.concatenate([segments(drawn), others])
    folds = tuple(fold_marks(piece, walls))
    walls = np.concatenate([walls, segments(curve for fold in folds for curve in (*fold.bracket, *fold.box()))])
    along = line_words(piece, folds, walls)
    walls = np.concatenate([walls, segments(words.box() for words in along)])
    return Derived(
        cut=cut,
        caps=caps,
        ticks=marks,
        folds=folds,
        words=along,
        label=label(piece, style, walls, cut.curve if cut else None, lost=fault is not None)
        if piece.caption.shown
        else None,
        warnings=tuple(warnings),
        fault=fault,
    )


def _ticks(piece: Piece, cut: Curve | None) -> tuple[Tick, ...]:
    if not piece.notches:
        return ()
    from flatcut.marking.ticks import ticks  # what finds their places is more than the rest of the drawing

    return tuple(tick for notch in piece.notches for tick in ticks(piece, notch, cut))


def _caps(stretches: Sequence[Rim]) -> tuple[Curve, ...]:
    halves: dict[str, list[Curve]] = {}
    for rim in stretches:
        if rim.dart is not None:
            halves.setdefault(rim.dart.uid, []).append(rim.curve)
    return tuple(chain(pair, within=1e-6) for pair in halves.values())
