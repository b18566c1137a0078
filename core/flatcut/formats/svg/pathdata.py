"""Path data, the `d` of an SVG path, as curves and back.

Every command is read (M L H V C S Q T A Z, absolute and relative); quadratics are raised to cubics exactly, arcs become
cubics within 4.3e-6 of their larger radius (`arcs`). What a line command draws is marked straight, and so is the line
that Z draws; a C or an arc never is, however flat.
Left out and counted: segments whose points all coincide. Left out: subpaths of which nothing else remains.
Sources: SVG 2, section 9.3, and SVG 1.1, section 8.3.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import chain, islice, repeat

import numpy as np

from flatcut.errors import GeometryError, InputError
from flatcut.formats.svg.numbers import NUMBER, number, split_numbers
from flatcut.formats.svg.pen import Pen
from flatcut.formats.svg.strokes import Strokes, SubPath, gather, subpaths
from flatcut.geometry.curves import JOINT, Curve

__all__ = ["SubPath", "parse", "parse_all", "read", "unparse"]


def parse(d: str, *, name: str = "the path") -> list[SubPath]:
    """The subpaths of path data, in the units of the data.

    Errors: InputError when the data break off or hold what is no path data; the sentence begins with `name` and gives
    the character, counted from 1. (SVG has a path with an error drawn up to it; a pattern must not lose edges.)

    >>> square, = parse("m10 10h20v20h-20z")
    >>> square.closed, len(square.curve), square.curve.straight.all(), square.curve.end
    (True, 4, np.True_, array([10., 10.]))
    >>> parse("M0 0 L 5")
    Traceback (most recent call last):
    ...
    flatcut.errors.InputError: the path has numbers missing in command L at character 6; redraw or correct it
    """
    return parse_all([d], name=name)[0]


def parse_all(data: Sequence[str], *, name: str = "the path") -> list[list[SubPath]]:
    """As `parse` for each of many paths, at a fifth of the time.

    >>> [len(subpaths) for subpaths in parse_all(["M0 0H1", "", "M0 0H1M2 2H1"])]
    [1, 0, 2]
    """
    strokes = [read(d, name=name) for d in data]
    spans = gather(list(chain.from_iterable(strokes)))
    if not np.isfinite(spans.controls).all():
        raise InputError(f"{name} has a number too large to draw; redraw it smaller")
    every = iter(subpaths(spans))
    return [[subpath for subpath in islice(every, len(own)) if subpath is not None] for own in strokes]


def read(d: str, *, name: str = "the path") -> list[Strokes]:
    """As `parse`, but as numbers, with all that has no length.

    A number too large for a float comes out infinite or as NaN: whoever makes curves of them must look.

    >>> [s.points for s in read("M1 1z M5 5 l0 0 2 0")]
    [[1.0, 1.0], [5.0, 5.0, 5.0, 5.0, 7.0, 5.0]]
    """
    if _CHARACTERS.fullmatch(d) is None or d.lstrip()[:1] not in ("", "M", "m") or _misplaced_comma(d):
        raise _fault(d, name)
    pen = Pen()
    parts = _LETTER.split(d.replace(",", " "))
    for letter, text in zip(parts[1::2], parts[2::2], strict=True):
        draw, arity, relative = _COMMANDS[letter]
        values: list[float] | None
        try:
            # as in `split_numbers`: here, because it is half the time of reading a file
            values = [*map(float, text.split())] if arity != 7 else _arc_numbers(text)
        except ValueError:
            values = split_numbers(text)
        if values is None or (len(values) % arity or not values if arity else values):
            raise _fault(d, name)
        draw(pen, values, relative)
    pen.end()
    return pen.done


_LETTER = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])")
_CHARACTERS = re.compile(r"[-+0-9.eE,\sMmZzLlHhVvCcSsQqTtAa]*", re.ASCII)
_COMMAS = (re.compile(r",\s*(?:[,A-DF-Za-df-z]|$)", re.ASCII), re.compile(r"[A-DF-Za-df-z]\s*,", re.ASCII))
# a lookahead and a reference to it: what was taken for a number is not taken apart again to make the rest fit
_ARC = (
    r"\s*,?\s*".join(f"(?=({NUMBER.pattern}))\\{group}" if group not in (4, 5) else "([01])" for group in range(1, 8))
    + r"\s*,?\s*"
)

_COMMANDS = {
    letter: (draw, arity, letter.islower())
    for letters, draw, arity in (
        ("Mm", Pen.move, 2),
        ("Ll", Pen.line, 2),
        ("Hh", Pen.horizontal, 1),
        ("Vv", Pen.vertical, 1),
        ("Cc", Pen.cubic, 6),
        ("Ss", Pen.smooth, 4),
        ("Qq", Pen.quadratic, 4),
        ("Tt", Pen.smooth_quadratic, 2),
        ("Aa", Pen.arc, 7),
        ("Zz", Pen.close, 0),
    )
    for letter in letters
}


def _misplaced_comma(d: str) -> re.Match[str] | None:
    """A comma beside another one, beside a letter or at the end."""
    return (_COMMAS[0].search(d) or _COMMAS[1].search(d)) if "," in d else None


def _arc_numbers(text: str) -> list[float] | None:
    """The numbers of arcs, whose flags may be glued to each other and to what follows; None when there is a fault."""
    values: list[float] = []
    text = text.strip()
    place, arc = 0, re.compile(_ARC, re.ASCII)  # few drawings have arcs
    while place < len(text):
        found = arc.match(text, place)
        if found is None:
            return None
        values += map(float, found.groups())
        place = found.end()
    return values


def _fault(d: str, name: str) -> InputError:
    """The error for data that cannot be read, with the first fault found by looking again."""
    what, place = _first_fault(d)
    return InputError(f"{name} has {what} at character {place + 1}; redraw or correct it")


def _first_fault(d: str) -> tuple[str, int]:
    """What is wrong, and where, counted from 0."""
    good = _CHARACTERS.match(d)
    place = good.end() if good else 0
    if place < len(d):
        return f"'{d[place]}', which is no path data,", place
    place = len(d) - len(d.lstrip())
    if d[place : place + 1] not in ("M", "m"):
        return f"'{d[place]}', where only M can stand,", place
    comma = _misplaced_comma(d)
    if comma is not None:
        return "a comma too many", d.index(",", comma.start())
    parts = _LETTER.split(d)
    place = len(parts[0])
    for letter, text in zip(parts[1::2], parts[2::2], strict=True):
        arity = _COMMANDS[letter][1]
        values = _arc_numbers(text) if arity == 7 else split_numbers(text)
        if arity == 0 and text.strip():
            return f"numbers after command {letter}", place
        if values is None and arity == 7:
            return f"a radius, flag or number wrong or missing in command {letter}", place
        if values is None:
            left = NUMBER.sub(" ", text).replace(",", " ").split()
            return f"'{left[0]}' in command {letter}", place
        if arity and (not values or len(values) % arity):
            return f"numbers missing in command {letter}", place
        place += 1 + len(text)
    return "path data that cannot be read", 0


def unparse(curves: Iterable[Curve], closed: bool | Iterable[bool]) -> str:
    """Path data of curves, one subpath each: absolute M, L, C and Z, numbers with at most nine decimals.

    Straight spans are written L and curved ones C; the last span of a closed curve, when straight, is what Z draws.
    closed: one mark for all curves or one for each.
    Errors: GeometryError when a curve to be closed does not end on its start.

    >>> data = "M 10,10 L 30,10 C 40,10 40,30 30,30 Z"
    >>> unparse([s.curve for s in parse(data)], True) == data
    True
    """
    items = list(curves)
    marks = repeat(closed, len(items)) if isinstance(closed, bool) else closed
    return " ".join(_written(curve, mark) for curve, mark in zip(items, marks, strict=True))


def _written(curve: Curve, closed: bool) -> str:
    if closed and abs(curve.end - curve.start).max() > JOINT:
        raise GeometryError("a closed path must end where it starts; close the gap between its last and first node")
    texts = [number(value) for value in curve.controls.ravel().tolist()]
    pairs = [f"{x},{y}" for x, y in zip(texts[0::2], texts[1::2], strict=True)]
    straight = curve.straight.tolist()
    if closed:
        pairs[-1] = pairs[0]
        if straight[-1]:
            straight.pop()
    parts = [f"M {pairs[0]}"]
    letter = "M"
    for k, flat in enumerate(straight):
        if letter != (letter := "L" if flat else "C"):
            parts.append(letter)
        parts += pairs[4 * k + 3 : 4 * k + 4] if flat else pairs[4 * k + 1 : 4 * k + 4]
    return " ".join([*parts, "Z"] if closed else parts)
