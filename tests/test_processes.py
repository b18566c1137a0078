"""Files and processes: what is written is whole, what is read has not changed, and a run that is stopped says so."""

from __future__ import annotations

import os
import random
import re
import signal
import stat
import subprocess
import sys
import time
from collections import Counter
from functools import partial
from pathlib import Path

import pytest

import flatcut
from flatcut import files
from flatcut.cli.main import main
from flatcut.formats.svg.read import read
from tests import by_hand as hand

WHERE = str(Path(flatcut.__file__).parents[1])
ENVIRONMENT = {**os.environ, "PYTHONPATH": WHERE, "OPENBLAS_NUM_THREADS": "1"}
FLATCUT = (sys.executable, "-m", "flatcut")
MANY = int(os.environ.get("FLATCUT_STOPS", "100"))
"""Runs that are stopped in the long test; with -s a table says what became of them."""
Told = pytest.CaptureFixture[str]


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "two.svg"
    path.write_bytes(hand.two_pieces())
    return path


def started(*words: str, **more: object) -> subprocess.Popen[bytes]:
    pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    # a run in the background of a shell has Ctrl-C ignored, and would hand that on
    pipes |= {"preexec_fn": partial(signal.signal, signal.SIGINT, signal.SIG_DFL), **more}
    return subprocess.Popen([*FLATCUT, *words], env=ENVIRONMENT, **pipes)  # type: ignore[call-overload, no-any-return]


def ended(*words: str, **more: object) -> tuple[int, str]:
    """The exit code and what was told on standard error."""
    process = started(*words, **more)
    said = process.communicate(timeout=120)[1]
    return process.returncode, (said or b"").decode()


def left_over(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob(".*")]


# In place -------------------------------------------------------------------------------------------------------------


