"""Reports: `pieces`, `steps` and `operations`. They read and print, and write no drawing."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence

from flatcut.arguments import Words, split
from flatcut.cli.describe import describe
from flatcut.cli.editing import taken_flag, tell_findings
from flatcut.errors import UsageError, unknown
from flatcut.files import read_bytes
from flatcut.findings import Finding
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.read import read
from flatcut.operations.operation import load, names
from flatcut.pattern.values import BY_HAND, Pattern
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.recipe import write_recipe
from flatcut.units import plain


def pieces(name: str, words: Sequence[str]) -> int:
    """Print the pieces of drawings, as text or as JSON."""
    found, as_json = _flags(name, words)
    records, noted = [], False
    for source in sources(found):
        pattern, findings = opened(source)
        noted |= bool(findings)
        if as_json:
            records.append(pattern_record(pattern))
        else:
            print(_listing(pattern), end="")
    if as_json:
        print(json.dumps(records[0] if len(records) == 1 else records, ensure_ascii=False, indent=1))
    return 1 if noted else 0


def steps(name: str, words: Sequence[str]) -> int:
    """Print the recorded steps as a recipe; exit code 1 when one was done by hand or a piece could not be read."""
    found, as_json = _flags(name, words)
    by_hand = False
    for source in sources(found):
        pattern, findings = opened(source)
        by_hand |= bool(findings)
        hand = [k for k, step in enumerate(pattern.steps, start=1) if step.line.startswith(BY_HAND)]
        if hand:
            by_hand = True
            print(f"note: step {hand[0]} was done by hand: a replay differs from there on", file=sys.stderr)
        if as_json:
            print(json.dumps(pattern_record(pattern)["steps"], ensure_ascii=False, indent=1))
        else:
            print(write_recipe(pattern.steps), end="")
    return 1 if by_hand else 0


def operations(name: str, words: Sequence[str]) -> int:
    """Print every operation with its options, or those that are named."""
    found = split(words)
    if found.options or found.inputs or found.output:
        raise UsageError("operations takes names of operations and no options")
    for wanted in found.targets:
        if wanted not in names():
            raise unknown("operation", wanted, names())
    print("\n\n".join(describe(load(wanted)) for wanted in found.targets or names()))
    return 0


def _flags(name: str, words: Sequence[str]) -> tuple[Words, bool]:
    found = split(words)
    as_json = taken_flag(found, "json")
    if found.options:
        raise unknown(f"option of {name}", f"--{next(iter(found.options))}", ["--json"])
    if found.output:
        raise UsageError(f"{name} prints and writes no file; use > to keep what it prints")
    return found, as_json


def sources(found: Words) -> list[str]:
    """The drawings of a call: those named, or standard input."""
    return [*found.inputs, *found.targets] or ["-"]


def opened(source: str) -> tuple[Pattern, list[Finding]]:
    """The pattern of a drawing and what reading it found, which is told."""
    _, pattern, findings = read(read_bytes(source), name="standard input" if source == "-" else source)
    tell_findings(findings)
    return pattern, findings


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
