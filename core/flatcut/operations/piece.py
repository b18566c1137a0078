"""`piece`: closed paths become pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from flatcut.declared.calling import called
from flatcut.declared.fields import choice, file, flag, further, length, number, piece_names, refs, span
from flatcut.errors import GeometryError, InputError, Option, UsageError, unknown
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import bounds, chain, flatten, transform
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import Done, Operation, Outcome, operation
from flatcut.outlines.forgotten import SMALLEST, forgotten, gap
from flatcut.outlines.gathering import Gathered, gather, is_outline
from flatcut.outlines.making import Made, Manner, make, size, take_apart
from flatcut.outlines.naming import drawn_name
from flatcut.outlines.notching import DEEPEST, WIDEST
from flatcut.outlines.piece_table import applied, matched, rows
from flatcut.outlines.pointing_rows import pointed_at
from flatcut.pattern.assembling import free_place
from flatcut.pattern.measuring import distance
from flatcut.pattern.places import Drawn, Place
from flatcut.pattern.renewing import free_name, numbered
from flatcut.pattern.selection import Selection
from flatcut.pattern.tracing import CORNER_ANGLE
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import DrawnPath, DrawnText, Figure, Pattern, Piece, checked_name, outline
from flatcut.photograph.library import ENDINGS
from flatcut.tables import TABLES, one_line, text_of
from flatcut.units import DRAWING_UNITS, plain

LARGEST = 3000.0
"""mm: a piece larger than this, or smaller than SMALLEST, over its longer side is likely in the wrong unit (common
practice, no source)."""
PHOTO = "Photograph"
"""The tab of the dialog for a piece that lies on a table."""
TRIES = 6
"""Scalings until a known distance is right; the second is exact unless notches come or go with the size."""


@operation(menu="Prepare", title="Make piece")
@dataclass(frozen=True, kw_only=True)
class MakePieces(Operation):
    """Make pieces of closed paths: the outline drawn is the stitch line, or the cut line with its allowance.

    Edges run from corner to corner, clockwise, and are called e1, e2 ... until they are named. Small cuts into an
    outline are notches; darts cut in or drawn as lines are found; outlines of many points are made into few curves.
    With --photo a paper piece is drawn from a photograph in which a control square lies flat beside it.
    """

    target: tuple[Drawn, ...] = refs("drawn", ("closed paths", "none means every closed path"), optional=True)
    names: tuple[str, ...] = piece_names(
        ("names of the pieces", "with commas: in the order in which they were clicked, of the drawing if all at once")
    )
    outline: str = choice("net", ("what is drawn", "the stitch line (net), or the cut line"), ("net", "cut"))
    width: float | None = length(
        None, ("allowance in a cut line", "that the drawn cut line includes"), low=0.1, high=200
    )
    drawing_unit: str = choice(
        "",
        ("unit of the drawing", "that the numbers of the file are meant in", "as the file says"),
        ("", *DRAWING_UNITS),
    )
    known: tuple[Place, ...] = further(
        span(("two places a known way apart", "front.e1/e2..front.e3/e4 sets the scale by two corners"))
    )
    is_: float | None = further(length(None, "the known distance", low=1))
    corner_angle: float = number(
        CORNER_ANGLE,
        ("a corner turns more than, °", "degrees; a smaller kink stays inside its edge"),
        low=1,
        high=90,
        digits=1,
    )
    notch_depth: float = length(
        DEEPEST, ("deepest notch", "a deeper cut is outline; 0 means that there are none"), high=50
    )
    notch_width: float = length(WIDEST, ("widest notch", "a wider cut is outline"), high=50)
    keep_points: bool = flag(
        False, ("keep all points as drawn", "of an outline of many points, which is else made into few curves")
    )
    table: str = file("", ("table of the pieces", "a .csv file of names, widths, quantities and materials"), TABLES)
    photo: str = further(
        file("", ("photograph of a paper piece", "that lies flat beside a control square"), ENDINGS), PHOTO
    )
    square: float | None = further(
        length(None, ("side of the control square", "as measured, over the black of its marks"), low=30, high=1000),
        PHOTO,
    )

    @property
    def begins(self) -> bool:
        """A photograph needs no drawing before it."""
        return bool(self.photo)

    def perform(self, pattern: Pattern, selection: Selection | None = None) -> Done:
        """What is photographed is drawn first, and the step is recorded as one on that outline."""
        if bool(self.photo) != (self.square is not None):
            raise UsageError(
                Option("photo", "FILE"),
                " and ",
                Option("square", "LENGTH"),
                " go together: the side of the control square on the table, as measured",
            )
        if not self.photo:
            return super().perform(pattern, selection)
        if self.target or self.drawing_unit:
            raise UsageError(
                Option("photo"), " brings its own outline and scale; make other outlines pieces by themselves"
            )
        from flatcut.photograph.photographed import drawn_at, photographed  # a press without one loads none of it

        side = self.evaluated(pattern).square
        assert side is not None
        found = photographed(self.photo, float(side))
        path = drawn_at(found, free_place(pattern), {thing.id for thing in pattern.drawn})
        ground = replace(pattern, drawn=(*pattern.drawn, path))
        target = (Drawn(number=len(closed_paths(ground))),)
        done = replace(self, photo="", square=None, target=target).perform(ground)
        step = replace(
            done.step,
            figures=(*found.figures(float(side)), *done.step.figures),
            warnings=(*found.warnings(), *done.step.warnings),
        )
        return done._replace(step=step, pattern=replace(done.pattern, steps=(*done.pattern.steps[:-1], step)))

    def _settled(self, pattern: Pattern) -> MakePieces:
        if self.table:
            # what is recorded is the text, so that the step replays without the file
            return replace(self, table=one_line(text_of(self.table)))._with_targets(pattern)
        return self._with_targets(pattern)

    def spelled(self, after: Pattern) -> MakePieces:
        """With the names of all its pieces: those of the drawing's pieces, where none was joined or came otherwise."""
        commands = [step.line.partition(" ")[0] for step in after.steps]
        made = [piece.name for piece in after.pieces]
        if self.target and len(self.names) == len(self.target):
            return self
        alone = commands.count("piece") == 1 and not {"join", "block"} & set(commands)
        if not alone or len(self.target) not in (0, len(made)):
            raise UsageError(
                "a step 'piece' left the names of its pieces to the drawing, and so they cannot be others; give it ",
                Option("names"),
                ", or collect without ",
                Option("prefix"),
            )
        return replace(self, names=(*self.names, *made[len(self.names) :]))

    def _with_targets(self, pattern: Pattern) -> MakePieces:
        if not self.target:
            return self
        order = [drawn.id for drawn in closed_paths(pattern)]
        target: list[Drawn] = []
        passed: list[str] = []
        for one in self.target:
            wanted = one.id
            if one.number:
                if one.number > len(order):
                    raise UsageError(
                        f"'{one}' is not there; the document has {len(order)} closed paths that are no piece"
                    )
                target.append(one)
            elif wanted in order:
                target.append(Drawn(number=order.index(wanted) + 1))
            elif wanted in clones_of_several(pattern):
                raise InputError(f"'{wanted}' is a clone of several shapes; unlink it, and select one of them")
            elif wanted in [thing.id for thing in pattern.drawn]:
                passed.append(wanted)
            else:
                raise unknown("closed path", wanted, order)
        # who selects a whole drawing selects its texts and lines too
        if passed and not target:
            thing = next(t for t in pattern.drawn if t.id == passed[0])
            if isinstance(thing, DrawnText):
                raise InputError(f"{called(thing)} is selected, and a closed path is wanted; select an outline")
            if len(thing.curves) == 1:
                away = gap(thing.curves[0])
                raise InputError(
                    f"{called(thing)} is not closed: its ends are {away:.2f} mm apart; close it, or select another"
                )
            raise InputError(f"{called(thing)} is not one closed path; close it, or select another")
        return replace(self, target=tuple(target))

    def _apply(self, pattern: Pattern) -> Outcome:
        self._check(pattern)
        paths = closed_paths(pattern)
        if self.target:
            paths = [paths[one.number - 1] for one in self.target]
        if not paths:
            usual = "what is drawn are pieces already" if pattern.pieces else "draw one, or close the outline"
            said = next(forgotten(*_open_ones(pattern, set())), usual)
            raise InputError(f"there is no closed path to make a piece of; {said}")
        scale = DRAWING_UNITS[self.drawing_unit] / pattern.user_unit if self.drawing_unit else 1.0
        if self.known:
            scale, made = self._to_scale(pattern, paths, scale)
        else:
            made = self._made(pattern, paths, scale)
        return self._outcome(pattern, made, scale, paths if self.target else [])

    def _check(self, pattern: Pattern) -> None:
        """Errors: UsageError for options that do not go together."""
        if (self.outline == "cut") != (self.width is not None):
            raise UsageError(
                Option("outline", "cut"),
                " and ",
                Option("width"),
                " go together: the allowance that the drawn cut line includes",
            )
        if bool(self.known) != (self.is_ is not None):
            raise UsageError(
                Option("known", "PLACE..PLACE"),
                " and ",
                Option("is", "LENGTH"),
                " go together, such as ",
                Option("is", "20in"),
            )

    def _made(self, pattern: Pattern, paths: list[DrawnPath], scale: float) -> _Batch:
        """The pieces of all outlines at one scale; without targets a faulty one is left as drawn and told."""
        things = [_scaled(thing, scale) for thing in _loose(pattern)]
        by_id = {thing.id: thing for thing in things if isinstance(thing, DrawnPath)}
        outlines = gather([by_id[path.id] for path in paths], things)
        if len(self.names) > len(outlines):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(outlines)} outlines; give one for each"
            )
        width = None if self.width is None else float(self.width)
        manner = Manner(
            corner_angle=self.corner_angle,
            deepest=float(self.notch_depth),
            widest=float(self.notch_width),
            keep_points=self.keep_points,
            width=width,
        )
        lines = [thing for thing in things if isinstance(thing, DrawnPath) and not is_outline(thing)]
        told = matched(rows(self.table) if self.table else [], outlines, lines)
        if width is not None and any(row.width is not None for row, _ in told.pointers):
            raise UsageError("a cut line includes one width all round; leave out the widths of single edges")
        named = [self.names[k] if k < len(self.names) else row.name for k, row in enumerate(told.rows)]
        taken = _free({piece.name for piece in pattern.pieces}, named)
        uids = Uids(pattern.uids())
        batch = _Batch(read=_read(outlines))
        if self.table:
            batch.read |= {path.id for path in lines}
        faults: list[InputError] = []
        apart = take_apart(outlines, manner)
        for found, name, row, parts in zip(outlines, named, told.rows, apart, strict=True):
            name, said = (name, []) if name else _name(found, taken)
            own = manner if width is None or row.width is None else replace(manner, width=row.width)
            try:
                made = make(name, found, own, uids, parts)
            except InputError as error:
                if self.target or name in self.names:
                    raise
                faults.append(error)
                continue
            taken.add(name)
            batch.made.append(replace(made, piece=applied(made.piece, row), warnings=(*said, *made.warnings)))
        if faults and not batch.made:
            raise faults[0]
        batch.warnings = [*told.warnings, *(f"{fault}; it stays as drawn" for fault in faults)]
        pieces, batch.figures = pointed_at([made.piece for made in batch.made], told.pointers)
        batch.made = [replace(made, piece=piece) for made, piece in zip(batch.made, pieces, strict=True)]
        return batch

    def _known(self) -> str:
        return "..".join(map(str, self.known))

    def _to_scale(self, pattern: Pattern, paths: list[DrawnPath], scale: float) -> tuple[float, _Batch]:
        """The scale at which the known distance is right, and the pieces there.

        What is a notch depends on the size, and so do the names of corners: the search starts at the scale of the
        drawing, and then where an outline is about as large as the distance.
        """
        assert self.is_ is not None
        widest = max(max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (bounds(c) for path in paths for c in path.curves))
        fault: UsageError | None = None
        for start in (scale, *(share * float(self.is_) / widest for share in (1.0, 2.0, 4.0))):
            try:
                found = self._right_scale(pattern, paths, start)
            except UsageError as error:
                fault = fault or error
                continue
            if found is not None:
                return found
        raise fault or UsageError(
            f"--known={self._known()} means another distance at each size, since small cuts become notches; "
            "take corners without cuts between them"
        )

    def _right_scale(self, pattern: Pattern, paths: list[DrawnPath], scale: float) -> tuple[float, _Batch] | None:
        assert self.is_ is not None
        for _ in range(TRIES):
            batch = self._made(pattern, paths, scale)
            pieces = tuple(made.piece for made in batch.made)
            there = distance(Pattern(pieces=pieces), *(_full(place, pieces) for place in self.known))
            if there < 1e-9:
                raise UsageError(Option("known", f"{self._known()}"), " is no distance; give two places that are apart")
            if abs(there / float(self.is_) - 1) < 1e-6:
                return scale, batch
            scale *= float(self.is_) / there
        return None

    def _outcome(self, pattern: Pattern, batch: _Batch, scale: float, first: Sequence[DrawnPath]) -> Outcome:
        """first: the paths that are named, in that order, so that what the step keeps says which they are."""
        figures: list[Figure] = []
        warnings = list(batch.warnings)
        for made in batch.made:
            figures += [*made.figures, *_strays(made)]
            warnings += made.warnings
        figures += batch.figures
        sizes = [(size(made.piece), made.piece.name) for made in batch.made]
        for name, (mm, piece) in (("largest", max(sizes)), ("smallest", min(sizes))):
            figures.append(Figure(f"{name} piece, {piece}, longer side", mm))
        warnings += [
            f"{piece} is {plain(mm, 1)} mm over its longer side; check the unit of the drawing"
            for mm, piece in sizes
            if not SMALLEST <= mm <= LARGEST
        ]
        if abs(scale - 1) > 1e-9:
            figures.append(Figure("scale", scale, "times the document's own"))
            warnings.append("only what is part of a piece was scaled; the rest of the drawing keeps its size")
        if len(self.target) != 1:
            warnings += forgotten(*_open_ones(pattern, batch.read))
            warnings += [
                f"'{name}' is a clone of several shapes and no piece; unlink it to make pieces of them"
                for name in sorted(clones_of_several(pattern))
            ]
        taken = {part for made in batch.made for part in made.taken}
        left = tuple(thing for thing in pattern.drawn if thing.id not in taken)
        pieces = (*pattern.pieces, *(made.piece for made in batch.made))
        named = {path.id for path in first}
        rest = (thing for thing in _loose(pattern) if thing.id in batch.read and thing.id not in named)
        return Outcome(
            pattern=replace(pattern, pieces=pieces, drawn=left),
            figures=tuple(figures),
            warnings=tuple(warnings),
            drawn=(*first, *rest),
        )


