"""A photograph of a paper piece becomes its outline in mm: against the drawing that it was rendered from."""

from __future__ import annotations

import base64
import subprocess

import cv2
import numpy as np
import pytest

from flatcut.cli import main
from flatcut.editor.bridge import pressed, read_words
from flatcut.editor.pictured import with_picture
from flatcut.errors import InputError, UsageError
from flatcut.formats.opening import read
from flatcut.operations.operation import load
from flatcut.pattern.values import Pattern
from flatcut.photograph.finding import squares_in
from flatcut.photograph.library import picture
from flatcut.photograph.marks import cells
from flatcut.photograph.photographed import outlined, photographed
from tests.photographs import Shot, block, off

AROUND = {1: (280, 200, 3), 2: (-150, -20, -5), 3: (-160, 420, 10), 4: (290, 450, 0)}
BESIDE = {1: (280, 200, 3)}
PAPER = block()
SHARP = {"size": (1500, 1100), "wide": 620.0, "blur": 0.8}


@pytest.fixture(scope="module")
def tilted(tmp_path_factory):
    """15° of tilt, a lens that bends the corner by 3 %, a shadow over 40 %, wrinkles, noise; four squares."""
    shot = Shot(paper=PAPER, squares=AROUND, tilt=15, bends=(-0.05, 0.01), shadow=0.4, wrinkles=0.08)
    file = tmp_path_factory.mktemp("photo") / "front.png"
    cv2.imwrite(str(file), shot.picture())
    return str(file)


def test_the_marks_are_those_that_the_library_finds():
    known = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for mark in range(16):
        assert ((cv2.aruco.generateImageMarker(known, mark, 6) == 0) == cells(mark)).all()


def test_one_millimetre_over_fifty_centimetres_at_15_degrees(tilted):
    found = photographed(tilted, 100.0)
    away = off(found.outline, PAPER, AROUND[1])
    assert np.ptp(PAPER[:, 1]) > 500
    assert away.max() < 0.5
    assert away.mean() < 0.1
    assert found.squares == (1, 2, 3, 4)
    assert abs(found.tilt - 15) < 0.3
    assert 0.05 < found.deviation < 0.5
    assert not found.warnings()


def test_the_piece_has_its_corners_dart_and_notches(tilted, tmp_path, capsys):
    """In a drawing of its own, since none is given."""
    file = tmp_path / "front.svg"
    assert main(["piece", f"--photo={tilted}", "--square=10cm", "--names=front", "-o", str(file)]) == 0
    made = read(file.read_bytes(), name=file.name)[1]
    front = made.piece("front")
    assert len(front.edges) == 6
    (dart,) = front.darts
    # legs of 110.7 and 110.2 mm as drawn
    legs = [np.hypot(*(leg.end - leg.start)) for leg in dart.legs]
    assert legs == pytest.approx([110.7, 110.2], abs=0.7)
    assert [(notch.kind, notch.into) for notch in front.notches] == [("v", "in")] * 2
    assert made.steps[-1].line == "piece drawn:1 --names=front"
    told = {figure.label: figure.value for figure in made.steps[-1].figures}
    assert told["photograph: the outline may be off by"] < 0.5
    assert told["photograph: control squares"] == 4
    assert "photograph: one point is: 0." in capsys.readouterr().err


def test_one_square_says_how_little_it_knows_of_the_lens():
    """What is reported holds what is wrong, and says what to do."""
    shot = Shot(paper=PAPER, squares=BESIDE, tilt=12, bends=(0.03, 0.0), shadow=0.2, size=(1900, 1400))
    found = outlined(shot.picture(), 100.0)
    assert off(found.outline, PAPER, BESIDE[1]).max() < found.deviation
    assert found.deviation > 1
    (said,) = found.warnings()
    assert "lay squares 2 to 4 about the paper too" in said


SMALL = PAPER * 0.5
NEAR = {1: (150, 100, 0)}
TWO = Shot(paper=SMALL, squares=NEAR, **SHARP, more=[([(-150, 0), (-50, 0), (-50, 200), (-150, 200)], 1)])
BAD = {
    "no control square is found": Shot(paper=SMALL, squares={}, **SHARP),
    "2 papers lie beside the control square": TWO,
    "the paper is cut by the border": Shot(paper=SMALL, squares=NEAR, looks_at=(300, 130), **SHARP),
    "there is no paper beside the control square that": Shot(paper=SMALL * 0.01, squares={1: (20, -60, 0)}, **SHARP),
    "the paper touches the control square": Shot(paper=SMALL, squares={1: (90, 100, 0)}, **SHARP),
    "that stands out from the table": Shot(paper=SMALL, squares=NEAR, colour=(0.062, 0.071, 0.092), **SHARP),
    "too small: one point of it is": Shot(paper=PAPER, squares=AROUND, size=(1100, 820)),
    "too small: the marks": Shot(paper=PAPER, squares=AROUND, size=(560, 420), blur=0.4),
}


@pytest.mark.parametrize("said", BAD)
def test_what_is_in_the_way_is_said_in_a_sentence(said):
    with pytest.raises(InputError, match=said):
        outlined(BAD[said].picture(), 100.0)


