"""Write requirements/*.txt anew from pyproject.toml: every platform, hashes, no hosts.

Versions that are locked and still fit stay; `--upgrade` takes the newest. Needs uv.
"""

import argparse
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# Lock: the extras it takes in, and the lock whose versions it must share.
LOCKS: dict[str, tuple[str, ...]] = {
    "main": (),
    "test": ("--extra", "test", "--constraint", "requirements/main.txt"),
}
# The hosts that packages came from are the machine's affair and stay out of the file.
FORM = (
    *("--universal", "--python-version", "3.11", "--group", "build"),
    *("--generate-hashes", "--no-emit-index-url", "--no-annotate", "--no-header"),
)


def main() -> None:
    """Compile each lock in turn."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--upgrade", action="store_true", help="take the newest versions that fit")
    upgrade = ("--upgrade",) if parser.parse_args().upgrade else ()
    uv = shutil.which("uv")
    if uv is None:
        sys.exit("lock.py needs uv on the PATH: install it (pip install uv), then run it again.")
    for name, own in LOCKS.items():
        path = f"requirements/{name}.txt"
        command = (uv, "pip", "compile", "--quiet", *FORM, *own, *upgrade, "pyproject.toml")
        subprocess.run((*command, "-o", path), cwd=ROOT, check=True)
        text = (ROOT / path).read_text(encoding="utf-8")
        if "://" in text:
            sys.exit(f"{path} names a host; it must not be kept. Find which option of uv's did it.")
        print(f"{path}: {text.count('==')} packages")


if __name__ == "__main__":
    main()
