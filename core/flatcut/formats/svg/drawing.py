"""A document together with the pieces that were found in it: what `write` needs to change only what changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from lxml import etree

from flatcut.formats.svg.document import Document
from flatcut.pattern.values import DrawnPath, DrawnText, Pattern, Piece, Seam


@dataclass(kw_only=True, eq=False, repr=False)
class Held:
    """Where a piece stands. group: None once it was ungrouped; inner: elements of lines, drawn darts, grain by uid.

    piece: as read; stale: its drawing must be made anew even when the piece does not change. records: what was written
    on it, by names in flatcut's namespace, as read; nothing for a piece that is new.
    """

    piece: Piece
    group: etree._Element | None
    outline: etree._Element
    inner: dict[str, etree._Element] = field(default_factory=dict)
    derived: list[etree._Element] = field(default_factory=list)
    stale: bool = False
    records: dict[str, str] = field(default_factory=dict)


class Loose:
    """What is drawn and belongs to no piece, and the elements of that by id.

    Most steps do not ask for it, and in a large drawing it takes longest, so it is read when it is asked for first.
    """

    def __init__(self, read: Callable[[], tuple[tuple[DrawnPath | DrawnText, ...], dict[str, etree._Element]]]) -> None:
        self._read = read

    @cached_property
    def _found(self) -> tuple[tuple[DrawnPath | DrawnText, ...], dict[str, etree._Element]]:
        return self._read()

    @property
    def things(self) -> tuple[DrawnPath | DrawnText, ...]:
        """In document order, texts last."""
        return self._found[0]

    @property
    def elements(self) -> dict[str, etree._Element]:
        """By the ids of the things."""
        return self._found[1]


@dataclass(kw_only=True, eq=False, repr=False)
class Drawing:
    """held: by uid of the piece; loose: what belongs to no piece.

    unread: names of pieces that could not be matched or are hidden, by uid; they are left as they are, and aside are
    the seams to them. orphans: flatcut's own drawing of pieces that are gone; husks: groups without an outline.
    faults: why pieces were written without the cut line that they should have; notes: what the cut lines that were
    written say of their shape.
    """

    document: Document
    pattern: Pattern
    held: dict[str, Held]
    loose: Loose
    unread: dict[str, str] = field(default_factory=dict)
    aside: list[Seam] = field(default_factory=list)
    orphans: list[etree._Element] = field(default_factory=list)
    husks: list[etree._Element] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def drawn(self) -> dict[str, etree._Element]:
        """Elements of drawn objects by id; asked for before the tree is changed, or it tells what is drawn then."""
        return self.loose.elements
