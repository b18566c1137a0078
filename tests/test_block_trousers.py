"""Trousers: what must hold on every body, figures taken from the drawn outlines by scipy and shapely.

The relations are common practice of the trade, no source.
"""

from __future__ import annotations

import math
import os

import numpy as np
import pytest
from shapely.geometry import Polygon

from flatcut.blocks.trousers import draft_trousers, trousers_frame
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import flatten
from flatcut.pattern.assembling import Draft
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, area, outline
from flatcut.recipe import read_recipe, replay
from tests.test_block_relations import (
    SIX,
    TABLE,
    Body,
    bodies,
    corner,
    curvatures,
    degrees,
    drawn,
    end_way,
    level_width,
    mouth,
    start_way,
    steepest,
)

CHARTED = {**TABLE, **SIX}


def drafted(body: Body, **stated: float) -> Draft:
    return draft_trousers(trousers_frame(body, **stated), Uids())  # type: ignore[arg-type]  # counts and mm


def check(draft: Draft, body: Body, *, stretch: float = 0.0) -> None:
    back, front = draft.pieces
    # girths: half of each and its ease, darts closed
    assert drawn(back.edge("waist")) + drawn(front.edge("waist")) == pytest.approx((body["waist"] + 10) / 2, abs=0.5)
    hips = level_width(back, "hip-line") + level_width(front, "hip-line")
    assert hips == pytest.approx((body["hip"] + 40) / 2, abs=0.5)
    # seams: equally long, the inside leg stretched by what is stated
    assert drawn(back.edge("side")) == pytest.approx(drawn(front.edge("side")), abs=0.01)
    inside = [drawn(piece.edge("inside-leg")) for piece in draft.pieces]
    assert inside[1] - inside[0] == pytest.approx(stretch, abs=0.01)
    for seam in draft.seams:
        whole = Pattern(pieces=draft.pieces, seams=draft.seams)
        assert run_sewn(whole, seam.b) - run_sewn(whole, seam.a) == pytest.approx(seam.ease, abs=1e-6)
    # the crotch runs on over the inside leg, and the waist and the hem over the side
    fork = corner(front, "crotch", "inside-leg") + corner(back, "inside-leg", "crotch")
    assert fork == pytest.approx(180, abs=0.5)
    for edges in (("waist", "side"), ("hem", "side")):
        joined = sum(
            corner(p, *edges) if (p is back) == (edges[0] == "waist") else corner(p, *edges[::-1]) for p in draft.pieces
        )
        assert joined == pytest.approx(180, abs=2)
    # the seat seam and the fly run into the crotch without a kink
    for piece, first, second in ((back, "crotch", "centre"), (front, "centre", "crotch")):
        kink = degrees(-end_way(piece.edge(first).parts[-1]), start_way(piece.edge(second).parts[0]))
        assert kink < 0.01
        # square at the waist
        ends = ("centre", "waist") if piece is back else ("waist", "centre")
        assert corner(piece, *ends) == pytest.approx(90, abs=1)
        bend = curvatures(piece.edge("crotch"))
        assert (bend <= 1e-9).all() or (bend >= -1e-9).all()
    # the front's crotch line lies at the body rise and 1 cm for sitting below the front waist
    fork_y = float(front.edge("inside-leg").parts[0].start[1])
    assert fork_y - float(front.edge("centre").parts[0].start[1]) == pytest.approx(body["body-rise"] + 10, abs=0.5)
    # so the whole crotch is twice that, and longer by what the forks reach through between the legs
    crotch = sum(drawn(piece.edge(name)) for piece in draft.pieces for name in ("centre", "crotch"))
    through = crotch - 2 * (body["body-rise"] + 10)
    assert 0.08 <= through / body["hip"] <= 0.20, through
    # creases are upright, on the grain, and half-way across knee and hem
    for piece in draft.pieces:
        (crease,) = [line.curve for line in piece.lines if line.name == "crease"]
        assert crease.start[0] == crease.end[0]
        assert piece.grain is not None
        assert piece.grain.start[0] == piece.grain.end[0] == pytest.approx(crease.start[0], abs=1e-9)
        (knee,) = [line.curve for line in piece.lines if line.name == "knee-line"]
        assert (knee.start[0] + knee.end[0]) / 2 == pytest.approx(crease.start[0], abs=1e-6)
        hem = piece.edge("hem").parts[0]
        assert (hem.start[0] + hem.end[0]) / 2 == pytest.approx(crease.start[0], abs=1e-6)
        # sound outlines; side edges within 4 cm and 15° down to the hip; darts told
        ring = np.concatenate([flatten(c, tolerance=0.01)[:-1] for c in outline(piece)])
        assert Polygon(ring).is_valid
        assert area(piece) > 0
        said = " ".join(draft.warnings)
        for dart in piece.darts:
            assert mouth(dart) >= 0.99
            assert (f"{piece.name}.{dart.name} is" in said) == (mouth(dart) > 32.5)
            assert abs(np.diff([np.linalg.norm(foot - dart.points[0]) for foot in dart.feet])) < 1e-6
    assert steepest(back.edge("side")) < 40  # from hip to knee a wide hip leans in; above the hip see below
    for piece in draft.pieces:
        side = piece.edge("side").parts[0]
        span = side.controls[0] if piece is back else side.controls[-1]
        way = np.diff(span, axis=0)
        assert math.degrees(np.arctan2(np.abs(way[:, 0]), np.abs(way[:, 1])).max()) <= 15.5
        assert abs(span[3, 0] - span[0, 0]) <= 40.5


