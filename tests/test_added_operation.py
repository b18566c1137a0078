"""The operation that DEVELOPERS.md shows, added to a copy of the tree: one file by hand, all else follows from it."""

from __future__ import annotations

import re

import pytest

from tests import by_hand as hand
from tests.added import Tree, copied, example


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Tree:
    """A copy of the package with the example in it, and a drawing."""
    tree = copied(tmp_path_factory.mktemp("copy"), {"operations/shorten.py": example("shorten")})
    (tree.folder / "in.svg").write_bytes(hand.two_pieces())
    return tree


def test_command_and_help(tree: Tree) -> None:
    performed, help_of_it, help_of_all = tree.told(
        "shorten front --by=3mm -i in.svg -o out.svg", "help shorten", "help"
    )
    assert "front allowance narrower by: 3 mm" in performed
    assert "Make the allowance of pieces narrower." in help_of_it
    assert "--by=LENGTH  how much narrower (default 2)" in help_of_it
    assert "shorten" in help_of_all
    unknown, too_large, nowhere = tree.told(
        "shorten front --bye=3 -i in.svg -o out.svg",
        "shorten front --by=3m -i in.svg -o out.svg",
        "shorten frnt -i in.svg -o out.svg",
        code=2,
    )
    assert "--bye" in unknown
    assert "must lie between" in too_large
    assert "there is no piece 'frnt'" in nowhere


def test_it_cannot_pass_over_all(tree: Tree) -> None:
    """The step reads its target as the example does, and `all` is every piece there."""
    said, steps = tree.told("shorten all -i in.svg -o all.svg", "steps all.svg")
    assert "front allowance narrower by: 2 mm" in said
    assert "back allowance narrower by: 2 mm" in said
    assert steps.splitlines()[-1] == "shorten all"
    before = re.findall(r"'allowance':\[(\d+)", (tree.folder / "in.svg").read_text())
    after = re.findall(r"'allowance':\[(\d+)", (tree.folder / "all.svg").read_text())
    assert [max(int(width) - 2, 0) for width in before] == [int(width) for width in after]
    beside, nothing = tree.told("shorten all front -i in.svg -o out.svg", "shorten -i in.svg -o out.svg", code=2)
    assert "name nothing beside it" in beside
    assert "select or name one of front, back or 'all'" in nothing


def test_recipe_line(tree: Tree) -> None:
    (tree.folder / "style.recipe").write_text("shorten front --by=3mm  # less\nshorten all\n")
    (tree.folder / "bad.recipe").write_text("shorten front --by=wide\n")
    _, steps = tree.told("run style.recipe in.svg -o styled.svg", "steps styled.svg")
    assert steps.splitlines()[-2:] == ["shorten front --by=3", "shorten all"]
    (bad,) = tree.told("run bad.recipe in.svg -o styled.svg", code=2)
    assert "line 1 (shorten): --by: there is no measurement 'wide'" in bad


def test_collected_under_other_names_it_replays(tree: Tree) -> None:
    (tree.folder / "two.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="70mm"/>')
    *_, steps = tree.told(
        "shorten front --by=length(front.side)/50 -i in.svg -o one.svg",
        "collect one.svg two.svg --prefix -o whole.svg",
        "steps whole.svg",
    )
    assert steps.splitlines()[-1] == 'shorten one-front --by="length(one-front.side)/50"'


def test_python_call(tree: Tree) -> None:
    call = (
        "from flatcut.operations.operation import load; from flatcut.formats.svg.read import read;"
        "pattern = read(open('in.svg', 'rb').read())[1];"
        "Shorten = load('shorten');"
        "print(Shorten(target='front', by=3)(pattern).steps[-1].line);"
        "print([e.allowance.width for p in Shorten(target='all', by='1cm')(pattern).pieces for e in p.edges])"
    )
    (said,) = tree.told(["-c", call])
    line, widths = said.strip().splitlines()
    assert line == "shorten front --by=3"
    assert set(eval(widths)) == {0.0}


def test_dialog(tree: Tree) -> None:
    (missing,) = tree.told("dialogs --check", code=1)
    assert "shorten.inx is missing" in missing
    press = (
        "from flatcut.editor import bridge;"
        "words = ['--operation=shorten', '--id=front-1', '--target=', '--by=4', '--units=mm'];"
        "assert not bridge.main([*words, 'in.svg'])"
    )
    _, pressed = tree.told("dialogs --write", ["-c", press])
    assert "shorten front --by=4" in pressed
    text = (tree.folder / "flatcut" / "extensions" / "shorten.inx").read_text(encoding="utf-8")
    assert 'gui-text="How much narrower"' in text
    assert "<label>usual: 2 mm</label>" in text
    assert '<submenu name="6 Finish"/>' in text
    by_hand, generated = "flatcut/operations/shorten.py", "flatcut/extensions/shorten.inx"
    assert tree.touched() == ([by_hand, generated], []), "by hand one file, the dialog by its command; nothing edited"
