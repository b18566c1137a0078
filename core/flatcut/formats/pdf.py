"""Pages as a PDF file: the one place that knows reportlab, which is imported only when a PDF is asked for.

Why a library and not a writer of our own: paths alone would be a page of code, but names are written in every script
there is, and embedding the letters they need from a font file is work that a well-kept library does right.
Curves stay cubic curves. The same pages give the same bytes: no clock, no random ids.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from flatcut.drawing.ink import Stroke, Words
from flatcut.errors import InputError, MissingPackageError, UsageError
from flatcut.geometry.curves import Curve
from flatcut.printing.page import Page, Part

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

POINT = 72 / 25.4
"""Points in one mm."""
MITRE = 2
"""Corners sharper than 60° are drawn blunt: mitred, a pen of half a mm would reach 2 mm past the tip of a dart."""
PLAIN = "Vera.ttf"
"""The font of all words that it has the letters for; it comes with reportlab and is embedded."""
KNOWN = (
    "DejaVuSans.ttf",
    "NotoSans-Regular.ttf",
    "LiberationSans-Regular.ttf",
    "FreeSans.ttf",
    "arial.ttf",
    "Arial.ttf",
    "Arial Unicode.ttf",
    "wqy-zenhei.ttc",
    "msgothic.ttc",
    "simsun.ttc",
    "malgun.ttf",
)
"""Font files that systems bring with them: looked for, where reportlab looks, when PLAIN lacks a letter."""


def pdf(
    pages: Iterable[Page], *, title: str = "", font: str = "", subject: str = "paper pattern at true scale"
) -> bytes:
    """The file. title, subject: as a reader of PDF shows them; font: a TrueType file for letters that the usual lacks.

    Errors: MissingPackageError without reportlab; UsageError when no font has a letter; InputError for a bad font file.
    """
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ImportError:
        raise MissingPackageError(
            "printing needs the package reportlab; install it with: pip install 'flatcut[print]'"
        ) from None
    buffer = io.BytesIO()
    fonts = _Fonts(font)
    first = fonts.of("")
    named = {"initialFontName": first}
    canvas = Canvas(buffer, pageCompression=1, invariant=1, **named)  # type: ignore[arg-type]  # stubs want a number
    canvas.setTitle(title)
    canvas.setCreator("flatcut")
    canvas.setAuthor("")
    canvas.setSubject(subject)
    # a reader that offers to fit pages to the paper starts with that switched off (ISO 32000-1, table 150)
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width * POINT, page.height * POINT))
        if page.name:
            canvas.bookmarkPage(f"{canvas.getPageNumber()}")
            canvas.addOutlineEntry(page.name, f"{canvas.getPageNumber()}", 0)
        for part in page.parts:
            _draw(canvas, part, page.height, fonts)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, part: Part, height: float, fonts: _Fonts) -> None:
    dx, dy = part.shift
    canvas.saveState()
    if part.clip is not None:
        x0, y0, x1, y1 = part.clip
        path = canvas.beginPath()
        path.rect(x0 * POINT, (height - y1) * POINT, (x1 - x0) * POINT, (y1 - y0) * POINT)
        canvas.clipPath(path, stroke=0, fill=0)
    for stroke in part.visible():
        _stroke(canvas, stroke, dx, height - dy)
    for words in part.legible():
        _words(canvas, words, dx, height - dy, fonts)
    canvas.restoreState()


def _stroke(canvas: Canvas, stroke: Stroke, dx: float, top: float) -> None:
    """Draw a stroke; page coordinates run up, so y counts down from `top`."""
    canvas.setLineWidth(stroke.role.width * POINT)
    canvas.setStrokeColor(stroke.role.colour)
    canvas.setDash([dash * POINT for dash in stroke.role.dashes])
    canvas.setLineJoin(0)
    canvas.setMiterLimit(MITRE)
    path = canvas.beginPath()
    for curve in stroke.curves:
        ring = len(curve) > 1 and bool((curve.start == curve.end).all())
        _put(path, curve, dx, top, closed=stroke.closed or ring)
    if stroke.role.fill:
        canvas.setFillColor(stroke.role.fill)
    # a pen of no width fills alone: the thinnest line of a printer would make what is measured larger
    canvas.drawPath(path, stroke=int(stroke.role.width > 0), fill=int(bool(stroke.role.fill)))


def _put(path: Any, curve: Curve, dx: float, top: float, *, closed: bool) -> None:
    """Add a line to a path."""
    points = curve.controls * [POINT, -POINT] + [dx * POINT, top * POINT]
    path.moveTo(*points[0, 0].tolist())
    last = len(curve) - 1
    for k, (span, straight) in enumerate(zip(points.tolist(), curve.straight.tolist(), strict=True)):
        if not straight:
            path.curveTo(*span[1], *span[2], *span[3])
        elif not (closed and k == last):  # the last side of a closed outline is drawn by closing it
            path.lineTo(*span[3])
    if closed:
        path.close()


def _words(canvas: Canvas, words: Words, dx: float, top: float, fonts: _Fonts) -> None:
    size = words.height * POINT
    canvas.saveState()
    canvas.translate((words.at[0] + dx) * POINT, (top - words.at[1]) * POINT)
    canvas.rotate(-words.angle)
    canvas.setFillColor(words.role.colour)
    for text, low in zip(words.lines, words.rows, strict=True):
        canvas.setFont(fonts.of(text), size)
        put = canvas.drawCentredString if words.align == "middle" else canvas.drawString
        put(0, -low * POINT, text)
    canvas.restoreState()


class _Fonts:
    """Finds a font for each text: the usual one, the one that was named, or one of those that the system has."""

    def __init__(self, named: str) -> None:
        self._named = named
        self._loaded: list[TTFont] = []
        self._waiting = [PLAIN, *([named] if named else []), *KNOWN]
        if named:
            self._load(named)  # a file that is none is told, whether or not its letters are needed

    def of(self, text: str) -> str:
        """The name of a font that has every letter of a text. Errors: UsageError."""
        wanted = {ord(letter) for letter in text if letter != " "}
        lacking = wanted
        for font in self._fonts():
            lacks = wanted - font.face.charToGlyph.keys()
            if not lacks:
                return str(font.fontName)
            lacking = min(lacking, lacks, key=len)
        letters = " ".join(chr(code) for code in sorted(lacking)[:8])
        raise UsageError(
            f"'{text[:40]}' has letters that no font found here has ({letters}); name a TrueType file that has them "
            "with --font=FILE.ttf"
        )

    def _fonts(self) -> Iterable[TTFont]:
        yield from self._loaded
        while self._waiting:
            font = self._load(self._waiting.pop(0))
            if font is not None:
                self._loaded.append(font)
                yield font

    def _load(self, file: str) -> TTFont | None:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFError, TTFont

        name = file.rpartition("/")[2]
        try:
            font = TTFont(name, file)
        except (TTFError, OSError, ValueError):
            if file == self._named:
                raise InputError(f"{file} is no TrueType font that can be read; name another with --font") from None
            return None
        pdfmetrics.registerFont(font)
        return font
