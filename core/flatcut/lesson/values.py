"""What a lesson is made of: values that a page or a file paints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from flatcut.drawing.ink import Ink
from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Figure


@dataclass(frozen=True, kw_only=True)
class Card:
    """A picture as it stands on paper: strokes and words within (0, 0) and `size`, mm of the page.

    label: what it shows, for who cannot see it; scale: mm of the page for one mm of the pattern.
    new: numbers of the items that were drawn by the step, which a pen draws when it is played.
    """

    ink: Ink
    size: tuple[float, float]
    label: str
    scale: float
    new: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Turn:
    """A part turned about a point (2,) by so many degrees, clockwise, then shifted by (2,); mm of the page.

    over: degrees of the fold through that point over which it is turned like a page, None for none.
    """

    about: Array
    degrees: float
    shift: Array
    over: float | None = None

    @property
    def moves(self) -> bool:
        """Whether it leads anywhere."""
        return bool(self.degrees or self.shift.any() or self.over is not None)


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A part of the paper that moves by itself: its ring (n, 2) before it moves, mm of the page; one turn for each of
    the step's motions, in their order. new: paper that lies under the rest and is empty."""

    ring: Array
    turns: tuple[Turn, ...]
    new: bool = False


@dataclass(frozen=True, kw_only=True)
class Plot:
    """Points to draw something by. head: what it is and how they are measured; rows: name and two figures, mm."""

    head: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Said:
    """One step: the line that does it, what is done in plain words, its figures and what to look at.

    sizes: for each figure by its label, what it is in each size.
    """

    line: str
    words: str
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    sizes: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Steps that do one thing, with the picture before, None where there was nothing, and the one after.

    heading: of the chapter that begins with it, '' where it goes on; text: paragraphs under that heading; title: of the
    stage itself; leaves: the parts that move, none where only lines are drawn; plots: points to draw by.
    """

    title: str
    said: tuple[Said, ...]
    before: Card | None
    after: Card
    heading: str = ""
    text: tuple[str, ...] = ()
    leaves: tuple[Leaf, ...] = ()
    plots: tuple[Plot, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sewn:
    """One thing to sew, in the order of the work: what, in words, and a picture where pieces are laid together."""

    words: str
    card: Card | None = None


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """A whole lesson. introduction, cautions: paragraphs; sizes: names of the sizes that figures are given in.

    worn: the garment on a form, None where that was not asked for.
    """

    title: str
    introduction: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    stages: tuple[Stage, ...] = ()
    sewing: tuple[Sewn, ...] = ()
    sizes: tuple[str, ...] = ()
    worn: Card | None = None

    @property
    def steps(self) -> int:
        """How many steps it has."""
        return sum(len(stage.said) for stage in self.stages)
