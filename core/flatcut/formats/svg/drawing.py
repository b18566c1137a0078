"""A document together with the pieces that were found in it: what `write` needs to change only what changed."""

from __future__ import annotations

from dataclasses import dataclass, field

from lxml import etree

from flatcut.formats.svg.document import Document
from flatcut.pattern.values import Pattern, Piece, Seam


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

    unread: names of pieces that could not be matched or are hidden, by uid; they are left as they are, and aside are
    the seams to them. orphans: flatcut's own drawing of pieces that are gone; husks: groups without an outline.
    faults: why pieces were written without the cut line that they should have.
    """

    document: Document
    pattern: Pattern
    held: dict[str, Held]
    drawn: dict[str, etree._Element]
    first: dict[str, str]
    unread: dict[str, str] = field(default_factory=dict)
    aside: list[Seam] = field(default_factory=list)
    orphans: list[etree._Element] = field(default_factory=list)
    husks: list[etree._Element] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
