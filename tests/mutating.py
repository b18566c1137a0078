"""Small wrong changes put into the code one at a time: how many of them do the tests that speak of that code see?

    python -m tests.mutating --seed=1 --count=200
    python -m tests.mutating --seed=1 --count=20 --only=darts/

The changes are those of a general library, cosmic-ray: another operator, comparison or number, a condition turned
round, a loop not run. Which tests speak of a file stands in pyproject.toml under [tool.mutation]. Each change is made
in a copy of the tree and tested in a process of its own, forked from one that has imported the libraries already,
within a limit of processor time; a change that hangs is seen too. Those that are seen are counted by room, the others
are listed. What cannot matter, and why, stands in `tests/harmless.py`: it is not tried.
"""

from __future__ import annotations

import argparse
import importlib
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from tests.harmless import harmless

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

ROOT = Path(__file__).parents[1]
LIBRARIES = ("numpy", "shapely", "lxml.etree", "hypothesis", "pytest", "scipy.integrate", "scipy.spatial")
"""Imported once, before any change; nothing of flatcut's is."""
OPERATORS = (
    ("ReplaceBinaryOperator", (("Add", "Sub"), ("Sub", "Add"), ("Mul", "Div"), ("Div", "Mul"), ("Pow", "Mul"))),
    (
        "ReplaceComparisonOperator",
        (("Lt", "Gt"), ("Gt", "Lt"), ("LtE", "Gt"), ("GtE", "Lt"), ("Eq", "NotEq"), ("NotEq", "Eq"), ("Is", "IsNot"),
         ("IsNot", "Is")),
    ),
    ("ReplaceUnaryOperator", (("USub", "UAdd"), ("Delete", "Not"))),
)  # fmt: skip
SINGLE = (
    "NumberReplacer",
    "AddNot",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ZeroIterationForLoop",
)
MEMORY = 4 << 30
"""Bytes that a change may take before it is seen."""
SEEN, OVER, PASSED = "seen", "seen: it hangs", "passed"


class Change(NamedTuple):
    """One change: the file below core/flatcut, its line, the line as it was and as it becomes, and the whole text."""

    file: str
    line: int
    was: str
    now: str
    text: str


def operators() -> dict[str, Any]:
    """The library's operators that are used, by name."""
    from cosmic_ray.plugins import get_operator

    names = [f"{kind}_{a}_{b}" for kind, pairs in OPERATORS for a, b in pairs] + list(SINGLE)
    return {name: get_operator(f"core/{name}")() for name in names}


def sites(code: str) -> Iterator[tuple[int, str, int]]:
    """Where which operator can change a text: line, name of the operator, its how-manieth place."""
    from cosmic_ray.ast import ast_nodes, get_ast

    nodes = list(ast_nodes(get_ast(code)))
    for name, operator in operators().items():
        found = [place for node in nodes for place in operator.mutation_positions(node)]
        yield from ((place[0][0], name, k) for k, place in enumerate(found))


def drawn(rooms: dict[str, list[str]], count: int, seed: int, only: str) -> list[Change]:
    """A sample of changes, as many for each room as it has lines of the whole."""
    from cosmic_ray.mutating import mutate_code

    core, rng, every = ROOT / "core" / "flatcut", random.Random(seed), []
    for path in sorted(core.rglob("*.py")):
        file = path.relative_to(core).as_posix()
        if tests_of(rooms, file) and file.startswith(only):
            every += [(file, *site) for site in sites(path.read_text(encoding="utf-8"))]
    found: list[Change] = []
    rng.shuffle(every)
    lines: set[tuple[str, int]] = set()
    for file, line, name, number in every:
        if len(found) == count:
            break
        code = (core / file).read_text(encoding="utf-8")
        made = mutate_code(code, operators()[name], number)
        if made is None or made == code or (file, line) in lines:
            continue
        lines.add((file, line))
        before, after = code.splitlines(), made.splitlines()
        k = next(k for k, (a, b) in enumerate(zip(before, after, strict=False)) if a != b)
        found.append(Change(file, k + 1, before[k].strip(), after[k].strip(), made))
    return found


