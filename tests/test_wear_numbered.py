"""Pieces that are cut several times over, worn: gores of a skirt, each a piece of its own in its place of the ring."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Pattern, Piece
from flatcut.worn.choosing import chosen
from flatcut.worn.numbered import numbered
from flatcut.worn.sewn import Sewn, sewn
from flatcut.worn.telling import told
from flatcut.worn.wearing import worn
from tests.garments import drafted, text_of
from tests.wearing import CALICO, form

CAMPION, SIZE = text_of("campion-skirt"), "bust-98"
TOWARD_THE_LEFT = ["gore 1", "gore 2", "gore 3", "gore 4", "gore-front", "gore-back"]
"""The gores as they follow one another in front, each to the wearer's left of the one before."""


def side(whole: Sewn, at: Array, name: str, edges: tuple[str, ...]) -> Array:
    """Places (9, 3), from the waist down the edges of a piece, evenly along their drawn length."""
    k = next(k for k, copy in enumerate(whole.copies) if whole.cells[copy.piece].piece.name == name)
    cells = whole.cells[whole.copies[k].piece]
    found = [on.vertex for edge in edges for on in cells.edges[cells.piece.edge(edge).uid]]
    flat = cells.points[found]
    order = np.argsort(flat[:, 1])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(flat[order], axis=0), axis=1))])
    there = at[whole.joined[whole.first[k] + np.array(found)[order]]]
    return np.column_stack([np.interp(np.linspace(0, along[-1], 9), along, there[:, axis]) for axis in range(3)])


def test_six_gores_of_three_patterns_are_worn_as_a_skirt() -> None:
    """Net of 40 mm: each right side lies on the next left one from waist to hem within 0.2 mm, the zip done up in the
    wearer's left; waist and hip as they were drafted, 1 and 4 cm over the body, within 2 cm: cloth that runs outward is
    longer than it is high, and so lies there lower than on paper, where it is wider. The hem is level within 1.5 cm."""
    of_each = numbered(drafted(CAMPION, SIZE), (), {})
    pieces, left = chosen(of_each.pattern, (), of_each.places)
    assert [piece.name for piece in pieces] == TOWARD_THE_LEFT
    assert set(left) == {"gore-facing", "gore-front-facing", "gore-back-facing"}
    found = worn(of_each.pattern, pieces, form(of_each.pattern, pieces), CALICO, mesh=40.0, places=of_each.places)
    for name, after in zip(TOWARD_THE_LEFT, [*TOWARD_THE_LEFT[1:], TOWARD_THE_LEFT[0]], strict=True):
        one = side(found.sewn, found.at, name, ("zip", "side") if name == "gore-front" else ("side",))
        two = side(found.sewn, found.at, after, ("side-2", "zip") if after == "gore-back" else ("side-2",))
        assert np.linalg.norm(one - two, axis=1).max() < 0.2, (name, after)
    of = told(found, of_each.places)
    for level, ease in zip(of.levels[1:], (10.0, 40.0), strict=True):
        assert level.ease == pytest.approx(ease, abs=20.0), level.name
    assert of.hem[1] - of.hem[0] < 15.0
    assert of.inside < 0.5
    zipped = side(found.sewn, found.at, "gore-front", ("zip",))
    assert zipped[:, 0].min() > 4 * np.abs(zipped[:, 2]).max()  # in the left side, as far as front and back reach
    assert of.lean[0][0] == "gore-front to gore-back"
    # laid out they lie beside each other
    x = [found.layout.shown[slice(*ends), 0] for ends in pairwise(found.sewn.first)]
    ends = sorted((float(one.min()), float(one.max())) for one in x)
    assert all(one[1] < two[0] for one, two in pairwise(ends))


