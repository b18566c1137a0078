"""DXF files for tests: an outline drawn by a general-purpose library in many ways, and files that are damaged."""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Callable, Iterator

import ezdxf
from ezdxf.document import Drawing

logging.getLogger("ezdxf").setLevel(logging.ERROR)  # that R12 has no units is known

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
UNITS = {"mm": (4, 1.0), "cm": (5, 10.0), "in": (1, 25.4), "m": (6, 1000.0)}
"""$INSUNITS (DXF reference, from memory), and mm in one."""
WIDE, HIGH, ROUND = 300.0, 400.0, 80.0
"""mm: a front of straight sides, with a quarter circle of ROUND out of its upper right corner."""
AREA = WIDE * HIGH - math.pi * ROUND**2 / 4
GIRTH = 2 * (WIDE + HIGH) - 2 * ROUND + math.pi * ROUND / 2


def text_of(drawing: Drawing, *, binary: bool = False) -> bytes:
    """The file."""
    if binary:
        held = io.BytesIO()
        drawing.write(held, fmt="bin")
        return held.getvalue()
    written = io.StringIO()
    drawing.write(written)
    return written.getvalue().encode(drawing.output_encoding, errors="dxfreplace")


def new(version: str = "R2010", unit: str = "mm") -> tuple[Drawing, float]:
    """An empty file, and how many of its units are one mm."""
    drawing = ezdxf.new(version)
    if version != "R12":
        drawing.header["$INSUNITS"] = UNITS[unit][0]
    return drawing, 1 / UNITS[unit][1]


def _corners(s: float) -> list[tuple[float, float]]:
    """The outline counter-clockwise from its lower left corner, y up, the arc between the third and the fourth."""
    return [(0, 0), (WIDE * s, 0), (WIDE * s, (HIGH - ROUND) * s), ((WIDE - ROUND) * s, HIGH * s), (0, HIGH * s)]


BULGE = -math.tan(math.pi / 8)
"""A quarter turn clockwise: the arc runs into the piece, as an armhole does."""


def bulged(space: object, s: float) -> None:
    """One polyline with a bulge."""
    rows = [(x, y, BULGE if k == 2 else 0.0) for k, (x, y) in enumerate(_corners(s))]
    space.add_lwpolyline(rows, format="xyb", close=True) if space.doc.dxfversion > "AC1009" else space.add_polyline2d(
        rows, format="xyb", close=True
    )


def lines_and_arc(space: object, s: float) -> None:
    """Single entities in a muddle, some of them the other way round."""
    a, b, c, d, e = _corners(s)
    space.add_line(c, b)
    space.add_line(e, a)
    space.add_arc((WIDE * s, HIGH * s), ROUND * s, 180, 270)
    space.add_line(a, b)
    space.add_line(d, e)


def old_polyline(space: object, s: float) -> None:
    """The polyline of old versions, of many points."""
    a, b, _, _, e = _corners(s)
    arc = [math.radians(270 - 90 * k / 40) for k in range(41)]
    points = [((WIDE + ROUND * math.cos(t)) * s, (HIGH + ROUND * math.sin(t)) * s) for t in arc]
    space.add_polyline2d([a, b, *points, e], close=True)


def spline(space: object, s: float) -> None:
    """A cubic spline for the arc, the two halves of which leave it by 2.7e-4 of its radius at most, and lines."""
    a, b, c, d, e = _corners(s)
    k = 4 / 3 * math.tan(math.pi / 8) * ROUND * s
    space.add_open_spline([c, (c[0] - k, c[1]), (d[0], d[1] - k), d])
    for one, two in ((a, b), (b, c), (d, e), (e, a)):
        space.add_line(one, two)


def ellipse(space: object, s: float) -> None:
    """An ellipse with equal axes for the arc."""
    a, b, c, d, e = _corners(s)
    space.add_ellipse((WIDE * s, HIGH * s), (ROUND * s, 0), 1.0, math.pi, 1.5 * math.pi)
    for one, two in ((a, b), (b, c), (d, e), (e, a)):
        space.add_line(one, two)


def inserted(space: object, s: float) -> None:
    """A block, half as large, turned and mirrored, shown twice as large within another block."""
    inner = space.doc.blocks.new("FRONT-HALF")
    lines_and_arc(inner, s / 2)
    outer = space.doc.blocks.new("FRONT")
    outer.add_blockref("FRONT-HALF", (0, 0), dxfattribs={"rotation": 90, "xscale": -2, "yscale": 2})
    space.add_blockref("FRONT", (500 * s, 20 * s))


def in_space(space: object, s: float) -> None:
    """In a plane that is looked at from behind, as a mirrored copy often is."""
    rows = [(x, y, BULGE if k == 2 else 0.0) for k, (x, y) in enumerate(_corners(s))]
    space.add_polyline2d(rows, format="xyb", close=True, dxfattribs={"extrusion": (0, 0, -1)})


WAYS: dict[str, Callable[[object, float], None]] = {
    "bulged": bulged,
    "lines and arc": lines_and_arc,
    "old polyline": old_polyline,
    "spline": spline,
    "ellipse": ellipse,
    "inserted": inserted,
    "in space": in_space,
}


def drawn(way: str, version: str = "R2010", unit: str = "mm") -> bytes:
    """The outline drawn in one way."""
    drawing, scale = new(version, unit)
    WAYS[way](drawing.modelspace(), scale)
    return text_of(drawing)


