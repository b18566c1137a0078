"""`check-page`: the page of a check, as the editor saves it; `check --report` writes it beside what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from flatcut.reports.check import CheckPieces
from flatcut.reports.report import report


@report
@dataclass(frozen=True, kw_only=True)
class CheckPage(CheckPieces):  # type: ignore[valid-type, misc]  # its fields are gathered when it is imported
    """Write a page that shows every seam with its pieces laid along it, and what does not fit."""

    usage: ClassVar[str] = "flatcut check-page IN.svg... -o OUT.html [--jobs=N] [--name=value...]"
    saves: ClassVar[str] = ".html"
    file_type: ClassVar[str] = "Check of the pieces, with pictures"
    makes: ClassVar[Mapping[str, str]] = {}
