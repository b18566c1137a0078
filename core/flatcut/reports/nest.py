"""`nest`: all sizes of a style over each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.declared.fields import choice, file, further, piece_names, refs, text
from flatcut.drawing.ink import Ink, together
from flatcut.errors import InputError, UsageError
from flatcut.formats.pdf import pdf
from flatcut.formats.svg.sheet import sheet
from flatcut.geometry.rows import rows
from flatcut.marking.derived import derive_all
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern
from flatcut.printing.cover import Told
from flatcut.printing.paper import FORMS, SHEETS, paper
from flatcut.printing.sets import Setting, set_pages
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.sizes.nested import Size, legend, nested_ink, sizes_of
from flatcut.sizes.over import Over, differences, laid_over, uneven
from flatcut.units import plain

GAP = 30.0
"""mm between the nests."""
WIDE = 1200.0
"""mm: nests stand in rows about so wide."""


@report
@dataclass(frozen=True, kw_only=True)
class Nest(Report):
    """Lay all sizes of each piece over each other, a line style and a letter for each size, in black.

    The drawings are the sizes, in the order given. Each piece lies on the place that is named of it, else on where its
    fold, centre or first edge begins, with its grain upright. Steps from size to size that are out of line with the
    others are told.
    """

    usage: ClassVar[str] = "flatcut nest A.svg B.svg... -o OUT.svg|OUT.pdf [--on=PLACE,...] [--name=value...]"
    saves: ClassVar[str] = ".pdf"
    also_saves: ClassVar[tuple[str, ...]] = (".svg",)
    in_editor: ClassVar[bool] = False

    on: tuple[Place, ...] = refs(
        "place",
        ("places to lay the sizes on", "one of each piece", "where its fold, centre or first edge begins"),
        filled=False,
    )
    toward: tuple[Place, ...] = refs(
        "place", ("second places", "that lie the same way in all sizes", "the grain is upright"), filled=False
    )
    lines: str = choice("cut", ("outlines", "cut lines or stitch lines"), ("cut", "stitch"))
    pieces: tuple[str, ...] = piece_names(("only these pieces", "", "all"))
    paper: str = further(choice("a0", ("paper of the PDF", ""), (*SHEETS,), other=FORMS))
    style: str = further(text("", ("name of the style", "", "that of the first drawing")))
    font: str = further(file("", "further font", ("ttf", "ttc")))

    def __post_init__(self) -> None:
        super().__post_init__()
        paper(self.paper)
        for places in (self.on, self.toward):
            names = [place.piece for place in places]
            twice = next((name for name in names if names.count(name) > 1), "")
            if twice:
                raise UsageError(f"{twice} has two places to lie on; name one")
        lost = [place.piece for place in self.toward if place.piece not in {one.piece for one in self.on}]
        if lost:
            raise UsageError(f"{lost[0]} has a second place and no first; name that with --on too")

    def run(self, inputs: Inputs) -> Result:
        """One file with a nest of each piece."""
        given = list(inputs.each(_named))
        notes = tuple(note for _, _, found in given for note in found)
        kinds = sizes_of([size for size, _, _ in given])
        sizes = [(size, pattern) for size, pattern, _ in given]
        names = list(dict.fromkeys(piece.name for _, pattern in sizes for piece in pattern.pieces))
        for place in (*self.on, *self.toward):
            if place.piece not in names:
                sizes[0][1].piece(place.piece)
        unknown = [name for name in self.pieces if name not in names]
        if unknown:
            sizes[0][1].piece(unknown[0])
        inks: list[Ink] = []
        every: list[list[Over]] = []
        warnings = differences(sizes, self.pieces)
        for name in self.pieces or names:
            every.append(self._over(sizes, name))
            inks.append(self._ink(kinds, every[-1]))
        if not inks:
            raise InputError("there are no pieces to nest; make the outlines pieces first (operation 'piece')")
        warnings += [
            f"{step.corner} goes {plain(step.far)} mm from size {step.sizes[0]} to {step.sizes[1]}; in line with its "
            f"other steps that would be {plain(step.usual)} mm"
            for step in uneven(every)
        ]
        style = self.style or sizes[0][1].style.name or inputs.title
        return Result(
            files=(Made(chunks=[self._file([legend(kinds), *inks], inputs, style, kinds)]),),
            figures=(Figure("sizes", len(sizes), ""), Figure("pieces", len(inks), "")),
            warnings=tuple(dict.fromkeys(warnings)),
            notes=notes,
            noted=bool(notes),
        )

    def _over(self, sizes: Sequence[tuple[str, Pattern]], name: str) -> list[Over]:
        on = next((place for place in self.on if place.piece == name), None)
        toward = next((place for place in self.toward if place.piece == name), None)
        return laid_over(sizes, name, on, toward)

    def _ink(self, kinds: Sequence[Size], over: Sequence[Over]) -> Ink:
        # the label stands for all sizes, and names none
        found = [derive_all([one.piece], replace(one.pattern.style, size=""))[0] for one in over]
        for derived in found:
            if derived.fault is not None:
                raise derived.fault
        held = [kind for kind in kinds if kind.name in {one.size for one in over}]
        return nested_ink(held, over, found, self.lines)

    def _file(self, inks: Sequence[Ink], inputs: Inputs, style: str, kinds: Sequence[Size]) -> bytes:
        if inputs.ending == ".svg":
            return sheet(together(_in_rows(inks)))
        named = ", ".join(f"{kind.name} {kind.letter}" for kind in kinds)
        told = Told(heading=style or "Nest", lines=(f"sizes {named}",))
        setting = Setting(sheet=paper(self.paper), margin=10.0, overlap=10.0, gap=GAP)
        return pdf(set_pages(inks, told, style, setting), title=style, font=self.font)


def _named(one: Input) -> tuple[str, Pattern, list[str]]:
    return (
        one.pattern.style.size or one.title,
        replace(one.pattern, drawn=()),
        [finding.text for finding in one.findings],
    )


def _in_rows(inks: Sequence[Ink]) -> Iterator[Ink]:
    boxes = [ink.box for ink in inks]
    wide = max(WIDE, *(x1 - x0 for x0, _, x1, _ in boxes))
    for ink, (x, y) in zip(inks, rows(boxes, wide, GAP), strict=True):
        yield ink.moved(x - ink.box[0], y - ink.box[1])
