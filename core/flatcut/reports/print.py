"""`print`: the pieces of a drawing on paper at true scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar

from flatcut.checks.out_of_date import OutOfDate
from flatcut.declared.fields import choice, file, flag, further, length, piece_names, text
from flatcut.drawing.ink import Ink
from flatcut.drawing.pieces import LINES, piece_ink
from flatcut.errors import InputError, Option, UsageError
from flatcut.formats.pdf import pdf
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.sheet import page_as_svg
from flatcut.lesson.cautions import CAUTIONS, cautions
from flatcut.lesson.instructions import instruction_pages
from flatcut.marking.cutline import wants_cut
from flatcut.marking.derived import Derived, derive_all
from flatcut.marking.labels import NO_ALLOWANCE
from flatcut.operations.arrange import upright
from flatcut.pattern.values import Figure, Pattern, Piece, Style
from flatcut.photograph.marks import SQUARES
from flatcut.printing.control_squares import SIDE, control_square_pages
from flatcut.printing.cover import Told
from flatcut.printing.cut_only import cut_pages, cut_path
from flatcut.printing.layout import window
from flatcut.printing.page import Page
from flatcut.printing.paper import FORMS, SHEETS, Paper, on_its_side, paper
from flatcut.printing.sets import Setting, piece_pages, set_pages
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.reports.subject import subject
from flatcut.sizes.nested import nested_ink, sizes_of
from flatcut.sizes.over import differences, laid_over
from flatcut.units import plain

LEAST_WINDOW = 55.0
"""mm: what must lie between the margins, for a test square to go in."""
ONLY = "cut"
OWN = "own-size"
"""The paper of a page that is as large as its piece."""
MOST_NAMED = 3
"""Of more sizes than these the label of a nest names the first and the last; the first page names all."""


@dataclass(frozen=True, kw_only=True)
class Printed:
    """pages: as they follow each other in the file; warnings: what a person should know before cutting; uncut: whether
    a piece that should have a cut line can have none; notes: what reading the drawing found.
    """

    pages: tuple[Page, ...]
    figures: tuple[Figure, ...]
    warnings: tuple[str, ...]
    uncut: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Size:
    """A drawing that is one size of several, the names of its pieces that are printed, and what is to be said of it."""

    title: str
    pattern: Pattern
    names: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass
class _Told:
    """Sums over the drawings; noted: whether a piece is not printed as it should be."""

    figures: dict[str, float] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    noted: bool = False

    def add(self, printed: Printed) -> None:
        """Count one drawing in."""
        self.notes += printed.notes
        self.warnings += printed.warnings
        self.noted |= bool(printed.notes) or printed.uncut
        for figure in printed.figures:
            self.figures[figure.label] = self.figures.get(figure.label, 0) + figure.value


@report
@dataclass(frozen=True, kw_only=True)
class Print(Report):
    """Print pieces at true scale, on sheets that are taped together, on a roll, or each on a page of its own.

    Cut lines, notches and labels are made anew from the pieces, whatever the drawing shows of them. The first page has
    test squares to be measured, and a map of the sheets.
    """

    usage: ClassVar[str] = "flatcut print IN.svg... -o OUT.pdf|OUT.svg [--jobs=N] [--name=value...]"
    saves: ClassVar[str] = ".pdf"
    also_saves: ClassVar[tuple[str, ...]] = (".svg",)
    file_type: ClassVar[str] = "Paper pattern at true scale"
    doing: ClassVar[str] = "printed"

    paper: str = choice("a4", "paper", (*SHEETS, OWN), other=FORMS)
    turned: bool = flag(False, "sheets lying on their side")
    pages: str = choice("set", ("pages", "one set of sheets for all, or each piece by itself"), ("set", "pieces"))
    lines: str = choice("both", ("outlines", "cut line, stitch line or both"), LINES)
    as_drawn: bool = flag(False, ("pieces where they lie", "in the drawing, not side by side with the grain upright"))
    margin: float = length(10.0, ("margin", "that the printer leaves empty"), high=50)
    overlap: float = length(10.0, "overlap of the sheets", high=60)
    gap: float = length(20.0, ("space between pieces", "that are set side by side"), high=500)
    nested: bool = flag(False, ("sizes laid on each other", "the drawings are sizes of one style, each has its line"))
    only: str = choice("", ("only what is cut", "one path for each piece, for a plotter or a laser"), ("", ONLY))
    instructions: bool = further(
        flag(False, ("instructions in front", "what is cut, and in which order it is sewn, with pictures"))
    )
    control_square: bool = further(
        flag(False, ("only control squares", "to lie beside a paper piece that is photographed; no drawing is needed"))
    )
    pieces: tuple[str, ...] = piece_names(("names of the pieces to print", "", "all"))
    style: str = text("", ("name of the style", "", "that of the drawing"))
    size: str = text("", ("size", "", "that of the drawing"))
    date: str = text("", ("date to print", "as it is to be read"))
    font: str = file("", ("further font", "for letters that the usual one lacks (TrueType)"), ("ttf", "ttc"))

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.instructions and (self.only or self.nested):
            other = Option("only", ONLY) if self.only else Option("nested")
            raise UsageError(Option("instructions"), " and ", other, " do not go together; print them by themselves")
        if self.paper != OWN:
            paper(self.paper)
        elif self.pages != "pieces" and not self.only:
            raise UsageError(
                Option("paper", f"{OWN}"), " goes with ", Option("pages", "pieces"), "; name a paper for the whole set"
            )

    def sheet(self) -> Paper:
        """The paper. Errors: UsageError when its margins leave no room, or the overlap is most of what they leave."""
        sheet = paper(self.paper)
        sheet = on_its_side(sheet) if self.turned else sheet
        wide, high = window((sheet.width, sheet.height or 1e9), self.margin)
        if min(wide, high) < LEAST_WINDOW:
            raise UsageError(
                f"margins of {plain(self.margin)} mm leave {plain(min(wide, high))} mm of the paper; "
                f"take larger paper or smaller margins, {plain(LEAST_WINDOW)} mm is the least"
            )
        if self.overlap > min(wide, high) / 2:
            raise UsageError(
                Option("overlap", f"{plain(self.overlap)}"),
                f" is more than half of the {plain(min(wide, high))} mm between the "
                "margins; make it smaller, 10 to 15 mm is usual",
            )
        return sheet

    def perform(self, pattern: Pattern, *, name: str = "", notes: tuple[str, ...] = ()) -> Printed:
        """The pages of one drawing.

        name: of the drawing, for where no style is named; notes: of reading it, which go on the first page too.
        Errors: UsageError, InputError when there is nothing to print.
        """
        made = self.evaluated(pattern)
        setting = Setting(
            sheet=None if made.paper == OWN else made.sheet(),
            margin=made.margin,
            overlap=made.overlap,
            gap=made.gap,
            as_drawn=made.as_drawn,
        )
        pieces = [pattern.piece(one) for one in made.pieces] if made.pieces else list(pattern.pieces)
        if not pieces:
            raise InputError(
                f"{name or 'the drawing'} has no pieces to print; make its outlines pieces first (operation 'piece')"
            )
        style = replace(pattern.style, name=made.style or pattern.style.name, size=made.size or pattern.style.size)
        shown = [piece if made.as_drawn else upright(piece) for piece in pieces]
        shown = [_numbered(piece, k, len(shown)) for k, piece in enumerate(shown, start=1)]
        found = made._labelled(shown, derive_all(shown, style), style)
        parts = [piece_ink(piece, derived, lines=made.lines) for piece, derived in zip(shown, found, strict=True)]
        warned = [text for piece, derived in zip(pieces, found, strict=True) for text in made._warned(piece, derived)]
        warned = list(dict.fromkeys(warned))  # pieces of one kind have the same things said of them
        if made.only:
            cut = [cut_path(piece, derived) for piece, derived in zip(shown, found, strict=True)]
            sheet = None if setting.sheet is None or made.pages == "pieces" else setting.sheet
            return _printed_as(cut_pages(cut, sheet, margin=made.margin, gap=made.gap), len(pieces), warned, found)
        told = made._told(style, name, pieces, (*notes, *warned))
        title = ", ".join(filter(None, (told.heading, *told.lines[:1])))
        pages = tuple((piece_pages if made.pages == "pieces" else set_pages)(parts, told, title, setting))
        if made.instructions:
            pages = (*instruction_pages(replace(pattern, style=style), title, made.paper), *pages)
        return _printed_as(pages, len(pieces), warned, found)

    def run(self, inputs: Inputs) -> Result:
        """One PDF of all drawings, the pages of one at a time held; of sizes that are nested, of all at once.

        What is cut may be an SVG drawing instead, which has one page.
        """
        if self.control_square:
            return self._control_squares(inputs)
        as_svg = inputs.ending == ".svg"
        if as_svg and not self.only:
            raise UsageError("an SVG drawing goes with ", Option("only", ONLY), ": other pages have words on them")
        told = _Told()
        parts = iter([self._nested(inputs)]) if self.nested else inputs.each(self._printed)

        def pages() -> Iterator[Page]:
            # made once it is known that this Python can write a PDF; else another one is asked for the whole of it
            for printed in parts:
                told.add(printed)
                yield from printed.pages

        if as_svg:
            kept = list(pages())
            if len(kept) != 1:
                raise UsageError(f"an SVG drawing has one page, and what is cut takes {len(kept)}; take larger paper")
            made = page_as_svg(kept[0])
        else:
            made = pdf(pages(), title=self.style or inputs.title, font=self.font)
        return Result(
            files=(Made(chunks=[made]),),
            figures=tuple(Figure(label, value, "") for label, value in told.figures.items()),
            warnings=tuple(told.warnings),
            notes=tuple(told.notes),
            noted=told.noted,
        )

    def _control_squares(self, inputs: Inputs) -> Result:
        """The squares alone. Errors: UsageError."""
        if inputs.ending == ".svg":
            raise UsageError("control squares are printed from a PDF; name a file that ends in .pdf with -o")
        if self.paper == OWN:
            raise UsageError(Option("paper", OWN), " is no paper for control squares; name one such as a4")
        pages = list(control_square_pages(self.evaluated(Pattern()).sheet(), self.evaluated(Pattern()).margin))
        made = pdf(iter(pages), title="Control squares", font=self.font)
        figures = (
            Figure("control squares", SQUARES, ""),
            Figure("side of each", SIDE),
            Figure("pages", len(pages), ""),
        )
        return Result(files=(Made(chunks=[made]),), figures=figures)

    def _nested(self, inputs: Inputs) -> Printed:
        """The pages of sizes laid on each other, piece by piece. Errors: UsageError, InputError."""
        if self.only:
            raise UsageError(Option("nested"), " and ", Option("only", ONLY), " do not go together; cut size by size")
        every = list(inputs.each(self._size))
        made = self.evaluated(Pattern())
        sizes = sizes_of([one.pattern.style.size for one in every])
        words = ", ".join(f"{size.name} {size.letter}" for size in sizes)
        first = every[0].pattern.style
        ends = (f"{size.name} {size.letter}" for size in (sizes[0], sizes[-1]))
        labelled = words if len(sizes) <= MOST_NAMED else " to ".join(ends)
        style = replace(first, name=self.style or first.name, size=labelled)
        warned = [text for one in every for text in one.warnings]
        parts: list[Ink] = []
        uncut: list[Derived] = []
        named = [(size.name, one.pattern) for size, one in zip(sizes, every, strict=True)]
        warned += differences(named, self.pieces)
        names = list(dict.fromkeys(name for one in every for name in one.names))
        for name in names:
            over = laid_over(named, name)
            held = [size for size in sizes if size.name in {one.size for one in over}]
            shown = [one.piece for one in over]
            found = self._labelled(shown, derive_all(shown, style), style)
            warned += [
                text for piece, derived in zip(shown, found, strict=True) for text in self._warned(piece, derived)
            ]
            uncut += found
            parts.append(nested_ink(held, over, found, self.lines))
        if not parts:
            raise InputError("the drawings have no pieces to print; make their outlines pieces first")
        warned = list(dict.fromkeys(warned))
        sheet = None if made.paper == OWN else made.sheet()
        setting = Setting(sheet=sheet, margin=made.margin, overlap=made.overlap, gap=made.gap)
        shown = [one.pattern.piece(name) for one in every for name in one.names]
        told = self._told(replace(style, size=""), every[0].title, shown, tuple(warned), count=len(names))
        said = f"Sizes {words}: each has its letter and its kind of line"
        told = replace(told, lines=(said, *told.lines))
        title = f"{told.heading}, sizes {words}"
        pages = tuple((piece_pages if self.pages == "pieces" else set_pages)(parts, told, title, setting))
        return replace(
            _printed_as(pages, len(names), warned, uncut), notes=tuple(n for one in every for n in one.notes)
        )

    def _size(self, one: Input) -> _Size:
        """One drawing as a size among others."""
        names = self.pieces or [piece.name for piece in one.pattern.pieces]
        return _Size(
            title=one.title,
            pattern=replace(one.pattern, drawn=()),  # what is drawn beside the pieces does not go to other processes
            names=tuple(one.pattern.piece(name).name for name in names),
            warnings=tuple(self.older(one.drawing, one.pattern)),
            notes=tuple(map(str, one.findings)),
        )

    def _printed(self, one: Input) -> Printed:
        """The pages of one drawing, with what reading it found and which of its drawn lines are older than it."""
        notes, stale = tuple(map(str, one.findings)), tuple(self.older(one.drawing, one.pattern))
        done = self.perform(one.pattern, name=one.title, notes=(*notes, *stale))
        return replace(done, warnings=(*stale, *done.warnings), notes=notes)

    def older(self, drawing: Drawing, pattern: Pattern) -> list[str]:
        """A sentence for each piece whose drawing in the document is not what is printed of it."""
        stale = [name for finding in OutOfDate().find(subject(drawing, pattern, ())) for name in finding.where]
        return [
            f"what is drawn round {name} is older than {name} itself; what is printed was made anew"
            for name in stale
            # a cut line drawn by hand is said of it by itself
            if pattern.piece(name).cut_by_hand is None and (not self.pieces or name in self.pieces)
        ]

    def _labelled(self, pieces: Sequence[Piece], found: Sequence[Derived], style: Style) -> list[Derived]:
        """Where only the stitch line is printed the label must not say that an allowance is included."""
        if self.lines != "stitch":
            return list(found)
        netted = {k for k, piece in enumerate(pieces) if wants_cut(piece)}
        labels = dict(zip(sorted(netted), derive_all([_net(pieces[k]) for k in sorted(netted)], style), strict=True))
        return [
            derived._replace(label=labels[k].label, folds=labels[k].folds) if k in netted else derived
            for k, derived in enumerate(found)
        ]

    def _told(
        self, style: Style, name: str, pieces: Sequence[Piece], notes: tuple[str, ...], *, count: int | None = None
    ) -> Told:
        """What the first page says; count: of pieces, where those given are of several sizes."""
        count = len(pieces) if count is None else count
        said = " ".join(dict.fromkeys((style.name, name, *(piece.caption.text for piece in pieces))))
        words = ", ".join(filter(None, (f"size {style.size}" if style.size else "", self.date)))
        return Told(
            heading=style.name or name or "Paper pattern",
            lines=tuple(filter(None, (words, f"{count} pieces" if count > 1 else ""))),
            # the test square and the toile have lines of their own on the page
            cautions=tuple(text for text in cautions(said) if text != CAUTIONS[0]),
            notes=notes,
        )

    def _warned(self, piece: Piece, derived: Derived) -> Iterator[str]:
        """What is to be said of a piece: above all, why it is printed without the cut line that was asked for."""
        if derived.fault is not None:
            yield f"{derived.fault}; its stitch line is printed"
        elif derived.cut is None and self.lines == "cut":
            yield f"{piece.name} has no allowance and so no cut line; its stitch line is printed, cut outside it"
        yield from derived.warnings


def _printed_as(pages: Sequence[Page], count: int, warned: Sequence[str], found: Sequence[Derived]) -> Printed:
    sheets = sum(bool(page.name) for page in pages)
    return Printed(
        pages=tuple(pages),
        figures=(Figure("pieces", count, ""), Figure("sheets", sheets, ""), Figure("pages", len(pages), "")),
        warnings=tuple(warned),
        uncut=any(derived.fault is not None for derived in found),
    )


def _net(piece: Piece) -> Piece:
    """The piece without its allowances, and with words that say so."""
    edges = tuple(replace(edge, allowance=None) for edge in piece.edges)
    return replace(_saying(piece, [NO_ALLOWANCE]), edges=edges)


def _saying(piece: Piece, lines: Sequence[str]) -> Piece:
    """The piece with further lines on its label."""
    words = "; ".join(filter(None, (piece.caption.text, *lines)))
    return replace(piece, caption=replace(piece.caption, text=words))


def _numbered(piece: Piece, number: int, count: int) -> Piece:
    return _saying(piece, [f"piece {number} of {count}"]) if count > 1 else piece
