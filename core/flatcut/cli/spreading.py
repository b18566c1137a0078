"""Work on many files: spread over processes, in order, with a progress bar for whoever watches."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from flatcut.errors import UsageError

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")

EARLY = 3
"""Results before the time left is told: the first takes longer, for much is read only once."""
BAR = 30
"""Letters of a whole bar."""
LOST = "the process that worked on it was ended from outside, perhaps for want of memory; run it with fewer --jobs"


def spread(
    function: Callable[[_Item], _Result],
    items: Sequence[_Item],
    jobs: int,
    *,
    lost: Callable[[_Item], _Result] | None = None,
) -> Iterator[_Result]:
    """The results in the order of the items; no more of them are kept than are being made.

    lost: what stands for the result of an item whose process was ended from outside, more than once; without it that
    is a UsageError. A function writes no file: its process may end at any time, and only this one can say what is done.

    >>> list(spread(abs, [-1, 2], 1))
    [1, 2]
    """
    if jobs == 1 or len(items) < 2:
        yield from map(function, items)
        return
    from flatcut.cli.pooling import BrokenProcessPool, pooled  # which brings more with it than one drawing needs

    done = 0
    try:
        for result in pooled(function, items, min(jobs, len(items))):
            yield result
            done += 1
        return
    except BrokenProcessPool:
        pass
    for item in items[done:]:  # one at a time, so that it is known which of them it is
        try:
            result = next(pooled(function, [item], 1))
        except BrokenProcessPool:
            if lost is None:
                raise UsageError(LOST) from None
            result = lost(item)
        yield result


def shown(results: Iterator[_Result], count: int, what: str) -> Iterator[_Result]:
    """The results, with a bar and the time left on standard error; nothing where no terminal is, nor for one result."""
    quiet = count < 2 or sys.stderr is None or not sys.stderr.isatty()
    if quiet:
        yield from results
        return
    begun = time.monotonic()
    try:
        for done, result in enumerate(results, start=1):
            yield result
            filled = BAR * done // count
            left = time_left(time.monotonic() - begun, done, count)
            watched(f"{what} {done} of {count} [{'#' * filled}{' ' * (BAR - filled)}]{left and ' '}{left}")
    finally:
        watched("")


def watched(text: str) -> None:
    """A line on standard error in place of the one before, where that is a terminal; '' clears it."""
    if sys.stderr is not None and sys.stderr.isatty():
        print(f"\r\033[K{text}", end="", file=sys.stderr, flush=True)


def time_left(taken: float, done: int, count: int) -> str:
    """How long the rest takes at the pace so far, in words; '' while that is not yet known, or nothing is left.

    >>> time_left(8.0, 2, 4), time_left(20.0, 10, 100), time_left(60.0, 10, 200), time_left(60.0, 5, 2000)
    ('', 'about 3 min left', 'about 19 min left', 'about 6 h 39 min left')
    """
    if done < EARLY or done >= count:
        return ""
    seconds = taken / done * (count - done)
    if seconds < 55:
        return f"about {max(5, 5 * round(seconds / 5))} s left"
    hours, minutes = divmod(max(1, round(seconds / 60)), 60)
    return f"about {hours} h {minutes} min left" if hours else f"about {minutes} min left"


def jobs_of(text: str) -> int:
    """The number of processes of a typed --jobs. Errors: UsageError.

    >>> jobs_of("2")
    2
    """
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 64:
        raise UsageError(f"--jobs takes a number from 1 to 64, not '{text}'")
    return int(text)
