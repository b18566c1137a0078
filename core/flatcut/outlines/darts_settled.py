"""A drawn dart as places, so that it replays on a piece of another size; and a double-pointed dart from its places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatcut.errors import InputError, Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import polyline
from flatcut.outlines.anchoring import anchor, home
from flatcut.outlines.drawn_darts import darts_of_lines, double_pointed
from flatcut.pattern.places import Drawn, Place
from flatcut.pattern.values import Dart, DrawnPath, Pattern, Position
from flatcut.pattern.walking import sewn_length, to_sewn


def settled_dart(pattern: Pattern, drawn: Sequence[Drawn]) -> dict[str, object]:
    """The fields of a `dart` step that stand for drawn objects: places and the intake.

    Errors: UsageError when there is no such path, InputError when the paths make no dart.
    """
    paths = [_path(pattern, one.id) for one in drawn]
    piece = home(pattern, paths[0].curves[0])
    if len(paths) == 1 and paths[0].closed == (True,):
        sides = double_pointed(paths[0].curves[0])
        if sides is not None:
            shape = Dart(uid="", name="", legs=sides)
            wide = shape.feet
            upper, lower = (anchor(pattern, piece, at) for at in shape.points)
            return {
                "target": (anchor(pattern, piece, wide.mean(axis=0)),),
                "point": upper,
                "lower": lower,
                "intake": float(np.hypot(*(wide[1] - wide[0]))),
            }
    found, why = darts_of_lines(piece.edges, paths)
    if len(found) != 1:
        said = f": {why[0]}" if why else "; draw two legs from one edge to one point"
        raise InputError(f"the drawn lines make no dart{said}")
    dart = found[0]
    assert dart.edge is not None
    edge = piece.edges[dart.edge]
    total = sewn_length(edge)
    feet = [
        Place(piece=piece.name, name=edge.name, at=Position(mode="fraction", value=to_sewn(edge, at) / total))
        for at in (dart.start, dart.end)
    ]
    return {"feet": tuple(feet), "point": anchor(pattern, piece, dart.legs[0].end)}


def _path(pattern: Pattern, wanted: str) -> DrawnPath:
    for thing in pattern.drawn:
        if isinstance(thing, DrawnPath) and thing.id == wanted:
            return thing
    raise UsageError(f"'{wanted}' is no drawn path beside the pieces; select the lines of a dart")


def double_dart(dart: Dart, upper: Array, lower: Array, middle: Array, intake: float) -> Dart:
    """A double-pointed dart with straight legs, `intake` mm wide at the height of `middle`, symmetric about its axis.

    dart: gives uid, name and the rest. Errors: UsageError when the middle does not lie between the points.

    >>> blank = Dart(uid="d", name="d", legs=(polyline([(0, 0), (1, 0)]),) * 2)
    >>> double_dart(blank, np.array([0.0, 0]), np.array([0.0, 270]), np.array([0.0, 150]), 30.0).feet
    array([[ 15., 150.],
           [-15., 150.]])
    """
    along = lower - upper
    tall = float(np.hypot(*along))
    if tall < 1.0:
        raise UsageError(
            "the two points of the dart are one place; give ", Option("point"), " and ", Option("lower"), " apart"
        )
    way = along / tall
    at = float((middle - upper) @ way)
    if not 0.05 * tall < at < 0.95 * tall:
        raise UsageError("the middle of a double-pointed dart lies between its points; give another place")
    across = np.array([-way[1], way[0]])
    wide = upper + at * way
    one, two = wide - intake / 2 * across, wide + intake / 2 * across
    return replace(
        dart, legs=(polyline([upper, one, lower]), polyline([lower, two, upper])), form="lines", host="", after=0
    )
