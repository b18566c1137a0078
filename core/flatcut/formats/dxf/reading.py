"""A DXF file as an SVG drawing: an exchange file as its pieces, any other as the outlines that it draws."""

from __future__ import annotations

import re

from flatcut.errors import FileName, InputError
from flatcut.findings import Finding, on_reading, plural
from flatcut.formats.dxf import library
from flatcut.formats.dxf.entities import entities
from flatcut.formats.dxf.exchange_reading import exchanged, is_exchange
from flatcut.formats.dxf.plain import plain


def is_dxf(data: bytes, name: str = "") -> bool:
    """Whether a file is meant to be DXF, as text or binary: told by how it begins, else by its name.

    >>> is_dxf(b"  0\\nSECTION\\n"), is_dxf(b"<svg/>"), is_dxf(b"999\\nby hand\\n0\\nSECTION"), is_dxf(b"x", "a.dxf")
    (True, False, True, True)
    """
    start = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith((b"<", b"\x1f\x8b")):
        return False
    if start.startswith((b"AutoCAD Binary DXF", b"AC10")):
        return True
    return bool(re.match(rb"(999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n[ \t]*SECTION", start)) or name.lower().endswith(
        ".dxf"
    )


def dxf_as_svg(data: bytes, *, name: str) -> tuple[bytes, list[Finding]]:
    """The SVG drawing that a DXF file comes to, and what is to be said of it.

    Errors: InputError, MissingPackageError.
    """
    if data[:4] == b"AC10":
        raise InputError(FileName(name), " is a DWG file, which only few programs read; save it as DXF")
    if not data.strip():
        raise InputError(FileName(name), " is empty; choose a DXF file with outlines")
    if not data.startswith(library.BINARY) and not re.search(rb"(^|\n)[ \t]*0[ \t]*\r?\n[ \t]*EOF\s*$", data[-200:]):
        raise InputError(
            f"{name} is no DXF file that can be read, or is cut short: it does not end as one; write it anew, "
            "as DXF R12 if that can be chosen"
        )
    drawing, lost = library.loaded(data, name=name)
    found = entities(drawing, name=name)
    if not (found.strokes or found.dots):
        hidden = f"; {plural(found.hidden, 'line')} on layers that are off" if found.hidden else ""
        gone = f"; of it was left out what is faulty: {lost[0]}" if lost else ""
        raise InputError(FileName(name), f" draws no lines{hidden}{gone}; choose a DXF file with outlines")
    said = [on_reading(f"{name} is damaged, and of it was left out what is faulty: {lost[0]}")] if lost else []
    if is_exchange(found):
        svg, told = exchanged(found, name)
    else:
        svg, told = plain(found, _units(drawing.header.get("$INSUNITS", 0)), name)
    return svg, [*said, *told]


def _units(code: object) -> int:
    """The number of a unit, 0 for none or for what is no number."""
    return code if isinstance(code, int) else 0
