"""Files are written whole or not at all: who has the old one open reads it to its end, whatever goes wrong midway."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from flatcut.cli.main import main
from flatcut.errors import OutputError
from flatcut.files import write_bytes, write_chunks
from tests import by_hand as hand

OLD, NEW = b"old " * 5000, b"new! " * 20000


def chunked(name: str, data: bytes) -> None:
    write_chunks(name, (data[k : k + 1000] for k in range(0, len(data), 1000)))


WRITERS = [write_bytes, chunked]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "out.svg"
    path.write_bytes(OLD)
    return path


@pytest.mark.parametrize("write", WRITERS)
def test_who_reads_the_old_file_reads_all_of_it(file: Path, write: Callable[[str, bytes], None]) -> None:
    with file.open("rb") as reader:
        begun = reader.read(7)
        write(str(file), NEW)
        assert begun + reader.read() == OLD
    assert file.read_bytes() == NEW
    assert [path.name for path in file.parent.iterdir()] == [file.name]


@pytest.mark.parametrize("write", WRITERS)
@pytest.mark.parametrize("there", [True, False])
def test_a_disk_that_is_full_midway_costs_nothing(file: Path, write: Callable[[str, bytes], None], there: bool) -> None:
    """A limit on the size of files fails the writing where a full disk would, after its first bytes."""
    resource = pytest.importorskip("resource", reason="this system sets no such limit")
    if not there:
        file.unlink()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, hard))
    try:
        with pytest.raises(OutputError, match="cannot be written"):
            write(str(file), NEW)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert [path.read_bytes() for path in file.parent.iterdir()] == ([OLD] if there else [])


@pytest.mark.parametrize("there", [True, False])
def test_what_fails_while_it_is_made_leaves_the_old_file(file: Path, there: bool) -> None:
    if not there:
        file.unlink()

    def made() -> Iterator[bytes]:
        yield NEW
        assert not there or file.read_bytes() == OLD, "it is read while the new one is made"
        assert file.exists() == there
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_chunks(str(file), made())
    assert [path.read_bytes() for path in file.parent.iterdir()] == ([OLD] if there else [])


def test_a_drawing_changed_in_place_is_swapped(tmp_path: Path) -> None:
    path = tmp_path / "two.svg"
    path.write_bytes(hand.two_pieces())
    with path.open("rb") as reader:
        assert main(["allowance", "all", "--width=8", "-i", str(path), "--in-place"]) == 0
        assert reader.read() == hand.two_pieces()
    assert path.read_bytes() != hand.two_pieces()
