"""The page of all checks is what the checks say, whole, and the sums of its examples are right."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from pathlib import Path

import pytest

from railwright.checks import every, every_faults, every_wiring
from railwright.checks.check import Check, FaultCheck, WiringCheck

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "checks.md"
CHECKS: list[Check | FaultCheck | WiringCheck] = [*every(), *every_faults(), *every_wiring()]
LONGEST = 700  # characters of an analysis or an example: more is not read

POWERS = {"p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
BASES = ("Hz", "V", "A", "Ω", "W", "H", "F", "s", "K", "J")
UNITS = {p + base: 10.0**power for p, power in POWERS.items() for base in BASES} | {"%": 1e-2}
NUMBER = re.compile(
    r"(\d+(?:\.\d+)?(?:e-?\d+)?)(?:\s?(" + "|".join(sorted(UNITS, key=len)[::-1]) + r")(?![a-zΩ]))?"
)
KNOWN = {name: getattr(math, name) for name in ("sqrt", "exp", "log", "log10", "pi", "atan")}


def sums(text: str) -> list[tuple[str, str]]:
    """Both sides of every sum in backticks."""
    quoted = re.findall(r"`([^`]+)`", text)
    return [
        (left, right) for left, equals, right in (q.rpartition(" = ") for q in quoted) if equals
    ]


def value(side: str) -> float:
    """A side of a sum in plain SI numbers."""
    plain = side.replace("×", "*").replace("^", "**")
    told = NUMBER.sub(lambda m: repr(float(m[1]) * UNITS.get(m[2] or "", 1.0)), plain)
    return float(eval(told, {"__builtins__": {}}, KNOWN))


def rounding(side: str) -> float:
    """Half of the last digit that a side shows."""
    found = NUMBER.search(side)
    assert found is not None, side
    digits = len(found[1].partition("e")[0].partition(".")[2])
    return 0.5 * 10.0**-digits * UNITS.get(found[2] or "", 1.0)


def test_is_what_its_script_makes() -> None:
    """In a process of its own, where no test has declared a check."""
    code = (
        "import sys; sys.path.insert(0, 'scripts'); import checks_page; "
        "sys.stdout.buffer.write(checks_page.page().encode())"
    )
    words = (sys.executable, "-c", code)
    done = subprocess.run(words, cwd=ROOT, capture_output=True, check=True)
    made = done.stdout.decode("utf-8")
    assert made == PAGE.read_text(encoding="utf-8"), "run scripts/checks_page.py"


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.id)
class TestEveryCheck:
    def test_has_a_page(self, check: Check | FaultCheck | WiringCheck) -> None:
        """A question, how it is answered, where the limit is from, and an example of its own."""
        assert check.question.endswith("?")
        assert check.source
        for name in ("analysis", "example"):
            text = getattr(check, name)
            assert 40 < len(text) < LONGEST, f"{check.id}: write its {name}"
            assert text.endswith("."), f"{check.id}: its {name} is no sentence"
        assert sum(check.example == other.example for other in CHECKS) == 1

    def test_works_its_example_out(self, check: Check | FaultCheck | WiringCheck) -> None:
        worked = sums(check.example)
        assert worked or isinstance(check, WiringCheck), f"{check.id}: show the sum in backticks"
        for left, right in worked:
            assert value(left) == pytest.approx(value(right), rel=1e-9, abs=rounding(right)), left
