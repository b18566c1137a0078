"""The processes that work is spread over, which end with the one that started them."""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import parent_process
from multiprocessing.process import BaseProcess
from typing import TypeVar

from flatcut.stopping import CODES

__all__ = ["BrokenProcessPool", "pooled"]

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")

AHEAD = 4
"""Results that may wait for each process: more would only fill memory."""


def pooled(function: Callable[[_Item], _Result], items: Sequence[_Item], jobs: int) -> Iterator[_Result]:
    """The results in the order of the items. Raises BrokenProcessPool where a process was ended from outside."""
    with ProcessPoolExecutor(jobs, initializer=_with_parent) as pool:
        waiting: deque[Future[_Result]] = deque()
        for item in items:
            waiting.append(pool.submit(function, item))
            if len(waiting) >= AHEAD * jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _with_parent() -> None:
    """Leave signals of the terminal to the first process, and end with it, however it ends."""
    for name in CODES:
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, signal.SIG_IGN if name == "SIGINT" else signal.SIG_DFL)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)
