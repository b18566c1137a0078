"""What is pointed to, as it is written: a place, a run of edges, an object drawn in the document.

    REFERENCE := PLACE | RUN | 'id:' ID | 'drawn:' NUMBER

    PLACE   := PIECE '.' NAME PART? | at(PLACE, PLACE, u, v) | mate(PLACE)
    PART    := '@' WHERE | '/' NAME | '/' NAME '@' WHERE TOWARD?
    WHERE   := POS | POS '..' POS
    POS     := FRACTION | PERCENT | LENGTH | '-' LENGTH       `1/2`, `37.5%`, `5cm` from the start, `-5cm` from the end
             | '(' EXPRESSION ')' | '-' '(' EXPRESSION ')'    as in `expressions.py`: `(waist-to-hip + 2cm)`
    TOWARD  := ':' NAME                                       `side/hip-line@4cm:hem`, from the hip line toward the hem

    RUN     := STEP ('+' STEP)*
    STEP    := '-'? '~'? PIECE.EDGE | '-'? '~'? PIECE.EDGE@POS..POS

`mate(PLACE)` is the place that a place is sewn to. The suffixes of darts (`front.waist-dart.point`, `.axis@5cm`) are
part of NAME. These are values: read once, compared and renamed as such, written again by str(). What they mean on a
pattern is said by `spots.py` and `runs.py`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol, TypeAlias

from flatcut.errors import UsageError
from flatcut.pattern.values import Pattern, Position
from flatcut.units import length, plain

Rename: TypeAlias = Callable[[str], str]
"""The new name of a piece, from its old one."""

DART_PARTS = ("point", "upper", "lower", "mouth", "foot-1", "foot-2", "leg-1", "leg-2", "axis")
"""What of a dart can be named; 1 comes first along the outline's stored direction."""

_NAME = r"[^\W\d_][\w-]*"
_PLACE = re.compile(
    rf"(?P<mirror>~?)(?P<piece>{_NAME})(?:\.(?P<name>{_NAME})(?:\.(?P<part>{_NAME}))?(?:/(?P<other>{_NAME}))?)?"
)


class Told(Protocol):
    """A length as it is typed; that of `expressions.py`."""

    @property
    def text(self) -> str:
        """As it is recorded."""

    @property
    def constant(self) -> float | None:
        """Its mm where it needs no pattern."""

    def renamed(self, name: Rename) -> Told:
        """The same where pieces have other names."""

    def on(self, pattern: Pattern) -> float:
        """mm on a pattern."""


_READERS: list[Callable[[str], Told]] = []
"""What reads a length. A place may hold a length and a length places; that of places comes first, and is told of the
other when the room is opened."""


def lengths_are_read_by(reader: Callable[[str], Told]) -> None:
    """Say what reads the lengths that places hold."""
    _READERS[:] = [reader]


@dataclass(frozen=True, kw_only=True)
class Reckoned(Position):
    """A position that a pattern's measurements give; `length` says how, and there is no value before that is asked."""

    length: Told
    value: float = field(default=math.nan, compare=False)

    def on(self, pattern: Pattern) -> Position:
        """The position on a pattern. Errors: UsageError."""
        return Position(mode=self.mode, value=self.length.on(pattern))


@dataclass(frozen=True, kw_only=True)
class Place:
    """A parsed place; str() writes it again.

    piece: its name, '' where that goes without saying; name: of what lies on it, '' for the whole piece; part: of a
    dart; other: the edge or line met at a corner; at, to: positions; toward: which way they are counted from there;
    mirror: on the other half; chord, u, v: for at(P,Q,u,v); a chord of one place stands for mate(P).
    """

    piece: str = ""
    name: str = ""
    part: str = ""
    other: str = ""
    at: Position | None = None
    to: Position | None = None
    toward: str = ""
    mirror: bool = False
    chord: tuple[Place, ...] = ()
    u: float = 0.0
    v: float = 0.0

    def __str__(self) -> str:
        if len(self.chord) == 1:
            return f"mate({self.chord[0]})"
        if self.chord:
            return f"at({self.chord[0]},{self.chord[1]},{plain(self.u, 6)},{plain(self.v, 6)})"
        text = ("~" if self.mirror else "") + self.piece
        if self.name:
            text += f".{self.name}" if self.piece else self.name
        if self.part:
            text += f".{self.part}"
        if self.other:
            text += f"/{self.other}"
        if self.at is not None:
            text += f"@{show_position(self.at)}"
        if self.to is not None:
            text += f"..{show_position(self.to)}"
        return f"{text}:{self.toward}" if self.toward else text

    def renamed(self, name: Rename) -> Place:
        """The same place where pieces have other names.

        >>> str(parse_place("at(front.neck/side,front.bust-point,0.5,-0.1)").renamed(lambda piece: f"a-{piece}"))
        'at(a-front.neck/side,a-front.bust-point,0.5,-0.1)'
        """
        chord = tuple(end.renamed(name) for end in self.chord)
        at, to = _renamed(self.at, name), _renamed(self.to, name)
        return replace(self, piece=name(self.piece) if self.piece else "", chord=chord, at=at, to=to)


