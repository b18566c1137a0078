"""Tables that name many outlines at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import polyline
from flatcut.operations.operation import load
from flatcut.operations.piece import MakePieces
from flatcut.outlines.piece_table import COLUMNS, rows
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import DrawnPath, DrawnText, Pattern
from flatcut.recipe import read_recipe, replay
from flatcut.tables import cells, one_line

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
        ("name,width\nfront,1,5cm\n", "'1,5cm' looks like a decimal comma: write 1.5cm"),
        ("name,material\nfront,wool, black\n", "row 2 of the table has 3 cells for 2 columns; put a text"),
        ("name;width\nfront;1,5cm\n", "'1,5cm' has a decimal comma; write 1.5cm"),
        ('name,material\nfront,"wool\n', "quotation mark without its mate"),
        ("name,width (ell)\nfront,1\n", "'ell' is not a unit of length; write one of mm, cm"),
        ("name,width\nfront,-1cm\n", "is negative"),
        ("name\nfr\x07ont\n", "a character that no drawing can hold"),
        ("\n", "the table is empty"),
        ("pieces.xlsx", "'pieces.xlsx' is no table; name a file that ends in .csv, .tsv, .txt"),
        ("drawn,name\n,front\np1,back\n", "row 2 of the table does not say which outline"),
        ("drawn,name,use\np1,front,hem\n", "only edges have one"),
        ("name,width\nfront,wide\n", "row 2 of the table: 'wide' is not a length"),
        ("name,quantity\nfront,two\n", "'two' is no quantity"),
        ("name,cut\nfront,twice\n", "single, pair, fold"),
        ("name\n2front\n", "'2front' cannot be a name"),
        ("name\na\na\n", "a piece 'a' already"),
        ("name\na\nb\nc\nd\ne\n", "5 rows for 4 outlines"),
        ("drawn,name\nYoke,a\n", "did you mean 'Yoke-12'"),
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


@pytest.mark.parametrize("between", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_files_as_spreadsheets_write_them(tmp_path: Path, between: str, end: str, encoding: str) -> None:
    table = [["Name", "Material"], ["front", 'wool, "black"; 2|3'], ["rücken", "line\none"], ["", ""]]
    file = tmp_path / "pieces.csv"
    # quoting as in RFC 4180, section 2
    rows_ = [between.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in table]
    file.write_bytes((end.join(rows_) + end).replace("line\none", f"line{end}one").encode(encoding))
    done = MakePieces(table=str(file))(drawn())
    assert [(p.name, p.material) for p in done.pieces[:2]] == [("front", 'wool, "black"; 2|3'), ("rücken", "line one")]
    again = replay(read_recipe(done.steps[-1].line), drawn())
    assert [(p.name, p.material) for p in again.pieces] == [(p.name, p.material) for p in done.pieces]
    assert again.steps == done.steps


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Zs"]), max_size=8), min_size=2, max_size=2
        )
    )
)
def test_cells_survive_the_one_line_form(body: list[list[str]]) -> None:
    wanted = [[" ".join(cell.split()) for cell in row] for row in body]
    text = "\n".join(
        ",".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in [["name", "side"], *wanted]
    )
    found = cells(text)
    assert cells(one_line(text)) == found
    assert [row for row in found[1:] if any(row)] == [row for row in wanted if any(row)]


def test_the_head_says_the_unit_of_bare_numbers() -> None:
    # 1 in = 25.4 mm (international yard and pound agreement, 1959)
    assert [row.width for row in rows("name,Width (in)|a,3/8|b,1cm|c,")] == [pytest.approx(9.525), 10, None]
    assert [row.width for row in rows("name,width cm|a,1.5")] == [15]


def test_names_that_the_drawing_has_find_their_outlines() -> None:
    done = MakePieces(table="name,quantity\nYoke-12,4\np1,3\np0,2\n")(drawn())
    assert [(p.name, p.quantity) for p in done.pieces] == [("p0", 2), ("p1", 3), ("Yoke-12", 4), ("piece-1", 1)]
    assert done.steps[-1].warnings == ("the table has no row for 'p3'",)
    # as soon as one name is not in the drawing the rows are in its order, and what looks wrong is told
    told = MakePieces(table="name\nYoke-12\nside\nback\nfront\n")(drawn())
    assert [p.name for p in told.pieces] == ["Yoke-12", "side", "back", "front"]
    assert any("'Yoke-12' in the drawing is 'back' in the table" in said for said in told.steps[-1].warnings)


def pointing() -> Pattern:
    """Two squares and a third, a line across the lower edges of two, one across a right edge, one across nothing."""
    line = [
        DrawnPath(id="m1", curves=(polyline([(50, 95), (50, 105)]),), closed=(False,), label="hem"),
        DrawnPath(id="m2", curves=(polyline([(250, 90), (255, 108)]),), closed=(False,), label="hem"),
        DrawnPath(id="m3", curves=(polyline([(95, 40), (105, 40)]),), closed=(False,)),
        DrawnPath(id="m4", curves=(polyline([(140, 40), (150, 40)]),), closed=(False,)),
    ]
    return Pattern(drawn=(*drawn().drawn, *line))


def test_short_lines_point_at_edges() -> None:
    table = "drawn,name,width,use\np0,front,1cm,\nhem,lower,4cm,hem\nm3,,20,opening\n"
    done = MakePieces(table=table)(pointing())
    front = done.piece("front")
    assert [(e.name, e.use, e.allowance.width) for e in front.edges if e.allowance] == [
        ("e1", "seam", 10),
        ("e2", "opening", 20),
        ("lower", "hem", 40),
        ("e4", "seam", 10),
    ]
    second = done.pieces[1].edge("lower")
    assert second.allowance is not None
    assert second.allowance.width == 40
    assert "front.lower allowance: 40 mm" in [str(figure) for figure in done.steps[-1].figures]
    assert {thing.id for thing in done.drawn} >= {"m1", "m2", "m3", "m4"}
    again = replay(read_recipe(done.steps[-1].line), pointing())
    assert again.steps == done.steps
    assert differences(again, done, tolerance=1e-9) == []


@pytest.mark.parametrize(
    ("table", "options", "words"),
    [
        ("drawn,width\nm4,1cm\n", {}, "'m4' of row 2 crosses no edge"),
        ("drawn,quantity\nm1,2\n", {}, "it can say their name, width and use"),
        ("drawn,use\nm1,bottom\n", {}, "no use of an edge; write one of seam, hem"),
        ("drawn,name\nm3,e3\n", {}, "has a 'e3' already"),
        ("drawn,width\nm1,2\n", {"outline": "cut", "width": 10.0}, "one width all round"),
    ],
)
def test_lines_that_point_wrongly(table: str, options: dict[str, object], words: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        MakePieces(table=table, **options)(pointing())  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_one_faulty_outline_does_not_stop_the_others() -> None:
    cross = polyline([(800, 0), (900, 100), (900, 0), (800, 100), (800, 0)])
    both = replace(drawn(), drawn=(*drawn().drawn, DrawnPath(id="x", curves=(cross,), closed=(True,))))
    done = MakePieces(table="name\na\nb\nc\nd\ne\n")(both)
    assert [piece.name for piece in done.pieces] == ["a", "b", "c", "d"]
    assert any("'x'" in said and "stays as drawn" in said for said in done.steps[-1].warnings)


def test_a_command_can_name_the_line_that_points() -> None:
    pieces = MakePieces()(pointing())
    done = load("allowance")(target=("id:m1", "id:m3"), width=30)(pieces)  # type: ignore[call-arg]  # its own fields
    assert done.steps[-1].line == "allowance piece-1.e3 piece-1.e2 --width=30"
    with pytest.raises(FlatcutError, match="crosses no edge"):
        load("allowance")(target=("id:m4",), width=30)(pieces)  # type: ignore[call-arg]
