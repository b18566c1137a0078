"""All blocks, by both methods, on six bodies that differ: a table of what a cutter measures first, and its limits.

`pytest -s tests/test_block_six.py` prints the table. Limits are common practice of the trade, no source.
"""

from __future__ import annotations

import pytest

from tests.test_block_relations import (
    APPLIES,
    BLOCKS,
    RELATIONS,
    SIX,
    Case,
    at_shoulder,
    check,
    drafted,
    drawn,
    front_longer,
    level_width,
    mouth,
    side_shaping,
    slopes,
    sound,
    steepest,
)

COUNTS = (1, 2)
HEAD = (
    "half girths: bust waist hip | slopes back front | darts: shoulder, bust; waist back, front | side: cm, steepest"
    " | neck radii mm back, front | armhole back, front | front longer"
)


def girths(case: Case) -> list[float]:
    """Half girths in cm, darts closed: bust, waist and hip, those that the block has."""
    found = []
    for line, edge in (("bust-line", ""), ("waist-line", "waist"), ("hip-line", "hip")):
        lines = [p for p in case.draft.pieces if line in {one.name for one in p.lines}]
        edges = [p for p in case.draft.pieces if edge in {one.name for one in p.edges}]
        if lines:
            found.append(sum(level_width(p, line) for p in lines) / 10)
        elif edges:
            found.append(sum(drawn(p.edge(edge)) for p in edges) / 10)
    return found


def row(case: Case, body: str) -> str:
    darts = {
        f"{p.name.removeprefix('skirt-')} {d.name}": f"{mouth(d) / 10:.1f}" for p in case.draft.pieces for d in p.darts
    }
    upper = [value for name, value in darts.items() if "waist" not in name]
    waist = [
        "+".join(value for name, value in darts.items() if name.startswith(f"{part} waist"))
        for part in ("back", "front")
    ]
    said = [
        f"{case.kind:<7}{case.method:<16}{body:<14}",
        " ".join(f"{value:.2f}" for value in girths(case)),
        "{:.1f} {:.1f}".format(*slopes(case)) if case.kind != "skirt" else "-",
        f"{' '.join(upper) or '-'}; {' '.join(waist)}",
        f"{max(side_shaping(case)) / 10:.1f} {max(steepest(p.edge('side')) for p in case.draft.pieces):.1f}°",
    ]
    if case.kind != "skirt":
        back, front = at_shoulder(case.back.edge("neck"), ends=True), at_shoulder(case.front.edge("neck"), ends=False)
        said += [
            f"{back[0]:.0f} {front[0]:.0f}",
            f"{drawn(case.back.edge('armhole')) / 10:.1f} {drawn(case.front.edge('armhole')) / 10:.1f}",
            f"{front_longer(case) / 10:.1f}",
        ]
    return " | ".join(said)


@pytest.mark.parametrize(("kind", "method"), BLOCKS)
def test_six_bodies(kind: str, method: str) -> None:
    print(f"\n{HEAD}")
    for body, measured in SIX.items():
        for count in COUNTS:
            case = drafted(kind, method, {**measured, "scye apart": 1.0}, back_darts=count, front_darts=count)
            print(row(case, body))
            check(case)
            for warning in case.draft.warnings:
                print(f"    {warning}")
            if kind in ("bodice", "torso", "dress"):
                back, front = slopes(case)
                assert 16 <= back <= 22
                assert 18 <= front <= 24
            if count == 2 and kind != "skirt":
                # two darts are enough for every one of them, the pear included
                assert not [w for w in case.draft.warnings if "waist-dart" in w]


BALANCE = {"front-waist-length": 10.0, "neck-to-bust": 14.0}


@pytest.mark.parametrize("method", ["neck-and-across", "bust-only"])
def test_the_six_with_a_front_of_their_own(method: str) -> None:
    """A front longer over the bust than usual, by 1 cm: all that holds for the usual ones holds, but the balance."""
    for body, measured in SIX.items():
        usual = drafted("bodice", method, measured)
        told = {figure.label.removesuffix(", by the bust"): figure.value for figure in usual.draft.figures}
        own = {name: told[name] + more for name, more in BALANCE.items()}
        case = drafted("bodice", method, {**measured, **own, "scye apart": 1.0})
        assert front_longer(case) > front_longer(usual)
        for number, relation in RELATIONS.items():
            if number != 9 and "bodice" in APPLIES[number][0]:
                relation(case)
        sound(case)
        again = {figure.label: figure.value for figure in case.draft.figures}
        for name, value in own.items():
            assert again[name] == pytest.approx(value, abs=1e-6), (body, name)
