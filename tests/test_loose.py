"""What belongs to no piece is read when it is asked for; the pieces found without it are the same."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.document import load
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.read import read
from flatcut.formats.svg.sheets import sort
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load as operation
from flatcut.pattern.later import Later
from tests import by_hand as hand

XLINK = "{http://www.w3.org/1999/xlink}href"


def with_more(*, path: str = "M 0 0 H 9 V 9 Z") -> bytes:
    """Two pieces in nested and turned groups, among foreign paths, one of them shown by a clone."""
    root = etree.fromstring(hand.two_pieces())
    around = etree.SubElement(root, tag("g"), transform="rotate(20) translate(5 3)")
    deeper = etree.SubElement(around, tag("g"), transform="translate(-7 2)")
    groups = [g for g in root.iter(tag("g")) if g.get("{urn:flatcut:pattern}piece")]
    deeper.append(groups[0])
    for k in range(4):
        etree.SubElement(deeper if k % 2 else root, tag("path"), id=f"foreign-{k}", d=path)
    etree.SubElement(root, tag("use"), {XLINK: f"#{groups[1].get('id')}", "x": "300"})
    return etree.tostring(root)


def test_the_pieces_are_the_same_with_and_without_the_rest() -> None:
    document = load(with_more())
    quick, whole = sort(document, whole=False), sort(document)
    assert not quick.whole
    assert whole.whole
    assert len(quick.sheets) == len(whole.sheets) == 2
    for a, b in zip(quick.sheets, whole.sheets, strict=True):
        assert (a.uid, a.group, a.outline.element, a.outline.group) == (
            b.uid,
            b.group,
            b.outline.element,
            b.outline.group,
        )
        assert np.array_equal(a.outline.subpaths[0].curve.controls, b.outline.subpaths[0].curve.controls)
        assert [item.element for item in a.inner] == [item.element for item in b.inner]
        assert a.derived == b.derived
    assert quick.clones == whole.clones != set()
    added = [item.id for item in whole.loose if item.id.startswith("foreign")]
    assert added == ["foreign-1", "foreign-3", "foreign-0", "foreign-2"]


def test_a_foreign_path_that_cannot_be_read_stops_only_who_asks_for_it() -> None:
    drawing, pattern, findings = read(with_more(path="M 0 0 L nan 3"))
    assert findings == read(with_more())[2]
    wider = operation("allowance")(target=("front",), width=9.0)(pattern)
    assert b"nan" in write(drawing, wider)
    with pytest.raises(InputError, match="foreign-"):
        list(pattern.drawn)


def test_what_was_drawn_is_found_as_it_stood_before_the_tree_changes() -> None:
    drawing, pattern, _ = read(with_more())
    made = operation("piece")(target=("id:foreign-0",), names="patch")(pattern)
    data = write(drawing, made)
    _, again, _ = read(data)
    assert [piece.name for piece in again.pieces] == [*(p.name for p in pattern.pieces), "patch"]
    assert "foreign-0" not in [thing.id for thing in again.drawn]
    assert len(again.drawn) == len(pattern.drawn) - 1


def test_later_is_made_once() -> None:
    calls: list[int] = []

    def make() -> tuple[int, ...]:
        calls.append(1)
        return (3, 1, 2)

    things = Later(make)
    assert calls == []
    assert (sorted(things), things[1:], len(things), 2 in things) == ([1, 2, 3], (1, 2), 3, True)
    assert calls == [1]
