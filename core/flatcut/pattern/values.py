"""The values a pattern is made of. All are frozen; lengths in mm, document coordinates, y down.

Pattern
├── pieces: Piece
│   ├── edges: Edge         in outline order; each holds its spans in parts, a cut-in dart between two parts
│   │   ├── takeups: TakeUp     what is folded or drawn up along the edge when it is sewn
│   │   ├── allowance: Allowance
│   │   └── corner: Corner      treatment of the corner at the edge's end
│   ├── darts: Dart
│   ├── lines: Line   points: NamedPoint
│   ├── notches: Notch   holes: Hole   buttons: Button   grain: Grain   caption: Caption     see marks.py
├── seams: Seam (Run a, Run b)
├── steps: Step
└── drawn: DrawnPath, DrawnText    what the document holds beside the pieces
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, NamedTuple, Protocol, TypeVar

import numpy as np

from flatcut.errors import UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, signed_area
from flatcut.pattern.marks import BUTTON_KINDS as BUTTON_KINDS
from flatcut.pattern.marks import BY_USE as BY_USE
from flatcut.pattern.marks import CORNER_KINDS as CORNER_KINDS
from flatcut.pattern.marks import HOLE_OF as HOLE_OF
from flatcut.pattern.marks import NOTCH_KINDS as NOTCH_KINDS
from flatcut.pattern.marks import UNCAPTIONED as UNCAPTIONED
from flatcut.pattern.marks import Allowance as Allowance
from flatcut.pattern.marks import Button as Button
from flatcut.pattern.marks import Caption as Caption
from flatcut.pattern.marks import Corner as Corner
from flatcut.pattern.marks import Grain as Grain
from flatcut.pattern.marks import Hole as Hole
from flatcut.pattern.marks import NamedPoint as NamedPoint
from flatcut.pattern.marks import Notch as Notch
from flatcut.pattern.marks import Position as Position
from flatcut.pattern.marks import Stretch as Stretch
from flatcut.units import plain

USES = ("seam", "hem", "fold", "centre", "finished", "opening")
"""What an edge is for; gives its checks and its default allowance."""

CUT_AS = ("single", "pair", "fold")
TAKEUP_KINDS = ("dart", "pleat", "tuck", "gathers", "ease")

_NAME = re.compile(r"[^\W\d_][\w-]*")


def checked_name(name: str, *, kind: str = "name") -> str:
    """`name` when it is a letter followed by letters, digits, - and _, else a UsageError.

    >>> checked_name("front-side")
    'front-side'
    """
    if not _NAME.fullmatch(name):
        raise UsageError(f"'{name}' cannot be a {kind}; use a letter, then letters, digits, - or _")
    return name


@dataclass(frozen=True, kw_only=True)
class TakeUp:
    """`amount` mm of the stretch from `start` to `end` (mm of the drawn edge) that is not there once sewn."""

    uid: str
    kind: str
    start: float
    end: float
    amount: float


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A named run of the outline. Between two parts, and nowhere else, a cut-in dart stands."""

    uid: str
    name: str
    parts: tuple[Curve, ...]
    use: str = "seam"
    takeups: tuple[TakeUp, ...] = ()
    allowance: Allowance | None = None
    corner: Corner = BY_USE

    @property
    def start(self) -> Array:
        """First point, (2,) mm."""
        return self.parts[0].start

    @property
    def end(self) -> Array:
        """Last point, (2,) mm."""
        return self.parts[-1].end

    @property
    def segments(self) -> int:
        """How many spans are drawn."""
        return sum(len(part) for part in self.parts)


@dataclass(frozen=True, kw_only=True)
class Dart:
    """A stitched wedge.

    legs: cut-in or single-pointed, foot 1 to point and point to foot 2; double-pointed, upper to lower point and back.
    form: 'cut' into the outline or 'lines' drawn inside. host: uid of the edge it opens on, '' when double-pointed.
    after: cut-in darts stand after this part of the host; after the last part means in the corner to the next edge.
    pressed: uid of the edge it is pressed toward, or 'open'.
    origin: ids of the drawn objects it was made from, with spaces between them, '' once it stands in the document.
    """

    uid: str
    name: str
    legs: tuple[Curve, Curve]
    form: str = "cut"
    host: str = ""
    after: int = 0
    pressed: str = ""
    origin: str = ""

    @property
    def double(self) -> bool:
        """Whether it has two points."""
        return not self.host

    @property
    def points(self) -> Array:
        """The point, (1, 2), or the upper and the lower one, (2, 2)."""
        return np.array([self.legs[0].start, self.legs[0].end]) if self.double else np.array([self.legs[0].end])

    @property
    def feet(self) -> Array:
        """Where the legs meet the edge, (2, 2); of a double-pointed dart the widest nodes of its two sides."""
        if not self.double:
            return np.array([self.legs[0].start, self.legs[1].end])
        upper, lower = self.legs[0].start, self.legs[0].end
        axis = np.array([-(lower - upper)[1], (lower - upper)[0]])
        wide = [leg.nodes[np.argmax(np.abs((leg.nodes - upper) @ axis))] for leg in self.legs]
        return np.array(wide)


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line drawn inside a piece, not cut: fold, placement, balance or construction line; origin: as for a dart."""

    uid: str
    name: str
    curve: Curve
    kind: str = "line"
    origin: str = ""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One paper piece. Edges run in outline order; edges, darts, points and lines share one set of names.

    origin: id of the drawn object it was made from, '' once it stands in the document as a piece.
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
    grain: Grain | None = None
    caption: Caption = UNCAPTIONED
    quantity: int = 1
    cut_as: str = "single"
    side: str = ""
    material: str = ""
    source: str = ""
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

    def after(self, edge: Edge) -> Edge:
        """The edge that follows in outline order."""
        order = [e.uid for e in self.edges]
        return self.edges[(order.index(edge.uid) + 1) % len(order)]

    def cut_in(self, edge: Edge, part: int) -> Dart | None:
        """The cut-in dart that stands after `part` of `edge`, if any."""
        for dart in self.darts:
            if dart.form == "cut" and dart.host == edge.uid and dart.after == part:
                return dart
        return None


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
    """

    line: str
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    about: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Style:
    """What the set of pieces is."""

    name: str = ""
    size: str = ""
    materials: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DrawnPath:
    """A path of the document that belongs to no piece. group: id of the group that holds it, '' for none."""

    id: str
    curves: tuple[Curve, ...]
    closed: tuple[bool, ...]
    label: str = ""
    group: str = ""


@dataclass(frozen=True, kw_only=True)
class DrawnText:
    """A text of the document that belongs to no piece; at: (2,) mm."""

    id: str
    text: str
    at: Array
    group: str = ""


_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Everything the operations know of a document. body, measures: name -> mm.

    drawn: read by `piece`, `line`, `point`, `label` and `resolve` only; never recorded, written back or compared.
    user_unit: mm in one unit of the document's own numbers, on the outermost level.
    """

    pieces: tuple[Piece, ...] = ()
    seams: tuple[Seam, ...] = ()
    style: Style = Style()
    body: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    measures: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    steps: tuple[Step, ...] = ()
    names_shown: bool = False
    drawn: Sequence[DrawnPath | DrawnText] = ()
    user_unit: float = 1.0

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

    def uids(self) -> Iterator[str]:
        """Every uid in use."""
        for piece in self.pieces:
            yield piece.uid
            things: tuple[Any, ...] = (*piece.edges, *piece.darts, *piece.lines, *piece.points, *piece.notches)
            for thing in (*things, *piece.holes, *piece.buttons):
                yield thing.uid
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
    return signed_area(chain(outline(piece), within=1e-6))