def _free(taken: set[str], named: list[str]) -> set[str]:
    """All names in use once the given ones are given. Errors: UsageError for one that is given twice or taken."""
    used = set(taken)
    for name in filter(None, named):
        checked_name(name, kind="piece's name")
        if name in used:
            raise UsageError(f"there is a piece '{name}' already; give another name")
        used.add(name)
    return used


def _name(outline: Gathered, taken: set[str]) -> tuple[str, list[str]]:
    """The name of an outline that was given none, and what is to be said of it."""
    name, said = drawn_name(outline)
    if not name:
        return numbered("piece", taken), said
    free = free_name(name, taken)
    return free, [*said, *([f"a second outline called {name} became {free}"] if free != name else [])]


@dataclass(kw_only=True)
class _Batch:
    """The pieces made at one scale, and what is said of them together. read: ids of what was drawn there."""

    made: list[Made] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    read: set[str] = field(default_factory=set)


def _read(outlines: Sequence[Gathered]) -> set[str]:
    """Ids of outlines and of all that lies in them."""
    paths = {path.id for found in outlines for path in (found.path, *found.closed, *found.open)}
    return paths | {text.id for found in outlines for text in found.texts}


def closed_paths(pattern: Pattern) -> list[DrawnPath]:
    """Drawn paths that are closed and have not become part of a piece, in document order."""
    several = clones_of_several(pattern)
    return [t for t in _loose(pattern) if isinstance(t, DrawnPath) and is_outline(t) and t.id not in several]


