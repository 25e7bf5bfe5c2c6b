"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path


def write_whole(path: Path, content: str | bytes) -> None:
    """Write bytes, or a text as UTF-8: who reads the file finds the old or the new, never half.

    OSError where it cannot be written; what stood there before then still stands there.
    """
    data = content if isinstance(content, bytes) else content.encode("utf-8")
    if path.exists() and not path.is_file():  # a pipe or a device is written to, not replaced
        path.write_bytes(data)
        return
    target = path.resolve()  # a link stays a link
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
