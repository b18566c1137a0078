"""What is drawn inside a piece and read back with it: lines, darts drawn as lines, the grain line."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from lxml import etree

from flatcut.formats.svg.document import Drawn
from flatcut.formats.svg.matching import SAME
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.records import Records
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, reverse, same, transform
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Grain, Line

GRAIN = "grain"
"""What stands for the uid of the grain line, of which a piece has one."""


@dataclass(kw_only=True, eq=False, repr=False)
class Inner:
    """elements: of lines, darts and grain by uid; moved: names of what has a symbol
    that was moved; edited, deleted: of what was changed by hand; copied: names of
    lines that are copies of others; odd: what is marked as a part of the piece and can be none.
    """

    lines: tuple[Line, ...] = ()
    darts: dict[str, tuple[Curve, Curve]] = field(default_factory=dict)
    grain: Grain | None = None
    elements: dict[str, etree._Element] = field(default_factory=dict)
    moved: list[str] = field(default_factory=list)
    edited: list[str] = field(default_factory=list)
    deleted: list[str] = field(default_factory=list)
    copied: list[str] = field(default_factory=list)
    odd: list[Drawn] = field(default_factory=list)


def read_inner(drawn: list[Drawn], records: Records, motion: Affine) -> Inner:
    """What lies inside a piece. motion: of the piece's outline since it was written."""
    found = Inner()
    lines: list[Line] = []
    uids = Uids([*(uid for uid, _ in records.inner), *(dart["uid"] for dart in records.darts)])
    darts = {dart["uid"]: dart for dart in records.darts}
    names = {name for _, name in records.inner}
    for item in drawn:
        element = item.element
        line, dart = element.get(own("line")), element.get(own("dart"), "")
        uid = line or dart or GRAIN
        curve = item.subpaths[0].curve if len(item.subpaths) == 1 else None
        again = uid in found.elements
        if curve is None or (again and line is None) or (line is None and dart and dart not in darts):
            found.odd.append(item)
            continue
        name = GRAIN
        if line is not None:
            name = element.get(own("name"), uid)
            if again:
                uid, name = uids.fresh("copy", uid, name), free_name(name, names)
                found.copied.append(name)
            names.add(name)
            lines.append(Line(uid=uid, name=name, kind=element.get(own("kind"), "line"), curve=curve))
        elif dart:
            name = darts[dart]["name"]
            legs = _legs(curve, darts[dart])
            if legs is None:
                found.odd.append(item)
                continue
            found.darts[dart] = legs
        else:
            ways = element.get(own("ways"), "both")
            found.grain = Grain(start=curve.start, end=curve.end, kind=element.get(own("grain"), ""), ways=ways)
        found.elements[uid] = element
        if not again and _changed(element.get(own("last")), curve, motion, name):
            found.edited.append(name)
    found.deleted = [name for uid, name in records.inner if uid not in found.elements]
    found.lines = tuple(lines)
    return found


def _changed(last: str | None, curve: Curve, motion: Affine, name: str) -> bool:
    """Whether a path was edited, or moved in another way than its piece."""
    if last is None:
        return False
    subs = parse(last, name=name)
    if len(subs) != 1:
        return True
    before = transform(subs[0].curve, motion)
    return not (same(before, curve, tolerance=SAME) or same(before, reverse(curve), tolerance=SAME))


def _legs(curve: Curve, dart: dict[str, object]) -> tuple[Curve, Curve] | None:
    """The legs of a drawn dart: cut at its point, which is the node farthest from where it starts and ends."""
    spans = dart["spans"]
    if len(curve) < 2 or not isinstance(spans, list):
        return None
    first = spans[0]
    if len(curve) != sum(spans) or not 0 < first < len(curve):
        chord = curve.end - curve.start
        away = curve.nodes[1:-1] - curve.start
        across = np.array([-chord[1], chord[0]])
        reach = np.linalg.norm(away, axis=1) if np.linalg.norm(chord) < 1e-6 else np.abs(away @ across)
        first = int(np.argmax(reach)) + 1
    return (
        Curve(curve.controls[:first], curve.straight[:first]),
        Curve(curve.controls[first:], curve.straight[first:]),
    )
