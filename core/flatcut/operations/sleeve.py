"""`sleeve`: a short, cap or puff sleeve from the armholes it is set into."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.blocks.bodice import NOTCH_BACK, NOTCH_FRONT
from flatcut.blocks.short_sleeve import Capped, cap_sleeve, puff_sleeve, short_sleeve
from flatcut.blocks.sleeve import ARM_EASE, Armhole, SleeveFrame, armhole_of, sleeve_frame
from flatcut.declared.fields import choice, further, length, piece_names, refs, text
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.curves import flatten
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.places import Place
from flatcut.pattern.redrawing import as_before, made_way, source_of
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, RunPart
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.units import plain

KINDS = ("short", "cap", "puff")
EASES = {"short": 25.0, "cap": 15.0, "puff": 0.0}
"""mm of cap over armhole: a short sleeve of a light cloth 1 to 2.5 cm (common practice, no source)."""
ARMHOLES = (Place(piece="back", name="armhole"), Place(piece="front", name="armhole"))
WALKS = 0.2
"""mm by which a cap may miss armhole and ease, measured along chords."""


@operation(menu="Derive", title="Draft sleeve")
@dataclass(frozen=True, kw_only=True)
class DraftSleeve(Operation):
    """Draft a short, cap or puff sleeve from the two armholes it is set into, back first.

    A short sleeve has its cap as long as the armholes and a stated ease, and a seam under the arm. A cap sleeve is the
    top of it, from notch to notch; below it the armhole is finished with a facing or binding. A puff is opened along
    its middle and raised at the crown, gathered between the notches to its armholes, and at its hem to a band where one
    is stated. The notches are those of the armholes. All figures are common practice and can be set. On children's
    clothes drawstrings at sleeves and tight elastic can harm; keep to the rules of the place where they are sold, and
    ask somebody qualified.
    """

    target: tuple[str, ...] = piece_names(("name of the piece", "by default that of its kind, such as short-sleeve"))
    kind: str = choice("short", ("kind", "what it is"), KINDS)
    armholes: tuple[Place, ...] = refs(
        "edge", ("armholes", "that it is set into, back first", "back.armhole,front.armhole"), filled=False
    )
    top_arm: float | None = length(None, ("upper arm", "round it", "the body's"), low=100, high=800)
    arm_ease: float = length(ARM_EASE, ("ease of the upper arm", "the least width over it"), low=-50, high=300)
    cap_ease: float | None = length(None, ("cap longer than the armholes by", "", "by its kind"), low=-20, high=100)
    cap_height: float | None = length(None, ("height of the cap", "", "a third of the armhole"), low=20, high=300)
    below: float = length(80.0, ("underarm seam", "of a short sleeve or a puff"), low=20, high=700)
    taper: float = length(20.0, ("hem narrower by", "than the sleeve at the arm"), low=-300, high=300)
    over: float = further(length(90.0, ("length of a cap sleeve", "from the crown to its hem"), low=20, high=300))
    from_: float | None = further(
        length(
            None, ("a cap sleeve begins", "from the underarm along both armholes", "at their notches"), low=2, high=300
        )
    )
    full: float = further(length(80.0, ("fullness of a puff", "opened along its middle"), high=500))
    rise: float = further(length(30.0, ("crown of a puff higher by", "so that it stands"), high=200))
    band: float | None = further(
        length(None, ("hem of a puff gathered to", "the length of its band", "not gathered"), low=100, high=900)
    )
    material: str = further(text("", ("material", "it is cut from; that of the front")))

    def spelled(self, after: Pattern) -> DraftSleeve:
        """With the name of its piece and its armholes, where they are the usual ones."""
        return replace(self, target=(self._name(),), armholes=self.armholes or ARMHOLES)

    def _name(self) -> str:
        if len(self.target) > 1:
            raise UsageError(f"sleeve drafts one piece, and {len(self.target)} names are given; name one")
        return self.target[0] if self.target else f"{self.kind}-sleeve"

    def _apply(self, pattern: Pattern) -> Outcome:
        self._refuse()
        name = self._name()
        pattern, old = made_way(pattern, [name], ("sleeve",))
        holes = self._holes(pattern)
        frame = self._frame(pattern, holes)
        uids = Uids(pattern.uids())
        made = self._drafted(name, frame, holes, uids)
        _gate(made, holes, self.kind)
        run = [RunPart(piece=hole.piece.uid, of=hole.edge.uid) for hole in holes]
        left, top = free_place(pattern)
        material = self.material or holes[1].piece.material
        source = source_of(pattern, run, kind="sleeve", line=self.line())
        piece = laid_out((replace(made.piece, material=material, source=source),), left=left, top=top)[0]
        piece = as_before(piece, old.get(name))
        done = replace(pattern, pieces=(*pattern.pieces, piece), seams=(*pattern.seams, *made.seams))
        for seam in made.seams:
            off = run_sewn(done, seam.b) - run_sewn(done, seam.a) - seam.ease
            if abs(off) > WALKS:
                raise GeometryError(f"the cap does not walk to its armhole by {plain(abs(off))} mm; change its height")
        return Outcome(
            pattern=done, figures=self._figures(piece, made, holes, frame), warnings=self._said(frame, holes)
        )

    def _refuse(self) -> None:
        """UsageError for figures of another kind."""
        of = {"over": "cap", "from_": "cap", "full": "puff", "rise": "puff", "band": "puff"}
        for field, kind in of.items():
            usual = type(self).__dataclass_fields__[field].default
            if kind != self.kind and getattr(self, field) != usual:
                raise UsageError(
                    Option(field.strip("_")), f" is for a {kind} sleeve; leave it out, or give ", Option("kind", kind)
                )

    def _holes(self, pattern: Pattern) -> tuple[Armhole, Armhole]:
        if self.armholes and len(self.armholes) != 2:
            raise UsageError(Option("armholes"), " takes two edges with a comma between them, the back first")
        if not self.armholes and not {place.piece for place in ARMHOLES} <= {p.name for p in pattern.pieces}:
            raise UsageError("a sleeve wants its armholes; name two edges, the back first, with ", Option("armholes"))
        found = []
        for k, place in enumerate(self.armholes or ARMHOLES):
            piece, edge = edge_of(pattern, place)
            if sewn_length(edge) < 80.0:
                raise UsageError(f"{place} is {plain(sewn_length(edge))} mm long; half an armhole is 18 to 28 cm")
            found.append(armhole_of(piece, edge, front=k == 1, share=(NOTCH_BACK, NOTCH_FRONT)[k]))
        return found[0], found[1]

    def _frame(self, pattern: Pattern, holes: tuple[Armhole, Armhole]) -> SleeveFrame:
        arm = self.top_arm if self.top_arm is not None else pattern.body.get("top-arm")
        if arm is None:
            raise UsageError("a sleeve wants the upper arm; give ", Option("top-arm"), ", usually 24 to 40 cm")
        ease = EASES[self.kind] if self.cap_ease is None else self.cap_ease
        lean = 0.0 if self.kind == "cap" else math.atan(self.taper / 2 / self.below)
        return sleeve_frame(
            {"top-arm": arm, "wrist": arm, "sleeve-length": 0.0},
            back_armhole=holes[0].sewn,
            front_armhole=holes[1].sewn,
            cap_ease=ease,
            cap_height=self.cap_height,
            arm_ease=self.arm_ease,
            wrist_ease=-arm,  # its hem is drawn here
            lean=lean,
        )

    def _drafted(self, name: str, frame: SleeveFrame, holes: tuple[Armhole, Armhole], uids: Uids) -> Capped:
        if self.kind == "cap":
            return cap_sleeve(name, frame, holes, uids, over=self.over, since=self.from_)
        hem = frame.bicep - self.taper
        if hem < 60.0 or abs(self.taper) > self.below:
            raise UsageError(
                f"a hem {plain(abs(self.taper))} mm {'narrower' if self.taper > 0 else 'wider'} than the sleeve leans "
                f"too much over {plain(self.below)} mm of underarm seam; change ",
                Option("taper"),
            )
        if self.kind == "short":
            return short_sleeve(name, frame, holes, uids, below=self.below, hem=hem)
        return puff_sleeve(
            name, frame, holes, uids, below=self.below, hem=hem, full=self.full, rise=self.rise, band=self.band
        )

    def _figures(
        self, piece: Piece, made: Capped, holes: tuple[Armhole, Armhole], frame: SleeveFrame
    ) -> tuple[Figure, ...]:
        whole = holes[0].sewn + holes[1].sewn
        found = [Figure("armhole", whole), Figure(f"{piece.name}.cap", made.cap)]
        if self.kind == "short":
            found.append(Figure("cap ease", made.cap - whole))
        found += [Figure("cap height", frame.height), Figure(f"{piece.name}.hem", drawn_length(piece.edge("hem")))]
        for edge in piece.edges:
            found += [Figure(f"{piece.name}.{edge.name} gathered by", t.amount) for t in edge.takeups]
        return tuple(found)

    def _said(self, frame: SleeveFrame, holes: tuple[Armhole, Armhole]) -> tuple[str, ...]:
        said = [text for text in frame.warnings if "hem" not in text]
        if self.kind == "cap":
            names = " and ".join(f"{hole.piece.name}.{hole.edge.name}" for hole in holes)
            said.append(f"below the cap sleeve {names} are sewn to nothing; face or bind them there")
        return tuple(said)


def _gate(made: Capped, holes: tuple[Armhole, Armhole], kind: str) -> None:
    """GeometryError where the cap, measured along chords, misses what its seams say of armhole and ease."""
    points = np.concatenate([flatten(part, tolerance=0.001) for part in made.piece.edge("cap").parts])
    chords = float(np.hypot(*np.diff(points, axis=0).T).sum())
    if abs(chords - made.cap) > WALKS:
        raise GeometryError(f"the cap measures {plain(chords)} mm along its chords and not {plain(made.cap)} mm")
    gathered = sum(t.amount for t in made.piece.edge("cap").takeups)
    if kind == "puff" and abs(chords - gathered - holes[0].sewn - holes[1].sewn) > WALKS:
        raise GeometryError("the cap of the puff is not gathered to its armholes; change its fullness")
