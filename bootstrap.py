#!/usr/bin/env python3
"""Set Railwright up in this checkout and run one job. Needs Python 3.11 or newer, nothing else.

The environment is the folder `.venv` beside this file, installed from a lock with hashes. From
where packages come is the machine's affair: the settings of pip (or of uv, if it is there) say so.
What follows the job's name is handed on to it.
"""

import argparse
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

# Everything above and the next three lines must also be read by older Pythons, to be refused here.
LEAST = (3, 11)
if sys.version_info < LEAST:
    sys.exit(
        f"{sys.executable} is Python {sys.version.split()[0]}; Railwright needs 3.11 or newer."
        " Install one and call this file with it: python3.11 bootstrap.py ..."
    )

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = str(BIN / "python")
# Written last: an environment without it was interrupted half way and is made anew.
STAMP = VENV / "railwright-stamp"
# Each lock holds all of the one before it.
LOCKS = ("main", "test")
# These would send packages elsewhere than into the environment.
MISLEADING = ("PYTHONHOME", "PYTHONPATH", "PIP_TARGET", "PIP_PREFIX", "PIP_ROOT")


class Job(NamedTuple):
    """What one word after `bootstrap.py` does: the lock it needs, the command it runs."""

    lock: str
    command: tuple[str, ...]
    help: str


def script(name: str) -> tuple[str, ...]:
    """The command that runs a script of ours in the environment."""
    return (PYTHON, str(ROOT / "scripts" / name))


JOBS = {
    "setup": Job("test", (), "set everything up, run nothing"),
    "demo": Job("main", (str(BIN / "railwright"), "demo"), "prove the demo design"),
    "test": Job("test", script("test.py"), "check the code and pass all tests"),
    "check": Job("test", script("check.py"), "check the code only: style, types, rooms, packages"),
    "bench": Job("test", script("bench.py"), "run the benchmarks (--quick: rough figures)"),
}


def say(text: str) -> None:
    """Tell the person, beside the job's own output."""
    print(f"bootstrap: {text}", file=sys.stderr, flush=True)


def lock_file(lock: str) -> Path:
    """Where a lock lies."""
    return ROOT / "requirements" / f"{lock}.txt"


def digest(lock: str) -> str:
    """The mark of an environment made here, now, from this lock, by this Python."""
    parts = (
        lock_file(lock).read_bytes(),
        (ROOT / "pyproject.toml").read_bytes(),
        sys.version.encode(),
        os.fsencode(ROOT),  # an environment cannot be moved
    )
    return hashlib.sha256(b"\0".join(hashlib.sha256(part).digest() for part in parts)).hexdigest()


def is_ready(lock: str) -> bool:
    """Whether the environment is whole and holds at least what the lock asks for."""
    if not (STAMP.is_file() and Path(PYTHON).exists()):
        return False
    return STAMP.read_text() in map(digest, LOCKS[LOCKS.index(lock) :])


def environment() -> dict[str, str]:
    """The machine's environment variables, less those that would mislead an installation."""
    return {name: value for name, value in os.environ.items() if name not in MISLEADING}


def succeeds(*command: str) -> bool:
    """Run one step in the checkout; its own words go to standard error."""
    done = subprocess.run(command, cwd=ROOT, env=environment(), stdout=sys.stderr, check=False)
    return done.returncode == 0


def install_with_uv(uv: str, lock: str) -> bool:
    """The fast path."""
    install = (uv, "pip", "install", "--quiet", "--python", PYTHON)
    return (
        succeeds(uv, "venv", "--quiet", "--python", sys.executable, str(VENV))
        and succeeds(
            *(*install, "--require-hashes", "--only-binary", ":all:", "--compile-bytecode"),
            *("-r", str(lock_file(lock))),
        )
        and succeeds(*install, "--offline", "--no-deps", "--no-build-isolation", "-e", str(ROOT))
    )


def install_with_pip(lock: str) -> None:
    """The path that needs nothing but Python. Ends the run, with advice, where it fails."""
    if not (importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip")):
        sys.exit(
            f"{sys.executable} lacks the modules venv and ensurepip, which come with Python but are"
            " a package of their own on Debian and its kin: install python3-venv there (apt install"
            " python3-venv), or put uv on the PATH; then run the same command again."
        )
    if not succeeds(sys.executable, "-I", "-m", "venv", str(VENV)):
        sys.exit(f"Could not make {VENV}; Python's own words are above.")
    pip = (PYTHON, "-I", "-m", "pip", "--quiet", "--disable-pip-version-check")
    install = (*pip, "install", "--no-user", "--compile")
    if not succeeds(
        *(*install, "--require-hashes", "--only-binary", ":all:", "-r", str(lock_file(lock)))
    ):
        sys.exit(
            f"The packages of {lock_file(lock)} could not be installed; pip's own words are above."
            " Without a network, or behind a mirror, tell pip where packages are (PIP_INDEX_URL,"
            " PIP_PROXY, or PIP_NO_INDEX and PIP_FIND_LINKS), then run the same command again."
        )
    # Hatchling is in the lock: nothing is to be fetched for the package itself.
    if not succeeds(*install, "--no-index", "--no-deps", "--no-build-isolation", "-e", str(ROOT)):
        sys.exit("Railwright itself could not be installed; pip's own words are above.")


def set_up(lock: str) -> None:
    """Make the environment anew, whole or not at all."""
    started = time.monotonic()
    say(f"setting up {VENV} from requirements/{lock}.txt, once; this takes a minute or two")
    if VENV.exists():
        shutil.rmtree(VENV)
    uv = shutil.which("uv")
    if not (uv and install_with_uv(uv, lock)):
        if uv:
            say("uv could not install it (its words are above); now with pip")
            shutil.rmtree(VENV, ignore_errors=True)
        install_with_pip(lock)
    succeeds(PYTHON, "-I", "-m", "compileall", "-q", str(ROOT / "src"))
    STAMP.write_text(digest(lock))
    say(f"set up in {time.monotonic() - started:.0f} s")


def run(command: tuple[str, ...]) -> None:
    """Become the job, so that signals and the exit status are its own."""
    if os.name == "nt":  # there, exec returns to the shell before the job is done
        sys.exit(subprocess.run(command, env=environment(), check=False).returncode)
    os.execve(command[0], command, environment())


def main() -> None:
    """Read the job's name, make ready, run it."""
    parser = argparse.ArgumentParser(
        description=__doc__,
        epilog="\n".join(f"{name:6} {job.help}" for name, job in JOBS.items()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("job", choices=JOBS, metavar="job", help="one of the jobs below")
    parser.add_argument("rest", nargs=argparse.REMAINDER, help="handed on to the job")
    wanted = parser.parse_args()
    job = JOBS[wanted.job]
    try:
        if not is_ready(job.lock):
            set_up(job.lock)
    except OSError as error:
        sys.exit(f"Could not set up {VENV}: {error}. The checkout must lie where you may write.")
    except KeyboardInterrupt:
        sys.exit(130)
    if job.command:
        run((*job.command, *wanted.rest))


if __name__ == "__main__":
    main()
