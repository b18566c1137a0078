"""What the plugin costs on top of an extension that does nothing, in one run.

Run: PYTHONPATH=core python tests/bench/bench_plugin.py [--help]; all of it takes about four minutes.

The script alone is started as the editor starts it. A press is the real editor's: it opens the drawing, presses some
times and exports, on one screen and with a profile of its own; what the same takes without a press is taken off. Runs
alternate, so that other work on the machine falls on all alike, and the medians are compared, of the time that passes
and, but for presses, of that of the processor, which hangs less on other work. The press is `allowance` on one piece of
a drawing of N paths, once with few pieces among foreign paths, once with pieces only. --previews: what a live preview
of a dialog takes, times that of `allowance`, which is the script alone too. --command: `flatcut pieces` of a small
drawing, times the import of its libraries.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import median
from typing import NamedTuple

from flatcut.editor.host import Host
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load

sys.path.insert(0, str(Path(__file__).parents[2]))

from flatcut.cli import main as command
from tests.editor import driver  # the driver of the tests is found from the checkout's root
from tests.editor.cases import CASES, STARTS
from tests.editor.screen import screen

FEW = 5
"""Pieces of a drawing that is otherwise foreign."""
PRESSES = 3
"""In one start of the editor: its start takes a second or more, and varies by a tenth."""
PATIENCE = 600.0

GOAL_PRESS, GOAL_HANDED, GOAL_GROWTH, GOAL_PREVIEW, GOAL_COMMAND = 1.15, 1.5, 12.0, 1.5, 1.5
"""Times the press of the extension that does nothing, and so where documents are handed over; times the script alone
from 1,000 to 10,000 paths; times the preview of an allowance; times the import of the libraries."""
PREVIEWS = ("allowance", "block", "pivot", "spread")
"""Cases of the editor's tests, the one first that the others are held against."""

NOTHING = "org.flatcut-bench.nothing"
NOTHING_INX = f"""<?xml version="1.0" encoding="UTF-8"?>
<inkscape-extension xmlns="http://www.inkscape.org/namespace/inkscape/extension">
  <name>Nothing</name><id>{NOTHING}</id>
  <effect><object-type>all</object-type><effects-menu/></effect>
  <script><command location="inx" interpreter="python">nothing.py</command></script>
</inkscape-extension>
"""
NOTHING_PY = """import inkex


class Nothing(inkex.EffectExtension):
    def effect(self):
        pass

    def has_changed(self, ret):
        return True  # else nothing is handed back, and the editor has nothing to take in


if __name__ == "__main__":
    Nothing().run()
"""

Runs = Mapping[str, Callable[[], object]]


def main(words: list[str]) -> None:
    """Print the figures, each beside its goal."""
    asked = _asked(words)
    with tempfile.TemporaryDirectory() as folder, screen() as shown:
        here = Path(folder)
        if asked.command:
            commands(here, asked.rounds or 9)
            return
        own = driver.installed(here / "own")
        if asked.previews:
            previews(own, here, asked.rounds or 9)
            return
        other = driver.handing(own, here / "other")
        for host in (own, other):
            prepare(host.profile)
        for what, few, sizes in (
            (f"{FEW} pieces, the rest foreign", True, (10, 100, 1000, 10000)),
            ("all of them pieces", False, (10, 100, 1000)),
        ):
            files = {count: drawn(here, count, FEW if few else count) for count in sizes if count <= asked.most}
            if not asked.presses:
                rounds = asked.rounds or 5
                print(f"\n{what}: the script alone, median of {rounds} in s, times one that does nothing")
                alone(own, other, files, rounds)
            if not asked.alone:
                rounds = asked.rounds or 3
                files.pop(10000, None)  # the editor alone takes seconds to read such a drawing back
                print(f"{what}: one press in the editor, median of {rounds} in s, times one that does nothing")
                pressed(own, other, files, rounds, shown.name)


def _asked(words: list[str]) -> argparse.Namespace:
    lines = (__doc__ or "").splitlines()
    parser = argparse.ArgumentParser(description=lines[0], epilog=" ".join(lines[4:]), allow_abbrev=False)
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--alone", action="store_true", help="the script only, no presses in the editor")
    one.add_argument("--presses", action="store_true", help="presses in the editor only")
    one.add_argument("--previews", action="store_true", help="what previews of some dialogs take")
    one.add_argument("--command", action="store_true", help="what a small command takes")
    parser.add_argument("--rounds", type=int, default=0, help="runs of each, of which the median counts")
    parser.add_argument("--most", type=int, default=10000, help="paths of the largest drawing")
    return parser.parse_args(words)


