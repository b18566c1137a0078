"""Work handed to the workers of a Dask scheduler: where one machine is not enough. Imported only when one is named.

Results come in the order of the items and are written by the process that was called, as with processes of its own: a
worker that dies takes nothing with it, what it was at is given to another.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from flatcut import __version__
from flatcut.errors import MissingPackageError, UsageError

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")

AHEAD = 4
"""Results that may wait for each thread of the workers."""
PATIENCE = 20
"""Seconds in which a scheduler has to answer."""


def clustered(
    function: Callable[[_Item], _Result],
    items: Sequence[_Item],
    address: str,
    *,
    lost: Callable[[_Item], _Result],
) -> Iterator[_Result]:
    """The results in the order of the items, made by the workers of the scheduler at `address`.

    lost: what stands for the result of an item at which several workers have died. Errors: UsageError where no
    scheduler answers there, none of its workers has this flatcut, or it goes away; MissingPackageError.
    """
    try:
        from distributed import Client
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise MissingPackageError(
            "handing work to a scheduler needs the package distributed; install it with: pip install 'flatcut[cluster]'"
        ) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what went wrong is told in a sentence of ours
    try:
        client = Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call]  # the package has no types
    except (OSError, ValueError, TypeError) as error:
        raise UsageError(
            f"no scheduler answers at '{address}' ({type(error).__name__}); start one with `dask scheduler` and its "
            "workers with `dask worker ADDRESS`"
        ) from None
    with client:
        threads = _threads(client, address)
        waiting: deque[tuple[Any, _Item]] = deque()

        def first() -> _Result:
            future, item = waiting.popleft()
            try:
                found: _Result = future.result()
            except KilledWorker:
                return lost(item)
            return found

        for item in items:
            # the same item twice is done twice: nothing is taken from what was handed in earlier
            waiting.append((client.submit(function, item, pure=False, retries=2), item))
            if len(waiting) >= AHEAD * threads:
                yield first()
        while waiting:
            yield first()


def _threads(client: Any, address: str) -> int:
    """How many threads the workers have. Errors: UsageError for none, or another flatcut."""
    threads = sum(client.nthreads().values())
    if not threads:
        raise UsageError(f"the scheduler at {address} has no workers; start one with `dask worker {address}`")
    versions = {str(found) for found in client.run(_version).values()}
    if versions != {__version__}:
        there = ", ".join(sorted(versions - {__version__}))
        raise UsageError(f"workers of {address} have flatcut {there} and this is {__version__}; install the same there")
    return int(threads)


def _version() -> str:
    """The flatcut of the worker that runs this."""
    return __version__
