"""A dialog's result in the real editor equals the command's, for every operation.

Where documents are handed over, words and bytes go from one Python to another, whatever the operation: there each kind
of field is tried, and each file to start from.
"""

from __future__ import annotations

import pytest

from flatcut.declared.declared import kinds
from flatcut.formats.svg.read import read
from flatcut.operations.operation import load, names
from flatcut.pattern.comparing import differences
from tests.editor import driver
from tests.editor.cases import CASES, STARTS
from tests.editor.comparing import TOLERANCE, assert_alike, assert_drawn_alike
from tests.editor.conftest import command

WAYS = ("as installed", "handing over")
"""In the editor's own Python, and, where that cannot have shapely, through the Python that installed the plugin."""


EACH = 5.0
"""Seconds that a press may take, on a machine with other work."""

UNRECORDED = ("names", "redraw")
"""What no recipe repeats."""


def _each_kind():
    """The first cases that have between them every file to start from and every kind of field."""
    tried = set()
    for name, case in CASES.items():
        known = kinds(load(name))
        new = {case.start, bool(case.select), *(type(known.get(key)) for key in case.fill)}
        if not new <= tried:
            tried |= new
            yield name


NAMES = {WAYS[0]: tuple(CASES), WAYS[1]: tuple(_each_kind())}
"""The operations that are tried in each way."""


@pytest.fixture(scope="module", params=WAYS)
def each(request, host, handing):
    return request.param, host if request.param == WAYS[0] else handing


@pytest.fixture(scope="module")
def pressed(each, starts, tmp_path_factory):
    """Results of all cases, and what is left after each is undone; one start of the editor for each starting file."""
    way, at = each
    folder = tmp_path_factory.mktemp("pressed")
    cases = {name: CASES[name] for name in NAMES[way]}
    driver.store(at.profile, {name: case.fill for name, case in cases.items()})
    said = {}
    for start, file in starts.items():
        actions, patience = [], 2 * driver.PATIENCE
        for name, case in cases.items():
            if case.start == start:
                done = driver.export(folder / f"{name}.svg")
                actions += [*driver.select(case.select), driver.press(name), *done, "undo"]
                patience += EACH
        actions += driver.export(folder / f"{start}-undone.svg")
        said[start] = driver.act(at.profile, file, actions, patience=patience)
    return folder, said


@pytest.mark.editor
def test_every_operation_has_a_case():
    assert sorted(CASES) == sorted(names()), "add a case for each operation to tests/editor/cases.py"
    assert {case.start for case in CASES.values()} == set(STARTS)


@pytest.mark.editor
@pytest.mark.parametrize("name", CASES)
def test_the_dialog_does_what_the_command_does(name, each, pressed, starts, tmp_path):
    if name not in NAMES[each[0]]:
        pytest.skip("others hand over the same kinds of field")
    folder, said = pressed
    case = CASES[name]
    result = folder / f"{name}.svg"
    if not result.exists():
        _, message = driver.alone(each[1], name, starts[case.start], case.select, case.fill)
        pytest.fail(f"the press did not end; the script says: {message or 'nothing'}; the editor: {said[case.start]}")
    wanted = command([name, *case.command], starts[case.start], tmp_path / "wanted.svg")
    assert_alike(result.read_bytes(), wanted)
    # something has happened, and the editor has kept it
    _, before, _ = read(starts[case.start].read_bytes())
    _, after, _ = read(result.read_bytes())
    assert len(after.steps) > len(before.steps) or name in UNRECORDED


@pytest.mark.editor
@pytest.mark.parametrize("start", STARTS)
def test_one_press_is_one_undo_step(start, pressed, starts):
    folder, said = pressed
    undone = folder / f"{start}-undone.svg"
    assert undone.exists(), said[start]
    _, before, _ = read(starts[start].read_bytes())
    _, after, _ = read(undone.read_bytes())
    assert differences(before, after, tolerance=TOLERANCE) == []
    assert after.steps == before.steps
    assert_drawn_alike(undone.read_bytes(), starts[start].read_bytes())
