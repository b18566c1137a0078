"""A page of pictures for each worked garment: the block, the pieces, one detail of them.

    python -m tests.garment_pages DIR [SIZE...] [--only=NAME,...]

SIZE: bodies of the table (bust-76 bust-98 bust-122 are usual), or A. Writes DIR/NAME.html and DIR/index.html.
"""

from __future__ import annotations

import html
import sys
from pathlib import Path
from typing import NamedTuple

from flatcut.formats.svg.inline import picture
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import bounds, chain
from flatcut.lesson.cautions import cautions
from flatcut.pattern.values import Pattern
from tests.garments import BODIES, NAMES, SHAWL, drafted, edge_of, garment, text_of

EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="700mm" viewBox="0 0 900 700"/>'
USUAL = ("bust-76", "bust-98", "bust-122")
ROUND = 45.0
"""mm shown round the edges of a detail."""


class Detail(NamedTuple):
    """Edges of one piece that are shown large, and what to look at."""

    edges: tuple[str, ...]
    look: str


DETAILS = {
    "bramble-frock": Detail(("collar.neck",), "the collar's notches: at the shoulder, square at the fold"),
    "campion-skirt": Detail(("gore-front.zip",), "the allowance of the zip, stepped where it ends"),
    "hazel-blouse": Detail(("stand.neck", "stand.end"), "the stand: notches at shoulder and centre, its buttonhole"),
    "lined-shift": Detail(("back-lining.centre",), "the ease pleat of the lining at the centre back"),
    "lupin-top": Detail(("front.shoulder", "front.shoulder-facing"), "the shoulder, turned at the cowl's fold"),
    "mallow-dress": Detail(("front.top",), "the casing, its corners turned, and the gathers' stops"),
    "narrow-skirt": Detail(("skirt-back.hem", "skirt-back.vent"), "hem and vent, folded back on each other"),
    "peplum-top": Detail(("upper.neck",), "gathers and a fold at the neck of the draped front"),
    "rowan-jacket": Detail(("front.neck", "front.shoulder"), "the front neck, its corner with the shoulder squared"),
    SHAWL: Detail(("front.collar-edge", "front.collar-neck"), "the shawl collar, its roll line and break point"),
    "sorrel-shift": Detail(("front.yoke",), "the stops of the gathers under the yoke"),
    "tansy-camisole": Detail(("front.cutaway",), "the bust dart's cap, the cut-away armhole"),
    "teasel-trousers": Detail(("trouser-front.fly", "trouser-front.waist"), "fly and waist of the front"),
    "yarrow-skirt": Detail(("left-front.waist",), "pleats and their shaped ends at the waist"),
    "yoked-shirt": Detail(("back-low.yoke",), "the box pleat below the yoke"),
}


def shown(pattern: Pattern, label: str, box: tuple[float, float, float, float] | None = None) -> str:
    """The picture of a pattern."""
    return picture(write(read(EMPTY)[0], pattern), label=label, box=box)


def begun(name: str, size: str) -> Pattern:
    """What a garment is made from: its blocks, or the gores of a skirt that has none."""
    steps = [line for line in text_of(name).splitlines() if line and not line.startswith("#")]
    lines = [line for line in steps if line.startswith(("block ", "gore "))]
    return drafted("\n".join([*lines, "arrange --gap=4cm"]), size)


def box_of(pattern: Pattern, detail: Detail) -> tuple[float, float, float, float]:
    """What is shown of a detail, mm."""
    boxes = [bounds(chain(edge_of(pattern, name).parts, within=200.0)) for name in detail.edges]
    left, top = (min(b[k] for b in boxes) - ROUND for k in (0, 1))
    right, low = (max(b[k] for b in boxes) + ROUND for k in (2, 3))
    return left, top, right, low


def page(name: str, sizes: tuple[str, ...]) -> str:
    """The page of a garment, HTML that needs no other file."""
    text = text_of(name)
    said = " ".join(line.lstrip("# ") for line in text.partition("\nblock")[0].splitlines() if line.startswith("#"))
    parts = [f"<h1>{name.replace('-', ' ')}</h1>", f"<p>{html.escape(said)}</p>"]
    parts += [f"<p class=caution>{html.escape(one)}</p>" for one in cautions(f"{name} {said}")]
    for size in sizes:
        made, detail = garment(name, size), DETAILS[name]
        parts += [
            f"<h2>{size}</h2><h3>The block</h3>",
            shown(begun(name, size), f"block of {name}, {size}"),
            f"<h3>{len(made.pieces)} pieces</h3>",
            shown(made, f"pieces of {name}, {size}"),
            f"<h3>Look at {html.escape(detail.look)}</h3>",
            shown(made, f"detail of {name}, {size}", box_of(made, detail)),
        ]
    style = "body{font-family:sans-serif;max-width:60rem;margin:2rem auto}svg{width:100%;height:auto}"
    return f"<!doctype html><meta charset=utf-8><title>{name}</title><style>{style}</style>" + "\n".join(parts)


def main(words: list[str]) -> int:
    """Write the pages."""
    only = [word.partition("=")[2].split(",") for word in words if word.startswith("--only=")]
    folder, *sizes = [word for word in words if not word.startswith("--")] or [""]
    wrong = [size for size in sizes if size not in BODIES]
    if not folder or wrong:
        print(f"{' '.join(wrong) or 'nothing'} is no body; {__doc__}", file=sys.stderr)
        return 2
    Path(folder).mkdir(parents=True, exist_ok=True)
    names = only[0] if only else [*NAMES, SHAWL]
    for name in names:
        Path(folder, f"{name}.html").write_text(page(name, tuple(sizes) or USUAL), encoding="utf-8")
    rows = "\n".join(f'<li><a href="{name}.html">{name}</a>' for name in names)
    Path(folder, "index.html").write_text(f"<!doctype html><meta charset=utf-8><ul>{rows}</ul>", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
