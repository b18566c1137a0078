"""Exchange files: written, then read from outside by two libraries and by flatcut itself.

Layers, words and the places of values: ASTM D6673-10 (from memory; samples/docs/exchange.md).
"""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.exchange import sampled
from flatcut.exchange.allowances import apart
from flatcut.exchange.letters import plain_letters
from flatcut.exchange.through import through
from flatcut.formats.opening import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import bounds, chain, cubic, flatten, line, signed_area, transform
from flatcut.geometry.curves import point as point_on
from flatcut.geometry.nearest import nearest
from flatcut.marking.derived import derive
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Pattern, Piece, area, outline

ezdxf = pytest.importorskip("ezdxf")
pyogrio = pytest.importorskip("pyogrio")
pyogrio.set_gdal_config_options({"DXF_MERGE_BLOCK_GEOMETRIES": "FALSE"})

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "samples" / "demo"
BLOCK = "olive.toml"
LAYERS = {str(k) for k in (*range(1, 16), 80, 81, 82, 83, 84, 85, 86, 87)}
"""ASTM D6673-10 (from memory)."""
STEPS = (
    ["notch", "front.side@10cm", "--kind=v"],
    ["notch", "front.side@15cm", "--kind=castle"],
    ["notch", "back.side@15cm", "--kind=u"],
    ["notch", "back.side@10cm", "--kind=t"],
    ["drill", "front.dart-1", "--short=13mm"],
)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a top of two pieces, one on the fold, and exchange files of it."""
    folder = tmp_path_factory.mktemp("exchange")
    top = folder / "top.svg"
    assert main(["run", str(DEMO / "top.recipe"), str(DEMO / "top.svg"), "-o", str(top)]) == 0
    for step in STEPS:
        assert main([*step, "-i", str(top), "--in-place"]) == 0
    for name, options in {"half": (), "open": ("--open",), "inch": ("--open", "--file-units=in")}.items():
        assert main(["exchange", str(top), "-o", str(folder / f"{name}.dxf"), *options]) == 0
    return folder


def pieces(file: Path) -> Pattern:
    _, pattern, findings = read(file.read_bytes(), name=file.name)
    assert findings == []
    return pattern


def together(piece: Piece, other: Piece) -> Piece:
    """The other piece laid on this one, by their boxes."""
    a, b = (bounds(chain(outline(one), within=1e-3)) for one in (piece, other))
    return moved(other, Affine.translation(a[0] - b[0], a[1] - b[1]))


def test_the_audit_of_a_library_finds_nothing(files):
    for name in ("half", "open", "inch"):
        data = (files / f"{name}.dxf").read_bytes()
        assert max(data) < 128
        drawing = ezdxf.read(io.StringIO(data.decode("ascii")))
        audit = drawing.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        assert {entity.dxf.layer for block in drawing.blocks for entity in block} <= LAYERS
        blocks = [block.name for block in drawing.blocks if not block.name.startswith("*")]
        assert blocks == ["FRONT", "BACK"]
        assert [insert.dxf.name for insert in drawing.modelspace().query("INSERT")] == blocks
        assert all(tuple(insert.dxf.insert) == (0, 0, 0) for insert in drawing.modelspace().query("INSERT"))


def test_every_mark_stands_on_its_layer(files):
    drawing = ezdxf.readfile(files / "half.dxf")
    front = drawing.blocks["FRONT"]
    count = Counter((entity.dxf.layer, entity.dxftype()) for entity in front)
    own = pieces(files / "top.svg").piece("front")
    assert count["1", "POLYLINE"] == 1
    assert count["14", "POLYLINE"] == 1
    assert count["6", "LINE"] == 1  # on the fold
    assert count["7", "LINE"] == 1
    assert count["13", "POINT"] == len(own.holes) == 1
    kinds = Counter(tick.notch.kind for tick in derive(own).ticks)
    assert count["4", "POINT"] == kinds["slit"] + kinds["v"]
    assert count["81", "POINT"] == kinds["castle"] == 1
    lines = [e for e in front.query("POLYLINE") if e.dxf.layer in ("1", "8", "11", "14")]
    assert count["2", "POINT"] + count["3", "POINT"] == sum(len(line) for line in lines)
    back = Counter(entity.dxf.layer for entity in drawing.blocks["BACK"].query("POINT"))
    assert back["80"] == back["83"] == 1
    texts = [text.dxf.text for text in front.query("TEXT") if text.dxf.layer == "1"]
    assert texts == ["PIECE NAME: front", "SIZE: 12", "QUANTITY: 1", "MATERIAL: shell", "ANNOTATION: FOLD"]


def test_a_notch_points_inward_with_its_depth_and_width(files):
    block = ezdxf.readfile(files / "half.dxf").blocks["FRONT"]
    boundary = next(e for e in block.query("POLYLINE") if e.dxf.layer == "1")
    ring = np.array([tuple(vertex.dxf.location)[:2] for vertex in boundary.vertices])
    middle = ring.mean(axis=0)
    notches = [e for e in block.query("POINT") if e.dxf.layer in ("4", "81")]
    assert notches
    for point in notches:
        at = np.array(tuple(point.dxf.location)[:2])
        angle = math.radians(point.dxf.angle)
        assert np.array([math.cos(angle), math.sin(angle)]) @ (middle - at) > 0
        assert point.dxf.location.z > 0  # its depth
    assert {round(p.dxf.get("thickness", 0.0), 3) > 0 for p in notches} == {True, False}  # a V is wide, a slit is not


def test_another_reader_sees_the_boundary_at_true_size(files):
    """GDAL, by way of pyogrio, reads the file with code of its own."""
    top = pieces(files / "top.svg")
    for name, unit in (("half", 1.0), ("inch", 25.4)):
        meta, _, shapes, fields = pyogrio.raw.read(files / f"{name}.dxf")
        layer = dict(zip(meta["fields"], fields, strict=True))["Layer"]
        sizes = []
        for shape, on in zip(shapes, layer, strict=True):
            if on == "1" and _kind(shape) in (2, 3):
                points = _points(shape)
                sizes.append(tuple((points.max(axis=0) - points.min(axis=0)) * unit))
        wanted = []
        for piece in top.pieces:
            cut = derive(piece).cut
            x0, y0, x1, y1 = bounds(cut.curve)
            wide = 2 * (x1 - x0) if name == "inch" and piece.cut_as == "fold" else x1 - x0
            wanted.append((wide, y1 - y0))
        assert sorted(sizes) == [pytest.approx(size, abs=0.05) for size in sorted(wanted)]


def _kind(shape: bytes) -> int:
    """2 for a line, 3 for a polygon: in well-known binary, where the highest bit says that there are heights."""
    return int.from_bytes(shape[1:5], "little") & 0xFF


def _points(shape: bytes) -> np.ndarray:
    """The points of a line or of a polygon's outer ring in well-known binary (ISO 19125-1)."""
    wide = 3 if shape[4] & 0x80 else 2
    start = 9 if _kind(shape) == 2 else 13
    count = int.from_bytes(shape[start - 4 : start], "little")
    return np.frombuffer(shape[start : start + 8 * wide * count], "<f8").reshape(count, wide)[:, :2]