def alone(own: Host, other: Host, files: Mapping[int, Path], rounds: int) -> None:
    """The script as a process of its own."""
    head = f"{'paths':>7} {'nothing':>8} {'flatcut':>8} {'times':>6} {'processor':>9}"
    print(f"{head} {'handing over':>13} {'times':>6} {'processor':>9}")
    taken: dict[int, float] = {}
    for count, file in files.items():
        times = timed(
            {
                "nothing": lambda file=file: nothing(own, file),
                "own": lambda file=file: by_script(own, file),
                "other": lambda file=file: by_script(other, file),
            },
            rounds,
        )
        taken[count] = times["own"].passed
        none, mine, handed = times["nothing"], times["own"], times["other"]
        line = f"{count:7} {none.passed:8.3f} {mine.passed:8.3f} {mine.times(none)}"
        print(f"{line} {handed.passed:13.3f} {handed.times(none)}", flush=True)
    if 10000 in taken:
        growth = taken[10000] / taken[1000]
        print(f"from 1,000 to 10,000 paths: {growth:.1f} times as long {goal(growth, GOAL_GROWTH)}")


def pressed(own: Host, other: Host, files: Mapping[int, Path], rounds: int, display: str) -> None:
    """The editor, with minus without a press.

    The processor's time of an editor varies by more than a press takes, so that no difference of it is told.
    """
    head = f"{'paths':>7} {'nothing':>8} {'flatcut':>8} {'times':>6}  goal"
    print(f"{head:<48} {'handing over':>12} {'times':>6}  goal")
    press = driver.press("allowance")
    for count, file in files.items():
        times = timed(
            {
                "none": lambda file=file: by_editor(own, file, "", display),
                "nothing": lambda file=file: by_editor(own, file, f"{NOTHING}.noprefs", display),
                "own": lambda file=file: by_editor(own, file, press, display),
                "other": lambda file=file: by_editor(other, file, press, display),
            },
            rounds,
        )
        none, mine, handed = (times[name].less(times["none"], PRESSES) for name in ("nothing", "own", "other"))
        own_times, handed_times = mine.passed / none.passed, handed.passed / none.passed
        line = f"{count:7} {none.passed:8.3f} {mine.passed:8.3f} {own_times:6.2f}  {goal(own_times, GOAL_PRESS)}"
        print(f"{line:<48} {handed.passed:12.3f} {handed_times:6.2f}  {goal(handed_times, GOAL_HANDED)}", flush=True)


def commands(here: Path, rounds: int) -> None:
    """`flatcut pieces` as a process of its own, and one that only imports what it needs of others."""
    file = here / "small.svg"
    file.write_bytes((Path(driver.__file__).parent / "drawing.svg").read_bytes())
    assert command(["piece", "id:front", "id:back", "-i", str(file), "--in-place"]) == 0
    words = {
        "libraries": ["-c", "import numpy, lxml.etree, shapely"],
        "pieces": ["-m", "flatcut", "pieces", str(file)],
        "pieces --json": ["-m", "flatcut", "pieces", str(file), "--json"],
        "--version": ["-m", "flatcut", "--version"],
    }
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {
        "OPENBLAS_NUM_THREADS": "1",
        "PYTHONPYCACHEPREFIX": str(here / "compiled"),  # as where it is installed, whatever this run does
    }

    def run(name: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, *words[name]], env=env, capture_output=True, check=True)

    times = timed({name: run(name) for name in words}, rounds)
    print(f"a command, median of {rounds} in s, times the import of numpy, lxml and shapely")
    print(f"{'':14} {'s':>7} {'times':>6} {'processor':>9}  goal of the time that passes")
    for name, taken in times.items():
        ratio = taken.passed / times["libraries"].passed
        print(f"{name:14} {taken.passed:7.3f} {taken.times(times['libraries'])}  {goal(ratio, GOAL_COMMAND)}")