def test_a_square_that_is_there_twice_is_refused():
    seen = Shot(paper=SMALL, squares=NEAR, **SHARP).picture()
    with pytest.raises(InputError, match="control square 1 is in the photograph twice"):
        squares_in(np.hstack([seen, seen]))


def test_no_photograph(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xff\xe0 no more")
    (tmp_path / "b.jpg").write_bytes(b"")
    for name, said in (("a.jpg", "is no photograph"), ("b.jpg", "is no photograph"), ("c.jpg", "cannot be read")):
        with pytest.raises(InputError, match=said):
            photographed(str(tmp_path / name), 100.0)


LINKED = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:sodipodi='
    '"http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd" width="900mm" height="900mm" viewBox="0 0 900 900">'
    '<image id="picture" width="300" height="220" {}/></svg>'
)
MAKE = ["--operation=piece", "--square=10", "--units=cm", "--names=front"]


def test_a_photograph_that_lies_in_the_drawing_is_read_where_it_is_linked_or_embedded(tmp_path):
    """In the editor: what is selected is the image, and its file is found though the drawing is a copy elsewhere."""
    photo = tmp_path / "half front.png"
    cv2.imwrite(str(photo), Shot(paper=SMALL, squares=NEAR, **SHARP).picture())
    data = base64.b64encode(photo.read_bytes()).decode()
    ways = {
        "beside": f'xlink:href="half%20front.png" sodipodi:absref="{photo}"',
        "whole": f'href="{photo.as_uri()}"',
        "embedded": f'xlink:href="data:image/png;base64,{data}"',
    }
    given = {"photo": "", "square": "10"}
    for way, link in ways.items():
        drawing = read(LINKED.format(link).encode(), name="in.svg")[0]
        name = with_picture(load("piece"), given, drawing, ["picture"])["photo"]
        assert (picture(name) == cv2.imread(str(photo))).all(), way
        # one that is named goes before it, and without the side of a square nothing is a photograph
        for other in ({"photo": "b.jpg", "square": "10"}, {"photo": "", "square": ""}):
            assert with_picture(load("piece"), other, drawing, ["picture"]) == other
    done = pressed(read_words([*MAKE, "--id=picture", "in.svg"]), LINKED.format(ways["beside"]).encode())
    front = read(done.document, name="in.svg")[1].piece("front")
    size = np.ptp(np.concatenate([edge.start[None] for edge in front.edges]), axis=0)
    assert size == pytest.approx(np.ptp(SMALL, axis=0), abs=3)


def test_a_photograph_that_is_named_needs_nothing_to_be_selected():
    with pytest.raises(InputError, match="cannot be read"):
        pressed(read_words([*MAKE, "--photo=none.jpg", "in.svg"]), LINKED.format('href="other.png"').encode())


@pytest.mark.parametrize(
    ("link", "said"),
    [
        ('xlink:href="gone.jpg"', "is linked to 'gone.jpg', and no such file is there; name the file"),
        ('xlink:href="data:image/png;base64,AAAA"', "the embedded image is no photograph"),
        ('xlink:href="data:image/png;base64,A"', "the embedded image is no photograph"),
        ("", "is linked to '', and no such file is there"),
    ],
)
def test_an_image_in_the_drawing_that_cannot_be_read_says_what_to_do(link, said):
    with pytest.raises(InputError, match=said):
        pressed(read_words([*MAKE, "--id=picture", "in.svg"]), LINKED.format(link).encode())


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"photo": "a.jpg"}, "go together"),
        ({"square": "10cm"}, "go together"),
        ({"photo": "a.jpg", "square": "10cm", "drawing_unit": "cm"}, "brings its own outline"),
        ({"photo": "a.jpg", "square": "10cm", "target": ("drawn:1",)}, "brings its own outline"),
    ],
)
def test_options_that_do_not_go_together(given, said):
    with pytest.raises(UsageError, match=said):
        load("piece")(**given)(Pattern())


def test_control_squares_are_printed_at_true_size_and_found(tmp_path, capsys):
    file = tmp_path / "squares.pdf"
    assert main(["print", "--control-square", "-o", str(file)]) == 0
    subprocess.run(["pdftoppm", "-r", "300", "-png", str(file), str(tmp_path / "page")], check=True)
    pages = sorted(tmp_path.glob("page*.png"))
    found = {number: s for page in pages for number, s in squares_in(cv2.imread(str(page))).items()}
    assert sorted(found) == [0, 1, 2, 3]
    for number, square in found.items():
        ring = np.array([square[4 * number + k][k] for k in range(4)])
        sides = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T) * 25.4 / 300
        assert sides == pytest.approx([100.0] * 4, abs=0.1)  # a point of the picture is 0.085 mm


def test_control_squares_need_paper_that_holds_one(tmp_path, capsys):
    assert main(["print", "--control-square", "--paper=120x120", "-o", str(tmp_path / "x.pdf")]) == 2
    assert "a control square takes 126 by 129 mm" in capsys.readouterr().err
