"""Where compiled code is kept between runs."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from functools import cache
from pathlib import Path

FOLDER_VARIABLE = "RAILWRIGHT_CACHE"
"""Environment variable that names another folder for compiled code."""
PACKAGE = Path(__file__).parent.parent


def folder() -> Path:
    """The folder of compiled code; may not exist yet."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "railwright"


@cache
def source_fingerprint() -> str:
    """Changes with every change of the equations or of the code that compiles them."""
    digest = hashlib.sha256()
    for room in ("engine", "devices"):
        for file in sorted((PACKAGE / room).glob("*.py")):
            digest.update(file.name.encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()


DIGEST = hashlib.sha256().digest_size


def fetch(key: str) -> bytes | None:
    """What was kept under a key, None where nothing was or where it is damaged."""
    try:
        found = (folder() / key).read_bytes()
    except OSError:
        return None
    content, digest = found[:-DIGEST], found[-DIGEST:]
    return content if hashlib.sha256(content).digest() == digest else None


def keep(key: str, content: bytes) -> None:
    """Keep content under a key; a folder that cannot be written is no error, only slower."""
    place = folder()
    with contextlib.suppress(OSError):
        place.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content + hashlib.sha256(content).digest())
            Path(name).replace(place / key)
        except OSError:
            Path(name).unlink(missing_ok=True)
