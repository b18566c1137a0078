"""`exchange`: pieces as an exchange file for other systems and for cutters."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import ClassVar

from flatcut.declared.fields import choice, flag, piece_names, text
from flatcut.errors import InputError, UsageError
from flatcut.exchange.graded import Graded, every_size, graded
from flatcut.exchange.letters import LOST, plain_letters
from flatcut.exchange.opened import opened
from flatcut.exchange.planned import ALONE, BREAK, Plan, planned
from flatcut.exchange.values import Part, Set
from flatcut.findings import plural
from flatcut.formats.dxf.proving import prove
from flatcut.formats.dxf.writing import exchange_file, rule_file
from flatcut.geometry.curves import Curve
from flatcut.marking.derived import derive_all
from flatcut.pattern.values import Figure, Style
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report

INCHES = {"mm": False, "in": True}
RULES = "rules"


@dataclass(frozen=True, kw_only=True)
class _Drawn:
    """One drawing: its size, and the plans of its pieces."""

    name: str
    style: Style
    plans: tuple[Plan, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(kw_only=True)
class _Gathered:
    """The drawings by size, in order."""

    sizes: dict[str, list[Plan]] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    style: str = ""


@report
@dataclass(frozen=True, kw_only=True)
class Exchange(Report):
    """Write the pieces as an exchange file (DXF, ASTM D6673): a block for each, with notches, grain, lines and holes.

    Several drawings are sizes of one style: with --rules=FILE the sample size is written, and a rule table for the
    others; without it every size is. The cut line is made anew from each piece, whatever the drawing shows of it.
    """

    usage: ClassVar[str] = "flatcut exchange IN.svg... -o OUT.dxf [--rules=OUT.rul] [--jobs=N] [--name=value...]"
    saves: ClassVar[str] = ".dxf"
    file_type: ClassVar[str] = "Pattern exchange file, ASTM D6673"
    title: ClassVar[str] = "Exchange file"
    makes: ClassVar[Mapping[str, str]] = {RULES: "the rule table of several sizes"}
    doing: ClassVar[str] = "read"

    open: bool = flag(False, ("laid open from the fold", "pieces on the fold are written whole"))
    file_units: str = choice("mm", ("units of the file", "mm (metric) or in (english)"), tuple(INCHES))
    pieces: tuple[str, ...] = piece_names(("names of the pieces to write", "", "all"))
    sample: str = text("", ("sample size", "that the rule table starts from", "the middle one"))
    style: str = text("", ("name of the style", "", "that of the drawing"))
    author: str = text("", ("author", "who hands the pieces on"))
    date: str = text("", ("date", "as it is to be read, such as 30-11-2026"))

    def run(self, inputs: Inputs) -> Result:
        """One file of all drawings."""
        kink = BREAK if len(inputs.names) > 1 else ALONE
        found = self._gathered(inputs.each(partial(self._drawn, kink)))
        sizes = list(found.sizes.items())
        names = [size for size, _ in sizes]
        if self.sample and self.sample not in names:
            raise UsageError(f"there is no drawing of size '{self.sample}'; there are {', '.join(names) or 'none'}")
        sample = self.sample or names[(len(names) - 1) // 2]
        ruled = RULES in inputs.wanted
        if ruled and len(sizes) < 2:
            raise UsageError("a rule table tells how sizes differ; give the drawings of two sizes or more")
        made = graded(sizes, sample) if ruled else Graded(parts=every_size(sizes), rules=(), apart=())
        style = self.style or found.style
        held = Set(
            style=style,
            author=self.author,
            date=self.date,
            sample=sample,
            sizes=tuple(names),
            table=(plain_letters(style) or "RULES") if ruled else "",
            rules=made.rules,
            inch=INCHES[self.file_units],
            parts=made.parts,
        )
        data = exchange_file(held)
        prove(data, list(_boundaries(made.parts, found.sizes)), inch=held.inch)
        files = [Made(chunks=[data])]
        if ruled:
            files.append(Made(chunks=[rule_file(held)], option=RULES))
        figures = [Figure("pieces", len({part.name for part in made.parts}), ""), Figure("blocks", len(made.parts), "")]
        figures += [Figure("sizes", len(names), "")] if len(names) > 1 else []
        figures += [Figure("grade rules", len(made.rules), "")] if ruled else []
        points = sum(len(course.points) for part in made.parts for course in part.courses)
        figures.append(Figure("points of lines", points, ""))
        return Result(
            files=tuple(files),
            figures=tuple(figures),
            warnings=tuple(dict.fromkeys((*found.warnings, *made.apart, *_lettering(held)))),
            notes=tuple(found.notes),
            noted=bool(found.notes),
        )

    def _drawn(self, kink: float, one: Input) -> _Drawn:
        pattern = one.pattern
        wanted = [pattern.piece(name) for name in self.pieces] if self.pieces else list(pattern.pieces)
        if not wanted:
            raise InputError(
                f"{one.name or 'the drawing'} has no pieces to write; make its outlines pieces first "
                "(operation 'piece')"
            )
        plans: list[Plan] = []
        said: list[str] = []
        for piece, derived in zip(wanted, derive_all(wanted, pattern.style), strict=True):
            plan = planned(piece, derived, kink=kink)
            plans.append(opened(plan) if self.open else plan)
            said += derived.warnings
            if derived.cut is None:
                said.append(f"{piece.name} has no allowance, so its boundary is the stitch line")
        return _Drawn(
            name=one.title or one.name,
            style=pattern.style,
            plans=tuple(plans),
            warnings=tuple(said),
            notes=tuple(str(finding) for finding in one.findings),
        )

    def _gathered(self, drawings: Iterator[_Drawn]) -> _Gathered:
        """The drawings by their sizes. Errors: UsageError where one piece comes twice in a size."""
        found = _Gathered()
        for one in drawings:
            plans = found.sizes.setdefault(one.style.size, [])
            clash = {plan.piece.name for plan in plans} & {plan.piece.name for plan in one.plans}
            if clash:
                size = f"of size {one.style.size} " if one.style.size else "without a size "
                raise UsageError(
                    f"two drawings {size}have a piece called '{min(clash)}'; tell their sizes with the step 'style', "
                    "or rename one"
                )
            plans += one.plans
            found.style = found.style or one.style.name or one.name
            found.warnings += one.warnings
            found.notes += one.notes
        return found


def _boundaries(parts: Sequence[Part], sizes: Mapping[str, Sequence[Plan]]) -> Iterator[tuple[str, Curve]]:
    """The curves that the boundaries of the parts were made of."""
    for part in parts:
        plan = next(plan for plan in sizes[part.size] if plan.piece.name == part.name)
        yield part.name, plan.tracks[0].curve


def _lettering(held: Set) -> Iterator[str]:
    """What a name loses in the character set of the file."""
    names = [part.name for part in held.parts]
    for name in dict.fromkeys((held.style, *names, *(part.material for part in held.parts), *held.sizes)):
        written = plain_letters(name)
        if LOST in written and LOST not in name:
            yield f"'{name}' has letters that the file cannot hold, and is written '{written}'"
        elif written != " ".join(name.split()):
            yield f"'{name}' is written '{written}'"
    blocks = [part for part in held.parts if part.quantity > 1 and part.cut_as == "pair"]
    if blocks:
        yield (
            f"{plural(len(blocks), 'piece')} cut as pairs stand in the file once, with the word PAIR: "
            "mirror every second one"
        )
