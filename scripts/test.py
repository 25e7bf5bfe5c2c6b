"""Check the code, run the tests on all cores; arguments go to pytest, whose summary is last."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    """Fail when a check or a test failed; run the tests in either case."""
    checked = subprocess.run((sys.executable, ROOT / "scripts" / "check.py"), check=False)
    if checked.returncode:
        print("The code's own checks failed, see above; the tests run all the same.", flush=True)
    # What one test of a file has proved, the others of that file look at: a file stays together.
    spread = ("--numprocesses=auto", "--dist=loadfile")
    tests = (sys.executable, "-m", "pytest", *spread, *sys.argv[1:])
    tested = subprocess.run(tests, cwd=ROOT, check=False)
    sys.exit(checked.returncode or tested.returncode)


if __name__ == "__main__":
    main()
