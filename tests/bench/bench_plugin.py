"""What the plugin costs on top of an extension that does nothing, in one run.

Run: PYTHONPATH=core python tests/bench/bench_plugin.py [--rounds=9] [--alone | --previews | --most=1000]

The script alone is started as the editor starts it. A press is the real editor's: it opens the drawing, presses some
times and exports, on one screen and with a profile of its own; what the same takes without a press is taken off. Runs
alternate, so that other work on the machine falls on all alike, and the medians are compared. The press is `allowance`
on one piece of a drawing of N paths, once with few pieces among foreign paths, once with pieces only. The goal for the
script alone is in seconds: it means something on an idle machine only. --previews: what a live preview of a dialog
takes, times that of `allowance`, which is the script alone too. --most: paths of the largest drawing.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import median

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

GOAL_ALONE, GOAL_PRESS, GOAL_GROWTH, GOAL_PREVIEW = 0.120, 1.3, 12.0, 1.5
"""s over the script that does nothing; times its press; times the script alone from 1,000 to 10,000 paths; times the
preview of an allowance."""
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
    rounds = next((int(word.partition("=")[2]) for word in words if word.startswith("--rounds=")), 9)
    most = next((int(word.partition("=")[2]) for word in words if word.startswith("--most=")), 10000)
    with tempfile.TemporaryDirectory() as folder, screen() as shown:
        here = Path(folder)
        own = driver.installed(here / "own")
        if "--previews" in words:
            previews(own, here, rounds)
            return
        other = driver.handing(own, here / "other")
        for host in (own, other):
            prepare(host.profile)
        for what, few, sizes in (
            (f"{FEW} pieces, the rest foreign", True, (10, 100, 1000, 10000)),
            ("all of them pieces", False, (10, 100, 1000)),
        ):
            files = {count: drawn(here, count, FEW if few else count) for count in sizes if count <= most}
            print(f"\n{what}: the script alone, median of {rounds} in s, over one that does nothing")
            alone(own, other, files, rounds)
            if "--alone" not in words:
                files.pop(10000, None)
                print(f"{what}: one press in the editor, median of {rounds} in s, times one that does nothing")
                pressed(own, other, files, rounds, shown.name)


def alone(own: Host, other: Host, files: Mapping[int, Path], rounds: int) -> None:
    """The script as a process of its own."""
    print(f"{'paths':>7} {'nothing':>8} {'flatcut':>8} {'over':>7}  goal    {'handing over':>12}  over")
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
        taken[count] = times["own"]
        over, handed = times["own"] - times["nothing"], times["other"] - times["nothing"]
        line = f"{count:7} {times['nothing']:8.3f} {times['own']:8.3f} {over:+7.3f} {goal(over, GOAL_ALONE):>7}"
        print(f"{line} {times['other']:12.3f} {handed:+7.3f}", flush=True)
    if 10000 in taken:
        growth = taken[10000] / taken[1000]
        print(f"from 1,000 to 10,000 paths: {growth:.1f} times as long {goal(growth, GOAL_GROWTH)}")


def pressed(own: Host, other: Host, files: Mapping[int, Path], rounds: int, display: str) -> None:
    """The editor, with minus without a press."""
    print(f"{'paths':>7} {'nothing':>8} {'flatcut':>8} {'times':>7}  goal    {'handing over':>12}  times")
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
        cost = {name: (taken - times["none"]) / PRESSES for name, taken in times.items()}
        ratio, handed = cost["own"] / cost["nothing"], cost["other"] / cost["nothing"]
        line = f"{count:7} {cost['nothing']:8.3f} {cost['own']:8.3f} {ratio:7.2f} {goal(ratio, GOAL_PRESS):>7}"
        print(f"{line} {cost['other']:12.3f} {handed:7.2f}", flush=True)


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
    for name, taken in times.items():
        ratio = taken / times[PREVIEWS[0]]
        print(f"{name:10} {taken:7.3f} {ratio:6.2f} {goal(ratio, GOAL_PREVIEW):>7}")


def timed(runs: Runs, rounds: int) -> dict[str, float]:
    """The median time of each, in s, taken in turns after one round that is not counted."""
    taken: dict[str, list[float]] = {name: [] for name in runs}
    for round_ in range(rounds + 1):
        for name, run in runs.items():
            start = time.perf_counter()
            run()
            if round_:
                taken[name].append(time.perf_counter() - start)
    return {name: median(times) for name, times in taken.items()}


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
