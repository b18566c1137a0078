"""What is reported of fullness that was put into a piece."""

from __future__ import annotations

import math
from collections.abc import Sequence

from flatcut.fullness.fullness import Fullness, Wanted
from flatcut.fullness.slashing import NODE
from flatcut.fullness.spreading import Spread
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.pattern.values import Figure, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.units import plain

CM2 = 100.0
"""mm² in a cm²."""
MET = 0.5
"""mm: a folded pleat that misses its seam line by more is told as a warning."""


def fullness_figures(before: Piece, done: Fullness, wanted: Sequence[Wanted], reason: str) -> list[Figure]:
    """Figures of lines opened: the turns, the edges before and after, what is taken up, what was redrawn, the area."""
    name, found = before.name, []
    for spread, want in zip(done.spreads, wanted, strict=True):
        line = f"{name}.{spread.line.name}"
        for k, end in ((0, "start"), (1, "end")):
            if not want.gaps[k]:
                continue
            where = [before.edge_of(o.edge).name for o in spread.openings if o.at == k]
            found.append(Figure(f"{line} opened at {where[0] if where else end}", want.gaps[k]))
        if abs(spread.radians) > 1e-9:
            found.append(Figure(f"{line} turned", math.degrees(abs(spread.radians)), "°"))
        if want.gaps[0] != want.gaps[1] and want.gaps[0] * want.gaps[1] > 0:
            low, high = sorted(map(abs, want.gaps))
            size = float(math.hypot(*(spread.chord[1] - spread.chord[0])))
            found.append(Figure(f"{line} hinge beyond its narrow end", low * size / (high - low)))
    if len(done.spreads) > 1 and any(abs(s.radians) > 1e-9 for s in done.spreads):
        found.append(Figure(f"{name} turned together", math.degrees(abs(sum(s.radians for s in done.spreads))), "°"))
    corners = [(edge.start, done.piece.edge_of(edge.uid).start) for edge in before.edges]
    moved = max(float(math.hypot(*(now - was))) for was, now in corners)
    found.append(Figure(f"{name} held where {reason}, largest move of a corner", moved))
    for edge in before.edges:
        now = done.piece.edge_of(edge.uid)
        if not any(o.edge == edge.uid for s in done.spreads for o in s.openings):
            continue
        found += [
            Figure(f"{name}.{edge.name} drawn before", drawn_length(edge)),
            Figure(f"{name}.{edge.name} drawn", drawn_length(now)),
        ]
        if now.takeups or edge.takeups:
            found.append(Figure(f"{name}.{edge.name} sewn", sewn_length(now)))
    for uid, takeup in done.takeups:
        on = f"{name}.{before.edge_of(uid).name} {takeup.kind}"
        found += [
            Figure(f"{on} from", takeup.start),
            Figure(f"{on} to", takeup.end),
            Figure(f"{on} taken up", takeup.amount),
        ]
        if takeup.kind == "gathers":
            cloth = takeup.end - takeup.start
            found.append(Figure(f"{on}, cloth over finished", cloth / (cloth - takeup.amount), "×"))
    for uid, moved, change in done.blends:
        on = f"{name}.{before.edge_of(uid).name} redrawn"
        found += [Figure(f"{on}, largest move", moved), Figure(f"{on}, longer by", change)]
    if done.evened > 0:
        found.append(Figure(f"{name} ends of leaning folds evened by", done.evened))
    found += done.notches
    found.append(Figure(f"{name} area changed by", (abs(area(done.piece)) - abs(area(before))) / CM2, "cm²"))
    return found


def said_of(before: Piece, done: Fullness, within: float) -> tuple[str, ...]:
    """What a person should know of it, as sentences."""
    said = list(done.dropped)
    for uid, why in done.refused:
        edge = f"{before.name}.{before.edge_of(uid).name}"
        if not why:
            said.append(
                f"{edge} is wavy where it was opened; a larger --within than {plain(within)} lets it run smoother"
            )
            continue
        said.append(f"{edge} stays as it opened: {why}; use more lines, or a larger --within")
    if done.off > MET:
        said.append(f"a folded pleat misses its seam line by {done.off:.1f} mm; true the edge beside it")
    for name, away in done.ending_off:
        said.append(
            f"{before.name}.{name} ends {plain(away)} mm off the edge as it is drawn now; draw it on to the edge"
        )
    for spread in done.spreads:
        if _over_itself(spread):
            line = f"{before.name}.{spread.line.name}"
            said.append(f"the sides of {line} lie over each other on their way; draw the line less winding")
    return tuple(said)


def _over_itself(spread: Spread) -> bool:
    """Whether the sides of an opened line cross elsewhere than at a hinge."""
    curve = spread.line.curve
    if min(spread.gaps) < 0 or (len(curve) == 1 and curve.straight[0]):
        return False
    one, other = spread.line_at(0.0), spread.line_at(1.0)
    total = length(one)
    return any(NODE < length_to(one, c.u) < total - NODE for c in crossings(one, other))
