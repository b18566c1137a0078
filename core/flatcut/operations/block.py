"""`block`: a fitted master pattern from body measurements.

Its kinds are classes of their own, one file each in `flatcut.blocks.kinds`; from their fields follow those of the
operation, and so options and dialog. The drafting itself is in `flatcut.blocks`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, make_dataclass, replace
from types import MappingProxyType
from typing import Any

from flatcut.blocks.body import MEASUREMENTS, SIZES, checked, measures_of_file, required, unusual
from flatcut.blocks.kinds.kind import Kind, load, names
from flatcut.blocks.waists import half_waists, waist_warnings
from flatcut.declared.declared import kinds, option
from flatcut.declared.fields import choice, file, piece_names, texts
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, checked_name

KINDS = tuple(names())


@dataclass(frozen=True, kw_only=True)
class Drafting(Operation):
    """The fields that every kind has, and the work."""

    # a word like any target, so that it needs no option name; a dialog may offer the choices as a list
    target: tuple[str, ...] = texts(("kind of block", f"one of {', '.join(KINDS)}"), choices=KINDS)
    size: str = choice("", ("size", "of the list, for measurements left out"), ("", *SIZES))
    # not recorded: the measurements become the pattern's own, and the step drafts the next body as well
    measures: str = file(
        "", ("file of measurements", "a TOML file of one body, for those left out"), ("toml",), recorded=False
    )
    names: tuple[str, ...] = piece_names(("names of the pieces", "with commas between them"))

    @property
    def begins(self) -> bool:
        """A block is drafted from measurements alone."""
        return True

    def __post_init__(self) -> None:
        super().__post_init__()
        if len(self.target) == 1 and self.target[0] in KINDS:
            given = [item.name for item in dataclasses.fields(self) if getattr(self, item.name) != item.default]
            self.refuse(self.target, given)

    @classmethod
    def refuse(cls, targets: Sequence[str], given: Iterable[str]) -> None:
        """Raise for an option that only another kind of block has."""
        if len(targets) != 1 or targets[0] not in KINDS:
            return
        for key in given:
            if key in _COMMON or key in kinds(load(targets[0])):
                continue
            owners = [name for name in KINDS if key in kinds(load(name))]
            raise UsageError(
                f"block {targets[0]} takes no ",
                Option(option(key)),
                f", which is for {' and '.join(owners)}; leave it out",
            )

    @classmethod
    def more(cls) -> list[str]:
        """Which options each kind takes, and from what it drafts."""
        said = ["", "Kinds, each with its options beside the common ones:"]
        for name in KINDS:
            kind = load(name)
            said += [f"  {name:<9} {(kind.__doc__ or '').strip().splitlines()[0]}"]
            said += [f"            {' '.join(f'--{option(key)}' for key in kinds(kind))}"]
        return said

    def _apply(self, pattern: Pattern) -> Outcome:
        kind = self.kind()
        names = self._names(kind, pattern)
        body = self._body(pattern)
        required(body, kind.needed, block=kind.name)
        draft = kind.draft(body, pattern, Uids(pattern.uids()), names)
        left, top = free_place(pattern)
        pieces = laid_out(draft.pieces, left=left, top=top)
        done = replace(
            pattern,
            pieces=(*pattern.pieces, *pieces),
            seams=(*pattern.seams, *draft.seams),
            body=MappingProxyType({**pattern.body, **body}),
        )
        before, after = (half_waists(p, s) for p, s in ((pattern.pieces, pattern.seams), (pieces, draft.seams)))
        warnings = (*unusual(body, kind.needed), *draft.warnings, *waist_warnings(before, after))
        return Outcome(pattern=done, figures=draft.figures, warnings=warnings)

    def kind(self) -> Kind:
        """The kind of block that is asked for, with its fields as they are stated here. Errors: UsageError."""
        if len(self.target) != 1 or self.target[0] not in KINDS:
            said = f", not '{' '.join(self.target)}'" if self.target else ""
            raise UsageError(f"block takes one of {', '.join(KINDS)}{said}")
        cls = load(self.target[0])
        return cls(**{key: getattr(self, key) for key in kinds(cls)})

    def spelled(self, after: Pattern) -> Drafting:
        """With the names of its pieces, and of the armholes of a sleeve, where they are the usual ones."""
        kind = self.kind()
        return replace(self, names=(*self.names, *kind.pieces[len(self.names) :]), **kind.usual_references())

    def _names(self, kind: Kind, pattern: Pattern) -> tuple[str, ...]:
        known = kind.pieces
        if len(self.names) > len(known):
            raise UsageError(
                Option("names"), f" gives {len(self.names)} names for {len(known)} pieces; give one for each"
            )
        names = (*(checked_name(name, kind="piece's name") for name in self.names), *known[len(self.names) :])
        taken = [piece.name for piece in pattern.pieces]
        for k, name in enumerate(names):
            if name in taken or name in names[:k]:
                raise UsageError(f"there is a piece '{name}' already; give other names with ", Option("names"))
        return names

    def _body(self, pattern: Pattern) -> dict[str, float]:
        """The measurements by name: given here, else of the size or the file, else the pattern's own."""
        given = {name: getattr(self, name.replace("-", "_"), None) for name in MEASUREMENTS}
        stated = {name: value for name, value in given.items() if value is not None}
        own = {name: value for name, value in pattern.body.items() if name in MEASUREMENTS}
        whole = {**own, **self._listed(), **stated}
        return {name: checked(name, whole[name]) for name in MEASUREMENTS if name in whole}

    def _listed(self) -> Mapping[str, float]:
        """The body of the size or of the file."""
        if self.size and self.measures:
            raise UsageError(Option("size"), " and ", Option("measures"), " both give a body; leave one out")
        return measures_of_file(self.measures) if self.measures else SIZES.get(self.size, {})

    def evaluated(self, pattern: Pattern) -> Drafting:
        """Expressions count with the body of the size or of the file, where one is named."""
        return super().evaluated(replace(pattern, body=MappingProxyType({**pattern.body, **self._listed()})))

    def for_size(self, measured: Collection[str]) -> Drafting:
        """The size's measurements go before those stated here as figures; expressions follow the size by themselves."""
        stated = {key: getattr(self, key, None) for key in (name.replace("-", "_") for name in measured)}
        figures = [key for key, value in stated.items() if getattr(value, "constant", value) is not None]
        given_up: dict[str, Any] = {**dict.fromkeys(figures), "size": "", "measures": ""}
        return replace(self, **given_up)


