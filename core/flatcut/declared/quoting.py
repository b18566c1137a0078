"""Words as they stand in a command line or a recipe."""

from __future__ import annotations

import re
import shlex


def quoted(text: str) -> str:
    """A word as it stands in a command line or a recipe.

    >>> quoted("front.side@1/2"), quoted("wrist + 5cm"), quoted("")
    ('front.side@1/2', '"wrist + 5cm"', '""')
    """
    if re.fullmatch(r"[\w.@/%+=:,~-]+", text):
        return text
    if "$" in text or "`" in text:
        return shlex.quote(text)  # a shell would put something in their place inside double quotation marks
    return '"' + re.sub(r'(["\\])', r"\\\1", text) + '"'
