"""The dialogs: made from the operations, valid for the editor, and read back as what the operation means."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pytest
from lxml import etree

from flatcut.arguments import build
from flatcut.cli import main
from flatcut.declared.declared import kinds
from flatcut.declared.entries import NOT_STATED, UNITS
from flatcut.declared.fields import choice, flag, length, lengths, number, ref, refs, text
from flatcut.declared.kinds import File, Length, Number, length_text
from flatcut.declared.rows import Lengths
from flatcut.dialogs import first_steps
from flatcut.dialogs.files import (
    SCRIPT,
    all_dialogs,
    dialog,
    file_name,
    identity,
    stale,
    submenu,
    tabs,
    write,
)
from flatcut.dialogs.help import LINES, help_lines
from flatcut.dialogs.values import RESERVED, parameter, shown, words
from flatcut.editor.install import scripts_folder
from flatcut.errors import UsageError
from flatcut.operations.operation import MENUS, Operation, load, names
from flatcut.pattern.expressions import parse_length
from flatcut.reports import report

INX = "{http://www.inkscape.org/namespace/inkscape/extension}"


@dataclass(frozen=True, kw_only=True)
class Every(Operation):
    """An operation with a field of every kind."""

    target: tuple[str, ...] = refs(("edge", "piece"), ("edges", "or pieces"))
    other: str = ref("line", "a line", optional=True)
    width: float = length(10.0, "width", low=2, high=200)
    depth: float | None = length(None, ("depth", "left out: as it is"), low=-50, high=50)
    each: tuple[float, ...] = lengths(("a length for each", "or one"), low=-50, high=90)
    count: float = number(2, "how many", low=1, high=9, digits=0)
    angle: float | None = number(None, "angle, degrees", low=0, high=90, digits=1)
    kind: str = choice("v", "kind", ("slit", "v"))
    use: str = choice("", "what for", ("", "hem"))
    paper: str = choice("a4", "paper", ("a3", "a4"), other="a size such as 60x90")
    both: bool = flag(True, "on both sides")
    note: str = text("a < b & c", "note")


Every.command, Every.menu, Every.title = "every", "Finish", "Every"


def params(cls) -> dict[str, ElementTree.Element]:
    return {p.get("name"): p for p in ElementTree.fromstring(dialog(cls)).iter(f"{INX}param")}


def opened(cls) -> dict[str, str]:
    """What the dialog hands over when nothing is touched."""
    found = {}
    for name, param in params(cls).items():
        first = param.find(f"{INX}option")
        found[name] = (param.text or "") if first is None else first.get("value")
    return found


def classes():
    return [*map(load, names()), *report.with_dialog(), Every]


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_what_more_there_is_to_say_of_a_field_stands_apart_from_its_label(cls):
    for key, kind in kinds(cls).items():
        assert ";" not in kind.what, f'{key}: write ("{kind.what.partition(";")[0]}", "...") for its label and the rest'


def test_committed_dialogs_are_those_of_the_operations():
    assert stale(scripts_folder()) == [], "run: flatcut dialogs --write"


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_untouched_dialog_means_the_operation_without_options(cls):
    targets, options = words(cls, opened(cls))
    made = build(cls, targets, options)
    for key in kinds(cls):
        value, default = getattr(made, key), getattr(cls(), key)
        assert getattr(value, "constant", value) == getattr(default, "constant", default), key


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_every_field_has_its_widget(cls):
    held = params(cls)
    widgets = {"Choice": "optiongroup", "Flag": "bool", "File": "path"}
    assert held["operation"].get("gui-hidden") == "true"
    assert not {parameter(key) for key in shown(cls)} & RESERVED
    for key, kind in shown(cls).items():
        param = held[parameter(key)]
        wanted = widgets.get(type(kind).__name__, "path" if isinstance(kind, File) else "string")
        usual = getattr(cls(), key)
        if type(kind) is Number and usual is not None:
            wanted = "int" if kind.digits == 0 else "float"
        if cls.command in ("block", "collar") and key == "target":
            wanted = "optiongroup"
        assert param.get("type") == wanted
        assert param.get("gui-text")[0] == param.get("gui-text")[0].upper()
    assert ("units" in held) == any(isinstance(kind, (Length, Lengths)) for kind in shown(cls).values())


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_spin_boxes_hold_their_start_and_reach_the_whole_range(cls):
    for name, param in params(cls).items():
        if param.get("type") in ("float", "int"):
            spec = next(spec for key, spec in shown(cls).items() if parameter(key) == name)
            low, high, start = float(param.get("min")), float(param.get("max")), float(param.text)
            assert low <= start <= high
            assert low <= spec.low
            assert high >= spec.high


def test_a_field_of_every_kind():
    given = {
        **opened(Every),
        "target": "front.hem, at(front.a/b, front.c/d, 0.5, 1) back",
        "width": "2.5",
        "units": "cm",
        "depth": "-4.000",
        "each": "1,5; -2; 3",
        "count": "3",
        "angle": "12.5",
        "kind": "slit",
        "use": "hem",
        "both": "false",
        "note": "",
    }
    targets, options = words(Every, given)
    assert targets == ["front.hem", "at(front.a/b, front.c/d, 0.5, 1)", "back"]
    made = build(Every, targets, options)
    assert (made.width.constant, made.depth.constant) == (25.0, -40.0)
    assert [one.constant for one in made.each] == [15.0, -20.0, 30.0]
    assert (made.count, made.angle, made.kind, made.use, made.both) == (3, 12.5, "slit", "hem", False)
    assert made.paper == "a4"


def test_what_is_typed_beside_a_list_goes_before_it():
    held = params(Every)
    assert held["paper_other"].get("gui-text") == "Paper, if another"
    assert "A size such as 60x90" in held["paper_other"].get("gui-description")
    assert words(Every, {**opened(Every), "paper": "a3"})[1]["paper"] == "a3"
    assert build(Every, *words(Every, {**opened(Every), "paper": "a3", "paper_other": " 60x90 "})).paper == "60x90"


def test_a_usual_value_stays_what_it_is_when_the_unit_changes():
    """10 mm is not to become 10 cm by a choice in the list of units: an empty line is as usual, and says so."""
    assert "width" not in words(Every, {**opened(Every), "units": "cm"})[1]
    notes = [label.text for label in ElementTree.fromstring(dialog(Every)).iter(f"{INX}label")]
    assert "usual: 10 mm" in notes


def test_no_figure_that_is_typed_is_ignored():
    for typed, read in (("0", "0"), ("3", "3"), ("2,5", "2.5"), ("4cm", "4cm"), ("1 1/2in", "1 1/2in")):
        assert words(Every, {**opened(Every), "depth": typed})[1]["depth"] == read
    assert words(Every, {**opened(Every), "width": "10", "units": "cm"})[1]["width"] == "10cm"
    assert words(Every, {**opened(Every), "angle": "12,5"})[1]["angle"] == "12.5"


def test_a_length_at_its_usual_value_is_no_word_of_the_command():
    assert "width" not in words(Every, {**opened(Every), "width": "10"})[1]
    assert "width" not in words(Every, {**opened(Every), "width": "1", "units": "cm"})[1]


def test_an_open_choice_and_an_unstated_figure_are_left_out():
    made = build(Every, *words(Every, {**opened(Every), "use": NOT_STATED, "depth": " "}))
    assert made.use == ""
    assert made.depth is None


def test_names_with_spaces_have_hyphens():
    given = {**opened(load("piece")), "names": "skirt front, skirt back"}
    assert words(load("piece"), given)[1]["names"] == "skirt-front,skirt-back"
    assert words(load("dart"), {**opened(load("dart")), "name": "waist dart"})[1]["name"] == "waist-dart"
    assert words(load("style"), {**opened(load("style")), "name": "summer top"})[1]["name"] == "summer top"


def test_a_comma_that_may_be_decimal_or_part_two_figures_is_asked_about():
    with pytest.raises(UsageError, match=r"'1,5' may be 1.5 or two figures; write 1.5, or 1; 5"):
        words(Every, {**opened(Every), "each": "1,5"})


def test_lengths_in_every_unit_of_a_dialog():
    """1 in = 25.4 mm (international yard and pound agreement, 1959)."""
    inch = {"mm": 1.0, "cm": 10.0, "in": 25.4, "1/8in": 3.175, "1/16in": 1.5875}
    assert set(inch) == set(UNITS)
    for unit, size in inch.items():
        for figure in ("0", "3", "2.5", "-7", "12.125"):
            assert parse_length(length_text(figure, unit)).constant == pytest.approx(float(figure) * size, abs=1e-6)


def test_three_of_an_eighth_is_recorded_as_a_tape_shows_it():
    assert length_text("3", "1/8in") == "3/8in"
    assert length_text("4.000", "1/16in") == "1/4in"


@pytest.mark.parametrize(("figure", "unit"), [("1,", "mm"), ("1.2.3", "mm"), ("1", "furlong"), ("3 zoll", "cm")])
def test_no_number_and_no_unit_are_refused(figure, unit):
    with pytest.raises(UsageError, match=r"length|unit"):
        length_text(figure, unit)


def test_a_figure_in_a_sum_needs_a_unit_where_the_dialog_counts_eighths():
    assert length_text("hip/4 + 1in", "1/8in") == "hip/4 + 1in"
    with pytest.raises(UsageError, match="a figure has no unit"):
        length_text("hip/4 + 1", "1/8in")


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_form_of_the_file(cls):
    root = ElementTree.fromstring(dialog(cls))
    assert root.tag == f"{INX}inkscape-extension"
    assert re.fullmatch(r"org\.flatcut\.[a-z.-]+", root.findtext(f"{INX}id"))
    assert root.findtext(f"{INX}script/{INX}command") == SCRIPT
    assert (scripts_folder() / SCRIPT).is_file()
    menus = [menu.get("name") for menu in root.iter(f"{INX}submenu")]
    if getattr(cls, "saves", ""):
        assert menus == []
        assert root.findtext(f"{INX}output/{INX}extension") == cls.saves
        assert root.findtext(f"{INX}output/{INX}filetypename") == f"{cls.file_type} (*{cls.saves})"
    else:
        assert menus[0] == "Flatcut"
        assert menus[1] == submenu(cls.menu)
        assert menus[1].split(" ", 1)[1] in (*MENUS, report.MENU)


def test_ids_and_files_differ():
    every = classes()[:-1]
    assert len({identity(cls) for cls in every}) == len({file_name(cls) for cls in every}) == len(every)
    makers = [cls for cls in every if getattr(cls, "saves", "")]
    assert makers
    # and the first entry of the menu and the choice of Open, which are of no operation
    assert len(all_dialogs()) == len(every) + len(makers) + 2
    assert len({ElementTree.fromstring(text).findtext(f"{INX}id") for text in all_dialogs().values()}) == len(
        all_dialogs()
    )


def test_a_report_that_makes_files_is_in_the_menu_too_and_asks_for_the_file():
    for cls in (cls for cls in classes() if getattr(cls, "saves", "")):
        save_as, menu = dialog(cls), dialog(cls, to_file=True)
        root = ElementTree.fromstring(menu)
        assert [entry.get("name") for entry in root.iter(f"{INX}submenu")] == ["Flatcut", submenu(report.MENU)]
        assert root.find(f"{INX}effect").get("needs-live-preview") == "false"
        held = {p.get("name"): p for p in root.iter(f"{INX}param")}
        assert held["to_file"].get("gui-hidden") == "true"
        assert held["file_to_write"].get("mode") == "file_new"
        assert held["file_to_write"].get("filetypes").split(",") == [e[1:] for e in (cls.saves, *cls.also_saves)]
        rest = {p.get("name") for p in ElementTree.fromstring(save_as).iter(f"{INX}param")}
        assert held.keys() - {"to_file", "file_to_write"} == rest


@pytest.mark.editor
@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.command)
def test_files_are_valid_by_the_editors_own_schema(cls):
    asked = subprocess.run(["inkscape", "--system-data-directory"], capture_output=True, text=True, check=True)
    schema = Path(asked.stdout.strip().splitlines()[-1]) / "extensions" / "inkscape.extension.rng"
    if not schema.exists():
        pytest.skip("this editor brings no schema of dialog files")
    rules = etree.RelaxNG(etree.parse(str(schema)))
    rules.assertValid(etree.fromstring(dialog(cls).encode()))
    if getattr(cls, "saves", ""):
        rules.assertValid(etree.fromstring(dialog(cls, to_file=True).encode()))


def test_write_mends_a_folder_and_check_names_the_command(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("flatcut.editor.install.scripts_folder", lambda: tmp_path)
    (tmp_path / "old.inx").write_text("<x/>")
    assert main(["dialogs", "--check"]) == 1
    assert "run: flatcut dialogs --write" in capsys.readouterr().err
    assert main(["dialogs", "--write"]) == 0
    assert main(["dialogs", "--check"]) == 0
    assert not (tmp_path / "old.inx").exists()
    changed = tmp_path / file_name(load("piece"))
    changed.write_text(changed.read_text().replace("piece", "peace"))
    assert stale(tmp_path) == ["piece.inx differs from its operation"]
    assert write(tmp_path) == ["piece.inx written"]


def test_dialogs_wants_one_of_two(capsys):
    for line in (
        ["dialogs"],
        ["dialogs", "--write", "--check"],
        ["dialogs", "here", "--write"],
        ["dialogs", "--wright"],
    ):
        assert main(line) == 2
    assert "Traceback" not in capsys.readouterr().err


SPOKEN = 32
"""Letters of a label."""
ROW, FRAME = 38, 170
"""px: the height of a row of a dialog, and of title, tabs, summary and buttons; measured in the editor's window."""


