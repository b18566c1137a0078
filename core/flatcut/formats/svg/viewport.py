"""Pages and windows: width, height, viewBox and preserveAspectRatio as maps.

Source: SVG 2, section 8.2 (the transform of a viewport) and 8.6; SVG 1.1, sections 7.2, 7.7 and 7.8.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from lxml import etree

from flatcut.errors import FileName, InputError
from flatcut.formats.svg.elements import local
from flatcut.formats.svg.lengths import user_units
from flatcut.formats.svg.numbers import numbers
from flatcut.geometry.affine import Affine

Size = tuple[float, float]
"""Width and height that percentages are taken of, in user units."""

UNSIZED: Size = (300.0, 150.0)
"""px of a page that states neither size nor viewBox; only percentages ask for it (CSS 2.1, section 10.3.2)."""

_ALIGN = r"\s*(?:defer\s+)?(none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?\s*"
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


class Window(NamedTuple):
    """The map from inside a window to the user space around it, and the size that percentages inside are taken of."""

    inner: Affine
    size: Size


def view_box(element: etree._Element, *, name: str) -> tuple[float, float, float, float] | None:
    """The four numbers of a viewBox, None without one. Errors: InputError unless it has a size."""
    text = element.get("viewBox")
    if text is None or not text.strip():
        return None
    found = numbers(text)
    if found is None or len(found) != 4 or not all(map(math.isfinite, found)) or min(found[2:]) <= 0:
        raise InputError(
            FileName(name), f" has the viewBox '{text[:40]}'; it needs four numbers, the last two above zero"
        )
    return found[0], found[1], found[2], found[3]


def fit(box: tuple[float, float, float, float], x: float, y: float, size: Size, aspect: str | None) -> Affine:
    """The map that brings a viewBox into the rectangle at x, y; `aspect` is the text of preserveAspectRatio.

    >>> fit((0, 0, 10, 10), 0, 0, (40, 20), None).apply([0, 0])
    array([10.,  0.])
    """
    scale_x, scale_y = size[0] / box[2], size[1] / box[3]
    found = re.fullmatch(_ALIGN, aspect) if aspect else None
    share_x = share_y = 0.5
    if found is None or found[1] != "none":
        scale_x = scale_y = max(scale_x, scale_y) if found and found[4] == "slice" else min(scale_x, scale_y)
    if found and found[1] != "none":
        share_x, share_y = _SHARE[found[2]], _SHARE[found[3]]
    return Affine(
        a=scale_x,
        d=scale_y,
        e=x - box[0] * scale_x + (size[0] - box[2] * scale_x) * share_x,
        f=y - box[1] * scale_y + (size[1] - box[3] * scale_y) * share_y,
    )


def page(root: etree._Element, *, name: str) -> tuple[Window, Size]:
    """The window of the page, its map going to px, and the size of the page in px.

    A width or height that is missing is that of the viewBox, one unit of which is then one px, and a percentage is a
    part of it. So does the editor (Inkscape 1.2.2, measured), so that a drawing has here the size that it has there; a
    browser lets a missing height follow from the width instead. Errors: InputError.
    """
    box = view_box(root, name=name)
    whole = UNSIZED if box is None else box[2:]
    size = _side(root, "width", whole[0], name), _side(root, "height", whole[1], name)
    if box is None:
        return Window(Affine(), size), size
    return Window(fit(box, 0.0, 0.0, size, root.get("preserveAspectRatio")), box[2:]), size


def _side(root: etree._Element, key: str, whole: float, name: str) -> float:
    """Width or height of the page in px."""
    text = root.get(key, "").strip()
    value = whole if text in ("", "auto") else user_units(text, whole=whole, name=name)
    if not (math.isfinite(value) and value > 0):
        raise InputError(FileName(name), f" has a page of {key} '{text[:40]}'; set it in the document properties")
    return value


def window(element: etree._Element, around: Size, *, name: str, use: etree._Element | None = None) -> Window | None:
    """The window of an svg or symbol inside a drawing, None when it has no size and shows nothing.

    use: the element that puts it there; its width and height go before those of the window itself, and its x and y,
    which move a clone, are left to the caller.
    """
    x, y = (
        (0.0, 0.0)
        if local(element) == "symbol"
        else (_length(element, "x", around[0], name), _length(element, "y", around[1], name))
    )
    sides = []
    for key, whole in (("width", around[0]), ("height", around[1])):
        texts = ((use.get(key) if use is not None else None), element.get(key))
        text = next((t for t in texts if t is not None and t.strip() not in ("", "auto")), "100%")
        sides.append(user_units(text, whole=whole, name=name))
    if not min(sides) > 0:
        return None
    box = view_box(element, name=name)
    if box is None:
        return Window(Affine.translation(x, y), (sides[0], sides[1]))
    return Window(fit(box, x, y, (sides[0], sides[1]), element.get("preserveAspectRatio")), box[2:])


def _length(element: etree._Element, key: str, whole: float, name: str) -> float:
    return user_units(element.get(key, "0"), whole=whole, name=name)
