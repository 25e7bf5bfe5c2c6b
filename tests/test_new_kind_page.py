"""The worked example of docs/new-kind.md in a copy of the package: nothing else is edited."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
BLOCK = re.compile(r"^`(\S+)`:\n\n```\w+\n(.*?)^```$", re.DOTALL | re.MULTILINE)
DESIGN, EQUATIONS = "cabin-logic.toml", "src/railwright/devices/varistor.py"
TESTS = (
    "tests/devices/test_varistor.py",
    "tests/devices/test_declarations.py",
    "tests/devices/test_equations.py",
    "tests/devices/test_slopes.py",
    "tests/catalogue/test_parts.py",
    "tests/engine/test_kernel.py",
)


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    """Path to text of each file that the page shows."""
    return dict(BLOCK.findall((ROOT / "docs" / "new-kind.md").read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def copy(files: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Package and tests with the files of the page added to them."""
    folder = tmp_path_factory.mktemp("copy")
    for name in ("src", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    for name, text in files.items():
        assert not (folder / name).exists(), f"{name} is there already"
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def run(copy: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """A module of the copy, in a process of its own."""
    env = {**os.environ, "PYTHONPATH": str(copy / "src")}
    command = (sys.executable, "-m", *words)
    return subprocess.run(
        command, cwd=copy, env=env, capture_output=True, encoding="utf-8", check=False
    )


def test_passes_its_own_tests_and_those_of_every_kind(copy: Path) -> None:
    done = run(copy, "pytest", "-vv", "-k", "varistor", *TESTS)
    assert done.returncode == 0, done.stdout
    for name in TESTS:
        assert f"{name}::" in done.stdout
    assert "test_slopes_are_those_of_the_complex_step[varistor] PASSED" in done.stdout


def test_can_be_looked_up(copy: Path) -> None:
    done = run(copy, "railwright", "part", "varistor 14 mm 22 V")
    assert done.returncode == 0, done.stderr
    assert "Caution: ages with every surge" in done.stdout


def test_is_checked_in_a_design(copy: Path) -> None:
    done = run(copy, "railwright", "prove", DESIGN, "--json", "proof.json")
    assert done.returncode == 0, done.stdout + done.stderr
    checks = json.loads((copy / "proof.json").read_text(encoding="utf-8"))["checks"]
    asked = {check["subject"]: check["verdict"] for check in checks if "RV1 " in check["subject"]}
    assert asked.keys() == {"RV1 rated_voltage", "RV1 rated_power", "RV1 peak_current"}
    assert set(asked.values()) == {"holds"}


def test_is_styled_as_the_code_is(copy: Path) -> None:
    for words in (["check"], ["format", "--check"]):
        done = run(copy, "ruff", *words, EQUATIONS, TESTS[0])
        assert done.returncode == 0, done.stdout
