"""Pages that explain: one file, opens from disk, no scripts, printable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_STYLE = """
body { font: 16px/1.5 sans-serif; max-width: 62rem; margin: 2rem auto; padding: 0 1rem; color: #000; background: #fff }
h1 { font-size: 1.7rem } h2 { font-size: 1.15rem; margin: 2.2rem 0 .3rem }
code { background: #f2f2f2; padding: .15rem .35rem; overflow-wrap: anywhere }
ul { columns: 2; padding-left: 1.2rem; margin: .4rem 0 } li { break-inside: avoid }
svg { width: 100%; max-height: 34rem; border: 1px solid #ccc; margin: .6rem 0 }
.warning { font-weight: bold } .warning::before { content: "\\25B2  " }
@media print { svg { max-height: 22cm } section { break-inside: avoid } }
"""


@dataclass(frozen=True, kw_only=True)
class Section:
    """One step of a page: a heading, a paragraph, the command (or a line for each of several), its figures and
    warnings, and pictures (SVG text)."""

    heading: str
    text: str = ""
    command: str = ""
    figures: Sequence[str] = ()
    warnings: Sequence[str] = ()
    pictures: Sequence[str] = ()


def page(title: str, introduction: Sequence[str], sections: Sequence[Section]) -> str:
    """A whole HTML page.

    >>> "<h2>1. Cut &amp; sew</h2>" in page("t", ["p"], [Section(heading="Cut & sew")])
    True
    """
    body = [f"<h1>{escape(title)}</h1>", *(f"<p>{escape(text)}</p>" for text in introduction)]
    for number, section in enumerate(sections, start=1):
        body.append("<section>")
        body.append(f"<h2>{number}. {escape(section.heading)}</h2>")
        if section.text:
            body.append(f"<p>{escape(section.text)}</p>")
        body += [f"<p><code>flatcut {escape(line)}</code></p>" for line in section.command.splitlines()]
        if section.figures:
            body.append("<ul>" + "".join(f"<li>{escape(figure)}</li>" for figure in section.figures) + "</ul>")
        body += [f'<p class="warning">{escape(warning)}</p>' for warning in section.warnings]
        body += section.pictures
        body.append("</section>")
    return head(title) + "\n".join(body) + END


def head(title: str, *, style: str = "") -> str:
    """The start of a page, up to where its content begins; style: further rules.

    >>> "<html lang=" in head("t")
    True
    """
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}{style}</style>\n</head>\n<body>\n"
    )


END = "\n</body>\n</html>\n"
"""The end of a page."""
