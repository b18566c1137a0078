"""Two patterns held against each other: the one place that says what it means for them to be equal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.pattern.marks import kinds
from flatcut.pattern.values import Dart, Edge, Mark, Pattern, Piece, Position, RunPart, Seam, Stretch
from flatcut.units import plain


def differences(a: Pattern, b: Pattern, *, tolerance: float) -> list[str]:
    """In what b differs from a, as sentences; empty when they are equal within `tolerance` mm.

    Pieces, edges and all that has a name are paired by name, seams and notches by what they lie on, so two patterns
    made apart from each other can be equal though no uid is. Not compared: uids, where a piece came from in its
    document, what the document draws beside the pieces, and the steps, which are how a pattern came about.

    >>> from flatcut.geometry.curves import line
    >>> corners = [(0, 0), (40, 0), (0, 30)]
    >>> edges = tuple(
    ...     Edge(uid=str(k), name=f"e{k}", parts=(line(corners[k], corners[(k + 1) % 3]),)) for k in range(3)
    ... )
    >>> one = Pattern(pieces=(Piece(uid="p", name="front", edges=edges),))
    >>> moved = replace(edges[0], parts=(line((0, 0), (40, 0.5)),))
    >>> other = Pattern(pieces=(Piece(uid="q", name="front", edges=(moved, *edges[1:])),))
    >>> differences(one, one, tolerance=1e-9), differences(one, other, tolerance=0.1)
    ([], ['front.e0 lies up to 0.5 mm apart'])
    """
    said = _paired("piece", a.pieces, b.pieces, lambda p, q: _pieces(p, q, tolerance))
    said += _paired("source of", _sources(a), _sources(b), lambda p, q: _sourced(p, q, tolerance))
    said += _values("the style", a.style, b.style)
    said += _lengths("body measurement", a.body, b.body, tolerance)
    said += _lengths("stored measure", a.measures, b.measures, tolerance)
    said += _seams(a, b, tolerance)
    return said


def _paired(kind: str, a: Iterable[Any], b: Iterable[Any], compare: Callable[[Any, Any], list[str]]) -> list[str]:
    first, second = {thing.name: thing for thing in a}, {thing.name: thing for thing in b}
    said = [f"{kind} {name} is only in the first" for name in first if name not in second]
    said += [f"{kind} {name} is only in the second" for name in second if name not in first]
    for name in first:
        if name in second:
            said += compare(first[name], second[name])
    if not said and list(first) != list(second):
        said.append(f"the order of the {kind}s is {', '.join(first)} and {', '.join(second)}")
    return said


class _Made(NamedTuple):
    """What a piece was made of, with names in place of uids."""

    name: str
    said: tuple[str, ...]
    taken: tuple[str, ...]
    at: Array


def _sources(pattern: Pattern) -> list[_Made]:
    names = {piece.uid: piece.name for piece in pattern.pieces}
    names |= {edge.uid: edge.name for piece in pattern.pieces for edge in piece.edges}
    found = []
    for piece in pattern.pieces:
        source = piece.source
        if source is not None:
            of = tuple(names.get(uid, "") for uid in source.of)
            taken = tuple(names.get(t.edge, "") for t in source.taken)
            at = np.array([t.at for t in source.taken]).reshape(-1, 2)
            found.append(_Made(piece.name, (source.kind, source.line, *of), taken, at))
    return found


def _sourced(p: _Made, q: _Made, tolerance: float) -> list[str]:
    what = f"what {p.name} was made of"
    said = _values(what, (p.said, p.taken), (q.said, q.taken))
    return said or (_apart(what, p.at, q.at, tolerance) if len(p.at) else [])


def _values(what: str, a: Any, b: Any) -> list[str]:
    return [] if a == b else [f"{what} is {a} and {b}"]


def _number(what: str, a: float | None, b: float | None, tolerance: float) -> list[str]:
    near = a == b or (a is not None and b is not None and abs(a - b) <= tolerance)
    return [] if near else [f"{what} is {_shown(a)} and {_shown(b)}"]


def _shown(value: float | None) -> str:
    return "none" if value is None else f"{plain(value, 4)} mm"


def _lengths(kind: str, a: Mapping[str, float], b: Mapping[str, float], tolerance: float) -> list[str]:
    return [line for name in {**a, **b} for line in _number(f"{kind} {name}", a.get(name), b.get(name), tolerance)]


def _pieces(a: Piece, b: Piece, tolerance: float) -> list[str]:
    name = a.name
    said = _paired(f"{name}: edge", a.edges, b.edges, lambda p, q: _edges(a, b, p, q, tolerance))
    said += _paired(f"{name}: dart", a.darts, b.darts, lambda p, q: _darts(a, b, p, q, tolerance))
    for kind in kinds():
        said += _marks(kind, a, b, tolerance)
    drawn = [[] if p.cut_by_hand is None else [p.cut_by_hand] for p in (a, b)]
    if [len(curves) for curves in drawn] == [1, 1]:
        said += _curves(f"{name}: the cut line drawn by hand", drawn[0], drawn[1], tolerance)
    else:
        said += _values(f"{name}: cut lines drawn by hand", *(len(curves) for curves in drawn))
    for field in ("quantity", "cut_as", "side", "material"):
        said += _values(f"{name}: {field}", getattr(a, field), getattr(b, field))
    return said


def _apart(what: str, a: Array, b: Array, tolerance: float) -> list[str]:
    away = float(np.abs(a - b).max())
    return [] if away <= tolerance else [f"{what} lies up to {plain(away, 4)} mm apart"]


def _curves(what: str, a: Sequence[Curve], b: Sequence[Curve], tolerance: float) -> list[str]:
    if [len(c) for c in a] != [len(c) for c in b]:
        return [f"{what} has {[len(c) for c in a]} and {[len(c) for c in b]} spans"]
    # the handles of a straight span say nothing; curves from other hands may hold them elsewhere
    flat = [f"{what} is straight in one only" for p, q in zip(a, b, strict=True) if (p.straight != q.straight).any()]
    controls = [(p.controls, q.controls) for p, q in zip(a, b, strict=True)]
    every = [_apart(what, p, q, tolerance) for p, q in controls]
    return flat[:1] + max(every, key=lambda lines: (len(lines), *lines), default=[])


def _edges(a: Piece, b: Piece, p: Edge, q: Edge, tolerance: float) -> list[str]:
    what = f"{a.name}.{p.name}"
    said = _curves(what, p.parts, q.parts, tolerance)
    said += _values(f"{what}: use", p.use, q.use)
    said += _values(f"{what}: words", p.words, q.words)
    said += _values(f"{what}: on the centre line", p.middle, q.middle)
    for field in ("width", "end_width"):
        first, second = (getattr(e.allowance, field) if e.allowance else None for e in (p, q))
        said += _number(f"{what}: allowance's {field.replace('_', ' ')}", first, second, tolerance)
    stretches = [e.allowance.stretches if e.allowance else () for e in (p, q)]
    said += _values(f"{what}: allowance's stretches", *([_stretch(s) for s in own] for own in stretches))
    corners = [replace(e.corner, through=_name_of(piece, e.corner.through)) for piece, e in ((a, p), (b, q))]
    said += _values(f"{what}: corner", *corners)
    said += _values(f"{what}: take-ups", [t.kind for t in p.takeups], [t.kind for t in q.takeups])
    for mine, other in zip(p.takeups, q.takeups, strict=False):
        for field in ("start", "end", "amount"):
            said += _number(f"{what}: {mine.kind}'s {field}", getattr(mine, field), getattr(other, field), tolerance)
    return said


def _darts(a: Piece, b: Piece, p: Dart, q: Dart, tolerance: float) -> list[str]:
    what = f"{a.name}.{p.name}"
    said = _curves(what, p.legs, q.legs, tolerance)
    for field in ("form", "after"):
        said += _values(f"{what}: {field}", getattr(p, field), getattr(q, field))
    for field in ("host", "pressed"):
        said += _values(f"{what}: {field}", _name_of(a, getattr(p, field)), _name_of(b, getattr(q, field)))
    return said


def _marks(kind: type[Mark], a: Piece, b: Piece, tolerance: float) -> list[str]:
    """The marks of one kind: those with names by their names, others as they follow each other or on their edges."""
    first, second = a.marks_of(kind), b.marks_of(kind)
    if any(hasattr(mark, "name") for mark in first + second):
        return _paired(
            f"{a.name}: {kind.role}", first, second, lambda p, q: _mark(f"{a.name}.{p.name}", (a, p), (b, q), tolerance)
        )
    if len(first) != len(second):
        return [f"{a.name} has {len(first)} and {len(second)} {kind.plural}"]
    ordered = [sorted(own, key=lambda m: _order(m, piece)) for piece, own in ((a, first), (b, second))]
    return [
        text
        for p, q in zip(*ordered, strict=True)
        for text in _mark(f"{a.name}: {p.told(a)}", (a, p), (b, q), tolerance)
    ]


def _order(mark: Mark, piece: Piece) -> tuple[Any, ...]:
    """Marks that stand by themselves stay in their order; those on edges have none."""
    if mark.place(piece) is mark.standing():
        return ()
    compared = mark.compared(piece)
    return (*map(str, compared.said), *(value for _, value in compared.sizes))


def _mark(what: str, one: tuple[Piece, Mark], other: tuple[Piece, Mark], tolerance: float) -> list[str]:
    first, second = (mark.compared(piece) for piece, mark in (one, other))
    said = _values(what, first.said, second.said)
    for (name, a), (_, b) in zip(first.sizes, second.sizes, strict=True):
        said += _number(f"{what}: {name}", a, b, tolerance)
    for (name, p), (_, q) in zip(first.places, second.places, strict=True):
        if isinstance(p, Curve) and isinstance(q, Curve):
            said += _curves(what, [p], [q], tolerance)
        elif p is None or q is None:
            said += [] if p is q else [f"{what} has a {name} in one only"]
        elif not isinstance(p, Curve) and not isinstance(q, Curve):
            said += _apart(f"{what}: {name}", p, q, tolerance)
    return said


def _stretch(stretch: Stretch) -> tuple[object, ...]:
    places = [(at.mode, round(at.value, 6)) for at in (stretch.start, stretch.end)]
    return (*places, stretch.width, stretch.end_width)


def _seams(a: Pattern, b: Pattern, tolerance: float) -> list[str]:
    first, second = ({_runs(pattern, seam): seam for seam in pattern.seams} for pattern in (a, b))
    said = [f"seam {key} is only in the first" for key in first if key not in second]
    said += [f"seam {key} is only in the second" for key in second if key not in first]
    for key in first:
        if key in second:
            p, q = first[key], second[key]
            said += _number(f"seam {key}: ease", p.ease, q.ease, tolerance)
            said += _values(f"seam {key}", (p.reversed, p.suggested), (q.reversed, q.suggested))
    return said


def _runs(pattern: Pattern, seam: Seam) -> str:
    return " with ".join("+".join(_run_part(pattern, part) for part in run) for run in (seam.a, seam.b))


def _run_part(pattern: Pattern, part: RunPart) -> str:
    piece = next((p for p in pattern.pieces if p.uid == part.piece), None)
    marks = ("-" if part.backwards else "") + ("~" if part.mirrored else "")
    stretch = "..".join(_position(at) for at in (part.start, part.end) if at is not None)
    name = f"{piece.name}.{_name_of(piece, part.of)}" if piece else part.of
    return f"{marks}{name}{'@' if stretch else ''}{stretch}"


def _position(at: Position) -> str:
    return f"{at.mode} {plain(at.value, 4)}"


def _name_of(piece: Piece, uid: str) -> str:
    """The name of the thing with that uid; what is no uid, such as 'open' or '', as it is."""
    return next((thing.name for thing in piece.things() if thing.uid == uid), uid)
