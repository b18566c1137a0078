"""A designer at the window with an empty drawing: draws with the pen, edits nodes, goes through menu and dialogs.

Every click, key and thought is counted by the keystroke-level model, so that what the work takes is told for a person
and not for this machine. Source of its times: Card, Moran, Newell, The keystroke-level model for user performance time
with interactive systems, CACM 23 (1980): a key 0.28 s, pointing 1.1 s, a button of the mouse 0.1 s, the hand between
mouse and keys 0.4 s, making up one's mind 1.35 s.
"""

from __future__ import annotations

import re
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from flatcut.dialogs.files import MENU, all_dialogs
from tests.editor.driver import declared
from tests.editor.person import AWAY, CANVAS, At, fill_in, fill_second
from tests.editor.window import BESIDE, Window

KEY, POINT, BUTTON, HAND, THOUGHT = 0.28, 1.1, 0.1, 0.4, 1.35
"""Seconds."""
PATIENCE = 120
"""Seconds that a press may take on a machine with other work."""
PAPER = 250
"""A grey above this is the page."""

PALETTE = (("8", "846"), ("25", "846"))
"""px: the cross for no colour and black, below the drawing."""


class Designer:
    """Works in a window with an empty page. page: its width and height in mm; done: presses before this one."""

    def __init__(self, window: Window, page: tuple[float, float], shared: Path, shots: Path, *, done: int = 0) -> None:
        self.window = window
        self.seconds = 0.0
        self.presses: list[tuple[str, float]] = []
        self._shared, self._shots, self._number = shared, shots, done
        self._stands: dict[str, dict[str, str]] = {}
        self._ticked: set[str] = set()
        self.keys("Escape", "5")
        self.seconds = 0.0
        left, top, width, height = CANVAS
        end = time.monotonic() + PATIENCE
        columns = rows = np.zeros(0)
        while not (columns.size and rows.size):
            assert time.monotonic() < end, "the page is not shown"
            white = window.screen.grey(CANVAS) > PAPER
            columns = np.flatnonzero(white.sum(axis=0) > height / 2)
            rows = np.flatnonzero(white.sum(axis=1) > width / 3)
            window.settle()
        self._scale = (columns[-1] - columns[0] + 1) / page[0]
        assert abs(self._scale - (rows[-1] - rows[0] + 1) / page[1]) < 0.02
        self._origin = (left + columns[0], top + rows[0])

    def _px(self, at: At) -> list[str]:
        return [str(round(o + self._scale * v)) for o, v in zip(self._origin, at, strict=True)]

    def keys(self, *keys: str) -> None:
        """Keys in the drawing's window."""
        self.seconds += HAND + KEY * sum(1 + key.count("+") for key in keys)
        self.window.key(self.window.main, *keys)

    def click(self, at: At, *, more: bool = False, twice: bool = False) -> None:
        """Point and click; more: with shift, in addition."""
        window = self.window
        spot = self._px(at)
        self.seconds += POINT + BUTTON * (2 if twice else 1) + (KEY if more else 0)
        window.tool("mousemove", *spot)
        time.sleep(0.1)
        if more:
            window.tool("keydown", "shift")
        window.tool("click", *(["--repeat", "2", "--delay", "60"] if twice else []), "1")
        if more:
            window.tool("keyup", "shift")
        time.sleep(0.15)

    def drag(self, start: At, end: At) -> None:
        """Drag what lies at a place to another."""
        spots = [
            [str(round(o + self._scale * v)) for o, v in zip(self._origin, at, strict=True)] for at in (start, end)
        ]
        self.seconds += 2 * POINT + 2 * BUTTON
        tool = self.window.tool
        tool("mousemove", *spots[0])
        time.sleep(0.2)
        tool("mousedown", "1")
        halfway = [str(round((int(a) + int(b)) / 2)) for a, b in zip(*spots, strict=True)]
        for spot in (halfway, spots[1], spots[1]):
            tool("mousemove", *spot)
            time.sleep(0.15)
        tool("mouseup", "1")
        self.window.settle()

    def draw(self, nodes: Sequence[At], *, closed: bool) -> None:
        """A line of straight spans with the pen."""
        self.seconds += THOUGHT
        self.keys("Escape", "b")
        for at in nodes:
            self.click(at)
        if closed:
            self.click(nodes[0])
        else:
            self.keys("Return")
        self.window.settle()

    def pen(self) -> None:
        """No fill and a black stroke for what is drawn from now on: a click on the palette's cross, one on black."""
        for k, spot in enumerate(PALETTE):
            self.seconds += POINT + BUTTON + KEY * k
            window = self.window
            window.tool("mousemove", *spot)
            if k:
                window.tool("keydown", "shift")
            window.tool("click", "1")
            if k:
                window.tool("keyup", "shift")
        window.settle()

    def select(self, *at: At) -> None:
        """The objects at these places, with the selecting tool."""
        self.keys("s", "Escape")
        for k, spot in enumerate(at):
            self.click(spot, more=k > 0)
        self.window.settle()

    def press(
        self,
        name: str,
        fill: Mapping[str, str] | None = None,
        *,
        more: Mapping[str, str] | None = None,
        file: bool = False,
    ) -> None:
        """Choose an entry of the menu, fill its dialog in, apply, close. more: what is filled in on its second tab."""
        window, began = self.window, time.monotonic()
        title = declared(name).title
        self._menu(name, title)
        opened = window.find(f"^{re.escape(title)}$")
        window.tool("windowmove", opened, *BESIDE)
        window.tool("mousemove", *AWAY)
        window.tool("windowfocus", "--sync", opened)
        window.settle()
        text = all_dialogs()[f"{name}-to-file.inx" if file else f"{name}.inx"]
        keys = fill_in(window, text, fill or {}, self._stands.setdefault(name, {}))
        if more or name in self._ticked:
            keys += fill_second(window, text, more or {}, self._stands[name])
            self._ticked.discard(name)
            if "true" in (more or {}).values():
                self._ticked.add(name)  # a mark on a further tab stays as well as one on the first
        self.seconds += HAND + KEY * keys + THOUGHT * (1 + len(fill or {}) + len(more or {}))
        self._number += 1
        window.photograph(self._shots / f"{self._number:02}-{name}-dialog.png")
        if not window.closed(opened, f"^{re.escape(title)}$", PATIENCE):
            self.photograph(f"{name}-stuck")
            raise AssertionError(f"{name} is still open")
        self.seconds += 4 * KEY
        self.keys("Escape")
        self.photograph(name)
        self.presses.append((title, time.monotonic() - began))

    def photograph(self, name: str) -> None:
        """A picture of the window."""
        self.window.photograph(self._shots / f"{self._number:02}-{name}.png")

    def _menu(self, name: str, title: str) -> None:
        """Go through the menu with the arrow keys. The editor sorts its entries with the dots behind them."""
        self.seconds += THOUGHT + 4 * (POINT + BUTTON)
        menu = _entries()
        group = next(group for group, titles in menu.items() if title in titles)
        tops = sorted({*_others(self._shared), MENU})
        groups = sorted(menu)
        window = self.window
        window.key(window.main, "alt+n")
        window.type_keys(*["Down"] * (2 + tops.index(MENU)), "Right")
        time.sleep(0.3)
        window.type_keys(*["Down"] * groups.index(group), "Right")
        time.sleep(0.3)
        window.type_keys(*["Down"] * sorted(f"{one}..." for one in menu[group]).index(f"{title}..."), "Return")


def _entries() -> dict[str, list[str]]:
    """The groups of the menu, and what stands at its top, with their entries."""
    found: dict[str, list[str]] = {}
    for text in all_dialogs().values():
        root = ElementTree.fromstring(text)
        title = root.findtext("{*}name") or ""
        inner = root.find("{*}effect/{*}effects-menu/{*}submenu/{*}submenu")
        if inner is not None:
            found.setdefault(inner.get("name", ""), []).append(title)
        elif root.find("{*}effect") is not None:
            found[title] = [title]
    return found


def _others(shared: Path) -> set[str]:
    """The groups of the menu Extensions that the editor has of itself."""
    found = set()
    for file in (shared / "extensions").rglob("*.inx"):
        try:
            menu = ElementTree.parse(file).getroot().find("{*}effect/{*}effects-menu")
        except ElementTree.ParseError:
            continue
        first = None if menu is None or menu.get("hidden") == "true" else menu.find("{*}submenu")
        if first is not None:
            found.add((first.get("name") or first.get("_name") or "").strip())
    return found - {"Filters", ""}
