"""The values a pattern is made of. All are frozen; lengths in mm, document coordinates, y down.

Pattern
├── pieces: Piece
│   ├── edges: Edge         in outline order; each holds its spans in parts, a cut-in dart between two parts
│   │   ├── takeups: TakeUp     what is folded or drawn up along the edge when it is sewn
│   │   ├── allowance: Allowance
│   │   └── corner: Corner      treatment of the corner at the edge's end
│   ├── darts: Dart
│   ├── source: Source      what the piece was derived from
│   └── marks: Mark     lines: Line   points: NamedPoint   notches: Notch   holes: Hole   buttons: Button   grain: Grain
│                       caption: Caption   and others; each kind is a file in marks/
├── seams: Seam (Run a, Run b)
├── steps: Step
└── drawn: DrawnPath, DrawnText    what the document holds beside the pieces
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, TypeVar

import numpy as np

from flatcut.errors import UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, spans_area
from flatcut.pattern.edges import TAKEUP_KINDS as TAKEUP_KINDS
from flatcut.pattern.edges import USES as USES
from flatcut.pattern.edges import Dart as Dart
from flatcut.pattern.edges import Edge as Edge
from flatcut.pattern.edges import TakeUp as TakeUp
from flatcut.pattern.finish import BY_USE as BY_USE
from flatcut.pattern.finish import CORNER_KINDS as CORNER_KINDS
from flatcut.pattern.finish import Allowance as Allowance
from flatcut.pattern.finish import Corner as Corner
from flatcut.pattern.finish import Position as Position
from flatcut.pattern.finish import Stretch as Stretch
from flatcut.pattern.marks.button import BUTTON_KINDS as BUTTON_KINDS
from flatcut.pattern.marks.button import Button as Button
from flatcut.pattern.marks.caption import UNCAPTIONED as UNCAPTIONED
from flatcut.pattern.marks.caption import Caption as Caption
from flatcut.pattern.marks.grain import Grain as Grain
from flatcut.pattern.marks.hole import HOLE_OF as HOLE_OF
from flatcut.pattern.marks.hole import Hole as Hole
from flatcut.pattern.marks.line import Line as Line
from flatcut.pattern.marks.mark import HOMES
from flatcut.pattern.marks.mark import Mark as Mark
from flatcut.pattern.marks.notch import NOTCH_KINDS as NOTCH_KINDS
from flatcut.pattern.marks.notch import Notch as Notch
from flatcut.pattern.marks.point import NamedPoint as NamedPoint
from flatcut.units import plain

if TYPE_CHECKING:
    from flatcut.pattern.cut_lines import CutLine
    from flatcut.pattern.sources import Source

CUT_AS = ("single", "pair", "fold")

_NAME = re.compile(r"[^\W\d_][\w-]*")


def checked_name(name: str, *, kind: str = "name") -> str:
    """`name` when it is a letter followed by letters, digits, - and _, else a UsageError.

    >>> checked_name("front-side")
    'front-side'
    """
    if not _NAME.fullmatch(name):
        raise UsageError(f"'{name}' cannot be a {kind}; use a letter, then letters, digits, - or _")
    return name


_Mark = TypeVar("_Mark", bound=Mark)


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One paper piece. Edges run in outline order; edges, darts, points and lines share one set of names.

    Its marks are held by kind, each in the field that its kind names; others: those of kinds without one of their own.
    Ask for `marks` and change them by `with_marks` where nothing depends on the kind.
    origin: id of the drawn object it was made from, '' once it stands in the document as a piece.
    source: what it was derived from, None for a piece that stands by itself.
    cut_drawn: id of a drawn object that is its cut line, kept hidden beside it; '' once that was done.
    cut_by_hand: the cut line as it was drawn by hand, a closed ring; then it no longer follows from the allowances.
    """

    uid: str
    name: str
    edges: tuple[Edge, ...]
    darts: tuple[Dart, ...] = ()
    lines: tuple[Line, ...] = ()
    points: tuple[NamedPoint, ...] = ()
    notches: tuple[Notch, ...] = ()
    holes: tuple[Hole, ...] = ()
    buttons: tuple[Button, ...] = ()
    others: tuple[Mark, ...] = ()
    grain: Grain | None = None
    caption: Caption = UNCAPTIONED
    quantity: int = 1
    cut_as: str = "single"
    side: str = ""
    material: str = ""
    source: Source | None = None
    origin: str = ""
    cut_drawn: str = ""
    cut_by_hand: Curve | None = None

    def edge(self, name: str) -> Edge:
        """The edge of that name. Errors: UnknownNameError."""
        return _named(self.edges, name, f"edge of {self.name}")

    def edge_of(self, uid: str) -> Edge:
        """The edge with that uid. Errors: KeyError (a fault of the program, not of the user)."""
        for edge in self.edges:
            if edge.uid == uid:
                return edge
        raise KeyError(uid)

    def things(self) -> tuple[Edge | Dart | Line | NamedPoint, ...]:
        """All that has a name on the piece."""
        return (*self.edges, *self.darts, *self.lines, *self.points)

    def names(self) -> set[str]:
        """All names in use on the piece."""
        return {thing.name for thing in self.things()}

    def marks(self) -> tuple[Mark, ...]:
        """All that is marked on the piece, the grain line and the label last."""
        several = (*self.lines, *self.points, *self.notches, *self.holes, *self.buttons, *self.others)
        return (*several, *(() if self.grain is None else (self.grain,)), self.caption)

    def marks_of(self, kind: type[_Mark]) -> tuple[_Mark, ...]:
        """The marks of one kind."""
        return tuple(mark for mark in self.marks() if isinstance(mark, kind))

    def with_marks(self, change: Callable[[Mark], Mark | None]) -> Piece:
        """The piece with each mark as `change` gives it back, in the same order; without those that become None.

        It is the very same piece where each mark is given back as it is.

        >>> from numpy import zeros
        >>> bust = NamedPoint(uid="a", name="bust", at=zeros(2))
        >>> piece = Piece(uid="p", name="front", edges=(), points=(bust,))
        >>> piece.with_marks(lambda mark: None).points
        ()
        """
        marks = self.marks()
        changed = [change(mark) for mark in marks]
        if all(new is old for new, old in zip(changed, marks, strict=True)):
            return self
        return replace(self, **held_marks(mark for mark in changed if mark is not None))

    def after(self, edge: Edge) -> Edge:
        """The edge that follows in outline order."""
        order = [e.uid for e in self.edges]
        return self.edges[(order.index(edge.uid) + 1) % len(order)]

    @property
    def one_sided(self) -> bool:
        """Whether it is cut for one side only; halves and pairs have their mirror images."""
        return self.cut_as == "single" and not any(edge.middle for edge in self.edges)

    def cut_in(self, edge: Edge, part: int) -> Dart | None:
        """The cut-in dart that stands after `part` of `edge`, if any."""
        for dart in self.darts:
            if dart.form == "cut" and dart.host == edge.uid and dart.after == part:
                return dart
        return None


