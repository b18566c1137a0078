"""What a press says beside the pieces: the deed, its figures, what to look at; or why nothing was done."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.declared.declared import Declared
from flatcut.errors import FlatcutError
from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.told_layer import Told, put_told
from flatcut.operations.operation import Done
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Pattern


def told_of(
    cls: type[Declared],
    done: Done,
    before: Pattern,
    chosen: Selection,
    findings: Sequence[Finding],
    notes: Sequence[str] = (),
) -> Told:
    """What an operation did. findings: what reading the drawing found; notes: what else is to be said."""
    old = {id(piece) for piece in before.pieces}
    changed = [piece.name for piece in done.pattern.pieces if id(piece) not in old]
    steps = (*done.before, done.step)
    first = [name for name in changed if done.before and name not in {piece.name for piece in before.pieces}]
    lines = [*([f"{' and '.join(first)} became a piece first"] if first else []), *map(str, done.step.figures)]
    gone = [finding for finding in findings if not set(finding.where) & {piece.name for piece in done.pattern.pieces}]
    looked = [*notes, *(warning for step in steps for warning in step.warnings), *map(str, gone)]
    about = changed or list(chosen.pieces)
    return Told(title=cls.title, lines=tuple(lines), looked=tuple(dict.fromkeys(looked)), about=tuple(about))


def with_told(drawing: Drawing, told: Told) -> bytes:
    """The document as it is, with what is said beside the pieces."""
    put_told(drawing.document, drawing.pattern, told)
    return drawing.document.to_bytes()


def refusal(cls: type[Declared], error: FlatcutError) -> Told:
    """Why nothing was done."""
    return Told(title=f"{cls.title}: nothing is done", looked=(str(error),))
