"""What all benchmarks share: their arguments, where and with which code they ran, their figures."""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import llvmlite.binding as llvm
import numpy as np

from railwright.engine.processor import lane_width
from railwright.pages.whole_file import write_whole

ROOT = Path(__file__).resolve().parent.parent


def arguments(about: str | None, quick: str) -> argparse.ArgumentParser:
    """Those that every benchmark takes; about: its docstring. quick: what is less then."""
    parser = argparse.ArgumentParser(description=(about or "").partition("\n")[0])
    parser.add_argument("--quick", action="store_true", help=quick)
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    return parser


def machine() -> dict[str, Any]:
    """What it was measured on."""
    return {
        "processor": llvm.get_host_cpu_name(),
        "cores": os.cpu_count() or 1,
        "lane_width": lane_width(),
        "system": platform.system(),
        "python": platform.python_version(),
        "numpy": np.__version__,
    }


def commit() -> str:
    """The commit of the code, empty where it is not under version control."""
    command = ("git", "rev-parse", "--short", "HEAD")
    try:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return ""
    return done.stdout.strip()


def as_json(figures: Mapping[str, Any]) -> str:
    """Figures as they are written."""
    return json.dumps(figures, indent=2, ensure_ascii=False)


def write(figures: Mapping[str, Any], file: Path | None) -> None:
    """Write figures to the file, whole, where one was asked for."""
    if file is not None:
        write_whole(file, as_json(figures) + "\n")
