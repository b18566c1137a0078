"""Names of SVG elements and attributes."""

from __future__ import annotations

from lxml import etree

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
INKSCAPE = "http://www.inkscape.org/namespaces/inkscape"
SODIPODI = "http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd"

LABEL = f"{{{INKSCAPE}}}label"
GROUP_MODE = f"{{{INKSCAPE}}}groupmode"
LOCKED = f"{{{SODIPODI}}}insensitive"
ROLE = f"{{{SODIPODI}}}role"
XLINK_HREF = f"{{{XLINK}}}href"


def tag(name: str) -> str:
    """The full name of an SVG element.

    >>> tag("path")
    '{http://www.w3.org/2000/svg}path'
    """
    return f"{{{SVG}}}{name}"


def local(element: etree._Element) -> str:
    """The name of an element without its namespace; empty for a comment or another node that has none."""
    name = element.tag
    return name.rpartition("}")[2] if isinstance(name, str) else ""


def described(element: etree._Element) -> str:
    """What to call an element in a sentence.

    >>> described(etree.fromstring('<path id="p1"/>')), described(etree.fromstring("<path/>"))
    ("path 'p1'", 'the path on line 1')
    """
    name = element.get("id")
    if name is None:
        line = element.sourceline
        return f"the {local(element)} on line {line}" if line else f"a {local(element)} without an id"
    return f"{local(element)} '{name}'"


def target_id(element: etree._Element) -> str | None:
    """The id that a `use` points at, None when it points out of the document or at nothing."""
    link = element.get("href")
    if link is None:
        link = element.get(XLINK_HREF, "")
    link = link.strip()
    return link[1:] if link.startswith("#") else None
