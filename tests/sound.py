"""Sound garments of random sizes and allowances, after random operations one after another."""

from __future__ import annotations

import random
from functools import cache

from flatcut.blocks.body import SIZES
from flatcut.pattern.values import Pattern
from tests.seeding import ROOT, made
from tests.seeding import top as demo

TOP_EDGES = "edge front.neck back.neck front.waist back.waist --use=finished"
UPPER: dict[str, list[str]] = {
    "bodice": [
        "pivot front.bust-dart --to=front.shoulder@{third} --true=3",
        "pivot front.bust-dart --to=front.side@{cm}cm --true=3",
        "release back.shoulder-dart --to=ease --true=3",
        "release front.waist-dart --to=gathers --either-side=3cm --true=3",
        "back-off front.bust-dart --by={mm}mm --true=3",
        "notch front.side@{cm}cm --mates",
        "notch back.shoulder@{third} --mates",
        "pivot front.bust-dart --to=front.armhole@1/2 --true=3\ntrue front.neck+back.neck",
        "drill front.bust-dart",
        "point --at=front.side@{third} --name=mark",
        "line --start=front.side@{third} --end=front.centre@1/2 --name=level --open",
    ],
    "torso": ["notch front.side@{cm}cm --mates", "notch front.armhole@1/3 --mates", "drill front.bust-dart"],
    "dress": [
        "notch front.side@{cm}cm --mates",
        "release back.shoulder-dart --to=ease --true=3",
        "button front.centre@3cm..-20cm --count=5",
    ],
}
LOWER = {
    "skirt": [
        "notch skirt-front.side@-{cm}cm --mates",
        "release skirt-front.waist-dart --to=ease --true=3",
        "back-off skirt-back.waist-dart --by={mm}mm --true=3",
        "line --start=skirt-front.waist@1/3 --end=skirt-front.hem@1/3 --name=slash --open\n"
        "spread skirt-front.slash --amount={mm}mm --at=skirt-front.hem --true=3",
        "button skirt-front.centre@3cm..-9cm --count=4",
    ],
    "trousers": [
        "notch trouser-front.side@{third} --mates",
        "drill trouser-back.waist-dart",
        "back-off trouser-front.waist-dart --by={mm}mm --true=3",
    ],
}
PANELS = (ROOT / "samples/panels/shoulder-panels.recipe").read_text().partition("# allowances")[0]


def variant(number: int) -> tuple[str, Pattern]:
    """What was done, as lines of a recipe, and the garment it has made."""
    rng = random.Random(f"sound {number}")
    kind = rng.choice(["top", "bodice", "bodice", "torso", "dress", "skirt", "skirt", "trousers", "panels"])
    drafted, lines = _drafted(kind, rng), []
    start = demo() if kind == "top" else _made("\n".join(drafted))
    for line in rng.sample(_after(kind), min(len(_after(kind)), rng.randint(0, 3))):
        third, cm, mm = rng.choice(("1/3", "1/2", "2/3")), rng.randint(5, 9), rng.randint(6, 20)
        lines.append(line.format(third=third, cm=cm, mm=mm))
    lines.append(f"allowance all --width={rng.randint(6, 16)}mm")
    hems = "".join(f" {edge}" for edge in HEMS[kind])
    if hems:
        lines.append(f"allowance{hems} --width={rng.choice((20, 25, 30, 40))}mm")
    lines.append("label all --material=shell")
    if rng.random() < 0.3:
        lines.append("arrange --gap=4cm")
    return "\n".join([*drafted, *lines]), made("\n".join(lines), start)


_made = cache(made)
"""Blocks of one size are drafted once."""


HEMS = {
    "top": [],
    "bodice": ["sleeve.hem"],
    "torso": ["sleeve.hem", "front.hip", "back.hip"],
    "dress": ["sleeve.hem", "front.hem", "back.hem"],
    "skirt": ["skirt-front.hem", "skirt-back.hem"],
    "trousers": ["trouser-front.hem", "trouser-back.hem"],
    "panels": [],
}


def _drafted(kind: str, rng: random.Random) -> list[str]:
    size = rng.choice(list(SIZES))
    if kind == "top":
        return []
    if kind == "panels":
        return PANELS.replace("block bodice", f"block bodice --size={size}").splitlines()
    if kind in ("skirt", "trousers"):
        name = "skirt" if kind == "skirt" else "trouser"
        return [f"block {kind} --size={size}", f"edge {name}-front.waist {name}-back.waist --use=finished"]
    method = rng.choice(("neck-and-across", "bust-only"))
    waists = " front.waist back.waist" if kind == "bodice" else ""
    return [
        f"block {kind} --size={size} --method={method}",
        f"block sleeve --size={size}",
        f"edge front.neck back.neck{waists} --use=finished",
    ]


def _after(kind: str) -> list[str]:
    if kind == "top":
        return [
            "notch front.side@6cm --mates",
            "button back.centre@1cm..-1cm --count={cm}",
            "true front.waist+back.waist",
        ]
    return {**UPPER, **LOWER}.get(kind, ["notch front-side.princess@{cm}cm --mates"])
