"""Check the code, then run the tests; arguments go to pytest, whose summary comes last."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    """Fail when a check or a test failed; run the tests in either case."""
    checked = subprocess.run((sys.executable, ROOT / "scripts" / "check.py"), check=False)
    if checked.returncode:
        print("The code's own checks failed, see above; the tests run all the same.", flush=True)
    tests = (sys.executable, "-m", "pytest", *sys.argv[1:])
    tested = subprocess.run(tests, cwd=ROOT, check=False)
    sys.exit(checked.returncode or tested.returncode)


if __name__ == "__main__":
    main()
