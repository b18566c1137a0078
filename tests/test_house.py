"""The house: what may import what, what the wheel holds, one identity of the package, clean code."""

from __future__ import annotations

import ast
import doctest
import filecmp
import re
import shutil
import subprocess
import sys
import zipfile
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

import flatcut
from flatcut.operations.operation import load, names

ROOT = Path(__file__).parents[1]
CORE = ROOT / "core" / "flatcut"

LAYERS = [
    {
        "",
        "errors",
        "units",
        "findings",
        "reading",
        "files",
        "tables",
        "stopping",
    },
    {"geometry"},
    {"pattern"},
    {
        "reshape",
        "declared",
        "marking",
    },
    {
        "outlines",
        "darts",
        "fullness",
        "sewing",
        "panels",
        "copies",
        "truing",
        "drafting",
        "blocks",
        "strips",
        "collars",
        "grading",
        "drawing",
        "photograph",
    },
    {
        "operations",
        "checks",
        "printing",
        "lay",
        "sizes",
        "exchange",
        "listing",
        "worn",
    },
    {"arguments"},
    {"lesson"},
    {
        "recipe",
        "collecting",
        "formats",
    },
    {"reports"},
    {"dialogs"},
    {"editor"},
    {"cli"},
    {"__main__"},
]
"""The rooms of the package from the ground up; those of one layer are peers. A file imports from its own room and from
layers below its own, and knows of no peer; the single files of the ground may know each other. DEVELOPERS.md draws the
same.
"""
LAYER = {room: k for k, rooms in enumerate(LAYERS) for room in rooms}

PEERS: set[tuple[str, str]] = set()
"""Imports between peers that there are nevertheless; one that is there no longer goes from this list."""

APART = {("formats", "operations"), ("formats", "checks")}
"""Rooms that do not know a lower one: formats receive values, they run nothing and check nothing."""

OUTSIDE = {
    "numpy": set(LAYER),
    "lxml": {"formats", "editor"},
    "shapely": {"geometry"},
    "reportlab": {"formats"},
    "ezdxf": {"formats"},
    "tomli": {"tables"},
    "spyrrow": {"lay"},
    "scipy": {"worn"},
    "cv2": {"photograph"},
    "distributed": {"cli"},
}
"""Packages that are not Python's own, and the rooms that may import them."""

FILES = sorted(CORE.rglob("*.py"))


