"""Cut lines in a document that are not those that its pieces have now."""

from __future__ import annotations

from flatcut.checks.out_of_date import OutOfDate
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.subject import subject


def stale(drawing: Drawing) -> list[str]:
    """A sentence for each piece whose cut line in the document is not the one that it has now.

    An outline whose nodes were moved, or a cut line moved or edited by hand: what is derived afresh differs from both.
    """
    return [
        f"the cut line drawn for {found.where[0]} is older than the piece; it was made anew for the print"
        for found in OutOfDate().find(subject(drawing, drawing.pattern, ()))
    ]
