"""`pieces`: the pieces of drawings, as text or as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.reports.report import RECORD, Input, Inputs, Report, Result, listed, report
from flatcut.units import plain


@report
@dataclass(frozen=True, kw_only=True)
class Pieces(Report):
    """List the pieces with their edges, darts and lines; as JSON with every notch and seam."""

    usage: ClassVar[str] = "flatcut pieces [IN.svg...] [--json] [--jobs=N]"
    in_editor: ClassVar[bool] = False
    records: ClassVar[bool] = True

    def run(self, inputs: Inputs) -> Result:
        """The list of every drawing, one after the other."""
        return listed(inputs.each(_recorded if RECORD in inputs.wanted else _told))


def _told(one: Input) -> tuple[str, None, list[str]]:
    return _listing(one.pattern), None, [found.text for found in one.findings]


def _recorded(one: Input) -> tuple[str, dict[str, Any], list[str]]:
    """Cut lines are in the record only, and to make them takes longer than all the rest."""
    from flatcut.formats.json_pieces import pattern_record

    return "", pattern_record(one.pattern), [found.text for found in one.findings]


def _listing(pattern: Pattern) -> str:
    lines = []
    for piece in pattern.pieces:
        lines.append(f"{piece.name}: {piece.quantity} {piece.cut_as} {piece.material}".rstrip())
        for edge in piece.edges:
            width = "-" if edge.allowance is None else plain(edge.allowance.width)
            drawn, sewn = plain(drawn_length(edge)), plain(sewn_length(edge))
            lines.append(f"  {edge.name:<20} {edge.use:<9} drawn {drawn:>9}  sewn {sewn:>9}  allowance {width:>6}")
        lines += [f"  {dart.name:<20} dart" for dart in piece.darts]
        lines += [f"  {line.name:<20} {line.kind}" for line in piece.lines]
    return "".join(f"{line}\n" for line in lines)
