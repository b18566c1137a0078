"""`rules`: how the sizes of a style differ, as a rule table for `grade`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.blocks.body import sizes_of_file
from flatcut.declared.fields import file, length, number, refs, text
from flatcut.errors import FlatcutError, UsageError
from flatcut.exchange.letters import plain_letters
from flatcut.exchange.values import Set
from flatcut.formats.dxf.writing import rule_file
from flatcut.grading.rules import Rules
from flatcut.grading.written import Numbering, toml_of
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern
from flatcut.reports.report import Input, Inputs, Made, Report, Result, report
from flatcut.sizes.proposed import proposed
from flatcut.sizes.ruled import Off, Ruled, held_against, ruled
from flatcut.tables import TABLES
from flatcut.units import plain

POINTS = "points"


@report
@dataclass(frozen=True, kw_only=True)
class WriteRules(Report):
    """Write how the sizes of a style differ as a rule table: how far each cardinal point lies from the base size's.

    The drawings are the sizes, in the order given, each laid on the place that is named of a piece, else on where its
    fold, centre or first edge begins. Pieces that have other points in one size than in another are named. Each size is
    then graded by the rules and held against its drawing; how far they part is told. With --measures=SIZES.toml one
    drawing is enough: rules for pieces like those of a block are proposed from the measurements, to be looked at.
    """

    usage: ClassVar[str] = "flatcut rules A.svg B.svg... -o OUT.toml|OUT.rul [--points=OUT.toml] [--name=value...]"
    saves: ClassVar[str] = ".toml"
    also_saves: ClassVar[tuple[str, ...]] = (".rul",)
    makes: ClassVar[dict[str, str]] = {POINTS: "which point has which rule of a rule file, for `grade --points`"}
    in_editor: ClassVar[bool] = False

    measures: str = file(
        "", ("table of measurements", "from which rules are proposed for one drawing"), ("toml", *TABLES)
    )
    base: str = text("", ("base size", "that the rules start from", "the middle one"))
    on: tuple[Place, ...] = refs(
        "place",
        ("places that stay", "one of each piece", "where its fold, centre or first edge begins"),
        filled=False,
    )
    between: float = number(2, ("rules on each curved edge", "beside those of its ends"), low=0, high=9, digits=0)

    aim: float = length(1.0, ("told from", "how far a size as drawn may lie from the graded one"), high=100)

    def run(self, inputs: Inputs) -> Result:
        """The rule table of all drawings."""
        given = list(inputs.each(_named))
        sizes = [(size, pattern) for size, pattern, _ in given]
        notes = tuple(note for *_, found in given for note in found)
        self._refuse_files(inputs)
        if self.measures:
            return self._proposed(sizes, notes, inputs)
        names = [size for size, _ in sizes]
        base = self.base or (names[(len(names) - 1) // 2] if names else "")
        found = ruled(sizes, base, self.on, between=int(self.between))
        off = held_against(sizes, found, self.on)
        most = max(off, key=lambda one: one.far)
        style = next((pattern.style.name for _, pattern in sizes if pattern.style.name), inputs.title)
        return Result(
            files=tuple(_files(found, style, inputs.ending)),
            figures=(
                Figure("sizes", len(sizes), ""),
                Figure("points with rules", len(found.rules.rules), ""),
                Figure(
                    f"farthest that a size as drawn lies from the graded one ({most.edge}, size {most.size})", most.far
                ),
            ),
            warnings=(*found.said, *_parted(off, self.aim)),
            notes=notes,
            noted=bool(notes),
        )

    def _refuse_files(self, inputs: Inputs) -> None:
        if inputs.ending == ".rul" and POINTS not in inputs.wanted:
            raise UsageError("a rule file does not say which point has which rule; give a file for that with --points")
        if inputs.ending != ".rul" and POINTS in inputs.wanted:
            raise UsageError("--points goes with a rule file: -o OUT.rul --points=OUT.toml")

    def _proposed(self, sizes: Sequence[tuple[str, Pattern]], notes: tuple[str, ...], inputs: Inputs) -> Result:
        """Rules for one drawing, from a table of measurements."""
        if len(sizes) != 1 or self.on:
            raise UsageError("--measures proposes rules for one drawing; leave the other drawings, and --on, out")
        bodies: dict[str, dict[str, float]] = {}
        for size, body in sizes_of_file(self.measures).items():
            if isinstance(body, FlatcutError):
                raise body
            bodies[size] = body
        size, pattern = sizes[0]
        found = proposed(pattern, bodies, self.base or size)
        style = pattern.style.name or inputs.title
        return Result(
            files=tuple(_files(found, style, inputs.ending)),
            figures=(Figure("sizes", len(bodies), ""), Figure("points with rules", len(found.rules.rules), "")),
            warnings=found.said,
            notes=notes,
            noted=bool(notes),
        )

    def __post_init__(self) -> None:
        super().__post_init__()
        names = [place.piece for place in self.on]
        twice = next((name for name in names if names.count(name) > 1), "")
        if twice:
            raise UsageError(f"{twice} has two places that stay; name one")


def _parted(off: Sequence[Off], aim: float) -> Iterator[str]:
    """Sizes that the rules do not give back as they are drawn, at the place where they part most."""
    for size in dict.fromkeys(one.size for one in off):
        most = max((one for one in off if one.size == size), key=lambda one: one.far)
        if most.far > aim:
            yield (
                f"size {size} as drawn parts from the graded one by {plain(most.far)} mm at {most.edge}; more rules on "
                "curves (--between) bring them together"
            )


def _files(found: Ruled, style: str, ending: str) -> list[Made]:
    rules = found.rules
    if ending != ".rul":
        return [Made(chunks=[toml_of(rules).encode()])]
    numbers = Numbering(len(rules.sizes))
    points = toml_of(rules, numbers)
    return [Made(chunks=[rule_file(_set(rules, numbers, style))]), Made(chunks=[points.encode()], option=POINTS)]


def _set(rules: Rules, numbers: Numbering, style: str) -> Set:
    return Set(
        style=style,
        sample=rules.base,
        sizes=rules.sizes,
        table=plain_letters(style) or "RULES",
        # of a file that is y down inside, as all of an exchange file is
        rules=tuple(shifts * [1.0, -1.0] for shifts in numbers.rules),
    )


def _named(one: Input) -> tuple[str, Pattern, list[str]]:
    """The size that a drawing is, its pattern, and what reading it found."""
    size = one.pattern.style.size or one.title
    return size, replace(one.pattern, drawn=()), [finding.text for finding in one.findings]