@pytest.mark.parametrize(
    ("size", "opening", "said"),
    [("bust-82", "--opening=20cm", "in a row"), ("bust-114", "--opening=20cm", "in a row"), (SIZE, "", "in a ring")],
)
def test_each_side_of_each_gore_is_sewn_once(size: str, opening: str, said: str) -> None:
    text = CAMPION.partition("\nfacing")[0].replace("--opening=20cm", opening)
    of_each = numbered(drafted(text, size), (), {})
    assert said in of_each.said[0]
    used = Counter(part.of for seam in of_each.pattern.seams for part in (*seam.a, *seam.b))
    sides = [edge for piece in of_each.pattern.pieces for edge in piece.edges if edge.name in ("side", "side-2", "zip")]
    assert used == dict.fromkeys((edge.uid for edge in sides), 1)
    pieces, _ = chosen(of_each.pattern, (), of_each.places)
    whole = sewn(of_each.pattern, pieces, 60.0)
    assert len(whole.copies) == 6
    # a tube: as many vertices and triangles as sides between them
    corners = whole.joined[whole.triangles]
    lines = {tuple(sorted(pair)) for a, b, c in corners.tolist() for pair in ((a, b), (b, c), (c, a))}
    assert whole.count - len(lines) + len(corners) == 0


def swapped(pieces: Sequence[Piece]) -> list[Piece]:
    other = {"gore-front": "gore-back", "gore-back": "gore-front"}
    return [replace(piece, name=other.get(piece.name, piece.name)) for piece in pieces]


@pytest.mark.parametrize(
    ("change", "places", "front", "said"),
    [
        (list, {}, "gore 4", "lies in the left side"),
        (swapped, {}, "gore 1", "lies in the right side"),
        (list, {"gore-front": "front"}, "gore-front", "the middle of gore-front is the centre front"),
        (list, {"gore": "front"}, "gore 1", "the middle of gore 1 is the centre front"),
    ],
)
def test_where_the_centre_front_lies_is_said(
    change: Callable[[Sequence[Piece]], list[Piece]], places: dict[str, str], front: str, said: str
) -> None:
    pattern = drafted(CAMPION, SIZE)
    of_each = numbered(replace(pattern, pieces=tuple(change(pattern.pieces))), (), places)
    assert of_each.places[front] == "front"
    assert said in of_each.said[-1]
    centre = next(line for line in of_each.pattern.piece(front).lines if line.name == "centre")
    waist = of_each.pattern.piece(front).edge("waist")
    assert centre.curve.start[0] == pytest.approx(0.5 * (waist.start + waist.end)[0], abs=0.1)


def without(lost: set[str]) -> Pattern:
    """The skirt without the seam of these pieces."""
    pattern = drafted(CAMPION, SIZE)
    uids = {pattern.piece(name).uid for name in lost}
    return replace(pattern, seams=tuple(s for s in pattern.seams if {s.a[0].piece, s.b[0].piece} != uids))


def test_a_row_that_does_not_follow_is_refused() -> None:
    """Without what stands at one end of the row that edge is sewn once too seldom; and gores that are sewn to no gore
    stand in no row."""
    with pytest.raises(UsageError, match=r"gore is cut 4 times, and gore\.side-2 is sewn 3 times"):
        numbered(without({"gore", "gore-back"}), (), {})
    with pytest.raises(UsageError, match=r"gore\.side is sewn 3 times"):
        numbered(drafted(CAMPION, SIZE), ("gore", "gore-back"), {})
    pattern = without({"gore"})
    assert numbered(pattern, (), {}).pattern is pattern
    with pytest.raises(UsageError, match="more than a piece and its mirror image"):
        chosen(pattern, (), {})


def test_a_band_round_gores_is_refused_until_it_is_told_which_lies_where() -> None:
    text = CAMPION.partition("\nfacing")[0].replace("--opening=20cm", "")
    with pytest.raises(UsageError, match=r"gore\.waist is sewn 1 time: it cannot be told which"):
        numbered(drafted(f"{text}\nstrip --kind=waistband --to=gore.waist", SIZE), (), {})
