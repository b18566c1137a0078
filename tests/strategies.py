"""Hypothesis strategies: names, positions, places, lengths and whole patterns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from flatcut.geometry.curves import Curve, chain, cubic, line, polyline
from flatcut.pattern.places import DART_PARTS, Place
from flatcut.pattern.values import (
    BUTTON_KINDS,
    CORNER_KINDS,
    CUT_AS,
    NOTCH_KINDS,
    USES,
    Allowance,
    Button,
    Caption,
    Corner,
    Dart,
    Edge,
    Figure,
    Grain,
    Hole,
    Line,
    NamedPoint,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    Step,
    Style,
    TakeUp,
)
from flatcut.pattern.walking import drawn_length, sewn_length

NAMES = st.from_regex(r"[A-Za-zäéßøЖ日][A-Za-z0-9äéßЖ日_-]{0,9}", fullmatch=True)
TEXTS = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Cn", "Zl", "Zp")) | st.sampled_from("'\"\\<>&\t #=;"), max_size=20
)
"""Text as a person can type it, with everything that XML, JSON or a shell could trip over."""


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Figures with up to six decimals, as a recorded step keeps them."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False).map(lambda value: round(value, 6) + 0.0)


def positions() -> st.SearchStrategy[Position]:
    return st.one_of(
        st.builds(Position, mode=st.just("fraction"), value=numbers(0, 1)),
        st.builds(Position, mode=st.sampled_from(("start", "end")), value=numbers(0.001, 5000)),
    )


@st.composite
def places(draw: st.DrawFn, depth: int = 1) -> Place:
    """Any place that can be written."""
    kind = draw(st.sampled_from(("piece", "name", "part", "corner", "at", "stretch", *(("chord",) if depth else ()))))
    if kind == "chord":
        ends = (draw(places(depth=0)), draw(places(depth=0)))
        return Place(chord=ends, u=draw(numbers(-3, 3)), v=draw(numbers(-3, 3)))
    piece, mirror = draw(NAMES), draw(st.booleans())
    if kind == "piece":
        return Place(piece=piece, mirror=mirror)
    name = draw(NAMES)
    if kind == "part":
        return Place(piece=piece, name=name, part=draw(st.sampled_from(DART_PARTS)), mirror=mirror)
    other = draw(NAMES) if kind == "corner" else ""
    at = draw(positions()) if kind in ("at", "stretch") or (other and draw(st.booleans())) else None
    to = draw(positions()) if kind == "stretch" else None
    return Place(piece=piece, name=name, other=other, at=at, to=to, mirror=mirror)


@st.composite
def expressions(draw: st.DrawFn, names: Sequence[str], depth: int = 3) -> tuple[str, float]:
    """A length as text, and its value in mm worked out beside it; only lengths are added, only numbers multiply."""
    from_body = {"wrist": 160.0, "bust": 880.0, "a": 50.0, "nape-to-waist": 410.0}
    kind = draw(st.sampled_from(("name", "quantity", "sum", "product", "quotient", "minus") if depth else ("name",)))
    if kind == "name":
        name = draw(st.sampled_from(sorted(names)))
        return name, from_body[name]
    if kind == "quantity":
        unit, size = draw(st.sampled_from((("mm", 1.0), ("cm", 10.0), ("in", 25.4))))
        value = round(draw(st.floats(0.01, 200)), 2)
        return f"{value}{unit}", value * size
    text, value = draw(expressions(names, depth - 1))
    if kind == "minus":
        return f"-({text})", -value
    if kind == "sum":
        other, more = draw(expressions(names, depth - 1))
        sign = draw(st.sampled_from("+-"))
        return f"({text}) {sign} ({other})", value + more if sign == "+" else value - more
    factor = draw(st.integers(1, 9))
    if kind == "product":
        return (f"{factor}*({text})" if draw(st.booleans()) else f"({text})*{factor}"), value * factor
    return f"({text})/{factor}", value / factor


# Patterns -------------------------------------------------------------------------------------------------------------


def off(at: np.ndarray, x: float, y: float) -> np.ndarray:
    """A point beside another one."""
    return at + np.array([x, y])


class Uids:
    """Uids in the form that flatcut writes them."""

    def __init__(self) -> None:
        self._count = 0

    def __call__(self) -> str:
        self._count += 1
        return f"{self._count * 2654435761 % 2**32:08x}"


def _bent(draw: st.DrawFn, a: np.ndarray, b: np.ndarray) -> Curve:
    """From a to b: straight, or a cubic that stays near its chord and leaves it by less than 12 degrees."""
    if draw(st.booleans()):
        return line(a, b)
    across = np.array([-(b - a)[1], (b - a)[0]])
    lift = draw(st.floats(-0.2, 0.2)) * across / 3
    return cubic(a, a + (b - a) / 3 + lift, b - (b - a) / 3 + lift, b)


@st.composite
def pieces(draw: st.DrawFn, uid: Uids, name: str, centre: tuple[float, float] = (0.0, 0.0)) -> Piece:
    """A star-shaped piece with clear corners: edges of one span or several, darts cut in and drawn, and all marks."""
    corners = draw(st.integers(3, 6))
    radius = [draw(st.floats(150, 230)) for _ in range(corners)]
    turns = 2 * math.pi * (np.arange(corners) + [draw(st.floats(-0.12, 0.12)) for _ in range(corners)]) / corners
    nodes = np.array(
        [np.array(centre) + r * np.array([math.cos(t), math.sin(t)]) for r, t in zip(radius, turns, strict=True)]
    )
    labels = draw(st.lists(NAMES, min_size=corners + 8, max_size=corners + 8, unique=True))
    taken = iter(labels)
    edges: list[Edge] = []
    darts: list[Dart] = []
    middle = np.array(centre)
    for k in range(corners):
        a, b = nodes[k], nodes[(k + 1) % corners]
        own = uid()
        if k == 0 and draw(st.booleans()):
            # a dart cut into a straight edge, its point toward the middle of the piece
            foot_1, foot_2 = a + 0.45 * (b - a), a + 0.52 * (b - a)
            inward = (middle - (foot_1 + foot_2) / 2) / np.linalg.norm(middle - (foot_1 + foot_2) / 2)
            point = (foot_1 + foot_2) / 2 + 60 * inward
            parts: tuple[Curve, ...] = (line(a, foot_1), line(foot_2, b))
            pressed = draw(st.sampled_from(("", "open", own)))
            legs = (line(foot_1, point), line(point, foot_2))
            darts.append(Dart(uid=uid(), name=next(taken), legs=legs, host=own, after=0, pressed=pressed))
        else:
            joint = a + draw(st.floats(0.3, 0.7)) * (b - a)
            parts = (chain([line(a, joint), line(joint, b)]) if draw(st.booleans()) else _bent(draw, a, b),)
        edge = Edge(uid=own, name=next(taken), parts=parts, use=draw(st.sampled_from(USES)))
        edges.append(edge)
    edges = [draw(_finished(edge, [other.uid for other in edges], uid)) for edge in edges]
    if draw(st.booleans()):
        upper, lower = off(middle, 0, -40), off(middle, 0, 40)
        sides = (off(middle, -6, 0), off(middle, 6, 0))
        legs = (
            chain([line(upper, sides[0]), line(sides[0], lower)]),
            chain([line(lower, sides[1]), line(sides[1], upper)]),
        )
        darts.append(Dart(uid=uid(), name=next(taken), legs=legs, form="lines"))
    things: dict[str, object] = {}
    if draw(st.booleans()):
        way = draw(st.floats(-1.5, 1.5))
        along = 50 * np.array([math.sin(way), math.cos(way)])
        things["grain"] = Grain(
            start=off(middle, 20, 0) - along,
            end=off(middle, 20, 0) + along,
            kind=draw(st.sampled_from(("straight", "cross", "bias"))),
            ways=draw(st.sampled_from(("one", "both"))),
        )
    if draw(st.booleans()):
        inside = _bent(draw, off(middle, -40, 15), off(middle, 35, 22))
        things["lines"] = (
            Line(uid=uid(), name=next(taken), curve=inside, kind=draw(st.sampled_from(("line", "fold")))),
        )
    if draw(st.booleans()):
        at = middle + np.array([draw(numbers(-30, 30)), draw(numbers(-30, 30))])
        things["points"] = (NamedPoint(uid=uid(), name=next(taken), at=at),)
    host = edges[-1]
    total = sewn_length(host)
    things["notches"] = tuple(
        Notch(
            uid=uid(),
            edge=host.uid,
            at=draw(
                st.one_of(
                    st.builds(Position, mode=st.just("fraction"), value=numbers(0.3, 0.7)),
                    st.builds(
                        Position, mode=st.sampled_from(("start", "end")), value=numbers(0.3 * total, 0.7 * total)
                    ),
                )
            ),
            kind=draw(st.sampled_from(NOTCH_KINDS)),
            count=draw(st.integers(1, 3)),
            depth=draw(numbers(2, 6)),
            into=draw(st.sampled_from(("in", "out"))),
        )
        for _ in range(draw(st.integers(0, 2)))
    )
    if draw(st.booleans()):
        things["holes"] = (Hole(uid=uid(), at=off(middle, 3, 3), diameter=draw(numbers(1, 5))),)
        slit = np.array([off(middle, 0, 9), off(middle, 15, 9)])
        kind = draw(st.sampled_from(BUTTON_KINDS))
        things["buttons"] = (
            Button(
                uid=uid(), kind=kind, at=off(middle, 7.5, 9), size=15.0, slit=slit if kind == "buttonhole" else None
            ),
        )
        at = off(middle, 0, 60) if draw(st.booleans()) else None
        things["caption"] = Caption(text=draw(TEXTS), at=at, shown=draw(st.booleans()))
        if draw(st.booleans()):
            corners = [(300, 0), (120, 290), (-160, 280), (-310, 10), (-140, -270), (170, -260), (300, 0)]
            things["cut_by_hand"] = polyline([off(middle, *corner) for corner in corners])
    return Piece(
        uid=uid(),
        name=name,
        edges=tuple(edges),
        darts=tuple(darts),
        quantity=draw(st.integers(1, 9)),
        cut_as=draw(st.sampled_from(CUT_AS)),
        side=draw(st.sampled_from(("", "left", "right"))),
        material=draw(TEXTS),
        **things,  # type: ignore[arg-type]
    )


@st.composite
def _finished(draw: st.DrawFn, edge: Edge, others: list[str], uid: Uids) -> Edge:
    """An edge with take-ups, an allowance and a corner."""
    total = drawn_length(edge)
    takeups: tuple[TakeUp, ...] = ()
    if draw(st.booleans()) and total > 60:
        start = draw(numbers(0, 0.2 * total))
        end = draw(numbers(start + 10, start + 0.2 * total + 10))
        kind = draw(st.sampled_from(("ease", "gathers", "pleat", "tuck")))
        takeups = (TakeUp(uid=uid(), kind=kind, start=start, end=end, amount=draw(numbers(0, (end - start) / 2))),)
    allowance = None
    if draw(st.booleans()):
        width = draw(numbers(0, 20))
        allowance = Allowance(width=width, end_width=draw(st.none() | numbers(5, 20)))
    corner = Corner()
    if draw(st.booleans()):
        corner = Corner(
            kind=draw(st.sampled_from(("", *CORNER_KINDS))), through=draw(st.sampled_from(["", *others])), limit=3.5
        )
    return replace(edge, takeups=takeups, allowance=allowance, corner=corner)


@st.composite
def patterns(draw: st.DrawFn) -> Pattern:
    """One piece or two with a seam, a style, measurements and steps."""
    uid = Uids()
    names = draw(st.lists(NAMES, min_size=1, max_size=2, unique=True))
    made = tuple(draw(pieces(uid, name, (300.0 + 600 * k, 300.0))) for k, name in enumerate(names))
    seams: tuple[Seam, ...] = ()
    if len(made) == 2:
        run_a = RunPart(piece=made[0].uid, of=made[0].edges[0].uid, backwards=draw(st.booleans()))
        stretch = {"start": Position(mode="start", value=5.0), "end": Position(mode="fraction", value=0.75)}
        run_b = RunPart(
            piece=made[1].uid,
            of=made[1].edges[1].uid,
            mirrored=draw(st.booleans()),
            **(stretch if draw(st.booleans()) else {}),
        )
        seams = (
            Seam(
                uid=uid(),
                a=(run_a,),
                b=(run_b,),
                reversed=draw(st.booleans()),
                ease=draw(numbers(-20, 20)),
                suggested=draw(st.booleans()),
            ),
        )
    lengths = st.dictionaries(NAMES, numbers(1, 2000), max_size=3)
    figure = st.builds(Figure, TEXTS, numbers(-1000, 1000), st.sampled_from(("mm", "", "cm²")))
    step = st.builds(
        Step,
        line=TEXTS.map(lambda text: f"style --name={text!r}"),
        figures=st.lists(figure, max_size=2).map(tuple),
        warnings=st.lists(TEXTS, max_size=2).map(tuple),
    )
    return Pattern(
        pieces=made,
        seams=seams,
        style=draw(st.builds(Style, name=TEXTS, size=TEXTS, materials=st.lists(NAMES, max_size=2).map(tuple))),
        body=draw(lengths),
        measures=draw(lengths),
        steps=tuple(draw(st.lists(step, max_size=3))),
    )
