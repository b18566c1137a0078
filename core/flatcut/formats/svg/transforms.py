"""The `transform` attribute of SVG as an affine map and back.

Source: SVG 1.1, section 7.6 (which SVG 2 keeps through CSS Transforms Level 1, section 8).
Not read: transforms set by CSS, in `style` or a style sheet, with units or with an origin of their own.
"""

from __future__ import annotations

import math
import re

from flatcut.errors import InputError
from flatcut.formats.svg.numbers import number, numbers
from flatcut.geometry.affine import IDENTITY, Affine

_ONE = re.compile(r"\s*([A-Za-z]+)\s*\(([^()]*)\)\s*", re.ASCII)
_COUNTS = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}


def parse_transform(text: str, *, name: str = "the object") -> Affine:
    """The map of a transform list, its last one applied first.

    Errors: InputError, a sentence that begins with `name`.

    >>> parse_transform("translate(10,5) scale(2)").apply([1, 1])
    array([12.,  7.])
    >>> parse_transform("rotate(90 1 1)").apply([2, 1]).round(9)
    array([1., 2.])
    """
    total = IDENTITY
    place, end = 0, len(text.rstrip())
    while place < end:
        found = _ONE.match(text, place)
        if found is None:
            raise _fault(name, text)
        place = found.end()
        if text[place : place + 1] == ",":
            place += 1
            if place >= end:
                raise _fault(name, text)
        one = _one(found[1], numbers(found[2]))
        if one is None:
            raise _fault(name, text)
        total = one if total is IDENTITY else total @ one
    if not all(map(math.isfinite, total)):
        raise _fault(name, text)
    return total


def _one(kind: str, values: list[float] | None) -> Affine | None:
    """One map of the list, or None when it is unknown or has the wrong count of numbers."""
    if values is None or len(values) not in _COUNTS.get(kind, ()):
        return None
    if kind == "matrix":
        return Affine(*values)
    if kind == "translate":
        return Affine(e=values[0], f=values[1] if len(values) > 1 else 0.0)
    if kind == "scale":
        return Affine(a=values[0], d=values[-1])
    if not math.isfinite(values[0]):
        return None
    if kind == "rotate":
        cos, sin = _turn(values[0])
        turn = Affine(cos, sin, -sin, cos)
        if len(values) == 1:
            return turn
        x, y = values[1], values[2]
        return Affine(cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y)
    tangent = math.tan(math.radians(values[0]))
    return Affine(c=tangent) if kind == "skewX" else Affine(b=tangent)


def _turn(degrees: float) -> tuple[float, float]:
    """Cosine and sine, exact at right angles, so that a quarter turn leaves no trace in the numbers."""
    degrees = math.fmod(degrees, 360.0)
    if degrees % 90.0 == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(degrees // 90) % 4]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def _fault(name: str, text: str) -> InputError:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return InputError(
        f"{name} has a transform that cannot be read, '{shown}'; undo it or write it as matrix(a,b,c,d,e,f)"
    )


def unparse_transform(matrix: Affine) -> str:
    """The attribute for a map: `translate` for a shift, `matrix` for any other, nothing for none at all.

    Shifts have nine decimals; the linear part fifteen digits, counted from its largest number, so that reading it back
    moves a point a kilometre away by less than 1e-8.

    >>> unparse_transform(Affine.translation(3, 0.5)), unparse_transform(Affine.scaling(2)), unparse_transform(IDENTITY)
    ('translate(3,0.5)', 'matrix(2,0,0,2,0,0)', '')
    """
    a, b, c, d, e, f = matrix
    shift = [number(e), number(f)]
    if (a, b, c, d) == (1.0, 0.0, 0.0, 1.0):
        return "" if shift == ["0", "0"] else f"translate({shift[0]},{shift[1]})"
    largest = max(abs(a), abs(b), abs(c), abs(d))
    decimals = 15 - math.ceil(math.log10(largest)) if largest > 0 else 0
    linear = [number(value, max(0, decimals)) for value in (a, b, c, d)]
    return f"matrix({','.join(linear + shift)})"
