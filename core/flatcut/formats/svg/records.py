"""A piece as attribute records and back. Geometry is not in here: it is the drawn path, taken apart by span counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from flatcut.errors import InputError
from flatcut.formats.svg.plausible import check_piece
from flatcut.formats.svg.vocabulary import pack, unpack
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, section
from flatcut.pattern.marks import written
from flatcut.pattern.values import (
    Allowance,
    Caption,
    Corner,
    Dart,
    Edge,
    Mark,
    Piece,
    Position,
    Stretch,
    TakeUp,
    held_marks,
    outline,
)

if TYPE_CHECKING:
    from flatcut.pattern.sources import Source

_T = TypeVar("_T")


def ring(piece: Piece) -> Curve:
    """The drawn outline as one closed curve, in stored order."""
    return chain(outline(piece), within=1e-6)


def marks(records: Records) -> list[int]:
    """Where along the ring each part and each leg starts, as span indices, in order; the first is 0.

    Errors: InputError when the records are damaged.
    """
    starts = [0]
    try:
        for _, spans in _sequence(records.edges, records.darts):
            if spans < 1:
                raise ValueError
            starts.append(starts[-1] + spans)
    except (LookupError, TypeError, ValueError):
        raise damaged(records.name) from None
    return starts[:-1]


NAMED = 60
"""Letters of a name that a sentence shows."""


def damaged(name: str) -> InputError:
    """The error for data that no flatcut has written."""
    return InputError(f"the data of {shown(name)} is damaged; undo the change or make the piece anew")


def shown(name: str) -> str:
    """A name as a sentence shows it: a damaged one may have thousands of letters.

    >>> shown("front"), len(shown("[" * 4000))
    ('front', 61)
    """
    return name if len(name) <= NAMED else f"{name[:NAMED]}…"


def _sequence(edges: list[dict[str, Any]], darts: list[dict[str, Any]]) -> Iterable[tuple[str, int]]:
    """What the ring is made of, in order: ('part' or 'leg', number of spans)."""
    standing = {(d["host"], d.get("after", 0)): d for d in darts if d.get("form", "cut") == "cut"}
    for edge in edges:
        for k, spans in enumerate(edge["spans"]):
            yield "part", spans
            for leg in standing.get((edge["uid"], k), {}).get("spans", ()):
                yield "leg", leg


def edge_records(piece: Piece) -> list[dict[str, Any]]:
    """The edges as plain data, defaults left out."""
    return [_edge(edge) for edge in piece.edges]


def _edge(edge: Edge) -> dict[str, Any]:
    record: dict[str, Any] = {"uid": edge.uid, "name": edge.name, "spans": [len(part) for part in edge.parts]}
    if edge.use != "seam":
        record["use"] = edge.use
    if edge.allowance is not None:
        end = edge.allowance.end_width
        record["allowance"] = [edge.allowance.width] if end is None else [edge.allowance.width, end]
        if edge.allowance.stretches:
            record["stretches"] = [_stretch(stretch) for stretch in edge.allowance.stretches]
    if edge.corner != Corner():
        record["corner"] = [edge.corner.kind, edge.corner.through, edge.corner.limit]
    if edge.words:
        record["words"] = edge.words
    if edge.centre:
        record["centre"] = True
    if edge.takeups:
        record["takeups"] = [[t.uid, t.kind, t.start, t.end, t.amount] for t in edge.takeups]
    return record


def _stretch(stretch: Stretch) -> list[Any]:
    """From, to and width, each place as its mode and value; then the end width where it tapers."""
    places = [stretch.start.mode, stretch.start.value, stretch.end.mode, stretch.end.value]
    return [*places, stretch.width, *([] if stretch.end_width is None else [stretch.end_width])]


def dart_records(piece: Piece) -> list[dict[str, Any]]:
    """The darts as plain data."""
    return [
        {
            "uid": dart.uid,
            "name": dart.name,
            "form": dart.form,
            "host": dart.host,
            "after": dart.after,
            "pressed": dart.pressed,
            "spans": [len(leg) for leg in dart.legs],
        }
        for dart in piece.darts
    ]


def _source_record(piece: Piece) -> dict[str, Any] | None:
    if piece.source is None:
        return None
    from flatcut.pattern.sources import source_record  # most pieces were derived from none

    return source_record(piece.source)


def group_attributes(piece: Piece) -> dict[str, str]:
    """The attributes of the piece's group, by their names in flatcut's namespace."""
    data: dict[str, Any] = {
        "quantity": piece.quantity,
        "cut_as": piece.cut_as,
        "side": piece.side,
        "material": piece.material,
        "source": _source_record(piece),
        **piece.caption.record(),
    }
    tables = {kind.table: [mark.record() for mark in piece.marks_of(kind)] for kind in written()}
    inner = [[line.uid, line.name] for line in piece.lines]
    inner += [[dart.uid, dart.name] for dart in piece.darts if dart.form == "lines"]
    inner += [["grain", "grain"]] if piece.grain is not None else []
    return {
        "piece": piece.uid,
        "name": piece.name,
        "data": pack({key: value for key, value in data.items() if value not in ("", None)}),
        **{name: pack(records) for name, records in tables.items() if records},
        **({"inner": pack(inner)} if inner else {}),
    }


def outline_attributes(piece: Piece) -> dict[str, str]:
    """The attributes of the outline path that name its edges and darts."""
    darts = dart_records(piece)
    return {
        "outline": piece.uid,
        "edges": pack(edge_records(piece)),
        **({"darts": pack(darts)} if darts else {}),
    }


class Records(NamedTuple):
    """What was written on a piece, read back but not yet joined with what is drawn."""

    uid: str
    name: str
    edges: list[dict[str, Any]]
    darts: list[dict[str, Any]]
    data: dict[str, Any]
    marks: dict[str, list[Any]]
    inner: list[tuple[str, str]]


def read_records(attributes: Callable[[str], str | None], *, where: str) -> Records:
    """Records from attributes. Errors: InputError when they were damaged."""

    def record(name: str, default: _T) -> _T:
        text = attributes(name)
        found: _T = default if text is None else unpack(text, where=where)
        if not isinstance(found, type(default)):
            raise damaged(where)
        return found

    inner: list[Any] = record("inner", [])
    pairs = all(isinstance(item, list) and len(item) == 2 and all(isinstance(x, str) for x in item) for item in inner)
    edges: list[Any] = record("edges", [])
    darts: list[Any] = record("darts", [])
    whole = all(isinstance(item, dict) for item in (*edges, *darts))
    if not (pairs and whole and all(_is_dart(item) for item in darts)):
        raise damaged(where)
    return Records(
        uid=attributes("piece") or attributes("outline") or "",
        name=attributes("name") or where,
        edges=edges,
        darts=darts,
        data=record("data", {}),
        marks={kind.table: record(kind.table, []) for kind in written()},
        inner=[(uid, name) for uid, name in inner],
    )


def _is_dart(item: dict[str, Any]) -> bool:
    spans = item.get("spans")
    named = all(isinstance(item.get(key), str) for key in ("uid", "name", "host"))
    return named and isinstance(spans, list) and len(spans) == 2 and all(type(count) is int for count in spans)


def built(
    records: Records,
    curve: Curve,
    starts: list[int],
    *,
    drawn_darts: dict[str, tuple[Curve, Curve]],
    motion: Affine,
) -> Piece:
    """The piece of records and a drawn ring.

    starts: span index on the ring of each part and leg, as `marks` lists them. motion: what happened to the outline as
    a whole since the points were written. Errors: InputError when damaged.
    """
    try:
        piece = _built(records, curve, starts, drawn_darts, motion)
        check_piece(piece, cut_in={dart["uid"] for dart in records.darts if dart.get("form", "cut") == "cut"})
    except (LookupError, TypeError, ValueError, OverflowError, AttributeError, StopIteration) as error:
        if isinstance(error, InputError):
            raise
        raise damaged(records.name) from None
    return piece


def _built(
    records: Records,
    curve: Curve,
    starts: list[int],
    drawn_darts: dict[str, tuple[Curve, Curve]],
    motion: Affine,
) -> Piece:
    bounds = [*starts, len(curve)]
    cuts = [section(curve, a, b) for a, b in pairwise(bounds)]
    pieces = iter(cuts)
    standing = {(d["host"], d.get("after", 0)): d for d in records.darts if d.get("form", "cut") == "cut"}
    edges: list[Edge] = []
    darts: dict[str, Dart] = {}
    for record in records.edges:
        parts = []
        for k in range(len(record["spans"])):
            parts.append(next(pieces))
            dart = standing.get((record["uid"], k))
            if dart is not None:
                darts[dart["uid"]] = _dart(dart, (next(pieces), next(pieces)))
        edges.append(_read_edge(record, tuple(parts)))
    for dart in records.darts:
        if dart["uid"] in drawn_darts:
            darts[dart["uid"]] = _dart(dart, drawn_darts[dart["uid"]])
    data = records.data
    return Piece(
        uid=records.uid,
        name=records.name,
        edges=tuple(edges),
        darts=tuple(darts[d["uid"]] for d in records.darts if d["uid"] in darts),
        **held_marks(_read_marks(records, motion)),
        quantity=data.get("quantity", 1),
        cut_as=data.get("cut_as", "single"),
        side=data.get("side", ""),
        material=data.get("material", ""),
        source=_source(data),
    )


def _source(data: Mapping[str, Any]) -> Source | None:
    if not data.get("source"):
        return None
    from flatcut.pattern.sources import read_source

    return read_source(data["source"])


def _read_marks(records: Records, motion: Affine) -> Iterator[Mark]:
    for kind in written():
        yield from (kind.read(record, motion) for record in records.marks[kind.table])
    yield Caption.read(records.data, motion)


def _read_edge(record: dict[str, Any], parts: tuple[Curve, ...]) -> Edge:
    widths = record.get("allowance")
    corner = record.get("corner")
    return Edge(
        uid=record["uid"],
        name=record["name"],
        parts=parts,
        use=record.get("use", "seam"),
        words=record.get("words", ""),
        centre=record.get("centre", False),
        takeups=tuple(
            TakeUp(uid=u, kind=k, start=float(a), end=float(b), amount=float(m))
            for u, k, a, b, m in record.get("takeups", ())
        ),
        allowance=None
        if widths is None
        else Allowance(
            width=float(widths[0]),
            end_width=float(widths[1]) if len(widths) > 1 else None,
            stretches=tuple(_read_stretch(*stretch) for stretch in record.get("stretches", ())),
        ),
        corner=Corner() if corner is None else Corner(kind=corner[0], through=corner[1], limit=float(corner[2])),
    )


def _read_stretch(from_: str, start: float, to: str, end: float, *widths: float) -> Stretch:
    return Stretch(
        start=Position(mode=from_, value=float(start)),
        end=Position(mode=to, value=float(end)),
        width=float(widths[0]),
        end_width=float(widths[1]) if len(widths) > 1 else None,
    )


def _dart(record: dict[str, Any], legs: tuple[Curve, Curve]) -> Dart:
    return Dart(
        uid=record["uid"],
        name=record["name"],
        legs=legs,
        form=record["form"],
        host=record["host"],
        after=record["after"],
        pressed=record["pressed"],
    )
