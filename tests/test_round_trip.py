"""Reading, writing and reading again: every value is kept, nothing foreign changes, same input gives same bytes."""

from __future__ import annotations

import copy
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from lxml import etree

import flatcut
from flatcut.errors import GeometryError
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import NAMESPACE, own
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import point, signed_area, transform
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.sewing_order import with_sewing_order
from flatcut.pattern.values import Pattern, outline
from tests import by_hand as hand
from tests import strategies as own_strategies

GOLDEN = Path(__file__).parent / "golden"
FEW = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))


def written(pattern: Pattern) -> bytes:
    """A pattern in a new document. A pattern of which no piece can have a cut line is none that could be written."""
    drawing, empty, _ = new_drawing()
    try:
        return write(drawing, replace(pattern, drawn=empty.drawn, user_unit=empty.user_unit))
    except GeometryError:
        assume(False)
        raise


def everything_is_kept(pattern: Pattern) -> None:
    pattern = with_sewing_order(pattern)  # what follows from seams is told on reading, whatever the drawing says
    data = written(pattern)
    _, found, findings = read(data)
    assert not findings
    # numbers are written with nine decimals
    assert not differences(pattern, found, tolerance=2e-9)
    assert found.steps == pattern.steps
    assert list(found.uids()) == list(pattern.uids())
    drawing, again, _ = read(data)
    assert write(drawing, again) == data, "what was not changed is not written anew"
    stale = replace(again, pieces=tuple(replace(piece) for piece in again.pieces))
    drawing, _, _ = read(data)
    _, third, said = read(write(drawing, stale))
    assert not said
    assert not differences(found, third, tolerance=1e-12), "a second writing moves nothing"


@pytest.mark.brief
@FEW
@given(own_strategies.patterns())
def test_every_value_is_kept(pattern: Pattern) -> None:
    everything_is_kept(pattern)


@pytest.mark.long
@MANY
@given(own_strategies.patterns())
def test_every_value_of_many_patterns_is_kept(pattern: Pattern) -> None:
    everything_is_kept(pattern)


# Foreign elements -----------------------------------------------------------------------------------------------------


def foreign(data: bytes) -> dict[str, bytes]:
    """Every element that is not flatcut's own, without flatcut's attributes, in exclusive canonical form."""
    root = hand.root_of(data)
    kept = copy.deepcopy(root)
    for element in list(kept.iter()):
        if not isinstance(element.tag, str):
            continue
        mine = element.tag.startswith(f"{{{NAMESPACE}}}") or any(NAMESPACE in name for name in element.attrib)
        if mine:
            parent = element.getparent()
            assert parent is not None
            if element.tag.endswith("}g") and element.get(own("piece")) is not None:
                for child in list(element):
                    element.addprevious(child)
            if element.getparent() is not None:
                element.getparent().remove(element)
    return {
        element.get("id", ""): etree.tostring(element, method="c14n", exclusive=True, with_comments=True)
        for element in kept.iter(etree.Element)
        if element.get("id") and not len(element)
    }


def test_everything_foreign_is_equal_in_c14n() -> None:
    before = (hand.DATA / "two-pieces.svg").read_bytes()
    kept = foreign(before)
    assert {"view", "unused", "title", "swatch", "photo"} <= {*kept, "title"}
    after = foreign(hand.two_pieces())
    for name in kept:
        if name not in ("p1", "p2"):
            assert after[name] == kept[name], name
    assert b"two halves of a bodice" in hand.two_pieces()
    title = "<text"
    assert title in hand.two_pieces().decode()
    root, old = hand.root_of(hand.two_pieces()), hand.root_of(before)
    for name in ("title", "defs", "layer2"):
        mine, other = (next(e for e in r.iter() if e.get("id") == name) for r in (root, old))
        assert canonical(mine) == canonical(other)
    note = next(e for e in root.iter() if str(e.tag).endswith("}book"))
    assert note.text == "a note"


