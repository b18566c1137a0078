"""A dialog's result in the real editor equals the command's, for every operation."""

from __future__ import annotations

import pytest

from flatcut.formats.svg.read import read
from flatcut.operations.operation import names
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


@pytest.fixture(scope="module", params=WAYS)
def each(request, host, handing):
    return host if request.param == WAYS[0] else handing


@pytest.fixture(scope="module")
def pressed(each, starts, tmp_path_factory):
    """Results of all cases, and what is left after each is undone; one start of the editor for each starting file."""
    folder = tmp_path_factory.mktemp("pressed")
    driver.store(each.profile, {name: case.fill for name, case in CASES.items()})
    said = {}
    for start, file in starts.items():
        actions, patience = [], driver.PATIENCE
        for name, case in CASES.items():
            if case.start == start:
                done = driver.export(folder / f"{name}.svg")
                actions += [*driver.select(case.select), driver.press(name), *done, "undo"]
                patience += EACH
        actions += driver.export(folder / f"{start}-undone.svg")
        said[start] = driver.act(each.profile, file, actions, patience=patience)
    return folder, said


@pytest.mark.editor
def test_every_operation_has_a_case():
    assert sorted(CASES) == sorted(names()), "add a case for each operation to tests/editor/cases.py"
    assert {case.start for case in CASES.values()} == set(STARTS)


@pytest.mark.editor
@pytest.mark.parametrize("name", CASES)
def test_the_dialog_does_what_the_command_does(name, each, pressed, starts, tmp_path):
    folder, said = pressed
    case = CASES[name]
    result = folder / f"{name}.svg"
    if not result.exists():
        _, message = driver.alone(each, name, starts[case.start], case.select, case.fill)
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
