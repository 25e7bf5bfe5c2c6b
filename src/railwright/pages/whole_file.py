"""Files that are written whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Mapping
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


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder with files, all of them or none.

    files: name -> content. FileExistsError where the folder is there already: what stands in it
    may have been changed by hand. OSError where it cannot be written; nothing of it is left then.
    """
    if folder.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder))
    part = folder.absolute().with_name(f".{folder.name}.{os.getpid()}.part")
    part.mkdir()
    try:
        for name, content in files.items():
            write_whole(part / name, content)
        part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