def _renamed(at: Position | None, name: Rename) -> Position | None:
    return replace(at, length=at.length.renamed(name)) if isinstance(at, Reckoned) else at


EVERY = Place(piece="all")
"""As a reference to pieces: every one."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part of a written run: an edge, a line or a stretch; `backwards` walks it from its end."""

    place: Place
    backwards: bool = False

    def __str__(self) -> str:
        return f"{'-' if self.backwards else ''}{self.place}"


@dataclass(frozen=True)
class Run:
    """Edges, lines and stretches as they are walked one after the other, by name."""

    parts: tuple[Part, ...]

    def __str__(self) -> str:
        return "+".join(map(str, self.parts))

    def renamed(self, name: Rename) -> Run:
        """The same run where pieces have other names."""
        return Run(tuple(replace(part, place=part.place.renamed(name)) for part in self.parts))


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """An object drawn in the document: by its id, or, counted from 1, as the closed path that is no piece yet."""

    id: str = ""
    number: int = 0

    def __str__(self) -> str:
        return f"id:{self.id}" if self.id else f"drawn:{self.number}"

    def renamed(self, name: Rename) -> Drawn:
        """It belongs to no piece."""
        return self


Reference: TypeAlias = Place | Run | Drawn


def parse_place(text: str, *, bare: bool = False) -> Place:
    """Read a place. Errors: UsageError.

    bare: without a full stop it names something of a piece that goes without saying.

    >>> place = parse_place("front.side/hem@5cm")
    >>> place.name, place.other, place.at
    ('side', 'hem', Position(mode='start', value=50.0))
    >>> str(parse_place("at(front.neck/side, front.bust-point, 0.5, -0.1)"))
    'at(front.neck/side,front.bust-point,0.5,-0.1)'
    >>> str(parse_place("mate(front.side/hip-line@(waist-to-hip):hem)"))
    'mate(front.side/hip-line@(waist-to-hip):hem)'
    >>> parse_place("side", bare=True).piece, parse_place("side", bare=True).name
    ('', 'side')
    """
    text = text.strip()
    if text.startswith("at(") and text.endswith(")"):
        parts = [part.strip() for part in split_outside(text[3:-1], ",")]
        if len(parts) != 4:
            raise UsageError(f"'{text}' takes two places and two numbers: at(P,Q,u,v)")
        try:
            u, v = float(parts[2]), float(parts[3])
        except ValueError:
            u = v = math.nan
        ends = (parse_place(parts[0]), parse_place(parts[1]))
        if not (math.isfinite(u) and math.isfinite(v)):
            raise UsageError(f"'{text}' takes two places and two numbers: at(P,Q,u,v)")
        return Place(chord=ends, u=u, v=v)
    if text.startswith("mate(") and text.endswith(")"):
        return Place(chord=(parse_place(text[5:-1]),))
    head, mark, where = _cut_at(text, "@") if "@" in text else (text, "", "")
    alone = bare and "." not in head
    match = _PLACE.fullmatch(f"piece.{head}" if alone else head)
    where, colon, toward = _cut_at(where, ":") if where else ("", "", "")
    first, dots, second = _cut_at(where, "..") if where else ("", "", "")
    broken = (mark and not first) or (dots and not second) or (colon and not re.fullmatch(_NAME, toward))
    if match is None or broken or (mark and not match["name"]):
        raise UsageError(f"'{text}' is not a place; write PIECE.EDGE, PIECE.EDGE/EDGE, PIECE.EDGE@5cm or PIECE.POINT")
    found = match.groupdict(default="")
    if toward and not found["other"]:
        raise UsageError(
            f"'{text}' says which way, and not from where; write from what, such as EDGE/LINE@4cm:{toward}"
        )
    return Place(
        piece="" if alone else found["piece"],
        name=found["name"],
        part=found["part"],
        other=found["other"],
        at=parse_position(first, text) if first else None,
        to=parse_position(second, text) if second else None,
        toward=toward,
        mirror=bool(found["mirror"]),
    )


