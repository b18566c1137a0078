"""How far one parameter walks: the files and functions that a change of `allowance --width` passes.

Counted by `sys.setprofile` are flatcut's own functions that are called while the dialog's rows are made, while its
press becomes an operation, while a command line becomes one, and while that is performed on an edge and recorded; what
reads and writes drawings is no part of it, nor the cut line that the step draws to see what it warns of.
`python -m tests.test_walk` prints the walk.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from types import FrameType

from flatcut.arguments import build, split
from flatcut.dialogs.files import rows
from flatcut.dialogs.values import words
from flatcut.formats.svg.read import read
from flatcut.operations.operation import load
from flatcut.pattern.values import Pattern
from tests import by_hand as hand

MOST_FILES, MOST_FUNCTIONS = 14, 45
PLACE = "front.side"


def passed(walk: Callable[[], object]) -> Counter[tuple[str, str]]:
    """How often each of flatcut's functions is called, by file and name; comprehensions belong to their function."""
    calls: Counter[tuple[str, str]] = Counter()

    def note(frame: FrameType, event: str, argument: object) -> None:
        code = frame.f_code
        _, inside, file = code.co_filename.partition("/flatcut/")
        if event == "call" and inside and not code.co_name.startswith("<"):
            calls[file, getattr(code, "co_qualname", f"{code.co_name}:{code.co_firstlineno}")] += 1

    sys.setprofile(note)
    try:
        walk()
    finally:
        sys.setprofile(None)
    return calls


def pattern() -> Pattern:
    return read(hand.two_pieces())[1]


def walks() -> dict[str, Counter[tuple[str, str]]]:
    """What the parts of the walk pass."""
    cls, ground = load("allowance"), pattern()
    given = {"operation": "allowance", "target": PLACE, "units": "mm", "width": "12"}
    found = split([PLACE, "--width=12"])
    operation = build(cls, found.targets, found.options)
    assert operation == build(cls, *words(cls, given)), "dialog and command line mean the same"
    assert operation(ground).steps[-1].line == "allowance front.side --width=12"
    return {
        "its row in the dialog": passed(lambda: list(rows(cls))),
        "its press": passed(lambda: build(cls, *words(cls, given))),
        "a command line": passed(lambda: command(cls)),
        "performed": passed(lambda: operation.perform(ground)),
    }


def command(cls: type) -> object:
    found = split([PLACE, "--width=12"])
    return build(cls, found.targets, found.options)


def test_one_parameter_walks_no_farther() -> None:
    every = set().union(*walks().values())
    files = {file for file, _ in every}
    assert len(files) <= MOST_FILES, sorted(files)
    assert len(every) <= MOST_FUNCTIONS, sorted(every)


def test_a_place_is_parsed_once() -> None:
    def times(name: str) -> int:
        calls = passed(lambda: command(load("allowance"))(ground))  # type: ignore[operator]
        return sum(count for (_, function), count in calls.items() if function.split(":")[0] == name)

    ground = pattern()
    assert times("parse_place") == 1


if __name__ == "__main__":
    whole: set[tuple[str, str]] = set()
    for part, calls in walks().items():
        print(f"{part}: {len({file for file, _ in calls})} files, {len(calls)} functions")
        whole |= set(calls)
    for file, function in sorted(whole):
        print(f"  {file}: {function}")
    print(f"together: {len({file for file, _ in whole})} files, {len(whole)} functions")
