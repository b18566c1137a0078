"""Names that a drawing gives its pieces: the label of the outline, or a text written inside it."""

from __future__ import annotations

import re

from flatcut.outlines.gathering import Gathered
from flatcut.pattern.values import checked_name

LONGEST = 40
"""Letters: a longer first line is a remark, not a name."""

_OTHER = re.compile(r"[^\w-]+|_{2,}")
_LEADING = re.compile(r"^[\W\d_]+")


def as_name(text: str) -> str:
    """The name in the first line of a text, other characters made '-'; '' when there is none.

    >>> as_name("Front bodice\\ncut 2"), as_name("3. side/back "), as_name("42")
    ('Front-bodice', 'side-back', '')
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    name = _LEADING.sub("", _OTHER.sub("-", first.strip())).rstrip("-_")
    return name if len(name) <= LONGEST else ""


def drawn_name(outline: Gathered) -> tuple[str, list[str]]:
    """The name that the drawing gives an outline, '' for none, and warnings.

    The outline's own label comes first, when it is a name as it stands; then the text inside, when there is just one.
    """
    try:
        return checked_name(outline.path.label), []
    except ValueError:
        pass
    names = list(dict.fromkeys(filter(None, (as_name(text.text) for text in outline.texts))))
    if len(names) > 1:
        shown = ", ".join(f"'{name}'" for name in names[:4])
        return "", [f"'{outline.path.id}' holds several texts ({shown}), so none of them names it; use --names"]
    return (names[0] if names else ""), []
