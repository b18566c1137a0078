"""Whether a press has done what a command does."""

from __future__ import annotations

from pathlib import Path

from flatcut.formats.svg.document import load
from flatcut.formats.svg.read import read
from flatcut.geometry.curves import same
from flatcut.pattern.comparing import differences

TOLERANCE = 1e-3
"""mm."""


def assert_alike(result: bytes, wanted: Path) -> None:
    """The drawing after a press equals the command's in all that can be read and seen."""
    _, here, _ = read(result)
    _, there, findings = read(wanted.read_bytes())
    assert not findings
    assert differences(there, here, tolerance=TOLERANCE) == []
    assert [step.line for step in here.steps] == [step.line for step in there.steps]
    assert here.names_shown == there.names_shown
    assert_drawn_alike(result, wanted.read_bytes())


def assert_drawn_alike(one: bytes, other: bytes) -> None:
    """All that can be seen, cut lines and ticks too."""
    paths, others = (load(data).drawn() for data in (one, other))
    assert [len(path.subpaths) for path in paths] == [len(path.subpaths) for path in others]
    for path, another in zip(paths, others, strict=True):
        for sub, second in zip(path.subpaths, another.subpaths, strict=True):
            assert same(sub.curve, second.curve, tolerance=TOLERANCE), path.id
