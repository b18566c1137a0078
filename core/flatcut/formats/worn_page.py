"""The page of worn garments: one file without a network, turned with mouse or keys, its figures beside it as text."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files

import numpy as np

from flatcut.formats.html import END, head
from flatcut.geometry.arrays import Array
from flatcut.worn.caution import CAUTION

_STYLE = """
main { max-width: none } body { max-width: 80rem }
.views { display: flex; flex-wrap: wrap; gap: .8rem } .views figure { flex: 1 1 22rem; margin: 0; position: relative }
canvas { width: 100%; height: min(70vh, 44rem); border: 1px solid #767676; touch-action: none; display: block }
canvas:focus { outline: 3px solid #1a5fb4 }
.spot { position: absolute; font: bold 13px sans-serif; background: #fff; border: 1px solid #000; border-radius: .7em;
  padding: 0 .35em; transform: translate(-50%, -50%); pointer-events: none }
.spot.loose { border-style: dashed }
.bar { display: flex; flex-wrap: wrap; gap: .4rem; margin: .6rem 0; align-items: center }
.bar button { font: inherit; padding: .25rem .6rem } .bar button[aria-pressed=true] { background: #000; color: #fff }
#legend span { display: inline-block; padding: .15rem .5rem; border: 1px solid #767676; min-width: 3.2rem }
#legend span { text-align: center }
table { border-collapse: collapse; margin: .6rem 0 }
th, td { border: 1px solid #767676; padding: .2rem .5rem; text-align: right }
th:first-child, td:first-child { text-align: left } caption { text-align: left; font-weight: bold }
.columns { display: flex; flex-wrap: wrap; gap: 0 3rem } .columns > section { flex: 1 1 26rem }
.columns ul, .columns ol { columns: 1 }
@media print { .bar { display: none } canvas { height: 12cm } }
"""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A garment to be shown. at (v, 3), normal (v, 3), flat (v, 2): its vertices worn, their normals, and as laid out
    flat, mm; triangles (t, 3); lines: (n, 2) pairs of vertices; warp, weft (v,): strain as shares; gap (v,) mm.

    form (f, 3), form_normal (f, 3), form_triangles: the form. spots: number, vertex, kind. said: HTML of its figures.
    """

    title: str
    at: Array
    normal: Array
    flat: Array
    triangles: Array
    lines: Array
    warp: Array
    weft: Array
    gap: Array
    form: Array
    form_normal: Array
    form_triangles: Array
    spots: Sequence[tuple[str, int, str]]
    said: str


def worn_page(title: str, garments: Sequence[Shown]) -> str:
    """The whole page."""
    records = [_record(one) for one in garments]
    views = "".join(
        f'<figure><canvas tabindex="0" data-garment="{k}" role="img" aria-label="{escape(one.title)} on the form; turn '
        f'it with the arrow keys"></canvas><figcaption>{escape(one.title)}</figcaption></figure>'
        for k, one in enumerate(garments)
    )
    told = "".join(f"<section><h2>{escape(one.title)}</h2>{one.said}</section>" for one in garments)
    script = files("flatcut.formats").joinpath("worn_page.js").read_text("utf-8")
    data = json.dumps(records, separators=(",", ":")).replace("</", "<\\/")
    return (
        head(title, style=_STYLE)
        + f'<main>\n<h1>{escape(title)}</h1>\n<p class="warning">{escape(CAUTION)}</p>\n'
        + _BARS
        + f'<div class="views">{views}</div>\n<p id="trouble" hidden>This browser draws no WebGL; the figures below '
        "hold without the picture.</p>\n"
        + f'<div class="columns">{told}</div>\n</main>\n'
        + f'<script type="application/json" id="garments">{data}</script>\n<script>\n{script}</script>'
        + END
    )


_BARS = """<div class="bar" id="looks" role="group" aria-label="Look from">
<button data-look="front">Front (F)</button><button data-look="side">Side (S)</button>
<button data-look="back">Back (B)</button><button data-flat="1" aria-pressed="false">Laid flat (P)</button>
<button data-spots="1" aria-pressed="true">Numbers (N)</button>
<button data-zoom="1.2">Nearer (+)</button><button data-zoom="0.833">Farther (-)</button></div>
<div class="bar" id="kinds" role="group" aria-label="Show">
<button data-kind="cloth">Cloth (1)</button><button data-kind="warp">Strain along the grain (2)</button>
<button data-kind="weft">Strain across (3)</button><button data-kind="gap">Distance from the form (4)</button></div>
<div class="bar" id="legend" aria-live="polite"></div>
<p>Drag or use the arrow keys to turn. Full lines in black are seams, darts and edges.</p>
"""


def _packed(values: Array, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")


def _record(one: Shown) -> Mapping[str, object]:
    return {
        "at": _packed(one.at, "<f4"),
        "normal": _packed(one.normal, "<f4"),
        "flat": _packed(one.flat, "<f4"),
        "triangles": _packed(one.triangles, "<u4"),
        "lines": _packed(one.lines, "<u4"),
        "warp": _packed(100.0 * one.warp, "<f4"),
        "weft": _packed(100.0 * one.weft, "<f4"),
        "gap": _packed(one.gap, "<f4"),
        "form": _packed(one.form, "<f4"),
        "formNormal": _packed(one.form_normal, "<f4"),
        "formTriangles": _packed(one.form_triangles, "<u4"),
        "spots": [list(spot) for spot in one.spots],
    }
