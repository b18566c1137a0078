"""What a kind of collar is, and the family of them.

A kind is one frozen dataclass in one file of this folder, which gives it its name; its fields are its options. Usual
figures are common practice of the trade, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from flatcut.collars.neckline import Neckline
from flatcut.collars.pieces import Drafted
from flatcut.declared.declared import Declared, option
from flatcut.declared.family import Family
from flatcut.declared.fields import length as mm
from flatcut.pattern.uids import Uids


@dataclass(frozen=True, kw_only=True)
class Kind(Declared):
    """The base of all kinds. pieces: the usual names of its pieces, in their order."""

    pieces: ClassVar[tuple[str, ...]] = ()

    @property
    def name(self) -> str:
        """The name of the kind, that of its file."""
        return option(type(self).__module__.rsplit(".", 1)[-1])

    def draft(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        """The pieces for a neckline, with one name for each. Errors: any FlatcutError."""
        raise NotImplementedError


HIGH, FALL, HIDES = 30.0, 45.0, 10.0
"""mm: of a stand at the centre back 25 to 40, width of the fall there, and how much wider than the stand it is so that
the neck seam is hidden (common practice, no source)."""


def stand_height() -> Any:
    """The field of how high a collar stands."""
    return mm(HIGH, ("height of the stand", "at the centre back, and all along"), low=8, high=120)


def fall_width() -> Any:
    """The field of how wide a fall is."""
    return mm(FALL, ("width of the fall", "at the centre back"), low=10, high=200)


def hidden(wider: float) -> tuple[str, ...]:
    """A warning where a fall is not so much wider than its stand that the neck seam is hidden."""
    if wider < HIDES - 1e-9:
        return (f"the fall is {wider:.1f} mm wider than the stand; under {HIDES:g} mm the neck seam shows",)
    return ()


def turned_under() -> Any:
    """The field of how much smaller the under collar is."""
    return mm(2.0, ("under collar smaller by", "at its outer edge, so that the seam rolls under"), high=10)


def round_corner() -> Any:
    """The field of a rounded corner at the opening."""
    return mm(0.0, ("rounded over", "how much of both edges a curve takes off the corner at the opening"), high=120)


FAMILY: Family[Kind] = Family(
    command="collar",
    package="flatcut.collars.kinds",
    folder=Path(__file__).parent,
    base=Kind,
    framework=frozenset({"__init__", "kind"}),
)
