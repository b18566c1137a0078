"""Bodies handed to the workers of a scheduler: the same files byte for byte, also where a worker is killed midway."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from flatcut.cli import main
from tests.test_made_to_measure import files, run, table

pytest.importorskip("distributed")

Told = pytest.CaptureFixture[str]
RECIPE = "block skirt --length=60cm\nallowance all --width=1cm\nlabel all\n"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "skirt.recipe").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "customers.csv").write_text(table(16, c5=";98;20;59;"), encoding="utf-8")
    return tmp_path


def started(*words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + words[0], *words[1:]],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


@pytest.fixture
def cluster() -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and two workers of one thread each, without nannies that would start them again."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    scheduler = started("dask_scheduler", "--host=127.0.0.1", f"--port={port}", "--no-dashboard")
    workers = [started("dask_worker", address, "--nthreads=1", "--no-nanny", "--no-dashboard") for _ in range(2)]
    try:
        from distributed import Client

        with Client(address, timeout=120) as client:
            client.wait_for_workers(2, timeout=120)
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def test_workers_make_the_same_files(
    shop: Path, cluster: tuple[str, list[subprocess.Popen[bytes]]], capsys: Told
) -> None:
    address, workers = cluster
    assert run(shop, "--jobs=2") == 1
    here = files(shop)
    assert len(here) == 15 + 2, "fifteen of sixteen bodies, and the summary as CSV and JSON"
    (shop / "out").rename(shop / "here")
    assert run(shop, f"--scheduler={address}") == 1
    assert files(shop) == here
    (shop / "out").rename(shop / "there")
    # the same with a worker killed when a few bodies are done
    words = ["run", str(shop / "skirt.recipe"), f"--sizes={shop / 'customers.csv'}", "--units=cm"]
    process = subprocess.Popen(
        [sys.executable, "-m", "flatcut", *words, f"--into={shop / 'out'}", f"--scheduler={address}"],
        stderr=subprocess.DEVNULL,
    )
    journal = shop / "out" / "skirt-journal.jsonl"
    while process.poll() is None and (not journal.exists() or journal.read_bytes().count(b"\n") < 2):
        time.sleep(0.02)
    os.kill(workers[0].pid, signal.SIGKILL)
    assert process.wait(timeout=240) == 1
    assert files(shop) == here


def test_no_scheduler_there(shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: Told) -> None:
    monkeypatch.setattr("flatcut.cli.cluster.PATIENCE", 1)
    for address in ("tcp://127.0.0.1:9", "nowhere at all"):
        assert run(shop, f"--scheduler={address}") == 2
        assert f"no scheduler answers at '{address}'" in capsys.readouterr().err
        assert not (shop / "out").exists()


def test_a_scheduler_is_for_sizes(shop: Path, capsys: Told) -> None:
    assert main(["run", str(shop / "skirt.recipe"), "--scheduler=tcp://127.0.0.1:9", "-o", str(shop / "a.svg")]) == 2
    assert "--scheduler go with --sizes" in capsys.readouterr().err
