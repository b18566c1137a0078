"""The page of a lesson: one file that opens from disk, works with the keyboard, plays its steps and prints as pages."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from html import escape

from lxml import etree

from flatcut.drawing.ink import Stroke
from flatcut.formats.html import END, head
from flatcut.formats.lesson_script import SCRIPT
from flatcut.formats.svg.elements import SVG, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.pathdata import unparse
from flatcut.geometry.affine import IDENTITY
from flatcut.geometry.curves import polyline
from flatcut.lesson.telling import shown
from flatcut.lesson.values import Card, Leaf, Lesson, Plot, Said, Sewn, Stage
from flatcut.pattern.values import Figure
from flatcut.worn.caution import CAUTION

_STYLE = """
article { margin: 1.6rem 0 2.2rem; padding: .2rem .6rem } article:focus { outline: 2px solid #000 }
h3 { font-size: 1.05rem; margin: .3rem 0 } h2 { border-bottom: 1px solid #767676 }
.pair { display: flex; flex-wrap: wrap; gap: .6rem; align-items: flex-start }
figure { margin: .2rem 0; flex: 1 1 46% } figure.wide { flex-basis: 100% } figcaption { font-size: .85rem }
figure svg { max-height: none; margin: .1rem 0 }
.play { font: inherit; padding: .15rem .8rem; border: 1px solid #000; background: #fff; color: #000 }
.play:focus { outline: 2px solid #000 }
.paper { display: none } .playing .paper { display: inline } .playing .end { display: none }
.keys { font-size: .9rem }
details { margin: .3rem 0 } table { border-collapse: collapse; font-size: .9rem }
th, td { border: 1px solid #767676; padding: .1rem .45rem; text-align: right }
th:first-child { text-align: left; font-weight: normal } caption { text-align: left }
ul { column-gap: 2rem } .plot { font-size: .9rem } .plot ul { columns: 3 15rem; padding-left: 1.2rem }
ol.sewing > li { margin: 0 0 1.2rem }
@media print {
  body { margin: 0; max-width: none; font-size: 10.5pt } .play, .keys { display: none }
  article { break-inside: avoid; padding: 0 } h2 { break-after: avoid } details > * { display: block }
  figure svg { max-height: 11cm }
}
"""
_POLICY = (
    '<meta http-equiv="Content-Security-Policy" '
    "content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'\">"
)
"""What a browser holds the page to: nothing is fetched from anywhere."""
_KEYS = (
    "Keys: right and left arrow go to the next step and the one before; space or Enter plays the step; A plays all to "
    "the end; Escape stops; + and - make it faster and slower. The figures in the pictures are millimetres."
)
_DRAWN = re.compile(r' (?:d|transform)="[^"]*"')
_LONG = re.compile(r"-?\d+\.\d{3,}")


def lesson_page(lesson: Lesson) -> str:
    """The whole page.

    >>> "<h1>A &amp; B</h1>" in lesson_page(Lesson(title="A & B"))
    True
    """
    start = head(lesson.title, style=_STYLE).replace("<title>", f"{_POLICY}\n<title>", 1)
    body = [f"<main>\n<h1>{escape(lesson.title)}</h1>", *(f"<p>{_coded(text)}</p>" for text in lesson.introduction)]
    body += [f'<p class="warning">{escape(text)}</p>' for text in lesson.cautions]
    body.append(f'<p class="keys">{escape(_KEYS)}</p>')
    body += _chapters(lesson)
    if lesson.sewing:
        body += [
            '<section aria-labelledby="sewing">',
            '<h2 id="sewing">The order of sewing</h2>',
            '<ol class="sewing">',
        ]
        body += [_sewn(one) for one in lesson.sewing]
        body += ["</ol>", "</section>"]
    if lesson.worn is not None:
        body += ['<section aria-labelledby="worn">', '<h2 id="worn">Worn on a form</h2>']
        body += [f'<p class="warning">{escape(CAUTION)}</p>', f"<figure>{_svg(lesson.worn)}</figure>", "</section>"]
    return f"{start}{chr(10).join(body)}\n</main>\n<script>{SCRIPT}</script>{END}"


def _chapters(lesson: Lesson) -> Iterator[str]:
    open_ = False
    for number, stage in enumerate(lesson.stages, start=1):
        if stage.heading or not open_:
            if open_:
                yield "</section>"
            heading = stage.heading or ("The steps" if number == 1 else stage.title)
            yield f'<section aria-labelledby="chapter-{number}">\n<h2 id="chapter-{number}">{escape(heading)}</h2>'
            open_ = True
        yield from (f"<p>{_coded(text)}</p>" for text in stage.text)
        yield _stage(stage, number, lesson.sizes)
    if open_:
        yield "</section>"


def _stage(stage: Stage, number: int, sizes: Sequence[str]) -> str:
    parts = [f'<article id="step-{number}" tabindex="-1" aria-labelledby="title-{number}">']
    parts.append(f'<h3 id="title-{number}">{number}. {escape(stage.title)}</h3>')
    for said in stage.said:
        parts.append(f'<p class="said">{escape(said.words)}</p>')
        parts += [f'<p class="warning">{escape(warning)}</p>' for warning in said.warnings]
    wide = stage.before is None or stage.before.size[0] > 100
    parts.append('<div class="pair">')
    if stage.before is not None:
        parts.append(_figure(_before(stage.before, number), "Before", wide))
    parts.append(_figure(_after(stage, number), "After" if stage.before is not None else "", wide))
    parts.append("</div>")
    parts.append(f'<p><button type="button" class="play">Play step {number}</button></p>')
    parts += [_plot(plot) for plot in stage.plots]
    parts.append(_figures(stage.said, sizes))
    parts.append("</article>")
    return "\n".join(filter(None, parts))


def _plot(plot: Plot) -> str:
    rows = "".join(f"<li>{escape(name)}: {escape(one)}, {escape(two)}</li>" for name, one, two in plot.rows)
    return f'<div class="plot"><p>{escape(plot.head)}:</p><ul>{rows}</ul></div>'


def _figure(svg: str, caption: str, wide: bool) -> str:
    told = f"<figcaption>{caption}</figcaption>" if caption else ""
    return f"<figure{' class=wide' if wide else ''}>{svg}{told}</figure>"


def _figures(said: Sequence[Said], sizes: Sequence[str]) -> str:
    """The commands and all figures, which a reader with a ruler checks by."""
    rows = []
    for one in said:
        rows.append(f"<p><code>flatcut {escape(one.line)}</code></p>")
        if sizes and one.figures:
            titles = "".join(f'<th scope="col">{escape(size)}</th>' for size in sizes)
            rows.append(f'<table><thead><tr><th scope="col">figure</th>{titles}</tr></thead><tbody>')
            rows += [_sized(figure, one) for figure in one.figures]
            rows.append("</tbody></table>")
        elif one.figures:
            rows.append("<ul>" + "".join(f"<li>{escape(_told(figure))}</li>" for figure in one.figures) + "</ul>")
    return f"<details open><summary>Command and figures</summary>{''.join(rows)}</details>"


def _told(figure: Figure) -> str:
    """A figure as it is listed, its sign for degrees not parted from it at the end of a line."""
    return str(figure).replace(" °", "\u00a0°")


def _sized(figure: Figure, said: Said) -> str:
    values = said.sizes.get(figure.label, (shown(figure),))
    return f'<tr><th scope="row">{escape(figure.label)}</th>{"".join(f"<td>{escape(v)}</td>" for v in values)}</tr>'


def _sewn(one: Sewn) -> str:
    return f"<li><p>{escape(one.words)}</p>{_svg(one.card) if one.card is not None else ''}</li>"


def _coded(text: str) -> str:
    """A paragraph with what stands between backticks as a command."""
    parts = text.split("`")
    if len(parts) % 2 == 0:
        return escape(text)
    return "".join(f"<code>{escape(p)}</code>" if k % 2 else escape(p) for k, p in enumerate(parts))


# Pictures -------------------------------------------------------------------------------------------------------------


def _root(card: Card) -> etree._Element:
    root = etree.fromstring(f'<svg xmlns="{SVG}"/>')
    root.set("viewBox", f"0 0 {card.size[0]:g} {card.size[1]:.2f}")
    root.set("role", "img")
    root.set("aria-label", card.label)
    etree.SubElement(root, tag("title")).text = card.label
    return root


def _painted(parent: etree._Element, card: Card) -> None:
    painter = Painter(IDENTITY)
    for number, item in enumerate(card.ink.items):
        element = painter.paint(parent, item)
        if number in card.new and isinstance(item, Stroke):
            element.set("class", "new")


def _text(root: etree._Element) -> str:
    """The element as text, its numbers to a hundredth of a millimetre of the page."""

    def short(found: re.Match[str]) -> str:
        return _LONG.sub(lambda number: f"{float(number[0]):.2f}", found[0])

    return _DRAWN.sub(short, etree.tostring(root, encoding="unicode"))


def _svg(card: Card) -> str:
    root = _root(card)
    _painted(root, card)
    return _text(root)


def _before(card: Card, number: int) -> str:
    root = _root(card)
    group = etree.SubElement(root, tag("g"))
    group.set("id", f"before-{number}")
    _painted(group, card)
    return _text(root)


def _after(stage: Stage, number: int) -> str:
    """The picture after, and below it the paper before in parts that move when the step is played."""
    root = _root(stage.after)
    if stage.leaves and stage.before is not None:
        paper = etree.SubElement(root, tag("g"))
        paper.set("class", "paper")
        for k, leaf in enumerate(sorted(stage.leaves, key=_layer)):
            _leaf(paper, leaf, f"part-{number}-{k}", f"#before-{number}")
    end = etree.SubElement(root, tag("g"))
    end.set("class", "end")
    _painted(end, stage.after)
    return _text(root)


def _layer(leaf: Leaf) -> int:
    """What comes from under lies lowest, and what moves on what stays."""
    return 0 if leaf.new else 2 if any(turn.moves for turn in leaf.turns) else 1


def _leaf(paper: etree._Element, leaf: Leaf, name: str, drawn: str) -> None:
    course = unparse([polyline(leaf.ring)], False)
    group = etree.SubElement(paper, tag("g"))
    group.set("class", "leaf")
    turns = [
        [*map(float, turn.about), turn.degrees, *map(float, turn.shift), *([] if turn.over is None else [turn.over])]
        for turn in leaf.turns
    ]
    group.set("data-turns", json.dumps([[round(value, 5) for value in turn] for turn in turns]))
    sheet = etree.SubElement(group, tag("path"))
    sheet.set("d", course)
    sheet.set("style", "fill:#ffffff;stroke:#000000;stroke-width:0.3")
    if leaf.new:
        return
    clip = etree.SubElement(group, tag("clipPath"))
    clip.set("id", name)
    etree.SubElement(clip, tag("path")).set("d", course)
    inside = etree.SubElement(group, tag("g"))
    inside.set("clip-path", f"url(#{name})")
    etree.SubElement(inside, tag("use")).set("href", drawn)