def previews(own: Host, here: Path, rounds: int) -> None:
    """The script alone as a live preview starts it, on the drawings of the editor's tests."""
    files: dict[str, Path] = {}
    for name in PREVIEWS:
        start = CASES[name].start
        files[name] = here / f"{start}.svg"
        files[name].write_bytes((Path(driver.__file__).parent / "drawing.svg").read_bytes())
        for line in STARTS[start]:
            assert command([*line.split(), "-i", str(files[name]), "--in-place"]) == 0

    def run(name: str) -> Callable[[], object]:
        return lambda: driver.alone(own, name, files[name], CASES[name].select, CASES[name].fill)

    for name in PREVIEWS:
        drawing, said = driver.alone(own, name, files[name], CASES[name].select, CASES[name].fill)
        assert drawing, said
        assert b"nothing is done" not in drawing, name
    times = timed({name: run(name) for name in PREVIEWS}, rounds)
    print(f"one preview by the script alone, median of {rounds} in s, times that of {PREVIEWS[0]}")
    print(f"{'':10} {'s':>7} {'times':>6} {'processor':>9}  goal of the time that passes")
    first = times[PREVIEWS[0]]
    for name, taken in times.items():
        print(f"{name:10} {taken.passed:7.3f} {taken.times(first)}  {goal(taken.passed / first.passed, GOAL_PREVIEW)}")


class Taken(NamedTuple):
    """Seconds that passed, and seconds of the processor."""

    passed: float
    worked: float

    def less(self, other: Taken, share: int) -> Taken:
        """What is left when another time is taken off, of each of so many."""
        return Taken((self.passed - other.passed) / share, (self.worked - other.worked) / share)

    def times(self, other: Taken) -> str:
        """Both as ratios."""
        return f"{self.passed / other.passed:6.2f} {self.worked / other.worked:9.2f}"


def timed(runs: Runs, rounds: int) -> dict[str, Taken]:
    """The median times of each, taken in turns after one round that is not counted."""
    taken: dict[str, list[Taken]] = {name: [] for name in runs}
    for round_ in range(rounds + 1):
        for name, run in runs.items():
            start, before = time.perf_counter(), _worked()
            run()
            if round_:
                taken[name].append(Taken(time.perf_counter() - start, _worked() - before))
    return {name: Taken(*map(median, zip(*times, strict=True))) for name, times in taken.items()}


def _worked() -> float:
    """Seconds of the processor that processes which have ended took."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def goal(value: float, most: float) -> str:
    """Beside a figure: whether it is reached."""
    return f"<= {most:g}" if value <= most else f"MISSED {most:g}"


def prepare(profile: Path) -> None:
    """Into a profile with the plugin: the extension that does nothing, and a width that is stored."""
    beside = profile / "extensions" / "nothing"
    beside.mkdir()
    (beside / "nothing.inx").write_text(NOTHING_INX)
    (beside / "nothing.py").write_text(NOTHING_PY)
    driver.store(profile, {"allowance": {"width": "12"}})


def drawn(folder: Path, count: int, pieces: int) -> Path:
    """A drawing of `count` outlines, of which the first ones are pieces."""
    across = 40
    places = [(12 * (k % across), 15 * (k // across)) for k in range(count)]
    paths = "".join(
        f'<path id="p{k}" style="fill:none;stroke:#000" d="M {x},{y} C {x + 3},{y + 1} {x + 6},{y + 1} {x + 9},{y}'
        f' L {x + 10},{y + 12} H {x} Z"/>'
        for k, (x, y) in enumerate(places)
    )
    head = 'xmlns="http://www.w3.org/2000/svg" width="500mm" height="4000mm" viewBox="0 0 500 4000"'
    drawing, pattern, _ = read(f"<svg {head}>{paths}</svg>".encode())
    names = tuple(f"id:p{k}" for k in range(pieces))
    pattern = load("piece")(target=names)(pattern)
    file = folder / f"{count}-{pieces}.svg"
    file.write_bytes(write(drawing, pattern))
    return file


def nothing(host: Host, file: Path) -> None:
    """The script that does nothing, started as the editor starts it."""
    done = subprocess.run(
        [host.python, "nothing.py", "--id=p0", str(file)],
        cwd=host.profile / "extensions" / "nothing",
        env=host.environment(),
        capture_output=True,
        check=True,
    )
    assert done.stdout
    assert not done.stderr


def by_script(host: Host, file: Path) -> None:
    """flatcut's script, likewise."""
    result, said = driver.alone(host, "allowance", file, ["p0"], {"width": "12"})
    assert result
    assert not said


def by_editor(host: Host, file: Path, press: str, display: str) -> None:
    """One start of the editor with some presses; a press that did nothing is no figure."""
    out = file.with_name("out.svg")
    out.unlink(missing_ok=True)
    actions = [*driver.select(["p0"]), *[press] * (PRESSES if press else 0), *driver.export(out)]
    said = driver.act_on(display, host.profile, file, actions, patience=PATIENCE)
    assert out.exists(), said
    assert press != driver.press("allowance") or out.read_text().count("allowance piece-1") >= PRESSES, said


if __name__ == "__main__":
    main(sys.argv[1:])
