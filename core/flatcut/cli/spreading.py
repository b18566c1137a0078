"""Work on many files: spread over processes, in order, with a progress bar for whoever watches."""

from __future__ import annotations

import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from typing import TypeVar

from flatcut.errors import UsageError

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")

AHEAD = 4
"""Results that may wait for each process: more would only fill memory."""
BAR = 30
"""Letters of a whole bar."""


def spread(function: Callable[[_Item], _Result], items: Sequence[_Item], jobs: int) -> Iterator[_Result]:
    """The results in the order of the items; no more of them are kept than are being made.

    >>> list(spread(abs, [-1, 2], 1))
    [1, 2]
    """
    if jobs == 1 or len(items) < 2:
        yield from map(function, items)
        return
    with ProcessPoolExecutor(min(jobs, len(items))) as pool:
        waiting: deque[Future[_Result]] = deque()
        for item in items:
            waiting.append(pool.submit(function, item))
            if len(waiting) >= AHEAD * jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def shown(results: Iterator[_Result], count: int, what: str) -> Iterator[_Result]:
    """The results, with a bar on standard error while they come; nothing is shown where no terminal is, nor for one."""
    quiet = count < 2 or sys.stderr is None or not sys.stderr.isatty()
    if quiet:
        yield from results
        return
    try:
        for done, result in enumerate(results, start=1):
            yield result
            filled = BAR * done // count
            print(
                f"\r{what} {done} of {count} [{'#' * filled}{' ' * (BAR - filled)}]",
                end="",
                file=sys.stderr,
                flush=True,
            )
    finally:
        print("\r\033[K", end="", file=sys.stderr, flush=True)


def jobs_of(text: str) -> int:
    """The number of processes of a typed --jobs. Errors: UsageError.

    >>> jobs_of("2")
    2
    """
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 64:
        raise UsageError(f"--jobs takes a number from 1 to 64, not '{text}'")
    return int(text)
