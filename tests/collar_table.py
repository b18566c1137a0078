"""Collars of all kinds on ten necklines, as a table: python -m tests.collar_table

neck edge: against the neckline it is sewn to, half, mm, 0 to -3 is what is wanted (common practice, no source); notch:
how far from the back neckline's length it stands; outer: the outer edge against the neck edge. Least and most over
five bodies drafted by two methods.
"""

from __future__ import annotations

from flatcut.pattern.walking import drawn_length, sewn_length
from tests.test_collar import KINDS, NECKS, collared, neck_piece
from tests.test_shawl import shawl


def row(kind: str, size: str, method: str) -> tuple[float, float, float]:
    """Neck edge less neckline, notch off the shoulder, outer edge less neck edge."""
    if kind == "shawl":
        pattern = shawl(size, method)
        back, front = sewn_length(pattern.piece("back").edge("neck")), pattern.piece("front")
        neck = drawn_length(front.edge("collar-neck"))
        over = next(f.value for f in pattern.steps[-1].figures if f.label.startswith("outer edge from"))
        # it is sewn to the back neckline alone, from the shoulder on, so that its end is the shoulder
        return neck - back, 0.0, over - neck
    pattern = collared(size, method, KINDS[kind])
    back, front_neck = (sewn_length(pattern.piece(name).edge("neck")) for name in ("back", "front"))
    piece = neck_piece(pattern)
    neck_edge = piece.edge("neck")
    beyond = 15.0 if kind == "shirt" else 0.0
    neck = drawn_length(neck_edge)
    at = [n.at.along(sewn_length(neck_edge)) for n in piece.notches if n.edge == neck_edge.uid]
    off = min(abs((a if kind.startswith("flat") else neck - a) - back) for a in at)
    names = {p.name for p in pattern.pieces}
    outer = pattern.piece("fall" if "fall" in names else piece.name)
    edge = next(e for e in ("outer", "top") if e in {one.name for one in outer.edges})
    return neck - back - front_neck - beyond, off, drawn_length(outer.edge(edge)) - neck


def main() -> None:
    """Print the table."""
    print(f"{'kind':14}{'necklines':>10}{'neck edge, mm':>20}{'notch off':>12}{'outer edge, mm':>22}")
    for kind in (*KINDS, "shawl"):
        rows = [row(kind, *neck) for neck in NECKS]
        necks, notches, outers = zip(*rows, strict=True)
        print(
            f"{kind:14}{len(rows):10}{min(necks):11.3f} to {max(necks):5.3f}{max(notches):12.4f}"
            f"{min(outers):13.1f} to {max(outers):5.1f}"
        )


if __name__ == "__main__":
    main()
