"""A screen of its own for several programs, looked at in the server's memory: no other program takes a picture."""

from __future__ import annotations

import hashlib
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SIZE = "2000x900x24"
"""Width and height in px, depth: room for the window, and for a dialog beside it."""

Area = tuple[int, int, int, int]
"""Left, top, width and height in px."""

HEADER, LINE, COLOURS = 0, 12, 19
"""Where the header of a screen's file, big-endian words of 4 bytes, holds its own length, bytes a line, how many
colours follow it. Source: X11/XWDFile.h of the X Window System (from memory)."""


@dataclass(frozen=True)
class Screen:
    """name: such as ':1'; memory: the file that the server keeps its pixels in."""

    name: str
    memory: Path

    def pixels(self, area: Area | None = None) -> np.ndarray:
        """Blue, green, red and a byte without meaning (height, width, 4), as they are now."""
        held = np.memmap(self.memory, dtype=np.uint8, mode="r")
        words = np.frombuffer(held[:100].tobytes(), dtype=">u4")
        lines = held[int(words[HEADER] + 12 * words[COLOURS]) :].reshape(-1, int(words[LINE]))
        shown = lines.reshape(len(lines), -1, 4)
        left, top, width, height = area or (0, 0, shown.shape[1], shown.shape[0])
        return np.array(shown[top : top + height, left : left + width])

    def grey(self, area: Area) -> np.ndarray:
        """The mean of the three colours, 0 to 255, (height, width)."""
        return self.pixels(area)[..., :3].mean(axis=-1)

    def look(self, area: Area | None = None) -> bytes:
        """A digest of what is shown."""
        return hashlib.blake2b(self.pixels(area)).digest()


@contextmanager
def screen() -> Iterator[Screen]:
    """A screen that stays while several programs use it."""
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen(
            # it chooses a free number itself and says it once it is ready
            ["Xvfb", "-displayfd", "1", "-screen", "0", SIZE, "-fbdir", folder],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        try:
            assert server.stdout is not None
            number = server.stdout.readline().strip()
            assert number, "no screen could be made"
            yield Screen(f":{number}", Path(folder, "Xvfb_screen0"))
        finally:
            server.kill()
            server.communicate()
