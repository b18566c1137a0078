"""Darts through the SVG and from a selection; outlines of other kinds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli.main import main
from flatcut.darts.darting import angle
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import chain, cubic, line
from flatcut.geometry.length import length
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import load
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Dart, Edge, Pattern, Piece, area
from flatcut.pattern.walking import sewn_length
from tests.dart_pieces import controls, dart, front, rigid_rest, shape, the


def through_svg(pattern: Pattern) -> Pattern:
    drawing, _, _ = new_drawing()
    return read(write(drawing, pattern), name="test")[1]


STEPS = (
    (
        "divide",
        {"target": ("front.waist-dart",), "to": ("front.side@30%", "front.shoulder/armhole"), "names": ("bust", "tip")},
    ),
    ("back-off", {"target": ("front.bust",), "by": 20.0}),
    ("dart", {"target": ("front.tip",), "pressed": "armhole"}),
    ("dart", {"target": ("front.neck@1/2",), "intake": 8.0, "point": "front.bust-point", "form": "lines", "name": "n"}),
    ("release", {"target": ("front.bust",), "to": "tuck"}),
)


def test_every_step_is_the_same_after_the_file() -> None:
    pattern = front()
    for name, options in STEPS:
        pattern = load(name)(**options)(pattern)
        again = through_svg(pattern)
        assert shape(the(again)) == shape(the(pattern))
        np.testing.assert_allclose(controls(the(again)), controls(the(pattern)), atol=1e-6)
        for one, two in zip(the(pattern).darts, the(again).darts, strict=True):
            assert (one.uid, one.form, one.host, one.after, one.pressed) == (
                two.uid,
                two.form,
                two.host,
                two.after,
                two.pressed,
            )
        for first, second in zip(the(pattern).edges, the(again).edges, strict=True):
            assert [(t.kind, t.uid) for t in first.takeups] == [(t.kind, t.uid) for t in second.takeups]
            assert sewn_length(first) == pytest.approx(sewn_length(second), abs=1e-6)


def test_there_and_back_through_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = [str(tmp_path / f"{k}.svg") for k in range(3)]
    drawing, _, _ = new_drawing()
    Path(names[0]).write_bytes(write(drawing, front()))
    assert main(["pivot", "front.waist-dart", "--to=front.shoulder@1/2", "-i", names[0], "-o", names[1]]) == 0
    told = capsys.readouterr().err
    for words in ("angle before", "turned", "largest move", "area changed by: 0 cm²"):
        assert words in told
    waist = the(front()).edge("waist")
    home = f"--to=front.waist@{length(waist.parts[0]):.7f}mm"
    assert main(["pivot", "front.waist-dart", home, "-i", names[1], "-o", names[2]]) == 0
    first, last = (read(Path(name).read_bytes(), name=name)[1] for name in (names[0], names[2]))
    assert shape(the(first)) == shape(the(last))
    assert rigid_rest(controls(the(first)), controls(the(last))) <= 1e-6


def test_from_a_selection() -> None:
    chosen = Selection(pieces=("front",), places=("front.side@50%",))
    done = load("pivot")()(front(), chosen)
    assert done.steps[-1].line == "pivot front.waist-dart --to=front.side@1/2"
    draft = load("dart")(intake=10.0, point="front.bust-point")(front(), chosen)
    assert draft.steps[-1].line == "dart front.side@1/2 --intake=10 --point=front.bust-point"
    named = load("dart")(name="w")(front(), Selection(pieces=("front",)))
    assert named.steps[-1].line == "dart front.waist-dart --name=w"
    gone = load("release")()(front(), Selection(pieces=("front",)))
    assert the(gone).darts == ()


def test_a_dart_that_is_drawn_inside_is_cut_in_to_be_pivoted() -> None:
    base = load("release")(target=("front.waist-dart",), to="pleat", stitched=0.0)(front())
    piece = the(base)
    base = replace(base, pieces=(replace(piece, edges=tuple(replace(e, takeups=()) for e in piece.edges)),))
    pattern = load("dart")(
        target=("front.side@40%",), intake=20.0, point="front.bust-point", form="lines", name="bust"
    )(base)
    done = load("pivot")(target=("front.bust",), to="front.waist@1/2")(pattern)
    assert dart(done, "bust").form == "cut"
    assert angle(dart(done, "bust")) == pytest.approx(angle(dart(pattern, "bust")), abs=1e-9)
    assert the(done).edge("side").takeups == ()


def round_piece() -> Pattern:
    """A smooth outline of one edge, a circle of radius 100 but for a dart at the top."""
    k, r = 0.5522847498 * 100, 100.0
    quarters = [
        cubic((r, 0), (r, k), (k, r), (0, r)),
        cubic((0, r), (-k, r), (-r, k), (-r, 0)),
        cubic((-r, 0), (-r, -k), (-k, -r), (-10, -99.5)),
    ]
    first = cubic((10, -99.5), (k, -r), (r, -k), (r, 0))
    parts = (chain([*quarters]), first)
    one = Dart(uid="d", name="dart", legs=(line((-10, -99.5), (0, 0)), line((0, 0), (10, -99.5))), host="e", after=0)
    return Pattern(pieces=(Piece(uid="p", name="front", edges=(Edge(uid="e", name="e1", parts=parts),), darts=(one,)),))


def test_an_outline_of_one_edge() -> None:
    pattern = round_piece()
    there = load("pivot")(target=("front.dart",), to="front.e1@20%")(pattern)
    assert len(the(there).edges) == 1
    assert angle(dart(there, "dart")) == pytest.approx(angle(dart(pattern, "dart")), abs=1e-9)
    assert area(the(there)) == pytest.approx(area(the(pattern)), rel=1e-9)
    assert cut_line(the(load("allowance")(target=("front",), width=10.0)(there))) is not None