def test_what_is_read_back_is_the_piece(files):
    was, now = pieces(files / "top.svg"), pieces(files / "half.dxf")
    assert [piece.name for piece in now.pieces] == [piece.name for piece in was.pieces]
    for piece, other in zip(was.pieces, now.pieces, strict=True):
        back = together(piece, other)
        one, two = chain(outline(piece), within=1e-3), chain(outline(back), within=1e-3)
        assert nearest(one, flatten(two, tolerance=0.001))[1].max() < 0.01
        assert nearest(two, flatten(one, tolerance=0.001))[1].max() < 0.01
        assert len(two) <= len(one) + 2  # few curves
        assert (back.quantity, back.cut_as, back.material) == (piece.quantity, piece.cut_as, piece.material)
        assert [e.use == "fold" for e in back.edges] == [e.use == "fold" for e in piece.edges]
        assert len(back.darts) == len(piece.darts)
        assert len(back.holes) == len(piece.holes)
        cut, other_cut = derive(piece).cut, derive(back).cut
        assert nearest(cut.curve, flatten(other_cut.curve, tolerance=0.01))[1].max() < 0.1
        assert back.cut_by_hand is None  # its allowances are known again
        ticks, others = derive(piece).ticks, derive(back).ticks
        places, others_places = (sorted(map(tuple, np.round([t.tip for t in row], 1))) for row in (ticks, others))
        assert np.allclose(places, others_places, atol=0.11)
        assert Counter(t.notch.kind for t in ticks) == Counter(t.notch.kind for t in others)
        grain = np.array([piece.grain.start, piece.grain.end]) - [back.grain.start, back.grain.end]
        assert np.abs(grain).max() < 0.01


def test_a_curve_that_runs_out_of_a_straight_has_points_enough_to_be_read_back(monkeypatch):
    """The top of a facing, level over the stand and then along the neck: read as it was drawn, which by chords alone
    it is not."""
    top = chain([line((0, 0), (13.4, 0)), cubic((13.4, 0), (23.8, 0), (40.35, -7.8), (51.9, -19.5))])
    assert _read_off(top) < 0.01
    monkeypatch.setattr(sampled, "READ", 9.0)
    assert _read_off(top) > 0.015


