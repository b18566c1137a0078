"""From a drawn cut line to the stitch line inside it."""

from __future__ import annotations

from flatcut.errors import GeometryError, InputError
from flatcut.geometry.curves import Curve, section
from flatcut.geometry.offset_outline import offset_outline
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge
from flatcut.pattern.tracing import Traced, rolled
from flatcut.units import plain

WITHIN = 0.02
"""mm that the stitch line may stray from its true distance: the same as for a cut line."""
LONGEST = 12.0
"""Widths that a mitre on the inside of a hollow corner may be long; sharper hollows do not occur in a cut line."""


def net(traced: Traced, width: float) -> Traced:
    """The outline `width` mm inside a cut line, taken apart in the same way. Errors: InputError.

    >>> from flatcut.geometry.curves import bounds, chain, polyline
    >>> from flatcut.pattern.tracing import ring_of, trace
    >>> square = trace(ring_of(polyline([(0, 0), (90, 0), (90, 90), (0, 90), (0, 0)])))
    >>> bounds(chain(run[0] for run in net(square, 10).runs))
    (10.0, 10.0, 80.0, 80.0)
    """
    stretches = _stretches(traced)
    edges = [OffsetEdge(curve=curve, width=width, name=name) for name, curve in stretches]
    corners = [OffsetCorner(limit=LONGEST) for _ in edges]
    try:
        done = offset_outline(edges, corners, inward=True, tolerance=WITHIN)
    except GeometryError as error:
        raise InputError(f"there is no stitch line {plain(width)} mm inside it: {error}") from None
    owners = [source if source >= 0 else -1 - source for source in done.sources]
    cuts = _cut_up(done.curve, owners)
    for k, (name, _) in enumerate(stretches):
        if k not in cuts:
            raise InputError(f"{name} vanishes in a stitch line {plain(width)} mm inside; give a smaller width")
    inside = iter(range(len(stretches)))
    runs, darts = [], {}
    for run, parts in enumerate(traced.runs):
        made = []
        for k in range(len(parts)):
            made.append(cuts[next(inside)])
            if (run, k) in traced.darts:
                darts[run, k] = cuts[next(inside)], cuts[next(inside)]
        runs.append(tuple(made))
    return Traced(tuple(runs), darts, traced.kinks)


def _stretches(traced: Traced) -> list[tuple[str, Curve]]:
    """Parts and legs in outline order, with what to call them."""
    found = []
    for run, parts in enumerate(traced.runs):
        for k, part in enumerate(parts):
            found.append((f"e{run + 1}", part))
            found += [("a dart's leg", leg) for leg in traced.darts.get((run, k), ())]
    return found


def _cut_up(ring: Curve, owners: list[int]) -> dict[int, Curve]:
    """The spans of each stretch as one curve; a corner's own spans go with the stretch before it."""
    n = len(ring)
    first = next((k for k in range(n) if owners[k] != owners[k - 1]), 0)
    found: dict[int, Curve] = {}
    k = first
    while k < first + n:
        end = k
        while end < first + n and owners[end % n] == owners[k % n]:
            end += 1
        if owners[k % n] in found:
            raise InputError("the stitch line inside it falls into parts; give a smaller width")
        found[owners[k % n]] = section(rolled(ring, k % n), 0, end - k)
        k = end
    return found
