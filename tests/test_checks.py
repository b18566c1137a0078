"""Each check finds the fault that is put in, names it first and says by how much; sound pieces give nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.checks.check import names, run_checks
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.curves import line, polyline
from flatcut.pattern.values import Allowance, Dart, Edge, Pattern, Piece, RunPart, Seam, TakeUp


def square(uid: str, name: str, side: float = 200.0, at: float = 0.0) -> Piece:
    corners = [(at, 0.0), (at + side, 0.0), (at + side, 200.0), (at, 200.0), (at, 0.0)]
    edges = tuple(
        Edge(uid=f"{uid}{k}", name=edge, parts=(line(corners[k], corners[k + 1]),), allowance=Allowance(width=10.0))
        for k, edge in enumerate(("top", "right", "bottom", "left"))
    )
    return Piece(uid=uid, name=name, edges=edges)


def sewn(one: Piece, other: Piece, a: str, b: str, ease: float = 0.0) -> Pattern:
    seam = Seam(
        uid="s",
        a=(RunPart(piece=one.uid, of=one.edge(a).uid),),
        b=(RunPart(piece=other.uid, of=other.edge(b).uid),),
        reversed=True,
        ease=ease,
    )
    return Pattern(pieces=(one, other), seams=(seam,))


def of(check: str, pattern: Pattern) -> list[Finding]:
    return [finding for finding in run_checks(pattern) if finding.check == check]


def test_there_are_the_first_checks() -> None:
    assert {"cut-line", "dart-legs", "seam-walk"} <= set(names())


def test_sound_pieces_give_nothing() -> None:
    assert not run_checks(Pattern())
    pattern = sewn(square("a", "front"), square("b", "back", at=500), "right", "left")
    for check in ("cut-line", "dart-legs", "seam-walk"):
        assert not of(check, pattern)


@pytest.mark.parametrize(
    ("longer", "severity"), [(0.9, None), (1.0, None), (1.1, WARNING), (1.5, WARNING), (1.7, FAULT), (-3.0, FAULT)]
)
def test_a_seam_of_two_lengths(longer: float, severity: str | None) -> None:
    pattern = sewn(square("a", "front"), square("b", "back", side=200.0 + longer, at=500), "bottom", "top")
    found = of("seam-walk", pattern)
    if severity is None:
        assert not found
        return
    assert len(found) == 1
    assert found[0].severity == severity
    assert found[0].figure == pytest.approx(longer)
    assert found[0].where[0] == ("back.top" if longer > 0 else "front.bottom")


def test_wanted_ease_is_no_fault_and_ease_that_is_missing_is() -> None:
    eased = sewn(square("a", "front"), square("b", "back", side=206.0, at=500), "bottom", "top", ease=6.0)
    assert not of("seam-walk", eased)
    missing = sewn(square("a", "front"), square("b", "back", at=500), "bottom", "top", ease=6.0)
    assert of("seam-walk", missing)[0].figure == pytest.approx(-6.0)


def test_what_is_taken_up_is_not_sewn() -> None:
    back = square("b", "back", side=230.0, at=500)
    gathers = TakeUp(uid="t", kind="gathers", start=20.0, end=150.0, amount=30.0)
    edges = tuple(replace(e, takeups=(gathers,)) if e.name == "top" else e for e in back.edges)
    assert not of("seam-walk", sewn(square("a", "front"), replace(back, edges=edges), "bottom", "top"))


@pytest.mark.parametrize(("shift", "found"), [(0.0, False), (0.2, False), (6.0, True)])
def test_dart_legs_of_two_lengths(shift: float, found: bool) -> None:
    piece = square("a", "front")
    point = np.array([100.0 + shift, 120.0])
    dart = Dart(uid="d", name="dart", host="a0", after=0, legs=(line((90, 0), point), line(point, (110, 0))))
    parts = (line((0, 0), (90, 0)), line((110, 0), (200, 0)))
    edges = tuple(replace(e, parts=parts) if e.name == "top" else e for e in piece.edges)
    findings = of("dart-legs", Pattern(pieces=(replace(piece, edges=edges, darts=(dart,)),)))
    assert bool(findings) == found
    if found:
        # Pythagoras: legs to a point 6 mm off the middle, 16 and 4 mm beside the feet
        assert abs(findings[0].figure) == pytest.approx(np.hypot(16, 120) - np.hypot(4, 120))
        assert findings[0].where == ("front.dart",)


def test_a_cut_line_that_cannot_be_made_is_a_fault_of_its_piece() -> None:
    """A slit 4 mm wide and an allowance inside it of -30 mm: the sides of the slit run over each other."""
    corners = [(0, 0), (200, 0), (200, 200), (102, 200), (102, 20), (98, 20), (98, 200), (0, 200), (0, 0)]
    ring = polyline(corners)
    edges = tuple(
        Edge(uid=str(k), name=f"e{k}", parts=(line(corners[k], corners[k + 1]),), allowance=Allowance(width=w))
        for k, w in zip(range(len(ring)), [10, 10, 10, 30, 30, 30, 10, 10], strict=True)
    )
    pattern = Pattern(pieces=(Piece(uid="p", name="front", edges=edges),))
    for finding in of("cut-line", pattern):
        assert finding.where == ("front",)
        assert "\n" not in finding.text


def test_faults_come_first_and_larger_ones_before_smaller() -> None:
    one = sewn(square("a", "front"), square("b", "back", side=203.0, at=500), "bottom", "top")
    seam = replace(one.seams[0], uid="t", a=one.seams[0].b, b=one.seams[0].a, ease=6.0)
    warned = replace(one.seams[0], uid="u", ease=1.6)
    found = of("seam-walk", replace(one, seams=(warned, one.seams[0], seam)))
    assert [finding.severity for finding in found] == [FAULT, FAULT, WARNING]
    assert [round(abs(finding.figure), 6) for finding in found] == [9.0, 3.0, 1.4]
