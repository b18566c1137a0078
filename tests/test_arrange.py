"""`arrange`: pieces side by side on the page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity

from flatcut.errors import FlatcutError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.beside import apart
from flatcut.geometry.curves import flatten
from flatcut.marking.cutline import cut_line
from flatcut.marking.derived import derive_all
from flatcut.operations.arrange import box
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Pattern, area
from flatcut.pattern.walking import point_at, sewn_length
from flatcut.recipe import read_recipe, replay
from tests import by_hand as hand
from tests.seeding import made


@pytest.fixture
def pattern() -> Pattern:
    return read(hand.two_pieces())[1]


def corners(pattern: Pattern) -> np.ndarray:
    return np.array([box(piece) for piece in pattern.pieces])


def test_the_first_piece_stays_and_none_touches_another(pattern: Pattern) -> None:
    before, after = corners(pattern), corners(load("arrange")(gap=20.0)(pattern))
    assert after[0, :2] == pytest.approx(before[0, :2], abs=1e-9)
    assert after[1, 0] == pytest.approx(after[0, 2] + 20, abs=1e-9)


def test_a_piece_that_left_the_page_comes_back(pattern: Pattern) -> None:
    away = Affine.translation(-900.0, -700.0)
    off = replace(pattern, pieces=tuple(moved(piece, away) for piece in pattern.pieces))
    assert corners(load("arrange")(gap=20.0)(off))[:, :2].min(axis=0) == pytest.approx([20.0, 20.0], abs=1e-9)


SMALL = '<svg xmlns="http://www.w3.org/2000/svg" {}>{}</svg>'
PATHS = "".join(f'<path id="p{k}" d="M {300 * k},5 h 90 v 120 h -90 Z"/>' for k in range(5))
PAGES = {
    "mm": ('width="210mm" height="297mm" viewBox="0 0 210 297"', 1.0),
    "another scale": ('width="210mm" height="297mm" viewBox="-5 -5 420 594"', 0.5),
    "px": ('width="500" height="700"', 25.4 / 96),
    "no size": ('viewBox="0 0 500 700"', 25.4 / 96),
    "a part of the window": ('width="100%" height="100%" viewBox="0 0 500 700"', 25.4 / 96),
}


@pytest.mark.parametrize("kind", PAGES)
def test_pieces_stay_within_the_page_which_grows(kind: str) -> None:
    attributes, scale = PAGES[kind]
    drawing, pattern, _ = read(SMALL.format(attributes, PATHS).encode())
    pieces = load("piece")()(pattern)
    arranged = load("arrange")(gap=10.0)(pieces)
    data = write(drawing, arranged)
    document, again, findings = read(data)
    assert not findings
    boxes, (wide, high) = corners(again), document.document.page
    assert boxes[:, :2].min() >= -1e-6
    assert boxes[:, 2].max() <= wide + 1e-6
    assert boxes[:, 3].max() <= high + 1e-6
    assert wide == pytest.approx(max(pattern.page[0], boxes[:, 2].max() + 10))
    assert (boxes[:, 2:] - boxes[:, :2]) == pytest.approx(np.tile([90 * scale, 120 * scale], (5, 1)), abs=1e-6)
    assert len({round(float(x), 3) for x in boxes[:, 0]}) > 1, "as many beside each other as the page is wide"


def test_a_page_that_is_large_enough_stays(pattern: Pattern) -> None:
    drawing, before, _ = read(hand.two_pieces())
    after = load("arrange")(gap=20.0)(before)
    assert after.page == before.page
    assert read(write(drawing, after))[1].page == before.page


def test_a_drawing_fitted_into_its_page_with_room_to_spare_is_left(pattern: Pattern) -> None:
    attributes = 'width="300mm" height="300mm" viewBox="0 0 100 200"'
    drawing, pattern, _ = read(SMALL.format(attributes, PATHS).encode())
    arranged = load("arrange")(gap=10.0)(load("piece")()(pattern))
    again = read(write(drawing, arranged))[1]
    assert np.allclose(corners(again), corners(arranged), atol=1e-6), "nothing has moved"


# Laid together --------------------------------------------------------------------------------------------------------


def panels() -> Pattern:
    """A bodice front in panels, and its two parts moved away and turned."""
    steps = (
        "block bodice --size=bust-90\npivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart\n"
        "back-off front.waist-dart --to=front.bust-point\n"
        "cut front.shoulder-dart front.waist-dart --edge=princess --names=front-centre.centre,front-side.side\n"
    )
    made = replay(read_recipe(steps), Pattern())
    away = Affine.translation(300, -80) @ Affine.rotation(1.1)
    return made.with_piece(moved(made.piece("front-side"), away))


def test_a_panel_is_laid_along_a_stretch_of_its_neighbour() -> None:
    """Both edges are straight there and equally long, so that they meet all along; nothing else changes."""
    pattern = panels()
    leg = sewn_length(pattern.piece("front-side").edge("princess"))
    step = load("arrange")(against=("front-centre.princess@0..15cm", "front-side.princess@-15cm..100%"))
    after = step(pattern)
    assert differences(pattern.with_piece(after.piece("front-side")), after, tolerance=1e-9) == []
    one, other = (after.piece(name).edge("princess") for name in ("front-centre", "front-side"))
    for at in (0.0, 75.0, 150.0):
        assert np.allclose(point_at(one, at)[0], point_at(other, leg - at)[0], atol=1e-6)
    assert after.piece("front-centre") == pattern.piece("front-centre")
    told = {figure.label: figure.value for figure in after.steps[-1].figures}
    assert list(told.values()) == pytest.approx([0.0, 0.0], abs=1e-6)
    # as it was drawn, but for the motion
    shapes = [p.piece("front-side") for p in (pattern, after)]
    assert area(shapes[1]) == pytest.approx(area(shapes[0]))
    assert after.seams == pattern.seams
    # again on a drawing in which it lies otherwise
    assert replay(read_recipe(after.steps[-1].line), pattern).piece("front-side").edges[0].parts[0].controls == (
        pytest.approx(after.piece("front-side").edges[0].parts[0].controls)
    )


@pytest.mark.parametrize(
    ("against", "said"),
    [
        ("front-centre.princess", "takes edges in pairs, and 1 are given"),
        ("front-centre.princess,front-centre.waist", "both edges lie on front-centre"),
        ("front-centre.princess,front-side.nothing", "no edge"),
        ("front-centre.princess,front-side.princess@9m..10m", "beyond edge"),
    ],
)
def test_edges_that_cannot_be_laid_together(against: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        load("arrange")(against=tuple(against.split(",")))(panels())


def test_a_mirrored_piece_is_not_flipped() -> None:
    pattern = panels()
    flipped = pattern.with_piece(moved(pattern.piece("front-side"), Affine.scaling(-1, 1)))
    with pytest.raises(FlatcutError, match="front-side lies mirrored"):
        load("arrange")(against=("front-centre.princess", "front-side.princess"))(flipped)


def test_cut_lines_are_handed_on_to_the_very_pieces_that_they_were_made_of(pattern: Pattern) -> None:
    """As if made anew; to a piece that was changed since, the old one is not given."""
    steps = "allowance all --width=1cm\nlabel all --material=shell\ngrain all --kind=bias\nlabel all\narrange\n"
    done = replay(read_recipe(steps), pattern)
    for piece in done.pieces:
        of, handed = done.cuts[piece.uid]
        anew = cut_line(piece)
        assert of is piece
        assert handed is not None
        assert anew is not None
        assert handed.edges == anew.edges
        assert apart(handed.curve, anew.curve) < 1e-6
    wider = load("allowance")(target="all", width=25.0)(done)
    cuts = [made.cut for made in derive_all(wider.pieces, made=wider.cuts)]
    for piece, cut in zip(wider.pieces, cuts, strict=True):
        anew = cut_line(piece)
        assert cut is not None
        assert anew is not None
        assert apart(cut.curve, anew.curve) < 1e-9
        assert apart(cut.curve, done.cuts[piece.uid][1].curve) > 14.0  # type: ignore[union-attr]  # it has one


@pytest.mark.parametrize("names", ["a,b,c", "b,a,c"])
def test_a_label_beside_its_piece_has_its_room_there(names: str) -> None:
    """Straps too narrow for their labels, one on the bias, in a row: no label lies on another piece or label."""
    lines = {
        "a": "strip a --kind=strap --length=30cm --width=8mm",
        "b": "strip b --kind=binding --length=40cm",
        "c": "strip c --length=30cm --width=20cm",
    }
    start = "\n".join(lines[name] for name in names.split(","))
    text = "label all --material=shell --text='a label with many words'"
    done = made(f"{start}\nallowance all --width=1cm\n{text}\narrange")
    derived = derive_all(done.pieces, done.style)
    shapes = [shapely.Polygon(flatten(one.cut.curve, tolerance=0.1)) for one in derived]
    texts = []
    for one in derived:
        wide, high = one.label.size
        turned = shapely.affinity.rotate(shapely.box(-wide / 2, -high / 2, wide / 2, high / 2), one.label.angle)
        texts.append(shapely.affinity.translate(turned, *one.label.centre))
    assert [one.label.leader is not None for one in derived] == [name != "c" for name in names.split(",")]
    for k, text in enumerate(texts):
        for j, shape in enumerate(shapes):
            assert j == k or text.disjoint(shape)
            assert j == k or text.disjoint(texts[j])
