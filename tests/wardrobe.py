"""Fifty outlines as a digitising table gives them: five dresses of ten pieces each, from flatcut's own blocks.

`python -m tests.wardrobe` writes samples/digitised/wardrobe.svg and wardrobe.csv, which wardrobe.sh works on. The
smooth outlines that are sampled are the measure of what is read back; the scenario and its bodies are invented.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import (
    Curve,
    bounds,
    chain,
    cubic,
    line,
    point,
    reverse,
    split,
    tangent,
)
from flatcut.geometry.length import length, place_at
from flatcut.operations.operation import load
from flatcut.pattern.values import Pattern, Piece
from flatcut.units import INCH
from tests.digitising import Edge, Mark, Sheet, lengthened, path_data, points, pulled

SAMPLES = Path(__file__).parent.parent / "samples" / "digitised"
DRESSES = {"aster": "bust-78", "birch": "bust-86", "clover": "bust-94", "dune": "bust-102", "elm": "bust-112"}


@dataclass(kw_only=True)
class Wardrobe:
    """sheets: as placed, faults in; faults: what was put in, as the names of what is wrong."""

    sheets: list[Sheet] = field(default_factory=list)
    faults: dict[str, tuple[str, ...]] = field(default_factory=dict)


# The pieces ---------------------------------------------------------------------------------------------------------


def _through(points: Sequence[Array], *, bulge: float = 0.0) -> Curve:
    """A smooth curve through three points, its middle moved sideways by `bulge` mm."""
    a, b, c = (np.asarray(p, dtype=float) for p in points)
    way = unit(c - a)
    b = b + bulge * np.array([-way[1], way[0]])
    one, two = np.hypot(*(b - a)) / 3, np.hypot(*(c - b)) / 3
    first, last = unit(b - a), unit(c - b)
    return chain([cubic(a, a + one * first, b - one * way, b), cubic(b, b + two * way, c - two * last, c)])


def _panels(start: tuple[Array, Array], middle: Array, end: tuple[Array, Array]) -> tuple[Curve, Curve]:
    """The two edges of a panel seam from a dart's feet to another's: through the middle, and equally long."""
    one, two = (_through([start[k], middle, end[k]]) for k in range(2))
    longer = max(length(one), length(two))

    def stretched(curve: Curve, k: int) -> Curve:
        if length(curve) >= longer:
            return curve
        low, high = 0.0, 40.0
        sign = 1.0 if length(_through([start[k], middle, end[k]], bulge=1.0)) > length(curve) else -1.0
        for _ in range(60):
            half = (low + high) / 2
            if length(_through([start[k], middle, end[k]], bulge=sign * half)) < longer:
                low = half
            else:
                high = half
        return _through([start[k], middle, end[k]], bulge=sign * low)

    return stretched(one, 0), stretched(two, 1)


def _feet(piece: Piece, name: str) -> tuple[Array, Array]:
    (dart,) = [dart for dart in piece.darts if dart.name == name]
    return dart.feet[0], dart.feet[1]


def _tip(piece: Piece, name: str) -> Array:
    (dart,) = [dart for dart in piece.darts if dart.name == name]
    return np.asarray(dart.points[0])


def _edge(piece: Piece, name: str, *marks: Mark) -> Edge:
    return Edge(name=name, curves=piece.edge(name).parts, marks=marks)


def _part(piece: Piece, name: str, part: int, label: str = "", *marks: Mark) -> Edge:
    return Edge(name=label or name, curves=(piece.edge(name).parts[part],), marks=marks)


def _back(piece: Piece, seam: Sequence[Mark], side: Mark, armhole: Mark) -> tuple[Sheet, Sheet]:
    top, low = _feet(piece, "shoulder-dart"), _feet(piece, "waist-dart")
    middle = (_tip(piece, "shoulder-dart") + _tip(piece, "waist-dart")) / 2
    # the waist runs clockwise, so its dart's first foot is the one on the side
    centre, other = _panels(top, middle, (low[1], low[0]))
    own = tuple(seam)
    centre_back = Sheet(
        name="centre-back",
        cut="fold",
        edges=(
            _edge(piece, "neck"),
            _part(piece, "shoulder", 0),
            Edge(name="panel", curves=(centre,), marks=own),
            _part(piece, "waist", 1),
            _edge(piece, "centre"),
        ),
    )
    side_back = Sheet(
        name="side-back",
        edges=(
            _part(piece, "shoulder", 1),
            _edge(piece, "armhole", armhole),
            _edge(piece, "side", side),
            _part(piece, "waist", 0),
            Edge(name="panel", curves=(reverse(other),), marks=tuple(_turned(m) for m in own)),
        ),
    )
    return centre_back, side_back


def _turned(mark: Mark) -> Mark:
    return replace(mark, at=-mark.at)


def _front(piece: Piece, seam: Sequence[Mark], side: Mark, armhole: Mark) -> tuple[Sheet, Sheet]:
    # the bust dart stands in the corner of shoulder and neck: its feet are the two neck points
    top, low = _feet(piece, "bust-dart"), _feet(piece, "waist-dart")
    middle = (_tip(piece, "bust-dart") + _tip(piece, "waist-dart")) / 2
    other, centre = _panels(top, middle, (low[1], low[0]))
    own = tuple(seam)
    centre_front = Sheet(
        name="centre-front",
        cut="fold",
        edges=(
            _edge(piece, "neck"),
            _edge(piece, "centre"),
            _part(piece, "waist", 0),
            Edge(name="panel", curves=(reverse(centre),), marks=tuple(_turned(m) for m in own)),
        ),
    )
    side_front = Sheet(
        name="side-front",
        edges=(
            _edge(piece, "shoulder"),
            Edge(name="panel", curves=(other,), marks=own),
            _part(piece, "waist", 1),
            _edge(piece, "side", side),
            _edge(piece, "armhole", armhole),
        ),
    )
    return centre_front, side_front


def _skirt(piece: Piece, hip: float, *, front: bool) -> tuple[Sheet, Sheet]:
    """Panels through the dart nearer the centre, straight down to the hem; the other dart stays."""
    feet, tip = _feet(piece, "waist-dart"), _tip(piece, "waist-dart")
    hem = piece.edge("hem").parts[0]
    foot = np.array([tip[0], hem.start[1]])
    low_one, low_two = split(hem, place_at(hem, float(np.hypot(*(foot - hem.start)))))
    at = low_one.end
    one, two = _panels(feet, (tip + np.array([0.0, 60.0])), (at, at))
    dart = next(d for d in piece.darts if d.name == "waist-dart-2")
    waist = piece.edge("waist").parts
    kind = "front" if front else "back"
    marks = (Mark(at=hip),)
    # the outline runs waist, centre, hem, side in front and waist, side, hem, centre behind
    first = front
    centre_seam = Edge(
        name="panel", curves=(reverse(two) if first else one,), marks=marks if not first else (Mark(at=-hip),)
    )
    side_seam = Edge(name="panel", curves=(one if first else reverse(two),), marks=marks if first else (Mark(at=-hip),))
    whole = Edge(name="waist", curves=(waist[0], waist[1]) if first else (waist[1], waist[2]), legs=(dart.legs,))
    rest = Edge(name="waist", curves=(waist[2] if first else waist[0],))
    side = _edge(piece, "side", Mark(at=-hip + 15) if first else Mark(at=hip - 15))
    low_centre, low_side = (
        Edge(name="hem", curves=(low_one if first else low_two,)),
        Edge(name="hem", curves=(low_two if first else low_one,)),
    )
    centre = _edge(piece, "centre")
    edges = (rest, centre, low_centre, centre_seam) if first else (rest, centre_seam, low_centre, centre)
    side_edges = (whole, side_seam, low_side, side) if first else (whole, side, low_side, side_seam)
    return (
        Sheet(name=f"skirt-centre-{kind}", edges=edges, cut="fold"),
        Sheet(name=f"skirt-side-{kind}", edges=side_edges),
    )


def _sleeve(piece: Piece, front: Mark, back: Mark, low: float) -> tuple[Sheet, Sheet]:
    """A sleeve in two, its seam straight down from the crown."""
    (cap,) = piece.edge("cap").parts
    (crown,) = [p.at for p in piece.points if p.name == "crown"]
    at = min(np.linspace(0.1, len(cap) - 0.1, 4001), key=lambda u: float(np.hypot(*(point(cap, u) - crown))))
    left, right = split(cap, float(at))
    (hem,) = piece.edge("hem").parts
    foot = float(np.interp(crown[0], [hem.end[0], hem.start[0]], [length(hem), 0.0]))
    before, after = split(hem, place_at(hem, foot))
    middle = line(left.end, before.end)
    fore = Sheet(
        name="sleeve-front",
        edges=(
            Edge(name="cap", curves=(right,), marks=(_turned(front),)),
            _edge(piece, "underarm-front", Mark(at=low)),
            Edge(name="hem", curves=(before,)),
            Edge(name="middle", curves=(reverse(middle),), marks=(Mark(at=length(middle) - 110.0 - low),)),
        ),
    )
    aft = Sheet(
        name="sleeve-back",
        edges=(
            Edge(name="cap", curves=(left,), marks=(back,)),
            Edge(name="middle", curves=(middle,), marks=(Mark(at=110.0 + low),)),
            Edge(name="hem", curves=(after,)),
            _edge(piece, "underarm-back", Mark(at=-low)),
        ),
    )
    return fore, aft


def dress(size: str, shift: float) -> list[Sheet]:
    """The ten pieces of a dress. shift: mm by which its notches stand elsewhere than on others."""
    pattern = Pattern()
    skirt = {"waist_ease": "4cm", "back_darts": 2, "front_darts": 2}
    for kind, options in (("bodice", {"waist_ease": "4cm"}), ("sleeve", {}), ("skirt", skirt)):
        pattern = load("block")(target=(kind,), size=size, **options)(pattern)
    side = 90.0 + shift
    long = length(pattern.piece("back").edge("side").parts[0])
    front_arm, back_arm = Mark(at=75 + shift), Mark(at=-(85 + shift), count=2)
    back = _back(pattern.piece("back"), [Mark(at=150 + shift)], Mark(at=side), back_arm)
    front = _front(
        pattern.piece("front"), [Mark(at=200 + shift), Mark(at=300 + shift)], Mark(at=long - side), front_arm
    )
    behind = _skirt(pattern.piece("skirt-back"), 200 + shift, front=False)
    ahead = _skirt(pattern.piece("skirt-front"), 200 + shift, front=True)
    sleeve = _sleeve(pattern.piece("sleeve"), front_arm, _turned(back_arm), 150 + shift)
    return [*back, *front, *behind, *ahead, *sleeve]


# Faults and places --------------------------------------------------------------------------------------------------


def _with(sheet: Sheet, name: str, **changes: object) -> Sheet:
    edges = tuple(replace(edge, **changes) if edge.name == name else edge for edge in sheet.edges)  # type: ignore[arg-type]
    return replace(sheet, edges=edges)


def _uneven_dart(sheet: Sheet, by: float) -> Sheet:
    """The second leg of the dart in the waist longer by so many mm."""
    edge = sheet.edge("waist")
    ((one, two),) = edge.legs
    move = by * unit(two.end - two.start)
    legs = ((one, pulled(two, move, at_end=True)),)
    return _with(sheet, "waist", legs=legs, curves=(edge.curves[0], pulled(edge.curves[1], move, at_end=False)))


def faulty(sheets: list[Sheet]) -> Wardrobe:
    """The same pieces with six slips of the hand; each names the edges or the dart that a report has to show."""
    made = {sheet.name: sheet for sheet in sheets}

    def change(name: str, sheet: Sheet) -> None:
        made[name] = sheet

    name = "clover-skirt-side-back"
    change(name, lengthened(made[name], "side", 5.0))
    name = "aster-sleeve-back"
    change(name, lengthened(made[name], "middle", -4.0))
    name = "dune-side-front"
    first, second = made[name].edge("panel").marks
    change(name, _with(made[name], "panel", marks=(first, replace(second, at=second.at + 6.0))))
    name = "elm-side-back"
    change(name, _with(made[name], "side", marks=()))
    name = "birch-centre-back"
    (mark,) = made[name].edge("panel").marks
    change(name, _with(made[name], "panel", marks=(replace(mark, count=2),)))
    name = "birch-skirt-side-front"
    change(name, _uneven_dart(made[name], 1.6))
    return Wardrobe(
        sheets=list(made.values()),
        faults={
            "side too long": ("clover-skirt-side-back.side", "clover-skirt-side-front.side"),
            "seam too short": ("aster-sleeve-back.middle", "aster-sleeve-front.middle"),
            "notch out of place": ("dune-side-front.panel", "dune-centre-front.panel"),
            "notch left out": ("elm-side-back.side", "elm-side-front.side"),
            "double for single": ("birch-centre-back.panel", "birch-side-back.panel"),
            "legs unequal": ("birch-skirt-side-front.waist",),
        },
    )


def wardrobe(*, faults: bool = True, seed: int = 1950) -> Wardrobe:
    """All fifty pieces as they lie on the table: turned a little, some for the other hand, the paper crept."""
    rng = np.random.default_rng(seed)
    sheets = []
    for k, (name, size) in enumerate(DRESSES.items()):
        sheets += [replace(sheet, name=f"{name}-{sheet.name}") for sheet in dress(size, 9.0 * k)]
    made = faulty(sheets) if faults else Wardrobe(sheets=sheets)
    left, top, row = 0.0, 0.0, 0.0
    for k, sheet in enumerate(made.sheets):
        hand = -1.0 if sheet.cut == "pair" and rng.random() < 0.4 else 1.0
        creep, skew = rng.uniform(-4e-4, 4e-4, 2)
        turn = np.radians(rng.uniform(-9, 9))
        matrix = Affine.rotation(float(turn)) @ Affine(hand * (1 + creep), 0.0, skew, 1.0, 0.0, 0.0)
        laid = sheet.placed(matrix)
        x0, y0, x1, y1 = bounds(laid.ring)
        if left + x1 - x0 > 3600:
            left, top, row = 0.0, top + row + 40, 0.0
        made.sheets[k] = laid.placed(Affine.translation(left - x0 + 20, top - y0 + 20))
        left, row = left + x1 - x0 + 40, max(row, y1 - y0)
    return made


# Files --------------------------------------------------------------------------------------------------------------


def svg(made: Wardrobe) -> str:
    """The drawing: numbers in inches, a text in every outline, short lines across hems, folds, necklines, caps."""
    rng = np.random.default_rng(7)
    far = np.array([bounds(sheet.ring) for sheet in made.sheets]).max(axis=0)
    width, height = (far[2] + 20) / INCH, (far[3] + 20) / INCH
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'width="{width:.1f}in" height="{height:.1f}in" viewBox="0 0 {width:.1f} {height:.1f}" fill="none" '
        'stroke="black" stroke-width="0.02">',
        "<!-- Five dresses of ten pieces, as a digitising table gave them: many points, the numbers are inches. "
        "Invented data. -->",
    ]
    for k, sheet in enumerate(made.sheets, start=1):
        lines.append(f'<path id="outline-{k}" d="{path_data(points(sheet, rng))}z"/>')
        x, y = _inside(sheet) / INCH
        name = sheet.name.replace("-", " ")
        lines.append(f'<text x="{x:.2f}" y="{y:.2f}" font-size="0.25" fill="black" stroke="none">{name}</text>')
        for edge in sheet.edges:
            label = {"hem": "hem", "centre": "fold", "neck": "neck", "cap": "cap"}.get(edge.name)
            if label:
                curve = edge.curves[0]
                at = place_at(curve, length(curve) * 0.55)
                way = tangent(curve, at)
                across = 8 * np.array([-way[1], way[0]])
                ends = np.array([point(curve, at) - across, point(curve, at) + across])
                lines.append(f'<path id="{label}-{k}" inkscape:label="{label}" stroke="#555" d="{path_data(ends)}"/>')
    return "\n".join([*lines, "</svg>", ""])


def _inside(sheet: Sheet) -> Array:
    """A point for the text: the middle of the piece, where the letters begin a little to the left of it."""
    x0, y0, x1, y1 = bounds(sheet.ring)
    return np.array([(x0 + x1) / 2 - 20, 0.3 * y0 + 0.7 * y1])


def table(made: Wardrobe) -> str:
    """The table of the pieces, in no order, and what the short lines mean."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["drawn", "name", "width (in)", "quantity", "cut", "material", "use"])
    for sheet in sorted(made.sheets, key=lambda sheet: sheet.name):
        rows.writerow([sheet.name.replace("-", " "), sheet.name, "3/8", "", sheet.cut, "cotton, printed", ""])
    rows.writerow(["hem", "hem", "1 1/2", "", "", "", "hem"])
    rows.writerow(["cap", "cap", "", "", "", "", ""])
    rows.writerow(["fold", "centre", "0", "", "", "", "fold"])
    rows.writerow(["neck", "neck", "0", "", "", "", "finished"])
    return text.getvalue()


if __name__ == "__main__":
    everything = wardrobe()
    (SAMPLES / "wardrobe.svg").write_text(svg(everything), encoding="utf-8")
    (SAMPLES / "wardrobe.csv").write_text(table(everything), encoding="utf-8")
