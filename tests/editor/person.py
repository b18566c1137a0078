"""A person at the window: points at what is drawn, fills a dialog in by its fields' names, watches, applies."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from flatcut.dialogs.files import dialog, identity
from flatcut.operations.operation import load
from tests.editor.window import BESIDE, PATIENCE, Window

CANVAS = (56, 95, 1140, 700)
"""Left, top, width and height in px of what shows the drawing, in a window of 1270 x 890."""
BLACK = 90
"""A grey below this is a line of the drawing; paper, desk and the border of the page are lighter."""

AWAY = ("10", "890")
"""px: where the pointer is put, so that no tip opens over what is looked at."""

At = tuple[float, float]
Stop = tuple[str, str, list[str]]
"""What the Tab key comes to in a dialog: its name, its type, and what it can be, first what it is when left alone."""


@dataclass(frozen=True, kw_only=True)
class Press:
    """at: points in mm that are clicked, the second and later ones in addition; fill: by the names of the fields.

    seen: whether it changes what is drawn.
    """

    operation: str
    at: Sequence[At] = ()
    fill: Mapping[str, str] = field(default_factory=dict)
    seen: bool = True


class Person:
    """Works in a window. box: of the drawing's black lines in mm, (left, top, right, bottom)."""

    def __init__(self, window: Window, box: tuple[float, float, float, float]) -> None:
        self._window = window
        self._stands: dict[str, dict[str, str]] = {}  # a dialog opens as it was closed
        window.key(window.main, "Escape", "4")
        left, top, width, height = CANVAS
        crop = ["-crop", f"{width}x{height}+{left}+{top}", "-depth", "8", "gray:-"]
        shot = subprocess.run(["import", "-window", "root", *crop], env=window.env, capture_output=True, check=True)
        dark = np.frombuffer(shot.stdout, dtype=np.uint8).reshape(height, width) < BLACK
        columns, rows = np.flatnonzero(dark.any(axis=0)), np.flatnonzero(dark.any(axis=1))
        # what is drawn is higher than the canvas when a sheet of text lies below it: one scale serves both ways
        self._scale = (columns[-1] - columns[0]) / (box[2] - box[0])
        self._origin = (left + columns[0] - self._scale * box[0], top + rows[0] - self._scale * box[1])

    def press(self, press: Press, *, shots: Path, number: int) -> None:
        """Select, open the dialog, fill it in, look at the preview, apply, close."""
        window, name = self._window, press.operation
        window.key(window.main, "Escape")
        for k, (x, y) in enumerate(press.at):
            self._click(x, y, more=k > 0)
        window.key(window.main, KEYS[name])
        title = load(name).title
        opened = window.find(f"^{title}$")
        window.tool("windowmove", opened, *BESIDE)
        window.tool("mousemove", *AWAY)
        window.tool("windowfocus", "--sync", opened)
        window.settle()
        fill_in(window, dialog(load(name)), press.fill, self._stands.setdefault(name, {}))
        before = window.sheet()
        if load(name).previewed:
            window.type_keys("Tab", "space")  # the live preview comes after the last field
            window.settle()
        if press.seen and load(name).previewed:
            window.changes(before)
        else:
            window.settle()
        window.photograph(shots / f"{number:02}-{name}.png")
        window.key(opened, "alt+a")
        end = time.monotonic() + PATIENCE
        while window.is_there(f"^{title}$"):  # without a preview the step is being done while the screen stands still
            assert time.monotonic() < end, f"{name} is still open"
            window.key(opened, "alt+c")

    def _click(self, x: float, y: float, *, more: bool) -> None:
        at = [str(round(o + self._scale * v)) for o, v in zip(self._origin, (x, y), strict=True)]
        window = self._window
        window.tool("mousemove", *at)
        if more:
            window.tool("keydown", "shift")
        window.tool("click", "1")
        if more:
            window.tool("keyup", "shift")
        window.settle()