def held_marks(marks: Iterable[Mark]) -> dict[str, Any]:
    """Marks of any kinds as the fields of a piece that hold them; a kind that is not there has its field empty."""
    found: dict[str, Any] = dict.fromkeys(HOMES, ()) | {"grain": None, "caption": UNCAPTIONED}
    for mark in marks:
        found[mark.home] = mark if mark.single else (*found[mark.home], mark)
    return found


@dataclass(frozen=True, kw_only=True)
class RunPart:
    """One stretch of a run: `of` is the uid of an edge or of an internal line, `piece` that of its piece.

    backwards: walked against the stored direction; mirrored: on the other half or on the pair's mate.
    """

    piece: str
    of: str
    start: Position | None = None
    end: Position | None = None
    backwards: bool = False
    mirrored: bool = False


@dataclass(frozen=True, kw_only=True)
class Seam:
    """Two runs sewn together; ease = sewn b minus sewn a as wanted, mm; `reversed`: b is walked from its end."""

    uid: str
    a: tuple[RunPart, ...]
    b: tuple[RunPart, ...]
    reversed: bool = False
    ease: float = 0.0
    suggested: bool = False


class Figure(NamedTuple):
    """One reported number.

    >>> print(Figure("front.side drawn", 412.345, "mm"))
    front.side drawn: 412.35 mm
    """

    label: str
    value: float
    unit: str = "mm"

    def __str__(self) -> str:
        return f"{self.label}: {plain(self.value, 0 if self.unit == '' else 2)} {self.unit}".rstrip()


BY_HAND = "# by hand:"
"""How the line of a step that no command can repeat starts: a node edit that does not match one to one."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One recorded operation: the line that replays it, the figures it reported, its warnings.

    about: the references of what was changed, where it was done by hand and no line can replay it.
    drawn: what was drawn that it made pieces of, the paths that its line numbers first, in that order; mm.
    """

    line: str
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    drawn: Sequence[DrawnPath | DrawnText] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, kw_only=True)
class Style:
    """What the set of pieces is."""

    name: str = ""
    size: str = ""
    materials: tuple[str, ...] = ()


class DrawnPath(NamedTuple):
    """A path of the document that belongs to no piece. group: id of the group that holds it, '' for none."""

    id: str
    curves: tuple[Curve, ...]
    closed: tuple[bool, ...]
    label: str = ""
    group: str = ""


