"""Wrong files and wrong calls: one sentence, exit code 2, no output file, the input as it was, never a traceback."""

from __future__ import annotations

import io
import os
import re
import stat
import subprocess
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest
from lxml import etree

import flatcut
from flatcut.cli.main import main
from flatcut.errors import FlatcutError
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import FORMAT, NAMESPACE, own
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load
from tests import by_hand as hand

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">{}</svg>'
SQUARE = SVG.format('<path id="a" d="M 10,10 H 110 V 90 H 10 Z"/>')


@lru_cache
def pieces() -> bytes:
    return hand.two_pieces()


class Case:
    """One folder with an input and a place for the output."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.capsys = capsys
        self.output = folder / "out.svg"

    def file(self, data: str | bytes, name: str = "in.svg") -> str:
        path = self.folder / name
        path.write_bytes(data.encode() if isinstance(data, str) else data)
        return str(path)

    def refused(self, data: str | bytes, *words: str) -> str:
        """The one sentence that a call ends with."""
        path = self.file(data)
        before = Path(path).read_bytes()
        code = main([*words, "-i", path, "-o", str(self.output)])
        assert Path(path).read_bytes() == before
        return self.told(code)

    def told(self, code: int) -> str:
        said = self.capsys.readouterr()
        assert code == 2, said.err
        assert said.out == ""
        assert not self.output.exists()
        assert [path.name for path in self.folder.iterdir() if path.name.startswith(".")] == []
        lines = [line for line in said.err.splitlines() if not line.startswith("note: ")]
        assert len(lines) == 1
        assert lines[0].startswith("flatcut: ")
        assert "Traceback" not in said.err
        assert "fault of flatcut" not in said.err
        return lines[0].removeprefix("flatcut: ")


@pytest.fixture
def case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Case:
    return Case(tmp_path, capsys)


# Files ----------------------------------------------------------------------------------------------------------------

BOMB = '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaaaaaaaa">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 16}">' for before, name in zip("abcdefg", "bcdefgh", strict=True)
)
EXTERNAL = '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
FILES = {
    "not XML": ("this is no drawing", "not XML"),
    "XML cut short": (SQUARE[:90], "not XML"),
    "empty": ("", "empty"),
    "only spaces": ("  \n ", "empty"),
    "another kind of XML": ("<html><body/></html>", "no SVG drawing"),
    "no namespace": ("<svg><path d='M 0 0 h 1 v 1 z'/></svg>", "xmlns"),
    "bytes of a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not XML"),
    "an entity bomb": (BOMB + "]>" + SVG.format("<text>&h;</text>"), "entit"),
    "an external entity": (EXTERNAL + SVG.format("<text>&x;</text>"), "entit"),
    "an external parameter entity": (
        '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY % p SYSTEM "http://example.org/x.dtd">%p;]>' + SQUARE,
        "entit",
    ),
    "packed and broken off": (b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03abc", "in.svg"),
    "NaN in a path": (SVG.format('<path id="a" d="M NaN,0 H 50 V 50 Z"/>'), "path 'a'"),
    "a huge number": (SVG.format('<path id="a" d="M 0,0 H 1e300 V 50 Z"/>'), "path 'a'"),
    "an infinite number": (SVG.format('<path id="a" d="M 0,0 H 1e999 V 50 Z"/>'), "path 'a'"),
    "a transform of NaN": (
        SVG.format('<path id="a" transform="scale(nan)" d="M 0,0 H 50 V 50 Z"/>'),
        "transform",
    ),
    "an unknown unit of the page": (
        '<svg xmlns="http://www.w3.org/2000/svg" width="20furlong" height="2mm"><path id="a" d="M0 0h9v9z"/></svg>',
        "furlong",
    ),
    "path data that break off": (SVG.format('<path id="a" d="M 0,0 H 50 V"/>'), "path 'a'"),
    "nothing drawn": (SVG.format(""), "closed path"),
    "an open outline": (SVG.format('<path id="a" d="M 10,10 H 110 V 90 H 10"/>'), "close"),
    "an outline in parts": (SVG.format('<path d="M 10,10 H 110 V 90"/><path d="M 110,90 H 10 V 10"/>'), "join them"),
    "an outline that crosses itself": (SVG.format('<path id="a" d="M 10,10 L 110,90 V 10 L 10,60 Z"/>'), "crosses"),
    "an outline without area": (SVG.format('<path id="a" d="M 10,10 H 110 H 10 Z"/>'), "a"),
    "an outline without length": (SVG.format('<path id="a" d="M 10,10 L 10,10 Z"/>'), "closed path"),
}


@pytest.mark.parametrize("what", FILES)
def test_a_bad_file_is_refused_in_one_sentence(what: str, case: Case) -> None:
    data, word = FILES[what]
    assert word in case.refused(data, "piece")


def test_zero_length_segments_are_left_out(case: Case) -> None:
    path = case.file(SVG.format('<path id="a" d="M 10,10 H 110 H 110 V 90 l 0,0 H 10 c 0,0 0,0 0,0 Z"/>'))
    assert main(["piece", "-i", path, "-o", str(case.output)]) == 0
    piece = read(case.output.read_bytes())[1].pieces[0]
    assert [edge.segments for edge in piece.edges] == [1, 1, 1, 1]


def test_no_file_folder_or_right(case: Case) -> None:
    assert "cannot be read" in case.told(
        main(["piece", "-i", str(case.folder / "missing.svg"), "-o", str(case.output)])
    )
    assert "cannot be read" in case.told(main(["piece", "-i", str(case.folder), "-o", str(case.output)]))
    path = case.file(SQUARE)
    for output in (case.folder / "no" / "such" / "out.svg", case.folder):
        assert "cannot be written" in case.told(main(["piece", "-i", path, "-o", str(output)]))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_full_device_is_an_error_and_no_traceback(case: Case) -> None:
    path = case.file(SQUARE)
    assert "cannot be written" in case.told(main(["piece", "-i", path, "-o", "/dev/full"]))


@pytest.mark.parametrize("words", [["piece"], ["run", "style.recipe"], ["collect", "other.svg"]], ids=lambda w: w[0])
@pytest.mark.parametrize(
    ("name", "then"), [("a.pdf", "flatcut print -o "), ("a.DXF", "flatcut exchange -o "), ("a.png", "")]
)
def test_an_output_of_another_kind_is_no_drawing(words: list[str], name: str, then: str, case: Case) -> None:
    recipe = case.file("piece\n", "style.recipe")
    words = [recipe if word == "style.recipe" else word for word in words]
    said = case.told(main([*words, "-i", case.file(SQUARE), "-o", str(case.folder / name)]))
    assert f"what {words[0]} makes is an SVG drawing; write it to a .svg file" in said
    assert then in said
    assert not (case.folder / name).exists()


def test_an_output_that_was_there_stays_when_the_call_fails(case: Case) -> None:
    path, output = case.file(SVG.format("")), case.folder / "kept.svg"
    output.write_text("kept")
    assert main(["piece", "-i", path, "-o", str(output)]) == 2
    assert output.read_text() == "kept"


def test_the_mode_of_a_file_written_in_place_stays(case: Case) -> None:
    path = case.file(SQUARE)
    os.chmod(path, 0o640)
    assert main(["piece", "-i", path, "--in-place"]) == 0
    assert stat.S_IMODE(os.stat(path).st_mode) == 0o640


def test_a_newer_format_is_refused(case: Case) -> None:
    root = hand.root_of(pieces())
    next(root.iter(own("pattern"))).set("format", str(FORMAT + 1))
    said = case.refused(hand.bytes_of(root), "allowance", "all")
    assert f"format {FORMAT + 1}" in said
    assert "update flatcut" in said


# Calls ----------------------------------------------------------------------------------------------------------------

CALLS = {
    "no such command": (["alowance", "all"], "did you mean 'allowance'?"),
    "no such option": (["allowance", "all", "--widht=3"], "did you mean '--width'?"),
    "no such piece": (["allowance", "fornt"], "did you mean 'front'?"),
    "no such edge": (["allowance", "front.sied"], "did you mean 'side'?"),
    "no such corner": (["point", "--at=front.side/neck"], "do not meet"),
    "no such measurement": (["allowance", "all", "--width=wrist + 1cm"], "wrist"),
    "an unknown unit": (["allowance", "all", "--width=3furlong"], "furlong"),
    "an unknown unit of the call": (["allowance", "all", "--width=3", "--units=ell"], "ell"),
    "a decimal comma": (["allowance", "all", "--width=1,5cm"], "write 1.5cm"),
    "a word for a number": (["allowance", "all", "--width=wide"], "wide"),
    "NaN": (["allowance", "all", "--width=nan"], "nan"),
    "infinity": (["allowance", "all", "--width=1e400"], "--width"),
    "a huge number": (["allowance", "all", "--width=9e9"], "--width"),
    "a negative width": (["allowance", "all", "--width=-3"], "--width"),
    "a width beyond all measure": (["allowance", "all", "--width=3m"], "--width"),
    "a division by zero": (["allowance", "all", "--width=3cm/0"], "zero"),
    "a fraction by zero": (["allowance", "all", "--width=3/0in"], "zero"),
    "two lengths multiplied": (["allowance", "all", "--width=3cm*2cm"], "multiplies two lengths"),
    "an option twice": (["allowance", "all", "--width=3", "--width=4"], "twice"),
    "a short option": (["allowance", "all", "-w", "3"], "-w is not an option"),
    "a length after a space": (["allowance", "all", "--width", "6mm"], "write --width=LENGTH"),
    "a name after a space": (["edge", "front.side", "--names", "waist"], "write --names=TEXT"),
    "an option without its name": (["edge", "front.side", "--names"], "write --names=TEXT"),
    "a drawing for a rule table": (["grade", "--rules=base.svg", "--size=44"], "ends in .toml, .rul, .csv"),
    "a place beyond its edge": (["point", "--at=front.side@9m"], "beyond"),
    "a fraction beyond its edge": (["point", "--at=front.side@3/2"], "beyond"),
    "a place that is none": (["point", "--at=front..side"], "not a place"),
    "an edge where a place is wanted": (["point", "--at=front.side"], "front.side"),
    "a name that is none": (["edge", "front.side", "--names=1st"], "cannot be"),
    "names of nothing": (["piece", "--names=,,,"], "comma with no word"),
    "a name left out": (["edge", "front.side", "front.hem", "--names=a,,b"], "comma with no word"),
    "a name that is taken": (["edge", "front.side", "--names=hem,waist"], "--names"),
    "another thing's name": (["edge", "front.side", "--names=waist"], "already"),
    "nothing to change": (["edge", "front.side"], "nothing to change"),
    "an empty selection of several": (["allowance"], "select or name one of"),
    "a target where none goes": (["style", "front"], "takes no target"),
    "an edge sewn to itself": (["seam", "front.side", "front.side"], "itself"),
    "one run alone": (["seam", "front.side"], "two runs"),
    "a flag that is none": (["names", "--show=maybe"], "true or false"),
    "a choice that is none": (["edge", "front.side", "--use=seem"], "seam"),
    "an input twice": (["allowance", "all", "-i", "other.svg"], "-i is given twice"),
    "an output twice": (["allowance", "all", "-o", "other.svg"], "-o is given twice"),
    "in place and an output": (["allowance", "all", "--in-place"], "--in-place"),
    "a drawn object that is not there": (["line", "--drawn=id:nothing"], "nothing"),
}


@pytest.mark.parametrize("what", CALLS)
def test_a_bad_call_is_refused_in_one_sentence(what: str, case: Case) -> None:
    words, part = CALLS[what]
    assert part in case.refused(pieces(), *words)


def test_an_output_over_the_input_wants_to_be_meant(case: Case) -> None:
    path = case.file(pieces())
    assert "--in-place" in case.told(main(["allowance", "all", "-i", path, "-o", path]))


RECIPES = {
    "allowance all --width=1,5cm": ("line 1", "1.5cm"),
    "# first\nallowance all --width=1cm\nalowance all": ("line 3", "did you mean 'allowance'?"),
    "allowance fornt": ("line 1", "did you mean 'front'?"),
    'allowance all --width="1cm': ("line 1", "quotation mark"),
    "allowance all -i a.svg": ("line 1", "names no files"),
    "point --at=id:p1": ("line 1", ""),
}


@pytest.mark.parametrize("text", RECIPES)
def test_a_bad_recipe_names_its_line(text: str, case: Case) -> None:
    recipe = case.file(text, "style.recipe")
    path = case.file(pieces())
    said = case.told(main(["run", recipe, path, "-o", str(case.output)]))
    for part in RECIPES[text]:
        assert part in said


def test_a_bad_name_from_the_shell_is_a_sentence(case: Case) -> None:
    """Control characters and bytes that are no text cannot stand in XML."""
    for text in ("a\x01b", "a\udcffb", "\x00", "\ufffe"):
        assert "character" in case.refused(pieces(), "style", f"--name={text}")


# Standard input and output --------------------------------------------------------------------------------------------


class Terminal(io.TextIOWrapper):
    def isatty(self) -> bool:
        return True


def test_a_terminal_or_nothing_on_standard_input(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", Terminal(io.BytesIO(b"")))
    assert "terminal" in case.told(main(["piece", "-o", str(case.output)]))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))
    assert "empty" in case.told(main(["piece", "-o", str(case.output)]))
    monkeypatch.setattr(sys, "stdin", None)
    assert "standard input" in case.told(main(["piece", "-o", str(case.output)]))


def run(*words: str, data: bytes = b"", **more: object) -> subprocess.CompletedProcess[bytes]:
    where = str(Path(flatcut.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": where}
    return subprocess.run(  # type: ignore[call-overload, no-any-return]
        [sys.executable, "-m", "flatcut", *words], input=data, capture_output=True, env=environment, check=False, **more
    )


def test_as_a_process_too() -> None:
    done = run("piece", data=b"no drawing")
    assert done.returncode == 2
    assert done.stdout == b""
    assert re.fullmatch(rb"flatcut: standard input is not XML [^\n]*\n", done.stderr)


def test_a_reader_that_goes_away_is_no_traceback() -> None:
    where = str(Path(flatcut.__file__).parents[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "flatcut", "operations"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": where},
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=60)
    assert b"Traceback" not in said


# Damaged attributes ---------------------------------------------------------------------------------------------------

OTHER = (
    *("", "null", "[]", "{}", "[1]", "'x'", "x y", "{'a':1}", "NaN", "[1e999]", "[[[[", "-1", "[null]", "[{}]"),
    *("M 0,0", "M 0,0 L 5,5 Z", "matrix(0,0,0,0,0,0)", "scale(0)", "[" * 100_000, "[['a','b']]"),
)


def damaged(value: str) -> list[str | None]:
    """Ways to break an attribute: gone, other data, cut short, other numbers, other words, other types."""
    return [
        None,
        *OTHER,
        value[: len(value) // 2],
        value[1:],
        re.sub(r"\d+", "-7", value),
        re.sub(r"\d+", "1e999", value),
        re.sub(r"'[^']*'", "'zz'", value),
        re.sub(r"(?<=:)[^,}]+", "null", value),
        re.sub(r"(?<=:)[^,}]+", "'q'", value),
        re.sub(r"(?<=:)[^,}]+", "100000", value),
        re.sub(r"\[[^\[\]]*\]", "[]", value),
    ]


def attributes(root: etree._Element) -> Iterator[tuple[int, str, str]]:
    """One of each kind of attribute of flatcut's own: number of the element, name, value."""
    seen = set()
    for number, element in enumerate(root.iter(etree.Element)):
        mine = str(element.tag).startswith(f"{{{NAMESPACE}}}")
        kind = str(element.tag) if mine else "".join(sorted(a for a in element.attrib if NAMESPACE in a))
        if element.get(own("drawn")) is not None:
            kind = element.get(own("drawn"), "")
        for name, value in element.attrib.items():
            if (mine or NAMESPACE in name) and (kind, name) not in seen:
                seen.add((kind, name))
                yield number, str(name), str(value)