def damaged() -> Iterator[tuple[str, bytes, str]]:
    """Files that are wrong: what is, the file, and a part of the sentence that is to be read."""
    good = drawn("bulged", "R2000")
    lines = good.split(b"\n")
    head = b"0\nSECTION\n2\nENTITIES\n"
    end = b"0\nENDSEC\n0\nEOF\n"
    no = "no DXF file that can be read"
    empty = "draws no lines"
    yield "nothing", b"", "is empty"
    yield "blanks", b"  \n \n", "is empty"
    yield "words", b"this is a letter to my tailor", no
    yield "a picture", b"\x89PNG\r\n\x1a\n" + bytes(200), no
    yield "a PDF", b"%PDF-1.4\n1 0 obj\n", no
    yield "a web page", b"<!DOCTYPE html><html><body>no</body></html>", "no SVG"
    yield "a DWG", b"AC1032" + bytes(300), "is a DWG file"
    yield "zeros", bytes(500), no
    yield "an end alone", b"0\nEOF\n", empty
    yield "a section without end", b"0\nSECTION\n2\nENTITIES\n", "cut short"
    yield "no entities", head + end, empty
    yield "half a file", b"\n".join(lines[: len(lines) // 2]), "cut short"
    yield "three quarters", b"\n".join(lines[: 3 * len(lines) // 4]), "cut short"
    yield "a tag cut off", good[: good.rindex(b"EOF") - 40], "cut short"
    yield "codes that are words", head + b"ten\nLINE\n" + end, ""
    yield "a line lost", b"\n".join(lines[:100] + lines[101:]), ""
    yield "a number that is none", head + _line("ten", "0", "100", "0") + end, ""
    yield "not a number", head + _line("nan", "0", "100", "0") + end, "an entity LINE"
    yield "endless", head + _line("1e400", "0", "100", "0") + end, ""
    yield "a light year", head + _line("0", "0", "1e19", "0") + end, "farther than a kilometre"
    yield "no length", head + _line("5", "5", "5", "5") + end, empty
    yield "points alone", head + b"0\nPOINT\n8\n0\n10\n1\n20\n2\n30\n0\n" + end, "draws points, but no lines"
    yield "text alone", head + b"0\nTEXT\n8\n0\n10\n1\n20\n2\n40\n5\n1\nfront\n" + end, empty
    yield "a circle without size", head + b"0\nCIRCLE\n8\n0\n10\n1\n20\n2\n40\n0\n" + end, "an entity CIRCLE"
    yield (
        "an arc turned inside out",
        head + b"0\nARC\n8\n0\n10\n1\n20\n2\n40\n-5\n50\n0\n51\n90\n" + end,
        "an entity ARC",
    )
    yield "a block that is not there", head + b"0\nINSERT\n8\n0\n2\nSLEEVE\n10\n0\n20\n0\n" + end, "left out"
    yield "a block in itself", _nested(1), ""
    yield "blocks without end", _nested(14), ""
    yield "a bomb of blocks", _bomb(), "more than 200000 lines"
    yield "a layer that is off", _off(), "on layers that are off"
    yield "a polyline of one point", head + b"0\nLWPOLYLINE\n8\n0\n90\n1\n70\n1\n10\n5\n20\n5\n" + end, ""
    yield "a spline without points", head + b"0\nSPLINE\n8\n0\n70\n8\n71\n3\n72\n0\n73\n0\n74\n0\n" + end, ""
    yield "binary, cut short", b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(40), ""
    yield "a piece without a boundary", _exchange(boundary=False), "no closed boundary"
    yield "a piece that crosses itself", _exchange(crossed=True), "crosses itself"


def _line(x0: str, y0: str, x1: str, y1: str) -> bytes:
    return f"0\nLINE\n8\n0\n10\n{x0}\n20\n{y0}\n30\n0\n11\n{x1}\n21\n{y1}\n31\n0\n".encode()


def _nested(deep: int) -> bytes:
    """Blocks in blocks, the last of which shows the first."""
    blocks = "".join(
        f"0\nBLOCK\n8\n0\n2\nB{k}\n70\n0\n10\n0\n20\n0\n0\nINSERT\n8\n0\n2\nB{(k + 1) % deep}\n10\n0\n20\n0\n"
        "0\nENDBLK\n"
        for k in range(deep)
    )
    entities = "0\nINSERT\n8\n0\n2\nB0\n10\n0\n20\n0\n"
    return f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n".encode()


def _bomb() -> bytes:
    """Seven blocks, each of which shows the next one ten times."""
    drawing, _ = new("R2000")
    for k in range(7):
        block = drawing.blocks.new(f"B{k}")
        for n in range(10):
            if k == 6:
                block.add_line((n, 0), (n, 10))
            else:
                block.add_blockref(f"B{k + 1}", (n, 0))
    drawing.modelspace().add_blockref("B0", (0, 0))
    return text_of(drawing)


def _off() -> bytes:
    drawing, scale = new("R2000")
    drawing.layers.add("hidden").off()
    drawing.modelspace().add_line((0, 0), (10 * scale, 0), dxfattribs={"layer": "hidden"})
    return text_of(drawing)


def _exchange(*, boundary: bool = True, crossed: bool = False) -> bytes:
    drawing, _ = new("R12")
    block = drawing.blocks.new("FRONT")
    block.add_text("PIECE NAME: front", dxfattribs={"layer": "1", "height": 5})
    points = [(0, 0), (300, 0), (0, 200), (300, 200)] if crossed else [(0, 0), (300, 0), (300, 200)]
    block.add_polyline2d(points, close=boundary, dxfattribs={"layer": "1"})
    drawing.modelspace().add_blockref("FRONT", (0, 0), dxfattribs={"layer": "1"})
    return text_of(drawing)
