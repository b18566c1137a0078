# ruff: noqa: E501  # rows of a table: broken up by their width they are read less easily
"""Five hundred hostile inputs: refused with exit code 2 and one sentence, or done and right; never anything between."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import pytest

from flatcut.arguments import parse_line
from flatcut.cli.main import main
from flatcut.errors import QUOTED, WHOLE
from flatcut.formats.svg.read import read
from tests import by_hand as hand

LONG = "x" * 5000
DIGITS = "9" * 400
REFUSED, DONE, EITHER = (2,), (0,), (0, 1, 2)


class Case(NamedTuple):
    """words: of the command, {in} for the file; data: of the file; codes: that are right."""

    name: str
    words: tuple[str, ...]
    data: bytes
    codes: tuple[int, ...] = REFUSED
    ending: str = "svg"


@lru_cache
def pieces() -> bytes:
    return hand.two_pieces()


# Options --------------------------------------------------------------------------------------------------------------

NO_LENGTH = (
    "nan", "inf", "-inf", "1e999", "1e9", DIGITS, "1,5cm", "1.5.5", "5--", "+", "-", "*", "/", "1/0", "1/0cm",
    "(", ")", "(" * 3000 + "1", "(" * 3000 + "1" + ")" * 3000, "-" * 3000 + "1", "1" + "+1" * 3000, "1cmm", "cm", "1 cm cm",
    "0x10", "1_000", "1cm*1cm", "length()", "length(", "length(front.side", "distance(front.side@0)", "sin(1)",
    "no-such-measure", "1cm;2cm", "1cm 2cm", LONG, "\x00", "a\x1bb", "\udcff", "\ufffe", "front.side", "true", "{1}", "%s",
    "${HOME}", "1cm\n2cm", "length(length(length(", "²", "½",
)  # fmt: skip
LENGTHS = (
    "allowance all --width={}",
    "point --at=front.side@{} --name=p",
    "notch front.side@{}",
    "back-off front.dart-1 --by={}",
)

NO_NAME = (
    "1st", "a b", "a.b", "a/b", "a@b", "a,b", "-a", "_a", "a+b", "~a", "(a)", "'", '"', "\\", "<a>", "&amp;", "\x00", "\udcff",
    "\ufffe", "../up", "*", ",,,", ",", " ", ".",
)  # fmt: skip
NAMES = ("edge front.side --names={}", "point --at=front.side@5cm --name={}")

NO_PLACE = (
    "front", "front.", ".side", "front..side", "front.side@", "front.side@@1", "front.side@1/0", "front.side@nan",
    "front.side@-1e9", "front.side@3/2", "front.side/", "front.side/side", "front.side/neck/x", "nobody.side@1/2",
    "front.nothing@1/2", "front.side@5cm@5cm", "at(", "at()", "at(front.side@0,front.side@1cm,nan,0)",
    "at(" * 2000 + ")" * 2000, "front.side@" + "(" * 2000, "front.side@" + DIGITS, LONG, "\x00", "~front.side",
    "id:", "id:nothing", "#", "front.side@1cm..2cm..3cm", "front.side+back.side",
)  # fmt: skip
PLACES = ("point --at={} --name=p", "drill {}")

NO_COUNT = ("1.5", "0", "-1", "nan", "inf", "1e9", DIGITS, "two", "1/2", "1e400", "0x2", "½", " ", "true")
COUNTS = ("label front --quantity={}",)

NO_FLAG = ("maybe", "2", "TRUE!", "on/off", "nan", LONG)
FLAGS = ("names --show={}",)

CALLS = (
    "", "nothing", "allowance", "allowance nobody", "allowance front.nothing", "allowance all --width", "allowance all -w 3",
    "allowance all --width=1 --width=2", "allowance all --with=1", "allowance all ---width=1", "allowance all --=1",
    "allowance all --width=", "seam front.side", "seam front.side front.side", "seam front.side back.nothing", "piece all all all",
    "style --name=\x00", "style front", "edge", "edge front.side", "corner front.side", "corner front.side/neck --kind=round",
    "grain front --angle=nan", "grain front --angle=1e999", "dart front.side@10cm --intake=-1", "dart front.side@10cm --intake=1km",
    "pivot front.dart-1 --to=front.dart-1", "pivot front.nothing --to=front.side@1/2", "divide front.dart-1 --into=1.5",
    "spread front --amount=1e9", "pleat front.side@1/2 --depth=nan", "button front.centre --count=1.5",
    "button front.centre --count=1000000000", "arrange --gap=nan", "arrange --gap=-5", "join front.side back.armhole",
    "measure", "measure front.nothing", "measure front.side..", "measure ..", "line --start=front.side@1cm", "line --name=1",
    "collect", "run", "print --paper=a4x", "print --paper=0x0", "print --paper=1e9x1e9", "print --paper=roll", "print --scale=0",
    "check --seam=nan", "check --seam=-1", "pieces --yaml", "steps --json=maybe", "block nobody", "block bodice --size=none",
    "block bodice --bust=nan", "block bodice --bust=1e9", "block bodice --bust=1mm", "block bodice --size=bust-94 --waist=" + DIGITS,
    "help nothing", "operations nothing", "dialogs", "editor fly", "demo", "demo --quick", "names --show=2",
)  # fmt: skip
"""Words after which {in} is given by -i where the command takes one."""

# Drawings -------------------------------------------------------------------------------------------------------------

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">{}</svg>'
NO_PATHS = (
    "M", "M 10", "M 10,10 L", "L 10,10 H 50 V 50 Z", "M 10,10 X 5", "M 10,10 H nan V 50 Z", "M 10,10 H inf V 50 Z",
    "M 10,10 H 1e999 V 50 Z", "M 10,10 H 1e300 V 50 Z", f"M 10,10 H {DIGITS} V 50 Z", "M 10,10,, H 50 V 50 Z", "M 10,10 H 50 V 50 Z#",
    "M 10,10 A 5 5 0 2 0 50,50 Z", "M 10,10 A 5 5 0 0", "M 10,10 C 1,1 2,2 Z", "M 10,10 H 10 V 10 Z", "M 10,10 H 50 H 10 Z",
    "M 10,10 L 110,90 V 10 L 10,60 Z", "M 10,10 H 50 V 50", "Z", "M 10,10 Z", "M0 0" * 3000, "M 10,10 " + "H 50 " * 3000, LONG,
    "M 10,10 H 50 V 50 Z" + "-" * 5000, "M 10,10 H 5e V 50 Z", "M 10,10 L 50,10 50,50 10,50 10,10 50,50 Z M", "M 1e-300,0 H 2e-300 V 1 Z",
    "M 10,10 H 1000001 V 50 Z", "M 10,10 L 50 10 L 50 10.00001 Z", "m", "\u0660 10",
)  # fmt: skip
PATHS_DONE = ("M10 10h40v40h-40zm5 5",
    "M 10,10 H 110 V 90 H 10 Z", "m10 10h100v80h-100z", "M10,10L110,10 110,90 10,90z", "M1e1,1E1H1.1e2V90H10Z",
    "M 10,10 h 0 H 110 v 0 V 90 H 10 Z", "M 10,10 C 10,10 110,10 110,10 V 90 H 10 Z", "M 10,50 A 40 40 0 0 1 90,50 A 40 40 0 0 1 10,50 Z",
    "M 10,50 a40 40 0 1180 0 40 40 0 11-80 0z", "M 10,10 Q 60,0 110,10 T 110,90 H 10 Z", "M 10,10 H 110 V 90 H 10 L 10,10",
    "M 10,10 H 110 V 90 H 10 Z" + " " * 100_000,
)  # fmt: skip
NO_DRAWINGS = (
    "", " ", "\x00", "\ufeff", "no drawing", "<", "<svg", "<svg>", "<svg/>", "<html/>", "<?xml version='1.0'?>", "<!-- -->",
    '<?xml version="1.0" encoding="klingon"?><svg/>', '<?xml version="9.9"?><svg xmlns="http://www.w3.org/2000/svg"/>',
    SVG.format("")[:-3], SVG.format("<g>"), SVG.format("</g>"), SVG.format("&nothing;"), SVG.format("<path"), SVG.format("<a:b/>"),
    "<!DOCTYPE svg [<!ENTITY a '&a;'>]>" + SVG.format("&a;"), "<!DOCTYPE svg [<!ENTITY a '&b;'><!ENTITY b '&a;'>]>" + SVG.format("&a;"),
    "<!DOCTYPE svg [<!ENTITY a SYSTEM 'file:///etc/hostname'>]>" + SVG.format("&a;"), "<!DOCTYPE svg [<!ENTITY % a SYSTEM 'x'>%a;]>" + SVG,
    "<!DOCTYPE svg [" + "".join(f"<!ENTITY a{k} '&a{k + 1};&a{k + 1};'>" for k in range(40)) + "<!ENTITY a40 'x'>]>" + SVG.format("&a0;"),
    "<!DOCTYPE svg [<!ATTLIST path d CDATA '" + "x" * 9000 + "'>]>" + SVG.format("<path/>" * 9000), "<!DOCTYPE svg [" + SVG, "<!DOCTYPE",
    SVG.format("<g>" * 300 + "</g>" * 300), SVG.format("<g>" * 100_000), SVG.replace("200mm", "200furlong"), SVG.replace("200mm", "nan"),
    SVG.replace("200mm", "-5mm"), SVG.replace("0 0 200 200", "0 0 0 0"), SVG.replace("0 0 200 200", "0 0 nan 200"),
    SVG.replace("0 0 200 200", "0 0 200"), SVG.replace("200mm", "1e999mm"), SVG.format(""), SVG.format("<path/>"), SVG.format("<path d=''/>"),
    SVG.format("<rect width='0' height='9'/>"), SVG.format("<rect width='-9' height='9'/>"), SVG.format("<circle r='nan'/>"),
    SVG.format("<circle r='1e999'/>"), SVG.format("<polygon points='0,0 9'/>"), SVG.format("<polygon points='0,0 9,9 x,9'/>"),
    SVG.format("<ellipse rx='9' ry='1e308'/>"), SVG.format("<use href='#a' id='a'/>"),
    SVG.format("<g id='a'><use href='#a'/></g>"), SVG.format("<image href='x.png'/>"), SVG.format("<text>only words</text>"),
    SVG.format("<g display='none'><path d='M0 0h9v9z'/></g>"), SVG.format("<defs><path d='M0 0h9v9z'/></defs>"),
)  # fmt: skip
SQUARE = "M 10,10 H 110 V 90 H 10 Z"
NO_TRANSFORMS = (
    "scale(nan)",
    "scale(1e999)",
    "scale(0)",
    "matrix(1,2,3)",
    "rotate(",
    "fly(1)",
    "translate(1e300)",
    "scale(1e-300)",
    "x" * 5000,
)
TRANSFORMS_DONE = ("", "none", "scale(1)", "translate(1)" * 500, "rotate(90)", "scale(-1,1)", "matrix(1 0 0 1 0 0)")

# Texts ----------------------------------------------------------------------------------------------------------------

NO_RECIPES = (
    "nothing", "allowance all --width=1,5cm", "allowance nobody", "allowance all -i a.svg", "allowance all -o a.svg", "\x00", LONG,
    'style --name="open', "style --name='open", "style --name=open\\", "'" * 5001, '"' * 5001, 'style --name="' + "a\n" * 5000,
    "allowance all\nallowance nobody", "point --at=id:p1", "run a.recipe", "check", "help", "allowance all --width=" + "(" * 5000,
    "allowance all --width=" + DIGITS, "piece --table=" + "x" * 5000, "style --name=\udcff", "\ufeff\ufeffstyle", "allowance all --width=\x01",
    "seam front.side front.side", "edge front.side --names=,,,", "label front --quantity=1.5", "<svg/>", "{}", "[[[[",
)  # fmt: skip
NO_TABLES = (
    "", " ", "\n\n", "name", "nothing,name\nx,y", "name,name\na,b", "name,width\na,nan", "name,width\na,1e999", "name,width\na,-1",
    "name,width\na,1,5", "name,quantity\na,1.5", "name,quantity\na,0", "name,quantity\na,-1", f"name,quantity\na,{DIGITS}",
    "name,quantity\na,x", "name,quantity\na,²", "name,cut\na,folded", "name,use\na,seam", 'name\n"a', "name\n1st", "name\n,,,\nb,c",
    "name,width (ell)\na,1", "name\na\nb\nc", "name\na\na", "drawn,name\nnothing,a", "name,side\na,\x01",
    "name,material\na," + "\x7f", "name,width\na," + "(" * 5000, "name,quantity\na,1e3",
)  # fmt: skip
NO_MEASURES = (
    "bust", "bust = ", "bust = nan", "bust = inf", "bust = 1e999", "bust = -5", f"bust = {DIGITS}", "bust = '1,5cm'", "bust = true",
    "bust = [1]", "bust = " + "[" * 5000, "bust = " + "[" * 5000 + "]" * 5000, "a = " + "{a=" * 5000, "[[[", "[S]", "[S]\nbust = 9",
    "units = 'ell'\nbust = 90", "units = 5\nbust = 90", "nothing = 9", "bust = 9\nbust = 9", "bust = 0", "bust = 1979-05-27", "\x00",
    "bust = '" + LONG + "'", "bust = 9e9", LONG, "a.b.c = 1", "bust = '9'", "'' = 5", "waist_ = 5",
)  # fmt: skip
NO_SIZES = (
    "", "bust = 900", "[S]", "[]", "['']\nbust = 900", "[' ']\nbust = 900", "['a/b']\nbust = 900", "['..']\nbust = 900", "['a\\u0000']\nbust=1",
    "[S]\nbust = 900\n[s]\nbust = 900", "[S]\nbust = 900\n[S]\nbust = 900", "[S]\nbust = nan", "[S.a]\nbust = 900", "S = 5", "S = []",
    "[S]\nbust = " + "[" * 5000, "units = 'ell'\n[S]\nbust = 900", "\udcff", "[S]\nnothing = 1", "['" + "n" * 300 + "']\nbust = 900",
)  # fmt: skip


def cases() -> Iterator[Case]:
    """All of them."""
    whole = pieces()
    for what, lines, values in (
        ("length", LENGTHS, NO_LENGTH), ("name", NAMES, NO_NAME), ("place", PLACES, NO_PLACE), ("count", COUNTS, NO_COUNT),
        ("flag", FLAGS, NO_FLAG),
    ):  # fmt: skip
        for line, value in itertools.product(lines, values):
            words = tuple(word.replace("{}", value) for word in line.split(" "))
            yield Case(f"{what} {value[:20]!r} in {line.split()[0]}", words, whole)
    for line in CALLS:
        yield Case(f"call {line[:60]!r}", tuple(line.split(" ")) if line else ("",), whole)
    for data in NO_PATHS:
        yield Case(f"path {data[:30]!r}", ("piece",), SVG.format(f'<path id="a" d="{data}"/>').encode())
    for data in PATHS_DONE:
        yield Case(f"path {data[:30]!r}", ("piece",), SVG.format(f'<path id="a" d="{data}"/>').encode(), DONE)
    for text in NO_DRAWINGS:
        yield Case(f"drawing {text[:60]!r}", ("piece",), text.encode("utf-8", "surrogateescape"))
    for texts, codes in ((NO_TRANSFORMS, REFUSED), (TRANSFORMS_DONE, DONE)):
        for text in texts:
            data = SVG.format(f'<path id="a" transform="{text}" d="{SQUARE}"/>').encode()
            yield Case(f"transform {text[:30]!r}", ("piece",), data, codes)
    for kind, texts, words in (
        ("recipe", NO_RECIPES, ("run", "{in}", "{two}", "-o", "{out}")),
        ("csv", NO_TABLES, ("piece", "--table={in}", "-i", "{square}", "-o", "{out}")),
        ("toml", NO_MEASURES, ("block", "bodice", "--measures={in}", "-o", "{out}")),
        ("sizes.toml", NO_SIZES, ("run", "{bodice}", "--sizes={in}", "--into={into}")),
    ):
        for text in texts:
            yield Case(f"{kind} {text[:40]!r}", words, text.encode("utf-8", "surrogateescape"), REFUSED, kind)
    for device, (words, ending) in itertools.product(
        ("/dev/zero", "{folder}", "{folder}/missing", "/proc/self/mem"),
        ((("piece", "-i", "{}", "-o", "{out}"), ""), (("run", "{}", "{two}", "-o", "{out}"), ""), (("check", "{}"), ""),
         (("piece", "--table={}.csv", "-i", "{square}", "-o", "{out}"), ".csv"), (("print", "{}", "-o", "{out}"), ""),
         (("block", "bodice", "--measures={}", "-o", "{out}"), "")),
    ):  # fmt: skip
        if not ending:
            yield Case(f"{words[0]} {device}", tuple(word.replace("{}", device) for word in words), b"")


ALL = list(cases())


def test_there_are_five_hundred() -> None:
    print(f"\n{len(ALL)} hostile inputs, {sum(case.codes == REFUSED for case in ALL)} of them to be refused")
    assert len(ALL) >= 500
    assert len({case.name for case in ALL}) > 0.95 * len(ALL)


@pytest.mark.parametrize("share", range(8))
def test_hostile_inputs_are_refused_in_one_sentence_or_done(
    share: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = []
    for number, case in enumerate(ALL[share::8]):
        folder = tmp_path / str(number)
        folder.mkdir()
        try:
            said = tried(case, folder, capsys)
        except Exception as error:  # each is told, not the first alone
            said = f"{type(error).__name__}: {error}"
        if said:
            wrong.append(f"{case.name}: {said}")
    assert not wrong, "\n".join(wrong)


def tried(case: Case, folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What is wrong with how a case ends; '' for nothing."""
    given = folder / f"in.{case.ending}"
    given.write_bytes(case.data)
    files = {
        "in": given, "out": folder / "out.svg", "into": folder / "into", "folder": folder, "two": folder / "two.svg",
        "square": folder / "square.svg", "bodice": folder / "bodice.recipe",
    }  # fmt: skip
    files["two"].write_bytes(pieces())
    files["square"].write_bytes(SVG.format(f'<path id="a" d="{SQUARE}"/>').encode())
    files["bodice"].write_text("block bodice\n")
    words = list(case.words)
    for key, path in files.items():
        words = [word.replace(f"{{{key}}}", str(path)) for word in words]
    if (
        words == list(case.words)
        and "/" not in words[-1][:1]
        and words[0] not in ("help", "operations", "dialogs", "editor", "demo", "block", "")
    ):
        inputs = (
            [str(given)] if words[0] in ("collect", "run", "print", "check", "pieces", "steps") else ["-i", str(given)]
        )
        output = [] if words[0] in ("check", "pieces", "steps", "measure") else ["-o", str(files["out"])]
        words += [*inputs, *output]
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    code = main(words)
    said = capsys.readouterr()
    after = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    if code not in case.codes:
        return f"exit code {code}: {(said.out + said.err)[:300]}"
    if any(after.get(path) != data for path, data in before.items()):
        return "an input changed"
    if code == 2:
        lines = [line for line in said.err.splitlines() if line.startswith("flatcut: ") or "Traceback" in line]
        if set(after) != set(before):
            return f"left behind: {sorted(map(str, set(after) - set(before)))}"
        if case.ending == "sizes.toml" and not lines:
            lines = ["flatcut: " + line for line in said.err.splitlines()[-1:]]
        if len(lines) != 1 or said.out:
            return f"no one sentence: {said.err[:300]}{said.out[:100]}"
        if "fault of flatcut" in lines[0] or len(lines[0]) > WHOLE + 100 or "x" * (QUOTED + 20) in lines[0]:
            return lines[0][:300]
        return ""
    drawing, pattern, findings = read(files["out"].read_bytes())
    if findings or drawing.faults:
        return str(findings)
    parse_line(pattern.steps[-1].line)
    return ""