def canonical(element: etree._Element) -> bytes:
    return etree.tostring(element, method="c14n", exclusive=True, with_tail=False)


def test_foreign_things_in_a_pieces_group_keep_place_and_content() -> None:
    root = hand.root_of(hand.two_pieces())
    group = hand.group(root, "front")
    etree.SubElement(group, hand.tag("path"), id="scribble", d="M 50,50 l 9,9", style="stroke:#f00")
    group.append(etree.Comment("mine"))
    hand.put_transform(group, Affine(1.2, 0.1, 0.3, 0.9, 5.0, -7.0))
    drawing, _, _ = read(hand.bytes_of(root))
    before = place_of(drawing.document, "scribble")
    data = hand.perform(hand.bytes_of(root), "allowance", "all", width=9.0)
    drawing, pattern, findings = read(data)
    assert not findings
    assert np.allclose(place_of(drawing.document, "scribble"), before, atol=1e-9)
    scribble = drawing.document.by_id("scribble")
    assert scribble is not None
    assert scribble.get("d") == "M 50,50 l 9,9"
    assert scribble.get("style") == "stroke:#f00"
    assert b"<!--mine-->" in data
    assert pattern.pieces


def place_of(document: Document, name: str) -> np.ndarray:
    element = document.by_id(name)
    assert element is not None
    return document.matrix_of(element).apply([[50, 50], [59, 59]])


# Motions --------------------------------------------------------------------------------------------------------------

OPERATIONS = {
    "allowance": {"target": ("all",), "width": 12.0},
    "edge": {"target": ("front.side@1/3",), "split": True, "names": ("up", "down")},
    "line": {"start": "front.neck@1/2", "end": "front.waist@20%", "shape": "0.2,0.1 0.7,-0.1 1,0"},
    "point": {"at": "at(front.neck/shoulder,front.side/waist,0.4,0.15)"},
    "measure": {"target": ("front.side+back.side",), "as_": "both"},
    "seam": {"target": ("front.armhole", "back.armhole"), "ease": 3.0},
    "notch": None,
}
MOTIONS = st.tuples(st.floats(-3.1, 3.1), st.floats(-300, 300), st.floats(-300, 300), st.booleans()).map(
    lambda v: (
        Affine.translation(v[1], v[2]) @ Affine.rotation(v[0]) @ (Affine.scaling(-1, 1) if v[3] else Affine.scaling(1))
    )
)


@pytest.fixture(scope="module")
def start() -> Pattern:
    return read(hand.two_pieces())[1]


@pytest.mark.parametrize("name", [name for name, values in OPERATIONS.items() if values is not None])
def test_motions_and_mirrors_commute_with_operations(name: str, start: Pattern) -> None:
    """An operation on moved pieces gives the moved result: names and places mean the same wherever a piece lies."""
    operation = load(name)(**OPERATIONS[name])  # type: ignore[arg-type]
    straight = operation(start)

    @settings(max_examples=8, deadline=None)
    @given(MOTIONS)
    def holds(motion: Affine) -> None:
        carried = replace(start, pieces=tuple(moved(piece, motion) for piece in start.pieces))
        there = operation(carried)
        after = replace(straight, pieces=tuple(moved(piece, motion) for piece in straight.pieces))
        assert not differences(there, after, tolerance=1e-6)
        kept = [
            (f.label, pytest.approx(f.value, abs=1e-6))
            for f in straight.steps[-1].figures
            if f.label[-2:] not in (" x", " y")
        ]
        assert [(f.label, f.value) for f in there.steps[-1].figures if f.label[-2:] not in (" x", " y")] == kept

    holds()


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_cut_line_moves_and_mirrors_with_its_piece(start: Pattern, mirrored: bool) -> None:
    motion = Affine.translation(50, -20) @ Affine.rotation(0.7) @ Affine.scaling(-1 if mirrored else 1, 1)
    for piece in start.pieces:
        cut, other = cut_line(piece), cut_line(moved(piece, motion))
        assert cut is not None
        assert other is not None
        here = point(transform(cut.curve, motion), np.linspace(0, len(cut.curve), 400))
        # both are within the offset's own tolerance of 0.05 mm
        assert nearest(other.curve, here)[1].max() <= 0.1
        assert abs(signed_area(other.curve)) == pytest.approx(abs(signed_area(cut.curve)), rel=2e-4)