def everything() -> bytes:
    return hand.perform(pieces(), "names")


def kinds() -> list[tuple[int, str, str]]:
    return list(attributes(hand.root_of(everything())))


@pytest.mark.parametrize("share", [pytest.param(12, marks=pytest.mark.brief), pytest.param(1, marks=pytest.mark.long)])
def test_every_damaged_attribute_is_a_sentence_or_harmless(share: int) -> None:
    """Each attribute in each way, or one in `share`: what is read can be asked, at times changed and written."""
    data = everything()
    refused: list[str] = []
    told: list[str] = []
    for number, name, value in kinds():
        root = hand.root_of(data)
        element = list(root.iter(etree.Element))[number]
        for k, text in enumerate(damaged(value)):
            if (k + number) % share:
                continue
            element.attrib.pop(name, None)
            if text is not None:
                element.set(name, text)
            try:
                told += asked(hand.bytes_of(root), change=(k + number) % 16 == 0)
            except FlatcutError as error:
                refused.append(str(error))
    assert len(refused) > 60 / share
    assert len(told) > 90 / share
    assert [text for text in (*refused, *told) if "\n" in text or len(text) >= 400] == []


def asked(data: bytes, *, change: bool) -> list[str]:
    """What reading finds; with `change` the pieces are also listed, given an allowance and written."""
    drawing, pattern, findings = read(data)
    if change and pattern.pieces:
        pattern_record(pattern)
        read(write(drawing, load("allowance")(target=("all",), width=7.0)(pattern)))  # type: ignore[call-arg]
    return [found.text for found in findings]


def test_a_damaged_piece_is_left_and_the_others_are_done(case: Case) -> None:
    root = hand.root_of(pieces())
    hand.outline(root, "front").set(own("edges"), "[{'uid':'x'")
    path = case.file(hand.bytes_of(root))
    assert main(["allowance", "back", "--width=1cm", "-i", path, "-o", str(case.output)]) == 1
    said = case.capsys.readouterr().err
    assert "note: front is left as it is: the data of front is damaged" in said
    assert read(case.output.read_bytes())[1].piece("back")
