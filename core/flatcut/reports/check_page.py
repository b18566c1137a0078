"""`check-page`: the page of a check, as the editor saves it; the command writes it with `check --report`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.checks.seam_walk import SeamWalk
from flatcut.findings import FAULT
from flatcut.formats.check_page import end, file_section, opening
from flatcut.formats.svg.drawing import Drawing
from flatcut.pattern.values import Pattern
from flatcut.reports.check import CheckPieces
from flatcut.reports.report import Pressed, report


@report
@dataclass(frozen=True, kw_only=True)
class CheckPage(CheckPieces):  # type: ignore[valid-type, misc]  # its fields are gathered when it is imported
    """Write a page that shows every seam with its pieces laid along it, and what does not fit."""

    usage: ClassVar[str] = "flatcut check IN.svg... --report=OUT.html [--name=value...]"
    saves: ClassVar[str] = ".html"
    file_type: ClassVar[str] = "Check of the pieces, with pictures"

    def press(self, drawing: Drawing, pattern: Pattern, notes: list[str]) -> Pressed:
        """The page about the document."""
        asked = self.evaluated(pattern)
        found = asked.findings(drawing, pattern, notes)
        walk = next((check for check in asked.checks() if isinstance(check, SeamWalk)), SeamWalk())
        name = pattern.style.name or "the drawing"
        faults = sum(finding.severity == FAULT for finding in found)
        parts = [
            opening([name]),
            file_section(name, 1, pattern, found, walk.verdict),
            end(1, faults, len(found) - faults),
        ]
        return Pressed(document="".join(parts).encode())
