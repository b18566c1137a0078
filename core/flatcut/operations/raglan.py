"""`raglan`: a set-in sleeve made a raglan sleeve, by cutting front and back and joining what is cut off to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from flatcut.declared.fields import length, piece_names, refs
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import place_at
from flatcut.operations.operation import Operation, Outcome, load, operation
from flatcut.pattern.graining import laid
from flatcut.pattern.places import Place
from flatcut.pattern.runs import ends, run_sewn
from flatcut.pattern.seam_ends import before as edge_before
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Line, Notch, Pattern, Piece, Position, RunPart, Seam, area
from flatcut.pattern.walking import drawn_length, sewn_at, sewn_length
from flatcut.reshape.change import applied
from flatcut.sewing.raglan import Above, Half, Made, along_chords, raglan_line, with_above
from flatcut.units import plain

CAP, SHOULDER, RAGLAN, OVER = "cap", "shoulder", "raglan", "over-arm"
ABOVE = "-above"
"""What the part of a body piece above its raglan line is called until it is part of the sleeve."""
WALKS = 0.05
"""mm by which the two raglan edges of a seam may differ, measured along chords."""
UNEQUAL = 3.0
"""mm by which the halves of the seam over the arm may differ below the shoulder, eased in (common practice, no
source)."""
EASED = 2.0
"""mm by which the cap may be off its armhole below the notch, its end made fair (common practice, no source)."""
KINKED = 12.0
"""Degrees of a turn at the end of the raglan line that a line made fair takes in without a word."""
FAR = 3000.0
"""mm: longer than any sleeve."""


class _Side(NamedTuple):
    """A part of the body that a sleeve is set into. piece, armhole: names; neck, other: of edges beside it;
    tip_at_end: the armhole ends at the shoulder; under: mm along it from the underarm to where the raglan line ends;
    ticks: of its notch."""

    piece: str
    armhole: str
    neck: str
    other: str
    tip_at_end: bool
    under: float
    ticks: int


@operation(menu="Derive", title="Make raglan")
@dataclass(frozen=True, kw_only=True)
class MakeRaglan(Operation):
    """Make a sleeve that is set into two armholes a raglan sleeve, with a seam over the arm.

    Front and back are cut along a line from the neck to the notch of the armhole; what lies above it is joined to the
    sleeve, its shoulder tips a little above the crown, and the shoulder runs on into the seam over the arm. The sleeve
    is two pieces, back and front. The notches of the armholes stay, and each raglan seam gets one in its middle, two in
    the back. Ease of the cap above the notches goes. Move darts off shoulder and neck first. All figures are common
    practice, and each can be set.
    """

    target: tuple[Place, ...] = refs("piece", ("the sleeve", "with an edge 'cap' that is sewn to two armholes"))
    # 3 to 5 cm on the front and 2 to 4 cm on the back, shoulder tips 1 to 1.5 cm above the crown: no source
    front: float = length(40.0, ("on the front from the shoulder", "along the neckline"), low=5, high=250)
    back: float = length(30.0, ("on the back from the shoulder", "likewise"), low=5, high=250)
    ends: float | None = length(
        None, ("ends from the underarm", "along both armholes", "at their notches"), low=20, high=400
    )
    bow: float = length(8.0, ("bowed by", "how far the line curves toward the shoulder"), low=-30, high=60)
    lift: float = length(10.0, ("shoulder tips above the crown", "by how much they lie"), low=-20, high=60)
    blend: float = length(60.0, ("curved over", "how far below the crown the shoulder has run out"), low=15, high=250)
    names: tuple[str, ...] = piece_names(("names of the sleeve's parts", "back and front", "with -back and -front"))

    def spelled(self, after: Pattern) -> MakeRaglan:
        """With the names of its pieces, where they are the usual ones."""
        return replace(self, names=self._names(self.target[0].piece)) if len(self.target) == 1 else self

    def _names(self, name: str) -> tuple[str, str]:
        given = (*self.names, *(f"{name}-back", f"{name}-front")[len(self.names) :])
        return given[0], given[1]

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1:
            raise UsageError(f"raglan takes one sleeve, and {len(self.target)} are given; name it")
        if len(self.names) > 2:
            raise UsageError(Option("names"), " gives more than two names; give those of back and front")
        sleeve = pattern.piece(self.target[0].piece)
        if all(edge.name != CAP for edge in sleeve.edges):
            raise UsageError(
                f"{sleeve.name} is no sleeve with an edge '{CAP}'; select one that is set into front and back, or name "
                f"its edge that is sewn to their armholes '{CAP}'"
            )
        cap = sleeve.edge(CAP)
        # as drafted a sleeve has its back at the left, where the outline of its cap begins
        back_first = area(sleeve) > 0
        holes, crown = _holes(pattern, sleeve, cap)
        froms = (self.back, self.front) if back_first else (self.front, self.back)
        names = self._names(sleeve.name) if back_first else self._names(sleeve.name)[::-1]
        steps, said = pattern.steps, list[str]()
        sides = [self._side(pattern, part) for part in holes]
        for side, far in zip(sides, froms, strict=True):
            pattern = self._cut_body(pattern, side, far, said)
        pattern = self._cut_sleeve(pattern, sleeve, cap, crown, names, said)
        made: list[Made] = []
        for k, (side, name) in enumerate(zip(sides, names, strict=True)):
            pattern, one = self._joined(pattern, side, name, forward=k == 0, said=said)
            made.append(one)
        pattern = _sewn_over(pattern, names, made)
        figures = [*self._figures(pattern, sides, names, made)]
        for side, name in zip(sides, names, strict=True):
            pattern = _notched(pattern, side, name)
        return Outcome(
            pattern=replace(pattern, steps=steps), figures=tuple(figures), warnings=tuple(dict.fromkeys(said))
        )

    def _side(self, pattern: Pattern, part: RunPart) -> _Side:
        piece = pattern.piece_of(part.piece)
        hole = piece.edge_of(part.of)
        if len(hole.parts) != 1:
            raise UsageError(f"a dart opens on {piece.name}.{hole.name}; pivot it elsewhere first")
        first, last = edge_before(piece, hole), piece.after(hole)
        if SHOULDER not in (first.name, last.name):
            raise UsageError(f"{piece.name}.{hole.name} meets no edge '{SHOULDER}'; call it so with edge")
        at_end = last.name == SHOULDER
        shoulder, other = (last, first) if at_end else (first, last)
        neck = piece.after(shoulder) if at_end else edge_before(piece, shoulder)
        for edge in (shoulder, neck):
            if len(edge.parts) != 1:
                raise UsageError(f"a dart opens on {piece.name}.{edge.name}; pivot it elsewhere first")
        if drawn_length(neck) <= max(self.front, self.back) + 5:
            raise UsageError(
                f"{piece.name}.{neck.name} is {plain(drawn_length(neck))} mm long; begin the raglan line nearer to the "
                "shoulder"
            )
        total = sewn_length(hole)
        notches = [n for n in piece.notches if n.edge == hole.uid]
        places = [sewn_at(hole, n.at) if at_end else total - sewn_at(hole, n.at) for n in notches]
        if self.ends is None and not places:
            raise UsageError(
                f"{piece.name}.{hole.name} has no notch; say where the raglan line ends with ", Option("ends")
            )
        under = self.ends if self.ends is not None else min(places)
        if (places and under > min(places) + 0.5) or under > total - 30:
            raise UsageError(
                f"the raglan line ends at the notch of {piece.name}.{hole.name} or below, where the cap has no ease, "
                f"{plain(min(places, default=total))} mm from the underarm at most; give less with ",
                Option("ends"),
            )
        count = max((n.count for n in notches), default=1)
        return _Side(piece.name, hole.name, neck.name, other.name, at_end, under, count)

    def _cut_body(self, pattern: Pattern, side: _Side, far: float, said: list[str]) -> Pattern:
        """The pattern with a front or back cut along its raglan line; what lies above is called with -above."""
        piece = pattern.piece(side.piece)
        neck, hole = piece.edge(side.neck), piece.edge(side.armhole)
        part = neck.parts[0]
        along = far if side.tip_at_end else drawn_length(neck) - far
        start = point(part, place_at(part, along))
        at = side.under if side.tip_at_end else drawn_length(hole) - side.under
        curve = raglan_line(piece, start, hole, at, self.bow, tip_at_end=side.tip_at_end)
        names = (f"{side.piece}.{side.other}", f"{side.piece}{ABOVE}.{SHOULDER}")
        return _cut(pattern, piece, curve, RAGLAN, names, said)

    def _cut_sleeve(
        self, pattern: Pattern, sleeve: Piece, cap: Edge, crown: float, names: Sequence[str], said: list[str]
    ) -> Pattern:
        """The pattern with the sleeve cut from its crown along its grain."""
        sleeve = pattern.piece_of(sleeve.uid)
        start = point(cap.parts[0], place_at(cap.parts[0], crown))
        down = _down(sleeve, cap)
        ray = line(start, start + FAR * down)
        met = [c for e in sleeve.edges if e.uid != cap.uid for p in e.parts for c in crossings(ray, p)]
        if not met:
            raise GeometryError(
                f"a line from the crown of {sleeve.name} along its grain meets no hem; set its grain anew"
            )
        curve = section(ray, 0.0, min(c.u for c in met))
        beside = edge_before(sleeve, cap).name, sleeve.after(cap).name
        parts = tuple(f"{name}.{edge}" for name, edge in zip(names, beside, strict=True))
        return _cut(pattern, sleeve, curve, OVER, parts, said)

    def _joined(
        self, pattern: Pattern, side: _Side, name: str, *, forward: bool, said: list[str]
    ) -> tuple[Pattern, Made]:
        piece, yoke = pattern.piece(name), pattern.piece(f"{side.piece}{ABOVE}")
        half = Half(
            piece=piece,
            cap=piece.edge(CAP),
            over=piece.edge(OVER),
            forward=forward,
            under=side.under,
            lift=self.lift,
            blend=min(self.blend, drawn_length(piece.edge(OVER)) - 5.0),
        )
        above = Above(
            piece=yoke,
            armhole=yoke.edge(side.armhole),
            raglan=yoke.edge(RAGLAN),
            neck=yoke.edge(side.neck),
            shoulder=yoke.edge(SHOULDER),
        )
        made = with_above(half, above)
        gone = {above.armhole.uid, above.shoulder.uid}
        kept = tuple(s for s in pattern.seams if not gone & {part.of for part in (*s.a, *s.b)})
        after, lost = applied(replace(pattern, seams=kept), made.change)
        said += [text for text in lost if SHOULDER not in text and side.armhole not in text]
        after = _eased(after, after.piece(name).edge(CAP))
        if made.kink > KINKED:
            said.append(
                f"{name} turns by {plain(made.kink, 1)}° where its raglan line ends; make it fair with: true "
                f"{name}.{RAGLAN} {name}.{CAP}"
            )
        return after, made

    def _figures(
        self, pattern: Pattern, sides: Sequence[_Side], names: Sequence[str], made: Sequence[Made]
    ) -> Iterator[Figure]:
        for side, name, one in zip(sides, names, made, strict=True):
            body, sleeve = (pattern.piece(p).edge(RAGLAN) for p in (side.piece, name))
            off = along_chords(body) - along_chords(sleeve)
            if abs(off) > WALKS:
                raise GeometryError(f"the raglan seam of {name} misses that of {side.piece} by {plain(off)} mm")
            yield Figure(f"{side.piece}.{RAGLAN} drawn", drawn_length(body))
            yield Figure(f"{name}.{RAGLAN} drawn", drawn_length(sleeve))
            yield Figure(f"{name} shoulder tip beyond the crown", one.aside)
            yield Figure(f"{name} turns at the end of the raglan line by", one.kink, "°")
        tips = [one.tip for one in made]
        yield Figure(f"shoulder of {names[0]} longer than that of {names[1]}", tips[0] - tips[1])


def _holes(pattern: Pattern, sleeve: Piece, cap: Edge) -> tuple[list[RunPart], float]:
    """The armholes that a cap is sewn to, in its direction, and mm along it where the one ends. Errors: UsageError."""
    rows: list[tuple[float, float, RunPart]] = []
    for seam in pattern.seams:
        for mine, its in ((seam.a, seam.b), (seam.b, seam.a)):
            if len(mine) == len(its) == 1 and mine[0].of == cap.uid and its[0].piece != sleeve.uid:
                start, end = ends(pattern, mine[0])
                rows.append((start, end, its[0]))
    rows.sort(key=lambda row: row[0])
    found: list[tuple[float, RunPart]] = []
    for _, end, part in rows:
        if found and found[-1][1].of == part.of:
            found[-1] = (end, part)
        else:
            found.append((end, part))
    if len(found) != 2 or len(cap.parts) != 1 or cap.takeups:
        raise UsageError(
            f"{sleeve.name}.{cap.name} is not sewn to two armholes, one after the other, without fullness; draft the "
            "sleeve with block sleeve, or state its seams"
        )
    return [part for _, part in found], found[0][0]


def _down(sleeve: Piece, cap: Edge) -> Array:
    """The direction of the grain of a sleeve, away from its cap."""
    if sleeve.grain is None:
        raise UsageError(f"{sleeve.name} has no grain line, along which it is cut; set one with grain")
    way = unit(sleeve.grain.end - sleeve.grain.start)
    middle = point(cap.parts[0], len(cap.parts[0]) / 2)
    far = sum(e.start for e in sleeve.edges) / len(sleeve.edges)
    return way if float((far - middle) @ way) > 0 else -way


def _cut(pattern: Pattern, piece: Piece, curve: Curve, name: str, names: Sequence[str], said: list[str]) -> Pattern:
    """The pattern with a piece cut along a curve, its new edges called so."""
    if name in piece.names():
        raise UsageError(f"{piece.name} has a '{name}' already; rename it first")
    mark = Line(uid=Uids(pattern.uids()).fresh("raglan", piece.uid, name), name=name, curve=curve)
    pattern = pattern.with_piece(replace(piece, lines=(*piece.lines, mark)))
    given: dict[str, object] = {"target": (Place(piece=piece.name, name=name),), "names": tuple(names)}
    done = load("cut")(**given).perform(pattern)
    said += [text for text in done.step.warnings if ABOVE not in text]
    return done.pattern


def _eased(pattern: Pattern, cap: Edge) -> Pattern:
    """The pattern with the seam of what is left of a cap as it is, after its end was made fair."""
    seams = []
    for seam in pattern.seams:
        if cap.uid in {part.of for part in (*seam.a, *seam.b)}:
            ease = run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a)
            if abs(ease) > EASED:
                raise GeometryError(
                    f"the cap is {plain(abs(ease))} mm off its armhole once it runs on into the raglan line; lift the "
                    "shoulder tips otherwise, or end the line lower"
                )
            seam = replace(seam, ease=round(ease, 6))
        seams.append(seam)
    return replace(pattern, seams=tuple(seams))


def _sewn_over(pattern: Pattern, names: Sequence[str], made: Sequence[Made]) -> Pattern:
    """The pattern with the seam over the arm in two: along the shoulder, and from its tip to the hem."""
    one, two = (pattern.piece(name) for name in names)
    a, b = one.edge(OVER), two.edge(OVER)
    whole = next(s for s in pattern.seams if {p.of for p in (*s.a, *s.b)} == {a.uid, b.uid})
    uids = Uids(pattern.uids())
    # the first half is walked from the neck, the other to it
    rows = (
        (
            (Position(mode="start", value=0.0), Position(mode="start", value=made[0].tip)),
            (Position(mode="end", value=made[1].tip), Position(mode="end", value=0.0)),
        ),
        (
            (Position(mode="start", value=made[0].tip), Position(mode="end", value=0.0)),
            (Position(mode="start", value=0.0), Position(mode="end", value=made[1].tip)),
        ),
    )
    seams = []
    for k, (on_a, on_b) in enumerate(rows):
        part = RunPart(piece=one.uid, of=a.uid, start=on_a[0], end=on_a[1])
        mate = RunPart(piece=two.uid, of=b.uid, start=on_b[0], end=on_b[1])
        ease = run_sewn(pattern, (mate,)) - run_sewn(pattern, (part,))
        if k and abs(ease) > UNEQUAL:
            raise GeometryError(
                f"the seam over the arm is {plain(abs(ease))} mm longer on {names[1 if ease > 0 else 0]} below the "
                "shoulder; lift the shoulder tips more or less, or curve it over more"
            )
        uid = uids.fresh("seam", one.uid, OVER, str(k))
        seams.append(Seam(uid=uid, a=(part,), b=(mate,), reversed=True, ease=round(ease, 6)))
    for piece, edge, tip, mode in ((one, a, made[0].tip, "start"), (two, b, made[1].tip, "end")):
        mark = Notch(uid=uids.fresh("notch", edge.uid), edge=edge.uid, at=Position(mode=mode, value=tip))
        held = pattern.piece_of(piece.uid)
        pattern = pattern.with_piece(replace(held, notches=(*held.notches, mark)))
    return replace(pattern, seams=(*(s for s in pattern.seams if s.uid != whole.uid), *seams))


def _notched(pattern: Pattern, side: _Side, name: str) -> Pattern:
    """The pattern with notches in the middle of a raglan seam, as many on either side as the armhole's notch has."""
    uids = Uids(pattern.uids())
    for called in (side.piece, name):
        piece = pattern.piece(called)
        edge = piece.edge(RAGLAN)
        at = Position(mode="fraction", value=0.5)
        mark = Notch(uid=uids.fresh("raglan", edge.uid), edge=edge.uid, at=at, count=side.ticks)
        pattern = pattern.with_piece(replace(piece, notches=(*piece.notches, mark)))
    piece = pattern.piece(name)
    if piece.grain is not None:
        start, end, _ = laid(piece, unit(piece.grain.end - piece.grain.start))
        pattern = pattern.with_piece(replace(piece, grain=replace(piece.grain, start=start, end=end)))
    return pattern
