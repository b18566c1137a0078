"""What is said before cloth is cut."""

from __future__ import annotations

import re

CAUTIONS = (
    "Measure the test square of what is printed against a ruler before cutting, and make a toile first.",
    "Where a garment must protect or must not harm (workwear, what burns easily, cords and small parts on children's "
    "clothes), the rules of your country and a qualified person decide.",
)
CHILD = ("child", "children", "childs", "baby", "infant", "toddler", "boy", "boys", "girl", "girls", "kid", "kids")
"""Words by which a garment for a child is known."""
FOR_A_CHILD = (
    "For a child: cords and drawstrings at the neck and the hood can strangle, small parts such as buttons can be "
    "swallowed, and nightwear must not catch fire easily. What is allowed is laid down by the rules of your country "
    "(in Europe EN 14682 for cords and EN 14878 for the burning of nightwear; from memory): ask someone who knows them."
)


def cautions(words: str) -> tuple[str, ...]:
    """The cautions for a garment of which so much is said.

    >>> len(cautions("a coat")), len(cautions("a child's coat"))
    (2, 3)
    """
    child = set(re.findall(r"[a-z]+", words.lower().replace("'", ""))) | set(re.findall(r"[a-z]+", words.lower()))
    return (*CAUTIONS, FOR_A_CHILD) if child & set(CHILD) else CAUTIONS
