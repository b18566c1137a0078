"""The names that flatcut writes into an SVG: namespace `urn:flatcut:pattern`, attributes only, format 2.

On a piece's group       piece=UID name data points notches inner
On its outline path      outline=UID edges darts last at
On a path inside         line=UID name kind · dart=UID · grain=KIND ways; of=UID last
On the derived group     derived=UID, and on what it holds: drawn=ROLE of=UID, on the label also at
On a layer of its own    names, faults boxes, told
In the metadata's RDF    <pattern format seams style body measures names told>, in it <step> <copy>

Records are JSON in an attribute, sorted and without spaces, defaults left out: equal data gives equal bytes. So that an
attribute stays readable its quotation marks are single ones; those inside a text are escaped (\\u0022, \\u0027).
"""

from __future__ import annotations

import json
import math
import re
from functools import cache
from typing import Any

from flatcut.errors import InputError

NAMESPACE = "urn:flatcut:pattern"
PREFIX = "flatcut"
FORMAT = 2
"""Version of this vocabulary. A document with a newer one is refused, an older one is brought up when it is read. In
format 1 the pattern's element stood in the metadata itself, of which the editor complained whenever it read it."""


@cache
def own(name: str) -> str:
    """The attribute or element of that name in flatcut's namespace.

    >>> own("piece")
    '{urn:flatcut:pattern}piece'
    """
    return f"{{{NAMESPACE}}}{name}"


def pack(value: Any) -> str:
    """A record as attribute text.

    >>> print(pack({"b": [1.0, 2.5], "a": "x"}))
    {'a':'x','b':[1,2.5]}
    """
    text = json.dumps(_rounded(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    # escapes are taken in pairs, so that a backslash before a closing mark is not taken for an escaped mark
    text = re.sub(r"\\(.)", lambda match: "\\u0022" if match[1] == '"' else match[0], text)
    return text.replace("'", "\\u0027").replace('"', "'")


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        short = round(value, 9)
        return int(short) if short == int(short) else short
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(item) for item in value]
    return value


def unpack(text: str, *, where: str) -> Any:
    """A record from attribute text. Errors: InputError when it was damaged.

    >>> said = {"say": "an 'odd' word"}
    >>> unpack(pack(said), where="front") == said
    True
    """
    try:
        return _DECODER.decode(text.replace("'", '"'))
    except (ValueError, RecursionError):
        raise InputError(f"the data of {where[:60]} is damaged; undo the change or make the piece anew") from None


def _refused(constant: str) -> float:
    raise ValueError(constant)  # NaN and Infinity are no JSON, and no pattern has them


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


_DECODER = json.JSONDecoder(parse_constant=_refused, parse_float=_finite)
