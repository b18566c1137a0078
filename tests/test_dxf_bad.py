"""DXF files that are wrong: one sentence, exit code 2, nothing written."""

from __future__ import annotations

import pytest

pytest.importorskip("ezdxf")

from flatcut.cli import main  # what they need was looked for first
from tests.dxf_files import damaged

CASES = list(damaged())


def test_there_are_many():
    assert len(CASES) >= 30
    assert len({what for what, *_ in CASES}) == len(CASES)


@pytest.mark.parametrize(("what", "data", "said"), CASES, ids=[what.replace(" ", "-") for what, *_ in CASES])
def test_a_damaged_file_gives_one_sentence(what, data, said, tmp_path, capsys):
    file, out = tmp_path / "in.dxf", tmp_path / "out.svg"
    file.write_bytes(data)
    assert main(["piece", "-i", str(file), "-o", str(out)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("flatcut: ")
    assert told.err.count("\n") == 1
    assert "Traceback" not in told.err
    assert "fault of flatcut itself" not in told.err
    assert said in told.err
    assert "; " in told.err or ": " in told.err.removeprefix("flatcut: ")  # what to do
    assert not out.exists()
    assert file.read_bytes() == data


def test_a_drawing_is_never_written_over_a_dxf_file(tmp_path, capsys):
    file = tmp_path / "in.dxf"
    file.write_bytes(b"0\nEOF\n")
    assert main(["piece", "-i", str(file), "--in-place"]) == 2
    assert main(["piece", "-i", "in.svg", "-o", str(file)]) == 2
    assert file.read_bytes() == b"0\nEOF\n"
