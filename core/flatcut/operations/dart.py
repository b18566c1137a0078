"""`dart`: a dart made from what is drawn, drafted anew, or changed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.darts.dart_forms import as_cut, as_lines, without
from flatcut.darts.dart_in_outline import taken_from_outline
from flatcut.darts.darting import EQUAL, dart_figures, dart_of, in_corner, intake, single, straight_legs
from flatcut.darts.feet import evened
from flatcut.darts.opening import cut_between, cut_into_corner, cut_into_edge, drawn_on_edge
from flatcut.darts.targets import free_for_dart
from flatcut.declared.fields import choice, drawns, flag, further, length, ref, refs, text
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line
from flatcut.geometry.length import length as length_of
from flatcut.marking.pressed import capped as halves_of
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.outlines.darts_settled import double_dart, settled_dart
from flatcut.pattern.places import Drawn, Place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import find, named_edge, spot, spots
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Figure, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_length, to_drawn
from flatcut.reshape.change import Change, applied
from flatcut.truing.after import trued_after
from flatcut.units import plain

_UNBORN = line((0.0, 0.0), (1.0, 0.0))
"""Stands for legs that are drawn by what makes the dart."""


@operation(menu="Darts", title="Make dart")
@dataclass(frozen=True, kw_only=True)
class MakeDart(Operation):
    """Make a dart, or change one: name, pressing, form, legs.

    With --intake and --point a new one is drafted at a place on an edge or at a corner, or, with --lower, a
    double-pointed one about a place inside the piece. Without --intake a corner is the point of a V that stands in the
    outline. Drawn lines become a dart where they are selected.
    """

    target: tuple[Place, ...] = refs(
        ("place", "dart"), ("dart, or place of a new one", "a dart to change, or where a new one stands"), optional=True
    )
    intake: float | None = length(None, "width of a new dart at its mouth", high=500)
    point: Place | None = ref(
        "place", ("place where a new dart ends", "the upper end of a double-pointed one"), filled=False
    )
    lower: Place | None = further(ref("place", ("its lower end", "of a double-pointed dart"), filled=False))
    feet: tuple[Place, ...] = further(
        refs(
            "place",
            ("its two feet", "the places where the legs start, in place of one place and a width"),
            filled=False,
        )
    )
    form: str = further(choice("", ("form", "cut into the outline, or drawn as lines inside it"), ("", "cut", "lines")))
    name: str = text("", "name of the dart", named=True)
    pressed: Place | None = ref(
        "edge",
        ("pressed toward", "an edge, or open, or usual for what is usual where it stands"),
        filled=False,
        words=("open", "usual"),
    )
    equal: bool = flag(False, ("make its legs equally long", "by moving both feet along them"))
    remove: bool = further(flag(False, ("take the dart away", "it is not sewn; the edge runs on over its mouth")))
    drawn: tuple[Drawn, ...] = drawns(("drawn lines", "or a closed shape with two points, that are the dart"))

    def _settled(self, pattern: Pattern) -> MakeDart:
        if not self.drawn or self.feet or self.lower:
            return self
        places = {"target": (), **settled_dart(pattern, self.drawn)}
        return replace(self, **places)  # type: ignore[arg-type]  # names of its own fields

    def _apply(self, pattern: Pattern) -> Outcome:
        darts = [found for place in self.target if (found := whole_dart(pattern, place)) is not None]
        if self.drawn:
            gone = {one.id for one in self.drawn}
            pattern = replace(pattern, drawn=tuple(thing for thing in pattern.drawn if thing.id not in gone))
        if darts and not self.feet:
            return self._changed(pattern, darts)
        change, dart, figures = self._made(pattern)
        before = pattern.piece_of(change.pieces[0].uid)
        pattern, dropped = applied(pattern, change)
        pattern, piece, dart, more = self._finished(pattern, pattern.piece_of(before.uid), dart)
        figures = [*dart_figures(piece, dart), *figures, *more]
        figures += [
            Figure(f"{piece.name} area", abs(area(piece)) / 100, "cm²"),
            Figure(f"{piece.name} area changed by", (abs(area(piece)) - abs(area(before))) / 100, "cm²"),
        ]
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=(*_uneven(piece, dart), *dropped))

    def _made(self, pattern: Pattern) -> tuple[Change, Dart, list[Figure]]:
        """The change that makes the new dart."""
        if self.feet:
            if len(self.feet) != 2 or not self.point:
                raise UsageError(
                    "a dart between two places takes ", Option("feet", "PLACE,PLACE"), " and ", Option("point")
                )
            piece = pattern.piece_of(spot(pattern, self.feet[0]).piece)
        else:
            if len(self.target) != 1:
                raise UsageError("dart wants a dart, or the place of a new one; select one or name it")
            piece = pattern.piece_of(spots(pattern, self.target[0])[0].piece)
        name = free_for_dart(piece, self.name or numbered("dart", piece.names()))
        uids = Uids(pattern.uids())
        uid = uids.fresh("dart", piece.uid, name)
        dart = Dart(uid=uid, name=name, legs=(_UNBORN, _UNBORN), host=piece.edges[0].uid)
        if self.feet:
            return self._between(pattern, piece, dart, uids)
        if self.lower:
            return self._double(pattern, piece, dart)
        place = self.target[0]
        corner = bool(place.other) and place.at is None and place.other in {e.name for e in piece.edges}
        if self.intake is None:
            if not corner:
                raise UsageError(
                    "a new dart takes ",
                    Option("intake"),
                    " and ",
                    Option("point"),
                    "; a V that stands in the outline is named by its corner",
                )
            return self._from_outline(pattern, piece, place, dart)
        if not self.point:
            raise UsageError("a new dart takes ", Option("point"), ", the place where it ends")
        apex = self._end(pattern, piece, self.point)
        if corner:
            first, second = piece.edge(place.name), piece.edge(place.other)
            edge = first if piece.after(first).uid == second.uid else second
            if self.form == "lines":
                raise UsageError("a dart in a corner is cut into the outline; leave ", Option("form"), " out")
            result, stray = cut_into_corner(piece, edge, apex, self.intake, dart)
            return result, dart, [Figure(f"{piece.name}.{edge.name}/{piece.after(edge).name} drawn on by", stray)]
        found = spot(pattern, place)
        if not found.edge:
            raise UsageError(f"'{place}' lies on no edge; write a place on an edge, such as {piece.name}.EDGE@1/2")
        edge = piece.edge_of(found.edge)
        at = to_drawn(edge, found.sewn)
        if self.form == "lines":
            ends = at - self.intake / 2, at + self.intake / 2
            inside = drawn_on_edge(piece, edge, ends, apex, dart, uids)
            if not _uneven(piece, dart_of(inside.pieces[0], dart.uid)):
                return inside, dart, []
            # the edge lies aslant: it is redrawn for equal legs as for a dart that is cut in, and runs along its cap
        result, stray = cut_into_edge(piece, edge, at, apex, self.intake, dart)
        lost = drawn_length(edge) - drawn_length(result.pieces[0].edge_of(edge.uid))
        return (
            result,
            dart,
            [
                Figure(f"{piece.name}.{edge.name} redrawn at the feet by", stray),
                Figure(f"{piece.name}.{edge.name} sewn, shorter by", lost),
            ],
        )

    def _end(self, pattern: Pattern, piece: Piece, place: Place) -> Array:
        found = spot(pattern, place)
        if found.piece != piece.uid:
            raise UsageError(f"'{place}' lies on another piece; a dart stays on one, {piece.name}")
        return found.point

    def _between(self, pattern: Pattern, piece: Piece, dart: Dart, uids: Uids) -> tuple[Change, Dart, list[Figure]]:
        one, two = (spot(pattern, place) for place in self.feet)
        assert self.point is not None
        apex = self._end(pattern, piece, self.point)
        if one.edge != two.edge or not one.edge or one.piece != two.piece:
            raise UsageError(
                "both feet must stand on one edge; for a dart in a corner give the corner and ", Option("intake")
            )
        edge = piece.edge_of(one.edge)
        ends = to_drawn(edge, one.sewn), to_drawn(edge, two.sewn)
        if self.form == "cut":
            return cut_between(piece, edge, ends, apex, dart), dart, []
        made = drawn_on_edge(piece, edge, ends, apex, dart, uids)
        origin = " ".join(one.id for one in self.drawn)
        named = replace(dart_of(made.pieces[0], dart.uid), origin=origin)
        return replace(made, pieces=(_replaced(made.pieces[0], named),)), dart, []

    def _double(self, pattern: Pattern, piece: Piece, dart: Dart) -> tuple[Change, Dart, list[Figure]]:
        if self.point is None or self.lower is None or self.intake is None:
            raise UsageError(
                "a double-pointed dart takes ",
                Option("point"),
                ", ",
                Option("lower"),
                ", ",
                Option("intake"),
                " and the place of its middle",
            )
        if self.form == "cut":
            raise UsageError("a double-pointed dart is drawn inside; leave ", Option("form"), " out")
        upper, lower = self._end(pattern, piece, self.point), self._end(pattern, piece, self.lower)
        middle = self._end(pattern, piece, self.target[0])
        origin = " ".join(one.id for one in self.drawn)
        made = double_dart(replace(dart, origin=origin), upper, lower, middle, self.intake)
        return Change(pieces=(replace(piece, darts=(*piece.darts, made)),)), made, []

    def _from_outline(
        self, pattern: Pattern, piece: Piece, place: Place, dart: Dart
    ) -> tuple[Change, Dart, list[Figure]]:
        first, second = piece.edge(place.name), piece.edge(place.other)
        if piece.after(first).uid != second.uid:
            first, second = second, first
        referred = frozenset(part.of for seam in pattern.seams for part in (*seam.a, *seam.b))
        result = taken_from_outline(piece, first, second, dart, referred=referred)
        return result, dart, []

    def _finished(self, pattern: Pattern, piece: Piece, dart: Dart) -> tuple[Pattern, Piece, Dart, list[Figure]]:
        """Pressing, form and legs as wanted."""
        figures: list[Figure] = []
        dart = dart_of(piece, dart.uid)
        if self.equal:
            single(piece, dart, "evened")
            if dart.form == "lines":
                raise UsageError(
                    f"{piece.name}.{dart.name} is drawn inside; cut it in first with ", Option("form", "cut")
                )
            if not straight_legs(dart):
                raise UsageError(f"the legs of {piece.name}.{dart.name} are curved; draw them straight first")
            change, moved = evened(piece, dart)
            pattern = applied(pattern, change).pattern
            piece = pattern.piece_of(piece.uid)
            figures.append(Figure(f"{piece.name}.{dart.name} feet moved by", moved))
        if self.pressed:
            piece = _replaced(piece, replace(dart_of(piece, dart.uid), pressed=pressed_to(piece, dart, self.pressed)))
            pattern = pattern.with_piece(piece)
        dart = dart_of(piece, dart.uid)
        if self.form and self.form != dart.form and not dart.double:
            if self.form == "cut":
                pattern, piece, dart = as_cut(pattern, piece, dart)
            else:
                change = as_lines(piece, dart, capped(piece, dart), Uids(pattern.uids()))
                pattern = applied(pattern, change).pattern
                piece = pattern.piece_of(piece.uid)
        elif self.form == "cut" and dart.double:
            raise UsageError(f"{piece.name}.{dart.name} has two points and is drawn inside; it cannot be cut in")
        return pattern, piece, dart_of(piece, dart.uid), figures

    def _removed(self, pattern: Pattern, darts: list[tuple[Piece, Dart]]) -> Outcome:
        if self.name or self.pressed or self.form or self.equal:
            raise UsageError(Option("remove"), " takes a dart away; leave the other options out")
        before, figures = pattern, list[Figure]()
        warnings: list[str] = []
        for old, dart in darts:
            piece = pattern.piece_of(old.uid)
            pattern, lost = without(pattern, piece, dart_of(piece, dart.uid))
            warnings += lost
            figures.append(Figure(f"{old.name}.{dart.name} intake, not sewn now", intake(dart)))
            if dart.host:
                edge = pattern.piece_of(old.uid).edge_of(dart.host)
                figures.append(Figure(f"{old.name}.{edge.name} sewn", sewn_length(edge)))
        # straight over the mouth: where the edge does not run on so, it has corners at the feet now
        _, _, kinks = trued_after(before, pattern, None)
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys([*warnings, *kinks])))

    def _changed(self, pattern: Pattern, darts: list[tuple[Piece, Dart]]) -> Outcome:
        if self.intake is not None or self.point or self.lower:
            raise UsageError(
                Option("intake"),
                ", ",
                Option("point"),
                " and ",
                Option("lower"),
                " draft a new dart; move a point with back-off",
            )
        if self.remove:
            return self._removed(pattern, darts)
        if not (self.name or self.pressed or self.form or self.equal):
            raise UsageError(
                "dart has nothing to change; give ",
                Option("name"),
                ", ",
                Option("pressed"),
                ", ",
                Option("form"),
                ", ",
                Option("equal"),
                " or ",
                Option("remove"),
            )
        if self.name and len(darts) > 1:
            raise UsageError(Option("name"), f" is one name, and {len(darts)} darts are given; name them one by one")
        figures: list[Figure] = []
        warnings: list[str] = []
        for old, dart in darts:
            piece = pattern.piece_of(old.uid)
            if self.name:
                named = replace(dart, name=free_for_dart(piece, self.name, of=dart.name))
                piece = _replaced(piece, named)
                pattern = pattern.with_piece(piece)
            pattern, piece, dart, more = self._finished(pattern, piece, dart)
            figures += [*dart_figures(piece, dart), *more]
            warnings += _uneven(piece, dart)
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(warnings))


def whole_dart(pattern: Pattern, place: Place) -> tuple[Piece, Dart] | None:
    """The piece and dart that a reference names, None when it names a place."""
    if place.chord or not place.name or place.part:
        return None
    piece, thing = find(pattern, place)
    return (piece, thing) if isinstance(thing, Dart) else None


def pressed_to(piece: Piece, dart: Dart, to: Place) -> str:
    """What a dart keeps of the wanted pressing: 'open', '' for the usual, or the uid of an edge. Errors: UsageError."""
    if to == Place(name="open"):
        return "open"
    if to == Place(name="usual"):
        return ""
    edge = named_edge(piece, to)
    if not dart.double and edge.uid == dart.host and not in_corner(piece, dart):
        raise UsageError(f"{piece.name}.{dart.name} opens on {edge.name} itself; name an edge beside it, or open")
    return edge.uid


def capped(piece: Piece, dart: Dart) -> Curve:
    """The cap of a cut-in dart as one curve from foot to foot."""
    first, second = halves_of(piece, dart)
    step = [line(first.end, second.start)] if (first.end != second.start).any() else []
    return chain([first, *step, second], within=1e-6)


def _replaced(piece: Piece, dart: Dart) -> Piece:
    return replace(piece, darts=tuple(dart if d.uid == dart.uid else d for d in piece.darts))


def _uneven(piece: Piece, dart: Dart) -> list[str]:
    first, second = (length_of(leg) for leg in dart.legs)
    if abs(first - second) <= EQUAL:
        return []
    name = f"{piece.name}.{dart.name}"
    return [f"the legs of {name} differ by {plain(abs(first - second))} mm; make them equal with: dart {name} --equal"]
