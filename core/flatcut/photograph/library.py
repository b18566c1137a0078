"""The one place that knows the vision library, which is imported only when a photograph is read."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from flatcut.errors import FileName, InputError, MissingPackageError
from flatcut.geometry.arrays import Array
from flatcut.reading import DRAWING, read_limited

ENDINGS = ("jpg", "jpeg", "png", "tif", "tiff", "webp", "bmp")
"""Of the files that hold a photograph."""
MOST = 120e6
"""Points of a picture at most: more than any camera held in the hand takes, and what a small machine can still hold."""


def vision() -> Any:
    """The library. Errors: MissingPackageError."""
    try:
        import cv2
    except ImportError:
        raise MissingPackageError(
            "photographs need the package opencv-python-headless; install it with: pip install 'flatcut[photo]'"
        ) from None
    return cv2


def picture(name: str) -> Any:
    """A photograph as it is to be looked at: (height, width, 3) numbers from 0 to 255, blue, green and red.

    name: of a file, or the picture itself as a data URL (RFC 2397).

    Errors: InputError, MissingPackageError.
    """
    cv2 = vision()
    try:
        data = _embedded(name) if name.startswith("data:") else read_limited(name, DRAWING, what="a photograph")
    except OSError as error:
        raise InputError(
            FileName(name), f" cannot be read: {(error.strerror or str(error)).lower()}; name a photograph"
        ) from None
    try:
        found = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), cv2.IMREAD_COLOR) if data else None
    except cv2.error:
        found = None
    if found is None:
        told = "the embedded image" if name.startswith("data:") else FileName(name)
        raise InputError(told, " is no photograph that can be read; save it as JPEG or PNG")
    if found.shape[0] * found.shape[1] > MOST:
        raise InputError(FileName(name), f" has more than {MOST / 1e6:.0f} million points; save it smaller")
    return found


def _embedded(url: str) -> bytes:
    """What a data URL holds; nothing where that cannot be told."""
    head, _, body = url.partition(",")
    try:
        return base64.b64decode(body) if head.endswith(";base64") else b""
    except ValueError:
        return b""


def light() -> Array:
    """How much light each number of a picture stands for, (256,), 1 at most. Source: IEC 61966-2-1 (sRGB).

    >>> light()[[0, 255]].tolist(), round(float(light()[128]), 3)
    ([0.0, 1.0], 0.216)
    """
    v = np.arange(256) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
