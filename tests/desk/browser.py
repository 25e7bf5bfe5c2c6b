"""A Chromium for tests: by `RAILWRIGHT_CHROMIUM`, else the machine's own; a desk that is served."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NAMES = ("chromium", "chromium-browser", "google-chrome")
# As root in a closed network: no sandbox of its own, and nothing that looks for its maker.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def browser_path() -> str | None:
    """Where a Chromium is; None where there is none."""
    named = os.environ.get("RAILWRIGHT_CHROMIUM")
    return named or next(filter(None, map(shutil.which, NAMES)), None)


@contextmanager
def browser() -> Iterator[Browser]:
    """A headless Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        yield found
        found.close()


@contextmanager
def desk(folder: Path, *files: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A desk that is served in a process of its own: the address it printed, and the process."""
    command = (sys.executable, "-m", "railwright", "desk", *files)
    serving = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True)
    assert serving.stdout is not None
    try:
        yield serving.stdout.readline().split()[-1], serving
    finally:
        serving.terminate()
        serving.wait(30)
        serving.stdout.close()
