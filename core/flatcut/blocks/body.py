"""Body measurements: their names, what they mean, what is usual, and tables of them.

The names stand for measurements as ISO 8559-1 defines them, as far as known; the definitions here are from memory, in
own words. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeVar

from flatcut.errors import FlatcutError, InputError, Option, UsageError, unknown
from flatcut.reading import TABLE, read_limited
from flatcut.tables import TABLES, cells, read_table, text_of
from flatcut.units import factor, length, plain

_Read = TypeVar("_Read")


class Measurement(NamedTuple):
    """what: how it is taken; low, high: between these it usually lies, mm."""

    what: str
    low: float
    high: float

    @property
    def usual(self) -> str:
        """The usual range in words."""
        return f"usually {plain(self.low / 10)} to {plain(self.high / 10)} cm"


MEASUREMENTS: dict[str, Measurement] = {
    "bust": Measurement("girth over the fullest part of the bust, level", 760, 1220),
    "waist": Measurement("girth at the natural waist", 540, 1140),
    "hip": Measurement("girth over the fullest part of the seat, level", 800, 1320),
    "nape-to-waist": Measurement("nape along the spine to the waist", 360, 460),
    "scye-depth": Measurement("nape along the spine down to the level of the underarm", 180, 260),
    "neck": Measurement("girth at the base of the neck", 320, 470),
    "shoulder": Measurement("side of the neck to the shoulder tip", 110, 145),
    "across-back": Measurement("width of the back between the arms, half-way down the armhole", 300, 480),
    "across-chest": Measurement("width of the chest between the arms, half-way down the armhole", 280, 460),
    "bust-span": Measurement("bust point to bust point", 150, 260),
    "front-waist-length": Measurement("side of the neck over the bust point to the waist", 380, 520),
    "neck-to-bust": Measurement("side of the neck to the bust point", 220, 360),
    "waist-to-hip": Measurement("waist down to the hip at the side", 170, 250),
    "waist-to-knee": Measurement("waist down to the knee", 520, 660),
    "waist-to-floor": Measurement("waist at the side down to the floor", 920, 1160),
    "body-rise": Measurement("waist to the seat of the chair, sitting, at the side", 240, 350),
    "top-arm": Measurement("girth of the upper arm at its fullest", 230, 460),
    "wrist": Measurement("girth of the wrist", 140, 210),
    "sleeve-length": Measurement("shoulder tip over the bent elbow to the wrist", 520, 660),
}
"""Every measurement that a block may ask for. The ranges are those of grown women (common practice, no source)."""

IMPOSSIBLE = 0.6, 1.6
"""Factors on the usual range beyond which a figure is a slip of the keyboard or of the unit, not a body."""


def checked(name: str, value: float) -> float:
    """`value` when a body can have it. Errors: UsageError that names the measurement and its usual range.

    >>> checked("bust", 88.0)
    Traceback (most recent call last):
    ...
    flatcut.errors.UsageError: bust is 8.8 cm, and no body has that; it is usually 76 to 122 cm, so check the unit
    """
    known = MEASUREMENTS[name]
    if not IMPOSSIBLE[0] * known.low <= value <= IMPOSSIBLE[1] * known.high:
        raise UsageError(
            f"{name} is {plain(value / 10)} cm, and no body has that; it is {known.usual}, so check the unit"
        )
    return value


def unusual(body: Mapping[str, float], names: tuple[str, ...]) -> tuple[str, ...]:
    """A sentence for each named measurement outside its usual range."""
    said = []
    for name in names:
        known = MEASUREMENTS[name]
        if name in body and not known.low <= body[name] <= known.high:
            said.append(f"{name} is {plain(body[name] / 10)} cm; it is {known.usual}")
    return tuple(said)


def suspect(body: Mapping[str, float], names: tuple[str, ...]) -> str:
    """What to check when a block cannot be drawn: the named measurement that lies farthest outside its usual range,
    or where none does all of them.

    >>> suspect({"waist": 1300.0, "hip": 960.0}, ("waist", "hip"))
    'check waist, which is 130 cm and usually 54 to 114 cm'
    """
    away = {}
    for name in names:
        known = MEASUREMENTS[name]
        away[name] = max(known.low - body[name], body[name] - known.high) / (known.high - known.low)
    worst = max(away, key=lambda name: away[name])
    if away[worst] <= 0:
        return f"check that {', '.join(names[:-1])} and {names[-1]} are of one body"
    return f"check {worst}, which is {plain(body[worst] / 10)} cm and {MEASUREMENTS[worst].usual}"


def required(body: Mapping[str, float], names: tuple[str, ...], *, block: str) -> dict[str, float]:
    """The measurements that a block needs, checked. Errors: UsageError for the first that is missing or impossible."""
    for name in names:
        if name not in body:
            known = MEASUREMENTS[name]
            raise UsageError(
                f"{block} needs {name} ({known.what}); give ",
                Option(name),
                f", {known.usual}, or a file with ",
                Option("measures"),
            )
    return {name: checked(name, value) for name, value in body.items() if name in MEASUREMENTS}


def read_measures(text: str) -> dict[str, float]:
    """The measurements of one body from a TOML text: name -> mm.

    Values are texts with a unit ("88cm", "34 5/8in"), or numbers in the unit that a key `units` states (without it mm).
    Names may be written with hyphens or underscores. Errors: InputError, UsageError.

    >>> read_measures('units = "cm"\\nbust = 88\\nnape_to_waist = "410mm"  # over the spine')
    {'bust': 880.0, 'nape-to-waist': 410.0}
    """
    table = read_table(text)
    for name, value in table.items():
        if isinstance(value, dict):
            raise InputError(
                f"[{name}] is a table of its own; a file of measures holds one body, and `flatcut run --sizes` drafts"
                " every size of a table"
            )
    return _measured(table, "mm")


def measures_of_file(name: str) -> dict[str, float]:
    """The measurements of one body from a TOML file: name -> mm. Errors: InputError, UsageError that name the file."""
    return _of_file(name, read_measures, "measurements")


def sizes_of_file(name: str, *, units: str = "mm") -> dict[str, dict[str, float] | FlatcutError]:
    """The bodies of a size table from a file, TOML or rows, in order; a size that is no body stands with its error.

    units: of bare numbers in rows; a TOML file states its own. Errors: InputError that names the file, where the table
    itself cannot be read.
    """
    if name.lower().rpartition(".")[2] not in TABLES:
        return _of_file(name, sizes_or_errors, "size table")
    text = text_of(name)
    try:
        return sizes_of_rows(text, units=units)
    except FlatcutError as error:
        raise type(error)(f"{name}: ", *error.parts) from None


NAMED = ("name", "size")
"""Columns of which one names the body of a row."""


def sizes_of_rows(text: str, *, units: str = "mm") -> dict[str, dict[str, float] | FlatcutError]:
    """The bodies of a table of rows, in order: name -> measurements in mm.

    The first row names the columns: `name` (or `size`), measurements, and if need be `units`, the unit of the bare
    numbers of a row, and `note`, which is for people. An empty cell is a measurement that was not taken. A row that is
    no body stands with its error. Errors: InputError for the table itself, UsageError for a column that is none.

    >>> sizes_of_rows("name,bust,waist\\nA. 1,92.5,\\nA. 2,88,70", units="cm")
    {'A. 1': {'bust': 925.0}, 'A. 2': {'bust': 880.0, 'waist': 700.0}}
    """
    head, *rows = cells(text)
    head = [column.replace(" ", "-").replace("_", "-") for column in head]
    twice = next((column for k, column in enumerate(head) if column in head[:k]), "")
    if twice:
        raise InputError(f"the column '{twice}' stands there twice; name one otherwise")
    named = [column for column in NAMED if column in head]
    if len(named) != 1:
        raise InputError("one column has to say whose each row is; call it 'name' (or 'size')")
    for column in head:
        if column not in (*NAMED, *MEASUREMENTS, "units", "note"):
            raise unknown("measurement", column, [*MEASUREMENTS, *NAMED, "units", "note"])
    if not rows:
        raise InputError("the table has no body; write one below the names of the columns, a row each")
    found: dict[str, dict[str, float] | FlatcutError] = {}
    for number, row in enumerate(rows, start=2):
        given = {column: cell for column, cell in zip(head, row, strict=True) if cell}
        name = given.pop(named[0], "")
        given.pop("note", "")
        if not name:
            if not given:
                continue
            raise InputError(f"row {number} has figures and no name; name it")
        if name in found:
            raise InputError(f"row {number} is called {name} as another row is; give it a name of its own")
        try:
            found[name] = _measured(given, units)
        except UsageError as error:
            found[name] = error
    return found


def _of_file(name: str, read: Callable[[str], _Read], kind: str) -> _Read:
    try:
        text = read_limited(name, TABLE, what=f"a file with {kind}").decode("utf-8-sig")
    except FlatcutError:
        raise
    except UnicodeDecodeError:
        raise InputError(f"the {kind} in {name} cannot be read: it is no text in UTF-8") from None
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        reason = (getattr(error, "strerror", "") or str(error)).lower()
        raise InputError(f"the {kind} in {name} cannot be read: {reason}") from None
    try:
        return read(text)
    except FlatcutError as error:
        raise type(error)(f"{name}: ", *error.parts) from None


def sizes_or_errors(text: str) -> dict[str, dict[str, float] | FlatcutError]:
    """The bodies of a size table, in order: size -> measurements in mm. Each size is a table of its own.

    A size that is no body stands with its error. Errors: InputError for the table itself.

    >>> sizes_or_errors('units = "cm"\\n[S]\\nbust = 84\\n[M]\\nbust = 92')
    {'S': {'bust': 840.0}, 'M': {'bust': 920.0}}
    """
    table = read_table(text)
    units = str(table.pop("units", "mm"))
    factor(units)
    sizes: dict[str, dict[str, float] | FlatcutError] = {}
    for name, value in table.items():
        if not isinstance(value, dict):
            raise InputError(
                f"'{name}' stands outside a size; write each size's measurements below a line such as [12]"
            )
        try:
            sizes[name] = _measured(value, units)
        except UsageError as error:
            sizes[name] = error
    if not sizes:
        raise InputError("the table has no size; write each size's measurements below a line such as [12]")
    return sizes


def _measured(table: Mapping[str, object], units: str) -> dict[str, float]:
    units = str(table.get("units", units))
    factor(units)
    found: dict[str, float] = {}
    for key, value in table.items():
        name = key.replace("_", "-")
        if name == "units":
            continue
        if name not in MEASUREMENTS:
            raise unknown("measurement", key, MEASUREMENTS)
        if name in found:
            raise UsageError(f"{name} is given twice; give it once")
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise UsageError(f"{name} takes a length such as '88cm', not {value!r}")
        try:
            mm = length(str(value), default=units)
        except UsageError as error:
            raise UsageError(f"{name}, {MEASUREMENTS[name].usual}: {error}") from None
        found[name] = checked(name, mm)
    return found


def _invented(bust: float) -> dict[str, float]:
    """A body of that bust in our own even steps: invented, near what size charts show, copied from none."""
    over = bust - 900.0
    steps = {
        "waist": (730, 1.0), "hip": (970, 0.98), "nape-to-waist": (412, 0.11), "scye-depth": (213, 0.15),
        "neck": (374, 0.25), "shoulder": (123, 0.06), "across-back": (350, 0.23), "across-chest": (330, 0.28),
        "bust-span": (190, 0.16), "waist-to-hip": (207, 0.04), "waist-to-knee": (590, 0.06),
        "waist-to-floor": (1042, 0.1), "body-rise": (284, 0.17), "top-arm": (288, 0.32),
        "wrist": (162, 0.09), "sleeve-length": (588, 0.06),
    }  # fmt: skip
    return {"bust": bust, **{name: round(at + by * over, 0) for name, (at, by) in steps.items()}}


SIZES: dict[str, dict[str, float]] = {
    f"bust-{bust}": _invented(10.0 * bust) for bust in (78, 82, 86, 90, 94, 98, 102, 106, 112, 118)
}
"""The list of sizes that a dialog offers: invented bodies, named by their bust in cm."""
