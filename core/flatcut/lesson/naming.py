"""The names of pieces on a picture, and what is written on a piece: where there is room for them."""

from __future__ import annotations

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.roles import Role
from flatcut.geometry.arrays import Array
from flatcut.lesson.room import CROWDED, LETTER, Room

NAME = Role(name="name", bold=True)
SMALL = 1.7
"""mm of the page: letters of a name that has no other room."""
SLIM = 0.4
"""A piece this slim, its width as a part of its height, takes its name along it rather than across."""


def named_piece(room: Room, name: str, at: Array, box: Array, told: str | None = None) -> list[Stroke | Words]:
    """The name of a piece and, below it, what is written on it.

    at: (2,) the middle of the piece, box: (2,) how wide and high it is, both mm of the page.
    """
    halves = _halved(name)
    # a long name in two lines, along the piece, or small, before it stands on lines or is left out
    whole, across = ((name,), LETTER, 0, False), [(halves, LETTER, 0, False), (halves, SMALL, 0, False)]
    along = [((name,), LETTER, 0, True), ((name,), SMALL, 0, True)]
    tries = [whole, *along, *across] if box[0] < SLIM * box[1] else [whole, *across, *along]
    tries += [((name,), LETTER, CROWDED, False), (halves, SMALL, 3 * CROWDED, False), ((name,), SMALL, 8, True)]
    if told:
        tries = [((*words, told), letter, on, turned) for words, letter, on, turned in tries[:5]] + tries
    for words, letter, on, turned in tries:
        put = room.put(words, at, role=NAME, letter=letter, inside=True, most=on, upright=turned)
        if put:
            return put
    return []


def _halved(name: str) -> tuple[str, ...]:
    """A name in two lines, parted at the hyphen nearest to its middle.

    >>> _halved("skirt-front-lining"), _halved("yoke")
    (('skirt-front-', 'lining'), ('yoke',))
    """
    places = [k + 1 for k, letter in enumerate(name) if letter == "-"]
    if not places:
        return (name,)
    at = min(places, key=lambda k: (abs(2 * k - len(name)), -k))
    return name[:at], name[at:]
