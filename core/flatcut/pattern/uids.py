"""Identities of pieces, edges and marks: short, seldom alike in two documents, the same for the same input."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable


class Uids:
    """Gives fresh uids made from what the thing is called and where it comes from; no clock, no chance.

    >>> uids = Uids()
    >>> a, b = uids.fresh("edge", "front", "side"), uids.fresh("edge", "front", "side")
    >>> len(a), a != b, a == Uids().fresh("edge", "front", "side")
    (8, True, True)
    """

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self._taken = set(taken)

    def fresh(self, *seeds: str) -> str:
        """A uid not taken yet, made from the seeds."""
        salt = 0
        while True:
            text = "\x1f".join((*seeds, str(salt)))
            uid = hashlib.blake2b(text.encode(), digest_size=4).hexdigest()
            if uid not in self._taken:
                self._taken.add(uid)
                return uid
            salt += 1
