"""The garments of `samples/garments`, each drafted once for a body and shared by all tests of it."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from types import MappingProxyType

from flatcut.blocks.body import sizes_or_errors
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "samples" / "garments"
TABLE = sizes_or_errors((ROOT / "samples" / "panels" / "sizes.toml").read_text())
"""Bodies from bust 76 to 122."""
ROW_A = "A"
"""Aldrich, Metric Pattern Cutting for Women's Wear, size 10 (as restated publicly; in part from memory)."""
BODIES = {**sizes_or_errors((ROOT / "tests" / "data" / "trade_bodies.toml").read_text()), **TABLE}
SIZES = tuple(TABLE) if os.environ.get("FLATCUT_GARMENTS") == "all" else ("bust-76", "bust-122")
"""FLATCUT_GARMENTS=all drafts each garment for every body of the table, which takes minutes."""
NAMES = sorted(path.stem for path in FOLDER.glob("*.recipe"))


def text_of(name: str) -> str:
    """The recipe of a garment."""
    return (FOLDER / f"{name}.recipe").read_text(encoding="utf-8")


def drafted(text: str, size: str) -> Pattern:
    """A recipe drafted for a body, whose name is the size on the labels."""
    body = BODIES[size]
    assert isinstance(body, dict)
    text = text.replace(" --size=bust-90", "").replace(" --size=90", "")
    sized = f"\n{text}".replace("\nstyle ", f"\nstyle --size={size} ")
    return replay(read_recipe(sized), Pattern(body=MappingProxyType(body)))


@cache
def garment(name: str, size: str = ROW_A) -> Pattern:
    """A garment for a body."""
    return drafted(text_of(name), size)
