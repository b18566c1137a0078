"""Tables that name many outlines at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import polyline
from flatcut.operations.piece import MakePieces
from flatcut.pattern.piece_table import COLUMNS, one_line, rows
from flatcut.pattern.values import DrawnPath, DrawnText, Pattern
from flatcut.recipe import read_recipe, replay

TABLE = """name;width;quantity;cut;material
front;1cm;2;pair;shell
back;3/8in;;fold;shell

facing;;;;fusing
"""


def drawn() -> Pattern:
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]) * 100.0
    paths = [
        DrawnPath(id=f"p{k}", curves=(polyline(square + np.array([200.0 * k, 0.0])),), closed=(True,), label=label)
        for k, label in enumerate(("", "no name!", "", ""))
    ]
    text = DrawnText(id="t", text="Yoke 12\nsize", at=np.array([450.0, 50.0]))
    return Pattern(drawn=(*paths, text))


def test_a_file_in_the_order_of_the_drawing(tmp_path: Path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(TABLE, encoding="utf-8-sig")
    done = MakePieces(table=str(file))(drawn())
    assert [piece.name for piece in done.pieces] == ["front", "back", "facing", "piece-1"]
    front, back, facing, last = done.pieces
    assert (front.quantity, front.cut_as, front.material) == (2, "pair", "shell")
    assert [edge.allowance.width for edge in front.edges if edge.allowance] == [10.0] * 4
    # 1 in = 25.4 mm (international yard and pound agreement, 1959)
    assert back.edges[0].allowance is not None
    assert back.edges[0].allowance.width == pytest.approx(9.525)
    assert (back.quantity, back.cut_as) == (1, "fold")
    assert (facing.material, facing.edges[0].allowance) == ("fusing", None)
    assert last.edges[0].allowance is None
    # the step replays without the file
    file.unlink()
    again = replay(read_recipe(done.steps[-1].line), drawn())
    assert again.steps == done.steps
    assert [piece.name for piece in again.pieces] == [piece.name for piece in done.pieces]


def test_rows_that_say_which_outline_they_mean() -> None:
    table = "drawn,name,quantity\nYoke 12,yoke,4\nno name!,side,\np3,back,1\n"
    done = MakePieces(table=table)(drawn())
    assert [piece.name for piece in done.pieces] == ["piece-1", "side", "yoke", "back"]
    assert [piece.quantity for piece in done.pieces] == [1, 1, 4, 1]


def test_a_pair_is_two() -> None:
    done = MakePieces(table="name,cut\nfront,pair\n")(drawn())
    assert (done.pieces[0].quantity, done.pieces[0].cut_as) == (2, "pair")


def test_cut_outlines_with_a_width_for_each() -> None:
    done = MakePieces(table="name,width\na,5\nb,\n", outline="cut", width=10.0)(drawn())
    assert [e.allowance.width for p in done.pieces for e in p.edges[:1] if e.allowance] == [5, 10, 10, 10]
    assert done.pieces[0].edges[0].start.tolist() == [5, 5]
    assert done.pieces[1].edges[0].start.tolist() == [210, 10]


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("name,wide\nfront,1\n", "column of a table 'wide'"),
        ("name,name\nfront,b\n", "column twice"),
        ("name,width\nfront,1,5cm\n", "row 2 of the table has 3 cells"),
        ("name;width\nfront;1,5cm\n", "has a comma"),
        ("name,width\nfront,wide\n", "row 2 of the table: 'wide' is not a length"),
        ("name,quantity\nfront,two\n", "'two' is no quantity"),
        ("name,cut\nfront,twice\n", "single, pair, fold"),
        ("name\n2front\n", "cannot be a piece's name"),
        ("name\na\na\n", "a piece 'a' already"),
        ("name\na\nb\nc\nd\ne\n", "5 rows for 4 outlines"),
        ("drawn,name\nYoke,a\n", "did you mean 'Yoke 12'"),
        ("drawn,name\np1,a\nno name!,b\n", "stands for several outlines or twice"),
        ("none.csv", "cannot be read"),
    ],
)
def test_what_a_table_cannot_say(table: str, words: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        MakePieces(table=table)(drawn())
    assert words in str(caught.value)


def test_one_line_is_read_as_it_was_written() -> None:
    line = one_line(TABLE)
    assert one_line(line) == line
    assert len(rows(line)) == 3
    assert one_line("name\nfront\nback\n") == "name|front|back"
    assert rows(one_line(one_line("name\nfront\nback\n")))[1].name == "back"
    assert set(COLUMNS) >= {"name", "width", "quantity", "material"}
