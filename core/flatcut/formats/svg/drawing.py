"""A document together with the pieces that were found in it: what `write` needs to change only what changed."""

from __future__ import annotations

from dataclasses import dataclass, field

from lxml import etree

from flatcut.formats.svg.document import Document
from flatcut.pattern.values import Pattern, Piece


@dataclass(kw_only=True)
class Held:
    """Where a piece stands. group: None once it was ungrouped; inner: elements of lines, drawn darts, grain by uid.

    piece: as read; stale: its drawing must be made anew even when the piece does not change.
    """

    piece: Piece
    group: etree._Element | None
    outline: etree._Element
    inner: dict[str, etree._Element] = field(default_factory=dict)
    derived: list[etree._Element] = field(default_factory=list)
    stale: bool = False


@dataclass(kw_only=True)
class Drawing:
    """held: by uid of the piece; drawn: elements of drawn objects by id; first: outlines as first read, by uid.

    unread: uids of pieces that could not be matched; they are left as they are. faults: why pieces were written
    without the cut line that they should have.
    """

    document: Document
    pattern: Pattern
    held: dict[str, Held]
    drawn: dict[str, etree._Element]
    first: dict[str, str]
    unread: set[str] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)
