"""`list`: the cut list of drawings, with notions and the least cloth."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, ClassVar

from flatcut.declared.fields import flag, length, lengths, number
from flatcut.errors import GeometryError, InputError, UsageError
from flatcut.findings import plural
from flatcut.listing.cloth import Cloth, cloth
from flatcut.listing.cut_list import Row, by_material, rows
from flatcut.listing.notions import Notion, notions
from flatcut.pattern.values import Pattern
from flatcut.reports.lay import LayReport
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.units import plain

CSV = "csv"
WIDTHS = (900.0, 1150.0, 1400.0, 1500.0)
"""mm: widths that cloth is sold in (common practice, no source)."""
COLUMNS = (
    "drawing",
    "piece",
    "count",
    "cut as",
    "material",
    "size",
    "grain",
    "along mm",
    "across mm",
    "area cm2",
    "parts",
)


@report
@dataclass(frozen=True, kw_only=True)
class CutList(Report):
    """List what is cut: pieces by material, how many, how large; notions, and the cloth that no lay can do without.

    The least length of cloth is the area of the pieces over its width, or the longest piece: a lay takes more, as much
    as --used tells of the usual; --lay=20 makes one for each material and width and says what it takes. Make a toile
    first, and lay the pieces before cloth is bought by this figure.
    """

    usage: ClassVar[str] = "flatcut list IN.svg... [--csv=OUT.csv] [--json] [--jobs=N] [--name=value...]"
    title: ClassVar[str] = "Cut list"
    makes: ClassVar[Mapping[str, str]] = {CSV: "the rows as a table"}
    records: ClassVar[bool] = True

    widths: tuple[float, ...] = lengths(("widths of cloth", "", "90, 115, 140 and 150 cm"), low=100, high=5000)
    selvedge: float = length(15.0, ("selvedge", "on each side, that no piece lies on"), high=100)
    used: float = number(75, ("use of the cloth, %", "that pieces cover in a usual lay"), low=20, high=100, digits=1)
    lay: float = number(
        0, ("seconds of search for a lay", "for each material and width; 0: none is made"), low=0, high=3600, digits=0
    )
    nap: bool = flag(False, ("lays with nap", "all pieces the same way up"))
    seam: float = length(10.0, ("allowance of a join", "of a piece that is put together from widths"), high=50)

    def run(self, inputs: Inputs) -> Result:
        """The list of every drawing, one after the other."""
        parts = list(inputs.each(self._listed))
        records = [record for _, record, _, _ in parts]
        files: tuple[Made, ...] = ()
        if CSV in inputs.wanted:
            table = [row for _, _, found, _ in parts for row in found]
            files = (Made(chunks=[_csv(table)], option=CSV),)
        notes = tuple(note for *_, told in parts for note in told)
        return Result(
            said="\n".join(text for text, *_ in parts),
            record=records[0] if len(records) == 1 else records,
            files=files,
            notes=notes,
            noted=bool(notes),
        )

    def sentence(self, drawing: Input, result: Result) -> str:
        """The list, for the editor."""
        return result.said

    def _listed(self, one: Input) -> tuple[str, dict[str, Any], list[list[str]], list[str]]:
        pattern = one.pattern
        if not pattern.pieces:
            raise InputError(f"{one.name or 'the drawing'} has no pieces to list; make its outlines pieces first")
        asked = self.evaluated(pattern)
        listed, needed = rows(pattern), notions(pattern)
        cloths = [made for material, some in by_material(listed).items() for made in asked._cloths(material, some)]
        told = [str(found) for found in one.findings]
        if asked.lay:
            cloths = [asked._with_lay(one, found, told) for found in cloths]
        text = "".join(f"{line}\n" for line in _text(one, pattern, listed, needed, cloths))
        record = {
            "style": pattern.style.name,
            "size": pattern.style.size,
            "pieces": [_rounded(asdict(row)) for row in listed],
            "notions": [_rounded(asdict(notion)) for notion in needed],
            "cloth": [_rounded(asdict(found)) for found in cloths],
        }
        table = [[one.title or one.name, *_cells(row)] for row in listed]
        return text, record, table, told

    def _cloths(self, material: str, listed: Sequence[Row]) -> Iterator[Cloth]:
        for wide in self.widths or WIDTHS:
            between = wide - 2 * self.selvedge
            if between < 100:
                raise UsageError(
                    f"cloth {plain(wide)} mm wide has no room between selvedges of {plain(self.selvedge)} mm"
                )
            yield cloth(material, listed, between, used=self.used / 100, seam=self.seam)

    def _with_lay(self, one: Input, found: Cloth, told: list[str]) -> Cloth:
        """The cloth with the length of a lay; what cannot be laid is told."""
        asked = LayReport(width=found.width, seconds=self.lay, nap=self.nap, material=found.material)
        try:
            made = asked.lay_of(one, found.material)
        except (GeometryError, InputError, UsageError) as error:
            told.append(f"no lay on {plain(found.width / 10, 1)} cm: {error}")
            return found
        return replace(found, laid=made.length)


def _laid(found: Cloth, listed: Sequence[Row]) -> str:
    """What a lay takes, where one was made."""
    if not found.laid:
        return ""
    area = sum(row.count * row.area for row in listed)
    return f"; laid in {plain(found.laid / 1000, 2)} m, {plain(100 * area / found.width / found.laid, 1)} % used"


def _rounded(record: dict[str, Any]) -> dict[str, Any]:
    return {key: round(value, 3) if isinstance(value, float) else value for key, value in record.items()}


def _cells(row: Row) -> list[str]:
    sizes = [plain(row.along, 1), plain(row.across, 1), plain(row.area / 100, 1)]
    return [row.piece, str(row.count), row.cut_as, row.material, row.size, row.grain, *sizes, str(row.parts)]


def _csv(table: Sequence[Sequence[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([COLUMNS, *table])
    return text.getvalue().encode()


def _text(
    one: Input, pattern: Pattern, listed: Sequence[Row], needed: Sequence[Notion], cloths: Sequence[Cloth]
) -> Iterator[str]:
    style = pattern.style
    heading = ", ".join(filter(None, (style.name or one.title, f"size {style.size}" if style.size else "")))
    yield heading or "Cut list"
    for material, some in by_material(listed).items():
        total = sum(row.count for row in some)
        yield f"\n{material or 'no material named'}: {plural(len(some), 'paper piece')}, {total} to cut"
        widest = max(len(row.piece) for row in some)
        for row in some:
            size = f"{plain(row.along / 10, 1)} along x {plain(row.across / 10, 1)} cm"
            net = ", no allowance" if row.netted else ""
            grain = f", {row.grain} grain" if row.grain else ", no grain line"
            joined = f", joined out of {row.parts} parts ({plural(row.parts - 1, 'join')})" if row.parts > 1 else ""
            yield f"  {row.piece:<{widest}}  {row.words:<9}  {size:>22}{grain}{net}{joined}"
        area = sum(row.count * row.area for row in some)
        yield f"  area of all: {plain(area / 1e6, 3)} m²"
        for found in (found for found in cloths if found.material == material):
            yield (
                f"  {plain(found.width / 10, 1)} cm between selvedges: at least {plain(found.least / 1000, 2)} m, "
                f"about {plain(found.about / 1000, 2)} m{_laid(found, some)}"
            )
            for piece, joins in found.joins:
                yield f"    {piece} is wider and takes {plural(joins, 'join')}, or is laid the other way"
    if needed:
        yield "\nnotions"
    for notion in needed:
        yield f"  {_said(notion)}"
    yield "\nThe least length is no lay: make a toile first, and lay the pieces before cloth is bought."


def _said(notion: Notion) -> str:
    if notion.what in ("button", "buttonhole"):
        return f"{plural(notion.count, notion.what)}, {plain(notion.size, 1)} mm, on {notion.where}"
    if notion.what == "opening":
        long = plain(notion.size / 10, 1)
        return f"{plural(notion.count, 'opening')} of {long} cm at {notion.where}; a zip in it is as long"
    whole = notion.count * notion.size
    return (
        f"finished edge {notion.where}: {notion.count} x {plain(notion.size / 10, 1)} cm = {plain(whole / 10, 1)} cm; "
        "where it is bound, the binding is as long and its ends"
    )
