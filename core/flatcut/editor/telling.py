"""What a press says beside the pieces: the deed, its figures, what to look at; or why nothing was done."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from flatcut.declared.declared import Declared
from flatcut.dialogs.spoken import by_dialog
from flatcut.errors import FlatcutError
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.told_layer import Told, put_told
from flatcut.operations.operation import Done
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Figure, Pattern, Step

if TYPE_CHECKING:
    from flatcut.findings import Finding

_FINE = r"\d+\.\d{4,}"


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
        *told_figures(done.step.figures),
    ]
    warnings = done.step.warnings
    if warnings:
        from flatcut.dialogs.help import in_words  # most presses warn of nothing

        warnings = tuple(in_words(cls, by_dialog(warning)) for warning in warnings)
    before_it = (warning for step in done.before for warning in step.warnings)
    looked = [*notes, *warnings, *map(by_dialog, (*before_it, *map(str, findings)))]
    about = changed or list(chosen.pieces)
    return Told(title=cls.title, lines=tuple(lines), looked=tuple(dict.fromkeys(looked)), about=tuple(about))


def told_figures(figures: Sequence[Figure]) -> list[str]:
    """Figures as lines: one for all edges of a piece that are alike, places with as many decimals as a cutter reads.

    >>> told_figures([Figure("front.hem allowance", 10.0), Figure("front.side allowance", 10.0)])
    ['front.hem, side allowance: 10 mm']
    >>> told_figures([Figure("front.hem@0.512345 stands off", 3.0)])
    ['front.hem@0.512 stands off: 3 mm']
    """
    lines: dict[tuple[str, str, int], list[str]] = {}
    for number, figure in enumerate(figures):
        place, space, _ = figure.label.partition(" ")
        piece, dot, name = place.partition(".")
        what = str(figure)[len(place) :]
        # what is no edge of a piece stands by itself
        lines.setdefault((piece + dot, what, -1 if dot and space else number), []).append(name)
    joined = (f"{piece}{', '.join(names)}{what}" for (piece, what, _), names in lines.items())
    return [re.sub(_FINE, lambda found: f"{float(found[0]):.3f}".rstrip("0").rstrip("."), line) for line in joined]


def told_last(step: Step) -> Told:
    """What the last step said, for the switch that shows it."""
    return Told(title="Last step", lines=tuple(told_figures(step.figures)), looked=tuple(map(by_dialog, step.warnings)))


def with_told(drawing: Drawing, told: Told) -> bytes:
    """The document as it is, with what is said beside the pieces."""
    put_told(drawing.document, drawing.pattern, told)
    return drawing.document.to_bytes()


def refusal(cls: type[Declared], error: FlatcutError) -> Told:
    """Why nothing was done."""
    return Told(title=f"{cls.title}: nothing is done", looked=(by_dialog(str(error)),))
