"""Check the code without running it: style, types, the rooms' contract, declared packages."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TYPED = ("src", "scripts", "benchmarks", "bootstrap.py")


def checks() -> dict[str, tuple[str, ...]]:
    """The command of each check, as words after the environment's own folder of commands."""
    return {
        "style": ("ruff", "check", "."),
        "format": ("ruff", "format", "--check", "."),
        "types": ("mypy", *(name for name in TYPED if (ROOT / name).exists())),
        "rooms": ("lint-imports", "--no-cache"),
        "packages": ("deptry", "src"),
    }


def run_all() -> list[str]:
    """Run every check, also after one failed, and return the names of those that failed."""
    folder = Path(sys.executable).parent
    failed = []
    for name, (tool, *words) in checks().items():
        print(f"--- {name}: {tool} {' '.join(words)}", flush=True)
        if subprocess.run((folder / tool, *words), cwd=ROOT, check=False).returncode:
            failed.append(name)
    return failed


if __name__ == "__main__":
    wrong = run_all()
    sys.exit(f"failed: {', '.join(wrong)}" if wrong else 0)
