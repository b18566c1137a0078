"""The figures of a step where a cutter writes them: beside the edge, in the dart, at the notch."""

from __future__ import annotations

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
MOST = 16
"""Places with figures on one picture; more could not be read."""


def written(pattern: Pattern, figures: Iterable[Figure]) -> list[tuple[Array, tuple[str, ...]]]:
    """Figures and where they are written, (2,) mm: those of one thing under each other."""
    found: dict[str, list[str]] = {}
    for figure in figures:
        reference, _, rest = figure.label.partition(" ")
        if "." in reference and rest in WRITTEN and _is_place(reference):
            text = _text(WRITTEN[rest], figure)
            rows = found.setdefault(reference, [])
            if text not in rows and text.rstrip("°") != "0":
                rows.append(text)
    every = []
    for reference, rows in ((reference, rows) for reference, rows in found.items() if rows):
        for _, at in pointed(pattern, reference)[:1]:
            every.append((at, tuple(rows)))
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
