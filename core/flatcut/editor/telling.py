"""What a press says beside the pieces: the deed, its figures, what to look at; or why nothing was done."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.declared.declared import Declared
from flatcut.dialogs.help import in_words
from flatcut.errors import FlatcutError
from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.told_layer import Told, put_told
from flatcut.operations.operation import Done
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Pattern, Step


def told_of(
    cls: type[Declared],
    done: Done,
    before: Pattern,
    chosen: Selection,
    findings: Sequence[Finding],
    *,
    more: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> Told:
    """What an operation did. findings: what reading the drawing found; more: what counted that may not be seen; notes:
    what else is to be said.
    """
    old = {id(piece) for piece in before.pieces}
    changed = [piece.name for piece in done.pattern.pieces if id(piece) not in old]
    first = [name for name in changed if done.before and name not in {piece.name for piece in before.pieces}]
    lines = [
        *([f"{' and '.join(first)} became {'a piece' if len(first) == 1 else 'pieces'} first"] if first else []),
        *more,
        *map(str, done.step.figures),
    ]
    warnings = (in_words(cls, warning) for warning in done.step.warnings)
    before_it = (warning for step in done.before for warning in step.warnings)
    looked = [*notes, *warnings, *before_it, *map(str, findings)]
    about = changed or list(chosen.pieces)
    return Told(title=cls.title, lines=tuple(lines), looked=tuple(dict.fromkeys(looked)), about=tuple(about))


def told_last(step: Step) -> Told:
    """What the last step said, for the switch that shows it."""
    return Told(title="Last step", lines=tuple(map(str, step.figures)), looked=step.warnings)


def with_told(drawing: Drawing, told: Told) -> bytes:
    """The document as it is, with what is said beside the pieces."""
    put_told(drawing.document, drawing.pattern, told)
    return drawing.document.to_bytes()


def refusal(cls: type[Declared], error: FlatcutError) -> Told:
    """Why nothing was done."""
    return Told(title=f"{cls.title}: nothing is done", looked=(str(error),))
