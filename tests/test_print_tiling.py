"""Sheets: the arithmetic of overlapping windows, papers, marks and control lines."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box
from shapely.affinity import translate
from shapely.ops import unary_union

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import CUT, FOLD_WORDS, LABEL, STITCH
from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, polyline
from flatcut.printing.control import LENGTH, control_lines
from flatcut.printing.corner import free_corner
from flatcut.printing.cover import Told
from flatcut.printing.layout import arranged, as_drawn, own_size
from flatcut.printing.marks import GIVE, MATCH, sheet_marks
from flatcut.printing.paper import LONGEST, SHEETS, on_its_side, paper
from flatcut.printing.sets import Setting, set_pages
from flatcut.printing.settling import settled
from flatcut.printing.tiling import column_name, count, meets, sheet_name, tiling


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Ink:
    ring = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)], dtype=float)
    return Ink(items=(Stroke(role=CUT, curves=(polyline(ring),), closed=True),), rings=(ring,), names=("piece",))


def laid(part: Ink, name: str, *, margin: float = 10.0, overlap: float = 10.0):
    return as_drawn([part], paper(name), margin=margin, overlap=overlap)


@pytest.mark.parametrize(
    ("name", "margin", "overlap", "columns", "rows"),
    [("a4", 10, 10, 4, 4), ("letter", 12.7, 12.7, 4, 5), ("a0", 10, 10, 1, 1)],
)
def test_a_600_by_1000_piece(name, margin, overlap, columns, rows):
    """n = ceil((size - overlap) / (printable - overlap)), worked by hand for three papers."""
    cut_up = laid(rectangle(600, 1000), name, margin=margin, overlap=overlap).tiling
    assert (cut_up.columns, cut_up.rows) == (columns, rows)
    assert len(cut_up.kept) == columns * rows  # those in the middle of the piece show no line, and belong to it


@given(size=st.floats(1, 20_000), window=st.floats(60, 1200), share=st.floats(0, 0.5), start=st.floats(-5000, 5000))
def test_windows_cover_a_length_and_none_is_too_many(size, window, share, start):
    overlap = window * share
    n = count(size, window, overlap)
    step = window - overlap
    assert (n - 1) * step + window >= size - 1e-5
    if n > 1:
        assert (n - 2) * step + window < size
    line = rectangle(size, 1.0, start)
    cut_up = tiling(line.box, (window, 1300.0), overlap, line.chords(), [])
    assert [place[0] for place in cut_up.kept] == list(range(n))


def test_neighbours_overlap_by_what_was_asked():
    cut_up = laid(rectangle(600, 1000), "a4", overlap=12.0).tiling
    for column, row in cut_up.kept:
        for side, *other in cut_up.beside(column, row):
            shared = box(*cut_up.window(column, row)).intersection(box(*cut_up.window(*other)))
            wide, high = shared.bounds[2] - shared.bounds[0], shared.bounds[3] - shared.bounds[1]
            assert (wide if side in ("left", "right") else high) == pytest.approx(12.0)
    cells = [box(*cut_up.cell(*place)) for place in cut_up.kept]
    assert sum(cell.area for cell in cells) == pytest.approx(box(*cut_up.box).area)


def test_empty_sheets_are_left_out_and_empty_middles_are_not():
    """An L of two bars 60 mm wide: the sheets in its open corner hold nothing."""
    ring = np.array([(0, 0), (60, 0), (60, 900), (900, 900), (900, 960), (0, 960), (0, 0)], dtype=float)
    ell = Ink(items=(Stroke(role=CUT, curves=(polyline(ring),), closed=True),), rings=(ring,), names=("ell",))
    cut_up = laid(ell, "a4").tiling
    shape = LineString(ring)
    for column in range(cut_up.columns):
        for row in range(cut_up.rows):
            touched = shape.intersects(box(*cut_up.cell(column, row)))
            assert ((column, row) in cut_up.kept) == touched
    assert len(cut_up.kept) == cut_up.columns + cut_up.rows - 1
    whole = laid(rectangle(900, 960), "a4").tiling
    assert len(whole.kept) == whole.columns * whole.rows


@given(st.lists(st.tuples(*[st.floats(-50, 50)] * 4), min_size=1, max_size=20))
def test_chords_that_meet_a_box_are_those_of_shapely(ends):
    chords = np.array(ends).reshape(-1, 2, 2)
    frame = box(-10, -5, 20, 15)
    for chord, met in zip(chords, meets((-10, -5, 20, 15), chords), strict=True):
        line = LineString(chord)
        if abs(line.distance(frame.boundary)) > 1e-9 or line.length == 0:
            assert met == line.intersects(frame)


def test_names_of_columns_and_sheets():
    assert [column_name(k) for k in (0, 1, 25, 26, 51, 52, 701, 702)] == ["A", "B", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
    assert sheet_name(26, 9) == "AA10"


def test_sizes_of_papers():
    """ISO 216: A0 has 1 m² and sides as 1 to the root of 2, each next size is half of it, cut to whole mm."""
    width, height = SHEETS["a0"]
    assert width * height == pytest.approx(1e6, rel=1e-3)
    for large, small in (("a0", "a1"), ("a1", "a2"), ("a2", "a3"), ("a3", "a4")):
        assert SHEETS[small] == (SHEETS[large][1] // 2, SHEETS[large][0])
    assert SHEETS["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert SHEETS["legal"] == pytest.approx((8.5 * 25.4, 14 * 25.4))
    assert SHEETS["tabloid"] == pytest.approx((11 * 25.4, 17 * 25.4))


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("A4", (210, 297)),
        ("600x1000", (600, 1000)),
        ("60cm x 1m", (600, 1000)),
        ("24x36in", (609.6, 914.4)),
        ("24in×36in", (609.6, 914.4)),
        ("600mmx36in", (600, 914.4)),
        ("roll 914", (914, None)),
        ("roll 36in", (914.4, None)),
        ("Roll: 90cm", (900, None)),
    ],
)
def test_papers_as_typed(text, size):
    found = paper(text)
    assert (found.width, found.height) == pytest.approx(size)
    if size[1]:
        assert (on_its_side(found).width, on_its_side(found).height) == pytest.approx(size[::-1])
    else:
        assert on_its_side(found) == found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("leter", "did you mean 'letter'"),
        ("a7", "WIDTHxHEIGHT"),
        ("", "WIDTHxHEIGHT"),
        ("roll", "WIDTHxHEIGHT"),
        ("60x1000", "between 75 and 5080"),
        ("600x9000", "on a roll"),
        ("600x10furlong", "not a unit"),
        ("1,5mx2m", "decimal comma"),
        ("nanx600", "WIDTHxHEIGHT"),
    ],
)
def test_papers_that_are_none(text, said):
    with pytest.raises(UsageError, match=said):
        paper(text)


@given(
    sizes=st.lists(st.tuples(st.floats(20, 700), st.floats(20, 1200)), min_size=1, max_size=8),
    name=st.sampled_from(["a4", "letter", "a3", "a0", "roll 914"]),
)
def test_parts_side_by_side_do_not_touch_and_all_lie_on_sheets(sizes, name):
    parts = [rectangle(w, h, 3.0 * k, -7.0 * k) for k, (w, h) in enumerate(sizes)]
    layout = arranged(parts, paper(name), margin=10, overlap=10, gap=20)
    boxes = [box(*ring.min(axis=0), *ring.max(axis=0)) for ring in layout.ink.rings]
    for k, one in enumerate(boxes):
        assert (one.bounds[2] - one.bounds[0], one.bounds[3] - one.bounds[1]) == pytest.approx(sizes[k])
        assert all(one.distance(other) > 19.99 for other in boxes[:k])
    grid = box(*layout.tiling.box).buffer(1e-6)
    assert all(grid.contains(one) for one in boxes)


def test_many_pieces_do_not_sprawl():
    """Two hundred sheets in one narrow strip can neither be taped on a table nor read on the map."""
    parts = [rectangle(180 + 7 * (k % 5), 500 + 11 * (k % 7)) for k in range(40)]
    box = arranged(parts, paper("a4"), margin=10, overlap=10, gap=20).tiling.box
    wide, high = box[2] - box[0], box[3] - box[1]
    assert max(wide / high, high / wide) < 3


def test_a_roll_ends_where_the_pieces_end_and_a_long_one_is_cut_into_lengths():
    layout = arranged([rectangle(500, 300)], paper("roll 914"), margin=5, overlap=10, gap=20)
    assert layout.page == pytest.approx((914, 310))
    long = arranged([rectangle(500, 12_000)], paper("roll 914"), margin=5, overlap=10, gap=20)
    assert len(long.tiling.kept) == 3
    assert long.page[1] <= LONGEST
    assert long.page[1] == pytest.approx((12_000 - 10) / 3 + 10 + 10)


def test_a_page_of_its_own_size_fits_and_one_beyond_the_longest_is_cut_up():
    assert own_size(rectangle(500, 300), margin=10, overlap=10).page == pytest.approx((520, 320))
    long = own_size(rectangle(500, 6000), margin=10, overlap=10)
    assert long.page == pytest.approx((520, LONGEST))
    assert len(long.tiling.kept) == 2


def test_match_marks_of_two_sheets_stand_at_the_same_places():
    layout = laid(rectangle(600, 1000), "a4")
    cut_up, chords = layout.tiling, layout.ink.chords()
    for column, row in cut_up.kept:
        mine = marks(sheet_marks(cut_up, column, row, chords))
        for _, *other in cut_up.beside(column, row):
            both = mine & marks(sheet_marks(cut_up, *other, chords))
            assert len(both) == 2, "two marks on each shared side, so that a skew shows"
        assert len(mine) == 2 * len(list(cut_up.beside(column, row)))


def test_the_halves_of_a_match_mark_make_one_diamond_on_the_line_where_sheets_join():
    """One half is on the sheet below and one on the sheet that is laid on it; both bear the names of both sheets."""
    layout = laid(rectangle(600, 1000), "a4")
    cut_up, chords = layout.tiling, layout.ink.chords()
    for column, row in cut_up.kept:
        _, _, x1, y1 = cut_up.window(column, row)
        mine = sheet_marks(cut_up, column, row, chords)
        for side, *other in cut_up.beside(column, row):
            if side not in ("right", "bottom"):
                continue
            upright = side == "right"
            joined = x1 - cut_up.overlap if upright else y1 - cut_up.overlap
            theirs = sheet_marks(cut_up, *other, chords)
            assert cut_up.window(*other)[0 if upright else 1] == pytest.approx(joined)
            names = f"{sheet_name(column, row)}-{sheet_name(*other)}"
            for at in marks(mine) & marks(theirs):
                if at[0 if upright else 1] != pytest.approx(joined):
                    continue
                one, two = (Polygon(half_at(ink, at)) for ink in (mine, theirs))
                assert one.area == two.area == pytest.approx(16.0)
                assert one.intersection(two).area == pytest.approx(0.0, abs=1e-9)
                assert one.union(two).area == pytest.approx(32.0), "a diamond with diagonals of 8 mm"
                edge = one.bounds[2 if upright else 3], two.bounds[0 if upright else 1]
                assert edge == pytest.approx((joined, joined))
            for ink in (mine, theirs):
                said = [words for words in ink.words if words.lines == (names,)]
                assert len(said) == 2
                assert all(words.height >= 3.5 for words in said)


def half_at(ink: Ink, at: tuple[float, float]) -> list[tuple[float, float]]:
    (found,) = (half for half in halves(ink) if tuple(half.nodes[[0, 2]].mean(axis=0).round(6).tolist()) == at)
    return [tuple(node) for node in found.nodes]


def halves(ink: Ink) -> list[Curve]:
    """The bent lines of two spans are halves of match marks, but for the corner ticks."""
    curves = [curve for stroke in ink.strokes if stroke.role is MATCH for curve in stroke.curves]
    return [curve for curve in curves if len(curve) == 2]


def marks(ink: Ink) -> set[tuple[float, float]]:
    """Middles of the match marks."""
    return {tuple(half.nodes[[0, 2]].mean(axis=0).round(6).tolist()) for half in halves(ink)}


def test_names_beside_marks_do_not_meet_however_far_the_marks_give_way_to_lines():
    """On a sheet of A4 with neighbours all round: each name over the whole stretch that its mark may move along."""
    cut_up = laid(rectangle(600, 1000), "a4").tiling
    column, row = next(at for at in cut_up.kept if len(list(cut_up.beside(*at))) == 4)
    x0, y0, x1, y1 = cut_up.window(column, row)
    marked = sheet_marks(cut_up, column, row, np.zeros((0, 2, 2)))
    stretches = []
    for words in marked.words:
        if "-" in words.lines[0]:
            name = Polygon(words.outline.nodes)
            beside = abs(words.at[0] - x0) < 20 or abs(words.at[0] - x1) < 40
            far = GIVE * ((y1 - y0) if beside else (x1 - x0))
            moved = [translate(name, 0, one) if beside else translate(name, one, 0) for one in (far.min(), far.max())]
            stretches.append(unary_union(moved).envelope)
    assert len(stretches) == 8
    assert all(one.disjoint(two) for one, two in combinations(stretches, 2))


def test_marks_give_way_to_lines():
    part = rectangle(600, 1000)
    # a line straight through where the upper mark between A1 and B1 would be
    clear = laid(part, "a4")
    x, y = min(marks(sheet_marks(clear.tiling, 0, 0, clear.ink.chords())), key=lambda at: at[1])
    crossed = Ink(items=(*part.items, Stroke(role=STITCH, curves=(polyline([(0, y), (600, y)]),))), rings=part.rings)
    layout = laid(crossed, "a4")
    moved = min(marks(sheet_marks(layout.tiling, 0, 0, layout.ink.chords())), key=lambda at: at[1])
    assert moved[0] == x
    assert 4.0 < abs(moved[1] - y) < 40


@pytest.mark.parametrize("name", ["a4", "letter", "a3", "a0", "roll 914"])
def test_control_lines_run_across_printed_sheets_and_through_nothing(name):
    parts = [rectangle(260, 700), rectangle(240, 650), rectangle(300, 420)]
    layout = arranged(parts, paper(name), margin=10, overlap=10, gap=20)
    lines = control_lines(layout.tiling, layout.ink.chords(), list(layout.ink.rings))
    assert lines
    drawn = [LineString(ring) for ring in layout.ink.rings]
    sheets = [box(*layout.tiling.window(*place)) for place in layout.tiling.kept]
    for made in lines:
        line = LineString([made.start, made.end])
        assert line.length == pytest.approx(made.long) == LENGTH
        assert all(line.distance(other) > 3 for other in drawn)
        assert line.difference(unary_union(sheets).buffer(1e-6)).is_empty


def test_a_control_line_crosses_a_line_rather_than_being_short():
    """Bars every 30 mm leave no strip free, in either way."""
    bars = [rectangle(729, 30, 0, 30 * k) for k in range(27)] + [rectangle(27, 810, 27 * k, 0) for k in range(27)]
    layout = as_drawn(bars, paper("a4"), margin=10, overlap=10)
    (line,) = control_lines(layout.tiling, layout.ink.chords(), [])
    assert line.long == LENGTH


def test_a_set_smaller_than_500_mm_has_a_shorter_control_line():
    layout = as_drawn([rectangle(300, 100)], paper("a4"), margin=10, overlap=10)
    lines = control_lines(layout.tiling, layout.ink.chords(), [])
    assert [line.long for line in lines] == [300, 200]


def test_words_keep_clear_of_words():
    """The box of words is crossed by nothing that keeps clear of their walls, not even in between their lines."""
    words = Words(lines=("front", "cut 2"), at=np.array([0.0, 0.0]), height=7.0, angle=-90.0)
    outline = LineString(words.outline.nodes)
    inner = [LineString(wall.nodes) for wall in words.walls[1:]]
    assert len(inner) == 2
    assert all(outline.envelope.buffer(1e-6).contains(line) for line in inner)


def written(x: float, y: float, role=LABEL, angle: float = 0.0) -> Ink:
    part = rectangle(600, 1000)
    words = Words(lines=("front", "cut 1 on fold"), at=np.array([x, y]), height=7.0, angle=angle, role=role)
    return Ink(items=(*part.items, words), rings=part.rings)


def joined_lines(layout) -> list[LineString]:
    """Where a sheet is laid on another, by the windows."""
    cut_up = layout.tiling
    x0, y0, x1, y1 = cut_up.box
    across = [LineString([(x, y0), (x, y1)]) for x in {cut_up.window(c, r)[0] for c, r in cut_up.kept} if x > x0]
    return across + [LineString([(x0, y), (x1, y)]) for y in {cut_up.window(c, r)[1] for c, r in cut_up.kept} if y > y0]


@given(x=st.floats(80, 520), y=st.floats(80, 920), angle=st.sampled_from([0.0, -90.0, -30.0]))
def test_a_label_is_never_read_from_two_sheets_where_there_is_room_nearby(x, y, angle):
    layout = laid(written(x, y, angle=angle), "a4")
    (before,), (after,) = layout.ink.words, settled(layout).ink.words
    lines = joined_lines(layout)
    assert lines
    whole = Polygon(after.outline.nodes)
    assert not any(whole.intersects(line) for line in lines)
    assert Polygon(layout.ink.rings[0]).contains(whole)
    assert np.linalg.norm(after.at - before.at) <= 160
    if not any(Polygon(before.outline.nodes).buffer(1.0, join_style="mitre").intersects(line) for line in lines):
        assert after == before, "what is read whole stays where it is"


def test_a_label_without_room_nearby_stays_and_other_words_keep_to_their_line():
    narrow = rectangle(25, 1000)
    layout = laid(narrow, "a4")
    y = layout.tiling.window(0, 1)[1]
    words = Words(lines=("front",), at=np.array([12.0, y]), height=7.0, angle=-90.0, role=FOLD_WORDS)
    (moved,) = settled(replace(layout, ink=Ink(items=(words,), rings=layout.ink.rings))).ink.words
    assert moved.at[0] == pytest.approx(words.at[0]), "along its own line"
    assert moved.at[1] != words.at[1]
    long = words._replace(lines=("a name that is longer than any sheet of this paper is high, and longer",), height=9.0)
    kept = settled(replace(layout, ink=Ink(items=(long,), rings=layout.ink.rings)))
    assert kept.ink.words == (long,)


@pytest.mark.parametrize(("name", "sheets"), [("a0", 1), ("a1", 1), ("a2", 1)])
def test_large_paper_has_the_first_page_in_a_free_corner(name: str, sheets: int) -> None:
    """Pieces that leave one corner of the sheet free: no further sheet, and nothing under the words; shapely judges."""
    width, height = SHEETS[name]
    setting = Setting(sheet=paper(name), margin=10.0, overlap=10.0, gap=20.0)
    # an L: its arm leaves the lower right corner free, and no row beside it has room
    wide, high = width - 40.0, height - 40.0
    corner = np.array(
        [(0, 0), (wide, 0), (wide, 60), (wide - 230, 60), (wide - 230, high), (0, high), (0, 0)], dtype=float
    )
    part = Ink(items=(Stroke(role=CUT, curves=(polyline(corner),), closed=True),), rings=(corner,), names=("piece",))
    pages = list(set_pages([part], Told(heading="top"), "top", setting))
    assert len(pages) == sheets
    (ink,) = (one.ink for one in pages[0].parts if one.ink.rings)
    piece = Polygon(ink.rings[0])
    words = [Polygon(item.outline.nodes) for item in ink.words if "control line" not in item.lines[0]]
    assert any("5 cm" in item.lines[0] for item in ink.words)
    assert len(words) > 4
    assert not any(piece.intersects(box) for box in words)
    x0, y0, x1, y1 = unary_union(words).bounds
    assert x1 - x0 < width
    assert y1 - y0 < height


def test_pieces_as_drawn_on_one_large_sheet_have_it_there_too() -> None:
    setting = Setting(sheet=paper("a0"), margin=10.0, overlap=10.0, gap=20.0, as_drawn=True)
    pages = list(set_pages([rectangle(300, 500), rectangle(200, 300, 350)], Told(heading="top"), "top", setting))
    assert len(pages) == 1


def test_no_free_corner_where_all_is_taken() -> None:
    layout = laid(rectangle(800, 1150), "a0")
    assert free_corner(layout, (200.0, 200.0)) is None
    # on strips where sheets join there is none either
    wide = laid(rectangle(10, 10), "a4")
    assert free_corner(wide, (189.0, 276.0)) is None


def test_the_free_corner_lies_on_no_strip_where_sheets_join() -> None:
    """Two arms along the left and the top of two by two sheets: what is free on the first ends before both strips."""
    arms = np.array([(0, 0), (260, 0), (260, 20), (20, 20), (20, 400), (0, 400), (0, 0)], dtype=float)
    part = Ink(items=(Stroke(role=CUT, curves=(polyline(arms),), closed=True),), rings=(arms,), names=("arms",))
    layout = laid(part, "a4")
    assert {(0, 0), (1, 0), (0, 1)} <= set(layout.tiling.kept)
    x1, y1 = layout.tiling.window(0, 0)[2:]
    at = free_corner(layout, (90.0, 150.0))
    assert at is not None
    assert 20 < at[0] <= x1 - layout.tiling.overlap - 90
    assert 20 < at[1] <= y1 - layout.tiling.overlap - 150


def test_names_beside_marks_are_smaller_where_they_would_lie_on_a_label():
    """A label along a whole side of a sheet, its words 14 mm from where the sheets join: no name lies on it."""
    cut_up = laid(rectangle(600, 1000), "a4").tiling
    column, row = next(at for at in cut_up.kept if len(list(cut_up.beside(*at))) == 4)
    x0, y0, _, y1 = cut_up.window(column, row)
    label = Ink(items=(Words(lines=("m" * 200,), at=np.array([x0 + 16.0, (y0 + y1) / 2]), height=4.0, angle=-90.0),))
    box = Polygon(label.words[0].outline.nodes)
    marked = sheet_marks(cut_up, column, row, label.chords(), label.chords())
    names = [words for words in marked.words if "-" in words.lines[0]]
    beside = [words for words in names if abs(words.at[0] - x0) < 14]
    assert len(beside) == 2
    assert all(2.3 <= words.height < 3.5 for words in beside)
    assert all(words.height == 3.5 for words in names if not words.outline.nodes[:, 0].min() < x0 + 20)
    assert all(Polygon(words.outline.nodes).disjoint(box) for words in beside)
