"""`block`: a fitted master pattern from body measurements.

The drafting itself is in `flatcut.blocks`, as functions from measurements to pieces; here they get their parameters.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from flatcut.blocks import bust_only, neck_and_across, skirt, sleeve
from flatcut.blocks.assembling import Draft, laid_out
from flatcut.blocks.bodice import NOTCH_BACK, NOTCH_FRONT, draft_bodice
from flatcut.blocks.body import MEASUREMENTS, SIZES, checked, measures_of_file, required, suspect, unusual
from flatcut.blocks.dress import draft_dress
from flatcut.blocks.frame import Frame
from flatcut.blocks.torso import draft_torso
from flatcut.declared.declared import option
from flatcut.declared.fields import Spec, choice, file, texts
from flatcut.declared.fields import length as mm
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.curves import bounds, chain
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, checked_name, outline

KINDS = ("bodice", "torso", "skirt", "sleeve", "dress")
METHODS = {"neck-and-across": neck_and_across, "bust-only": bust_only}
NAMES = {
    "bodice": ("back", "front"),
    "torso": ("back", "front"),
    "dress": ("back", "front"),
    "skirt": ("skirt-back", "skirt-front"),
    "sleeve": ("sleeve",),
}
ARMHOLES = ("back.armhole", "front.armhole")
MARGIN, BESIDE = 20.0, 60.0
"""mm from the corner of an empty drawing, and beside pieces that are there already."""


def _taken(name: str) -> float | None:
    known = MEASUREMENTS[name]
    made: float | None = mm(None, f"{known.what}; {known.usual}")
    return made


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class DraftBlock(Operation):
    """Draft a fitted block from body measurements: bodice, torso, skirt, sleeve or dress.

    Measurements left out are those of --size or of the file --measures, else those that the pattern has. A sleeve is
    set into the armholes of the drafted front and back, or into armholes measured elsewhere. No block has allowances or
    style ease.
    """

    # a word like any target, so that it needs no option name; a dialog may offer the choices as a list
    target: tuple[str, ...] = field(
        default=(), metadata={"spec": Spec(kind="text", help=f"one of {', '.join(KINDS)}", many=True, choices=KINDS)}
    )
    size: str = choice("", "a size of the list, for measurements left out", ("", *SIZES))
    # not recorded: the measurements become the pattern's own, and the step drafts the next body as well
    measures: str = file("", "a TOML file of one body's measurements, for those left out", ("toml",), recorded=False)
    method: str = choice("neck-and-across", "how bodice, torso and dress are drafted", tuple(METHODS))
    bust: float | None = _taken("bust")
    waist: float | None = _taken("waist")
    hip: float | None = _taken("hip")
    nape_to_waist: float | None = _taken("nape-to-waist")
    scye_depth: float | None = _taken("scye-depth")
    neck: float | None = _taken("neck")
    shoulder: float | None = _taken("shoulder")
    across_back: float | None = _taken("across-back")
    across_chest: float | None = _taken("across-chest")
    bust_span: float | None = _taken("bust-span")
    waist_to_hip: float | None = _taken("waist-to-hip")
    waist_to_knee: float | None = _taken("waist-to-knee")
    top_arm: float | None = _taken("top-arm")
    wrist: float | None = _taken("wrist")
    sleeve_length: float | None = _taken("sleeve-length")
    bust_ease: float | None = mm(None, "over the whole bust; left out: by the method", low=-100, high=400)
    waist_ease: float | None = mm(None, "over the whole waist; left out: by the block", low=-100, high=400)
    hip_ease: float | None = mm(None, "over the whole hip; left out: by the block", low=-100, high=400)
    bust_dart: float | None = mm(None, "width of the bust dart (neck-and-across); left out: by the bust", high=200)
    front_raise: float = mm(0.0, "lift of the front neck point (neck-and-across)", low=-50, high=60)
    length: float | None = mm(None, "waist to hem of skirt or dress; left out: waist to knee", high=2000)
    back_armhole: float | None = mm(None, "back armhole as measured, for a sleeve without its bodice", high=600)
    front_armhole: float | None = mm(None, "front armhole as measured, for a sleeve without its bodice", high=600)
    armholes: tuple[str, ...] = texts(
        "armholes that a sleeve is set into, back first; left out: back.armhole,front.armhole"
    )
    cap_ease: float = mm(sleeve.CAP_EASE, "cap longer than the armhole", low=-20, high=100)
    cap_height: float | None = mm(None, "height of the cap; left out: a third of the armhole", low=20, high=300)
    arm_ease: float = mm(sleeve.ARM_EASE, "least width over the upper arm", low=-50, high=300)
    wrist_ease: float = mm(sleeve.WRIST_EASE, "hem over the wrist", high=400)
    names: tuple[str, ...] = texts("names of the pieces, with commas between them")

    def _apply(self, pattern: Pattern) -> Outcome:
        kind = self._kind()
        names = self._names(kind, pattern)
        body = self._body(pattern)
        uids = Uids(pattern.uids())
        if kind == "skirt":
            draft, used = self._skirt(body, uids, names)
        elif kind == "sleeve":
            draft, used = self._sleeve(body, pattern, uids, names)
        else:
            draft, used = self._upper(kind, body, uids, names)
        left, top = _free_place(pattern)
        pieces = laid_out(draft.pieces, left=left, top=top)
        done = replace(
            pattern,
            pieces=(*pattern.pieces, *pieces),
            seams=(*pattern.seams, *draft.seams),
            body=MappingProxyType({**pattern.body, **body}),
        )
        return Outcome(pattern=done, figures=draft.figures, warnings=(*unusual(body, used), *draft.warnings))

    def _kind(self) -> str:
        if len(self.target) != 1 or self.target[0] not in KINDS:
            said = f", not '{' '.join(self.target)}'" if self.target else ""
            raise UsageError(f"block takes one of {', '.join(KINDS)}{said}")
        return self.target[0]

    def _names(self, kind: str, pattern: Pattern) -> tuple[str, ...]:
        known = NAMES[kind]
        if len(self.names) > len(known):
            raise UsageError(f"--names gives {len(self.names)} names for {len(known)} pieces; give one for each")
        names = (*(checked_name(name, kind="piece's name") for name in self.names), *known[len(self.names) :])
        taken = [piece.name for piece in pattern.pieces]
        for k, name in enumerate(names):
            if name in taken or name in names[:k]:
                raise UsageError(f"there is a piece '{name}' already; give other names with --names")
        return names

    def _body(self, pattern: Pattern) -> dict[str, float]:
        """The measurements by name: given here, else of the size or the file, else the pattern's own."""
        given = {name: getattr(self, name.replace("-", "_")) for name in MEASUREMENTS}
        stated = {name: value for name, value in given.items() if value is not None}
        own = {name: value for name, value in pattern.body.items() if name in MEASUREMENTS}
        whole = {**own, **self._listed(), **stated}
        return {name: checked(name, whole[name]) for name in MEASUREMENTS if name in whole}

    def _listed(self) -> dict[str, float]:
        """The body of the size or of the file."""
        if self.size and self.measures:
            raise UsageError("--size and --measures both give a body; leave one out")
        return measures_of_file(self.measures) if self.measures else SIZES.get(self.size, {})

    def evaluated(self, pattern: Pattern) -> DraftBlock:
        """Expressions count with the body of the size or of the file, where one is named."""
        return super().evaluated(replace(pattern, body=MappingProxyType({**pattern.body, **self._listed()})))

    def for_size(self, measured: Collection[str]) -> DraftBlock:
        """The size's measurements go before those stated here as figures; expressions follow the size by themselves."""
        stated = {name.replace("-", "_"): getattr(self, name.replace("-", "_")) for name in measured}
        figures = [key for key, value in stated.items() if getattr(value, "constant", value) is not None]
        given_up: dict[str, Any] = {**dict.fromkeys(figures), "size": "", "measures": ""}
        return replace(self, **given_up)

    def _eases(self, *names: str) -> dict[str, float]:
        """The eases that are stated; the others are the block's own."""
        values = {name: getattr(self, name) for name in names}
        return {name: value for name, value in values.items() if value is not None}

    def _upper(
        self, kind: str, body: dict[str, float], uids: Uids, names: tuple[str, ...]
    ) -> tuple[Draft, tuple[str, ...]]:
        hem = self._hem(body, kind) if kind == "dress" else 0.0
        used: tuple[str, ...] = METHODS[self.method].NEEDED + (() if kind == "bodice" else ("hip", "waist-to-hip"))
        required(body, used, block=kind)
        two = names[0], names[1]
        with _blaming(kind, body, used):
            frame = self._frame(body)
            if kind == "bodice":
                return draft_bodice(frame, uids, names=two), used
            if kind == "torso":
                return draft_torso(frame, uids, names=two), used
            return draft_dress(frame, uids, hem, names=two), used

    def _frame(self, body: dict[str, float]) -> Frame:
        eases = self._eases("bust_ease", "waist_ease", "hip_ease")
        if self.method == "bust-only":
            for name in ("bust_dart", "front_raise"):
                if getattr(self, name):
                    raise UsageError(f"--{option(name)} goes with --method=neck-and-across; leave it out")
            return bust_only.frame(body, **eases)
        return neck_and_across.frame(body, bust_dart=self.bust_dart, front_raise=self.front_raise, **eases)

    def _hem(self, body: dict[str, float], kind: str) -> float:
        if self.length is not None:
            return self.length
        return required(body, ("waist-to-knee",), block=f"a {kind} without --length")["waist-to-knee"]

    def _skirt(self, body: dict[str, float], uids: Uids, names: tuple[str, ...]) -> tuple[Draft, tuple[str, ...]]:
        required(body, skirt.NEEDED, block="skirt")
        hem = self._hem(body, "skirt")
        with _blaming("skirt", body, skirt.NEEDED):
            frame = skirt.skirt_frame(body, length=hem, **self._eases("waist_ease", "hip_ease"))
            return skirt.draft_skirt(frame, uids, names=(names[0], names[1])), skirt.NEEDED

    def _sleeve(
        self, body: dict[str, float], pattern: Pattern, uids: Uids, names: tuple[str, ...]
    ) -> tuple[Draft, tuple[str, ...]]:
        required(body, sleeve.NEEDED, block="sleeve")
        holes = self._armholes(pattern)
        lengths = [hole.sewn for hole in holes] or [self.back_armhole or 0.0, self.front_armhole or 0.0]
        notches = [hole.notch for hole in holes] or [NOTCH_BACK * lengths[0], NOTCH_FRONT * lengths[1]]
        frame = sleeve.sleeve_frame(
            body,
            back_armhole=lengths[0],
            front_armhole=lengths[1],
            cap_ease=self.cap_ease,
            cap_height=self.cap_height,
            arm_ease=self.arm_ease,
            wrist_ease=self.wrist_ease,
        )
        piece = sleeve.draft_sleeve(frame, uids, back_notch=notches[0], front_notch=notches[1], name=names[0])
        seams = [sleeve.underarm_seam(piece, uids)]
        if holes:
            seams += sleeve.cap_seams(holes[0], holes[1], piece, frame, uids)
        figures = (
            Figure("armhole", sum(lengths)),
            Figure("cap ease", sleeve.cap_length(frame) - sum(lengths)),
            Figure("cap height", frame.height),
            Figure("bicep width", frame.bicep),
            Figure("hem width", frame.hem),
        )
        draft = Draft(pieces=(piece,), seams=tuple(seams), figures=figures, warnings=frame.warnings)
        return draft, sleeve.NEEDED

    def _armholes(self, pattern: Pattern) -> list[sleeve.Armhole]:
        """The two armholes as drafted, back first; none when they are given as measured."""
        if self.back_armhole is not None and self.front_armhole is not None and not self.armholes:
            return []
        if self.armholes and len(self.armholes) != 2:
            raise UsageError("--armholes takes two edges with a comma between them, the back first")
        if not self.armholes and not {text.split(".")[0] for text in ARMHOLES} <= {p.name for p in pattern.pieces}:
            raise UsageError(
                "sleeve needs its armholes; draft a bodice first, name two edges with --armholes, or give"
                " --back-armhole and --front-armhole, each usually 18 to 28 cm"
            )
        found = []
        for k, place in enumerate(self.armholes or ARMHOLES):
            piece, edge = edge_of(pattern, parse_place(place))
            share = (NOTCH_BACK, NOTCH_FRONT)[k]
            found.append(sleeve.armhole_of(piece, edge, front=k == 1, share=share))
        return found


@contextmanager
def _blaming(kind: str, body: dict[str, float], used: tuple[str, ...]) -> Iterator[None]:
    """An error of the drafting, which knows points and not bodies, gets the measurement to check first."""
    try:
        yield
    except GeometryError as error:
        raise GeometryError(f"the {kind} cannot be drawn: {error}; {suspect(body, used)}") from None


def _free_place(pattern: Pattern) -> tuple[float, float]:
    """Where a new block is laid: x of its left, y of its top."""
    boxes = [bounds(chain(outline(piece), within=1e-6)) for piece in pattern.pieces]
    if not boxes:
        return MARGIN, MARGIN
    return max(box[2] for box in boxes) + BESIDE, min(box[1] for box in boxes)
