"""A check and a report are added in a copy of the tree: one file by hand each, the rest generated."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.added import Said, Tree, copied

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


def added(folder: Path, file: str, text: str, *commands: str) -> tuple[Tree, list[Said], list[str]]:
    """A copy of the tree with one more file and its dialogs; what commands on a drawing say; what was generated."""
    tree = copied(folder, {file: text})
    (folder / "drawn.svg").write_text(SQUARE)
    first, second, *said = tree.run("dialogs --write", "piece --names=flap -i drawn.svg -o flap.svg", *commands)
    assert (first.code, second.code) == (0, 0), second.err
    more, edited = tree.touched()
    generated = [name for name in (*more, *edited) if name.startswith("flatcut/extensions/")]
    print(f"{file}: {len(more) + len(edited) - len(generated)} file by hand, {len(generated)} generated")
    assert [name for name in more if name not in generated] == [f"flatcut/{file}"]
    assert [name for name in edited if name not in generated] == [], "nothing of the core is edited, and no sample"
    return tree, said, sorted(Path(name).name for name in generated)


def test_a_check_is_one_file_by_hand(tmp_path: Path) -> None:
    """Its tolerance is called as another check's is, and each has an option and a field of the dialog of its own."""
    json_of = "check flap.svg --only=short-edges --json"
    ways = ((0, ""), (1, " --short-edges-apart=15"), (0, " --short-edges-apart=1.4cm"))
    tree, said, generated = added(
        tmp_path, "checks/short_edges.py", CHECK, "help check", *(json_of + words for _, words in ways)
    )
    assert generated == ["check-page-to-file.inx", "check-page.inx", "check.inx"]
    assert "--short-edges-apart=LENGTH" in said[0].out
    assert "--buttons-apart=LENGTH" in said[0].out
    assert "  short-edges  Every edge is long enough for a machine's foot." in said[0].out
    dialog = (tree.folder / "flatcut" / "extensions" / "check.inx").read_text()
    assert 'name="short_edges_apart"' in dialog
    # the cut-off corner is 10 mm each way: its edge is 14.1 mm long, by Pythagoras
    for (count, words), done in zip(ways, said[1:], strict=True):
        found = json.loads(done.out)["files"][0]["findings"]
        assert len(found) == count, words
        assert all(f["where"] == ["flap.e4"] and f["figure"] == pytest.approx(200**0.5, abs=1e-6) for f in found)


def test_a_report_is_one_file_by_hand(tmp_path: Path) -> None:
    tree, said, generated = added(
        tmp_path,
        "reports/round.py",
        REPORT,
        "round flap.svg flap.svg",
        "round flap.svg --json --whole=false",
        "help",
        "completion bash",
        "round flap.svg --half",
    )
    assert generated == ["round.inx"]
    told, record, help_of_all, completion, wrong = said
    # 100 + 90 + 90 + 80 mm and the hypotenuse over 10 mm and 10 mm
    assert told == (0, "flap: 374 mm\nflap: 374 mm\n", "round all: 748.28 mm\n")
    assert json.loads(record.out) == {"flap": pytest.approx(360 + 200**0.5, abs=1e-6)}
    assert "  round        Tell how far it is round each piece." in help_of_all.out
    assert "--whole" in completion.out
    assert wrong.code == 2
    # in processes of their own, which start from the tree's own command
    two = subprocess.run(
        [sys.executable, "-m", "flatcut", "round", "flap.svg", "flap.svg", "--jobs=2"],
        cwd=tree.folder,
        env={**os.environ, "PYTHONPATH": str(tree.folder), "PYTHONPYCACHEPREFIX": f"{tree.folder}-compiled"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (two.returncode, two.stdout, two.stderr) == told
