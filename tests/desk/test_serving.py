"""A desk as it is served: on loopback alone, to many tabs, and killed in the middle of a save."""

from __future__ import annotations

import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import httpx2
import pytest
from desk.browser import desk

from railwright.circuit.design import read

TABS = 50
KILLS = 8


@pytest.fixture
def client(folder: Path) -> Iterator[httpx2.Client]:
    """Somebody with the printed address."""
    with desk(folder, "small.toml") as (address, _), opened(address) as found:
        yield found


@contextmanager
def opened(address: str) -> Iterator[httpx2.Client]:
    base = address.partition("/?")[0]
    limits = httpx2.Limits(max_connections=2 * TABS)
    headers = {"origin": base}
    with httpx2.Client(base_url=base, headers=headers, limits=limits, timeout=30) as found:
        assert found.get(address, follow_redirects=True).status_code == 200
        yield found


def test_it_listens_on_loopback_alone(client: httpx2.Client) -> None:
    port = urlsplit(str(client.base_url)).port
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as outside:
        try:
            outside.connect(("192.0.2.1", 9))  # sends nothing: it tells our own address
        except OSError:
            own = "127.0.0.2"
        else:
            own = outside.getsockname()[0]
    with pytest.raises((ConnectionError, TimeoutError)):
        socket.create_connection((own, port or 0), timeout=2)


def test_fifty_lines_hear_of_a_change(client: httpx2.Client) -> None:
    with ExitStack() as stack:
        lines = [
            stack.enter_context(client.stream("GET", "/api/events")).iter_lines()
            for _ in range(TABS)
        ]
        for line in lines:
            assert next(line) == ": listening"
        sent = {"part": "R2", "value": "resistance", "text": "220 Ω"}
        assert client.post("/api/value", json=sent).status_code == 200
        for line in lines:
            assert "event: state" in line
    assert client.get("/api/whole").status_code == 200


def test_a_port_that_is_taken_is_refused(folder: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        command = (sys.executable, "-m", "railwright", "desk", "small.toml", "--port", port)
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert port in done.stderr


def test_killed_in_a_save_nothing_is_lost(folder: Path) -> None:
    """Whatever moment it is: the file is a whole one, the old or the new."""
    path, rng = folder / "small.toml", random.Random(7)
    known = {path.read_text(encoding="utf-8")}
    for kill in range(KILLS):
        with desk(folder, "small.toml") as (address, serving), opened(address) as client:
            text = path.read_text(encoding="utf-8") + f"# {kill}" + "x" * 200_000 + "\n"
            known.add(text)
            assert client.post("/api/text", json={"text": text}).status_code == 200

            def save(client: httpx2.Client = client) -> None:
                with suppress(httpx2.HTTPError):  # the desk ends meanwhile
                    client.post("/api/save", json={})

            saving = threading.Thread(target=save)
            saving.start()
            time.sleep(rng.uniform(0.0, 0.02))
            serving.send_signal(signal.SIGKILL)
            saving.join()
        assert path.read_text(encoding="utf-8") in known
        read(path)