class DrawnText(NamedTuple):
    """A text of the document that belongs to no piece; at: (2,) mm."""

    id: str
    text: str
    at: Array
    group: str = ""


_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Everything the operations know of a document. body, measures: name -> mm.

    drawn: read by the steps that are made from drawn objects (`piece`, `line`, `point`, `dart`) and where references
    are filled (`declared/`); never recorded, written back or compared.
    told_hidden: whether the editor does not say beside the pieces what a press did.
    user_unit: mm in one unit of the document's own numbers, on the outermost level.
    page: width and height in mm of the page that things lie on; (0, 0) where there is none.
    cuts: by uid of their pieces the cut lines that a step has made on its way, each with the piece that it was made of:
    a later step takes it where that very piece still stands, and has nothing of it for any other.
    """

    pieces: tuple[Piece, ...] = ()
    seams: tuple[Seam, ...] = ()
    style: Style = Style()
    body: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    measures: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    steps: tuple[Step, ...] = ()
    names_shown: bool = False
    told_hidden: bool = False
    drawn: Sequence[DrawnPath | DrawnText] = ()
    user_unit: float = 1.0
    page: tuple[float, float] = (0.0, 0.0)
    cuts: Mapping[str, tuple[Piece, CutLine | None]] = field(default_factory=dict, compare=False, repr=False)

    def piece(self, name: str) -> Piece:
        """The piece of that name. Errors: UnknownNameError, with the nearest known name."""
        return _named(self.pieces, name, "piece")

    def piece_of(self, uid: str) -> Piece:
        """The piece with that uid. Errors: KeyError."""
        for piece in self.pieces:
            if piece.uid == uid:
                return piece
        raise KeyError(uid)

    def with_piece(self, piece: Piece) -> Pattern:
        """The pattern with a piece in place of the one that has its uid."""
        return replace(self, pieces=tuple(piece if p.uid == piece.uid else p for p in self.pieces))

    def sewn_like(self, other: Pattern) -> bool:
        """Whether all that tells how a pattern is sewn is the very same in another: seams, edges, darts and lines.

        Widths of allowances may differ, and marks other than lines. By identity, so that nothing is computed: a copy of
        an edge's curves is another edge.

        >>> one = Pattern(pieces=(Piece(uid="p", name="front", edges=(Edge(uid="a", name="hem", parts=()),)),))
        >>> wide = replace(one.pieces[0].edges[0], allowance=Allowance(width=40.0))
        >>> one.sewn_like(one.with_piece(replace(one.pieces[0], edges=(wide,))))
        True
        >>> one.sewn_like(one.with_piece(replace(one.pieces[0], edges=(replace(wide, use="hem"),))))
        False
        """
        same = self.seams is other.seams and len(self.pieces) == len(other.pieces)
        for one, two in zip(self.pieces, other.pieces, strict=False):
            same = same and all(
                getattr(one, name) is getattr(two, name) for name in ("uid", "darts", "lines", "cut_as")
            )
            same = same and len(one.edges) == len(two.edges)
            for mine, its in zip(one.edges, two.edges, strict=False):
                same = same and all(
                    getattr(mine, n) is getattr(its, n) for n in ("uid", "parts", "use", "corner", "takeups")
                )
        return same

    def uids(self) -> Iterator[str]:
        """Every uid in use."""
        for piece in self.pieces:
            yield piece.uid
            yield from (edge.uid for edge in piece.edges)
            yield from (dart.uid for dart in piece.darts)
            yield from (mark.uid for mark in piece.marks() if not mark.single)
            for edge in piece.edges:
                for takeup in edge.takeups:
                    yield takeup.uid
        for seam in self.seams:
            yield seam.uid


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_T = TypeVar("_T", bound=_Named)


def _named(things: tuple[_T, ...], name: str, kind: str) -> _T:
    for thing in things:
        if thing.name == name:
            return thing
    raise unknown(kind, name, [thing.name for thing in things])


def outline(piece: Piece) -> list[Curve]:
    """The drawn outline as curves in order: parts of edges and legs of cut-in darts.

    >>> from flatcut.geometry.curves import line
    >>> tri = [line((0, 0), (4, 0)), line((4, 0), (0, 3)), line((0, 3), (0, 0))]
    >>> edges = tuple(Edge(uid=str(i), name=f"e{i}", parts=(c,)) for i, c in enumerate(tri))
    >>> len(outline(Piece(uid="p", name="p", edges=edges)))
    3
    """
    curves: list[Curve] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            curves.append(part)
            dart = piece.cut_in(edge, k)
            if dart is not None:
                curves.extend(dart.legs)
    return curves


def area(piece: Piece) -> float:
    """mm² inside the drawn outline; positive when it runs clockwise on the screen."""
    return spans_area(np.concatenate([curve.controls for curve in outline(piece)]))
