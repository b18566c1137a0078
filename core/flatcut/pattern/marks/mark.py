"""What a kind of mark knows of itself: how it moves, what it refers to, how it is written, read, told and compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple, Protocol, TypeVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.pattern.edges import Dart, Edge
from flatcut.pattern.finish import Position

HOMES = ("lines", "points", "notches", "holes", "buttons", "others", "grain", "caption")
"""The fields of a piece that hold marks, in their order; those of several first."""

Same = TypeVar("Same", bound="Mark")
"""The kind of a mark, which a change never makes another one."""


class Called(Protocol):
    """What has a uid and a name."""

    @property
    def uid(self) -> str: ...

    @property
    def name(self) -> str: ...


class Marked(Protocol):
    """What a mark asks of the piece that it stands on."""

    @property
    def edges(self) -> tuple[Edge, ...]: ...

    @property
    def darts(self) -> tuple[Dart, ...]: ...

    def edge_of(self, uid: str) -> Edge:
        """The edge with that uid. Errors: KeyError."""

    def things(self) -> Sequence[Called]:
        """All that has a name on the piece."""


class OnEdge(NamedTuple):
    """uid of an edge, and a place along its sewn line."""

    edge: str
    at: Position


class Compared(NamedTuple):
    """What two marks are held against each other by.

    said: what must be equal; sizes: name and mm; places: name, and a point (2,), points (n, 2) or a curve, or None.
    """

    said: tuple[Any, ...] = ()
    sizes: tuple[tuple[str, float], ...] = ()
    places: tuple[tuple[str, Array | Curve | None], ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Mark:
    """The base of all kinds of marks. A mark is a frozen value; a change gives a new one.

    role: the kind, as drawings name it; plural: the same of several; table: the attribute that its records stand in, ''
    where it is written in another way; listing: its list in the JSON of a piece, '' for that of the table; home: the
    field of a piece that holds it; single: whether a piece has one at most, whose uid is always the same.
    """

    uid: str

    role: ClassVar[str]
    plural: ClassVar[str]
    table: ClassVar[str] = ""
    listing: ClassVar[str] = ""
    home: ClassVar[str] = "others"
    single: ClassVar[bool] = False

    def moved(self: Same, matrix: Affine) -> Same:
        """The mark under a rigid motion or a mirror image of its piece."""
        return self

    def referring(self: Same, uids: Mapping[str, str]) -> Same:
        """The mark where edges, darts and lines that it refers to are called otherwise: old uid to new."""
        return self

    def standing(self) -> Array | None:
        """The place (2,) that it keeps by itself, mm; None for a mark that goes with an edge or a dart."""
        return None

    def stands_on(self) -> OnEdge | None:
        """The edge that it stands on and where along it; None for a mark that stands on none."""
        return None

    def goes_with(self) -> str:
        """uid of the dart that it goes with, and is gone with; '' for none."""
        return ""

    def put_on(self: Same, edge: str, at: Position) -> Same:
        """The mark on another edge, or elsewhere on its own; for a mark that stands on one."""
        raise NotImplementedError

    def place(self, piece: Marked) -> Array | None:
        """The middle (2,) of what is drawn for it; None where what it goes with is gone."""
        return self.standing()

    def put(self: Same, piece: Marked, at: Array) -> Same:
        """The mark with the middle of its drawing at a place (2,), or as near to it as it can stand."""
        raise NotImplementedError

    def deleted(self: Same) -> Same | None:
        """What is left of it once its drawing was deleted by hand."""
        return None

    def told(self, piece: Marked) -> str:
        """What a sentence calls it."""
        return f"a {self.role}"

    def record(self) -> Any:
        """Plain data that it is made from again: texts, numbers, lists, dicts."""
        raise NotImplementedError

    @classmethod
    def read(cls: type[Same], record: Any, motion: Affine) -> Same:
        """The mark of a record. motion: of the piece since that was written.

        Errors: LookupError, TypeError, ValueError or AttributeError for a damaged one.
        """
        raise NotImplementedError

    def hold(self, piece: Marked) -> None:
        """Errors: ValueError for what no operation could have made of it."""

    def listed(self, piece: Marked) -> dict[str, Any] | None:
        """What a list of the piece says of it, lengths in mm; None for nothing."""
        return None

    def compared(self, piece: Marked) -> Compared:
        """What it is held against another one by."""
        return Compared(places=(("place", self.place(piece)),))
