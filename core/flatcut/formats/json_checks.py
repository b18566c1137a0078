"""What a check found as JSON: stable, `"format": 1`; lengths in mm, angles in degrees."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flatcut.findings import FAULT, Finding
from flatcut.formats.json_pieces import DIGITS
from flatcut.pattern.runs import show_run
from flatcut.pattern.seaming import Verdict, walked
from flatcut.pattern.values import Pattern

FORMAT = 1


def checked_record(file: str, pattern: Pattern, findings: Sequence[Finding], verdict: Verdict) -> dict[str, Any]:
    """What was checked in one file and what was found, as plain data. verdict: by the tolerances asked for.

    >>> checked_record("a.svg", Pattern(), [], lambda rest: "aim")["findings"]
    []
    """
    return {
        "file": file,
        "error": None,
        "pieces": len(pattern.pieces),
        "seams": [_seam(pattern, k, verdict) for k in range(len(pattern.seams))],
        "faults": sum(finding.severity == FAULT for finding in findings),
        "warnings": sum(finding.severity != FAULT for finding in findings),
        "findings": [_finding(number, finding) for number, finding in enumerate(findings, start=1)],
    }


def failed_record(file: str, error: str) -> dict[str, Any]:
    """The record of a file that could not be checked."""
    return {"file": file, "error": error, "pieces": 0, "seams": [], "faults": 0, "warnings": 0, "findings": []}


def whole_record(files: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The records of all files of one call."""
    return {"format": FORMAT, "units": "mm", "files": list(files)}


def _seam(pattern: Pattern, k: int, verdict: Verdict) -> dict[str, Any]:
    seam = pattern.seams[k]
    one, two, rest = walked(pattern, seam)
    return {
        "a": show_run(pattern, seam.a),
        "b": show_run(pattern, seam.b),
        "suggested": seam.suggested,
        "sewn_a": round(one, DIGITS),
        "sewn_b": round(two, DIGITS),
        "ease": round(seam.ease, DIGITS),
        "mismatch": round(rest, DIGITS),
        "verdict": verdict(rest),
    }


def _finding(number: int, finding: Finding) -> dict[str, Any]:
    return {
        "number": number,
        "check": finding.check,
        "severity": finding.severity,
        "where": list(finding.where),
        "text": finding.text,
        "figure": round(float(finding.figure), DIGITS),
        "unit": finding.unit,
        "passes": round(float(finding.passes), DIGITS),
    }
