"""Garments worn for tests, each once."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Pattern, Piece
from flatcut.recipe import read_recipe, replay
from flatcut.worn.choosing import chosen, limbs_of
from flatcut.worn.cloth import CLOTHS
from flatcut.worn.form import Form, form_of
from flatcut.worn.telling import Told, told
from flatcut.worn.wearing import Worn, worn

CALICO = CLOTHS["calico"]


def made(text: str) -> Pattern:
    return replay(read_recipe(text), Pattern())


@cache
def _form(body: tuple[tuple[str, float], ...], limbs: tuple[str, ...]) -> Form:
    return form_of(dict(body), limbs)


def form(pattern: Pattern, pieces: Sequence[Piece]) -> Form:
    """The form of the body in a pattern, with the limbs that pieces need."""
    return _form(tuple(pattern.body.items()), tuple(sorted(limbs_of(pieces, {}))))


@cache
def shown(text: str, mesh: float = 26.0, *, both: bool = False) -> tuple[Worn, Told]:
    """Something worn on its own body, in calico. both: both sides are computed though they are alike."""
    pattern = made(text)
    pieces, _ = chosen(pattern, (), {})
    found = worn(pattern, pieces, form(pattern, pieces), CALICO, mesh=mesh, both=both)
    return found, told(found, {})


def along(found: Worn, values: Array, piece: str, edge: str) -> Array:
    """Values at the vertices along an edge of a piece, in its own direction."""
    k = next(k for k, copy in enumerate(found.sewn.copies) if found.sewn.cells[copy.piece].piece.name == piece)
    cells = found.sewn.cells[found.sewn.copies[k].piece]
    return values[[found.sewn.first[k] + on.vertex for on in cells.edges[cells.piece.edge(edge).uid]]]
