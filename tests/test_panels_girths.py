"""Bust, waist and hip of a block that was cut into panels, walked with the seams closed, are those of the block.

Ten bodies; the relations hold within ±0.5 mm (common practice, no source: what a hand that traces panels is allowed).
The block's own girths are held against the measurements in test_block_relations.py; here they are measured once more
from the outline itself: chords of the level line that lie on cloth, by shapely.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
import shapely

from flatcut.blocks.body import sizes_or_errors
from flatcut.pattern.runs import as_edge
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay
from tests.test_cut import shape

BODIES = [
    body
    for body in sizes_or_errors((Path(__file__).parents[1] / "samples" / "panels" / "sizes.toml").read_text()).values()
    if isinstance(body, dict)
]
BLOCK = "block torso --front-darts=1 --back-darts=1\n"
CUT = """pivot front.bust-dart --to=front.shoulder@1/2
back-off front.waist-dart.upper --to=front.bust-point
line --start=front.waist-dart.lower --parallel=grain --until=front.hip --name=panel
cut front.bust-dart front.waist-dart front.panel --edge=panel --names=front-centre.centre,front-side.side
line --start=back.shoulder-dart.point --end=back.waist-dart.upper --name=princess
line --start=back.waist-dart.lower --parallel=grain --until=back.hip --name=low
cut back.shoulder-dart back.princess back.waist-dart back.low --edge=panel --names=back-centre.centre,back-side.side
"""


def bodies() -> list[dict[str, float]]:
    """Ten: those of the table, and three between two of them."""
    between = [{key: (a[key] + b[key]) / 2 for key in a if key in b} for a, b in pairwise(BODIES)]
    return [*BODIES, *between][:10]


def level(pieces: list[Piece], name: str) -> float:
    """What of a balance line lies on the pieces, darts closed."""
    return sum(
        sewn_length(as_edge(piece, line)) for piece in pieces for line in piece.lines if line.name.startswith(name)
    )


def on_cloth(piece: Piece, name: str) -> float:
    """The same of a whole piece by chords: of the line what lies inside the outline and outside double darts."""
    cloth = shape(piece)
    for dart in piece.darts:
        if dart.double:
            cloth = cloth.difference(shapely.Polygon([*dart.legs[0].nodes, *dart.legs[1].nodes]))
    lines = [shapely.LineString(line.curve.nodes) for line in piece.lines if line.name.startswith(name)]
    return sum(cloth.buffer(1e-6).intersection(line).length for line in lines)


@pytest.mark.parametrize("k", range(10))
def test_girths_of_the_panels_are_those_of_the_block(k: int) -> None:
    found = bodies()
    assert len(found) == 10
    pattern = Pattern(body=found[k])
    block = replay(read_recipe(BLOCK), pattern)
    panels = replay(read_recipe(CUT), block)
    assert [p.name for p in panels.pieces] == ["back-centre", "back-side", "front-centre", "front-side"]
    for side in ("back", "front"):
        own = [p for p in panels.pieces if p.name.startswith(side)]
        whole = block.piece(side)
        hips = [sum(sewn_length(p.edge("hip")) for p in own), sewn_length(whole.edge("hip"))]
        assert hips[0] == pytest.approx(hips[1], abs=0.5)
        for name in ("waist-line", "bust-line"):
            assert level(own, name) == pytest.approx(on_cloth(whole, name), abs=0.5), (side, name)
        # both edges of the panel seam are equal, and nothing but the darts went
        edges = [sewn_length(p.edge("panel")) for p in own]
        assert edges[0] == pytest.approx(edges[1], abs=0.5)
