"""Raglan sleeves made of set-in ones: both sides of each raglan seam alike, notches carried, lines that run on."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
import shapely

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, sewn_at, sewn_length
from tests.seeding import made

SIZES = ("bust-78", "bust-86", "bust-94", "bust-106", "bust-118")
START = """
block bodice --size={}
block sleeve --cap-ease=0
pivot front.bust-dart --to=front.side/armhole@7cm
release back.shoulder-dart --to=ease
"""
DONE = """
edge front.neck back.neck front.waist back.waist sleeve-front.neck sleeve-back.neck --use=finished
allowance all --width=1cm
label all --material=shell
"""


@lru_cache
def start(size: str) -> Pattern:
    return made(START.format(size))


@lru_cache
def raglan(size: str = "bust-94", more: str = "") -> Pattern:
    return made(f"raglan sleeve {more}", start(size))


def chords(piece: Piece, edge: str) -> np.ndarray:
    return flatten(chain(piece.edge(edge).parts, within=1e-6), tolerance=0.001)


def long(points: np.ndarray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


@pytest.mark.parametrize("size", SIZES)
def test_both_sides_of_a_raglan_seam_are_one_line(size: str) -> None:
    """Equally long, and the same curve: laid on each other by their ends they cover each other (exact)."""
    pattern = raglan(size)
    for name in ("front", "back"):
        one, two = (chords(pattern.piece(p), "raglan") for p in (name, f"sleeve-{name}"))
        assert long(one) == pytest.approx(long(two), abs=0.02)
        two = two[::-1]
        ways = [rows[-1] - rows[0] for rows in (one, two)]
        turn = np.arctan2(*ways[0][::-1]) - np.arctan2(*ways[1][::-1])
        matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        laid = (two - two[0]) @ matrix.T + one[0]
        assert shapely.LineString(one).hausdorff_distance(shapely.LineString(laid)) < 0.05
        seams = [s for s in pattern.seams if f"{name}.raglan" in f"{show_run(pattern, s.a)} {show_run(pattern, s.b)}"]
        assert any(f"sleeve-{name}.raglan" in f"{show_run(pattern, s.a)} {show_run(pattern, s.b)}" for s in seams)


@pytest.mark.parametrize("size", SIZES)
def test_it_sews_together(size: str) -> None:
    pattern = raglan(size)
    assert [f.text for f in run_checks(made(DONE, pattern))] == []
    for seam in pattern.seams:
        assert run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) == pytest.approx(seam.ease, abs=0.05)
    # the armhole below its notch is as it was, and the ease of the back shoulder is still there
    for name in ("front", "back"):
        low = sewn_length(pattern.piece(name).edge("armhole"))
        assert sewn_length(pattern.piece(f"sleeve-{name}").edge("cap")) == pytest.approx(low, abs=2.0)
    shoulders = [sewn_length(start(size).piece(n).edge("shoulder")) for n in ("back", "front")]
    drawn = [drawn_length(start(size).piece(n).edge("shoulder")) for n in ("back", "front")]
    assert shoulders[0] == pytest.approx(shoulders[1], abs=1.0)
    told = {f.label: f.value for f in pattern.steps[-1].figures}
    assert told["shoulder of sleeve-back longer than that of sleeve-front"] == pytest.approx(
        drawn[0] - drawn[1], abs=0.05
    )


@pytest.mark.parametrize("size", SIZES[::2])
def test_its_lines_run_on(size: str) -> None:
    """At the end of the raglan line, on body and sleeve; the body only loses (common practice, no source)."""
    pattern = raglan(size)
    for name in ("front", "back"):
        for piece, low in ((pattern.piece(name), "armhole"), (pattern.piece(f"sleeve-{name}"), "cap")):
            order = [e.name for e in piece.edges]
            k, n = order.index("raglan"), len(order)
            first = "raglan" if order[(k + 1) % n] == low else low
            assert inside_angle(piece, piece.edge(first)) == pytest.approx(180.0, abs=3.0)
        was, now = (ring(p.piece(name)) for p in (start(size), pattern))
        assert now.difference(was.buffer(0.05)).area < 1.0
        assert 2000 < was.area - now.area < 30000


def test_the_notches_are_carried() -> None:
    """That of the armhole ends the raglan line, on both pieces; one in its middle, two in the back."""
    pattern = raglan()
    for name, count in (("front", 1), ("back", 2)):
        hole = start("bust-94").piece(name).edge("armhole")
        notch = next(n for n in start("bust-94").piece(name).notches if n.edge == hole.uid)
        below = sewn_at(hole, notch.at)
        below = below if name == "front" else sewn_length(hole) - below
        assert sewn_length(pattern.piece(name).edge("armhole")) == pytest.approx(below, abs=0.02)
        for piece in (pattern.piece(name), pattern.piece(f"sleeve-{name}")):
            uids = {piece.edge(e).uid for e in ("raglan", "cap" if piece.name.startswith("sleeve") else "armhole")}
            counts = [n.count for n in piece.notches if n.edge in uids]
            assert counts.count(count) >= 2, (piece.name, counts)


def test_it_begins_where_it_is_told_to() -> None:
    pattern = raglan("bust-94", "--front=55 --back=20 --ends=6cm --bow=0 --lift=12 --names=upper-back,upper-front")
    was = start("bust-94")
    for name, far in (("front", 55.0), ("back", 20.0)):
        assert drawn_length(pattern.piece(f"upper-{name}").edge("neck")) == pytest.approx(far, abs=0.02)
        rest = drawn_length(was.piece(name).edge("neck")) - far
        assert drawn_length(pattern.piece(name).edge("neck")) == pytest.approx(rest, abs=0.02)
        assert sewn_length(pattern.piece(name).edge("armhole")) == pytest.approx(60.0, abs=0.02)


BAD = {
    "raglan front": "edge of front|cap",
    "raglan sleeve back": "one sleeve",
    "raglan sleeve --front=24cm": "nearer to the shoulder",
    "raglan sleeve --ends=18cm": "give less with --ends",
    "raglan sleeve --names=a,b,c": "two names",
    "raglan sleeve --lift=6cm --ends=3cm": "lift|over itself|off its armhole|longer",
    "raglan sleeve --names=back": "already",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, start("bust-94"))


def test_a_dart_in_its_way_is_told() -> None:
    with pytest.raises(FlatcutError, match=r"a dart opens on back\.shoulder; pivot it elsewhere first"):
        made("raglan sleeve", made("block bodice --size=bust-94\nblock sleeve --cap-ease=0"))
