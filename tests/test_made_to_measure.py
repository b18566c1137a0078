"""One recipe for many bodies: a CSV of customers, a run that goes on after a stop, reports that follow, the summary."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from flatcut.blocks.body import SIZES, sizes_of_rows
from flatcut.cli import main, spreading
from flatcut.errors import FlatcutError
from flatcut.formats.svg.read import read

Told = pytest.CaptureFixture[str]

RECIPE = """\
block skirt --length=60cm
edge skirt-front.waist skirt-back.waist --use=finished
allowance all --width=1cm
label all
"""
NEEDED = ("waist", "hip", "waist-to-hip", "waist-to-knee")


def table(count: int, **changes: str) -> str:
    """Bodies c1, c2 ... of a skirt between two sizes of the list, in cm; changes: name -> the row's cells after it."""
    low, high = SIZES["bust-82"], SIZES["bust-112"]
    rows = ["name;" + ";".join(NEEDED) + ";note"]
    for k in range(count):
        share = k / max(count - 1, 1)
        cells = [f"{((1 - share) * low[name] + share * high[name]) / 10:.1f}" for name in NEEDED]
        rows.append(f"c{k + 1};" + changes.get(f"c{k + 1}", ";".join(cells)))
    return "\n".join(rows) + "\n"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "skirt.recipe").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "customers.csv").write_text(table(4), encoding="utf-8")
    return tmp_path


def run(shop: Path, *words: str) -> int:
    base = [str(shop / "skirt.recipe"), f"--sizes={shop / 'customers.csv'}", "--units=cm", f"--into={shop / 'out'}"]
    return main(["run", *base, *words])


def summary(shop: Path) -> dict[str, tuple[str, str]]:
    """name -> outcome and what is said, from the CSV, held against the JSON."""
    with (shop / "out" / "skirt-summary.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    record = json.loads((shop / "out" / "skirt-summary.json").read_text(encoding="utf-8"))
    assert [(r[0], r[1]) for r in rows] == [(b["name"], b["outcome"]) for b in record["bodies"]]
    return {row[0]: (row[1], row[2]) for row in rows}


def files(shop: Path) -> dict[str, bytes]:
    """What has come out, but the journal: its lines stand in the order in which the bodies were done."""
    out = shop / "out"
    return {path.name: path.read_bytes() for path in sorted(out.iterdir()) if not path.name.endswith(".jsonl")}


def test_rows_of_bodies() -> None:
    text = "Name,Bust,nape to waist,waist_to_hip,units,note\nA,36in,41,,cm,by the window\nB,880,410,207,,\n"
    assert sizes_of_rows(text) == {
        "A": {"bust": pytest.approx(914.4), "nape-to-waist": 410.0},
        "B": {"bust": 880.0, "nape-to-waist": 410.0, "waist-to-hip": 207.0},
    }


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bust,waist\n880,700\n", "call it 'name' (or 'size')"),
        ("name,size,bust\na,b,880\n", "call it 'name' (or 'size')"),
        ("name,bust,bust\na,880,880\n", "'bust' stands there twice"),
        ("name,burst\na,880\n", "did you mean 'bust'?"),
        ("name,bust\n", "the table has no body"),
        ("name,bust\na,880\n,890\n", "row 3 has figures and no name"),
        ("name,bust\na,880\na,890\n", "row 3 is called a as another row is"),
        ("name,bust\na,88,5\n", "looks like a decimal comma: write 88.5"),
        ("", "the table is empty"),
    ],
)
def test_rows_that_are_no_table(text: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said.replace("(", r"\(").replace(")", r"\)").replace("?", r"\?")):
        sizes_of_rows(text)


def test_one_garment_for_each_customer(shop: Path, capsys: Told) -> None:
    assert run(shop) == 0
    assert summary(shop) == {f"c{k}": ("done", "") for k in (1, 2, 3, 4)}
    _, pattern, _ = read((shop / "out" / "skirt-c2.svg").read_bytes())
    low, high = SIZES["bust-82"], SIZES["bust-112"]
    assert pattern.body["hip"] == pytest.approx(2 / 3 * low["hip"] + high["hip"] / 3, abs=0.5)
    assert pattern.style.size == "c2"
    assert "size c4: done" in capsys.readouterr().err


