"""One table of command lines, run through what holds for every operation."""

from __future__ import annotations

import dataclasses
import math
from functools import lru_cache
from pathlib import Path

import pytest

from flatcut.arguments import parse_line
from flatcut.cli.describe import describe
from flatcut.declared.declared import kinds, option, summary
from flatcut.declared.references import KINDS, Ref
from flatcut.errors import FlatcutError
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import MENUS, Operation, load, names
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from tests import by_hand as hand

LINES = {
    "allowance": ["allowance all --width=12", "allowance front.side back.side --width=2cm", "allowance front"],
    "arrange": ["arrange", "arrange --gap=5cm --width=300"],
    "back-off": ["back-off front.dart-1 --by=2cm"],
    "block": [],  # drafts from measurements: held in test_block_operation
    "button": [],
    "corner": ["corner front.side/waist --kind=bevelled"],
    "dart": [],
    "divide": [],
    "drill": [],
    "edge": [
        "edge front.side --names=flank",
        "edge front.waist back.waist --use=hem",
        "edge front.side@1/3 --split --names=up,down",
    ],
    "join": [],  # wants pieces of other names: held in test_join
    "line": [
        "line --start=front.neck@1/2 --end=front.armhole@25% --name=yoke",
        'line --start=front.neck/shoulder --end=front.waist@-5cm --shape="0.2,0.1 0.7,-0.1 1,0" --name=style-line',
    ],
    "measure": [
        "measure front.side+back.side --as=both",
        "measure front.neck/shoulder front.side/waist --as=slant",
        "measure front.side",
    ],
    "names": ["names", "names --show=false"],
    "notch": [],
    "piece": [],  # wants closed paths that are none yet: held below
    "pivot": [],
    "point": ["point --at=front.side@1/2 --name=hip", 'point --at="at(front.neck/shoulder,front.side/waist,0.5,0.1)"'],
    "redraw": ["redraw", "redraw front"],
    "release": [],
    "seam": ["seam front.armhole back.armhole --ease=3", "seam front.side@0..1/2 back.side@1/2..100%"],
    "style": ['style --name="Spring coat" --size=38 --materials=shell,lining', "style --size=40"],
}
"""Typical calls on `two_pieces`; for one without a line that of its recipe in the docs is taken."""

DOCS = Path(__file__).parents[1] / "samples" / "docs" / "operations"
BETWEEN = "# before | after\n"
EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="700mm" viewBox="0 0 900 700"/>'


def documented(name: str) -> tuple[bytes, list[str]]:
    """The drawing that an operation's recipe in the docs starts from, and its lines up to the operation."""
    given, _, operation = (DOCS / f"{name}.recipe").read_text().partition(BETWEEN)
    source = given.splitlines()[0].removeprefix("# on ")
    data = (DOCS / source).read_bytes() if source.endswith(".svg") else EMPTY
    lines = [line for line in (given + operation).splitlines() if line.strip() and not line.startswith("#")]
    return data, lines[: max(k for k, line in enumerate(lines, start=1) if line.split()[0] == name)]


SHOWN = {lines[-1]: (data, lines[:-1]) for data, lines in (documented(n) for n in names() if not LINES.get(n))}
"""For every operation without a line of its own the one of the docs: what it starts from, and the steps before."""
TYPICAL = [*(line for lines in LINES.values() for line in lines), *SHOWN]


def started(line: str) -> tuple[Drawing, Pattern]:
    """What a line is typical for."""
    data, before = SHOWN.get(line, (hand.two_pieces(), []))
    drawing, pattern, _ = read(data)
    return drawing, replay(read_recipe("\n".join(before)), pattern)


ONCE = ("edge front.side@1/3", "edge front.side --names=flank", "line", "point", "back-off", "measure front.neck")
"""What cannot be done twice alike, or moves on each time."""


@lru_cache
def start() -> Pattern:
    return read(hand.two_pieces())[1]


def made(line: str) -> Operation:
    operation = parse_line(line)
    assert operation is not None
    return operation


