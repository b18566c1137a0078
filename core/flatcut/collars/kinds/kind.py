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
