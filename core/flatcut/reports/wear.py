"""`wear`: the sewn garment on a body form, computed from its pieces."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, ClassVar

from flatcut.blocks.body import MEASUREMENTS, checked, measures_of_file
from flatcut.declared.fields import choice, file, further, length, number, piece_names, texts
from flatcut.errors import Option, UsageError
from flatcut.formats.worn_page import Shown, worn_page
from flatcut.pattern.values import Figure, Pattern
from flatcut.reports.report import Input, Inputs, Made, Report, Result, joined, report
from flatcut.stopping import softly
from flatcut.worn.caution import CAUTION
from flatcut.worn.choosing import chosen, limbs_of, with_guessed
from flatcut.worn.cloth import CLOTHS
from flatcut.worn.form import NEEDED, form_of
from flatcut.worn.numbered import numbered
from flatcut.worn.placing import ARMS, SIDES
from flatcut.worn.rest import Limit
from flatcut.worn.showing import form_mesh, lines_said, said_html, spots, vertices
from flatcut.worn.showing import record as figures_record
from flatcut.worn.telling import hold, told
from flatcut.worn.wearing import ready, worn


@report
@dataclass(frozen=True, kw_only=True)
class Wear(Report):
    """See a garment worn: its pieces sewn, put on a body form and brought to rest, on a page that turns.

    The form comes from the body in the drawing, or from a file. Darts, pleats, gathers and seams are closed as the
    pattern states them; sides that lap are closed at their centre line. Sleeves go round arms, trousers round legs;
    bands, cuffs and tiers go on from the edges they are sewn to, and collars are turned over. Facings, linings, pockets
    and bindings are left out and named: cloth does not feel other cloth. Several drawings, such as sizes, stand beside
    each other. A computed picture replaces no toile.
    """

    usage: ClassVar[str] = "flatcut wear IN.svg... -o OUT.html [--cloth=calico] [--name=value...]"
    saves: ClassVar[str] = ".html"
    file_type: ClassVar[str] = "Garment worn, a page"
    title: ClassVar[str] = "Worn on a form"
    records: ClassVar[bool] = True
    doing: ClassVar[str] = "worn"

    cloth: str = choice("calico", ("cloth", "figures of ordinary size"), tuple(CLOTHS))
    measures: str = file("", ("body to wear it", "a file of measurements", "the body in the drawing"), ("toml",))
    mesh: float = length(12.0, ("width of the net", "finer takes longer"), low=6, high=30)
    seconds: float = number(
        120, ("seconds at most", "for each drawing; then what there is"), low=2, high=3600, digits=0
    )
    pieces: tuple[str, ...] = further(piece_names(("only these pieces", "", "all that can be worn")))
    place: tuple[str, ...] = further(
        texts(("where pieces belong", "PIECE:front, back, left-arm or right-arm", "by their names"))
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        self.places()

    def places(self) -> dict[str, str]:
        """Where pieces belong, by their names. Errors: UsageError."""
        found: dict[str, str] = {}
        for one in self.place:
            name, _, side = one.partition(":")
            if not name or side not in (*SIDES, *ARMS):
                raise UsageError(f"'{one}' says no place; write {' or '.join(f'PIECE:{s}' for s in (*SIDES, *ARMS))}")
            found[name] = side
        return found

    def run(self, inputs: Inputs) -> Result:
        """One page of all drawings, and their figures."""
        ready()
        parts = list(inputs.each(partial(self._worn, inputs.watch)))
        inputs.watch("")
        notes = tuple(note for part in parts for note in part.notes)
        said = [line for part in parts for line in ([f"{part.shown.title}:"] if len(parts) > 1 else []) + part.lines]
        levels = [level for level in parts[0].record["levels"] if level["ease"] is not None] if len(parts) == 1 else []
        records = [part.record for part in parts]
        title = ", ".join(part.shown.title for part in parts) + " worn"
        return Result(
            said=joined([*said, CAUTION]),
            record=records[0] if len(records) == 1 else records,
            files=(Made(chunks=[worn_page(title, [part.shown for part in parts]).encode()]),),
            figures=tuple(Figure(f"ease at the {level['name']}", level["ease"]) for level in levels),
            notes=notes,
            noted=bool(notes) or not all(part.record["at_rest"] for part in parts),
        )

    def _worn(self, watch: Callable[[str], None], one: Input) -> _Worn:
        asked = self.evaluated(one.pattern)
        of_each = numbered(one.pattern, asked.pieces, asked.places())
        places = with_guessed(of_each.pattern, of_each.places)
        guessed = {name: side for name, side in places.items() if name not in of_each.places}
        body = asked.body(one.pattern)
        pieces, left = chosen(of_each.pattern, of_each.names, places)
        form = form_of(body, limbs_of(pieces, places))
        size = one.pattern.style.size
        title = " ".join(word for word in (one.pattern.style.name or one.title or "garment", size) if word)
        with softly() as stopped:
            found = worn(
                of_each.pattern,
                pieces,
                form,
                CLOTHS[asked.cloth],
                mesh=asked.mesh,
                places=places,
                limit=Limit(time.monotonic() + asked.seconds, stopped),
                told=lambda text: watch(f"{title}: {text}"),
            )
        of = told(found, places)
        hold(of)
        record = figures_record(found, of, asked.cloth, left)
        record["notes"] += of_each.said
        record["notes"] += [f"{name} belongs to the {side}, as no other piece does" for name, side in guessed.items()]
        points, normals, triangles = form_mesh(form)
        shown = Shown(
            title=title,
            **vertices(found, of),
            form=points,
            form_normal=normals,
            form_triangles=triangles,
            spots=spots(of),
            said=said_html(record),
        )
        notes = tuple(finding.text for finding in one.findings)
        return _Worn(shown=shown, record=record, lines=lines_said(record), notes=notes)

    def body(self, pattern: Pattern) -> Mapping[str, float]:
        """The body that wears it, mm. Errors: UsageError where a girth that no form is made without is not known."""
        body = measures_of_file(self.measures) if self.measures else dict(pattern.body)
        lost = [name for name in NEEDED if name not in body]
        if lost:
            raise UsageError(
                f"a form needs the {lost[0]} of the body, and the drawing does not know it; give a file with ",
                Option("measures"),
                f", such as one with the lines {' and '.join(f'{name} = ...' for name in NEEDED)}",
            )
        return {name: checked(name, value) if name in MEASUREMENTS else value for name, value in body.items()}


@dataclass(frozen=True, kw_only=True)
class _Worn:
    """What came of one drawing."""

    shown: Shown
    record: dict[str, Any]
    lines: list[str]
    notes: tuple[str, ...]
