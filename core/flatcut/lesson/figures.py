"""The figures of a step where a cutter writes them: beside the edge, in the dart, at the notch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import Array
from flatcut.pattern.places import parse_place
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Figure, Pattern
from flatcut.units import plain

WRITTEN = {
    "": "{}",
    "drawn": "{}",
    "sewn": "{}",
    "angle": "{}",
    "intake": "{}",
    "allowance": "{}",
    "notch": "{}",
    "matching notch": "{}",
    "longer by": "{:+}",
    "point moved by": "{}",
    "moved by": "{}",
    "width at its first end": "{}",
}
"""What of a figure is written on a picture, by the end of its label; others stand in words beside it only."""
ALONG = ("notch", "matching notch")
"""What stands so far along its edge."""
SILENT = ("0", "180")
"""Figures that tell nothing: what did not move, and the angle of a corner that is none."""
MOST = 16
"""Places with figures on one picture; more could not be read."""


def written(pattern: Pattern, figures: Iterable[Figure]) -> list[tuple[Array, tuple[str, ...]]]:
    """Figures and where they are written, (2,) mm: those of one thing under each other, a later one for an earlier.

    Where there are too many, those that most have in common are left out first: the sentence tells them.
    """
    found: dict[str, dict[str, str]] = {}
    for figure in figures:
        reference, _, rest = figure.label.partition(" ")
        if "." in reference and rest in WRITTEN and _is_place(reference):
            text = _text(WRITTEN[rest], figure)
            at = f"{reference}@{figure.value:.3f}mm" if rest in ALONG else reference.replace("~", "")
            kind = WRITTEN[rest] + (text if rest == "sewn" else rest)
            found.setdefault(at, {}).pop(kind, None)
            if text.rstrip("°") not in SILENT:
                found[at][kind] = text
    rows = {at: tuple(dict.fromkeys(kinds.values())) for at, kinds in found.items() if kinds}
    if len(rows) > MOST:
        usual = Counter(rows.values()).most_common(1)[0][0]
        rows = {at: texts for at, texts in rows.items() if texts != usual} or rows
    every: list[tuple[Array, tuple[str, ...]]] = []
    for reference, texts in rows.items():
        for _, place in pointed(pattern, reference)[:1]:
            every.append((place, texts))
    return every[:MOST]


def _is_place(text: str) -> bool:
    try:
        parse_place(text.removeprefix("-"))
    except FlatcutError:
        return "+" in text
    return True


def _text(form: str, figure: Figure) -> str:
    value = plain(figure.value, 0 if figure.unit == "" else 2)
    sign = "+" if "+" in form and figure.value > 0 and value != "0" else ""
    return f"{sign}{value}{'°' if figure.unit == '°' else ''}"