# Same input, same bytes -----------------------------------------------------------------------------------------------

SCRIPT = """
import sys
from tests.by_hand import two_pieces, perform, root_of, bytes_of, hide, group
data = two_pieces()
root = root_of(data)
for name in ("front", "back"):
    hide(group(root, name))
data = bytes_of(root)
sys.stdout.buffer.write(two_pieces() + perform(perform(data, "names"), "style", size="12"))
"""


def test_the_same_input_gives_the_same_bytes_in_every_process() -> None:
    folders = [str(Path(flatcut.__file__).parents[1]), str(Path(__file__).parents[1])]
    results = set()
    for seed in ("1", "2", "77"):
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(folders), "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", SCRIPT], capture_output=True, env=environment, check=False, timeout=120
        )
        assert done.returncode == 0, done.stderr.decode()
        results.add(done.stdout)
    assert len(results) == 1
    assert len(results.pop()) > 10_000


# The golden files -----------------------------------------------------------------------------------------------------

UPDATE = os.environ.get("FLATCUT_UPDATE") == "1"


@pytest.mark.parametrize("number", [1, 2])
def test_a_file_of_every_format_is_read_for_ever(number: int) -> None:
    """`format-1.svg` was written once and is never written again, whatever later formats are like; so were others."""
    _, pattern, findings = read((GOLDEN / f"format-{number}.svg").read_bytes())
    assert not findings
    assert [piece.name for piece in pattern.pieces] == ["front", "back"]
    front = pattern.piece("front")
    assert [edge.name for edge in front.edges] == ["neck", "shoulder", "armhole", "side", "waist", "centre"]
    assert [(dart.name, dart.form) for dart in front.darts] == [("dart-1", "cut"), ("waist-fish", "lines")]
    assert front.edge("centre").use == "centre"
    assert front.edge("side").takeups[0].kind == "ease"
    assert [(notch.kind, notch.at.mode) for notch in front.notches] == [
        ("v", "fraction"),
        ("slit", "end"),
        ("castle", "start"),
    ]
    assert front.grain is not None
    assert (front.grain.kind, front.grain.ways) == ("straight", "one")
    assert (front.quantity, front.cut_as, front.material) == (2, "pair", "shell")
    assert [point.name for point in front.points] == ["bust-point"]
    assert len(pattern.seams) == 2
    assert pattern.seams[1].ease == -26
    assert pattern.steps[-1].line == "allowance all --width=10"
    assert len(outline(front)) == 9


def test_what_an_older_format_said_of_the_pattern_stands_once_where_it_stands_today() -> None:
    drawing, pattern, _ = read((GOLDEN / "format-1.svg").read_bytes())
    root = etree.fromstring(write(drawing, pattern))
    found = list(root.iter("{urn:flatcut:pattern}pattern"))
    assert [element.get("format") for element in found] == ["2"]
    assert [etree.QName(up).localname for up in found[0].iterancestors()] == ["RDF", "metadata", "svg"]
    again = read(etree.tostring(root))[1]
    assert (again.seams, again.steps, again.style) == (pattern.seams, pattern.steps, pattern.style)


def test_what_is_written_today_is_the_golden_file() -> None:
    """Run with FLATCUT_UPDATE=1 to write it anew, and look at what has changed."""
    path = GOLDEN / "two-pieces.svg"
    data = hand.two_pieces()
    if UPDATE:
        path.write_bytes(data)
    assert data.decode().splitlines() == path.read_text(encoding="utf-8").splitlines(), (
        "run FLATCUT_UPDATE=1 pytest tests/test_round_trip.py and look at the changes"
    )
