"""What is pointed to, as it is written: a place, a run of edges, an object drawn in the document.

    REFERENCE := PLACE | RUN | 'id:' ID | 'drawn:' NUMBER
    RUN       := PART ('+' PART)*
    PART      := '-'? '~'? PIECE.EDGE | PIECE.EDGE@POS..POS

These are values: read once, compared and renamed as such, written again by str(). What they mean on a pattern is said
by `spots.py` and `runs.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

from flatcut.errors import UsageError
from flatcut.pattern.places import Place, Rename, parse_place, split_outside


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


def read_run(text: str) -> Run:
    """Read a run. Errors: UsageError.

    >>> str(read_run("-front.neck + back.neck@0..1/2"))
    '-front.neck+back.neck@0..1/2'
    """
    parts = [part.strip() for part in split_outside(text, "+")]
    return Run(tuple(Part(place=parse_place(p.removeprefix("-")), backwards=p.startswith("-")) for p in parts))


def read_reference(text: str, *, bare: bool = False) -> Reference:
    """Read what a reference may be; one edge alone is a place. bare: as for `parse_place`. Errors: UsageError.

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
    if text.startswith("-") or len(split_outside(text, "+")) > 1:
        return read_run(text)
    return parse_place(text, bare=bare)
