"""What the drawing says and shows of pieces: allowances on labels, a person's own texts, folds told from other lines.

That fold lines and placement lines are dashed is common practice, no source; chain lines for folds are those of
technical drawings (ISO 128-2, from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from lxml import etree

from flatcut.drawing.pieces import pattern_inks
from flatcut.drawing.roles import FOLD_LINE, LABEL, LINE, NOTCH, PLACEMENT
from flatcut.formats.svg.document import load
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.read import read
from flatcut.formats.svg.texts import box
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import Curve, chain, flatten, polyline, section
from flatcut.marking.derived import derive, derive_all
from flatcut.marking.labels import included
from flatcut.pattern.values import Pattern, outline
from flatcut.recipe import read_recipe, replay

SHEET = '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">{}</svg>'
SQUARE = '<path d="M 50,50 H 350 V 350 H 50 Z"/>'
NAMED = ("piece --names=front", "edge front.e1 front.e2 front.e3 front.e4 --names=neck,side,hem,centre")


def drawn(*lines: str, more: str = "", shape: str = SQUARE) -> tuple[bytes, Pattern]:
    drawing, pattern, _ = read(SHEET.format(shape + more).encode())
    pattern = replay(read_recipe("\n".join((*NAMED, *lines))), pattern)
    return write(drawing, pattern), pattern


def label(data: bytes) -> etree._Element:
    (found,) = (t for t in etree.fromstring(data).iter(tag("text")) if t.get(own("drawn")) == LABEL.name)
    return found


def said(data: bytes) -> list[str]:
    return [row.text for row in label(data)]


def test_one_width_for_all_is_one_line_and_several_are_told_edge_by_edge() -> None:
    assert "10 mm allowance included" in said(drawn("allowance front --width=10mm")[0])
    data, pattern = drawn("allowance front --width=10mm", "allowance front.hem --width=40mm")
    assert said(data)[-3:] == ["allowance included", "40 mm: hem", "10 mm: other edges"]
    tapered = replay(read_recipe("allowance front.neck --width=6mm --end-width=12mm"), pattern)
    assert included(tapered.pieces[0]) == ("allowance included", "6 to 12 mm: neck", "40 mm: hem", "10 mm: other edges")


def test_edges_without_allowance_are_not_told() -> None:
    data, _ = drawn("allowance front --width=10mm", "allowance front.centre --width=0mm")
    assert said(data)[-1] == "10 mm allowance included"


def test_a_piece_that_can_have_no_cut_line_does_not_say_that_an_allowance_is_included() -> None:
    # an outline that crosses itself
    _, pattern = drawn("allowance front --width=10mm")
    front = pattern.pieces[0]
    bow = polyline([(50, 50), (350, 50), (50, 350), (350, 350), (50, 50)])
    crossed = replace(
        front, edges=tuple(replace(e, parts=(part,)) for e, part in zip(front.edges, _spans(bow), strict=True))
    )
    (found,) = derive_all([crossed])
    assert found.fault is not None
    assert found.label is not None
    assert "stitch line, no allowance" in found.label.lines
    assert not any("included" in line for line in found.label.lines)


def _spans(curve: Curve) -> list[Curve]:
    return [section(curve, k, k + 1) for k in range(len(curve))]


TEXT = '<text x="200" y="205" style="font-size:20px;text-anchor:middle">self {} notes</text>'


@pytest.mark.parametrize(
    "place", ["{}", '<g transform="rotate(-90 200 200)">{}</g>', '<g transform="translate(40 40) scale(0.8)">{}</g>']
)
def test_a_label_keeps_clear_of_texts_that_a_person_has_written(place: str) -> None:
    text = place.format(TEXT.format("fabric"))
    data, pattern = drawn("allowance front --width=10mm", more=text)
    _, again, _ = read(data)
    (foreign,) = (thing for thing in again.drawn if hasattr(thing, "text"))
    assert foreign.text == "self fabric notes"
    without = derive(pattern.pieces[0]).label
    assert without is not None
    root = etree.fromstring(data)
    (mine,) = (t for t in root.iter(tag("text")) if t.get(own("drawn")) is None)
    (around,) = (t.box for t in load(data).texts() if t.element.get(own("drawn")) is None)
    wall = shapely.Polygon(around)
    at = [float(v) for v in label(data).get(own("at")).strip("[]").split(",")[:2]]
    # the label would have stood there, and does not touch it now
    assert wall.buffer(20).contains(shapely.Point(without.centre))
    size = float(label(data).get("style").split("font-size:")[1].split("px")[0])
    rows = said(data)
    half = np.array([max(map(len, rows)) * 0.62 * size, (1 + 1.4 * (len(rows) - 1)) * size]) / 2
    turned = "matrix(0,-1" in label(data).get("transform")
    w, h = half[::-1] if turned else half
    assert not shapely.box(at[0] - w, at[1] - h, at[0] + w, at[1] + h).intersects(wall)
    assert mine.get("style") == "font-size:20px;text-anchor:middle"


def test_the_box_of_a_text_takes_its_size_from_what_it_lies_in() -> None:
    root = etree.fromstring('<g style="font-size:10px"><text x="0" y="0"><tspan>ab</tspan></text></g>')
    assert box(root[0], (0, 0)).tolist() == [[0.0, -10.0], [12.4, -10.0], [12.4, 3.0], [0.0, 3.0]]
    root = etree.fromstring('<text x="0" y="0" font-size="4" text-anchor="end">ab</text>')
    assert box(root, (0, 0))[:, 0].tolist() == pytest.approx([-4.96, 0.0, 0.0, -4.96])
    # a size in words is taken for the usual one
    assert np.ptp(box(etree.fromstring('<text font-size="large">ab</text>'), (0, 0))[:, 1]) == pytest.approx(16 * 1.3)


PLEATED = ("edge front.centre --use=fold", "allowance front --width=10mm")


@pytest.mark.parametrize(("layer", "plain"), [('stroke="#000"', True), ('style="stroke:#000"', True), ("", False)])
def test_letters_of_a_label_take_no_stroke_from_the_group_around_them(layer: str, plain: bool) -> None:
    square = f'<g fill="none" {layer}><g><path d="M 10,10 H 180 V 180 H 10 Z"/></g></g>'
    data = f'<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">{square}</svg>'
    drawing, pattern, _ = read(data.encode())
    made = etree.fromstring(write(drawing, replay(read_recipe("piece"), pattern)))
    (label,) = made.iter(tag("text"))
    assert (";stroke:none" in label.get("style", "")) == plain


def test_folds_and_what_they_are_brought_to_differ_to_the_eye() -> None:
    _, pattern = drawn(*PLEATED, "pleat front.neck@5cm..-5cm --count=1 --depth=2cm --pressed=start")
    (ink,) = pattern_inks(pattern)
    kinds = {line.uid: line.kind for line in pattern.pieces[0].lines}
    roles = {stroke.of: stroke.role for stroke in ink.strokes if stroke.of in kinds}
    assert {kinds[uid]: role for uid, role in roles.items()} == {
        "fold": FOLD_LINE,
        "placement": PLACEMENT,
        "line": LINE,
    }
    assert len({role.dashes for role in (LINE, FOLD_LINE, PLACEMENT)}) == 3


def test_an_inverted_pleat_has_a_notch_on_its_middle_line() -> None:
    _, pattern = drawn(*PLEATED, "pleat front.neck@5cm..-5cm --count=1 --kind=inverted --depth=2cm")
    (piece,) = pattern.pieces
    (ink,) = pattern_inks(pattern)
    ends = {line.name: line.curve.start if line.curve.start[1] < 60 else line.curve.end for line in piece.lines}
    middle = next(line for line in piece.lines if line.kind == "placement")
    wanted = [at for name, at in ends.items() if name == middle.name or name.endswith("fold") or "fold-" in name]
    ticks = [shapely.LineString(flatten(c, tolerance=0.01)) for s in ink.strokes if s.role is NOTCH for c in s.curves]
    assert len(wanted) >= 2
    for at in wanted:
        assert min(tick.distance(shapely.Point(at)) for tick in ticks) < 0.05
    top = [tick for tick in ticks if tick.bounds[1] < 55]
    assert len(top) == 3


SLASHES = (
    "line --start=front.neck@1/3 --end=front.hem@2/3 --name=cut-1",
    "line --start=front.neck@2/3 --end=front.hem@1/3 --name=cut-2",
    "allowance front --width=10mm",
)


@pytest.mark.parametrize("to", ["flare", "gathers"])
def test_lines_that_were_cut_along_go_with_the_spread(to: str) -> None:
    spread = f"spread front.cut-1 front.cut-2 --amount=3cm --to={to}"
    data, pattern = drawn(*SLASHES, spread)
    assert [line.name for line in pattern.pieces[0].lines] == []
    assert b"cut-1" not in b"".join(etree.tostring(e) for e in etree.fromstring(data).iter(tag("path")))
    _, pattern = drawn(*SLASHES, f"{spread} --keep-lines")
    assert [line.name for line in pattern.pieces[0].lines] == ["cut-1", "cut-2"]


def test_folds_of_pleats_and_lines_that_buttons_stand_along_stay() -> None:
    _, pattern = drawn(*SLASHES, "spread front.cut-1 --amount=3cm --to=pleat")
    assert "cut-1" in [line.name for line in pattern.pieces[0].lines]
    _, pattern = drawn(*SLASHES, "button front.cut-1 --count=3", "spread front.cut-1 --amount=3cm")
    assert [line.name for line in pattern.pieces[0].lines] == ["cut-1", "cut-2"]


def test_a_cut_line_drawn_by_hand_goes_once_the_outline_is_another_one() -> None:
    _, pattern = drawn(*SLASHES)
    front = pattern.pieces[0]
    by_hand = chain(outline(front), within=1e-3)
    pattern = pattern.with_piece(replace(front, cut_by_hand=by_hand))
    same = replay(read_recipe("edge front.side@1/2 --split"), pattern)
    assert same.pieces[0].cut_by_hand is not None
    spread = replay(read_recipe("spread front.cut-1 --amount=3cm"), pattern)
    assert spread.pieces[0].cut_by_hand is None
    assert any("drawn by hand went round its outline as it was" in text for text in spread.steps[-1].warnings)
    # what is made is the allowance's own again
    cut = derive(spread.pieces[0]).cut
    assert cut is not None
    stitch = shapely.Polygon(flatten(chain(outline(spread.pieces[0]), within=1e-3), tolerance=0.01))
    assert shapely.LineString(flatten(cut.curve, tolerance=0.01)).distance(stitch.exterior) > 9.9


def test_a_line_drawn_to_cut_along_is_gone_from_the_drawing_with_it() -> None:
    """It is taken into its piece and spent there before anything is written; it stayed where it was drawn."""
    slash = '<path id="cut" d="M 200,40 V 360" style="stroke:#888888"/><path id="mine" d="M 10,10 V 40"/>'
    steps = ("line --drawn=id:cut --name=cut", "spread front.cut --amount=3cm", "arrange")
    data, _ = drawn(*steps, more=slash)
    ids = {element.get("id") for element in etree.fromstring(data).iter(tag("path"))}
    assert "cut" not in ids
    assert "mine" in ids
    data, _ = drawn(steps[0], more=slash)
    assert "cut" in {element.get("id") for element in etree.fromstring(data).iter(tag("path"))}
    data, _ = drawn(steps[0], "cut front.cut --names=left,right", more=slash)
    assert "cut" not in {element.get("id") for element in etree.fromstring(data).iter(tag("path"))}