def _cut_at(text: str, mark: str) -> tuple[str, str, str]:
    """What stands before and after the first mark outside brackets, as `partition` gives it."""
    depth = 0
    for k, letter in enumerate(text):
        depth += {"(": 1, ")": -1}.get(letter, 0)
        if depth == 0 and text.startswith(mark, k):
            return text[:k], mark, text[k + len(mark) :]
    return text, "", ""


def read_run(text: str) -> Run:
    """Read a run. Errors: UsageError.

    >>> str(read_run("-front.neck + back.neck@0..1/2"))
    '-front.neck+back.neck@0..1/2'
    """
    parts = [part.strip() for part in split_outside(text, "+")]
    return Run(tuple(Part(place=parse_place(p.removeprefix("-")), backwards=p.startswith("-")) for p in parts))


def read_reference(text: str, *, bare: bool = False, drawn: bool = False) -> Reference:
    """Read what a reference may be; one edge alone is a place. Errors: UsageError.

    bare: as for `parse_place`; drawn: nothing but a drawn object is wanted, so that its id alone says which.

    >>> [type(read_reference(text)).__name__ for text in ("front.neck+back.neck", "front.neck", "id:path7")]
    ['Run', 'Place', 'Drawn']
    """
    text = text.strip()
    kind, colon, rest = text.partition(":")
    if colon and rest and kind == "id":
        return Drawn(id=rest)
    if colon and kind == "drawn":
        if not rest.isascii() or not rest.isdigit() or not int(rest):
            raise UsageError(f"'{text}' counts no closed path; write drawn:1 for the first one in the document")
        return Drawn(number=int(rest))
    if drawn:
        return Drawn(id=text)
    if text.startswith("-") or len(split_outside(text, "+")) > 1:
        return read_run(text)
    return parse_place(text, bare=bare)


def parse_position(text: str, whole: str = "") -> Position:
    """Read what follows the @. Errors: UsageError.

    >>> parse_position("1/2"), parse_position("-5cm")
    (Position(mode='fraction', value=0.5), Position(mode='end', value=50.0))
    >>> show_position(parse_position("(bust/4 + 1)")), show_position(parse_position("(2*5cm)"))
    ('(bust/4 + 1mm)', '100')
    """
    text = text.strip()
    told = re.fullmatch(r"(-?)\s*\((.*)\)", text, re.DOTALL)
    if told:
        return _reckoned(told[2], whole or text, "end" if told[1] else "start")
    fraction = re.fullmatch(r"(\d+)/(\d+)", text)
    percent = re.fullmatch(r"(\d*\.?\d+)\s*%", text)
    if fraction and int(fraction[2]):
        value = int(fraction[1]) / int(fraction[2])
    elif percent:
        value = float(percent[1]) / 100
    else:
        try:
            mm = length(text)
        except UsageError as error:
            raise UsageError(f"in '{whole or text}': {error}") from None
        from_end = text.startswith("-")
        return Position(mode="end" if from_end else "start", value=-mm if from_end else mm)
    if value > 1:
        raise UsageError(f"'{whole or text}' lies beyond the edge; a fraction is at most 1")
    return Position(mode="fraction", value=value)


def _reckoned(text: str, whole: str, mode: str) -> Position:
    try:
        found = _READERS[0](text)
    except UsageError as error:
        raise UsageError(f"in '{whole}': {error}") from None
    if found.constant is None:
        return Reckoned(mode=mode, length=found)
    if found.constant < 0:
        raise UsageError(f"in '{whole}': '{text}' is less than nothing; a minus before the bracket counts from the end")
    return Position(mode=mode, value=found.constant)


def show_position(position: Position) -> str:
    """A position as it is written; reading it back gives the same within 1e-6 mm, a fraction within 1e-9.

    >>> show_position(Position(mode="fraction", value=0.25)), show_position(Position(mode="end", value=80.0))
    ('25%', '-80')
    """
    if isinstance(position, Reckoned):
        return f"{'-' if position.mode == 'end' else ''}({position.length.text})"
    if position.mode == "fraction":
        for below in (2, 3):
            if abs(position.value * below - round(position.value * below)) < 1e-12 and 0 < position.value < 1:
                return f"{round(position.value * below)}/{below}"
        return f"{plain(position.value * 100, 7)}%"
    return ("-" if position.mode == "end" else "") + plain(position.value, 6)


def split_outside(text: str, separator: str) -> list[str]:
    """The parts of a text between separators that stand outside brackets.

    >>> split_outside("at(a,b,1,0),c.d", ",")
    ['at(a,b,1,0)', 'c.d']
    """
    parts, depth, start = [], 0, 0
    for k, letter in enumerate(text):
        depth += {"(": 1, ")": -1}.get(letter, 0)
        if letter == separator and depth == 0:
            parts.append(text[start:k])
            start = k + 1
    return [*parts, text[start:]]