# Every operation ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", names())
def test_every_operation_says_what_it_is(name: str) -> None:
    cls = load(name)
    assert cls.command == name
    assert cls.menu in MENUS
    assert dataclasses.is_dataclass(cls)
    assert cls.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert summary(cls).endswith(".")
    assert len(summary(cls)) <= 110
    text = describe(cls)
    assert text.startswith(f"flatcut {name}")
    assert ">>>" not in text
    for key, kind in kinds(cls).items():
        assert kind.help, f"{name} --{option(key)}"
        assert not isinstance(kind, Ref) or set(kind.of) <= set(KINDS)
        if key != "target":
            assert f"--{option(key)}=" in text


@pytest.mark.parametrize("name", names())
def test_an_empty_pattern_gives_a_pattern_or_a_sentence(name: str) -> None:
    try:
        found = load(name)()(Pattern())
    except FlatcutError as error:
        said = str(error)
    else:
        assert isinstance(found, Pattern)
        return
    assert "\n" not in said
    assert said[-1] != " "
    assert 10 < len(said) < 300


@pytest.mark.parametrize("name", names())
def test_called_bare_on_pieces_it_does_its_work_or_says_what_it_wants(name: str) -> None:
    before = start()
    try:
        after = load(name)()(before)
    except FlatcutError as error:
        said = str(error)
        assert "\n" not in said
        return
    assert isinstance(after, Pattern)


@pytest.mark.parametrize("name", names())
def test_a_bare_line_is_the_name_alone(name: str) -> None:
    assert load(name)().line() == name
    operation = made(name)
    assert type(operation) is load(name)
    assert operation == load(name)()


def test_the_table_has_every_operation() -> None:
    """A new operation gets a line here, or its recipe in the docs is taken."""
    assert set(LINES) <= set(names())
    assert {line.split()[0] for line in TYPICAL} == set(names())


# Every line of the table ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", TYPICAL)
def test_a_line_reads_back_as_the_same_operation(line: str) -> None:
    operation = made(line)
    again = made(operation.line())
    assert again == operation
    assert again.line() == operation.line()


@pytest.mark.parametrize("line", TYPICAL)
def test_the_step_replays_and_gives_finite_figures(line: str) -> None:
    _, before = started(line)
    _, same = started(line)
    steps = list(before.steps)
    done = made(line).perform(before)
    assert not differences(before, same, tolerance=0.0), "the pattern handed in is unchanged"
    assert list(before.steps) == steps
    assert all(math.isfinite(figure.value) for figure in done.step.figures)
    assert all(str(figure) for figure in done.step.figures)
    assert done.recorded == (len(done.pattern.steps) > len(before.steps))
    again = replay(read_recipe(done.step.line), before)
    assert not differences(again, done.pattern, tolerance=0.0)
    assert again.steps == done.pattern.steps


@pytest.mark.parametrize("line", [line for line in TYPICAL if line not in SHOWN and not line.startswith(ONCE)])
def test_a_second_time_changes_nothing_more(line: str) -> None:
    once = made(line)(start())
    twice = made(line)(once)
    assert not differences(once, twice, tolerance=1e-6)


@pytest.mark.parametrize("line", TYPICAL)
def test_through_the_drawing_the_result_is_the_same(line: str) -> None:
    drawing, pattern = started(line)
    done = made(line).perform(pattern)
    _, found, findings = read(write(drawing, done.pattern))
    assert not findings
    assert not differences(found, done.pattern, tolerance=2e-9)
    # figures are kept with nine decimals
    for mine, other in zip(found.steps, done.pattern.steps, strict=True):
        assert (mine.line, mine.warnings) == (other.line, other.warnings)
        assert [f.label for f in mine.figures] == [f.label for f in other.figures]
        assert [f.value for f in mine.figures] == pytest.approx([f.value for f in other.figures], abs=1e-9)
    assert found.names_shown == done.pattern.names_shown


def test_piece_a_second_time_finds_no_closed_path() -> None:
    """`swatch` and the outlines are all the closed paths there are."""
    pattern = read((hand.DATA / "two-pieces.svg").read_bytes())[1]
    once = made("piece")(pattern)
    assert len(once.pieces) == 3
    with pytest.raises(FlatcutError, match="closed path"):
        made("piece")(once)
