"""What an element of flatcut's own drawing shows, and where it stands."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np
from lxml import etree

from flatcut.drawing.roles import LABEL
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.pattern.marks import written
from flatcut.pattern.values import UNCAPTIONED


def mark_of(element: etree._Element) -> str:
    """The uid of the mark that an element shows; '' for what follows from the outline and comes again."""
    role = element.get(own("drawn"), "")
    if role == LABEL.name:
        return UNCAPTIONED.uid
    return element.get(own("of"), "") if role in _roles() else ""


@cache
def _roles() -> frozenset[str]:
    """The roles of the marks that a file keeps as records."""
    return frozenset(kind.role for kind in written())


def mean_of(curves: Iterable[Curve]) -> Array:
    """The mean of the nodes (2,): wherever a drawing is moved or turned to, its mean goes with it."""
    return np.asarray(np.concatenate([curve.nodes for curve in curves]).mean(axis=0))
