"""The cut line of a piece: its outline with the darts capped, moved out by the allowance of each edge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.offset_outline import try_outlines
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge, OutlineOffset
from flatcut.marking.banding import Banded, banded
from flatcut.marking.rims import Rim, rims, uncapped
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.defaults import ALLOWANCES, CORNERS, NO_ALLOWANCE
from flatcut.pattern.values import Edge, Piece
from flatcut.units import plain

TOLERANCE = 0.02
"""mm that the cut line may stray from the true offset: far below the width of a pencil line, and few curves enough."""

Made: TypeAlias = "Mapping[str, tuple[Piece, CutLine | None]]"
NONE_MADE: Made = MappingProxyType({})

BY_HAND = 30.0
"""mm: a span of a cut line drawn by hand that lies farther from the one made belongs to no edge."""


NO_LENGTH = 1e-9
"""mm: a span that is smaller has no length."""
RUNS_ON = 5.0
"""Degrees: edges that meet this straight have no ends that a seam could be sewn over (common practice, no source)."""
FLAT = 3.0
"""A dart whose cap ends farther from its feet than so many times its width runs along its edge more than into it."""


def corner_kind(piece: Piece, edge: Edge) -> tuple[str, str]:
    """Kind of the corner at the end of an edge, and which of the two edges it goes by: 'first', 'second' or ''."""
    following = piece.after(edge)
    kind, through = edge.corner.kind, edge.corner.through
    if not kind:
        by_use = [(CORNERS[e.use], e.uid) for e in (edge, following) if e.use in CORNERS]
        told = through if through in (edge.uid, following.uid) and not _runs_on(piece, edge) else ""
        kind, through = by_use[0] if by_use else (("squared", told) if told else ("mitred", ""))
    if kind not in ("squared", "turned"):
        return kind, ""
    return kind, "second" if through == following.uid and len(piece.edges) > 1 else "first"


def _runs_on(piece: Piece, edge: Edge) -> bool:
    """Whether the edge that follows runs on from an edge or away behind it, so that there is no end to be squared."""
    from flatcut.pattern.seam_ends import inside_angle  # only where a seam was told to be sewn first

    return inside_angle(piece, edge) > 180.0 - RUNS_ON


def cut_line(piece: Piece) -> CutLine | None:
    """The cut line, or None while no edge has an allowance. Errors: GeometryError that names the piece."""
    found = cut_lines_of([piece])[0]
    if isinstance(found, GeometryError):
        raise found
    return found


def cut_lines_of(pieces: Sequence[Piece], made: Made = NONE_MADE) -> list[CutLine | GeometryError | None]:
    """As `cut_line` for many pieces in one call, several times faster than one by one, with errors in their places.

    made: as for `cut_lines`.
    """
    wanted = [wants_cut(piece) and made.get(piece.uid, (None,))[0] is not piece for piece in pieces]
    return cut_lines([(piece, rims(piece) if w else []) for piece, w in zip(pieces, wanted, strict=True)], made)


def wants_cut(piece: Piece) -> bool:
    """Whether an edge of the piece has an allowance, so that there is a cut line to draw."""
    return any(edge.allowance is not None for edge in piece.edges)


def cut_lines(
    pieces: Sequence[tuple[Piece, list[Rim]]], made: Made = NONE_MADE
) -> list[CutLine | GeometryError | None]:
    """The cut lines of many pieces with their rims in one call, several times faster than one by one.

    The error stands in the place of a cut line that cannot be made. A piece whose corners cannot be squared as is usual
    has them mitred, with a warning: only what was stated may fail. made: cut lines that an earlier step has made, as
    `Pattern.cuts` hands them on; each is taken for the very piece that it was made of, and for no other.
    """
    ready = [made.get(piece.uid, (None, None)) for piece, _ in pieces]
    if any(of is piece for (of, _), (piece, _) in zip(ready, pieces, strict=True)):
        rest = iter(cut_lines([both for both, (of, _) in zip(pieces, ready, strict=True) if of is not both[0]]))
        return [cut if of is piece else next(rest) for (of, cut), (piece, _) in zip(ready, pieces, strict=True)]
    found = _made(pieces)
    again = [k for k, line in enumerate(found) if isinstance(line, GeometryError) and _squared_by_use(pieces[k][0])]
    if again:
        plain_ones = [(piece, rims(piece)) for piece in (_mitred(pieces[k][0]) for k in again)]
        for k, line in zip(again, _made(plain_ones), strict=True):
            if isinstance(line, CutLine):
                said = f"the seam ends of {pieces[k][0].name} are mitred, since squared as is usual {found[k]}"
                found[k] = line._replace(warnings=(*line.warnings, said), shaped=(*line.shaped, said))
    return found


def _squared_by_use(piece: Piece) -> bool:
    return any(edge.corner.through and not edge.corner.kind for edge in piece.edges)


def _mitred(piece: Piece) -> Piece:
    edges = (e if e.corner.kind else replace(e, corner=replace(e.corner, through="")) for e in piece.edges)
    return replace(piece, edges=tuple(edges))


def _made(pieces: Sequence[tuple[Piece, list[Rim]]]) -> list[CutLine | GeometryError | None]:
    """The cut lines as their corners are."""
    # a dart pressed open is cut along two different folded edges: both cut lines are made, each gives its half
    folded = [_folded(stretches) if wants_cut(piece) else () for piece, stretches in pieces]
    ways = [[banded(way) for way in both] for both in folded]
    outlines = [_outline(piece, way) for (piece, _), both in zip(pieces, ways, strict=True) for way in both]
    made = iter(try_outlines(outlines, tolerance=TOLERANCE))
    found: list[CutLine | GeometryError | None] = []
    for (piece, stretches), both in zip(pieces, ways, strict=True):
        lines = [_owned(next(made), way) for way in both]
        faults = [line for line in lines if isinstance(line, GeometryError)]
        done = [line for line in lines if not isinstance(line, GeometryError)]
        flat = _too_flat(piece, stretches) if lines else None
        if flat is not None:
            found.append(flat)
        elif faults:
            found.append(GeometryError(f"{piece.name} can have no cut line: {faults[0]}"))
        elif len(done) == 2:
            (first, owners_1, warned), (second, owners_2, _) = done
            from flatcut.marking.open_caps import spliced

            try:
                curve, owners = spliced(stretches, (first, owners_1), (second, owners_2))
            except GeometryError as error:
                found.append(GeometryError(f"{piece.name} can have no cut line: {error}"))
            else:
                found.append(CutLine(curve=curve, edges=owners, warnings=warned, shaped=warned))
        else:
            found += [CutLine(curve=c, edges=owners, warnings=told, shaped=told) for c, owners, told in done] or [None]
    return [_drawn_by_hand(piece, _asking(piece, line)) for (piece, _), line in zip(pieces, found, strict=True)]


def _folded(stretches: list[Rim]) -> tuple[list[Rim], ...]:
    if all(rim.dart is None for rim in stretches):
        return (stretches,)
    from flatcut.marking.open_caps import folded_both_ways  # only for darts in the outline

    return folded_both_ways(stretches)


def _asking(piece: Piece, made: CutLine | GeometryError | None) -> CutLine | GeometryError | None:
    """The cut line with what is left open: darts with no folded end, edges of which no allowance was stated."""
    if isinstance(made, CutLine):
        made = made._replace(warnings=(*made.warnings, *uncapped(piece)))
    open_ = [edge for edge in piece.edges if edge.allowance is None and edge.use not in NO_ALLOWANCE]
    if not isinstance(made, CutLine) or not open_:
        return made
    names = " ".join(f"{piece.name}.{edge.name}" for edge in open_)
    usual = plain(max(ALLOWANCES[edge.use] for edge in open_))
    said = f"no allowance is stated for {names}, so the cut line runs along the stitch line there; state it with: "
    return made._replace(warnings=(*made.warnings, f"{said}allowance {names} --width={usual}mm"))


def _too_flat(piece: Piece, stretches: Sequence[Rim]) -> GeometryError | None:
    """The error of a piece with a dart that runs along its edge: whatever its cut line would be, it is of no use."""
    for rim in stretches:
        if rim.dart is None:
            continue
        feet = rim.dart.feet
        out = float(np.linalg.norm(rim.curve.nodes - feet.mean(axis=0), axis=1).max())
        if out > FLAT * float(np.linalg.norm(feet[1] - feet[0])):
            return GeometryError(
                f"{piece.name} can have no cut line: {rim.dart.name} runs so flatly into {rim.edge.name} that, folded,"
                f" it would end {plain(out / 10, 1)} cm outside; open it at another place"
            )
    return None


def _drawn_by_hand(piece: Piece, made: CutLine | GeometryError | None) -> CutLine | GeometryError | None:
    """The cut line that a person has drawn in place of the one made; its spans belong to what they lie nearest to."""
    drawn = piece.cut_by_hand
    if drawn is None:
        return made
    owners = [""] * len(drawn)
    if isinstance(made, CutLine):
        middles = point(drawn, np.arange(len(drawn)) + 0.5)
        from flatcut.geometry.nearest import nearest  # a person has drawn few of them

        places, away = nearest(made.curve, middles)
        spans = np.minimum(places.astype(int), len(made.curve) - 1)
        owners = [made.edges[k] if far <= BY_HAND else "" for k, far in zip(spans.tolist(), away.tolist(), strict=True)]
    warning = (
        f"the cut line of {piece.name} stands as it was drawn by hand; draw it anew with: redraw {piece.name} --force"
    )
    return CutLine(curve=drawn, edges=tuple(owners), warnings=(warning,))


def _owned(
    made: OutlineOffset | GeometryError, stretches: Sequence[Banded]
) -> tuple[Curve, tuple[str, ...], tuple[str, ...]] | GeometryError:
    """Curve, the uid of each span's edge, and warnings."""
    if isinstance(made, GeometryError):
        return made
    return made.curve, tuple(stretches[k].edge.uid if k >= 0 else "" for k in made.sources), made.warnings


