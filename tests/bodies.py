"""Tables of bodies for tests."""

from __future__ import annotations

from flatcut.blocks.body import sizes_or_errors
from flatcut.errors import FlatcutError


def read_sizes(text: str) -> dict[str, dict[str, float]]:
    """The bodies of a size table, every one of which is a body: size -> measurements in mm."""
    sizes = {}
    for size, body in sizes_or_errors(text).items():
        if isinstance(body, FlatcutError):
            raise body
        sizes[size] = body
    return sizes
