"""Small wrong changes put into the code one at a time: how many of them do the tests that speak of that code see?

    python -m tests.mutating --seed=1 --count=200
    python -m tests.mutating --seed=1 --count=20 --only=darts/,checks/

The changes are those of a general library, cosmic-ray: another operator, comparison or number, a condition turned
round, a loop not run. Which tests speak of a file stands in pyproject.toml under [tool.mutation]. Each change is made
in a copy of the tree and tested in a process of its own, forked from one that has imported the libraries already,
until the first test that fails, files named after the changed one or importing it first, each test within a limit of
processor time; a change that hangs is seen too. The tests that saw changes are run at the end on the code as it is: one
that fails there has seen nothing. Changes that are seen are counted by room, the others are listed. What cannot matter,
and why, stands in `tests/harmless.py`: it is not tried.
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
from functools import cache
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
MISSING, NONE = 4, 5
"""What pytest ends with where a test that is asked for is not there, and where a file has none."""
SEEN, OVER, PASSED = "seen", "seen: it hangs", "passed"


class Change(NamedTuple):
    """One change: the file below core/flatcut, its line, the line as it was and as it becomes, and the whole text."""

    file: str
    line: int
    was: str
    now: str
    text: str


@cache
def operators() -> dict[str, Any]:
    """The library's operators that are used, by name."""
    from cosmic_ray.plugins import get_operator

    names = [f"{kind}_{a}_{b}" for kind, pairs in OPERATORS for a, b in pairs] + list(SINGLE)
    return {name: get_operator(f"core/{name}")() for name in names}


@cache
def sites(code: str) -> list[tuple[int, str, int]]:
    """Where which operator can change a text: line, name of the operator, its how-manieth place."""
    from cosmic_ray.ast import ast_nodes, get_ast

    nodes, found = list(ast_nodes(get_ast(code))), []
    for name, operator in operators().items():
        places = [place for node in nodes for place in operator.mutation_positions(node)]
        found += [(place[0][0], name, k) for k, place in enumerate(places)]
    return found


def drawn(rooms: dict[str, list[str]], count: int, seed: int, only: tuple[str, ...]) -> list[Change]:
    """A sample of changes, as many for each file as it has lines of the whole; only files that are drawn are parsed."""
    from cosmic_ray.mutating import mutate_code

    core, rng, codes = ROOT / "core" / "flatcut", random.Random(seed), {}
    for path in sorted(core.rglob("*.py")):
        file = path.relative_to(core).as_posix()
        if tests_of(rooms, file) and file.startswith(only):
            codes[file] = path.read_text(encoding="utf-8")
    weights = [code.count("\n") for code in codes.values()]
    found: list[Change] = []
    lines: set[tuple[str, int]] = set()
    for file in rng.choices(list(codes), weights, k=20 * count):
        if len(found) == count:
            break
        code = codes[file]
        if not sites(code):
            continue
        line, name, number = rng.choice(sites(code))
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


class Try(NamedTuple):
    """What tests made of a change, and those that failed or, where it hangs, the one that ran."""

    what: str
    tests: tuple[str, ...]


def tried(tree: Path, change: Change | None, tests: list[str], seconds: int, most: int = 0) -> Try:
    """What the tests make of a change, up to the first that fails; of the code as it is (None) all are run. seconds: of
    each test; most: of them all, 0 for no limit: then what has not failed has passed.
    """
    log = tree.parent / "log"
    log.write_text("")
    path = tree / "core" / "flatcut" / (change.file if change else "__init__.py")
    code = path.read_bytes()
    if change:
        path.write_text(change.text, encoding="utf-8")
        module = "flatcut." + change.file.removesuffix(".py").replace("/", ".")
        stem = module.rpartition(".")[2]
        texts = {test: (tree / test.partition("::")[0]).read_text(encoding="utf-8") for test in tests}
        tests = sorted(tests, key=lambda test: (stem not in test, module not in texts[test]))
        if ">>>" in change.text:
            tests = [f"tests/test_doctests.py::test_examples_are_true[{module}]", *tests]
    child = os.fork()
    if child == 0:
        # file by file: where the first one sees a change the others are not even imported
        _test(tree, [["-x", test] for test in tests] if change else [tests], _Watch(log, seconds, most))
    status = os.waitpid(child, 0)[1]
    path.write_bytes(code)
    told = [line.partition(" ") for line in log.read_text(encoding="utf-8").splitlines()]
    failed = tuple(name for word, _, name in told if word == "failed")
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == MISSING and not failed:
        raise FileNotFoundError(f"there are no such tests: {' '.join(tests)}")
    if os.WIFSIGNALED(status):
        began = tuple(name for word, _, name in told if word == "began")[-1:]
        return Try(OVER if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else SEEN, began)
    return Try(PASSED if os.WEXITSTATUS(status) == 0 else SEEN, failed)


