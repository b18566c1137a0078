"""A piece made of a drawn outline and what lies in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, InputError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, chain, flatten, tangent
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.region import crossing_place
from flatcut.outlines.digitised import Fitted, fitted, is_sampled, on_arcs, thinned
from flatcut.outlines.doubling import Marked, doubled
from flatcut.outlines.drawn_darts import DrawnDart, darts_of_lines, double_pointed
from flatcut.outlines.gathering import OVER, Gathered
from flatcut.outlines.netting import LONGEST, net
from flatcut.outlines.notching import DEEPEST, WIDEST, Cleaned, Cut, without_notches
from flatcut.pattern.renewing import numbered
from flatcut.pattern.tracing import CORNER_ANGLE, Traced, ring_of, trace
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Allowance,
    Corner,
    Dart,
    DrawnPath,
    Edge,
    Figure,
    Line,
    Notch,
    Piece,
    Position,
    TakeUp,
    area,
    checked_name,
)
from flatcut.pattern.walking import drawn_length, drawn_of, sewn_length, to_sewn
from flatcut.units import plain

MOST_NODES = 200_000
"""Nodes of an outline: points a twentieth of a millimetre apart on an outline of ten metres."""
AT_FOOT = 1.5
"""mm: a notch this near to the foot of a drawn dart marks that foot."""


@dataclass(frozen=True, kw_only=True)
class Manner:
    """How outlines are read. deepest, widest: of a notch, mm; width: of the allowance inside a cut line, or None."""

    corner_angle: float = CORNER_ANGLE
    deepest: float = DEEPEST
    widest: float = WIDEST
    keep_points: bool = False
    width: float | None = None


@dataclass(frozen=True, kw_only=True)
class Made:
    """A new piece, and what there is to say of it.

    outline: as drawn, its notches out; taken: ids of the drawn objects that are part of the piece now.
    """

    piece: Piece
    outline: Curve
    figures: tuple[Figure, ...]
    warnings: tuple[str, ...]
    taken: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Apart:
    """An outline taken apart: as drawn, without its notches, and in edges and darts; fit: of the points that it was."""

    ring: Curve
    cleaned: Cleaned
    traced: Traced
    fit: Fitted | None = None


def take_apart(outlines: Sequence[Gathered], manner: Manner) -> list[Apart | InputError]:
    """Find the corners, notches and darts of outlines, and fit curves to those of many points, all of them together.

    For an outline that cannot be taken apart there is the error that names the drawn object.
    """
    found: list[Apart | InputError] = []
    points: dict[int, tuple[Traced, Curve]] = {}
    for number, outline in enumerate(outlines):
        if len(outline.curve) > MOST_NODES:
            found.append(
                InputError(
                    f"'{outline.path.id}' has {len(outline.curve)} nodes, and an outline can have {MOST_NODES}; "
                    "simplify it, or digitise it more coarsely"
                )
            )
            continue
        try:
            one, sampled = _apart(outline, manner)
        except (InputError, GeometryError) as error:
            found.append(_named(outline, error))
            continue
        found.append(one)
        if sampled and not manner.keep_points:
            points[number] = one.traced, one.ring
    for number, fit in zip(points, fitted(list(points.values())), strict=True):
        apart = found[number]
        assert isinstance(apart, Apart)
        found[number] = replace(apart, fit=fit, traced=fit.traced._replace(nearly=apart.traced.nearly))
    return found


def _named(outline: Gathered, error: InputError | GeometryError) -> InputError:
    return InputError(f"'{outline.path.id}': {error}")


def _apart(outline: Gathered, manner: Manner) -> tuple[Apart, bool]:
    """The same of one outline, and whether it is points on curves."""
    ring = ring_of(outline.curve)
    sampled = is_sampled(ring, corner_angle=manner.corner_angle)
    thin = thinned(ring) if sampled and not manner.keep_points else ring
    cleaned = without_notches(thin, deepest=manner.deepest, widest=manner.widest, sampled=sampled)
    if sampled and thin is ring and not is_sampled(cleaned.ring, corner_angle=manner.corner_angle):
        # the many points were those of round notches
        sampled = False
        cleaned = without_notches(ring, deepest=manner.deepest, widest=manner.widest)
    _refuse_crossing(cleaned.ring)
    smooth = on_arcs(cleaned.ring) if sampled else None
    traced = trace(cleaned.ring, corner_angle=manner.corner_angle, smooth=smooth)
    if sampled:
        traced = traced._replace(kinks=())  # the points of a curve are no kinks
    return Apart(ring=ring, cleaned=cleaned, traced=traced), sampled


def make(name: str, outline: Gathered, manner: Manner, uids: Uids, apart: Apart | InputError | None = None) -> Made:
    """Make a piece of an outline, which may be taken apart with others before. Errors: InputError that names the drawn
    object."""
    if apart is None:
        (apart,) = take_apart([outline], manner)
    if isinstance(apart, InputError):
        raise apart
    try:
        return _made(name, outline, apart, manner, uids)
    except (InputError, GeometryError) as error:
        raise _named(outline, error) from None


def _made(name: str, outline: Gathered, apart: Apart, manner: Manner, uids: Uids) -> Made:
    path, ring, cleaned, traced, fit = outline.path, apart.ring, apart.cleaned, apart.traced, apart.fit
    nearly = [f"{name}: the V near {_place(at)} is no dart, since {why}; it stays outline" for at, why in traced.nearly]
    figures: list[Figure] = []
    if fit is not None:
        figures = [
            Figure(f"{name} points drawn", len(ring), ""),
            Figure(f"{name} spans fitted", fit.after, ""),
            Figure(f"{name} points stray", fit.largest),
            *([Figure(f"{name} points scatter by", fit.scatter)] if fit.scatter else []),
        ]
    as_read = _ring(traced)
    homes = [_run_of(traced, cut) for cut in cleaned.cuts]
    if manner.width is not None:
        traced = net(traced, manner.width)
    uid = uids.fresh("piece", name, path.id)
    allowance = None if manner.width is None else Allowance(width=manner.width)
    edges = tuple(
        Edge(
            uid=uids.fresh("edge", uid, str(k)),
            name=f"e{k + 1}",
            parts=parts,
            allowance=allowance,
            corner=_corner(traced, k) if allowance else Corner(),
        )
        for k, parts in enumerate(traced.runs)
    )
    lined, doubts = darts_of_lines(edges, [*outline.open, *outline.closed], over=OVER + (manner.width or 0.0))
    edges = tuple(_with_takeups(edge, k, lined, uids) for k, edge in enumerate(edges))
    darts = _cut_in(traced, edges, uids) + _lined(lined, edges, uids)
    origin, cut_drawn = (path.id, "") if manner.width is None else ("", path.id)
    piece = Piece(uid=uid, name=name, edges=edges, darts=tuple(darts), origin=origin, cut_drawn=cut_drawn)
    consumed = {part for dart in lined for part in dart.origin.split()}
    piece, inside = _with_inside(piece, outline, consumed, uids)
    marks = _marks(edges, cleaned.cuts, homes)
    piece = replace(piece, notches=tuple(notch_of(edges[k], mark, uids) for k, mark in marks))
    taken = (path.id, *consumed, *(thing.id for thing in outline.closed))
    warnings = [*outline.warnings, *_doubts(name, cleaned, homes), *_kinks(piece, traced), *nearly, *doubts, *inside]
    return Made(
        piece=piece,
        outline=as_read,
        figures=(*_figures(piece, cleaned.cuts, ring), *figures),
        warnings=tuple(warnings),
        taken=taken,
    )


def _ring(traced: Traced) -> Curve:
    """The whole outline again."""
    curves: list[Curve] = []
    for run, parts in enumerate(traced.runs):
        for k, part in enumerate(parts):
            curves += [part, *traced.darts.get((run, k), ())]
    return chain(curves, within=1e-6)


def _corner(traced: Traced, run: int) -> Corner:
    """The corner at the end of a run inside a cut line: as sharp as it was drawn, never bevelled."""
    before, after = traced.runs[run][-1], traced.runs[(run + 1) % len(traced.runs)][0]
    cosine = float(np.dot(tangent(before, len(before), before=True), tangent(after, 0.0)))
    # a mitre is 1 / sin(γ/2) widths long, and half the turn is 90° - γ/2
    long = 1 / max(np.sqrt((1 + cosine) / 2), 1 / LONGEST)
    return Corner(limit=LONGEST) if long > 0.98 * Corner().limit else Corner()


def _refuse_crossing(ring: Curve) -> None:
    where = crossing_place(flatten(ring, tolerance=0.02)[:-1])
    if where is not None:
        raise InputError(f"the outline crosses itself near x {where[0]:.1f}, y {where[1]:.1f} mm; mend it there")


def _run_of(traced: Traced, cut: Cut) -> int | None:
    """The run that a notch stands on, None when that is the leg of a dart."""
    away = [(min(nearest_place(part, cut.at)[1] for part in parts), k) for k, parts in enumerate(traced.runs)]
    legs = [nearest_place(leg, cut.at)[1] for pair in traced.darts.values() for leg in pair]
    best = min(away)
    return None if legs and min(legs) < best[0] else best[1]


def _with_takeups(edge: Edge, k: int, lined: list[DrawnDart], uids: Uids) -> Edge:
    takeups = tuple(
        TakeUp(
            uid=uids.fresh("takeup", edge.uid, str(i)),
            kind="dart",
            start=dart.start,
            end=dart.end,
            amount=dart.end - dart.start,
        )
        for i, dart in enumerate(lined)
        if dart.edge == k
    )
    return replace(edge, takeups=takeups) if takeups else edge


def _cut_in(traced: Traced, edges: tuple[Edge, ...], uids: Uids) -> list[Dart]:
    darts: list[Dart] = []
    for (run, after), legs in traced.darts.items():
        uid = uids.fresh("dart", edges[run].uid, str(after))
        darts.append(Dart(uid=uid, name=f"dart-{len(darts) + 1}", legs=legs, host=edges[run].uid, after=after))
    return darts


def _lined(lined: list[DrawnDart], edges: tuple[Edge, ...], uids: Uids) -> list[Dart]:
    darts = []
    for dart in lined:
        assert dart.edge is not None
        host = edges[dart.edge].uid
        uid = uids.fresh("dart", host, dart.origin)
        darts.append(Dart(uid=uid, name=uid, legs=dart.legs, form="lines", host=host, origin=dart.origin))
    return darts


def _with_inside(piece: Piece, outline: Gathered, consumed: set[str], uids: Uids) -> tuple[Piece, list[str]]:
    """The piece with the closed paths inside it, and what each was taken for; its darts get their names here."""
    names = piece.names() - {dart.name for dart in piece.darts}
    darts: list[Dart] = []
    lines: list[Line] = []
    said: list[str] = []
    for dart in piece.darts:
        darts.append(replace(dart, name=_free("dart", "", names)))
    inner = [(outline.path, curve, "cut-out") for curve in outline.inner]
    inner += [(path, curve, "placement") for path in outline.closed for curve in path.curves if path.id not in consumed]
    for k, (path, curve, kind) in enumerate(inner):
        origin = "" if kind == "cut-out" else path.id
        seed = (piece.uid, path.id, str(k))
        sides = double_pointed(curve)
        if sides is not None:
            name = _free("dart", _label(path, origin), names)
            uid = uids.fresh("dart", *seed)
            darts.append(Dart(uid=uid, name=name, legs=sides, form="lines", origin=origin))
            said.append(f"'{path.id}' in {piece.name} is taken for a double-pointed dart, {name}")
            continue
        name = _free(kind, _label(path, origin), names)
        lines.append(Line(uid=uids.fresh("line", *seed), name=name, curve=ring_of(curve), kind=kind, origin=origin))
        what = "a cut-out" if kind == "cut-out" else "a placement line"
        said.append(f"'{path.id}' in {piece.name} is taken for {what}, {name}")
    return replace(piece, darts=tuple(darts), lines=tuple(lines)), said


def _label(path: DrawnPath, origin: str) -> str:
    return path.label if origin else ""


def _free(kind: str, label: str, names: set[str]) -> str:
    """A name for a thing inside, which counts as taken then: its label where that is one, else a number."""
    try:
        name = checked_name(label) if label not in names else numbered(kind, names)
    except ValueError:
        name = numbered(kind, names)
    names.add(name)
    return name


def _marks(edges: tuple[Edge, ...], cuts: tuple[Cut, ...], homes: list[int | None]) -> list[tuple[int, Marked]]:
    """The notches by edge, double and triple ones together, in sewn mm."""
    marks = []
    for k, edge in enumerate(edges):
        mine = [cut for cut, home in zip(cuts, homes, strict=True) if home == k]
        marks += [(k, mark) for mark in doubled(_sewn_places(edge, mine))]
    return marks


def _sewn_places(edge: Edge, cuts: list[Cut]) -> list[tuple[float, Cut]]:
    """Where notches stand along an edge, in sewn mm; those at both feet of a dart are one place."""
    places: dict[float, Cut] = {}
    for cut in cuts:
        u, part = min(
            ((u, k) for k, part in enumerate(edge.parts) for u in [nearest_place(part, cut.at)]),
            key=lambda item: item[0][1],
        )
        drawn = drawn_of(edge, part, u[0])
        for takeup in edge.takeups:
            feet = [foot for foot in (takeup.start, takeup.end) if abs(drawn - foot) <= AT_FOOT]
            drawn = feet[0] if feet else drawn
        places.setdefault(to_sewn(edge, drawn), cut)
    return list(places.items())


def notch_of(edge: Edge, mark: Marked, uids: Uids) -> Notch:
    """A notch, double or triple where marks stand side by side, measured from the nearer end of its edge."""
    total = sewn_length(edge)
    near = mark.middle <= total / 2
    at = Position(mode="start", value=mark.middle) if near else Position(mode="end", value=total - mark.middle)
    made = Notch(
        uid=uids.fresh("notch", edge.uid, plain(mark.middle, 3)),
        edge=edge.uid,
        at=at,
        kind=mark.cut.kind,
        count=mark.count,
        depth=mark.cut.depth,
        into=mark.cut.into,
    )
    return made if mark.count == 1 else replace(made, apart=mark.apart)


def _figures(piece: Piece, cuts: tuple[Cut, ...], ring: Curve) -> list[Figure]:
    figures = [
        Figure(f"{piece.name} edges", len(piece.edges), ""),
        Figure(f"{piece.name} outline", sum(drawn_length(edge) for edge in piece.edges)),
        Figure(f"{piece.name} area", area(piece) / 100, "cm²"),
    ]
    if piece.darts:
        figures.append(Figure(f"{piece.name} darts", len(piece.darts), ""))
    for (kind, into), count in sorted(Counter((cut.kind, cut.into) for cut in cuts).items()):
        figures.append(Figure(f"{piece.name} {kind} notches {into}", count, ""))
    return figures


def _doubts(name: str, cleaned: Cleaned, homes: list[int | None]) -> list[str]:
    said = [f"{name}: the cut near {_place(at)} {why}; it stays outline" for at, why in _first_of_each(cleaned)]
    lost = [cut for cut, home in zip(cleaned.cuts, homes, strict=True) if home is None]
    return said + [
        f"{name}: the notch near {_place(cut.at)} stands on the leg of a dart and is left out" for cut in lost
    ]


def _first_of_each(cleaned: Cleaned) -> list[tuple[Array, str]]:
    """The doubtful cuts; of a row of teeth the first stands for all."""
    found: list[tuple[Array, str]] = []
    for at, why in cleaned.doubtful:
        if "teeth" not in why or all(why != told for _, told in found):
            found.append((at, why))
    return found


def _place(at: Array) -> str:
    return f"x {at[0]:.1f}, y {at[1]:.1f} mm"


def _kinks(piece: Piece, traced: Traced) -> list[str]:
    said = []
    for run in dict.fromkeys(run for run, _ in traced.kinks):
        angles = [abs(angle) for at, angle in traced.kinks if at == run]
        name = f"{piece.name}.{piece.edges[run].name}"
        if len(angles) == 1:
            said.append(f"{name} has a kink of {angles[0]:.1f}° inside it")
        else:
            said.append(f"{name} has {len(angles)} kinks inside it, the largest of {max(angles):.1f}°")
    return said


def size(piece: Piece) -> float:
    """mm over the longer side of a piece's box."""
    boxes = bounds(chain([part for edge in piece.edges for part in edge.parts], within=float("inf")))
    return max(boxes[2] - boxes[0], boxes[3] - boxes[1])
