"""The dress block: torso and straight skirt in one, without a seam at the hip line."""

from __future__ import annotations

from flatcut.blocks.frame import Frame
from flatcut.blocks.torso import draft_long
from flatcut.pattern.assembling import Draft
from flatcut.pattern.uids import Uids


def draft_dress(frame: Frame, uids: Uids, length: float, *, names: tuple[str, str] = ("back", "front")) -> Draft:
    """The torso of a frame carried straight down from the hip line to `length` mm below the waist.

    Torso and skirt are drafted as one outline: the skirt is as wide as the torso at the hip, so joining two pieces
    along the hip line would give the same. Errors: as `draft_torso`; UsageError when the hem lies above the hip.
    """
    return draft_long(frame, uids, names=names, hem_y=frame.waist_y + length)
