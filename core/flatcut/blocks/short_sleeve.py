"""Short, cap and puff sleeves: the cap of the set-in sleeve, with less or nothing below it, or with fullness in it.

Common practice, no source: a short sleeve a little narrower at its hem than at the arm; a cap sleeve from notch to
notch, with no seam under the arm; a puff opened along its middle and raised at the crown, gathered between the notches.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.blocks.sleeve import Armhole, SleeveFrame, from_end, from_start, set_in, to_armholes
from flatcut.blocks.underarm import draw_underarm
from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, flatten, section, tangent, transform
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, place_at
from flatcut.pattern.assembling import Mark, Side, assembled, sewn_to
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Piece, Seam, TakeUp
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Capped:
    """A sleeve and its seams. crown, cap: drawn mm along the cap to the shoulder and in all."""

    piece: Piece
    seams: tuple[Seam, ...]
    crown: float
    cap: float


def short_sleeve(
    name: str, frame: SleeveFrame, holes: tuple[Armhole, Armhole], uids: Uids, *, below: float, hem: float
) -> Capped:
    """A sleeve whose underarm seams drop by `below` mm to a hem of so many. Errors: GeometryError."""
    return _made(name, frame, holes, uids, below=below, hem=hem, cap=_plain_cap(frame), gathered=None)


def puff_sleeve(
    name: str,
    frame: SleeveFrame,
    holes: tuple[Armhole, Armhole],
    uids: Uids,
    *,
    below: float,
    hem: float,
    full: float,
    rise: float,
    band: float | None,
) -> Capped:
    """A sleeve opened along its middle by `full` mm, its crown `rise` mm higher, gathered between the notches.

    hem: mm of the hem before it is opened; band: mm to which the hem is gathered. Errors: GeometryError, UsageError.
    """
    back, front = _plain_cap(frame)
    apart = Affine.translation(-full / 2, 0.0), Affine.translation(full / 2, 0.0)
    u, v = place_at(back, holes[0].notch), place_at(front, length(front) - holes[1].notch)
    low_back = transform(section(back, 0.0, u), apart[0])
    low_front = transform(section(front, v, float(len(front))), apart[1])
    crown = np.array([0.0, -frame.height - rise])
    level = np.array([1.0, 0.0])
    up = flowing([low_back.end, crown], leave=tangent(back, u), arrive=level)
    down = flowing([crown, low_front.start], leave=level, arrive=tangent(front, v))
    return _made(
        name,
        frame,
        holes,
        uids,
        below=below,
        hem=hem,
        cap=(chain([low_back, up], within=1e-6), chain([down, low_front], within=1e-6)),
        gathered=(full, band),
    )


def cap_sleeve(
    name: str, frame: SleeveFrame, holes: tuple[Armhole, Armhole], uids: Uids, *, over: float, since: float | None
) -> Capped:
    """The top of a sleeve, from a place on the back armhole over the shoulder to one on the front armhole.

    over: mm from the crown straight down to the hem; since: mm from the underarm along both armholes to where it
    begins, None for the notches. Errors: UsageError where its hem would cut into the cap.
    """
    back, front = _plain_cap(frame)
    starts = [hole.notch if since is None else since for hole in holes]
    for hole, at in zip(holes, starts, strict=True):
        if not 1.0 < at < hole.sewn - 30.0:
            raise UsageError(
                f"{hole.piece.name}.{hole.edge.name} is {plain(hole.sewn)} mm long, and a cap sleeve cannot begin "
                f"{plain(at)} mm from the underarm; begin it lower"
            )
    u, v = place_at(back, starts[0]), place_at(front, length(front) - starts[1])
    back, front = section(back, u, float(len(back))), section(front, 0.0, v)
    crown = back.end
    middle = crown + np.array([0.0, over])
    chord = back.start + (front.end - back.start) * (middle[0] - back.start[0]) / (front.end[0] - back.start[0])
    if middle[1] < chord[1] - 0.35 * (chord[1] - crown[1]):
        raise UsageError(
            f"a cap sleeve {plain(over)} mm long would end above its own ends, {plain(chord[1] - crown[1])} mm below "
            "the crown; make it longer, or begin it higher"
        )
    hem = flowing([front.end, middle, back.start])
    whole = chain([back, front], within=1e-6)
    sides = (Side(name="cap", parts=(whole,)), Side(name="hem", parts=(hem,), use="hem"))
    grain = crown + np.array([0.0, 0.15 * over]), crown + np.array([0.0, 0.85 * over])
    piece = assembled(
        name,
        sides,
        uids,
        points=(("crown", crown),),
        marks=(Mark(edge="cap", at=length(back)),),
        grain=(grain[1], grain[0]),
        cut_as="pair",
    )
    rows = []
    ends = length(back), length(whole)
    for k, hole in enumerate(holes):
        wanted = hole.sewn - starts[k]
        ease = (ends[0] if k == 0 else ends[1] - ends[0]) - wanted
        start, end = from_start(starts[k]), from_end(0.0)
        on_hole = (start, end) if k == 1 else (from_start(0.0), from_end(starts[k]))
        on_cap = (from_start(0.0), from_start(ends[0])) if k == 0 else (from_start(ends[0]), from_end(0.0))
        rows.append((hole, on_hole, on_cap, ease))
    return Capped(piece=piece, seams=to_armholes(piece, rows, uids), crown=length(back), cap=length(whole))


def _plain_cap(frame: SleeveFrame) -> tuple[Curve, Curve]:
    return frame.cap_back, frame.cap_front


def _made(
    name: str,
    frame: SleeveFrame,
    holes: tuple[Armhole, Armhole],
    uids: Uids,
    *,
    below: float,
    hem: float,
    cap: tuple[Curve, Curve],
    gathered: tuple[float, float | None] | None,
) -> Capped:
    """gathered: mm by which it is opened, and to how many mm its hem is drawn up, None for not."""
    full = gathered[0] if gathered else 0.0
    left, right = np.array([-frame.back - full / 2, 0.0]), np.array([frame.front + full / 2, 0.0])
    under = draw_underarm(left, right, below=below, hem=hem + full, kind="straight")
    deep = float(flatten(under.hem, tolerance=0.5)[:, 1].min())
    whole = chain(cap, within=1e-6)
    crown, total = length(cap[0]), length(whole)
    piece = assembled(
        name,
        (
            Side(name="cap", parts=(whole,)),
            Side(name="underarm-front", parts=(under.front,)),
            Side(name="hem", parts=(under.hem,), use="hem"),
            Side(name="underarm-back", parts=under.back),
        ),
        uids,
        levels=(("bicep-line", left, right),),
        points=(("crown", cap[0].end),),
        marks=(
            Mark(edge="cap", at=holes[0].notch, count=2),
            Mark(edge="cap", at=crown),
            Mark(edge="cap", at=holes[1].notch, from_end=True),
        ),
        grain=(np.array([0.0, deep - min(10.0, 0.2 * deep)]), np.array([0.0, -frame.height + 20.0])),
        cut_as="pair",
    )
    eases, shoulder = (crown - holes[0].sewn, total - crown - holes[1].sewn), crown
    if gathered:
        piece, shoulder = _drawn_up(piece, holes, crown, total, gathered[1], uids)
        eases = (0.0, 0.0)
    closing = sewn_to((piece, "underarm-front"), (piece, "underarm-back"), uids)
    seams = (closing, *set_in(holes[0], holes[1], piece, shoulder, eases, uids))
    return Capped(piece=piece, seams=seams, crown=crown, cap=total)


def _drawn_up(
    piece: Piece, holes: tuple[Armhole, Armhole], crown: float, total: float, band: float | None, uids: Uids
) -> tuple[Piece, float]:
    """The sleeve gathered over the cap, the back and the front each to its armhole, and at the hem to a band.

    With it the sewn mm along the cap to the crown.
    """
    cap, hem = piece.edge("cap"), piece.edge("hem")
    rows = [
        (holes[0].notch, crown, crown - holes[0].sewn),
        (crown, total - holes[1].notch, total - crown - holes[1].sewn),
    ]
    ups = []
    for k, (start, end, amount) in enumerate(rows):
        if amount < 0 or amount > 0.8 * (end - start):
            raise UsageError(
                f"{plain(end - start)} mm of cap cannot be gathered by {plain(amount)} mm; make it more or less full"
            )
        uid = uids.fresh("gathers", cap.uid, str(k))
        ups.append(TakeUp(uid=uid, kind="gathers", start=start, end=end, amount=amount))
    edges = {cap.uid: replace(cap, takeups=tuple(ups))}
    if band is not None:
        size = length(hem.parts[0])
        if not 0.25 * size < band < size:
            raise UsageError(f"a hem of {plain(size)} mm is not gathered to {plain(band)} mm; give another band")
        up = TakeUp(uid=uids.fresh("gathers", hem.uid), kind="gathers", start=0.0, end=size, amount=size - band)
        edges[hem.uid] = replace(hem, takeups=(up,))
    # notches of the shoulder count along the sewn line
    sewn = holes[0].sewn
    notches = tuple(
        replace(n, at=from_start(sewn)) if n.at.mode == "start" and abs(n.at.value - crown) < 1e-9 else n
        for n in piece.notches
    )
    return replace(piece, edges=tuple(edges.get(e.uid, e) for e in piece.edges), notches=notches), sewn
