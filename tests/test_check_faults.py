"""Random faults of many kinds in many garments, all found and named first; random clean variants, in which none is.

With -s the table of what was put in and found is printed. FLATCUT_LONG=1 draws more, from other seeds: as many again of
the faults and forty more variants, or FLATCUT_FAULTS times as many and FLATCUT_VARIANTS.
"""

from __future__ import annotations

import os
import random
from collections import Counter

import pytest

from flatcut.checks.check import run_checks
from tests.faulty import GARMENTS, KINDS, Fault, garment
from tests.sound import variant


def drawn(kind: str, name: str, seed: int) -> Fault | None:
    return KINDS[kind](random.Random(f"{kind} {name} {seed}"), garment(name))


def row(kind: str, name: str, seed: int) -> tuple[str, str, str, str] | None:
    """What was put in, what was told first, and what is wrong with that; None where there is no place for the fault."""
    fault = drawn(kind, name, seed)
    if fault is None:
        return None
    found = run_checks(fault.pattern)
    if not found:
        return kind, fault.said, "", "nothing was found"
    first = found[0]
    named = first.check in fault.checks and any(part in text for text in first.where for part in fault.where)
    return kind, fault.said, f"{first.check}: {first.text}", "" if named else f"wanted {fault.checks} of {fault.where}"


def tabled(seeds: range) -> None:
    rows = [
        (name, found)
        for kind in KINDS
        for name in GARMENTS
        for seed in seeds
        if (found := row(kind, name, seed)) is not None
    ]
    print()
    for name, (kind, said, told, wrong) in rows:
        print(f"{kind:<22} {name:<9} {said:<48.48} {told:<70.70} {wrong}")
    count = Counter(kind for _, (kind, *_) in rows)
    first = Counter(kind for _, (kind, *_, wrong) in rows if not wrong)
    for kind in count:
        print(f"{kind:<22} {first[kind]} of {count[kind]} found and named first")
    print(f"all: {sum(first.values())} of {sum(count.values())}, {len(count)} kinds, {len(GARMENTS)} garments")
    assert len(rows) >= 100 * len(seeds)
    assert len(count) >= 12
    assert [(name, found) for name, found in rows if found[3]] == []


def test_seeded_faults_are_all_found_and_named_first() -> None:
    tabled(range(1))


@pytest.mark.long
def test_as_many_faults_again_from_other_seeds() -> None:
    tabled(range(1, 1 + int(os.environ.get("FLATCUT_FAULTS", "1"))))


@pytest.mark.parametrize("name", GARMENTS)
def test_the_garments_are_sound(name: str) -> None:
    assert [f.text for f in run_checks(garment(name))] == []


def clean(numbers: range) -> None:
    told: list[tuple[int, str, list[str]]] = []
    print()
    for number in numbers:
        text, pattern = variant(number)
        found = [f.text for f in run_checks(pattern)]
        first = next(line for line in text.splitlines() if line and not line.startswith("#"))
        print(
            f"{number:>3} {first:<48} {len(pattern.pieces)} pieces, {len(text.splitlines())} steps: {found or 'clean'}"
        )
        if found:
            told.append((number, text, found))
    print(f"{len(numbers) - len(told)} of {len(numbers)} clean")
    assert told == []


@pytest.mark.parametrize("part", range(4))
def test_a_hundred_sound_variants_are_clean(part: int) -> None:
    clean(range(25 * part, 25 * part + 25))


@pytest.mark.long
def test_other_variants_are_clean() -> None:
    clean(range(100, 100 + int(os.environ.get("FLATCUT_VARIANTS", "40"))))