def table(cls) -> tuple[str, int, int, int, int]:
    """Title, fields on the first tab, longest label, height in px, tool-tips missing."""
    root = ElementTree.fromstring(dialog(cls))
    shown = [p for p in root.iter(f"{INX}param") if p.get("gui-hidden") != "true" and p.get("type") != "notebook"]
    pages = list(root.iter(f"{INX}page"))
    high = max(rows_of(page) for page in pages)
    first = len(tabs(cls)[cls.title])
    longest = max((len(p.get("gui-text", "")) for p in shown), default=0)
    return cls.title, first, longest, high * ROW + FRAME, sum(not p.get("gui-description") for p in shown)


def rows_of(box) -> int:
    """Rows of a page or a column: those of the tallest column where there are several; three lines of help are two."""
    count = 0
    for child in box:
        if child.tag == f"{INX}hbox":
            count += max((rows_of(column) for column in child.iter(f"{INX}vbox")), default=1)
        elif child.tag in (f"{INX}param", f"{INX}label"):
            count += 1
    return count if box.get("name") != "help" else -(-2 * count // 3)


def test_table_of_all_dialogs(capsys):
    found = [table(cls) for cls in classes()[:-1]]
    with capsys.disabled():
        print(f"\n{'dialog':<18} first tab  longest label  height  tips missing")
        for title, first, longest, height, missing in sorted(found):
            print(f"{title:<18} {first:>9} {longest:>14} {height:>7} {missing:>13}")
    for title, first, longest, height, missing in found:
        assert first <= 5, title
        assert longest <= SPOKEN, title
        assert height <= 640, title
        assert missing == 0, title


@pytest.mark.parametrize("cls", classes()[:-1], ids=lambda cls: cls.command)
def test_every_dialog_has_a_help_tab(cls):
    lines = help_lines(cls)
    assert 1 <= len(lines) <= LINES
    assert not [line for line in lines if "--" in line]
    assert ("can harm" in " ".join(lines)) == ("can harm" in " ".join((cls.__doc__ or "").split())), "cautions are told"
    root = ElementTree.fromstring(dialog(cls))
    assert [label.text for label in list(root.iter(f"{INX}page"))[-1]] == lines


def test_the_menu_has_deeds_with_their_objects_in_the_order_of_the_work():
    titles = {name: load(name).title for name in names()}
    assert (titles["release"], titles["back-off"]) == ("Release dart", "Back off dart")
    assert (titles["line"], titles["point"]) == ("Add line", "Add point")
    assert len(set(titles.values())) == len(titles)
    groups = sorted({submenu(load(name).menu) for name in names()} | {submenu(report.MENU)})
    assert [group.split(" ", 1)[1] for group in groups] == [
        "Prepare",
        "Darts",
        "Spread and pleat",
        "Shape",
        "Derive",
        "Finish",
        "Sizes",
        "Report",
    ]


def test_menus_are_told_by_their_numbers_today() -> None:
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    told = re.findall(r"\b(\d) ([A-Z][a-z]+(?: and [a-z]+)?) >", "\n".join((readme, *first_steps.LINES)))
    assert len(told) > 10
    for place, menu in told:
        assert submenu(menu) == f"{place} {menu}"