@cache
def imports(path: Path) -> list[tuple[int, str]]:
    """Line and full name of everything that a file imports, also inside functions and for types only."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append((node.lineno, node.module or ""))
    return found


def room(path: Path) -> str:
    parts = path.relative_to(CORE).with_suffix("").parts
    return "" if parts == ("__init__",) else parts[0]


def inside(path: Path) -> set[tuple[str, str]]:
    """The files of the package that a file imports, each with its room."""
    found = set()
    for _, name in imports(path):
        parts = name.split(".")
        if parts[0] == "flatcut":
            found.add((parts[1] if len(parts) > 1 else "", name))
    return found


def may(here: str, there: str) -> bool:
    """Whether a file of one room may import from another one."""
    if (here, there) in APART:
        return False
    ground = LAYER[here] == LAYER[there] == 0
    return here == there or ground or LAYER[there] < LAYER[here] or (here, there) in PEERS


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(CORE)))
def test_imports_go_down_and_to_no_peer(path):
    here = room(path)
    assert here in LAYER, f"{here} has no place among the layers; give it one, here and in DEVELOPERS.md"
    for line, name in imports(path):
        package, _, rest = name.partition(".")
        if package == "flatcut":
            there = rest.split(".")[0]
            assert may(here, there), f"{path.name}:{line}: {here} must not import {there}"
        elif package not in sys.stdlib_module_names:
            assert here in OUTSIDE.get(package, ()), f"{path.name}:{line}: {here} must not import {package}"


def test_every_exception_among_the_layers_is_needed():
    found = {(room(path), there) for path in FILES for there, _ in inside(path)}
    assert found >= PEERS


def test_no_file_imports_itself_by_way_of_others():
    def named(path: Path) -> str:
        parts = path.relative_to(CORE.parent).with_suffix("").parts
        return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)

    below = {named(path): {name for _, name in inside(path)} for path in FILES}
    while free := [name for name, others in below.items() if not others & (below.keys() - {name})]:
        for name in free:
            del below[name]
    assert below == {}, "these stand in a circle, or import one that does"


def test_the_layers_are_those_of_developers_md():
    drawn = re.findall(r"^\| (\d*) ?\| (`.+?) \|", (ROOT / "DEVELOPERS.md").read_text(), re.MULTILINE)
    rooms: list[set[str]] = []
    for number, cell in drawn:  # a row without a number goes on with the layer above it
        if number:
            rooms.append(set())
        rooms[-1] |= {word.strip("`/") for word in re.findall(r"`[^`]+`", cell)}
    assert rooms == [layer - {"", "__main__"} for layer in LAYERS if layer - {"", "__main__"}]


BIG_PACKAGES = [
    ("shapely", "geometry/region.py"),
    ("reportlab", "formats/pdf.py"),
    ("ezdxf", "formats/dxf/library.py"),
    ("distributed", "cli/cluster.py"),
    ("spyrrow", "lay/solver.py"),
    ("cv2", "photograph/library.py"),
]


@pytest.mark.parametrize(("package", "file"), BIG_PACKAGES)
def test_a_large_package_is_imported_in_one_file_and_only_when_asked(package, file):
    users = [path for path in FILES if any(name.split(".")[0] == package for _, name in imports(path))]
    assert [path.relative_to(CORE).as_posix() for path in users] == [file]
    for node in ast.parse(users[0].read_text(encoding="utf-8")).body:
        assert not (isinstance(node, (ast.Import, ast.ImportFrom)) and package in ast.unparse(node))


def test_the_import_test_sees_a_wrong_import(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text("def f():\n    from flatcut.cli import main\n    import inkex\n")
    assert imports(wrong) == [(2, "flatcut.cli"), (3, "inkex")]


def test_files_are_short():
    long = {str(path.relative_to(ROOT)): len(path.read_text().splitlines()) for path in FILES}
    assert {name: count for name, count in long.items() if count > 450} == {}


def test_one_identity_of_the_package():
    """Doctests, commands and tests mean the same classes: one registry, one error tree."""
    package = Path(flatcut.__file__).parent
    loaded = {name: module for name, module in list(sys.modules.items()) if name.split(".")[0] == "flatcut"}
    strays = [name for name, module in loaded.items() if package not in Path(module.__file__ or "").parents]
    assert not strays
    assert not [name for name in sys.modules if name.startswith("core.")]
    name = names()[0]
    module = f"flatcut.operations.{name.replace('-', '_')}"
    assert load(name) in vars(import_module(module)).values()
    example = doctest.DocTestFinder().find(import_module("flatcut.errors"), "flatcut.errors")[0]
    assert example.globs["FlatcutError"] is import_module("flatcut.errors").FlatcutError


def test_what_is_tested_is_what_is_here():
    """Where flatcut is installed the tests run on that, and it must be this checkout's."""
    package = Path(flatcut.__file__).parent
    names = [path.relative_to(CORE).as_posix() for path in FILES]
    _, differ, missing = filecmp.cmpfiles(CORE, package, names, shallow=False)
    assert (differ, missing) == ([], []), "the installed flatcut is another one; run: pip install '.[test]'"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel, built from a copy of what belongs to it, so that nothing left over from before gets in."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    leave = shutil.ignore_patterns("__pycache__", "*.egg-info", "build")
    for name in ("core", "extensions", "samples"):
        shutil.copytree(ROOT / name, source / name, ignore=leave)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source / name)
    words = ["-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(folder), "."]
    done = subprocess.run([sys.executable, *words], cwd=source, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return next(folder.glob("*.whl"))


def test_the_wheel_has_every_file(wheel):
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    wanted = {f"flatcut/{path.relative_to(CORE).as_posix()}" for path in CORE.rglob("*") if _ships(path)}
    wanted |= {f"flatcut/extensions/{path.name}" for path in (ROOT / "extensions").iterdir() if _ships(path)}
    shown = [ROOT / "samples" / "__init__.py", *(ROOT / "samples" / "demo").rglob("*")]
    wanted |= {f"flatcut/{path.relative_to(ROOT).as_posix()}" for path in shown if _ships(path)}
    assert held == wanted, "see the lists of packages and of package data in pyproject.toml"
    assert {"flatcut/extensions/flatcut_press.py", "flatcut/extensions/piece.inx", "flatcut/py.typed"} <= held


def _ships(path: Path) -> bool:
    return path.is_file() and "__pycache__" not in path.parts


def test_the_wheel_has_the_command(wheel):
    archive = zipfile.ZipFile(wheel)
    name = next(name for name in archive.namelist() if name.endswith("entry_points.txt"))
    assert "flatcut = flatcut.__main__:main" in archive.read(name).decode()


@pytest.mark.parametrize("words", [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]], ids=" ".join)
def test_the_code_is_clean(words):
    done = subprocess.run([sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
