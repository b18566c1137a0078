"""What a piece was derived from: kept in the drawing, followed where pieces become others, and told when it changed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from flatcut.collecting import collected
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.sources import Source, taken
from flatcut.pattern.sourcing import changed, derived_from, sources_of
from flatcut.pattern.values import Edge, Pattern, Piece, Position


def _square(name: str, uid: str) -> Piece:
    ring = [(0, 0), (90, 0), (90, 60), (0, 60)]
    edges = (Edge(uid=f"{uid}{k}", name=f"e{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4))
    return Piece(uid=uid, name=name, edges=tuple(edges))


@pytest.fixture
def pattern() -> Pattern:
    front = _square("front", "f")
    kept = tuple(taken(front.uid, edge) for edge in front.edges)
    part = taken(front.uid, front.edges[1], end=Position(mode="start", value=25.0))
    facing = replace(
        _square("facing", "g"), source=Source(kind="facing", of=("f",), line="allowance front.e0", taken=kept)
    )
    collar = replace(_square("collar", "c"), source=Source(kind="collar", of=("f",), taken=(kept[0], part)))
    return Pattern(pieces=(front, facing, collar))


def test_nothing_is_said_of_a_source_that_was_moved_turned_or_flipped(pattern: Pattern) -> None:
    for motion in (Affine.translation(300, 5), Affine.rotation(1.2, (3, 4)), Affine.scaling(-1, 1)):
        there = pattern.with_piece(moved(pattern.piece("front"), motion))
        assert max(changed(there, there.piece("facing")).values()) < 1e-3


def test_what_has_changed_is_told_by_edge_with_its_figure(pattern: Pattern) -> None:
    front = pattern.piece("front")
    low = replace(front.edges[0], parts=(line((0, 0), (90, 7)),))
    after = replace(front, edges=(low, replace(front.edges[1], parts=(line((90, 7), (90, 60)),)), *front.edges[2:]))
    found = changed(pattern.with_piece(after), pattern.piece("facing"))
    assert math.isclose(found["f0"], 7.0, abs_tol=1e-6)  # the corner went down by 7
    assert found["f2"] < 1e-6
    gone = replace(front, edges=front.edges[1:])
    assert changed(pattern.with_piece(gone), pattern.piece("facing"))["f0"] == math.inf


def test_a_stretch_does_not_ask_for_the_rest_of_its_edge(pattern: Pattern) -> None:
    front = pattern.piece("front")
    longer = (replace(front.edges[1], parts=(line((90, 0), (90, 160)),)), line((90, 160), (0, 160)))
    edges = (front.edges[0], longer[0], replace(front.edges[2], parts=(longer[1],)), front.edges[3])
    there = pattern.with_piece(replace(front, edges=edges))
    assert max(changed(there, there.piece("collar")).values()) < 1e-6
    assert max(changed(there, there.piece("facing")).values()) > 50


def test_it_stands_in_the_drawing_and_comes_back(pattern: Pattern) -> None:
    document, _, _ = new_drawing()
    drawn = write(document, pattern)
    again = read(drawn)[1]
    assert differences(pattern, again, tolerance=1e-6) == []
    assert again.piece("facing").source == pattern.piece("facing").source
    other = replace(pattern.piece("facing"), source=None)
    assert differences(pattern, pattern.with_piece(other), tolerance=1e-6)


def test_it_follows_into_a_collection_and_out_of_it(pattern: Pattern) -> None:
    whole = collected([("shirt", pattern), ("coat", pattern)], prefix=True)
    facing = whole.piece("coat-facing")
    assert [piece.name for piece in sources_of(whole, facing)] == ["coat-front"]
    assert facing.source is not None
    assert facing.source.line == "allowance coat-front.e0"
    assert [piece.name for piece in derived_from(whole, whole.piece("shirt-front"))] == ["shirt-facing", "shirt-collar"]
    assert max(changed(whole, facing).values()) < 1e-3


def test_a_source_that_is_dropped_is_told(pattern: Pattern) -> None:
    done = load("drop")(target=["front"])(pattern)  # type: ignore[call-arg]  # its own field
    assert done.piece("facing").source is None
    assert "facing was made of front, which is gone; it stays as it is" in done.steps[-1].warnings
