"""Reading a drawing of any kind that pieces come in: SVG, or DXF, which is made SVG first."""

from __future__ import annotations

from pathlib import PurePath

from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.read import read as read_svg
from flatcut.pattern.values import Pattern

FIRST = (b"<", b"\x1f\x8b")
"""How an SVG file begins, plain or packed."""


def as_svg(data: bytes, *, name: str) -> tuple[bytes, list[Finding]]:
    """The bytes of an SVG drawing, and what making them of a DXF file found; an SVG file stays as it is.

    Errors: InputError for a DXF file that cannot be read, MissingPackageError.
    """
    if data[:64].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(FIRST):
        return data, []
    from flatcut.formats.dxf.reading import dxf_as_svg, is_dxf

    called = PurePath(name).name if len(name) < 1000 else "the file"
    return dxf_as_svg(data, name=called) if is_dxf(data, name) else (data, [])


def read(data: bytes, *, name: str = "the file") -> tuple[Drawing, Pattern, list[Finding]]:
    """As `formats.svg.read.read`, of an SVG or a DXF file. Errors: InputError, MissingPackageError."""
    svg, said = as_svg(data, name=name)
    drawing, pattern, findings = read_svg(svg, name=name)
    return drawing, pattern, [*said, *findings]