def _read_off(curve):
    """mm from a curve to the one that is read from its points."""
    (read,) = through([(sampled._points(curve, sampled._count([curve])), False)])
    return nearest(read, point_on(curve, np.linspace(0.0, len(curve), 4001)))[1].max()


def test_a_double_notch_comes_back_as_one(files, tmp_path):
    top = tmp_path / "top.svg"
    assert main(["notch", "back.armhole@1/2", "--count=double", "-i", str(files / "top.svg"), "-o", str(top)]) == 0
    assert main(["exchange", str(top), "-o", str(tmp_path / "top.dxf")]) == 0
    (was,), (now,) = (
        [notch for notch in pieces(file).piece("back").notches if notch.count == 2]
        for file in (top, tmp_path / "top.dxf")
    )
    assert now.apart == pytest.approx(was.apart, abs=0.05)
    assert now.kind == was.kind


def test_a_narrow_strip_keeps_its_stitch_line(tmp_path):
    """24 mm wide with 1 cm all round: the stitch line encloses less than half of what is cut."""
    drawn, made = tmp_path / "a.svg", tmp_path / "a.dxf"
    start = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300">'
    drawn.write_text(f'{start}<path d="M 50,50 H 74 V 203 H 50 Z"/></svg>')
    assert main(["piece", "--names=lap", "-i", str(drawn), "--in-place"]) == 0
    assert main(["allowance", "lap", "--width=1cm", "-i", str(drawn), "--in-place"]) == 0
    assert main(["exchange", str(drawn), "-o", str(made)]) == 0
    _, pattern, findings = read(made.read_bytes(), name="a.dxf")
    assert abs(area(pattern.piece("lap"))) == pytest.approx(24 * 153, abs=0.1)
    assert [edge.allowance.width for edge in pattern.piece("lap").edges] == [10.0] * 4
    assert "is taken for its stitch line" in findings[0].text


def test_a_piece_laid_open_is_both_halves(files):
    half, whole = pieces(files / "half.dxf"), pieces(files / "open.dxf")
    front, opened = half.piece("front"), whole.piece("front")
    assert opened.cut_as == "single"
    assert abs(area(opened)) == pytest.approx(2 * abs(area(front)), rel=1e-5)
    ring = chain(outline(opened), within=1e-3)
    x0, _, x1, _ = bounds(ring)
    mirrored = transform(ring, Affine.reflection(np.array([(x0 + x1) / 2, 0.0]), np.array([(x0 + x1) / 2, 9.0])))
    assert nearest(ring, flatten(mirrored, tolerance=0.01))[1].max() < 0.02
    assert len(opened.darts) == 2 * len(front.darts)
    assert abs(area(whole.piece("back"))) == pytest.approx(abs(area(half.piece("back"))), rel=1e-6)


def test_inches_say_so_and_come_back_as_large(files):
    text = (files / "inch.dxf").read_text()
    assert "UNITS: ENGLISH" in text
    assert "UNITS: METRIC" in (files / "open.dxf").read_text()
    inch, metric = pieces(files / "inch.dxf"), pieces(files / "open.dxf")
    for one, two in zip(inch.pieces, metric.pieces, strict=True):
        assert abs(area(one)) == pytest.approx(abs(area(two)), rel=1e-6)


def test_the_same_drawing_gives_the_same_bytes(files, tmp_path):
    assert main(["exchange", str(files / "top.svg"), "-o", str(tmp_path / "again.dxf")]) == 0
    assert (tmp_path / "again.dxf").read_bytes() == (files / "half.dxf").read_bytes()
    assert not re.search(rb"created|written|20[0-9]{2}-", (tmp_path / "again.dxf").read_bytes(), re.IGNORECASE)


def test_words_beyond_the_character_set_are_written_in_it_and_said(files, tmp_path, capsys):
    named = tmp_path / "named.svg"
    assert main(["style", "--name=Größe Łódź", "--size=38½", "-i", str(files / "top.svg"), "-o", str(named)]) == 0
    capsys.readouterr()
    assert main(["exchange", str(named), "-o", str(tmp_path / "named.dxf")]) == 0
    said = capsys.readouterr().err
    assert "'Größe Łódź' is written 'Grosse Lodz'" in said
    data = (tmp_path / "named.dxf").read_bytes()
    assert max(data) < 128
    assert b"STYLE NAME: Grosse Lodz" in data
    assert b"SIZE: 38 1/2" in data


@pytest.mark.parametrize("text", ["abc", "é", "漢", "\n\t", "½", "—", "\u202e", "Ж"])
def test_any_letter_becomes_ascii(text):
    assert plain_letters(text).isascii()
    assert plain_letters(text).isprintable()


