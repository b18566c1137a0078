"""A photograph that lies in the drawing: the file that a selected image is linked to, or the image itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from urllib.parse import unquote, urlsplit

from lxml import etree

from flatcut.declared.declared import Declared, kinds
from flatcut.errors import InputError, Option
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.elements import SODIPODI, XLINK_HREF, local

PHOTO, SQUARE = "photo", "square"
"""The fields of an operation that reads a photograph."""


def with_picture(cls: type[Declared], given: Mapping[str, str], drawing: Drawing, ids: Sequence[str]) -> dict[str, str]:
    """What a dialog hands over, with the one image that is selected for the photograph that is not named.

    Errors: InputError with what to do, where the image is linked and its file is not there.
    """
    found = dict(given)
    if PHOTO not in kinds(cls) or given.get(PHOTO, "").strip() or not given.get(SQUARE, "").strip():
        return found
    wanted = set(ids)
    images = [
        element
        for element in drawing.document.root.iter(etree.Element)
        if element.get("id") in wanted and local(element) == "image"
    ]
    if len(images) == 1:
        found[PHOTO] = _file(images[0])
    return found


def _file(image: etree._Element) -> str:
    """Where an image lies: a file, or the image itself as RFC 2397 writes it."""
    link = (image.get("href") or image.get(XLINK_HREF) or "").strip()
    if link.startswith("data:"):
        return link
    told = urlsplit(link)
    # the editor hands over a copy of the drawing in another folder: what a link is counted from is told beside it
    beside = (image.get(f"{{{SODIPODI}}}absref", ""), unquote(told.path) if told.scheme in ("", "file") else "")
    for name in beside:
        if name and Path(name).is_file():
            return name
    raise InputError(
        f"the image that is selected is linked to '{link}', and no such file is there; name the file with ",
        Option(PHOTO, "FILE"),
    )