def clones_of_several(pattern: Pattern) -> set[str]:
    """Ids of clones that show several shapes at once: none of these can be made anything without the others."""
    counts = Counter(thing.id for thing in pattern.drawn if isinstance(thing, DrawnPath))
    return {name for name, count in counts.items() if count > 1}


def _loose(pattern: Pattern) -> list[DrawnPath | DrawnText]:
    """What is drawn and no piece was made of."""
    taken: set[str] = set()
    for piece in pattern.pieces:
        taken |= {piece.origin, piece.cut_drawn}
        origins = [*(dart.origin for dart in piece.darts), *(line.origin for line in piece.lines)]
        taken |= {part for origin in origins for part in origin.split()}
    return [thing for thing in pattern.drawn if thing.id not in taken]


def _scaled(thing: DrawnPath | DrawnText, scale: float) -> DrawnPath | DrawnText:
    if scale == 1.0:
        return thing
    if isinstance(thing, DrawnText):
        return thing._replace(at=thing.at * scale)
    return thing._replace(curves=tuple(transform(curve, Affine.scaling(scale)) for curve in thing.curves))


def _full(place: Place, pieces: tuple[Piece, ...]) -> Place:
    """A place with its piece's name, which may be left out where there is one piece."""
    return replace(place, piece=pieces[0].name) if not place.piece and len(pieces) == 1 else place


