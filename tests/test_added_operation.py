"""The operation that DEVELOPERS.md shows, added to a copy of the tree: one file by hand, all else follows from it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests import by_hand as hand

ROOT = Path(__file__).parents[1]


def example() -> str:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (found,) = (code for code in re.findall(r"```python\n(.*?)```\n", text, flags=re.DOTALL) if "`shorten`" in code)
    return found


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the package and the example in it."""
    folder = tmp_path_factory.mktemp("copy")
    package = folder / "flatcut"
    away = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "core" / "flatcut", package, ignore=away)
    shutil.copytree(ROOT / "extensions", package / "extensions", ignore=away)
    (package / "operations" / "shorten.py").write_text(example(), encoding="utf-8")
    (folder / "in.svg").write_bytes(hand.two_pieces())
    return folder


def run(folder: Path, *words: str, code: int = 0) -> str:
    """What a command says, on either stream."""
    done = subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == code, done.stderr
    return done.stdout + done.stderr


def flatcut(folder: Path, line: str, code: int = 0) -> str:
    return run(folder, "-m", "flatcut", *line.split(), code=code)


def test_command_and_help(copied: Path) -> None:
    assert "front allowance narrower by: 3 mm" in flatcut(copied, "shorten front --by=3mm -i in.svg -o out.svg")
    said = flatcut(copied, "help shorten")
    assert "Make the allowance of pieces narrower." in said
    assert "--by=LENGTH  how much narrower (default 2)" in said
    assert "shorten" in flatcut(copied, "help")
    assert "--bye" in flatcut(copied, "shorten front --bye=3 -i in.svg -o out.svg", code=2)
    assert "must lie between" in flatcut(copied, "shorten front --by=3m -i in.svg -o out.svg", code=2)
    assert "there is no piece 'frnt'" in flatcut(copied, "shorten frnt -i in.svg -o out.svg", code=2)


def test_it_cannot_pass_over_all(copied: Path) -> None:
    """The step reads its target as the example does, and `all` is every piece there."""
    said = flatcut(copied, "shorten all -i in.svg -o all.svg")
    assert "front allowance narrower by: 2 mm" in said
    assert "back allowance narrower by: 2 mm" in said
    assert flatcut(copied, "steps all.svg").splitlines()[-1] == "shorten all"
    before = re.findall(r"'allowance':\[(\d+)", (copied / "in.svg").read_text())
    after = re.findall(r"'allowance':\[(\d+)", (copied / "all.svg").read_text())
    assert [max(int(width) - 2, 0) for width in before] == [int(width) for width in after]
    assert "name nothing beside it" in flatcut(copied, "shorten all front -i in.svg -o out.svg", code=2)
    assert "select or name one of front, back or 'all'" in flatcut(copied, "shorten -i in.svg -o out.svg", code=2)


def test_recipe_line(copied: Path) -> None:
    (copied / "style.recipe").write_text("shorten front --by=3mm  # less\nshorten all\n")
    flatcut(copied, "run style.recipe in.svg -o styled.svg")
    assert flatcut(copied, "steps styled.svg").splitlines()[-2:] == ["shorten front --by=3", "shorten all"]
    (copied / "bad.recipe").write_text("shorten front --by=wide\n")
    assert "line 1 (shorten): --by: there is no measurement 'wide'" in flatcut(
        copied, "run bad.recipe in.svg -o styled.svg", code=2
    )


def test_collected_under_other_names_it_replays(copied: Path) -> None:
    flatcut(copied, "shorten front --by=length(front.side)/50 -i in.svg -o one.svg")
    (copied / "two.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="70mm"/>')
    flatcut(copied, "collect one.svg two.svg --prefix -o whole.svg")
    assert flatcut(copied, "steps whole.svg").splitlines()[-1] == 'shorten one-front --by="length(one-front.side)/50"'


def test_python_call(copied: Path) -> None:
    call = (
        "from flatcut.operations.operation import load; from flatcut.formats.svg.read import read;"
        "pattern = read(open('in.svg', 'rb').read())[1];"
        "Shorten = load('shorten');"
        "print(Shorten(target='front', by=3)(pattern).steps[-1].line);"
        "print([e.allowance.width for p in Shorten(target='all', by='1cm')(pattern).pieces for e in p.edges])"
    )
    line, widths = run(copied, "-c", call).strip().splitlines()
    assert line == "shorten front --by=3"
    assert set(eval(widths)) == {0.0}


def test_dialog(copied: Path) -> None:
    package = copied / "flatcut"
    held = {path: path.read_bytes() for path in package.rglob("*") if path.is_file() and path.suffix != ".pyc"}
    assert "shorten.inx is missing" in flatcut(copied, "dialogs --check", code=1)
    flatcut(copied, "dialogs --write")
    text = (package / "extensions" / "shorten.inx").read_text(encoding="utf-8")
    assert 'gui-text="How much narrower, if not 2 mm"' in text
    assert '<submenu name="Finish"/>' in text
    press = (
        "import sys; from flatcut.editor import bridge;"
        "words = ['--operation=shorten', '--id=front-1', '--target=', '--by_stated=true', '--by=4', '--units=mm'];"
        "sys.exit(bridge.main([*words, 'in.svg']))"
    )
    assert "shorten front --by=4" in run(copied, "-c", press)
    new = {path for path in package.rglob("*") if path.is_file() and path.suffix != ".pyc"} - set(held)
    assert {path.name for path in new} == {"shorten.inx"}, "by hand one file, the dialog by its command"
    assert all(path.read_bytes() == data for path, data in held.items()), "nothing else is edited"
