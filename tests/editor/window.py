"""A real window of the editor on a screen of its own: keys go in, pictures and saved files come out."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path

from tests.editor.driver import environment
from tests.editor.screen import Screen

STEP = 0.15
"""Seconds between two looks at the screen."""
AGAIN = 1.0
"""Seconds after which a key that a busy program may have missed is pressed again."""
ALIKE = 3
"""How many looks must be alike: a window that is about to draw stands still for a moment, a text cursor blinks."""
TYPING = "40"
"""Milliseconds between two letters."""
STILL = 12.0
"""Seconds after which a screen that still moves is taken as it is."""

PATIENCE = 60.0
"""Seconds that a window or a preview may take on a machine with other work."""

SHEET = (56, 95, 1140, 700)
"""The part of the screen that shows the drawing."""

BESIDE = ("1285", "120")
"""px: right of the window, where a dialog covers nothing."""


class Window:
    """The editor with one file open. Ends with everything it started, whatever happens inside.

    pictures: whether photographs are taken, which somebody looks at.
    """

    def __init__(self, profile: Path, file: Path, screen: Screen, *, pictures: bool = False) -> None:
        self.file, self.screen, self._pictures = file, screen, pictures
        self.env = environment(profile) | {"DISPLAY": screen.name}
        self._editor = self._started()

    def _started(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            ["inkscape", f"--app-id-tag=flatcut{os.getpid()}", "--with-gui", str(self.file)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=self.env,
            start_new_session=True,
        )

    def __enter__(self) -> Window:
        title = f"{self.file.name.replace('.', '[.]')}.*Inkscape"
        try:
            self.main = self.find(title)
        except AssertionError:  # now and then an editor that is just started shows no window; another one does
            self.__exit__()
            self._editor = self._started()
            try:
                self.main = self.find(title)
            except AssertionError:
                self.__exit__()
                raise
        self.tool("windowsize", "--sync", self.main, "1270", "890")
        self.settle()
        return self

    def __exit__(self, *_: object) -> None:
        os.killpg(self._editor.pid, signal.SIGKILL)
        self._editor.wait()

    def tool(self, *words: str) -> str:
        """What xdotool answers."""
        done = subprocess.run(
            ["xdotool", *words], capture_output=True, text=True, env=self.env, timeout=30, check=False
        )
        return done.stdout.strip()

    def find(self, title: str) -> str:
        """The window with that title, once it is there."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            found = self.tool("search", "--onlyvisible", "--name", title).splitlines()
            if found:
                return found[-1]
            time.sleep(STEP)
        raise AssertionError(f"no window {title}")

    def is_there(self, title: str) -> bool:
        """Whether a window with that title is open."""
        return bool(self.tool("search", "--onlyvisible", "--name", title))

    def key(self, window: str, *keys: str) -> None:
        """Press keys in a window, one after the other, and wait for what they do."""
        self.press(window, *keys)
        self.settle()

    def press(self, window: str, *keys: str) -> None:
        """Press keys in a window, one after the other; what waits for what they do comes after."""
        self.tool("windowfocus", "--sync", window)
        for key in keys:
            self.tool("key", "--window", "0", key)
            time.sleep(STEP)

    def closed(self, window: str, title: str, patience: float = PATIENCE) -> bool:
        """Apply a dialog, and close it once what it does is done; whether it has closed."""
        self.key(window, "alt+a")  # a dialog that is closed before it has begun does nothing
        end = time.monotonic() + patience
        while self.is_there(title):
            if time.monotonic() > end:
                return False
            self.press(window, "alt+c")
            soon = time.monotonic() + AGAIN
            while self.is_there(title) and time.monotonic() < soon:
                time.sleep(STEP)
        self.settle()
        return True

    def write(self, text: str) -> None:
        """Type into whatever has the focus."""
        if not text:
            return
        self.tool("type", "--window", "0", "--delay", TYPING, text)

    def type_keys(self, *keys: str) -> None:
        """Press keys in whatever has the focus, without waiting for what they do."""
        if keys:
            self.tool("key", "--window", "0", "--delay", TYPING, *keys)

    def photograph(self, file: Path) -> None:
        """The screen, into a file, where pictures are asked for."""
        if not self._pictures:
            return
        subprocess.run(["import", "-window", "root", str(file)], env=self.env, timeout=30, check=True)

    def settle(self) -> None:
        """Wait until the screen stands still."""
        end, last, alike = time.monotonic() + STILL, self.screen.look(), 1
        while alike < ALIKE and time.monotonic() < end:
            time.sleep(STEP)
            self.tool("getmouselocation")  # a busy machine takes longer for this, and for what is waited for
            now = self.screen.look()
            last, alike = now, alike + 1 if now == last else 1

    def sheet(self) -> bytes:
        """A digest of what lies left of the dialog: the drawing."""
        return self.screen.look(SHEET)

    def changes(self, before: bytes) -> bytes:
        """Wait until the drawing looks otherwise, and stands still again; its new digest."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if self.sheet() != before:
                self.settle()
                return self.sheet()
            time.sleep(STEP)
        raise AssertionError("nothing changed in the drawing")

    def saved(self, copy: Path) -> bytes:
        """Save the document; its bytes, also put into a copy. Fails when nothing is written."""
        stamp = self.file.stat().st_mtime_ns
        self.file.touch()
        os.utime(self.file, ns=(stamp, 0))
        self.key(self.main, "ctrl+s")
        end = time.monotonic() + STILL
        while self.file.stat().st_mtime_ns == 0 and time.monotonic() < end:
            time.sleep(STEP)
        assert self.file.stat().st_mtime_ns, "the editor did not save"
        copy.write_bytes(self.file.read_bytes())
        return copy.read_bytes()
