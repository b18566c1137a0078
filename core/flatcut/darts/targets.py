"""What the references of the dart operations mean on a pattern."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.pivoting import Target, target_at
from flatcut.errors import UsageError, unknown
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, spots
from flatcut.pattern.values import Dart, Pattern, Piece, checked_name
from flatcut.pattern.walking import to_drawn


def one_dart(pattern: Pattern, target: Sequence[Place]) -> tuple[Piece, Dart]:
    """The piece and the dart of a target that is one dart. Errors: UsageError, UnknownNameError."""
    if len(target) != 1:
        raise UsageError(f"one dart is wanted, and {len(target)} are given: {', '.join(map(str, target))}")
    piece, thing = find(pattern, target[0])
    if not isinstance(thing, Dart):
        raise unknown(f"dart of {piece.name}", thing.name, [dart.name for dart in piece.darts])
    return piece, thing


def target_of(pattern: Pattern, piece: Piece, place: Place) -> tuple[Target, Pattern]:
    """The target that a written place means, and the pattern with a dart that is drawn there cut in.

    Errors: UsageError when the place lies on another piece or on no edge.
    """
    if place.piece and place.piece != piece.name:
        raise UsageError(f"'{place}' lies on another piece; a dart stays on its piece, {piece.name}")
    if place.name:
        _, thing = find(pattern, place)
        if isinstance(thing, Dart):
            pattern, _, dart = as_cut(pattern, piece, thing)
            return Target(dart=dart.uid), pattern
    found = spots(pattern, place)
    if len(found) == 2:
        corner = next(d for d in piece.darts if d.form == "cut" and d.host and _stands(piece, d, found[0].edge))
        return Target(dart=corner.uid), pattern
    if not found[0].edge:
        raise UsageError(f"'{place}' lies on no edge; write a place on an edge, such as {piece.name}.EDGE@1/2")
    edge = piece.edge_of(found[0].edge)
    return target_at(piece, edge, to_drawn(edge, found[0].sewn)), pattern


def _stands(piece: Piece, dart: Dart, edge: str) -> bool:
    """Whether a cut-in dart stands in the corner at the end of an edge (a uid)."""
    return dart.host == edge and dart.after == len(piece.edge_of(edge).parts) - 1


def free_for_dart(piece: Piece, name: str, *, of: str = "") -> str:
    """`name` when a dart may be called so; `of`: the name that the dart has now. Errors: UsageError."""
    checked_name(name, kind="dart's name")
    if name != of and name in piece.names():
        raise UsageError(f"{piece.name} has a '{name}' already; give another name")
    return name