def test_a_boundary_that_is_off_is_not_written(files):
    from flatcut.errors import OutputError
    from flatcut.formats.dxf.proving import prove

    top = pieces(files / "top.svg")
    curves = [(piece.name, derive(piece).cut.curve) for piece in top.pieces]
    data = (files / "half.dxf").read_bytes()
    prove(data, curves, inch=False)
    wrong = [(name, transform(curve, Affine.scaling(1.001))) for name, curve in curves]
    with pytest.raises(OutputError, match="boundary of front would lie up to"):
        prove(data, wrong, inch=False)
    with pytest.raises(OutputError, match="2 blocks for 1 pieces"):
        prove(data, curves[:1], inch=False)
    assert abs(signed_area(curves[0][1])) > 0


HEM = (
    ["edge", "back.waist", "--use=hem"],
    ["allowance", "back.waist", "--width=38.1"],
    ["corner", "back.side/waist", "--kind=turned", "--through=back.waist"],
)


def test_corners_that_are_not_usual_are_found_again(files, tmp_path):
    """A hem whose ends are turned, as wide as an inch and a half: the cut line is made of that again."""
    hemmed = tmp_path / "hemmed.svg"
    source = files / "top.svg"
    for step in HEM:
        if main([*step, "-i", str(source), "-o", str(tmp_path / "next.svg")]) == 0:
            (tmp_path / "next.svg").replace(hemmed)
            source = hemmed
    assert source == hemmed
    assert main(["exchange", str(hemmed), "--pieces=back", "-o", str(tmp_path / "hemmed.dxf")]) == 0
    was, now = pieces(hemmed).piece("back"), pieces(tmp_path / "hemmed.dxf").piece("back")
    assert now.cut_by_hand is None
    assert 38.1 in [round(edge.allowance.width, 3) for edge in now.edges]
    back = together(was, now)
    one, two = derive(was).cut.curve, derive(back).cut.curve
    assert nearest(one, flatten(two, tolerance=0.01))[1].max() < 0.1


def test_a_cut_line_that_no_allowance_gives_is_kept_as_it_was_drawn(tmp_path):
    """A boundary drawn freely about the stitch line."""
    drawing = ezdxf.new("R12")
    block = drawing.blocks.new("POCKET")
    block.add_text("PIECE NAME: pocket", dxfattribs={"layer": "1", "height": 5})
    block.add_polyline2d([(0, 0), (120, -8), (131, 140), (-9, 151)], close=True, dxfattribs={"layer": "1"})
    block.add_polyline2d([(10, 10), (110, 10), (110, 130), (10, 130)], close=True, dxfattribs={"layer": "14"})
    drawing.modelspace().add_text("UNITS: METRIC", dxfattribs={"layer": "1", "height": 5})
    drawing.modelspace().add_blockref("POCKET", (0, 0), dxfattribs={"layer": "1"})
    written = io.StringIO()
    drawing.write(written)
    _, pattern, findings = read(written.getvalue().encode(), name="pocket.dxf")
    (piece,) = pattern.pieces
    assert piece.cut_by_hand is not None
    assert abs(area(piece)) == pytest.approx(100 * 120, abs=0.01)
    x0, y0, x1, y1 = bounds(derive(piece).cut.curve)
    assert (x1 - x0, y1 - y0) == pytest.approx((140, 159), abs=0.01)
    assert [str(found) for found in findings] == [
        "the cut line of pocket is kept as it was drawn: no usual allowances and corners give it"
    ]


def test_each_corner_is_found_by_what_lies_about_it_on_both_lines(tmp_path):
    """A collar whose ends are squared through other edges than its centre: a tip that only one line has counts too."""
    (tmp_path / "fall.recipe").write_text(
        "block bodice --size=bust-90\ncollar stand-and-fall --neck=back.neck+front.neck --extension=15 --round=14\n"
        "allowance all --width=1cm\nlabel all --material=shell\narrange\n"
    )
    fall = tmp_path / "fall.svg"
    assert main(["run", str(tmp_path / "fall.recipe"), "-o", str(fall)]) == 0
    assert main(["exchange", str(fall), "--pieces=fall,under-fall", "-o", str(tmp_path / "fall.dxf")]) == 0
    back = read((tmp_path / "fall.dxf").read_bytes(), name="fall.dxf")[1]
    for name in ("fall", "under-fall"):
        was, now = pieces(fall).piece(name), back.piece(name)
        assert now.cut_by_hand is None
        one, two = derive(was).cut.curve, derive(together(was, now)).cut.curve
        assert apart(one, two) < 0.1
