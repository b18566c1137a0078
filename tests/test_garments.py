"""Worked garments: from block to cut pieces in one recipe, sound in every size, and each as its cutter wants it.

What a garment has to hold is common practice of the trade, no source, where none is named.
"""

from __future__ import annotations

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.garments import BODIES, NAMES, ROW_A, SIZES, drafted, garment, text_of

ALL = (ROW_A, *SIZES)


def names(pattern: Pattern) -> list[tuple[str, str, list[str]]]:
    return [(p.name, p.cut_as, sorted(edge.name for edge in p.edges)) for p in pattern.pieces]


def edge_sewn(pattern: Pattern, edge: str) -> float:
    piece, _, name = edge.partition(".")
    return sewn_length(pattern.piece(piece).edge(name))


def edge_drawn(pattern: Pattern, edge: str) -> float:
    piece, _, name = edge.partition(".")
    return drawn_length(pattern.piece(piece).edge(name))


def body(size: str, name: str) -> float:
    found = BODIES[size]
    assert isinstance(found, dict)
    return found[name]


@pytest.mark.parametrize("size", ALL)
@pytest.mark.parametrize("name", NAMES)
def test_a_garment_is_sound_in_every_size(name: str, size: str) -> None:
    """The same pieces and edges in all sizes, and nothing that a cutter would not want."""
    pattern = garment(name, size)
    assert names(pattern) == names(garment(name))
    assert [f.text for f in run_checks(pattern)] == []


@pytest.mark.parametrize("size", ALL)
def test_the_six_gores_are_alike(size: str) -> None:
    """Each is a sixth of waist and hip with usual ease, 12 cm wider at the hem; facings are as long as the waist."""
    pattern = garment("campion-skirt", size)
    for name in ("gore", "gore-front", "gore-back"):
        assert edge_sewn(pattern, f"{name}.waist") == pytest.approx((body(size, "waist") + 10) / 6, abs=0.5)
        assert edge_sewn(pattern, f"{name}.hem") == pytest.approx((body(size, "hip") + 40) / 6 + 120, abs=2)
        assert edge_sewn(pattern, f"{name}-facing.waist") == pytest.approx(edge_sewn(pattern, f"{name}.waist"), abs=0.5)
    assert sum(p.quantity for p in pattern.pieces if p.name in ("gore", "gore-front", "gore-back")) == 6


def test_gores_of_the_textbook_figures() -> None:
    """Waist 72, hip 96 without ease: 12 and 16 cm each; 6 cm of flare at each edge: 28, so 168 in all (arithmetic)."""
    text = text_of("campion-skirt").replace("gore --high", "gore --waist=72cm --hip=96cm --high")
    pattern = drafted(text, ROW_A)
    hems = [edge_sewn(pattern, f"{name}.hem") for name in ("gore", "gore-front", "gore-back")]
    assert hems == pytest.approx([280] * 3, abs=2)
    assert edge_sewn(pattern, "gore.waist") == pytest.approx(120, abs=0.5)


@pytest.mark.parametrize("size", ALL)
def test_the_blouse_goes_together(size: str) -> None:
    """Stand = neckline + two stands; cuff = wrist, ease and overlap; buttons even."""
    pattern = garment("hazel-blouse", size)
    # the front's neck holds its stand of 15 already: half the neckline and one stand
    necks = edge_sewn(pattern, "back.neck") + edge_sewn(pattern, "front.neck")
    assert edge_drawn(pattern, "stand.neck") == pytest.approx(necks, abs=1.0)
    assert edge_drawn(pattern, "cuff.seam") == pytest.approx(body(size, "wrist") + 75, abs=1.0)
    assert len([b for b in pattern.piece("front").buttons if b.kind == "buttonhole"]) == 6


def test_a_lower_neck_needs_no_other_word() -> None:
    """The front neck lowered by 2 cm: the collar fits again, and nothing else is said."""
    lowered = "move front.neck/centre --by=-2cm\nplacket front.centre"
    plain = garment("hazel-blouse")
    deep = drafted(text_of("hazel-blouse").replace("placket front.centre", lowered), ROW_A)
    necks = [edge_sewn(p, "back.neck") + edge_sewn(p, "front.neck") for p in (plain, deep)]
    stands = [edge_drawn(p, "stand.neck") for p in (plain, deep)]
    assert necks[1] - necks[0] > 8
    assert stands == pytest.approx(necks, abs=1e-6)
