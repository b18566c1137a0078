"""The order in which a garment is sewn, as far as its seams tell it: darts and fullness first, then seam after seam.

A seam that another one runs over is sewn before it: at a corner where the ends are squared through it, between the
pieces that a longer run goes over, and where facings and linings are joined before they are sewn to the garment.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from flatcut.darts.darting import intake
from flatcut.drawing.laying import laid_on
from flatcut.lesson.seam_pictures import seam_card, stays_open
from flatcut.lesson.values import Sewn
from flatcut.lesson.words import Spoken, called, listed, mm
from flatcut.marking.caps import OPEN
from flatcut.pattern.runs import named_run, owner, run_sewn
from flatcut.pattern.sewing_order import LATER, over_several
from flatcut.pattern.values import Dart, Pattern, Piece, RunPart, Seam

FULLNESS = {"gathers": "Gather", "ease": "Ease in", "pleat": "Fold the pleats of", "tuck": "Stitch the tucks of"}


@dataclass(frozen=True, kw_only=True)
class Ordered:
    """A seam with the numbers, in the same order, of those that are sewn before it because it runs over them."""

    seam: Seam
    after: tuple[int, ...]


def sewing(pattern: Pattern) -> tuple[Sewn, ...]:
    """The whole order; () where no seam is stated."""
    seams = ordered(pattern)
    if not seams:
        return ()
    found = [*_darts(pattern), *_fullness(pattern)]
    first = len(found)
    for k, one in enumerate(seams):
        found.append(Sewn(words=_seam(pattern, one, first), card=seam_card(pattern, one.seam, first + k + 1)))
    return (*found, *_hems(pattern))


def ordered(pattern: Pattern) -> list[Ordered]:
    """The seams in the order of the work; of two that do not meet the one that was stated first comes first."""
    seams = [seam for seam in pattern.seams if not seam.suggested and _whole(pattern, seam)]
    before = _before(pattern, seams)
    # what is sewn onto a piece is sewn while that lies flat (common practice, no source)
    onto = [laid_on(pattern, seam) is not None for seam in seams]
    rank = [k + LATER * (over_several(pattern, s) - on) for k, (s, on) in enumerate(zip(seams, onto, strict=True))]
    left, order = set(range(len(seams))), []
    while left:
        ready = [k for k in left if not before[k] & left]
        # a ring of seams that all wait for each other is entered at the one that was stated first
        order.append(min(ready or left, key=lambda k: rank[k]))
        left.remove(order[-1])
    place = {k: n for n, k in enumerate(order)}
    return [
        Ordered(seam=seams[k], after=tuple(sorted(place[b] for b in before[k] if place[b] < n)))
        for n, k in enumerate(order)
    ]


def _whole(pattern: Pattern, seam: Seam) -> bool:
    known = {(piece.uid, edge.uid) for piece in pattern.pieces for edge in piece.edges}
    known |= {(piece.uid, line.uid) for piece in pattern.pieces for line in piece.lines}
    return all((part.piece, part.of) in known for part in (*seam.a, *seam.b))


def _before(pattern: Pattern, seams: list[Seam]) -> list[set[int]]:
    """For each seam the numbers of those that are sewn before it."""
    of: dict[str, set[int]] = {}
    for k, seam in enumerate(seams):
        for part in (*seam.a, *seam.b):
            of.setdefault(part.of, set()).add(k)
    found: list[set[int]] = [set() for _ in seams]
    for piece in pattern.pieces:
        for edge in piece.edges:
            through = edge.corner.through
            both = {edge.uid, piece.after(edge).uid}
            if through in both and len(both) == 2:
                (other,) = both - {through}
                for later in of.get(other, ()):
                    found[later] |= of.get(through, set()) - {later}
    derived = {piece.uid for piece in pattern.pieces if piece.source is not None}
    for k, seam in enumerate(seams):
        for side in (seam.a, seam.b):
            for one, two in pairwise(side):
                found[k] |= _joining(seams, one, two) - {k}
        pieces = [{part.piece for part in side} for side in (seam.a, seam.b)]
        mixed = bool((pieces[0] | pieces[1]) & derived) and bool((pieces[0] | pieces[1]) - derived)
        if mixed:
            mine = (pieces[0] | pieces[1]) & derived
            found[k] |= {
                n for n, other in enumerate(seams) if n != k and _among(other, derived) and _meets(other, mine)
            }
    _close_bands(pattern, seams, found)
    return found


def _close_bands(pattern: Pattern, seams: list[Seam], before: list[set[int]]) -> None:
    """A folded band is sewn on single once the seams that it goes over are sewn, then its ends are, folded, and at last
    its inner edge over that seam (common practice, no source)."""
    parts = [{(part.piece, part.of) for part in (*seam.a, *seam.b)} for seam in seams]
    pieces = [{piece for piece, _ in some} for some in parts]
    for k, some in enumerate(parts):
        if len(pieces[k]) > 1:
            continue
        ends = {n for n in range(len(seams)) if pieces[n] == pieces[k] and _folded(seams[n])}
        if k in ends:
            on = {n for n in range(len(seams)) if pieces[k] < pieces[n]}
            before[k] |= on
            for n in on:
                before[n].discard(k)
            continue
        on = {n for n in range(len(seams)) if len(pieces[n]) > 1 and parts[n] & some}
        under = {m for n in on for m in _running_into(pattern, seams[n], parts) if not pieces[m] & pieces[k]}
        for n in on:
            before[n] = (before[n] - {k}) | under
        before[k] |= on | ends if on else set()


def _running_into(pattern: Pattern, seam: Seam, parts: list[set[tuple[str, str]]]) -> set[int]:
    """The other seams of the edges of a seam, and those of the edges beside them."""
    of = {(part.piece, part.of) for part in (*seam.a, *seam.b)}
    about = set(of)
    for piece in pattern.pieces:
        for edge in piece.edges:
            pair = {(piece.uid, edge.uid), (piece.uid, piece.after(edge).uid)}
            about |= pair if pair & of else set()
    return {n for n, some in enumerate(parts) if some & about}


def _folded(seam: Seam) -> bool:
    """Whether an edge is sewn to itself on the same half: the piece is folded there."""
    return len({(part.of, part.mirrored) for part in (*seam.a, *seam.b)}) == 1


def _joining(seams: list[Seam], one: RunPart, two: RunPart) -> set[int]:
    """Seams between the pieces of two parts that follow each other in a run."""
    if one.piece == two.piece:
        return set()
    both = {one.piece, two.piece}
    return {
        k
        for k, seam in enumerate(seams)
        if {part.piece for part in seam.a} | {part.piece for part in seam.b} == both
        and not {part.of for part in (*seam.a, *seam.b)} & {one.of, two.of}
    }


def _among(seam: Seam, pieces: set[str]) -> bool:
    return all(part.piece in pieces for part in (*seam.a, *seam.b))


def _meets(seam: Seam, pieces: set[str]) -> bool:
    return any(part.piece in pieces for part in (*seam.a, *seam.b))


def _seam(pattern: Pattern, one: Ordered, first: int) -> str:
    spoken = Spoken(pattern)
    left = stays_open(pattern, one.seam)
    runs = [tuple(part for part in run if part not in left) for run in (one.seam.a, one.seam.b)]
    if not all(runs):
        both = (spoken.ref(named_run(pattern, run)) for run in (one.seam.a, one.seam.b))
        return f"Leave {' and '.join(both)} open ({mm(run_sewn(pattern, one.seam.a))}), for a zip, buttons or a hand."
    a, b = (spoken.ref(named_run(pattern, run)) for run in runs)
    lengths = [mm(run_sewn(pattern, run)) for run in runs]
    if (on := laid_on(pattern, one.seam)) is not None:
        ground, own = (side.parts[0].step for side in on)
        hems = [called(edge.name) for edge in own.piece.edges if edge.use == "hem"]
        said = f"Turn up the {listed(hems)} of the {own.piece.name}, lay it" if hems else f"Lay the {own.piece.name}"
        said += f" on its line on the {ground.piece.name} and sew its {called(own.edge.name)} there ({lengths[0]})"
    elif _folded(one.seam):
        piece, edge = owner(pattern, one.seam.a[0])
        said = f"Fold the {piece.name} in half and sew its {called(edge.name)}, {lengths[0]} on each side"
    else:
        said = f"Sew {a} ({lengths[0]}) to {b} ({lengths[1]})"
    if left:
        first_left = tuple(left[:1])
        said += f"; {spoken.ref(named_run(pattern, first_left))} ({mm(run_sewn(pattern, first_left))}) is left open"
    if one.seam.ease:
        said += f", {mm(abs(one.seam.ease))} of {'the second' if one.seam.ease > 0 else 'the first'} eased in"
    if one.after:
        are = "is" if len(one.after) == 1 else "are"
        said += f"; {listed(str(first + k + 1) for k in one.after)} {are} sewn before it"
    return f"{said}."


def _darts(pattern: Pattern) -> Iterator[Sewn]:
    for piece in pattern.pieces:
        if not piece.darts:
            continue
        told = [_dart(piece, dart) for dart in piece.darts]
        yield Sewn(words=f"On the {piece.name}, sew {listed(told)}.")


def _dart(piece: Piece, dart: Dart) -> str:
    toward = {edge.uid: f", pressed toward the {called(edge.name)}" for edge in piece.edges}
    pressed = ", pressed open" if dart.pressed == OPEN else toward.get(dart.pressed, "")
    return f"the {called(dart.name)} ({mm(intake(dart))} wide{pressed})"


def _fullness(pattern: Pattern) -> Iterator[Sewn]:
    for piece in pattern.pieces:
        for edge in piece.edges:
            amounts: dict[str, float] = {}
            for takeup in edge.takeups:
                if takeup.kind in FULLNESS:
                    amounts[takeup.kind] = amounts.get(takeup.kind, 0.0) + takeup.amount
            for kind, amount in amounts.items():
                words = f"{FULLNESS[kind]} the {called(edge.name)} of the {piece.name}: {mm(amount)} are taken up."
                yield Sewn(words=words)


def _hems(pattern: Pattern) -> Iterator[Sewn]:
    sewn_on = {on[1].parts[0].step.piece.uid for seam in pattern.seams if (on := laid_on(pattern, seam)) is not None}
    rows = [
        f"that of the {piece.name}" + (f" by {mm(edge.allowance.width)}" if edge.allowance is not None else "")
        for piece in pattern.pieces
        for edge in piece.edges
        if edge.use == "hem" and piece.uid not in sewn_on
    ]
    if rows:
        yield Sewn(words=f"Turn up the hems: {listed(rows)}.")
