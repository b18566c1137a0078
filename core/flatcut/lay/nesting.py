"""The search for a short lay, in a process of its own."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from queue import Empty, Queue
from typing import Any

from flatcut import stopping
from flatcut.errors import GeometryError, MissingPackageError, UsageError
from flatcut.geometry.region import is_simple_ring, round_about
from flatcut.lay.values import Item, Lay, Placed

ROOM = 0.2
"""mm: how far the ring that is searched with stands off the cut line at most twice, so that it may have few corners."""
WORTH = 0.75
"""The part of its corners that a ring may keep at most, for the room round it to be worth the cloth that it takes."""
PATIENCE = 20.0
"""Seconds that the process may take beyond what it was given, to begin and to end."""

Progress = Callable[[float], None]


def nested(
    items: Sequence[Item], width: float, *, gap: float, seconds: int, seed: int = 1, workers: int | None = None,
    progress: Progress = lambda length: None,
) -> Lay:  # fmt: skip
    """The shortest lay of `items` on cloth of a width, mm, that is found in so many seconds; they lie `gap` apart.

    workers: threads of the search; without it as many as there are processors. progress: told the length whenever a
    better one is found. A stop from the terminal takes the best one so far. Given the seed the search is the same, but
    not where it stands when time is over. The lay is not held against anything yet. Errors: UsageError for an item
    wider than the cloth; GeometryError where none was found; MissingPackageError.
    """
    refuse_wider(items, width)
    if find_spec("spyrrow") is None:
        raise MissingPackageError(
            "searching for a lay needs the package spyrrow; install it with: pip install 'flatcut[lay]'"
        )
    rings, numbers = _grouped(items)
    asked = {
        "width": width,
        "gap": gap,
        "seconds": seconds,
        "seed": seed,
        "workers": workers or os.cpu_count() or 1,
        "items": [
            {"points": ring.tolist(), "turns": list(items[same[0]].turns), "count": len(same)}
            for ring, same in zip(rings, numbers, strict=True)
        ],
    }
    best, stopped = _searched(asked, seconds + PATIENCE, progress)
    if best is None:
        names = ", ".join(dict.fromkeys(item.name for item in items[:3]))
        raise GeometryError(f"no lay was found for {names}{' ...' if len(items) > 3 else ''}; give it more seconds")
    left = [list(same) for same in numbers]
    placed = []
    for k, turn, x, y in best["placed"]:
        number = left[k].pop(0)
        # the search reckons in half as many digits: the turn that was meant is the nearest that was asked for
        away = [abs((turn - asked + 180.0) % 360.0 - 180.0) for asked in items[number].turns]
        meant = items[number].turns[away.index(min(away))]
        placed.append(Placed(item=number, turn=meant, at=(x, y)))
    return Lay(items=tuple(items), placed=tuple(placed), width=width, stopped=stopped)


def refuse_wider(items: Sequence[Item], width: float) -> None:
    """Raise for a piece that the cloth has no room for, however it may lie. Errors: UsageError."""
    for item in items:
        least = min(item.extent(turn)[1] for turn in item.turns)
        if least > width:
            raise UsageError(
                f"{item.name} is {least / 10:.1f} cm wide across its grain and the cloth {width / 10:.1f} cm; take "
                "wider cloth, or cut the piece in two"
            )


def _grouped(items: Sequence[Item]) -> tuple[list[Any], list[list[int]]]:
    """Rings of few corners, and the numbers of the items that are alike in each."""
    found: dict[tuple[Any, ...], list[int]] = {}
    for number, item in enumerate(items):
        found.setdefault((item.turns, item.ring.round(6).tobytes()), []).append(number)
    rings = []
    for same in found.values():
        item = items[same[0]]
        ring = item.ring
        with contextlib.suppress(ValueError):
            fewer = round_about(item.ring, by=ROOM)
            ring = fewer if len(fewer) <= WORTH * len(ring) else ring
        if not is_simple_ring(ring):
            raise GeometryError(f"the cut line of {item.name} crosses itself; `flatcut check` says where")
        rings.append(ring)
    return rings, list(found.values())


def _searched(asked: dict[str, Any], limit: float, progress: Progress) -> tuple[dict[str, Any] | None, bool]:
    """The best that the process tells of, and whether it was stopped."""
    lines: Queue[str] = Queue()
    best: dict[str, Any] | None = None
    with stopping.softly() as stop, _solver() as process:
        assert process.stdin is not None
        with contextlib.suppress(OSError):
            process.stdin.write(json.dumps(asked) + "\n")
            process.stdin.close()
        threading.Thread(target=_read, args=(process, lines), daemon=True).start()
        waited = 0.0
        while waited < limit and not stop():
            try:
                line = lines.get(timeout=0.1)
            except Empty:
                waited += 0.1
                continue
            if not line:
                break
            with contextlib.suppress(ValueError):  # a line that its end has cut short
                best = json.loads(line)
                progress(best["length"])
        return best, stop()


def _read(process: subprocess.Popen[str], lines: Queue[str]) -> None:
    assert process.stdout is not None
    with contextlib.suppress(ValueError, OSError):
        for line in process.stdout:
            lines.put(line)
    lines.put("")


@contextlib.contextmanager
def _solver() -> Any:
    words = [sys.executable, "-m", "flatcut.lay.solver"]
    process = subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError, ValueError):
                    stream.close()