def test_a_file_that_changed_since_it_was_read_is_refused(
    drawing: Path, capsys: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = drawing.read_bytes() + b"<!-- saved by the editor meanwhile -->\n"
    read_first = files.read_bytes

    def slow(name: str) -> bytes:
        data = read_first(name)
        drawing.write_bytes(other)
        return data

    monkeypatch.setattr("flatcut.cli.editing.read_bytes", slow)
    assert main(["allowance", "all", "-i", str(drawing), "--in-place"]) == 2
    assert "was changed by another program after it was read" in capsys.readouterr().err
    assert drawing.read_bytes() == other
    assert left_over(drawing.parent) == []


@pytest.mark.parametrize("rounds", [pytest.param(2, marks=pytest.mark.brief), pytest.param(40, marks=pytest.mark.long)])
def test_of_two_runs_at_once_none_loses_its_step(drawing: Path, rounds: int) -> None:
    """Either both steps are in the file, or the one that is not there said so."""
    before = drawing.read_bytes()
    for _ in range(rounds):
        drawing.write_bytes(before)
        both = [
            started("point", f"--at=front.side@{k}cm", f"--name=p{k}", "-i", str(drawing), "--in-place") for k in (2, 3)
        ]
        codes = {
            f"p{k}": (run.communicate(timeout=120)[1], run.returncode) for k, run in zip((2, 3), both, strict=True)
        }
        points = {point.name for point in read(drawing.read_bytes())[1].piece("front").points}
        for name, (said, code) in codes.items():
            assert (name in points) == (code == 0), said
            assert code in (0, 2)
            assert code == 0 or b"changed by another program" in said
        assert any(code == 0 for _, code in codes.values())


def test_links_are_followed(drawing: Path, tmp_path: Path) -> None:
    (tmp_path / "shown").mkdir()
    link = tmp_path / "shown" / "link.svg"
    link.symlink_to("../two.svg")
    assert main(["allowance", "all", "-i", str(link), "--in-place"]) == 0
    assert link.is_symlink()
    assert "allowance all" in [step.line for step in read(drawing.read_bytes())[1].steps][-1]
    ahead = tmp_path / "ahead.svg"
    ahead.symlink_to("not-there-yet.svg")
    assert main(["allowance", "all", "-i", str(drawing), "-o", str(ahead)]) == 0
    assert (tmp_path / "not-there-yet.svg").read_bytes() == ahead.read_bytes()
    around = tmp_path / "around.svg"
    around.symlink_to("around.svg")
    assert main(["allowance", "all", "-i", str(drawing), "-o", str(around)]) == 2


def test_a_read_only_file_is_refused(drawing: Path, capsys: Told) -> None:
    before = drawing.read_bytes()
    drawing.chmod(0o444)
    assert main(["allowance", "all", "-i", str(drawing), "--in-place"]) == 2
    assert "read-only" in capsys.readouterr().err
    assert drawing.read_bytes() == before
    assert stat.S_IMODE(drawing.stat().st_mode) == 0o444


def test_a_name_as_long_as_names_can_be(drawing: Path, tmp_path: Path) -> None:
    output = tmp_path / ("n" * 251 + ".svg")
    for _ in range(2):
        assert main(["allowance", "all", "-i", str(drawing), "-o", str(output)]) == 0
    assert main(["allowance", "all", "-i", str(output), "--in-place"]) == 0
    assert left_over(tmp_path) == []
    assert main(["allowance", "all", "-i", str(drawing), "-o", str(tmp_path / ("n" * 252 + ".svg"))]) == 2


def test_without_nameless_files_it_works_too(drawing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    assert main(["allowance", "all", "-i", str(drawing), "--in-place"]) == 0
    assert left_over(drawing.parent) == []

    def failing() -> object:
        yield b"half"
        raise OSError(28, os.strerror(28))

    before = drawing.read_bytes()
    with pytest.raises(OSError, match="no space left"):
        files.write_chunks(str(drawing), failing())  # type: ignore[arg-type]
    assert drawing.read_bytes() == before
    assert left_over(drawing.parent) == []


# Streams --------------------------------------------------------------------------------------------------------------

FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")


@FULL
@pytest.mark.parametrize(
    "words", [["operations"], ["--version"], ["pieces", "two.svg"], ["allowance", "all", "-i", "two.svg"]]
)
def test_a_full_output_is_an_error_and_no_fault(drawing: Path, words: list[str]) -> None:
    with open("/dev/full", "wb") as full:
        code, said = ended(*words, stdout=full, cwd=drawing.parent)
    assert code == 2
    assert re.fullmatch(
        r"flatcut: standard output cannot be written: no space left on device\n", said.splitlines(True)[-1]
    )
    assert "fault" not in said


@pytest.mark.parametrize("words", [["operations"], ["pieces", "two.svg"], ["allowance", "all", "-i", "two.svg"]])
def test_a_closed_output_is_an_error_and_no_fault(drawing: Path, words: list[str]) -> None:
    code, said = ended(*words, cwd=drawing.parent, stdout=None, preexec_fn=lambda: os.close(1))
    assert code == 2
    assert "standard output cannot be written: bad file descriptor" in said
    assert "fault" not in said


@FULL
def test_nobody_to_tell_is_no_reason_to_do_nothing(drawing: Path) -> None:
    output = drawing.parent / "out.svg"
    words = ["allowance", "all", "-i", str(drawing), "-o", str(output)]
    with open("/dev/full", "wb") as full:
        assert ended(*words, stderr=full)[0] == 0
    first = output.read_bytes()
    assert ended(*words, stdout=None, stderr=None, preexec_fn=lambda: os.closerange(0, 3))[0] == 0
    assert output.read_bytes() == first


def test_names_that_are_no_text_are_names(tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/caf\xe9.svg"
    Path(os.fsdecode(name)).write_bytes(hand.two_pieces())
    page = tmp_path / "page.html"
    for words in (["pieces"], ["check"], ["check", "--json"], ["check", f"--report={page}"]):
        code, said = ended(*words, os.fsdecode(name))
        assert code in (0, 1), said
    assert "caf\\udce9" in page.read_text(encoding="utf-8")
    code, said = ended("pieces", os.fsdecode(name) + "x")
    assert code == 2
    assert "caf\\udce9.svgx cannot be read" in said
    assert ended("collect", os.fsdecode(name), os.fsdecode(name), "--prefix", "-o", str(tmp_path / "all.svg"))[0] == 2
    assert ended("print", os.fsdecode(name), "-o", str(tmp_path / "p.pdf"), "--date=2031-05-03")[0] in (0, 1)


# Processes ------------------------------------------------------------------------------------------------------------


def killed_at(run: subprocess.Popen[bytes], number: int, after: float, *, group: bool = False) -> str:
    time.sleep(after)
    if group:
        os.killpg(run.pid, number)
    else:
        run.send_signal(number)
    said = run.communicate(timeout=120)[1]
    return said.decode()


SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL)
STARTED = 0.02
"""Seconds in which the interpreter itself comes up; before that no program can answer."""


def one_stop(folder: Path, seed: int, whole: float, wanted: bytes) -> str:
    """Stop a run after a while; what is there then is whole, and what was told is true. What became of it."""
    chance = random.Random(seed)
    number, in_place = chance.choice(SIGNALS), chance.random() < 0.5
    source, output = folder / "in.svg", folder / "out.svg"
    before = hand.two_pieces()
    source.write_bytes(before)
    output.unlink(missing_ok=True)
    words = [
        "allowance",
        "all",
        "--width=12",
        "-i",
        str(source),
        *(["--in-place"] if in_place else ["-o", str(output)]),
    ]
    run = started(*words, start_new_session=True)
    said = killed_at(run, number, chance.uniform(0, 1.15 * whole), group=chance.random() < 0.5)
    told = [line for line in said.splitlines() if line.startswith("flatcut: ")]
    target = source if in_place else output
    now = target.read_bytes() if target.exists() else b""
    assert now in (wanted, before if in_place else b""), f"seed {seed}: half a file"
    assert in_place or source.read_bytes() == before
    assert left_over(folder) == [], f"seed {seed}"
    assert "Traceback" not in said or "flatcut" not in said, f"seed {seed}: {said}"
    assert "fault of flatcut" not in said
    if run.returncode == 0:
        assert now == wanted
    elif run.returncode == 128 + number:
        assert len(told) == 1, f"seed {seed}: {said}"
        assert told[0] == (
            "flatcut: stopped; nothing was written" if now != wanted else f"flatcut: stopped; {target} was written"
        )
    else:
        # killed outright, or stopped before a line of this program has run
        assert run.returncode in (-number, 1, -signal.SIGKILL), f"seed {seed}: {run.returncode} {said}"
    way, told_it = "in place" if in_place else "to a file", ", said so" if told else ""
    return f"{signal.Signals(number).name} {way}: {'whole' if now == wanted else 'nothing written'}{told_it}"


@pytest.mark.parametrize(
    "stops", [pytest.param(24, marks=pytest.mark.brief), pytest.param(MANY, marks=pytest.mark.long)]
)
def test_a_run_that_is_stopped_leaves_whole_files_and_one_true_line(tmp_path: Path, stops: int) -> None:
    source = tmp_path / "in.svg"
    source.write_bytes(hand.two_pieces())
    began = time.monotonic()
    assert ended("allowance", "all", "--width=12", "-i", str(source), "-o", str(tmp_path / "out.svg"))[0] == 0
    whole = time.monotonic() - began
    wanted = (tmp_path / "out.svg").read_bytes()
    ends = Counter(one_stop(tmp_path, seed, whole, wanted) for seed in range(stops))
    print(f"\n{stops} runs stopped: every input as it was, every output whole or absent, no file left")
    print("\n".join(f"{count:5} {end}" for end, count in sorted(ends.items())))


def test_ctrl_c_while_modules_are_loaded(tmp_path: Path) -> None:
    """The signal comes at the first, the second ... large module that is asked for."""
    slow = tmp_path / "slow"
    slow.mkdir()
    for name in ("numpy", "lxml", "shapely"):
        stop = "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(9)\n"
        (slow / f"{name}.py").write_text(f"{stop}raise ImportError({name!r})\n")
        run = subprocess.run(
            [*FLATCUT, "piece", "-i", str(tmp_path / "a.svg")],
            env={**ENVIRONMENT, "PYTHONPATH": f"{slow}{os.pathsep}{WHERE}"},
            capture_output=True, check=False, timeout=60,
        )  # fmt: skip
        (slow / f"{name}.py").unlink()
        if run.returncode != 130:
            assert name != "numpy"  # the others are not loaded yet when the missing drawing is told
            continue
        assert run.stderr == b"flatcut: stopped; nothing was written\n"


def test_a_signal_that_is_ignored_stays_ignored(drawing: Path) -> None:
    """`nohup` and shells that start in the background ask for that."""
    run = started("allowance", "all", "-i", str(drawing), "--in-place",
                  preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN))  # fmt: skip
    for _ in range(5):
        time.sleep(0.05)
        run.send_signal(signal.SIGHUP)
    run.communicate(timeout=120)
    assert run.returncode == 0


def test_stopped_in_the_middle_it_says_what_was_written(tmp_path: Path, drawing: Path) -> None:
    recipe = tmp_path / "w.recipe"
    recipe.write_text("allowance all --width=12\n")
    copies = [tmp_path / f"c{k:02}.svg" for k in range(60)]
    for path in copies:
        path.write_bytes(drawing.read_bytes())
    for jobs in ("1", "2"):
        into = tmp_path / f"into{jobs}"
        run = started("run", str(recipe), *map(str, copies), f"--into={into}", f"--jobs={jobs}", start_new_session=True)
        for _ in range(2400):
            time.sleep(0.05)
            if into.is_dir() and len(list(into.glob("c*.svg"))) >= 5:
                break
        os.killpg(run.pid, signal.SIGINT)
        said = run.communicate(timeout=120)[1].decode()
        written = sorted(path.name for path in into.iterdir())
        assert run.returncode == 130, said
        last = said.splitlines()[-1]
        assert last == f"flatcut: stopped; {len(written)} files were written, the last is {into / written[-1]}"
        assert len(written) < 60
        assert "Traceback" not in said
        assert_no_process(f"--into={into}")


def test_a_worker_that_is_killed_is_told_and_stops_no_other(tmp_path: Path, drawing: Path) -> None:
    recipe = tmp_path / "w.recipe"
    recipe.write_text("allowance all --width=12\n")
    copies = [tmp_path / f"c{k}.svg" for k in range(12)]
    for path in copies:
        path.write_bytes(drawing.read_bytes())
    into = tmp_path / "into"
    run = started("run", str(recipe), *map(str, copies), f"--into={into}", "--jobs=2")
    workers: list[int] = []
    for _ in range(2400):
        time.sleep(0.02)
        workers = children(run.pid)
        if len(workers) == 2:
            break
    os.kill(workers[0], signal.SIGKILL)
    said = run.communicate(timeout=240)[1].decode()
    assert run.returncode == 0, said
    assert len(list(into.iterdir())) == 12
    assert "fault" not in said


def test_workers_end_with_the_run_however_it_ends(tmp_path: Path, drawing: Path) -> None:
    copies = [tmp_path / f"c{k:02}.svg" for k in range(40)]
    for path in copies:
        path.write_bytes(drawing.read_bytes())
    run = started("check", *map(str, copies), "--jobs=2")
    for _ in range(2400):
        time.sleep(0.02)
        if len(children(run.pid)) == 2:
            break
    run.kill()
    run.communicate(timeout=120)
    assert_no_process(str(copies[-1]))


def children(pid: int) -> list[int]:
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(path.parent.name))
    return found