@pytest.mark.parametrize("name", CHARTED)
def test_trousers_of_charted_bodies(name: str) -> None:
    body = CHARTED[name]
    check(drafted(body), body)
    two = drafted(body, back_darts=2, front_darts=2)
    check(two, body)
    assert not [said for said in two.warnings if "dart" in said]


def test_an_inside_leg_is_stretched_as_stated() -> None:
    check(drafted(TABLE["A"], stretch=6.0), TABLE["A"], stretch=6.0)


def test_trousers_at_random() -> None:
    """FLATCUT_BODIES=60 makes that many."""
    rng, refused, count = np.random.default_rng(11), 0, int(os.environ.get("FLATCUT_BODIES", "20"))
    for body in bodies(500)[:count]:
        body = {
            **body,
            "body-rise": body["waist-to-hip"] + rng.uniform(60, 95),
            "waist-to-floor": rng.uniform(960, 1130),
        }
        try:
            draft = drafted(body)
        except FlatcutError:
            refused += 1
            continue
        check(draft, body)
    assert refused <= 0.05 * count


def test_trousers_by_the_command_replay_in_every_size() -> None:
    said = (
        "block trousers --front-darts=2 --knee=44cm --hem=40cm\nnotch trouser-front.waist-dart-2.foot-1\nallowance all"
    )
    names = []
    for size in ("bust-78", "bust-90", "bust-118"):
        pattern = replay(read_recipe(said.replace("trousers", f"trousers --size={size}", 1)), Pattern())
        assert [p.name for p in pattern.pieces] == ["trouser-back", "trouser-front"]
        assert {p.cut_as for p in pattern.pieces} == {"pair"}
        names.append([[t.name for t in p.things()] for p in pattern.pieces])
    assert names[0] == names[1] == names[2]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("block trousers --size=bust-90 --body-rise=22cm", "do not follow one another"),
        ("block trousers --size=bust-90 --hem=90cm", "give another --hem"),
        ("block trousers --waist=70cm --hip=95cm --waist-to-hip=20cm", "trousers needs body-rise"),
    ],
)
def test_one_sentence_for_what_is_wrong(line: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        replay(read_recipe(line), Pattern())