def failing(tree: Path, tests: set[str], seconds: int) -> set[str]:
    """Those of some tests that fail on the code as it is, or take more than a third of their time."""
    bad: set[str] = set()
    while tests - bad:
        made = tried(tree, None, sorted(tests - bad), seconds // 3)
        bad |= set(made.tests)
        if made.what != OVER:
            break
    return bad


class _Watch:
    """Notes which test begins and which fails, and gives each its processor time."""

    def __init__(self, log: Path, seconds: int, most: int):
        self.log = os.open(log, os.O_WRONLY | os.O_APPEND)
        self.seconds, self.most = seconds, most

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        own = resource.getrusage(resource.RUSAGE_SELF)
        used = int(own.ru_utime + own.ru_stime)
        if self.most and used > self.most:
            os._exit(0)
        resource.setrlimit(resource.RLIMIT_CPU, (used + self.seconds, resource.RLIM_INFINITY))
        os.write(self.log, f"began {nodeid}\n".encode())

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            os.write(self.log, f"failed {report.nodeid}\n".encode())

    def pytest_collectreport(self, report: Any) -> None:
        self.pytest_runtest_logreport(report)


def _test(tree: Path, calls: list[list[str]], watch: _Watch) -> None:
    """In the child: run tests, call by call until one fails. It does not return."""
    import pytest

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    sys.dont_write_bytecode = True  # nobody shall find the change later
    os.chdir(tree)
    sys.path[:0] = [str(tree.parent / "installed"), str(tree)]
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    code, plain = 0, ["-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--tb=no", "--assert=plain"]
    try:
        for words in calls:
            code = int(pytest.main([*plain, *words], plugins=[watch]))
            if code not in (0, NONE):
                break
            code = 0
    except BaseException:  # whatever the change breaks, it is seen
        code = 1
    os._exit(code)


def main() -> int:
    """Draw, try, tell."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--only", default="", help="beginnings of paths below core/flatcut, with commas between")
    parser.add_argument("--part", default="1/1", help="k/n: every n-th change, from the k-th")
    parser.add_argument("--seconds", type=int, default=60, help="of processor time for each test")
    parser.add_argument("--most", type=int, default=0, help="for all tests of a change; not seen by then is not seen")
    given = parser.parse_args()
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mutation"]
    rooms = {key: [f"tests/{name}.py" for name in value] for key, value in settings["tests"].items()}
    first, step = (int(word) for word in given.part.split("/"))
    changes = drawn(rooms, given.count, given.seed, tuple(given.only.split(",")))[first - 1 :: step]
    for name in LIBRARIES:
        importlib.import_module(name)
    found: list[tuple[Change, Try]] = []
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
            made = tried(tree, change, tests_of(rooms, change.file), given.seconds, given.most)
            found.append((change, made))
            by = f" by {made.tests[0]}" if made.tests else ""
            print(f"{made.what} {change.file}:{change.line} {time.monotonic() - began:.0f} s{by}", flush=True)
            if made.what != SEEN:
                print(f"    - {change.was}\n    + {change.now}", flush=True)
        anyway = failing(tree, {test for _, made in found for test in made.tests}, given.seconds)
    for test in sorted(anyway):
        print(f"it fails or takes too long without any change too: {test}")
    void = {change for change, made in found if set(made.tests) & anyway}
    told = Counter((change.file.partition("/")[0], made.what != PASSED) for change, made in found if change not in void)
    for room in sorted({room for room, _ in told}):
        print(f"{room}: {told[room, True]} of {told[room, True] + told[room, False]} seen")
    seen = sum(n for (_, saw), n in told.items() if saw)
    print(f"all: {seen} of {sum(told.values())} seen, {without_harm} more cannot matter, {len(void)} do not count")
    return int(bool(void))


if __name__ == "__main__":
    sys.exit(main())
