"""The one place that knows ezdxf, which is imported only when a DXF file is read or written.

Why a library and not a reader of our own: thirty years of versions, splines, blocks within blocks. What comes of it is
plain: entities as curves in the units of the file, and files as bytes.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, TypeAlias

from flatcut.errors import InputError, MissingPackageError

if TYPE_CHECKING:
    from ezdxf.document import Drawing

BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""How a binary file begins (DXF reference)."""
Layout: TypeAlias = Any
"""A block of the library, or its model space: both take entities and give them."""


def package() -> Any:
    """The library. Errors: MissingPackageError."""
    try:
        import ezdxf
        import ezdxf.document
        import ezdxf.path
        import ezdxf.recover
    except ImportError:
        raise MissingPackageError(
            "DXF files need the package ezdxf; install it with: pip install 'flatcut[exchange]'"
        ) from None
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)  # what it says belongs to nobody who cuts cloth
    return ezdxf


def loaded(data: bytes, *, name: str) -> tuple[Drawing, list[str]]:
    """A file as the library has it, and what it left out to mend it. Errors: InputError, MissingPackageError."""
    ezdxf = package()
    try:
        if data.startswith(BINARY):
            from ezdxf.lldxf.tagger import binary_tags_loader

            drawing = ezdxf.document.Drawing.load(binary_tags_loader(data))
            audit = drawing.audit()
        else:
            drawing, audit = ezdxf.recover.read(io.BytesIO(data))
    except (
        ezdxf.DXFError,
        OSError,
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        ArithmeticError,
        AssertionError,
    ):
        # whatever damage does to it, it is the file that is wrong
        raise InputError(
            f"{name} is no DXF file that can be read; write it anew, as DXF R12 if that can be chosen"
        ) from None
    if audit.has_errors:
        raise InputError(
            f"{name} is damaged in {len(audit.errors)} places that cannot be mended ({audit.errors[0].message}); "
            "write it anew from where it was drawn"
        )
    found: Drawing = drawing
    return found, [fix.message for fix in audit.fixes if re.search("remov|delet|discard", fix.message, re.IGNORECASE)]


def new() -> Drawing:
    """An empty file of the oldest version, R12: it has all that outlines take, and every reader knows it."""
    ezdxf = package()
    drawing: Drawing = ezdxf.new("R12")
    return drawing


def written(drawing: Drawing) -> bytes:
    """The file, 7-bit ASCII, without what the library says of itself and of the time.

    Its blocks for the drawing itself are left out: in such a file every block is a piece.
    """
    ezdxf, text = package(), io.StringIO()
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        drawing.write(text)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = False
    rows = text.getvalue().split("\n")
    pairs = [(rows[k], rows[k + 1]) for k in range(0, len(rows) - 1, 2)]
    kept = [pair for block in _blocks(pairs) for pair in block]
    return "".join(f"{code}\n{value}\n" for code, value in kept).encode("ascii")


def _blocks(pairs: list[tuple[str, str]]) -> Iterator[list[tuple[str, str]]]:
    """The file in runs of tags, without the blocks of the model space and of the paper."""
    start = 0
    for k, (code, value) in enumerate(pairs):
        if code.strip() != "0" or value not in ("BLOCK", "ENDBLK", "ENDSEC"):
            continue
        if value in ("BLOCK", "ENDSEC"):
            run = pairs[start:k]
            name = next((v for c, v in run if c.strip() == "2"), "") if run and run[0][1] == "BLOCK" else ""
            if not name.startswith("$"):
                yield run
            start = k
    yield pairs[start:]


def model(drawing: Drawing) -> Layout:
    """The drawing itself, without its blocks."""
    return drawing.modelspace()


def blocks(drawing: Drawing) -> list[Layout]:
    """The blocks that hold something of the person's."""
    return [block for block in drawing.blocks if not block.is_any_layout and not block.name.startswith("*")]
