"""Kinds of block: each takes only its own options, and adding one touches one file by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.arguments import build
from flatcut.blocks.kinds.kind import load as kind
from flatcut.blocks.kinds.kind import names
from flatcut.declared.declared import kinds, option
from flatcut.declared.kinds import Choice, Flag, Length, Number
from flatcut.dialogs.values import words
from flatcut.errors import UsageError
from flatcut.operations.operation import load
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe
from tests.added import copied

COMMON = {"target", "size", "measures", "names"}


def foreign() -> list[tuple[str, str]]:
    """Every kind with every option of another."""
    every = {key for name in names() for key in kinds(kind(name))}
    return [(name, key) for name in names() for key in sorted(every - set(kinds(kind(name))))]


@pytest.mark.parametrize(("name", "key"), foreign())
def test_an_option_of_another_kind_is_refused(name: str, key: str) -> None:
    block = load("block")
    field = kinds(block)[key]
    default = block.__dataclass_fields__[key].default
    # stated at its usual value too: what is typed is meant
    usual = min(max(20.0, field.low), field.high) if isinstance(field, Number) else 0.0
    words = f"{usual}mm" if isinstance(field, Length) else f"{usual}" if isinstance(field, Number) else "front.edge"
    text = field.show(default) if default not in (None, (), "") else words
    with pytest.raises(UsageError, match=f"block {name} takes no --{option(key)}, which is for .*; leave it out"):
        build(block, [name], {option(key): text})
    with pytest.raises(UsageError, match=f"line 1: block {name} takes no --{option(key)}"):
        read_recipe(f"block {name} --{option(key)}={text}")


def test_the_python_call_refuses_them_too() -> None:
    with pytest.raises(UsageError, match="block skirt takes no --cap-ease, which is for sleeve; leave it out"):
        load("block")(target=("skirt",), cap_ease=20.0)  # type: ignore[call-arg]  # its own field
    (back, _) = load("block")(target=("skirt",), size="bust-90", length=600.0)(Pattern()).pieces  # type: ignore[call-arg]
    assert back.name == "skirt-back"


def test_a_dialog_states_only_what_is_filled_in() -> None:
    # the dialog hands over every list and figure, those of the other kinds at their usual values
    block = load("block")
    fields = {key: block.__dataclass_fields__[key].default for key in kinds(block)}
    given = {key: "-" if value == "" else str(value) for key, value in fields.items() if value not in (None, ())}
    given = {key: value for key, value in given.items() if isinstance(kinds(block)[key], (Choice, Number, Flag))}
    targets, options = words(block, {**given, "target": "skirt", "size": "bust-90"})
    assert build(block, targets, options).line() == "block skirt --size=bust-90"
    with pytest.raises(UsageError, match="takes no --method"):
        build(block, *words(block, {**given, "target": "skirt", "size": "bust-90", "method": "bust-only"}))


def test_every_field_of_the_operation_is_of_a_kind() -> None:
    every = {key for name in names() for key in kinds(kind(name))}
    assert set(kinds(load("block"))) == every | COMMON
    assert not every & COMMON


CAPE = '''"""`block cape`: half a circle round the neck."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from flatcut.pattern.assembling import Draft, Side, assembled
from flatcut.blocks.fairing import fair
from flatcut.blocks.kinds.kind import Kind, taken
from flatcut.declared.fields import length as mm
from flatcut.geometry.curves import line
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern


@dataclass(frozen=True, kw_only=True)
class Cape(Kind):
    """A quarter circle, cut as a pair."""

    pieces: ClassVar[tuple[str, ...]] = ("cape",)

    neck: float | None = taken("neck")
    drop: float = mm(400.0, "depth of the cape", low=100, high=1000)

    @property
    def needed(self) -> tuple[str, ...]:
        """The neck."""
        return ("neck",)

    def draft(self, body: Mapping[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]) -> Draft:
        """One piece."""
        inner = body["neck"] / 2 / (math.pi / 2)
        outer = inner + self.drop
        right, down = np.array([1.0, 0.0]), np.array([0.0, 1.0])
        piece = assembled(
            names[0],
            (
                Side(name="front", parts=(line([inner, 0.0], [outer, 0.0]),), use="opening"),
                Side(name="hem", parts=(fair(outer * right, down, outer * down, -right),), use="hem"),
                Side(name="centre", parts=(line([0.0, outer], [0.0, inner]),)),
                Side(name="neck", parts=(fair(inner * down, right, inner * right, -down),)),
            ),
            uids,
            grain=(np.array([20.0, outer - 30.0]), np.array([20.0, inner + 30.0])),
            cut_as="pair",
        )
        return Draft(pieces=(piece,), seams=(), figures=(Figure("drop", self.drop),))
'''


def test_a_kind_is_one_file(tmp_path: Path) -> None:
    """In a copy of the tree: the file is added; command, help, recipe, Python call and dialog follow."""
    tree = copied(tmp_path, {"blocks/kinds/cape.py": CAPE})
    (tmp_path / "style.recipe").write_text("block cape --size=bust-90\nallowance all\n", encoding="utf-8")
    call = (
        "from flatcut.operations.operation import load; from flatcut.pattern.values import Pattern;"
        "print(load('block')(target='cape', size='bust-90', drop=300.0)(Pattern()).steps[-1].line)"
    )
    drafted, help_of_it, _, called = tree.told(
        "block cape --neck=38cm --drop=50cm -o cape.svg", "help block", "run style.recipe -o styled.svg", ["-c", call]
    )
    assert "drop: 500 mm" in drafted
    assert "--drop=LENGTH  depth of the cape" in help_of_it
    assert called.strip() == "block cape --size=bust-90 --drop=300"
    (refused,) = tree.told("block skirt --drop=50cm", code=2)
    assert "block skirt takes no --drop, which is for cape" in refused
    (checked, written) = tree.run("dialogs --check", "dialogs --write")
    assert (checked.code, written.code) == (1, 0)
    assert "block.inx differs" in checked.out + checked.err
    assert 'name="drop"' in (tmp_path / "flatcut" / "extensions" / "block.inx").read_text(encoding="utf-8")
    by_hand, generated = "flatcut/blocks/kinds/cape.py", "flatcut/extensions/block.inx"
    assert tree.touched() == ([by_hand], [generated]), "by hand one file, the dialog by its command"