def test_a_body_that_is_none_stops_no_other(shop: Path, capsys: Told) -> None:
    rows = {"c2": "75;9.9;20;59;", "c3": ";98;20;59;"}
    (shop / "customers.csv").write_text(table(4, **rows), encoding="utf-8")
    assert run(shop, "--jobs=2") == 1
    told = summary(shop)
    assert [outcome for outcome, _ in told.values()] == ["done", "not done", "not done", "done"]
    assert told["c2"][1].startswith("hip is 9.9 cm, and no body has that")
    assert told["c3"][1].startswith("line 1 (block): skirt needs waist")
    assert sorted(path.name for path in (shop / "out").glob("*.svg")) == ["skirt-c1.svg", "skirt-c4.svg"]
    assert "size c2: hip is 9.9 cm" in capsys.readouterr().err


def test_where_no_body_can_be_drafted_nothing_is_left(shop: Path) -> None:
    (shop / "customers.csv").write_text(table(2, c1=";98;20;59;", c2=";99;20;59;"), encoding="utf-8")
    assert run(shop) == 2
    assert not (shop / "out").exists()


def test_what_was_done_before_is_not_done_again(shop: Path, capsys: Told) -> None:
    assert run(shop) == 0
    first = files(shop)
    stamps = {path: path.stat().st_ino for path in (shop / "out").glob("*.svg")}
    assert run(shop) == 0
    assert "4 of 4 sizes were done before" in capsys.readouterr().err
    assert files(shop) == first
    assert all(path.stat().st_ino == stamp for path, stamp in stamps.items()), "no file was written anew"
    # one customer measured again: that one is drafted, the others are not
    low = table(4).splitlines()[1].split(";", 1)[1]
    (shop / "customers.csv").write_text(table(4, c3=low), encoding="utf-8")
    assert run(shop) == 0
    assert "3 of 4 sizes were done before" in capsys.readouterr().err
    assert files(shop)["skirt-c3.svg"] != first["skirt-c3.svg"]
    # another recipe: all of them
    (shop / "skirt.recipe").write_text(RECIPE.replace("60cm", "61cm"), encoding="utf-8")
    assert run(shop) == 0
    assert "before" not in capsys.readouterr().err
    # a file that has gone comes back
    (shop / "out" / "skirt-c1.svg").unlink()
    assert run(shop) == 0
    assert "3 of 4 sizes were done before" in capsys.readouterr().err
    assert (shop / "out" / "skirt-c1.svg").exists()


def test_work_by_hand_on_a_result_is_not_written_over(shop: Path, capsys: Told) -> None:
    assert run(shop) == 0
    changed = shop / "out" / "skirt-c2.svg"
    changed.write_bytes(changed.read_bytes().replace(b"</svg>", b"<!-- taken in at the waist --></svg>"))
    by_hand = changed.read_bytes()
    for _ in range(2):
        assert run(shop) == 1
        assert "skirt-c2.svg was changed after it was made here; move it away, or say --anew" in capsys.readouterr().err
        assert changed.read_bytes() == by_hand
    assert run(shop, "--anew") == 0
    assert changed.read_bytes() != by_hand


def test_a_journal_that_was_cut_short(shop: Path, capsys: Told) -> None:
    assert run(shop) == 0
    first = files(shop)
    journal = shop / "out" / "skirt-journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    assert len(lines) == 4
    journal.write_bytes(b"".join(lines[:2]) + lines[2][:-9])
    capsys.readouterr()
    assert run(shop) == 0
    assert "2 of 4 sizes were done before" in capsys.readouterr().err
    assert files(shop) == first


def test_another_run_in_the_same_folder_is_refused(shop: Path, capsys: Told) -> None:
    pytest.importorskip("fcntl")
    assert run(shop) == 0
    hold = "import fcntl, sys; f = open(sys.argv[1], 'a'); fcntl.lockf(f, fcntl.LOCK_EX); print(); sys.stdin.read()"
    words = [sys.executable, "-c", hold, str(shop / "out" / "skirt-journal.jsonl")]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        other.stdout.readline()
        assert run(shop) == 2
        other.kill()
    assert "another run is at work" in capsys.readouterr().err


