"""What a press says in the drawing: figures, what to look at, refusals; where it stands, and that it is no drawing."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree
from shapely import Polygon, box

from flatcut.cli import main
from flatcut.editor.bridge import answered, pressed, read_words
from flatcut.errors import FlatcutError
from flatcut.findings import WARNING, Finding
from flatcut.formats.svg.beside import Shapes, fitted, fitted_closely, free_place, letter_height
from flatcut.formats.svg.faults_layer import put_faults
from flatcut.formats.svg.read import read
from flatcut.formats.svg.told_layer import Told
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load
from flatcut.recipe import read_recipe, replay

BOX = '<path id="box" d="M 20,60 H 120 V 220 H 20 Z"/>'
SECOND = '<path id="second" d="M 220,60 H 320 V 225 H 220 Z"/>'
PAGE = (400.0, 300.0)
NAMES = ("box", "other")
BOXES = {"box": (20, 60, 120, 220), "other": (220, 60, 320, 225)}
"""mm."""


@pytest.fixture(scope="module")
def svg():
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" viewBox="0 0 400 300">'
        f"{BOX}{SECOND}</svg>"
    )
    drawing, pattern, _ = read(text.encode())
    return write(drawing, replay(read_recipe("piece id:box id:second --names=box,other"), pattern))


def press(data, operation, *ids, by=pressed, **given):
    words = [*(f"--id={i}" for i in ids), *(f"--{key}={value}" for key, value in given.items())]
    done = by(read_words([f"--operation={operation}", *words, "in.svg"]), data)
    assert done.said == ""
    return done.document


def layer(data):
    found = [e for e in etree.fromstring(data).iter() if e.get(own("told")) is not None]
    return found[0] if found else None


def told(data):
    found = layer(data)
    return [] if found is None else [e.text for e in found.iter("{http://www.w3.org/2000/svg}tspan")]


def test_figures_stand_beside_the_piece_at_a_size_that_can_be_read(svg):
    """At the zoom that fits the page, 700 px for 300 mm, a letter is at least 12 px high, and all is on the page."""
    after = press(svg, "allowance", "box", width="10")
    assert told(after)[0] == "Add allowance"
    assert any("box.e1" in line and "10 mm" in line for line in told(after))
    assert letter_height(PAGE) * min(1140 / PAGE[0], 700 / PAGE[1]) >= 12
    for text in layer(after):
        left, top = (float(v) for v in text.get("transform")[10:-1].split(","))
        assert 0 < top < 300
        assert not any(x < left < x + 100 and 60 < top < 220 for x in (20, 220)), "beside the pieces, not on them"
        assert min(abs(left - 20), abs(left - 120)) < 30


def test_edges_that_are_alike_stand_on_one_line(svg):
    after = press(svg, "allowance", "box", width="10")
    assert " ".join(told(after)[1:]).startswith("box.e1, e2, e3, e4 allowance: 10 mm")


def test_the_next_press_replaces_them_and_so_does_a_command(svg):
    once = press(svg, "allowance", "box", width="10")
    twice = press(once, "grain", "box")
    assert told(twice)[0] == "Set grain line"
    assert not any(line.startswith("Add allowance") for line in told(twice))
    drawing, pattern, _ = read(twice)
    assert told(write(drawing, replay(read_recipe("allowance other --width=5"), pattern))) == []


def test_what_finds_no_room_is_counted():
    told = Told(title="Deed", lines=("a figure",) * 9, looked=tuple(f"look at {k}" for k in range(7)))
    for most in (18, 9, 5):
        _, usual, bold = told.wrapped(most=most)
        for rows, whole in ((usual, 9), (bold, 7)):
            left = [int(row.split()[-3]) for row in rows if row.endswith("lines more")]
            assert len(rows) - len(left) + sum(left) == whole


def test_one_switch_hides_them(svg):
    hidden = press(press(svg, "allowance", "box", width="10"), "names", show="false", figures="false")
    assert told(hidden) == []
    after = press(hidden, "grain", "box")
    assert told(after) == []
    shown = press(after, "names", show="false", figures="true")
    assert told(press(shown, "grain", "box"))


def test_they_are_no_drawing_and_are_never_printed(svg):
    after = press(svg, "allowance", "box", width="10")
    assert layer(after).get("{http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd}insensitive") == "true"
    assert list(read(after)[1].drawn) == []


def test_what_to_look_at_is_told(svg):
    after = press(svg, "seam", target="box.e2,other.e4")
    assert "too long for this seam" in " ".join(told(after))
    assert [line for line in told(after) if line.startswith("! ")]


def test_a_plain_outline_that_became_a_piece_is_told(svg):
    plain = svg.replace(b"</svg>", b'<path id="third" d="M 340,60 h 30 v 50 h -30 Z"/></svg>')
    after = press(plain, "allowance", "third", width="5")
    assert told(after)[1] == "piece-1 became a piece first"


@pytest.mark.parametrize(
    ("given", "sentence"),
    [({"width": "1."}, ""), ({"width": "x"}, "'x'"), ({"target": "fron"}, "'fron'"), ({"width": "900"}, "0 and 200")],
)
def test_a_preview_opens_no_window(svg, given, sentence):
    after = press(svg, "allowance", "box", by=answered, **given)
    assert read(after)[1].steps == read(svg)[1].steps or not sentence
    assert sentence in " ".join(told(after))
    if sentence:
        assert told(after)[0] == "Add allowance: nothing is done"


def test_a_dialog_without_a_preview_says_it_in_a_window(svg):
    with pytest.raises(FlatcutError):
        press(svg, "seam", by=answered, target="box.e2")


def test_a_report_that_ends_well_opens_no_window(svg, tmp_path):
    file = tmp_path / "set.pdf"
    after = press(svg, "print", by=answered, to_file="true", file_to_write=str(file))
    assert file.read_bytes().startswith(b"%PDF")
    assert "is written" in " ".join(told(after))


def test_each_line_of_a_list_is_a_line_beside_the_pieces(svg):
    rows = told(press(svg, "list", by=answered))
    assert rows[0] == "Cut list"
    assert sum(row.split()[0] in NAMES for row in rows) == len(NAMES)
    assert not any(row.split()[0] != name and name in row for row in rows for name in NAMES)


def test_a_place_that_is_on_a_piece_or_off_the_page_is_none(svg):
    pattern = read(svg)[1]
    assert free_place(Shapes(pattern), ("box",), (330.0, 230.0), (200.0, 100.0), 5.0) is None


DEEP = ("edge box.e1 --use=hem", "allowance box.e2 box.e3 box.e4 --width=10")


def test_what_a_cut_line_says_of_its_shape_is_told_where_it_is_drawn(svg, tmp_path, capsys):
    """A hem of 180 mm, turned up, reaches past sides of 160 mm: its corners are mitred, and who drew it hears of it:
    in the editor beside the piece, from one step, as JSON, and from a recipe.
    """
    drawing, pattern, _ = read(svg)
    deep = write(drawing, replay([step for line in DEEP for step in read_recipe(line)], pattern))
    after = press(deep, "allowance", "box", target="box.e1", width="180")
    assert any("it is mitred" in line for line in told(after))
    before, recipe = tmp_path / "deep.svg", tmp_path / "hem.recipe"
    before.write_bytes(deep)
    recipe.write_text("allowance box.e1 --width=180\n")
    out = str(tmp_path / "out.svg")
    for words in (
        ["allowance", "box.e1", "--width=180", "-i", str(before), "-o", out],
        ["allowance", "box.e1", "--width=180", "--json", "-i", str(before), "-o", out],
        ["run", str(recipe), "-i", str(before), "-o", out],
    ):
        assert main(words) == 0
        assert capsys.readouterr().err.count("it is mitred") == 2


def test_words_stand_between_the_shapes_of_pieces_where_their_boxes_leave_no_room():
    """Two triangles in opposite corners of the page: their boxes overlap, and the band between them is free."""
    paths = '<path id="a" d="M 5,5 H 300 L 5,220 Z"/><path id="b" d="M 325,225 H 60 L 325,20 Z"/>'
    size = 'width="330mm" height="230mm" viewBox="0 0 330 230"'
    pattern = read(f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{paths}</svg>'.encode())[1]
    pattern = load("piece")(target=("id:a", "id:b"), names=("a", "b"))(pattern)

    def rows(wide):
        return (("eighteen letters !",), ("and no more",))

    assert fitted(Shapes(pattern), ("a",), (330.0, 230.0), rows) is None
    placed = fitted_closely(Shapes(pattern), ("a",), (330.0, 230.0), rows)
    assert placed is not None
    words = box(*placed.box)
    assert box(0, 0, 330, 230).contains(words)
    for ring in ([(5, 5), (300, 5), (5, 220)], [(325, 225), (60, 225), (325, 20)]):
        assert Polygon(ring).distance(words) > 3  # measured by shapely


def test_the_list_of_a_check_stands_beside_the_pieces_that_it_speaks_of(svg):
    drawing, pattern, _ = read(svg)
    found = [
        Finding(check="grain", severity=WARNING, where=(f"{name}.e1",), text=f"{name} is looked at") for name in NAMES
    ]
    put_faults(drawing.document, pattern, found)
    lists = {}
    for text in drawing.document.root.iter("{http://www.w3.org/2000/svg}text"):
        said = " ".join(row.text for row in text)
        if "is looked at" in said:
            lists[said] = [float(v) for v in text.get("transform")[10:-1].split(",")]
    assert sorted(lists) == sorted(f"{k}  warning: {name} is looked at" for k, name in enumerate(NAMES, start=1))
    for said, (left, top) in lists.items():
        x0, y0, x1, y1 = BOXES[said.split()[2]]
        assert max(x0 - left, left - x1, y0 - top, top - y1) < 40, said


def test_the_first_entry_of_the_menu_writes_what_to_do_first_on_the_drawing():
    empty = b'<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297"/>'
    rows = told(press(empty, "first-steps"))
    assert rows[0] == "First steps"
    assert " ".join(rows[1:3]).startswith("1  Draw a closed outline with the pen")
    assert told(press(press(empty, "first-steps"), "block", target="skirt", size="bust-90"))[0] == "Draft block"


def page(data):
    root = etree.fromstring(data)
    return tuple(float(root.get(side).removesuffix("mm")) for side in ("width", "height"))


def test_what_is_drafted_beyond_the_page_is_on_it(svg):
    """On a page of A4 a block has no room, and a second one beside it has none either: the page grows, what lies on it
    stays where it is, and that is told where it is seen.
    """
    empty = b'<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297"/>'
    one = press(empty, "block", target="skirt", size="bust-90")
    two = press(one, "flounce", inner="300", high="400")
    for before, after in ((empty, one), (one, two)):
        wide, high = page(after)
        known = {piece.uid for piece in read(before)[1].pieces}
        drawn = [piece for piece in read(after)[1].pieces if piece.uid not in known]
        assert drawn
        corners = np.concatenate([part.controls.reshape(-1, 2) for p in drawn for e in p.edges for part in e.parts])
        # a curve lies inside the hull of its controls
        assert corners.min() >= 0
        assert (corners.max(axis=0) <= (wide, high)).all()
        assert f"the page is {wide:g} × {high:g} mm now" in " ".join(told(after))
    assert page(press(svg, "allowance", "box", width="10")) == PAGE
    # a viewBox that is fitted in with room to spare cannot grow as it is: then it is told where the piece lies
    fitted_in = svg.replace(b'viewBox="0 0 400 300"', b'viewBox="0 0 400 200"')
    assert "lies beyond the page" in " ".join(told(press(fitted_in, "flounce", inner="300", high="400")))


def test_a_lesson_is_written_as_what_its_name_ends_in(tmp_path):
    """Its dialog has a paper for the PDF; for a page it would do nothing, which is told."""
    pytest.importorskip("reportlab")
    empty = b'<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297"/>'
    block = press(empty, "block", target="skirt", size="bust-90")
    for name, begins in (("skirt.pdf", b"%PDF"), ("skirt.html", b"<!DOCTYPE html"), ("plain", b"<!DOCTYPE html")):
        file = tmp_path / name
        # a line may break inside a long name
        assert name in "".join(told(press(block, "lesson", to_file="true", file_to_write=str(file))))
        assert (file if file.suffix else file.with_suffix(".html")).read_bytes().startswith(begins)
    with pytest.raises(FlatcutError, match=r"'Paper of the PDF' is for a PDF; write one, such as lesson\.pdf"):
        press(block, "lesson", to_file="true", file_to_write=str(tmp_path / "l.html"), paper="letter")
