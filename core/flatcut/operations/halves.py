"""`halves`: a pair as two pieces, left and right."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.copies.halving import SIDES, halved
from flatcut.declared.fields import choice, piece_names, refs
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern, checked_name


@operation(menu="Derive", title="Left and right apart")
@dataclass(frozen=True, kw_only=True)
class MakeHalves(Operation):
    """Make a pair two pieces, left and right as worn, so that they can be made unlike.

    Each is cut once with its right side up; seams are stated for both sides of the body. Which half is drawn is told
    from the centre edge and the hem: a back that lies to the right of its centre is the right one, a front the left.
    """

    target: tuple[Place, ...] = refs("piece", ("pieces", "that are cut as pairs"))
    names: tuple[str, ...] = piece_names(("names", "of the left and the right one", "the name with -left, -right"))
    drawn: str = choice("", ("drawn is", "the half that is drawn, as worn", "what the piece tells"), ("", *SIDES))

    def spelled(self, after: Pattern) -> MakeHalves:
        """With the names of its pieces, where they are the usual ones."""
        return self if self.names or len(self.target) != 1 else replace(self, names=self._names(self.target[0].piece))

    def _names(self, name: str) -> tuple[str, ...]:
        given = tuple(checked_name(one, kind="piece's name") for one in self.names)
        return given or tuple(f"{name}-{side}" for side in SIDES)

    def _apply(self, pattern: Pattern) -> Outcome:
        wanted = list(dict.fromkeys(place.piece for place in self.target))
        if self.names and (len(self.names) != 2 or len(wanted) != 1):
            raise UsageError(Option("names"), " takes the names of the left and the right half of one piece")
        figures: list[Figure] = []
        said: list[str] = []
        for name in wanted:
            piece = pattern.piece(name)
            names = self._names(name)
            taken = {p.name for p in pattern.pieces} - {name}
            clash = next((one for one in names if one in taken), "")
            if clash or names[0] == names[1]:
                raise UsageError(
                    f"there is a piece '{clash or names[0]}' already; give other names with ", Option("names")
                )
            pattern, more = halved(pattern, piece, names, self.drawn)
            said += more
            figures += [Figure(f"{one} cut", 1, "") for one in names]
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(said))
