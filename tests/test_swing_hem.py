"""`swing` keeps the curves of a hem that lie away from the seam, on the panel that gains and on the one that loses."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, cubic, point, tangent
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.pattern.values import Edge, Pattern
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.cycle import with_edge
from tests.test_cut import made

PANELS = (
    "block skirt --size=bust-90\nback-off skirt-back.waist-dart --by=-10mm\n"
    "line --start=skirt-back.waist-dart.point --end=skirt-back.hem@1/2 --name=panel\n"
    "cut skirt-back.waist-dart skirt-back.panel --names=back-centre.centre,back-side.side\n"
)


def waved(edge: Edge) -> Edge:
    """A scalloped hem: two waves of 12 mm, its ends and the directions there as they were."""
    start, end = edge.start, edge.end
    along = end - start
    down = np.array([-along[1], along[0]]) / np.hypot(*along) * 12.0

    def at(u: float, v: float) -> Array:
        return np.asarray(start + u * along + v * down)

    parts = [
        cubic(at(0, 0), at(0.1, 0), at(0.15, 1), at(0.25, 1)),
        cubic(at(0.25, 1), at(0.35, 1), at(0.4, -1), at(0.5, -1)),
        cubic(at(0.5, -1), at(0.6, -1), at(0.65, 1), at(0.75, 1)),
        cubic(at(0.75, 1), at(0.85, 1), at(0.9, 0), at(1, 0)),
    ]
    return replace(edge, parts=(chain(parts, within=1e-9),))


def start() -> Pattern:
    pattern = made(PANELS)
    for name in ("back-centre", "back-side"):
        piece = pattern.piece(name)
        pattern = pattern.with_piece(with_edge(piece, waved(piece.edge("hem"))))
    return pattern


@pytest.mark.parametrize("share", [0.4, 0.6])
def test_a_scalloped_hem_stays_as_it_is_drawn_away_from_the_seam(share: float) -> None:
    before = start()
    after = made(f"swing back-centre.panel --about=back-centre.panel@1/2 --share={share}", before)
    total = sum(drawn_length(before.piece(name).edge("hem")) for name in ("back-centre", "back-side"))
    assert drawn_length(after.piece("back-centre").edge("hem")) == pytest.approx(share * total, abs=0.1)
    for name in ("back-centre", "back-side"):
        old, new = (p.piece(name).edge("hem").parts[0] for p in (before, after))
        panel = after.piece(name).edge("panel")
        near = min((panel.start, panel.end), key=lambda at: float(nearest(new, at)[1]))
        far = new.start if np.hypot(*(new.start - near)) > np.hypot(*(new.end - near)) else new.end
        # the far third lies where it lay, node for node
        looks = point(old, places_at(old, np.linspace(0, length(old), 101)))
        looks = looks[np.hypot(*(looks - far).T) < 0.3 * length(old)]
        assert len(looks) > 20
        assert nearest(new, looks)[1].max() < 1e-6
        # no corner where the new stretch begins, and square to the seam
        for k in range(1, len(new)):
            before_joint, after_joint = tangent(new, float(k), before=True), tangent(new, float(k))
            assert float(before_joint @ after_joint) > math.cos(math.radians(0.01))
        at_end = float(np.hypot(*(new.end - near))) < 1e-6
        own = tangent(new, float(len(new)), before=True) if at_end else tangent(new, 0.0)
        seam_end = float(np.hypot(*(panel.end - near))) < 1e-6
        part = panel.parts[-1] if seam_end else panel.parts[0]
        seam = tangent(part, float(len(part)), before=True) if seam_end else tangent(part, 0.0)
        assert abs(float(own @ seam)) < 1e-6
