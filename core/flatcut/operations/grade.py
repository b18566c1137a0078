"""`grade`: the pattern in another size, by the rules of its cardinal points."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from flatcut.declared.fields import field_of, file, text
from flatcut.declared.kinds import File
from flatcut.errors import FlatcutError, InputError, Option, UsageError
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.region import nearest_pairs, overlap_area
from flatcut.grading.grading import graded
from flatcut.grading.rules import Go, Rules, goes_of, numbered_of_text, rows_of, rules_of_text
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Rename
from flatcut.pattern.values import Figure, Pattern, Piece, outline
from flatcut.reading import TABLE, read_limited
from flatcut.tables import ROW, TABLES, cells, one_line, text_of

OVER = 1.0
"""mm²: pieces that share more lie over each other."""
ENDINGS = ("toml", "rul", *TABLES)
_Read = TypeVar("_Read")


class _RuleFile(File):
    """A rule table, by its file or as the rows that a recorded step holds; these name pieces."""

    def renamed(self, value: Any, name: Rename) -> Any:
        """With the pieces of its rows renamed."""
        if not value or value.lower().rpartition(".")[2] in ENDINGS:
            return value
        return _rows(_renamed(go, name) for go in goes_of(cells(value)))


def _renamed(go: Go, name: Rename) -> Go:
    up = None if go.up is None else (go.up[0].renamed(name), go.up[1].renamed(name))
    return replace(go, place=go.place.renamed(name), up=up)


def _rows(goes: Iterable[Go]) -> str:
    """The rows on one line."""
    rows = rows_of(goes)
    return one_line("\n".join(",".join(row) for row in rows)) if len(rows) > 1 else "point,right,up" + ROW


@operation(menu="Sizes", title="Grade to a size")
@dataclass(frozen=True, kw_only=True)
class Grade(Operation):
    """Make the pattern another size by a rule table: how far each cardinal point goes.

    Curves between keep their shape, and darts, notches, lines, grain and marks go along. The table is a TOML file, or a
    rule file (.rul) with a TOML file that says which rule each point has. The size that the pattern has is that of its
    style, or the table's base size.
    """

    rules: str = field_of(
        _RuleFile(what="rule table", more=".toml, or .rul with the points' rules beside it", endings=ENDINGS), ""
    )
    points: str = file("", ("rules of the points", "a .toml file, where the rules are a .rul file"), ("toml",))
    size: str = text("", ("size that it becomes", "one of the rule table"))
    from_: str = text("", ("size that it has", "", "that of the style, or the base size"))

    def _settled(self, pattern: Pattern) -> Grade:
        """What is recorded is how far each point goes, so that the step replays without the file."""
        if not self.rules:
            raise UsageError("grade wants a rule table; give ", Option("rules"))
        if not self.size:
            raise UsageError("grade wants the size that the pattern becomes; give ", Option("size"))
        if self.rules.lower().rpartition(".")[2] not in ("toml", "rul"):
            return replace(self, rules=one_line(text_of(self.rules, also=("toml", "rul"))))
        table = self._table()
        start = self.from_ or (pattern.style.size if pattern.style.size in table.sizes else table.base)
        if pattern.style.size and not self.from_ and pattern.style.size not in table.sizes:
            raise UsageError(
                f"the pattern is size {pattern.style.size}, which the rule table does not have; say which of its sizes "
                "the pattern has with ",
                Option("from"),
            )
        return replace(self, rules=_rows(table.between(start, self.size)), points="", from_="")

    def _table(self) -> Rules:
        if self.rules.lower().endswith(".toml"):
            return _of_file(self.rules, rules_of_text)
        if not self.points:
            raise UsageError(
                "a rule file does not say which point has which rule; give a TOML file with ", Option("points")
            )
        numbered = _of_file(self.rules, numbered_of_text)
        return _of_file(self.points, lambda text: rules_of_text(text, numbered))

    def _apply(self, pattern: Pattern) -> Outcome:
        found = graded(pattern, goes_of(cells(self.rules)))
        after = replace(found.pattern, style=replace(found.pattern.style, size=self.size))
        figures = [Figure("pieces graded", found.moved, "")]
        if found.moved:
            figures.append(Figure("farthest that a point goes", found.farthest))
            figures.append(Figure("largest change of a line's direction", found.turned.degrees, "°"))
        warnings = [*found.warnings, *_newly_over(pattern.pieces, after.pieces)]
        return Outcome(pattern=after, figures=tuple(figures), warnings=tuple(warnings))


def _newly_over(before: Sequence[Piece], after: Sequence[Piece]) -> Iterable[str]:
    """A sentence where pieces that lay apart lie over each other now."""
    rings = [[flatten(chain(outline(piece), within=1e-6), tolerance=0.1) for piece in some] for some in (before, after)]
    pairs = [
        f"{after[a].name} and {after[b].name}"
        for a, b, away in nearest_pairs(rings[1], within=0.0)
        if away == 0 and overlap_area(rings[1][a], rings[1][b]) > OVER >= overlap_area(rings[0][a], rings[0][b])
    ]
    if pairs:
        yield (
            f"{', '.join(pairs[:3])}{' ...' if len(pairs) > 3 else ''} lie over each other in this size; `arrange` "
            "lays the pieces side by side"
        )


def _of_file(name: str, read: Callable[[str], _Read]) -> _Read:
    try:
        text = read_limited(name, TABLE, what="a rule table").decode("utf-8-sig")
    except FlatcutError:
        raise
    except UnicodeDecodeError:
        raise InputError(f"the rule table {name} is no text in UTF-8; save it so") from None
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", "") or str(error)).lower()
        raise InputError(f"the rule table {name} cannot be read: {reason}") from None
    try:
        return read(text)
    except FlatcutError as error:
        raise type(error)(f"{name}: ", *error.parts) from None