def _strays(made: Made) -> list[Figure]:
    """How far the cut line that follows from the new stitch line lies from the one that was drawn."""
    if not made.piece.cut_drawn:
        return []
    try:
        cut = cut_line(made.piece)
    except GeometryError:
        return []  # told when the piece is drawn
    assert cut is not None
    away = nearest(made.outline, flatten(cut.curve, tolerance=0.05))[1].max()
    back = nearest(cut.curve, flatten(made.outline, tolerance=0.05))[1].max()
    return [Figure(f"{made.piece.name} cut line strays from the drawn one", float(max(away, back)))]


def _open_ones(pattern: Pattern, read: set[str]) -> tuple[list[DrawnPath], list[DrawnPath]]:
    """Drawn paths of no piece, and those of them that lie in none, as far as boxes tell. read: ids of what does."""
    pieces = [bounds(chain(outline(piece), within=float("inf"))) for piece in pattern.pieces]

    def inside(path: DrawnPath) -> bool:
        x0, y0, x1, y1 = bounds(path.curves[0])
        return path.id in read or any(a <= x0 and b <= y0 and x1 <= c and y1 <= d for a, b, c, d in pieces)

    paths = [thing for thing in _loose(pattern) if isinstance(thing, DrawnPath)]
    return paths, [path for path in paths if not inside(path)]