def tests_of(rooms: dict[str, list[str]], file: str) -> list[str]:
    """The tests that speak of a file: those of the longest beginning of its path that is listed."""
    best = max((room for room in rooms if file.startswith(room)), key=len, default="")
    return [*rooms.get(best, [])]


def copied(into: Path) -> Path:
    """A copy of the tree, and a package beside it that links to the copy as an installed one."""
    tree = into / "tree"
    ignored = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".mypy_cache", ".ruff_cache", ".hypothesis")
    shutil.copytree(ROOT, tree, ignore=ignored)
    package = into / "installed" / "flatcut"
    package.mkdir(parents=True)
    for thing in (tree / "core" / "flatcut").iterdir():
        (package / thing.name).symlink_to(thing)
    for name in ("extensions", "samples"):
        (package / name).symlink_to(tree / name)
    return tree


def tried(tree: Path, change: Change, tests: list[str], seconds: int) -> str:
    """What the tests make of a change."""
    path = tree / "core" / "flatcut" / change.file
    code = path.read_bytes()
    module = "flatcut." + change.file.removesuffix(".py").replace("/", ".")
    path.write_text(change.text, encoding="utf-8")
    child = os.fork()
    if child == 0:
        _test(tree, module, tests, seconds)
    status = os.waitpid(child, 0)[1]
    path.write_bytes(code)
    if os.WIFSIGNALED(status):
        return OVER if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else SEEN
    return PASSED if os.WEXITSTATUS(status) == 0 else SEEN


def _test(tree: Path, module: str, tests: list[str], seconds: int) -> None:
    """In the child: the module's own examples, then the tests, until the first that fails. It does not return."""
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    sys.dont_write_bytecode = True  # nobody shall find the change later
    os.chdir(tree)
    sys.path[:0] = [str(tree.parent / "installed"), str(tree)]
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    try:
        words = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--tb=no", "--assert=plain"]
        if ">>>" in (tree / "core" / Path(*module.split(".")).with_suffix(".py")).read_text(encoding="utf-8"):
            tests = [f"tests/test_doctests.py::test_examples_are_true[{module}]", *tests]
        code = int(pytest.main([*words, *tests]))
    except BaseException:  # whatever the change breaks, it is seen
        code = 1
    os._exit(code)


def main() -> int:
    """Draw, try, tell."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--only", default="", help="beginning of the path below core/flatcut")
    parser.add_argument("--part", default="1/1", help="k/n: every n-th change, from the k-th")
    parser.add_argument("--seconds", type=int, default=90, help="of processor time for each change")
    given = parser.parse_args()
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mutation"]
    rooms = {key: [f"tests/{name}.py" for name in value] for key, value in settings["tests"].items()}
    first, step = (int(word) for word in given.part.split("/"))
    changes = drawn(rooms, given.count, given.seed, given.only)[first - 1 :: step]
    for name in LIBRARIES:
        importlib.import_module(name)
    told: Counter[tuple[str, bool]] = Counter()
    without_harm = 0
    with tempfile.TemporaryDirectory() as folder:
        tree = copied(Path(folder))
        for change in changes:
            why = harmless(change.file, change.was, change.now)
            if why:
                without_harm += 1
                print(f"cannot matter {change.file}:{change.line} {why}", flush=True)
                continue
            began = time.monotonic()
            what = tried(tree, change, tests_of(rooms, change.file), given.seconds)
            room = change.file.partition("/")[0]
            told[room, what != PASSED] += 1
            print(f"{what} {change.file}:{change.line} {time.monotonic() - began:.0f} s", flush=True)
            if what != SEEN:
                print(f"    - {change.was}\n    + {change.now}", flush=True)
    for room in sorted({room for room, _ in told}):
        print(f"{room}: {told[room, True]} of {told[room, True] + told[room, False]} seen")
    seen = sum(n for (_, saw), n in told.items() if saw)
    print(f"all: {seen} of {sum(told.values())} seen, {without_harm} more cannot matter")
    return 0


if __name__ == "__main__":
    sys.exit(main())