def test_reports_follow_each_body(shop: Path, capsys: Told) -> None:
    assert run(shop, "--then=check; print --paper=a3", "--jobs=2") == 0
    out = shop / "out"
    for k in (1, 2, 3, 4):
        assert (out / f"skirt-c{k}.pdf").read_bytes().startswith(b"%PDF-")
        assert json.loads((out / f"skirt-c{k}-check.json").read_text(encoding="utf-8"))
    # the same as the commands make of the file itself
    assert main(["check", str(out / "skirt-c3.svg"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads((out / "skirt-c3-check.json").read_text(encoding="utf-8"))
    assert main(["print", str(out / "skirt-c3.svg"), "--paper=a3", "-o", str(shop / "c3.pdf")]) == 0
    assert (shop / "c3.pdf").read_bytes() == (out / "skirt-c3.pdf").read_bytes()


def test_what_a_check_finds_stands_in_the_summary(shop: Path) -> None:
    spoiled = RECIPE.replace("edge skirt-front.waist skirt-back.waist --use=finished\n", "")
    (shop / "skirt.recipe").write_text(spoiled, encoding="utf-8")
    assert run(shop, "--then=check --warnings=false") == 1
    outcome, said = summary(shop)["c1"]
    assert outcome == "done, but see the notes"
    assert "check: skirt-front.waist (" in said
    assert "is sewn to nothing" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--then=prind", "did you mean 'print'?"),
        ("--then=print --papper=a4", "did you mean '--paper'?"),
        ("--then=print -o x.pdf", "names no files"),
        ("--then=print; print --paper=a4", "would write the same file"),
        ("--then=print 'a", "quotation mark without its mate"),
    ],
)
def test_reports_that_are_none(words: str, said: str, shop: Path, capsys: Told) -> None:
    assert run(shop, words) == 2
    assert said in capsys.readouterr().err
    assert not (shop / "out").exists()


def test_then_is_for_sizes(shop: Path, capsys: Told) -> None:
    assert main(["run", str(shop / "skirt.recipe"), "--then=check", "-o", str(shop / "a.svg")]) == 2
    assert "--then, --anew and --scheduler go with --sizes" in capsys.readouterr().err


def test_killed_and_started_again(shop: Path) -> None:
    """Killed at moments spread over the run, then started again: the files are those of a run that was let be."""
    (shop / "customers.csv").write_text(table(12), encoding="utf-8")
    assert run(shop) == 0
    whole = files(shop)
    (shop / "out").rename(shop / "whole")
    words = [
        "run", str(shop / "skirt.recipe"), f"--sizes={shop / 'customers.csv'}", "--units=cm",
        f"--into={shop / 'out'}", "--jobs=2",
    ]  # fmt: skip
    kills = 10 if os.environ.get("FLATCUT_LONG") else 3
    journal = shop / "out" / "skirt-journal.jsonl"
    killed = 0
    for k in range(kills):
        process = subprocess.Popen([sys.executable, "-m", "flatcut", *words], stderr=subprocess.DEVNULL)
        # when one body more is done than before; the machine may be as slow as it likes
        until = 1 + k * 11 // kills
        while process.poll() is None and (not journal.exists() or journal.read_bytes().count(b"\n") < until):
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        killed += process.wait() == -signal.SIGKILL
    assert killed > 0
    assert run(shop) == 0
    assert files(shop) == whole


class _Screen(io.StringIO):
    """A terminal."""

    def isatty(self) -> bool:
        return True


def test_the_time_left_is_told_while_bodies_are_done(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = _Screen()
    clock = iter(range(0, 1000, 30))
    monkeypatch.setattr(spreading.sys, "stderr", screen)
    monkeypatch.setattr(spreading.time, "monotonic", lambda: float(next(clock)))
    assert list(spreading.shown(iter(range(20)), 20, "done")) == list(range(20))
    shown = screen.getvalue().split("\r")
    # 30 seconds each, begun at 0: after the tenth there are ten to come
    told = next(line for line in shown if "done 10 of 20" in line)
    assert told.endswith("about 5 min left")
    assert "left" not in next(line for line in shown if "done 2 of 20" in line)
