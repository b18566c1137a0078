"""The garment of a lesson worn, computed, as a picture on paper: from the front, the side and the back."""

from __future__ import annotations

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import Role
from flatcut.geometry.curves import polyline
from flatcut.lesson.values import Card
from flatcut.pattern.values import Pattern
from flatcut.worn.choosing import chosen, limbs_of, with_guessed
from flatcut.worn.cloth import CLOTHS
from flatcut.worn.form import form_of
from flatcut.worn.numbered import numbered
from flatcut.worn.telling import hold, told
from flatcut.worn.views import box_of, views
from flatcut.worn.wearing import ready, worn

WIDE, HIGH = 178.0, 120.0
"""mm of the page, at most."""
MESH = 15.0
"""mm between the net's points: as fine as a small picture shows."""
FOOT, LETTERS = 6.0, 3.0
"""mm below the pictures for their names, and how high those are."""
SEAM = Role(name="worn-seam", width=0.18)
RIM = Role(name="worn-outline", width=0.35)
FORM = Role(name="worn-form", width=0.18, colour="#767676")


def worn_card(pattern: Pattern) -> Card:
    """The garment on a form of the body in the pattern. Errors: UsageError, GeometryError, MissingPackageError."""
    ready()
    of_each = numbered(pattern, (), {})
    pattern, places = of_each.pattern, with_guessed(of_each.pattern, of_each.places)
    pieces, _ = chosen(pattern, (), places)
    found = worn(
        pattern, pieces, form_of(pattern.body, limbs_of(pieces, places)), CLOTHS["calico"], mesh=MESH, places=places
    )
    hold(told(found, places))
    drawn = views(found)
    low, high = box_of(drawn)
    scale = min(WIDE / (len(drawn) * (high - low)[0]), (HIGH - FOOT) / (high - low)[1])
    column = scale * float((high - low)[0])
    size = (column * len(drawn), scale * float((high - low)[1]) + FOOT)
    items: list[Stroke | Words] = []
    for k, one in enumerate(drawn):
        for role, lines in ((FORM, one.form), (SEAM, one.seams), (RIM, one.cloth)):
            seen = [line for line in lines if len(line) > 1]
            placed = [(line - (low[0], high[1])) * (scale, -scale) + (k * column, 0.0) for line in seen]
            curves = tuple(map(polyline, placed))
            if curves:
                items.append(Stroke(role=role, curves=curves))
        items.append(Words(lines=(one.name,), at=np.array([(k + 0.5) * column, size[1] - 0.5 * FOOT]), height=LETTERS))
    label = "the garment on a form, computed: from the front, the side and the back"
    return Card(ink=Ink(items=tuple(items)), size=size, label=label, scale=scale)
