"""Everything that is drawn beside what was drawn by hand."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.derive.cutline import CutLine, cut_line, rims
from flatcut.derive.labels import Label, label
from flatcut.derive.ticks import Tick, ticks
from flatcut.geometry.curves import Curve, chain
from flatcut.pattern.values import Piece, Style


@dataclass(frozen=True, kw_only=True)
class Derived:
    """caps: per cut-in dart one curve from foot to foot."""

    cut: CutLine | None
    caps: tuple[Curve, ...]
    ticks: tuple[Tick, ...]
    label: Label | None
    warnings: tuple[str, ...]


_UNSTYLED = Style()


def derive(piece: Piece, style: Style = _UNSTYLED) -> Derived:
    """What follows from a piece as it stands. Errors: GeometryError that names the piece."""
    cut = cut_line(piece)
    marks = tuple(tick for notch in piece.notches for tick in ticks(piece, notch, cut.curve if cut else None))
    warnings = list(cut.warnings) if cut else []
    missed = {tick.notch.uid for tick in marks if not tick.straight}
    for notch in piece.notches:
        if notch.uid in missed:
            edge = piece.edge_of(notch.edge)
            warnings.append(
                f"the notch on {piece.name}.{edge.name} misses the cut line and points to the nearest place"
            )
    return Derived(cut=cut, caps=_caps(piece), ticks=marks, label=label(piece, style), warnings=tuple(warnings))


def _caps(piece: Piece) -> tuple[Curve, ...]:
    halves: dict[str, list[Curve]] = {}
    for rim in rims(piece) if any(dart.form == "cut" for dart in piece.darts) else []:
        if rim.dart is not None:
            halves.setdefault(rim.dart.uid, []).append(rim.curve)
    return tuple(chain(pair, within=1e-6) for pair in halves.values())