def _without_doubled(curve: Curve) -> Curve:
    """The curve without spans of no length, which have no direction; the check of shapes names them."""
    size = np.abs(curve.controls - curve.controls[:, :1]).max(axis=(1, 2))
    kept = size > NO_LENGTH
    return curve if kept.all() or not kept.any() else Curve(curve.controls[kept], curve.straight[kept])


def _outline(piece: Piece, stretches: Sequence[Banded]) -> tuple[list[OffsetEdge], list[OffsetCorner]]:
    """What the offset takes, named for its messages."""
    edges, corners = [], []
    for rim in stretches:
        name = f"{piece.name}.{rim.edge.name}"
        edges.append(OffsetEdge(curve=_without_doubled(rim.curve), width=rim.width, end_width=rim.end_width, name=name))
        kind, side = corner_kind(piece, rim.edge) if rim.last else ("stepped" if rim.stepped else "mitred", "")
        at = f"the cap of {rim.dart.name}" if rim.dart else f"the step on {name}"
        at = f"{name}/{piece.after(rim.edge).name}" if rim.last else at
        corners.append(
            OffsetCorner(
                kind=f"{kind}-{side}" if side else kind,
                limit=max(1.0, rim.reach / rim.end_width) if rim.reach and rim.end_width else rim.edge.corner.limit,
                # of a cap only the corner of the fold goes, beyond the stitches: less bulk, and nothing to be told
                told=rim.dart is None and not rim.reach,
                name=at,
            )
        )
    return edges, corners
