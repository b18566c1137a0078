"""The pattern as JSON: stable, `"format": 1`; lengths in mm, areas in mm², angles in degrees."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import signed_area
from flatcut.geometry.length import length
from flatcut.marking.cutline import cut_line
from flatcut.marking.derived import derive
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.values import Dart, Edge, Mark, Pattern, Piece, Step, area
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.pattern.widths import bands

FORMAT = 1
DIGITS = 6
"""Decimals of a written figure: a thousandth of what any check looks at."""


def pattern_record(pattern: Pattern) -> dict[str, Any]:
    """The whole pattern as plain data.

    >>> pattern_record(Pattern())
    {'format': 1, 'units': 'mm', 'pieces': [], 'seams': [], 'steps': []}
    """
    return {
        "format": FORMAT,
        "units": "mm",
        "pieces": [piece_record(piece, pattern) for piece in pattern.pieces],
        "seams": [
            {
                "a": show_run(pattern, seam.a),
                "b": show_run(pattern, seam.b),
                "reversed": seam.reversed,
                "suggested": seam.suggested,
                "sewn_a": _mm(run_sewn(pattern, seam.a)),
                "sewn_b": _mm(run_sewn(pattern, seam.b)),
                "ease": _mm(seam.ease),
            }
            for seam in pattern.seams
        ],
        "steps": [step_record(step) for step in pattern.steps],
    }


def step_record(step: Step) -> dict[str, Any]:
    """A step as plain data."""
    return {
        "line": step.line,
        "figures": [{"label": f.label, "value": _mm(f.value), "unit": f.unit} for f in step.figures],
        "warnings": list(step.warnings),
    }


def piece_record(piece: Piece, pattern: Pattern) -> dict[str, Any]:
    """One piece as plain data."""
    cut = cut_line(piece)
    label = derive(piece, pattern.style).label
    grain = piece.grain
    return {
        "name": piece.name,
        "edges": [_edge(edge) for edge in piece.edges],
        "darts": [_dart(piece, dart) for dart in piece.darts],
        "corners": [
            {"at": f"{edge.name}/{piece.after(edge).name}", "kind": edge.corner.kind or "by use"}
            for edge in piece.edges
        ],
        "points": {point.name: _xy(point.at) for point in piece.points},
        "lines": _lines(piece),
        "area": _mm(abs(area(piece))),
        "cut": None
        if cut is None
        else {
            "area": _mm(abs(signed_area(cut.curve))),
            "length": _mm(length(cut.curve)),
            "segments": len(cut.curve),
        },
        "notches": _listed(piece, piece.notches),
        "holes": _listed(piece, (*piece.holes, *piece.buttons)),
        "grain": None if grain is None else _plain(grain.listed(piece)),
        "quantity": piece.quantity,
        "cut_as": piece.cut_as,
        "material": piece.material,
        **_source(piece, pattern),
        "label": list(label.lines) if label is not None else [],
        **_others(piece),
    }


def _source(piece: Piece, pattern: Pattern) -> dict[str, Any]:
    """What a derived piece was made of; nothing for a piece that stands by itself."""
    if piece.source is None:
        return {}
    names = [one.name for uid in piece.source.of for one in pattern.pieces if one.uid == uid]
    return {"source": {"kind": piece.source.kind, "of": names}}


def _edge(edge: Edge) -> dict[str, Any]:
    widths = edge.allowance
    return {
        "name": edge.name,
        "use": edge.use,
        **({"words": edge.words} if edge.words else {}),
        **({"centre": True} if edge.middle else {}),
        "drawn": _mm(drawn_length(edge)),
        "sewn": _mm(sewn_length(edge)),
        "allowance": None if widths is None else _mm(widths.width),
        **(_changing(edge) if widths is not None and (widths.stretches or widths.end_width is not None) else {}),
        "segments": edge.segments,
        "start": _xy(edge.start),
        "end": _xy(edge.end),
        "takeups": [
            {"kind": t.kind, "from": _mm(t.start), "to": _mm(t.end), "amount": _mm(t.amount)} for t in edge.takeups
        ],
    }


def _changing(edge: Edge) -> dict[str, Any]:
    """Where an allowance tapers or steps: its stretches, mm of the drawn edge."""
    keys = ("from", "to", "width", "end_width")
    return {"allowances": [dict(zip(keys, map(_mm, band), strict=True)) for band in bands(edge)]}


def _dart(piece: Piece, dart: Dart) -> dict[str, Any]:
    legs = [leg.end - leg.start for leg in dart.legs]
    turn = np.arctan2(-legs[0][0] * legs[1][1] + legs[0][1] * legs[1][0], -(legs[0] @ legs[1]))
    return {
        "name": dart.name,
        "host": piece.edge_of(dart.host).name if dart.host else None,
        "form": dart.form,
        "angle": None if dart.double else _mm(abs(float(np.degrees(turn)))),
        "intake": _mm(float(np.linalg.norm(dart.feet[1] - dart.feet[0]))),
        "leg_lengths": [_mm(length(leg)) for leg in dart.legs],
        "points": [_xy(at) for at in dart.points],
    }


def _listed(piece: Piece, marks: Iterable[Mark]) -> list[dict[str, Any]]:
    """What marks say of themselves."""
    return [_plain(said) for mark in marks if (said := mark.listed(piece)) is not None]


def _lines(piece: Piece) -> list[dict[str, Any]]:
    """Lines by name, one that is in parts once, as long as they are together."""
    found: dict[str, dict[str, Any]] = {}
    for said in _listed(piece, piece.lines):
        known = found.setdefault(said["name"], {**said, "length": 0.0})
        known["length"] = _mm(known["length"] + said["length"])
    return list(found.values())


def _others(piece: Piece) -> dict[str, list[dict[str, Any]]]:
    """The marks of kinds that have no entry above, where there are any."""
    names = dict.fromkeys(mark.listing or mark.table for mark in piece.others)
    return {name: _listed(piece, (m for m in piece.others if name == (m.listing or m.table))) for name in names}


def _plain(said: dict[str, Any]) -> dict[str, Any]:
    """Lengths and places rounded, as all figures here are."""
    return {
        key: _xy(value) if isinstance(value, np.ndarray) else _mm(value) if isinstance(value, float) else value
        for key, value in said.items()
    }


def _mm(value: float) -> float:
    return round(float(value), DIGITS) + 0.0


def _xy(at: Array) -> list[float]:
    return [_mm(float(at[0])), _mm(float(at[1]))]
