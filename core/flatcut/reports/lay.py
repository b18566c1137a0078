"""`lay`: the pieces laid on cloth, as many as are cut, in as little length as can be found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from flatcut.declared.fields import choice, file, flag, further, length, number, piece_names, refs, text
from flatcut.drawing.ink import Ink
from flatcut.errors import InputError, Option, UsageError
from flatcut.formats.pdf import pdf
from flatcut.formats.svg.sheet import sheet
from flatcut.geometry.arrays import Array
from flatcut.lay.gate import hold
from flatcut.lay.nesting import nested
from flatcut.lay.pieces import Laying, Source, laid
from flatcut.lay.placing import Repeat, placed_in_turn
from flatcut.lay.sheet import drawn, stacked
from flatcut.lay.values import Item, Lay, lower_bound
from flatcut.marking.derived import derive_all
from flatcut.pattern.places import Place
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Figure, Pattern
from flatcut.printing.cover import Told
from flatcut.printing.paper import FORMS, SHEETS, paper
from flatcut.printing.sets import Setting, set_pages
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class _Given:
    """What of one drawing is laid: items by material, what they are drawn from, sentences; asked: the report with its
    lengths as figures.
    """

    asked: LayReport
    items: dict[str, list[Item]]
    sources: list[Source]
    anchors: dict[str, dict[int, Array]]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]


@report
@dataclass(frozen=True, kw_only=True)
class LayReport(Report):
    """Lay the pieces on cloth: as many as are cut, on their grain, in as little length as can be found.

    Several drawings, such as sizes, are laid together; each material has a lay of its own. A search on plain cloth goes
    on for the seconds it is given and can be stopped (Ctrl-C) with the best so far. Folded cloth and repeats take the
    best of some plain lays instead. Every lay is held against the cut lines themselves before it is written.
    """

    usage: ClassVar[str] = "flatcut lay IN.svg... --width=140cm -o OUT.svg|OUT.pdf [--name=value...]"
    saves: ClassVar[str] = ".pdf"
    also_saves: ClassVar[tuple[str, ...]] = (".svg",)
    file_type: ClassVar[str] = "Lay at true scale"
    title: ClassVar[str] = "Lay pieces on cloth"
    records: ClassVar[bool] = True

    width: float = length(1400.0, ("width of the cloth", "between the selvedges"), low=100, high=5000)
    gap: float = length(2.0, ("between the pieces", "0 to 2 mm for a knife, 5 to 10 mm for scissors"), high=100)
    nap: bool = flag(False, ("all the same way up", "for pile, sheen or a print with a direction"))
    folded: bool = flag(False, ("cloth on the fold", "lengthwise: pairs are cut in one, folds lie on the fold"))
    seconds: float = number(20, ("seconds of search", "for each lay"), low=1, high=3600, digits=0)
    along: float = further(length(0.0, ("repeat along the cloth", "of checks; pieces lie whole ones apart"), high=2000))
    across: float = further(length(0.0, ("repeat across the cloth", "of stripes or checks"), high=2000))
    match: tuple[Place, ...] = further(
        refs("place", ("places on the repeat", "one on each piece, such as front.side/waist"), filled=False)
    )
    tilt: float = further(number(0, ("off the grain, °", "that a piece may lie; 0 for stripes"), low=0, high=3))
    material: str = further(text("", ("only this material", "", "each material by itself")))
    pieces: tuple[str, ...] = further(piece_names(("only these pieces", "", "all")))
    seed: float = further(number(1, ("seed of the search", "another one looks elsewhere"), low=1, high=9999, digits=0))
    paper: str = further(choice("a0", ("paper of the PDF", ""), (*SHEETS,), other=FORMS))
    font: str = further(file("", "further font", ("ttf", "ttc")))

    def __post_init__(self) -> None:
        super().__post_init__()
        paper(self.paper)
        if (self.along or self.across) and not self.match:
            raise UsageError(
                "a repeat wants a place on each piece that is to stand on it; name them with ", Option("match")
            )
        if self.match and not (self.along or self.across):
            raise UsageError("places on the repeat want to know it; give ", Option("along"), " or ", Option("across"))
        if self.tilt and (self.along or self.across or self.folded):
            raise UsageError(Option("tilt"), " goes with plain single cloth only; leave it out")

    def run(self, inputs: Inputs) -> Result:
        """One file of all lays, a lay of each material."""
        several = len(inputs.names) > 1
        given = list(inputs.each(self._several if several else self._single))
        asked = given[0].asked
        if any(one.asked != asked for one in given):
            raise UsageError("a length comes out differently for one of the drawings; write it as a figure")
        return asked._all(given, inputs)

    def _all(self, given: Sequence[_Given], inputs: Inputs) -> Result:
        items: dict[str, list[Item]] = {}
        anchors: dict[str, dict[int, Array]] = {}
        sources: list[Source] = []
        for one in given:
            for material, some in one.items.items():
                first = len(items.setdefault(material, []))
                found = anchors.setdefault(material, {})
                found.update({first + k: at for k, at in one.anchors.get(material, {}).items()})
                items[material] += [_from(item, len(sources)) for item in some]
            sources += one.sources
        if not items:
            raise InputError("there is nothing to lay; make the outlines pieces first (operation 'piece')")
        lays = {material: self._laid(some, anchors[material]) for material, some in items.items()}
        figures, record = self._told(lays)
        stopped = any(lay.stopped for lay in lays.values())
        notes = tuple(note for one in given for note in one.notes)
        notes += ("stopped: this is the best lay so far",) if stopped else ()
        inks = [drawn(lay, sources, self._heading(name, lay), folded=self.folded) for name, lay in lays.items()]
        return Result(
            files=(Made(chunks=[self._file(stacked(inks), inputs, figures)]),),
            record=record,
            figures=figures,
            warnings=tuple(dict.fromkeys(text for one in given for text in one.warnings)),
            notes=notes,
            noted=bool(notes),
        )

    def lay_of(self, one: Input, material: str) -> Lay:
        """The lay of one material of a drawing, for other reports. Errors: FlatcutError."""
        given = self._single(one)
        return given.asked._laid(given.items[material], given.anchors.get(material, {}))

    def _single(self, one: Input) -> _Given:
        return self._given(one, "")

    def _several(self, one: Input) -> _Given:
        return self._given(one, one.pattern.style.size or one.title)

    def _given(self, one: Input, of: str) -> _Given:
        asked = self.evaluated(one.pattern)
        pieces = [piece for piece in one.pattern.pieces if not self.pieces or piece.name in self.pieces]
        pieces = [piece for piece in pieces if not self.material or piece.material == self.material]
        for name in self.pieces:
            one.pattern.piece(name)
        found = derive_all(pieces, one.pattern.style)
        laying = Laying(turns=asked._turns(), folded=asked.folded)
        items: dict[str, list[Item]] = {}
        anchors: dict[str, dict[int, Array]] = {}
        sources: list[Source] = []
        warnings: list[str] = []
        for piece, derived in zip(pieces, found, strict=True):
            some, drawn_from, told = laid([piece], [derived], laying, of=of)
            kept = items.setdefault(piece.material, [])
            anchor = asked._anchor(one.pattern, piece.name)
            if anchor is not None:
                ways = [drawn_from[item.source].matrices[0] for item in some]
                spots = anchors.setdefault(piece.material, {})
                spots.update({len(kept) + k: way.apply(anchor) for k, way in enumerate(ways)})
            kept += [_from(item, len(sources)) for item in some]
            sources += drawn_from
            warnings += told
        if self.match:
            left = [piece.name for piece in pieces if piece.name not in {place.piece for place in self.match}]
            warnings += [f"{name} stands on no repeat; no place of it is among those to match" for name in left]
        notes = tuple(str(finding) for finding in one.findings)
        return _Given(asked=asked, items=items, sources=sources, anchors=anchors, warnings=tuple(warnings), notes=notes)

    def _turns(self) -> tuple[float, ...]:
        ways = (0.0,) if self.nap or self.along or self.across else (0.0, 180.0)
        tilts = (0.0, -self.tilt, -self.tilt / 2, self.tilt / 2, self.tilt) if self.tilt else (0.0,)
        return tuple(way + tilt for way in ways for tilt in tilts)

    def _anchor(self, pattern: Pattern, name: str) -> Array | None:
        places = [place for place in self.match if place.piece == name]
        if len(places) > 1:
            raise UsageError(f"{name} has two places on the repeat; name one")
        return spot(pattern, places[0]).point if places else None

    def _laid(self, items: Sequence[Item], anchors: dict[int, Array]) -> Lay:
        wide = self.width / 2 if self.folded else self.width
        if self.folded or self.along or self.across:
            repeat = Repeat(along=self.along, across=self.across, anchors=anchors)
            lay = placed_in_turn(items, wide, gap=self.gap, repeat=repeat, seed=int(self.seed))
        else:
            lay = nested(items, wide, gap=self.gap, seconds=int(self.seconds), seed=int(self.seed))
        hold(lay, gap=self.gap)
        return lay

    def _told(self, lays: dict[str, Lay]) -> tuple[tuple[Figure, ...], list[dict[str, object]]]:
        figures: list[Figure] = []
        record: list[dict[str, object]] = []
        for material, lay in lays.items():
            least = lower_bound(lay.items, lay.width)
            named = f"{material} " if material else ""
            figures += [
                Figure(f"{named}length", lay.length),
                Figure(f"{named}length at least", least),
                Figure(f"{named}cloth used", 100 * lay.efficiency, "%"),
                Figure(f"{named}pieces", len(lay.items), ""),
            ]
            record.append(
                {
                    "material": material,
                    "width": self.width,
                    "folded": self.folded,
                    "length": round(lay.length, 2),
                    "least": round(least, 2),
                    "efficiency": round(lay.efficiency, 4),
                    "placed": [
                        {"name": lay.items[one.item].name, "turn": one.turn, "at": [round(v, 3) for v in one.at]}
                        for one in lay.placed
                    ],
                }
            )
        return tuple(figures), record

    def _heading(self, material: str, lay: Lay) -> tuple[str, ...]:
        wide = f"{plain(self.width / 10)} cm wide{', folded' if self.folded else ''}"
        said = f"{math.ceil(lay.length) / 10:.1f} cm long, {100 * lay.efficiency:.1f} % used"
        return (", ".join(filter(None, (material, wide, said))),)

    def _file(self, ink: Ink, inputs: Inputs, figures: Sequence[Figure]) -> bytes:
        if inputs.ending == ".svg":
            return sheet(ink)
        told = Told(heading=inputs.title or "Lay", lines=tuple(map(str, figures)), notes=())
        setting = Setting(sheet=paper(self.paper), margin=10.0, overlap=10.0, gap=20.0, as_drawn=True)
        return pdf(set_pages([ink], told, inputs.title or "Lay", setting), title=inputs.title, font=self.font)


def _from(item: Item, first: int) -> Item:
    """The item with its source counted from a later place on."""
    return Item(name=item.name, ring=item.ring, turns=item.turns, source=item.source + first, folded=item.folded)
