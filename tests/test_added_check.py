"""A check and a report are added in a copy of the tree: one file by hand each, the rest generated."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.test_added_format import ROOT, flatcut
from tests.test_added_kind import touched

CHECK = '''
"""Edges that are too short to be sewn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import WARNING, Finding
from flatcut.pattern.walking import sewn_length


@dataclass(frozen=True, kw_only=True)
class ShortEdges(Check):
    """Every edge is long enough for a machine's foot."""

    apart: float = length(12.0, "short edges: length from which one passes", high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        for piece in subject.pattern.pieces:
            for edge in piece.edges:
                size = sewn_length(edge)
                if size < self.apart:
                    where = f"{piece.name}.{edge.name}"
                    text = f"{where} is only {size:.0f} mm long"
                    yield Finding(check=self.name, severity=WARNING, where=(where,), text=text, figure=size)
'''

REPORT = '''
"""How far it is round each piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.declared.fields import flag
from flatcut.pattern.values import Figure
from flatcut.pattern.walking import drawn_length
from flatcut.reports.report import Input, Inputs, Report, Result, joined, report


@report
@dataclass(frozen=True, kw_only=True)
class Round(Report):
    """Tell how far it is round each piece."""

    records: ClassVar[bool] = True

    whole: bool = flag(True, "the sum too")

    def run(self, inputs: Inputs) -> Result:
        rows = [row for found in inputs.each(lengths) for row in found]
        total = sum(size for _, size in rows)
        return Result(
            said=joined([f"{name}: {size:.0f} mm" for name, size in rows]),
            record=dict(rows),
            figures=(Figure("round all", total),) if self.whole else (),
        )

    def sentence(self, drawing: Input, result: Result) -> str:
        return result.said


def lengths(one: Input) -> list[tuple[str, float]]:
    return [(piece.name, sum(map(drawn_length, piece.edges))) for piece in one.pattern.pieces]
'''

SQUARE = """
<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300">
<path id="flap" d="M 20,20 H 120 V 110 H 30 L 20,100 Z"/></svg>
"""


def copied(folder: Path, file: str, text: str) -> Path:
    """A copy of the tree with one more file, its dialogs written, and a drawing of one piece."""
    for name in ("core", "extensions", "samples"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "core" / file).write_text(text)
    (folder / "drawn.svg").write_text(SQUARE)
    done = flatcut(folder, "dialogs", "--write")
    assert done.returncode == 0, done.stderr
    done = flatcut(folder, "piece", "--names=flap", "-i", "drawn.svg", "-o", "flap.svg")
    assert done.returncode == 0, done.stderr
    return folder


def counted(tree: Path, what: str) -> tuple[list[str], list[str]]:
    """What was added by hand and what was generated; nothing of the core is edited, and no sample."""
    core, scripts, samples = (touched(tree / name, ROOT / name) for name in ("core", "extensions", "samples"))
    generated = [*scripts[0], *scripts[1]]
    print(f"{what}: {len(core[0])} file by hand, {len(generated)} generated")
    assert core[1] == []
    assert samples == ([], [])
    return core[0], generated


def test_a_check_is_one_file_by_hand(tmp_path: Path) -> None:
    """Its tolerance is called as another check's is, and each has an option and a field of the dialog of its own."""
    tree = copied(tmp_path, "flatcut/checks/short_edges.py", CHECK)
    by_hand, generated = counted(tree, "a check")
    assert by_hand == ["flatcut/checks/short_edges.py"]
    assert sorted(generated) == ["check-page-to-file.inx", "check-page.inx", "check.inx"]
    told = flatcut(tree, "help", "check").stdout
    assert "--short-edges-apart=LENGTH" in told
    assert "--buttons-apart=LENGTH" in told
    assert "  short-edges  Every edge is long enough for a machine's foot." in told
    dialog = (tree / "extensions" / "check.inx").read_text()
    assert 'name="short_edges_apart"' in dialog
    # the cut-off corner is 10 mm each way: its edge is 14.1 mm long, by Pythagoras
    for words, count in (((), 0), (("--short-edges-apart=15",), 1), (("--short-edges-apart=1.4cm",), 0)):
        done = flatcut(tree, "check", "flap.svg", "--only=short-edges", "--json", *words)
        found = json.loads(done.stdout)["files"][0]["findings"]
        assert len(found) == count, words
        assert all(f["where"] == ["flap.e4"] and f["figure"] == pytest.approx(200**0.5, abs=1e-6) for f in found)


def test_a_report_is_one_file_by_hand(tmp_path: Path) -> None:
    tree = copied(tmp_path, "flatcut/reports/round.py", REPORT)
    by_hand, generated = counted(tree, "a report")
    assert (by_hand, generated) == (["flatcut/reports/round.py"], ["round.inx"])
    done = flatcut(tree, "round", "flap.svg", "flap.svg", "--jobs=2")
    # 100 + 90 + 90 + 80 mm and the hypotenuse over 10 mm and 10 mm
    assert done.stdout == "flap: 374 mm\nflap: 374 mm\n"
    assert done.stderr == "round all: 748.28 mm\n"
    done = flatcut(tree, "round", "flap.svg", "--json", "--whole=false")
    assert json.loads(done.stdout) == {"flap": pytest.approx(360 + 200**0.5, abs=1e-6)}
    assert "  round        Tell how far it is round each piece." in flatcut(tree, "help").stdout
    assert "--whole" in flatcut(tree, "completion", "bash").stdout
    assert flatcut(tree, "round", "flap.svg", "--half").returncode == 2
