"""The page of a check: one file that opens from disk, without scripts, to be read on a screen or on paper."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from flatcut.findings import FAULT, Finding, plural
from flatcut.formats.check_pictures import Number, finding_picture, longer_side, seam_picture
from flatcut.formats.html import END, head
from flatcut.pattern.runs import written
from flatcut.pattern.seaming import Verdict, walked
from flatcut.pattern.values import Pattern
from flatcut.units import plain

SHAPES = {"fault": "\N{BLACK SQUARE}", "warning": "\N{WHITE UP-POINTING TRIANGLE}"}
"""The shape of a finding, in words and in pictures alike."""

VERDICTS = {
    "aim": "as aimed",
    "pass": "passes",
    "warning": f"{SHAPES['warning']} warning",
    "fault": f"{SHAPES['fault']} fault",
}

_STYLE = """
main > section { margin-top: 2.5rem } h3 { font-size: 1.05rem; margin: 1.4rem 0 .3rem } h4 { margin: 1rem 0 .2rem }
.shape { font-size: 1.2em } .is-fault .shape { color: #b3001b }
table { border-collapse: collapse; margin: .6rem 0; width: 100% } caption { text-align: left; font-weight: bold }
th, td { border: 1px solid #767676; padding: .2rem .5rem; text-align: right }
th:first-child, td:first-child, th:nth-child(2), td:nth-child(2) { text-align: left; overflow-wrap: anywhere }
figure { margin: .6rem 0 1.4rem } figcaption { margin: .2rem 0 }
figure svg, article svg { max-height: 26rem }
@media print {
  body { margin: 0; max-width: none; font-size: 11pt } thead { display: table-header-group }
  article, figure, tr { break-inside: avoid } h2, h3, h4 { break-after: avoid }
  figure svg, article svg { max-height: 9cm }
  main > section + section { break-before: page } section { break-inside: auto }
}
"""

_ADVICE = (
    "Walked along the stitch line, on the paper pattern. Before cloth is cut: measure what is printed against a ruler, "
    "and sew a toile first."
)


def opening(sources: Sequence[str]) -> str:
    """The page up to its first drawing."""
    title = f"Check of {sources[0]}" if len(sources) == 1 else f"Check of {plural(len(sources), 'drawing')}"
    shapes = {word: f'<span class="shape">{shape}</span>' for word, shape in SHAPES.items()}
    legend = (
        f'<p>Every finding has a number and a shape: <span class="is-fault">{shapes["fault"]} fault</span>, does not '
        f"go together; {shapes['warning']} warning, to be looked at. Places are written as flatcut reads them: "
        "piece.edge, piece.edge/edge for a corner, @ for a place on an edge.</p>"
    )
    return f"{head(title, style=_STYLE)}<main>\n<h1>{escape(title)}</h1>\n{legend}\n<p>{escape(_ADVICE)}</p>\n"


def file_section(source: str, number: int, pattern: Pattern, findings: Sequence[Finding], verdict: Verdict) -> str:
    """What was checked in one drawing: a table of seams, the findings with a picture each, each seam with its own."""
    shown = [Number(number=k, finding=finding) for k, finding in enumerate(findings, start=1)]
    faults = sum(finding.severity == FAULT for finding in findings)
    counts = f"{plural(len(pattern.pieces), 'piece')}, {plural(len(pattern.seams), 'seam')}: "
    counts += f"{plural(faults, 'fault')}, {plural(len(findings) - faults, 'warning')}"
    parts = [f'<section aria-labelledby="drawing-{number}">', f'<h2 id="drawing-{number}">{escape(source)}</h2>']
    parts.append(f"<p>{counts}.</p>")
    if pattern.seams:
        parts += ["<h3>All seams</h3>", _table(pattern, verdict)]
    if findings:
        parts.append("<h3>What does not fit</h3>")
        parts += [_finding(pattern, item) for item in shown]
    elif pattern.pieces:
        parts.append("<p>Nothing to put right was found.</p>")
    if pattern.seams:
        parts.append("<h3>Every seam with its pieces laid along it</h3>")
        parts += [_seam(pattern, k, verdict, shown) for k in range(len(pattern.seams))]
    return "\n".join([*parts, "</section>", ""])


def failed_section(source: str, number: int, error: str) -> str:
    """A drawing that could not be checked."""
    return (
        f'<section aria-labelledby="drawing-{number}"><h2 id="drawing-{number}">{escape(source)}</h2>'
        f'<p class="is-fault"><span class="shape">{SHAPES["fault"]}</span> not checked: {escape(error)}</p></section>\n'
    )


def end(files: int, faults: int, warnings: int) -> str:
    """The end of the page, with what was found in all of it."""
    whole = f"{plural(files, 'drawing')}: {plural(faults, 'fault')}, {plural(warnings, 'warning')}."
    return f"<p>{whole}</p>\n</main>{END}"


def _finding(pattern: Pattern, shown: Number) -> str:
    finding = shown.finding
    heading = f"{shown.number}. {finding.severity}: {finding.check.replace('-', ' ')}"
    return (
        f'<article class="is-{finding.severity}"><h4><span class="shape" aria-hidden="true">{SHAPES[finding.severity]}'
        f"</span> {escape(heading)}</h4>\n<p>{escape(finding.text)}.</p>\n{finding_picture(pattern, shown)}</article>"
    )


def _table(pattern: Pattern, verdict: Verdict) -> str:
    rows = [
        "<table><caption>Sewn lengths in mm: darts closed, pleats folded, gathers drawn up</caption><thead><tr>"
        + "".join(
            f'<th scope="col">{word}</th>'
            for word in ("side A", "side B", "A, mm", "B, mm", "ease of B", "longer than wanted", "")
        )
        + "</tr></thead><tbody>"
    ]
    for seam in pattern.seams:
        one, two, rest = walked(pattern, seam)
        cells = [escape(written(pattern, run)) for run in (seam.a, seam.b)]
        cells += [plain(value) for value in (one, two, seam.ease)]
        cells.append("0" if abs(rest) < 0.005 else f"{'B' if rest > 0 else 'A'} by {plain(abs(rest))}")
        stands = VERDICTS[verdict(rest)] + (" (suggested)" if seam.suggested else "")
        rows.append("<tr>" + "".join(f"<td>{cell}</td>" for cell in (*cells, stands)) + "</tr>")
    return "".join([*rows, "</tbody></table>"])


def _seam(pattern: Pattern, k: int, verdict: Verdict, shown: Sequence[Number]) -> str:
    seam = pattern.seams[k]
    about = [item for item in shown if item.finding.about == seam.uid]
    a, b = written(pattern, seam.a), written(pattern, seam.b)
    _, _, rest = walked(pattern, seam)
    numbers = ", ".join(str(item.number) for item in about)
    marked = f"; marked: finding{'s' if len(about) > 1 else ''} {numbers}" if about else ""
    return (
        f"<figure><figcaption>{escape(f'{a} and {b}')}: {VERDICTS[verdict(rest)]}, "
        f"{escape(longer_side(a, b, rest))}{marked}."
        f"</figcaption>\n{seam_picture(pattern, seam, verdict, about)}</figure>"
    )