def assert_no_process(word: str) -> None:
    """No process that was called with the word is left, after a while at most."""
    for _ in range(200):
        left = [path.parent.name for path in Path("/proc").glob("[0-9]*/cmdline") if word.encode() in said_by(path)]
        if not left:
            return
        time.sleep(0.05)
    pytest.fail(f"still there: {left}")


def said_by(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""


def test_a_run_that_ends_with_2_leaves_nothing(tmp_path: Path, drawing: Path, capsys: Told) -> None:
    bad = tmp_path / "bad.svg"
    bad.write_text("no drawing")
    recipe = tmp_path / "w.recipe"
    recipe.write_text("allowance nobody\n")
    before = sorted(path.name for path in tmp_path.iterdir())
    for words in (
        ["run", str(recipe), str(drawing), f"--into={tmp_path / 'a' / 'b'}"],
        ["run", str(recipe), str(bad), str(bad), f"--into={tmp_path / 'a'}"],
        ["check", str(bad), f"--report={tmp_path / 'page.html'}"],
        ["print", str(bad), "-o", str(tmp_path / "p.pdf")],
        ["collect", str(bad), str(drawing), "-o", str(tmp_path / "all.svg")],
    ):
        assert main(words) == 2, words
        assert sorted(path.name for path in tmp_path.iterdir()) == before
    capsys.readouterr()
