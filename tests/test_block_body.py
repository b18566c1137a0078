"""Tables of measurements, and the bodies that are known."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.blocks.body import IMPOSSIBLE, MEASUREMENTS, SIZES, checked, read_measures
from flatcut.errors import FlatcutError, InputError, UnknownNameError, UsageError
from flatcut.tables import read_table
from tests.bodies import read_sizes

ROOT = Path(__file__).parent
BALANCE = {"front-waist-length", "neck-to-bust"}
"""Left out of tables of sizes, which know nothing of one body's balance: then they follow from the bust."""
TABLES = [ROOT / "data" / "trade_bodies.toml", *sorted((ROOT.parent / "samples" / "measures").glob("*.toml"))]


@pytest.mark.parametrize(
    "text", ["bust", "bust = ", "bust = 1\nbust = 2", "[a\nb = 1", "a = 1 2", 'a = "x', "[a]\n[a]"]
)
def test_broken_tables_say_where(text: str) -> None:
    with pytest.raises(InputError, match=r"line \d|end of document") as caught:
        read_table(text)
    assert "\n" not in str(caught.value)


def test_samples_are_whole_bodies() -> None:
    (one,) = [read_measures(p.read_text(encoding="utf-8")) for p in TABLES if p.stem == "olive"]
    assert set(one) == set(MEASUREMENTS)
    (table,) = [read_sizes(p.read_text(encoding="utf-8")) for p in TABLES if p.stem == "sizes"]
    for size, body in table.items():
        assert set(body) == set(MEASUREMENTS) - BALANCE, size
        assert all(MEASUREMENTS[name].low <= value <= MEASUREMENTS[name].high for name, value in body.items())


def test_the_list_of_sizes_is_of_usual_bodies() -> None:
    for size, body in SIZES.items():
        assert set(body) == set(MEASUREMENTS) - BALANCE
        for name, value in body.items():
            assert MEASUREMENTS[name].low <= value <= MEASUREMENTS[name].high, (size, name)


def test_units_of_a_table() -> None:
    # 1 in = 25.4 mm (international yard and pound agreement, 1959)
    assert read_measures('units = "in"\nbust = 36\nwaist = "70cm"') == {"bust": 36 * 25.4, "waist": 700.0}
    assert read_sizes('units = "cm"\n[a]\nunits = "in"\nbust = 36\n[b]\nbust = 90') == {
        "a": {"bust": 36 * 25.4},
        "b": {"bust": 900.0},
    }


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("bist = 900", UnknownNameError, "did you mean 'bust'"),
        ("bust = 88", UsageError, "bust is 8.8 cm, and no body has that; it is usually 76 to 122 cm"),
        ("bust = true", UsageError, "bust takes a length"),
        ("bust = 900\n[a]\nwaist = 700", InputError, "holds one body"),
        ("nape-to-waist = 400\nnape_to_waist = 410", UsageError, "given twice"),
        ('bust = "88 ells"', UsageError, "'ells' is not a unit"),
        ('bust = "88,5cm"', UsageError, "decimal comma"),
        ('units = "ells"\nbust = 1', UsageError, "'ells' is not a unit"),
    ],
)
def test_one_sentence_for_a_bad_measure(text: str, error: type[FlatcutError], said: str) -> None:
    with pytest.raises(error, match=said):
        read_measures(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "has no size"),
        ("bust = 900", "stands outside a size"),
        ("[12]\nbust = 9", "bust is 0.9 cm"),
    ],
)
def test_one_sentence_for_a_bad_size_table(text: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        read_sizes(text)


@pytest.mark.parametrize("name", MEASUREMENTS)
def test_impossible_figures_are_named(name: str) -> None:
    known = MEASUREMENTS[name]
    assert checked(name, known.low) == known.low
    for value in (0.99 * IMPOSSIBLE[0] * known.low, 1.01 * IMPOSSIBLE[1] * known.high, float("nan")):
        with pytest.raises(UsageError, match=f"{name} is .*usually"):
            checked(name, value)
