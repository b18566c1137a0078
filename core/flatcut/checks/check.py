"""What a check is, and the registry that finds them.

A check is one frozen dataclass in one file of this folder. Its docstring's first line says what it looks for; its
fields are its tolerances, of the same kinds as an operation's, and become options of the command and of the dialog.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import ClassVar

from flatcut.declared.declared import Declared, option
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import GeometryError
from flatcut.findings import FAULT, Finding
from flatcut.geometry.curves import Curve
from flatcut.marking.cutline import cut_lines, wants_cut
from flatcut.marking.rims import rims
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.values import Pattern

_FRAMEWORK = {"__init__", "check"}


@dataclass(frozen=True, kw_only=True)
class Subject:
    """What is checked: a pattern, and what its document says beside it.

    notes: what reading the drawing found; drawn_cuts: the cut lines that are drawn, by uid of the piece,
    for the pieces that stand in a drawing; lost_ticks: edges with a notch of which a tick is gone from the drawing, by
    uid of the piece; in_drawing: whether the pattern was read from a drawing, which is there to hold pieces.
    """

    pattern: Pattern
    notes: tuple[Finding, ...] = ()
    drawn_cuts: Mapping[str, Sequence[Curve]] = field(default_factory=dict)
    lost_ticks: Mapping[str, Sequence[str]] = field(default_factory=dict)
    in_drawing: bool = False

    @cached_property
    def cuts(self) -> dict[str, CutLine | GeometryError | None]:
        """The cut line of each piece by its uid, all made in one call; the error of one that cannot be made."""
        ready, found = [], {}
        for piece in self.pattern.pieces:
            try:
                handed = self.pattern.cuts.get(piece.uid, (None,))[0] is piece
                ready.append((piece, rims(piece) if wants_cut(piece) and not handed else []))
            except GeometryError as error:
                found[piece.uid] = error
        made = cut_lines(ready, self.pattern.cuts)
        return {**found, **{piece.uid: cut for (piece, _), cut in zip(ready, made, strict=True)}}

    def cut(self, uid: str) -> CutLine | None:
        """The cut line of a piece; None where there is none or it cannot be made."""
        found = self.cuts[uid]
        return found if isinstance(found, CutLine) else None


@dataclass(frozen=True, kw_only=True)
class Check(Declared):
    """The base of all checks. Usual tolerances are common practice without a source, unless one is named.

    follows: what it finds can come of what other checks find, and is told after that where both weigh as much.
    """

    follows: ClassVar[bool] = False

    def find(self, subject: Subject) -> Iterator[Finding]:
        """What does not fit, in the order of the pattern."""
        raise NotImplementedError

    @property
    def name(self) -> str:
        """The name of the check, that of its file."""
        return option(type(self).__module__.rsplit(".", 1)[-1])


def names() -> list[str]:
    """All checks, in alphabetical order.

    >>> "seam-walk" in names()
    True
    """
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str, known: Collection[str] = ()) -> type[Check]:
    """The check of that name; only its own file is imported. known: `names`, where these are at hand.

    Errors: UnknownNameError.
    """
    return load_from("flatcut.checks", name, Check, known or names())


def run_checks(subject: Subject | Pattern, checks: Sequence[Check] | None = None) -> list[Finding]:
    """What the checks find, all of them where none is named: faults before warnings, then by how far over they are."""
    whole = Subject(pattern=subject) if isinstance(subject, Pattern) else subject
    known = names()
    chosen = checks or [load_from("flatcut.checks", name, Check, known)() for name in known]
    every = sorted(chosen, key=lambda check: check.follows)
    found = [finding for check in every for finding in check.find(whole)]
    return sorted(found, key=lambda finding: (finding.severity != FAULT, -finding.weight))
