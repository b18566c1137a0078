"""Guide lines drawn on pieces cut them in one press: each becomes a line by a step of its own, which replays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, cubic, line
from flatcut.operations.operation import load
from flatcut.pattern.selection import Selection
from flatcut.pattern.spots import spot
from flatcut.pattern.values import DrawnPath, Pattern
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay
from tests.test_cut import made, shape

TWO = "block bodice --size=bust-90\narrange --gap=6cm\n"


def guide(pattern: Pattern, name: str, *ends: str, bow: float = 0.0) -> DrawnPath:
    """A stroke of the pen from place to place, overshooting the outline by 6 mm at both ends, in document mm."""
    p, q = (spot(pattern, at).point for at in ends)
    along = (q - p) / np.hypot(*(q - p))
    aside = np.array([-along[1], along[0]]) * bow
    inner = cubic(p, p + (q - p) / 3 + aside, q - (q - p) / 3 + aside, q)
    whole = chain([line(p - 6 * along, p), inner, line(q, q + 6 * along)], within=1e-9)
    return DrawnPath(id=name, curves=(whole,), closed=(False,))


def drawn_on(pattern: Pattern, *paths: DrawnPath) -> Pattern:
    return replace(pattern, drawn=(*pattern.drawn, *paths))


def test_two_guide_lines_over_two_pieces_cut_both_in_one_press() -> None:
    start = made(TWO)
    start = drawn_on(
        start,
        guide(start, "guide1", "back.centre/neck@10cm", "back.armhole/side@6cm", bow=4.0),
        guide(start, "guide2", "front.centre/bust-line@12mm:waist", "front.side/armhole@15mm", bow=-1.0),
    )
    chosen = Selection(pieces=("back", "front"), drawn=("guide1", "guide2"))
    after = load("cut")(names=("yoke-back.neck", "low-back.waist", "yoke-front.neck", "low-front.waist"))(  # type: ignore[call-arg]
        start, chosen
    )
    assert [p.name for p in after.pieces] == ["yoke-back", "low-back", "yoke-front", "low-front"]
    assert sum(shape(p).area for p in after.pieces) == pytest.approx(sum(shape(p).area for p in start.pieces), abs=1)
    # what was done is two lines and a cut, and that replays to the same pieces, and on another body
    steps = [step.line for step in after.steps[len(start.steps) :]]
    assert [step.split()[0] for step in steps] == ["line", "line", "cut"]
    assert "guide" not in " ".join(steps)
    again = replay(read_recipe("\n".join(steps)), made(TWO))
    for one, other in zip(after.pieces, again.pieces, strict=True):
        assert shape(one).symmetric_difference(shape(other)).area < 0.05 * shape(one).length
    other_size = replay(read_recipe("\n".join(steps)), made(TWO.replace("bust-90", "bust-98")))
    assert [p.name for p in other_size.pieces] == [p.name for p in after.pieces]


def test_a_guide_line_over_a_dart_wants_the_dart_named() -> None:
    """Drawn over an open dart a line stands in two parts; with the dart named its part at the mouth is closed."""
    start = made(TWO)
    start = drawn_on(start, guide(start, "guide1", "front.centre/neck@9cm", "front.armhole/side@6cm", bow=-5.0))
    chosen = Selection(pieces=("front",), drawn=("guide1",))
    with pytest.raises(FlatcutError, match=r"meets dart front\.bust-dart, which is not named"):
        load("cut")()(start, chosen)
    ready = load("line")(name="style")(start, chosen)  # type: ignore[call-arg]
    steps = [np.hypot(*np.diff(item.curve.nodes, axis=0).T) for item in ready.piece("front").lines]
    assert min(map(np.min, steps)) > 1, "no crumb where the line is parted beside one of its joints"
    after = load("cut")(target=("front.style", "front.bust-dart"), names=("top.neck", "low.waist"))(ready)  # type: ignore[call-arg]
    assert [d.name for d in after.piece("low").darts] == ["bust-dart", "waist-dart"]
    assert after.piece("top").darts == ()
    assert shape(after.piece("top")).area + shape(after.piece("low")).area == pytest.approx(
        shape(start.piece("front")).area, abs=1.0
    )


def test_a_guide_line_that_ends_inside_is_refused_and_nothing_is_changed() -> None:
    start = made(TWO)
    path = guide(start, "guide1", "back.centre/neck@10cm", "at(back.neck/centre,back.side/waist,0.5,0)")
    start = drawn_on(start, path)
    with pytest.raises(FlatcutError, match="mm off the outline of back"):
        load("cut")()(start, Selection(pieces=("back",), drawn=("guide1",)))
    assert [thing.id for thing in start.drawn] == ["guide1"]


SHORTER = """block skirt --size=bust-90
arrange --gap=6cm
line --start=skirt-front.centre/hem@60mm --end=skirt-front.side/hem@30mm
cut skirt-front.line-1 --names=front.waist,off.hem --drop=off
"""


@pytest.mark.parametrize("missed", [-1.2, 0.4])
def test_a_line_drawn_to_where_the_seam_ends_on_the_other_piece_ends_there(missed: float) -> None:
    """30 mm of the front's side were cut off; a hand draws that on the back, and misses by what a mouse does."""
    start = made(SHORTER)
    start = drawn_on(start, guide(start, "low", "skirt-back.centre@1/2", f"skirt-back.side/hem@{30 + missed:g}mm"))
    lined = load("line")()(start, Selection(drawn=("low",)))
    assert '--end="mate(front.side@' in lined.steps[-1].line
    after = load("cut")(target=("skirt-back.line-1",), names=("back.waist", "off.hem"), drop=("off",))(lined)  # type: ignore[call-arg]
    assert {piece.name for piece in after.pieces} == {"front", "back"}
    (side,) = (s for s in after.seams if len({part.piece for run in (s.a, s.b) for part in run}) == 2)
    assert [(part.start, part.end) for run in (side.a, side.b) for part in run] == [(None, None)] * 2
    lengths = [sewn_length(after.piece(name).edge("side")) for name in ("front", "back")]
    assert lengths[0] == pytest.approx(lengths[1], abs=0.01)
