"""A real browser without a window, driven over its debugging protocol (Chrome DevTools Protocol over RFC 6455)."""

from __future__ import annotations

import base64
import json
import os
import socket
import struct
import subprocess
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

PATIENCE = 60.0


class Tab:
    """One page in the browser."""

    def __init__(self, address: str) -> None:
        host, _, path = address.removeprefix("ws://").partition("/")
        name, _, port = host.partition(":")
        self._socket = socket.create_connection((name, int(port)), timeout=PATIENCE)
        key = base64.b64encode(os.urandom(16)).decode()
        ask = f"GET /{path} HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        self._socket.sendall(f"{ask}Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode())
        self._file = self._socket.makefile("rb")
        while self._file.readline().strip():
            pass
        self._number = 0

    def close(self) -> None:
        """Let go of the page."""
        self._file.close()
        self._socket.close()

    def ask(self, method: str, **given: Any) -> dict[str, Any]:
        """A command and its answer."""
        self._number += 1
        self._send(json.dumps({"id": self._number, "method": method, "params": given}).encode())
        while True:
            answer: dict[str, Any] = json.loads(self._received())
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return dict(answer["result"])

    def value(self, expression: str) -> Any:
        """What an expression of the page comes to."""
        return self.ask("Runtime.evaluate", expression=expression, returnByValue=True)["result"].get("value")

    def until(self, expression: str) -> None:
        """Wait until an expression is true."""
        end = time.monotonic() + PATIENCE
        while not self.value(expression):
            assert time.monotonic() < end, f"never: {expression}"
            time.sleep(0.05)

    def press(self, key: str) -> None:
        """A key pressed and let go."""
        text = {"text": key} if len(key) == 1 else {}
        self.ask("Input.dispatchKeyEvent", type="keyDown", key=key, **text)
        self.ask("Input.dispatchKeyEvent", type="keyUp", key=key)

    def _send(self, data: bytes) -> None:
        size, mask = len(data), os.urandom(4)
        head = struct.pack("!BB", 0x81, 0x80 | size) if size < 126 else struct.pack("!BBH", 0x81, 0xFE, size)
        self._socket.sendall(head + mask + bytes(b ^ mask[k % 4] for k, b in enumerate(data)))

    def _received(self) -> bytes:
        whole = b""
        while True:
            first, size = self._file.read(2)
            size &= 0x7F
            if size > 125:
                size = int.from_bytes(self._file.read(2 if size == 126 else 8), "big")
            whole += self._file.read(size)
            if first & 0x80:
                return whole


@contextmanager
def opened(browser: str, page: Path, folder: Path, *, painting: bool = False) -> Iterator[Tab]:
    """The page in a browser of its own, whose data go to a folder. painting: it paints in space, without a card."""
    drawn = ["--use-gl=swiftshader", "--enable-unsafe-swiftshader"] if painting else ["--disable-gpu"]
    words = ["--headless", "--no-sandbox", *drawn, "--disable-background-networking", "--no-first-run"]
    process = subprocess.Popen(
        [browser, *words, "--remote-debugging-port=0", f"--user-data-dir={folder}", page.as_uri()],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        told = folder / "DevToolsActivePort"
        end = time.monotonic() + PATIENCE
        while not told.is_file() or len(told.read_text().splitlines()) < 2:
            assert time.monotonic() < end, "the browser did not start"
            time.sleep(0.05)
        port = told.read_text().splitlines()[0]
        while True:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/list", timeout=PATIENCE) as answer:
                pages = [one for one in json.load(answer) if one["type"] == "page" and one["url"] == page.as_uri()]
            if pages:
                break
            assert time.monotonic() < end, "the browser did not open the page"
            time.sleep(0.05)
        tab = Tab(pages[0]["webSocketDebuggerUrl"])
        yield tab
        tab.close()
    finally:
        process.terminate()
        process.wait(PATIENCE)
