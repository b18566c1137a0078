"""References as they are spoken of: places, edges and runs in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from flatcut.errors import FlatcutError
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.pattern.finding import find
from flatcut.pattern.places import Drawn, Place, Reckoned, Reference, Run
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Edge, Line, Pattern, Piece, Position
from flatcut.pattern.walking import sewn_length
from flatcut.units import plain

DART_PARTS = {
    "point": "the point of the {}",
    "upper": "the upper point of the {}",
    "lower": "the lower point of the {}",
    "mouth": "the mouth of the {}",
    "foot-1": "the first foot of the {}",
    "foot-2": "the second foot of the {}",
    "leg-1": "the first leg of the {}",
    "leg-2": "the second leg of the {}",
    "axis": "the axis of the {}",
}
ON = 0.1
"""mm from an edge at which the end of a line stands on it."""
SHARES = {0.5: "half", 0.25: "a quarter", 0.75: "three quarters", 0.333333: "a third", 0.666667: "two thirds"}


def mm(value: float) -> str:
    """A length as it is written in a lesson, like a figure of a step.

    >>> mm(123.456), mm(70.0)
    ('123.46 mm', '70 mm')
    """
    return f"{plain(value)} mm"


def listed(parts: Iterable[str]) -> str:
    """Things one after the other, each once.

    >>> listed(["the front", "the back", "the front", "the sleeve"])
    'the front, the back and the sleeve'
    """
    every = list(dict.fromkeys(parts))
    mark, last = ("; ", "; and ") if len(every) > 1 and any(", " in part for part in every) else (", ", " and ")
    return last.join(filter(None, (mark.join(every[:-1]), *every[-1:])))


def with_article(name: str) -> str:
    """A thing of its kind.

    >>> with_article("patch"), with_article("in-seam")
    ('a patch', 'an in-seam')
    """
    return f"{'an' if name[:1] in 'aeiou' else 'a'} {name}"


def called(name: str) -> str:
    """The name of an edge, line, dart or point as it is said.

    >>> called("bust-dart"), called("e1")
    ('bust dart', 'edge e1')
    """
    if name == "seam":
        return "sewn edge"
    return f"edge {name}" if name[:1] == "e" and name[1:].isdigit() else name.replace("-", " ")


class Spoken:
    """References in words, on a pattern that has what they name."""

    def __init__(self, pattern: Pattern) -> None:
        self._pattern = pattern

    def refs(self, references: Iterable[Reference]) -> str:
        """Several references, those to edges of one piece together.

        >>> from flatcut.pattern.places import read_reference
        >>> Spoken(Pattern()).refs(map(read_reference, ["front.neck", "front.hem", "back.hem"]))
        'the neck and the hem of the front, and the hem of the back'
        """
        every = list(references)
        by_piece: dict[str, list[str]] = {}
        for one in every:
            if not isinstance(one, Place) or one.chord or not one.name or one.at or one.other or one.part:
                return listed(self.ref(other) for other in every)
            by_piece.setdefault(("the other half of the " if one.mirror else "the ") + one.piece, []).append(one.name)
        alike = {tuple(names) for names in by_piece.values()}
        if len(alike) == 1 and len(by_piece) > 1:
            return f"{listed(f'the {called(name)}' for name in alike.pop())} of {listed(by_piece)}"
        groups = [f"{listed(f'the {called(n)}' for n in names)} of {piece}" for piece, names in by_piece.items()]
        many = any(len(names) > 1 for names in by_piece.values())
        return f"{', '.join(groups[:-1])}, and {groups[-1]}" if many and len(groups) > 1 else listed(groups)

    def ref(self, reference: Reference | None) -> str:
        """One reference.

        >>> from flatcut.pattern.places import read_reference
        >>> spoken = Spoken(Pattern())
        >>> spoken.ref(read_reference("front.side/armhole@7cm"))
        'the side of the front, 70 mm from the armhole'
        >>> spoken.ref(read_reference("front.bust-dart.point"))
        'the point of the bust dart of the front'
        >>> spoken.ref(read_reference("front.neck+back.neck"))
        'the neck of the front and the neck of the back'
        """
        if reference is None:
            return "the place"
        if isinstance(reference, Drawn):
            return "the drawn line"
        if isinstance(reference, Run):
            return listed(self._place(_stretch(part.place)) for part in reference.parts)
        return self._place(reference)

    def _place(self, place: Place) -> str:
        if len(place.chord) == 1:
            return f"what {self._place(place.chord[0])} is sewn to"
        if place.chord:
            return self._off_line(place)
        if place.piece == "all" and not place.name:
            return "all pieces"
        whole = ("the other half of " if place.mirror else "") + f"the {place.piece}" if place.piece else ""
        of = f" of {whole}" if whole else ""
        if not place.name:
            return whole
        name = f"{called(place.name)}{of}"
        if place.part:
            name = DART_PARTS.get(place.part, "the {}").format(name)
            return f"{name}, {mm(place.at.value)} from its point" if place.at and place.part == "axis" else name
        if place.other and place.at is None:
            if self._is_line(place):
                return f"where the {called(place.other)} meets the {name}"
            return f"the corner of {called(place.name)} and {called(place.other)}{of}"
        if place.other:
            return f"the {name}, {self._from(place)}"
        if place.at is None:
            return f"the {name}"
        if place.to is not None:
            return f"the {name} {self._between(place, place.at, place.to)}"
        return f"the {name}, {self._along(place, place.at)}"

    def _is_line(self, place: Place) -> bool:
        """Whether what a place names beside its edge is a line inside the piece."""
        return any(
            piece.name == place.piece and any(line.name == place.other for line in piece.lines)
            for piece in self._pattern.pieces
        )

    def _from(self, place: Place) -> str:
        """How far from the corner or the line that is named."""
        assert place.at is not None
        toward = f" toward the {called(place.toward)}" if place.toward else ""
        if place.to is not None:
            ends = [self._off(place, at) for at in (place.at, place.to)]
            if ends[0] == f"the {called(place.other)}":
                return f"up to {ends[1]}{toward}"
            return f"from {ends[0]} to {ends[1]}{toward}"
        if place.at.mode == "fraction":
            return f"{_share(place.at.value)} of its length from the {called(place.other)}{toward}"
        return f"{self._far(place.at)} from the {called(place.other)}{toward}"

    def _far(self, at: Position) -> str:
        """How far, in mm also where it was reckoned from measurements."""
        if not isinstance(at, Reckoned):
            return _far(at)
        try:
            return f"{mm(at.on(self._pattern).value)} ({at.length.text})"
        except FlatcutError:
            return str(at.length.text)

    def _off(self, place: Place, at: Position) -> str:
        """One end of a stretch that is counted from a corner or a line."""
        if at.mode == "fraction" and at.value in (0.0, 1.0):
            return "its end" if at.value else f"the {called(place.other)}"
        return (
            f"the {called(place.other)}" if abs(at.value) < 0.005 else f"{self._far(at)} from the {called(place.other)}"
        )

    def _off_line(self, place: Place) -> str:
        """A place that is reckoned along and across the line between two others, in mm where they are known."""
        p, q = place.chord
        way = f"from {self._place(p)} to {self._place(q)}"
        try:
            far = float(np.hypot(*(spot(self._pattern, q).point - spot(self._pattern, p).point)))
        except FlatcutError:
            along, off = f"{plain(100 * place.u, 1)} % along the line {way}", _beside(place.v)
            return f"the place that lies {along}, and {off}"
        share = f" ({plain(100 * place.u, 1)} % of that line)"
        along = f"{mm(place.u * far)}{share} along the line {way}"
        if place.u < 0:
            along = f"{mm(-place.u * far)}{share} before the beginning of the line {way}"
        side = "left" if place.v < 0 else "right"
        off = "" if abs(place.v) < 1e-6 else f", {mm(abs(place.v) * far)} square out to the {side}"
        return f"the place that lies {along}{off}"

    def start(self, place: Place) -> str:
        """What an edge begins at."""
        return self._ends(place)[0].removeprefix("the ")

    def _between(self, place: Place, one: Position, two: Position) -> str:
        """A stretch, its ends counted from one corner where both are."""
        ends = [self._along(place, at) for at in (one, two)]
        whole = self._ends(place)
        if one.mode == two.mode != "fraction" and one.value > two.value:
            ends = ends[::-1]
        for corner, far in zip(ends, ends[::-1], strict=True):
            if far.endswith(f" from {corner}"):
                return f"up to {far}"
        for corner in whole:
            fars = [text.removesuffix(f" from {corner}") for text in ends]
            if all(far != text for far, text in zip(fars, ends, strict=True)):
                return f"between {fars[0]} and {ends[1]}"
        return f"from {ends[0]} to {ends[1]}"

    def _along(self, place: Place, at: Position) -> str:
        start, end = self._ends(place)
        if at.mode == "fraction" and place.to is not None and at.value in (0.0, 0.5, 1.0):
            return {0.0: start, 0.5: "its middle", 1.0: end}[at.value]
        if at.mode == "fraction":
            whole = self._length(place)
            far = "" if whole is None else f" ({mm(at.value * whole)})"
            return f"{_share(at.value)} of its length{far} from {start}"
        near = start if at.mode == "start" else end
        return near if abs(at.value) < 0.005 else f"{self._far(at)} from {near}"

    def _length(self, place: Place) -> float | None:
        """mm of an edge as sewn, None where there is none."""
        try:
            thing = find(self._pattern, place)[1]
        except FlatcutError:
            return None
        if isinstance(thing, Line):
            return length(thing.curve)
        return sewn_length(thing) if isinstance(thing, Edge) else None

    def _ends(self, place: Place) -> tuple[str, str]:
        """What an edge starts and ends at, as it runs."""
        try:
            piece, thing = find(self._pattern, place)
        except FlatcutError:
            return "its start", "its end"
        if isinstance(thing, Line):
            return _reached(piece, thing)
        if not isinstance(thing, Edge) or len(piece.edges) < 2:
            return "its start", "its end"
        order = [edge.uid for edge in piece.edges]
        k = order.index(thing.uid)
        before, after = piece.edges[k - 1].name, piece.edges[(k + 1) % len(order)].name
        if before == after:
            return "its start", "its end"
        return f"the {called(before)}", f"the {called(after)}"


def _reached(piece: Piece, line: Line) -> tuple[str, str]:
    """The edges that both ends of a line stand on."""
    found = []
    for at, usual in ((line.curve.start, "its start"), (line.curve.end, "its end")):
        on = [edge.name for edge in piece.edges if min(float(nearest(part, at)[1]) for part in edge.parts) < ON]
        found.append(f"the {called(on[0])}" if on else usual)
    return (found[0], found[1]) if found[0] != found[1] else ("its start", "its end")


def _stretch(place: Place) -> Place:
    """A stretch with both its ends, where one goes without saying."""
    if (place.at is None) == (place.to is None):
        return place
    start, end = Position(mode="fraction", value=0.0), Position(mode="fraction", value=1.0)
    return replace(place, at=place.at or start, to=place.to or end)


def _far(at: Position) -> str:
    return _share(at.value) if at.mode == "fraction" else mm(at.value)


def _share(value: float) -> str:
    return SHARES.get(round(value, 6), f"{plain(100 * value)} %")


def _beside(v: float) -> str:
    return (
        "on that line" if abs(v) < 1e-6 else f"{plain(100 * abs(v), 1)} % of it to the {'left' if v < 0 else 'right'}"
    )
