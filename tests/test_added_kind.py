"""A kind of mark is added in a copy of the tree: two files, nothing edited; then it does all that marks do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.formats.svg.fitting import fitted
from flatcut.geometry.curves import line
from flatcut.pattern.marks.mark import Mark, OnEdge
from flatcut.pattern.values import Edge, Pattern, Piece, Position
from flatcut.reshape.change import Change, applied
from flatcut.reshape.ways import Way
from tests.added import copied

KIND = '''
"""A rivet, set through all layers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold, hold_finite, hold_place


@dataclass(frozen=True, kw_only=True)
class Rivet(Mark):
    """A rivet of `size` mm across at (2,) mm."""

    at: Array
    size: float = 9.0

    role: ClassVar[str] = "rivet"
    plural: ClassVar[str] = "rivets"
    table: ClassVar[str] = "rivets"

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", frozen(self.at))

    def moved(self, matrix: Affine) -> Rivet:
        return replace(self, at=matrix.apply(self.at))

    def standing(self) -> Array:
        return self.at

    def put(self, piece: Marked, at: Array) -> Rivet:
        return replace(self, at=at)

    def record(self) -> dict[str, Any]:
        return {"uid": self.uid, "at": self.at.tolist(), "size": self.size}

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Rivet:
        return cls(uid=record["uid"], at=motion.apply(record["at"]), size=float(record["size"]))

    def hold(self, piece: Marked) -> None:
        hold_place(self.at)
        hold_finite(self.size)
        hold(self.size > 0)

    def listed(self, piece: Marked) -> dict[str, Any]:
        return {"at": self.at, "size": self.size}

    def compared(self, piece: Marked) -> Compared:
        return Compared(sizes=(("size", self.size),), places=(("place", self.at),))
'''

SYMBOL = '''
"""The symbol of a rivet."""

from flatcut.geometry.curves import Curve
from flatcut.marking.symbols.shapes import circle, cross
from flatcut.pattern.marks.rivet import Rivet
from flatcut.pattern.values import Piece


def drawn(piece: Piece, rivet: Rivet) -> list[Curve]:
    """A circle of its size with a cross."""
    return [circle(rivet.at, rivet.size / 2), *cross(rivet.at, rivet.size)]
'''

USE = """
import re
from dataclasses import replace

import numpy as np

from flatcut.drawing.pieces import piece_ink
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.marking.derived import derive
from flatcut.pattern.comparing import differences
from flatcut.pattern.marks.rivet import Rivet
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Piece

ring = [(0, 0), (120, 0), (120, 90), (0, 90)]
edges = tuple(Edge(uid=f"u{k}", name=f"e{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4))
rivet = Rivet(uid="r1", at=np.array([30.0, 20.0]))
piece = Piece(uid="p", name="flap", edges=edges, others=(rivet,))
drawing, pattern, _ = new_drawing()
pattern = replace(pattern, pieces=(piece,))

def where(pattern):
    return [mark.at.round(6).tolist() for piece in pattern.pieces for mark in piece.marks_of(Rivet)]

image = moved(piece, Affine.scaling(-1, 1))
assert where(replace(pattern, pieces=(image,))) == [[-30.0, 20.0]]
again = renewed(piece, Uids(pattern.uids()), name="flap-2")
assert again.others[0].uid != rivet.uid
assert len(set(replace(pattern, pieces=(piece, again)).uids())) == 12  # two pieces, eight edges, two rivets

(stroke,) = [stroke for stroke in piece_ink(piece, derive(piece)).strokes if stroke.role.name == "rivet"]
assert stroke.of == "r1"

data = write(drawing, pattern)
_, back, notes = read(data)
assert notes == [] and differences(back, pattern, tolerance=1e-6) == []
shifted = replace(piece, others=(replace(rivet, at=rivet.at + 1),))
assert differences(back, replace(pattern, pieces=(shifted,)), tolerance=1e-6) != []
assert pattern_record(back)["pieces"][0]["rivets"] == [{"at": [30.0, 20.0], "size": 9.0}]

text = data.decode()
(symbol,) = re.findall(r'<path [^>]*drawn="rivet"[^>]*/>', text)
by_hand = text.replace(symbol, symbol.replace("<path ", '<path transform="translate(5,-8)" ', 1))
assert where(read(by_hand.encode())[1]) == [[35.0, 12.0]], where(read(by_hand.encode())[1])
assert where(read(text.replace(symbol, "").encode())[1]) == []
damaged = text.replace("'size':9", "'size':-9")
assert damaged != text and read(damaged.encode())[1].pieces == ()
print("all of it")
"""


def test_a_kind_of_mark_is_one_file_of_the_model_and_its_symbol(tmp_path):
    """Moved, mirrored, copied, drawn, written, read, moved by hand, deleted by hand, compared, listed, refused."""
    tree = copied(tmp_path, {"pattern/marks/rivet.py": KIND, "marking/symbols/rivet.py": SYMBOL})
    assert tree.told(["-c", USE]) == ["all of it\n"]
    added, edited = tree.touched()
    print(f"a kind of mark: {len(added)} files added, {len(edited)} edited")
    assert (len(added), edited) == (2, [])


@dataclass(frozen=True, kw_only=True)
class Tab(Mark):
    """A kind that stands on an edge."""

    edge: str
    at: Position

    role: ClassVar[str] = "tab"
    plural: ClassVar[str] = "tabs"

    def stands_on(self) -> OnEdge:
        return OnEdge(self.edge, self.at)

    def put_on(self, edge: str, at: Position) -> Tab:
        return replace(self, edge=edge, at=at)


def test_an_added_mark_on_an_edge_is_carried_when_the_edge_changes():
    ring = [(0, 0), (90, 0), (90, 60), (0, 60)]
    edges = [Edge(uid=str(k), name=f"e{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4)]
    tabs = tuple(
        Tab(uid=uid, edge=edge, at=Position(mode="start", value=70.0)) for uid, edge in (("a", "0"), ("b", "2"))
    )
    old = Piece(uid="p", name="p", edges=tuple(edges), others=tabs)
    half = Edge(uid="h", name="h", parts=(line((50, 0), (90, 0)),))
    new = replace(old, edges=(replace(edges[0], parts=(line((0, 0), (50, 0)),)), half, *edges[1:]))
    ways = {"0": (Way(0, 50, "0", 0, 50), Way(50, 90, "h", 0, 40))}
    found, dropped = applied(Pattern(pieces=(old,)), Change(pieces=(new,), ways=ways))
    assert [(tab.edge, tab.at.value) for tab in found.pieces[0].marks_of(Tab)] == [("h", 20.0), ("2", 70.0)]
    assert dropped == ()
    short = replace(old, edges=(*edges[:2], replace(edges[2], parts=(line((90, 60), (50, 60)),)), *edges[3:]))
    carried, said = fitted(short)
    assert [tab.at.value for tab in carried.marks_of(Tab)] == [70.0, 40.0]
    assert [str(one) for one in said] == [
        "a tab lay beyond the end of p.e2, which is shorter now; it stands at its end"
    ]
