"""What was drawn when pieces were made of it, as a document keeps it with the step."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any, overload

import numpy as np

from flatcut.errors import InputError
from flatcut.formats.svg.pathdata import parse, unparse
from flatcut.formats.svg.vocabulary import pack, unpack
from flatcut.pattern.values import DrawnPath, DrawnText

_WHERE = "the document"


class Kept(Sequence["DrawnPath | DrawnText"]):
    """Drawn things, read when they are asked for first: most that is done to a document does not ask.

    >>> drawing = kept([DrawnText(id="t", text="front", at=np.array([1.0, 2.5]))])
    >>> drawing, Kept(drawing)[0].text
    ("[{'at':[1,2.5],'id':'t','text':'front'}]", 'front')
    """

    def __init__(self, text: str) -> None:
        self.text = text

    @cached_property
    def _things(self) -> tuple[DrawnPath | DrawnText, ...]:
        try:
            return tuple(_thing(record) for record in unpack(self.text, where=_WHERE))
        except InputError:
            raise
        except (KeyError, IndexError, TypeError, ValueError, AttributeError):
            raise InputError("the pattern data of the document is damaged; take an earlier copy of the file") from None

    def __len__(self) -> int:
        return len(self._things)

    @overload
    def __getitem__(self, index: int) -> DrawnPath | DrawnText: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[DrawnPath | DrawnText, ...]: ...
    def __getitem__(self, index: int | slice) -> DrawnPath | DrawnText | tuple[DrawnPath | DrawnText, ...]:
        return self._things[index]


def kept(things: Iterable[DrawnPath | DrawnText]) -> str:
    """Drawn things as attribute text; what was read from one is written as it was."""
    if isinstance(things, Kept):
        return things.text
    records = [_record(thing) for thing in things]
    return pack(records) if records else ""


def _record(thing: DrawnPath | DrawnText) -> dict[str, Any]:
    if isinstance(thing, DrawnText):
        record: dict[str, Any] = {"id": thing.id, "text": thing.text, "at": [float(v) for v in thing.at]}
    else:
        record = {"id": thing.id, "d": unparse(thing.curves, thing.closed)}
        if thing.label:
            record["label"] = thing.label
    if thing.group:
        record["group"] = thing.group
    return record


def _thing(record: dict[str, Any]) -> DrawnPath | DrawnText:
    group = str(record.get("group", ""))
    if "text" in record:
        at = np.array([float(v) for v in record["at"]])
        return DrawnText(id=str(record["id"]), text=str(record["text"]), at=at, group=group)
    paths = parse(record["d"])
    return DrawnPath(
        id=str(record["id"]),
        curves=tuple(path.curve for path in paths),
        closed=tuple(path.closed for path in paths),
        label=str(record.get("label", "")),
        group=group,
    )
