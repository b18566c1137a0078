"""What `flatcut completion` prints, tried in the shells themselves: a person types, presses tab and reads the line."""

from __future__ import annotations

import os
import pty
import re
import select
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from flatcut.cli.completing import calls
from flatcut.cli.main import main
from flatcut.declared.declared import kinds, option
from flatcut.operations.operation import load, names

STARTS = {
    "bash": ["bash", "--norc", "--noprofile", "-i"],
    "zsh": ["zsh", "-f", "-i"],
}
SOURCE = {
    "bash": "source {file}; PS1='rea''dy> '\n",
    "zsh": "autoload -Uz compinit; compinit -u -D; source {file}; PS1='rea''dy> '\n",
}
"""The prompt is written in two parts, so that the echo of this line is not taken for it."""
TYPED = [
    ("flatcut pleat --ki", "flatcut pleat --kind="),
    ("flatcut pleat --kind=inv", "flatcut pleat --kind=inverted"),
    ("flatcut comp", "flatcut completion"),
    ("flatcut check --seam-walk-a", "flatcut check --seam-walk-aim="),
    ("flatcut run --si", "flatcut run --sizes="),
    ("flatcut editor st", "flatcut editor status"),
    ("flatcut block tor", "flatcut block torso"),
    ("flatcut check --report=her", "flatcut check --report=here.svg"),
]
"""What is typed before tab is pressed, and what the line is then."""


@pytest.fixture
def script(request: pytest.FixtureRequest, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """The file that the command prints for a shell."""
    assert main(["completion", request.param]) == 0
    file = tmp_path / f"flatcut.{request.param}"
    file.write_text(capsys.readouterr().out)
    if shutil.which(request.param) is None:
        pytest.skip(f"no {request.param} here to try it in; CI has one")
    return file


def heard(terminal: int, wanted: str, seconds: float = 20.0) -> str:
    """What comes from a terminal until it holds some text."""
    text, end = "", time.monotonic() + seconds
    while wanted not in text and time.monotonic() < end:
        if select.select([terminal], [], [], 0.2)[0]:
            text += re.sub(r"\x1b\[[0-9;?]*[A-Za-z]|\x07|\r", "", os.read(terminal, 4096).decode(errors="replace"))
    return text


@pytest.mark.parametrize("script", STARTS, indirect=True)
def test_a_shell_completes_what_is_typed(script: Path, tmp_path: Path) -> None:
    shell = script.suffix[1:]
    (tmp_path / "here.svg").write_text("<svg/>")
    child, terminal = pty.fork()
    if child == 0:  # what the shell is started in
        os.chdir(tmp_path)
        os.environ.update(TERM="dumb", HOME=str(tmp_path), LC_ALL="C.UTF-8")
        os.execvp(shell, STARTS[shell])
    try:
        os.write(terminal, SOURCE[shell].format(file=script).encode())
        assert "ready> " in heard(terminal, "ready> ")
        for typed, line in TYPED:
            os.write(terminal, typed.encode() + b"\t")
            assert line in heard(terminal, line), f"{typed} in {shell}"
            os.write(terminal, b"\x15")  # the line is taken back
    finally:
        os.close(terminal)
        os.kill(child, 9)
        os.waitpid(child, 0)


@pytest.mark.parametrize("script", ["fish"], indirect=True)
@pytest.mark.parametrize(("typed", "line"), TYPED)
def test_fish_completes_what_is_typed(script: Path, typed: str, line: str, tmp_path: Path) -> None:
    (tmp_path / "here.svg").write_text("<svg/>")
    done = subprocess.run(
        ["fish", "--no-config", "-c", f"source {script}; complete -C '{typed}'"],
        cwd=tmp_path,
        env={**os.environ, "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    offered = [row.partition("\t")[0] for row in done.stdout.splitlines()]
    assert line.split()[-1].removesuffix("=") in [word.removesuffix("=") for word in offered]


def test_every_operation_and_option_is_there() -> None:
    found = {call.name: call for call in calls()}
    for name in names():
        own = {option(key) for key in kinds(load(name)) if key != "target"}
        assert set(found[name].options) == own | {"in-place", "json", "units"}


def test_another_shell_is_refused_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "csh"]) == 2
    assert capsys.readouterr().err == "flatcut: name the shell: flatcut completion bash, zsh or fish\n"