_COMMON = frozenset(kinds(Drafting))


def _fields() -> Iterator[tuple[str, Any, Any]]:
    """The fields of all kinds, as a dataclass is made of them. A field of several kinds is the same in each."""
    found: dict[str, Any] = {}
    for name in KINDS:
        for item in dataclasses.fields(load(name)):
            known = found.setdefault(item.name, item)
            if known.default != item.default or not known.metadata["kind"].like(item.metadata["kind"]):
                raise TypeError(f"block {name} declares '{item.name}' otherwise than another kind of block does")
    # measurements first, then what may be stated beside them
    order = [name.replace("-", "_") for name in MEASUREMENTS]
    for item in sorted(found.values(), key=lambda f: order.index(f.name) if f.name in order else len(order)):
        kind = replace(item.metadata["kind"], tab=_tab(item.name))
        yield item.name, item.type, field(default=item.default, metadata={"kind": kind})


def _tab(name: str) -> str:
    """The tab of the dialog that a field of the kinds stands on."""
    if name.replace("_", "-") in MEASUREMENTS:
        return "Body"
    owners = [kind for kind in KINDS if name in kinds(load(kind))]
    return "Sleeve" if owners == ["sleeve"] else "Ease"


DraftBlock: type[Drafting] = operation(menu="Prepare", title="Draft block")(
    make_dataclass(
        "DraftBlock",
        list(_fields()),
        bases=(Drafting,),
        frozen=True,
        kw_only=True,
        namespace={
            "__doc__": f"""Draft a fitted block from body measurements: {", ".join(KINDS[:-1])} or {KINDS[-1]}.

    Measurements left out are those of --size or of the file --measures, else those that the pattern has. A sleeve is
    set into the armholes of the drafted front and back, or into armholes measured elsewhere. No block has allowances or
    style ease.
    """,
            "__module__": __name__,
        },
    )
)
"""The operation with every kind's fields."""
