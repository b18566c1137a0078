"""Things that are made when somebody first asks for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar, overload

Thing = TypeVar("Thing", covariant=True)


class Later(Sequence[Thing]):
    """A sequence that stands for the one `make` gives, which is called once, when something is asked of it.

    >>> squares = Later(lambda: print("made") or (0, 1, 4))
    >>> len(squares), squares[2]
    made
    (3, 4)
    """

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], Sequence[Thing]]) -> None:
        self._make = make
        self._made: Sequence[Thing] | None = None

    def _things(self) -> Sequence[Thing]:
        if self._made is None:
            self._made = self._make()
        return self._made

    @overload
    def __getitem__(self, index: int) -> Thing: ...

    @overload
    def __getitem__(self, index: slice) -> Sequence[Thing]: ...

    def __getitem__(self, index: int | slice) -> Thing | Sequence[Thing]:
        return self._things()[index]

    def __len__(self) -> int:
        return len(self._things())
