"""Run every benchmark of benchmarks/ in turn; arguments (`--quick`) go to each."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    """Run all of them, also after one failed; fail when one did."""
    failed = []
    for path in sorted((ROOT / "benchmarks").glob("[!_]*.py")):
        print(f"--- {path.name} {' '.join(sys.argv[1:])}", flush=True)
        command = (sys.executable, str(path), *sys.argv[1:])
        if subprocess.run(command, cwd=ROOT, check=False).returncode:
            failed.append(path.name)
    sys.exit(f"failed: {', '.join(failed)}" if failed else 0)


if __name__ == "__main__":
    main()