def fill_in(window: Window, text: str, wanted: Mapping[str, str], stands: dict[str, str]) -> int:
    """Go through the fields of a dialog's first tab with the Tab key; how many keys that took.

    text: of the dialog's file; stands: what its lists and marks stand at, since it opens as it was closed.
    """
    before, fields = stops(text)
    known = {key for key, _, _ in (*before, *fields)}
    assert wanted.keys() <= known, "what a person needs stands on the first tab"
    keys: list[str] = []

    def typed(*names: str) -> None:
        keys.extend(names)
        window.type_keys(*names)

    written = 0
    tabs = ("", "tabs", [""])
    for key, kind, choices in (*before, tabs, *fields):
        typed("Tab")
        if kind == "tabs":
            typed("Home")  # a dialog opens at the tab that it was closed at
        if kind == "bool":
            if wanted.get(key, choices[0]) != stands.get(key, choices[0]):
                typed("space")
            stands[key] = wanted.get(key, choices[0])
        elif kind == "optiongroup":
            now, then = (choices.index(v) for v in (stands.get(key, choices[0]), wanted.get(key, choices[0])))
            typed(*(["Down"] * (then - now) if then > now else ["Up"] * (now - then)))
            stands[key] = choices[then]
        elif kind == "string":
            typed("ctrl+a", "BackSpace")
            window.write(wanted.get(key, ""))
            written += len(wanted.get(key, ""))
        elif kind == "path":
            window.write(wanted.get(key, ""))
            written += len(wanted.get(key, ""))
            typed("Tab")  # over the button that looks for a file
        elif key in wanted:
            typed("ctrl+a")
            window.write(wanted[key])
            written += len(wanted[key])
            typed("Return")
    window.settle()
    return len(keys) + written


def fill_second(window: Window, text: str, wanted: Mapping[str, str], stands: dict[str, str]) -> int:
    """From the last field of the first tab to the second, and through its texts, lengths and marks; how many keys that
    took. stands: as for `fill_in`.
    """
    _, fields = stops(text)
    pages = ElementTree.fromstring(text).findall(".//{*}page")
    others = _stops(pages[1].iterfind(".//{*}param"))
    assert wanted.keys() <= {key for key, kind, _ in others if kind in ("string", "bool")}
    keys = [*["shift+Tab"] * len(fields), "Right"]
    window.type_keys(*keys)
    written = 0
    for key, kind, choices in others:
        window.type_keys("Tab")
        if kind == "bool":
            if wanted.get(key, choices[0]) != stands.get(key, choices[0]):
                window.type_keys("space")
            stands[key] = wanted.get(key, choices[0])
        elif key in wanted:
            window.type_keys("ctrl+a", "BackSpace")
            window.write(wanted[key])
            written += len(wanted[key])
    window.settle()
    return len(keys) + len(others) + written


def stops(text: str) -> tuple[list[Stop], list[Stop]]:
    """The fields of a dialog before its tabs, and on the first one, in the order of the Tab key."""
    root = ElementTree.fromstring(text)
    page = root.find(".//{*}page")
    first = [] if page is None else page.iterfind(".//{*}param")
    return _stops(root.iterfind("{*}param")), _stops(first)


def _stops(params: Iterable[ElementTree.Element]) -> list[Stop]:
    found = []
    for param in params:
        if param.get("type") == "notebook":
            continue
        if param.get("gui-hidden") != "true":
            choices = [option.get("value", "") for option in param.iterfind("{*}option")] or [param.text or ""]
            found.append((param.get("name", ""), param.get("type", ""), choices))
    return found


KEYS = {
    name: f"ctrl+alt+{letter}"
    for name, letter in zip(
        (
            "piece",
            "edge",
            "dart",
            "point",
            "pivot",
            "back-off",
            "seam",
            "allowance",
            "corner",
            "notch",
            "grain",
            "label",
            "names",
            "true",
        ),
        "abcdefghijklmn",
        strict=True,
    )
}
"""The key that opens each dialog here; a person goes through the menu."""


def bind(profile: Path) -> None:
    """Set the keys."""
    bound = "".join(
        f'<bind gaction="app.{identity(load(name))}" keys="&lt;Primary&gt;&lt;Alt&gt;{key[-1]}"/>'
        for name, key in KEYS.items()
    )
    (profile / "keys").mkdir(exist_ok=True)
    (profile / "keys" / "default.xml").write_text(f'<?xml version="1.0"?><keys name="flatcut">{bound}</keys>')
