"""A dialog's result in the real editor equals the command's, for every operation."""

from __future__ import annotations

import shutil

import pytest

from flatcut.cli import main
from flatcut.formats.svg.document import load as load_document
from flatcut.formats.svg.read import read
from flatcut.geometry.curves import same
from flatcut.operations.operation import names
from flatcut.pattern.comparing import differences
from tests.editor import driver
from tests.editor.cases import CASES, STARTS

TOLERANCE = 1e-3
"""mm."""


def command(words, source, target):
    assert main([*words, "-i", str(source), "-o", str(target)]) == 0, words
    return target


@pytest.fixture(scope="session")
def starts(tmp_path_factory, drawing):
    """The files that presses start from, made by commands."""
    folder = tmp_path_factory.mktemp("starts")
    files = {}
    for name, lines in STARTS.items():
        here = folder / f"{name}-0.svg"
        here.write_bytes(drawing)
        for number, line in enumerate(lines, start=1):
            here = command(line.split(), here, folder / f"{name}-{number}.svg")
        files[name] = folder / f"{name}.svg"
        shutil.copy(here, files[name])
    return files


@pytest.fixture(scope="session")
def pressed(host, starts, tmp_path_factory):
    """Results of all cases, and what is left after each is undone; one start of the editor for each starting file."""
    folder = tmp_path_factory.mktemp("pressed")
    driver.store(host.profile, {name: case.fill for name, case in CASES.items()})
    said = {}
    for start, file in starts.items():
        actions = []
        for name, case in CASES.items():
            if case.start == start:
                done = driver.export(folder / f"{name}.svg")
                actions += [*driver.select(case.select), driver.press(name), *done, "undo"]
        said[start] = driver.act(host.profile, file, [*actions, *driver.export(folder / f"{start}-undone.svg")])
    return folder, said


@pytest.mark.editor
def test_every_operation_has_a_case():
    assert sorted(CASES) == sorted(names()), "add a case for each operation to tests/editor/cases.py"
    assert {case.start for case in CASES.values()} == set(STARTS)


@pytest.mark.editor
@pytest.mark.parametrize("name", CASES)
def test_the_dialog_does_what_the_command_does(name, host, pressed, starts, tmp_path):
    folder, said = pressed
    case = CASES[name]
    result = folder / f"{name}.svg"
    if not result.exists():
        _, message = driver.alone(host, name, starts[case.start], case.select, case.fill)
        pytest.fail(f"the press did not end; the script says: {message or 'nothing'}; the editor: {said[case.start]}")
    wanted = command([name, *case.command], starts[case.start], tmp_path / "wanted.svg")
    _, before, _ = read(starts[case.start].read_bytes())
    _, here, _ = read(result.read_bytes())
    _, there, findings = read(wanted.read_bytes())
    assert not findings
    assert differences(there, here, tolerance=TOLERANCE) == []
    assert [step.line for step in here.steps] == [step.line for step in there.steps]
    assert here.names_shown == there.names_shown
    # something has happened, and the editor has kept it
    assert len(here.steps) > len(before.steps) or result.read_bytes() != starts[case.start].read_bytes()
    assert_drawn_alike(result, wanted)


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
    assert_drawn_alike(undone, starts[start])


def assert_drawn_alike(one, other):
    """All that can be seen, cut lines and ticks too."""
    paths, others = (load_document(file.read_bytes()).drawn() for file in (one, other))
    assert [len(path.subpaths) for path in paths] == [len(path.subpaths) for path in others]
    for path, another in zip(paths, others, strict=True):
        for sub, second in zip(path.subpaths, another.subpaths, strict=True):
            assert same(sub.curve, second.curve, tolerance=TOLERANCE), path.id
