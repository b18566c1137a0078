"""The way through a drawing: every element that is shown, in order, with the space that it is drawn in."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator
from typing import NamedTuple

from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, LOCKED, described, tag, target_id
from flatcut.formats.svg.lengths import user_units
from flatcut.formats.svg.shapes import DRAWABLE
from flatcut.formats.svg.transforms import parse_transform
from flatcut.formats.svg.viewport import Size, window
from flatcut.formats.svg.visibility import Sheet, shown
from flatcut.geometry.affine import Affine

MOST_CLONES = 100_000
"""Elements that may be reached through clones: clones of clones of clones can stand for more than memory holds."""

DEEPEST_CLONES = 100
"""Clones of clones in a row: no hand makes so many, and each one is compared with all before it."""

GROUP, ANCHOR, NESTED, SYMBOL, USE, SWITCH = map(tag, ("g", "a", "svg", "symbol", "use", "switch"))
TEXTS = frozenset({tag("text"), tag("flowRoot")})
_FOLLOWED = DRAWABLE | TEXTS | {GROUP, ANCHOR, NESTED, USE, SWITCH}


class Layer(NamedTuple):
    """A layer of the editor. locked: it or a layer around it is locked."""

    element: etree._Element
    id: str | None
    label: str | None
    locked: bool


class Place(NamedTuple):
    """Where an element stands. matrix: user space of its content to the document; size: what percentages are taken of;
    group: the group around it; uses: the clones that brought it here, the outermost first.
    """

    matrix: Affine
    size: Size
    visible: bool = True
    group: etree._Element | None = None
    layer: Layer | None = None
    locked: bool = False
    uses: tuple[etree._Element, ...] = ()


def inner(
    element: etree._Element, matrix: Affine, size: Size, *, use: etree._Element | None = None
) -> tuple[Affine, Size] | None:
    """The space that an element's content is drawn in, from that around it; None when it is flattened to nothing.

    That is its transform and, for an inner svg or symbol, its window, or for a clone, its x and y.
    """
    text = element.get("transform")
    if text is not None and text.strip() not in ("", "none"):
        own = parse_transform(text, name=described(element))
        if own.determinant == 0:
            return None
        matrix = matrix @ own
    kind = element.tag
    if kind == USE and (element.get("x") or element.get("y")):
        x, y = (
            user_units(element.get(key) or "0", whole=whole, name=described(element))
            for key, whole in zip(("x", "y"), size, strict=True)
        )
        matrix = matrix @ Affine.translation(x, y)
    elif kind in (NESTED, SYMBOL):
        found = window(element, size, name=described(element), use=use)
        if found is None:
            return None
        matrix, size = matrix @ found.inner, found.size
    return matrix, size


def walk(
    root: etree._Element,
    start: Place,
    sheet: Sheet,
    find: Callable[[str], etree._Element | None],
    only: Container[etree._Element] | None = None,
) -> Iterator[tuple[etree._Element, Place]]:
    """The visible drawable elements and texts in the order of the document, clones where they are used.

    start: the place of the content of `root`; find: the element of an id; only: outside of clones nothing else is
    looked at, so the groups and clones on the way have to be among them.
    Passed over: definitions, clips, masks, symbols, markers, patterns and all else that is no group, with their inside;
    what is not displayed or visible; clones of nothing, of other files, and of what they lie in.
    Errors: InputError for a transform that cannot be read and for too many clones.
    """
    stack: list[tuple[etree._Element, Place]] = []
    clones = 0

    def push(children: list[etree._Element], place: Place) -> None:
        if only is not None and not place.uses:
            children = [child for child in children if child in only]
        stack.extend([(child, place) for child in reversed(children) if child.tag in _FOLLOWED])

    displayed, visible = shown(root, sheet, True)
    if displayed:
        push(list(root), start._replace(visible=visible))
    while stack:
        element, place = stack.pop()
        if place.uses:
            clones += 1
            if clones > MOST_CLONES or len(place.uses) > DEEPEST_CLONES:
                raise InputError(f"{described(place.uses[0])} has clones in clones without end; unlink some of them")
        displayed, visible = shown(element, sheet, place.visible)
        if not displayed:
            continue
        kind = element.tag
        by = place.uses[-1] if place.uses and kind in (NESTED, SYMBOL) else None
        space = inner(element, place.matrix, place.size, use=by if by is not None and _is_target(by, element) else None)
        if space is None:
            continue
        here = place
        if visible != place.visible or space[0] is not place.matrix or space[1] is not place.size:
            here = place._replace(matrix=space[0], size=space[1], visible=visible)
        if kind in DRAWABLE or kind in TEXTS:
            if visible:
                yield element, here
        elif kind == USE:
            target = find(target_id(element) or "")
            if target is not None and target.tag in _FOLLOWED | {SYMBOL} and not _circular(target, element, here.uses):
                stack.append((target, here._replace(uses=(*here.uses, element))))
        elif kind == SWITCH:
            push(_chosen(element), here)
        else:
            push(list(element), _within(element, here) if kind in (GROUP, ANCHOR) else here)


def _within(element: etree._Element, here: Place) -> Place:
    """The place of what a group holds. Inside a clone, the groups around the clone count."""
    if here.uses:
        return here
    locked = here.locked or element.get(LOCKED) == "true"
    if element.tag != GROUP:
        return here._replace(locked=locked)
    layer = here.layer
    if element.get(GROUP_MODE) == "layer":
        layer = Layer(element, element.get("id"), element.get(LABEL), locked)
    return here._replace(group=element, layer=layer, locked=locked)


def _is_target(use: etree._Element, element: etree._Element) -> bool:
    return target_id(use) == element.get("id")


def _circular(target: etree._Element, use: etree._Element, uses: tuple[etree._Element, ...]) -> bool:
    """Whether a clone would hold itself."""
    return any(target is one or target in one.iterancestors() for one in (*uses, use))


def _chosen(switch: etree._Element) -> list[etree._Element]:
    """The child that a switch shows: the first without conditions (SVG 2, section 5.8; no language is known here)."""
    children = [child for child in switch if isinstance(child.tag, str)]
    free = [child for child in children if child.get("requiredExtensions") is None]
    return ([child for child in free if child.get("systemLanguage") is None] or free)[:1]
