"""Every example of a whole supply is sound: nothing in it falls short or stays unproven."""

from __future__ import annotations

from pathlib import Path

import pytest

from railwright.circuit.design import read
from railwright.prove.run import prove

EXAMPLES = Path(__file__).parents[2] / "examples"
ELSEWHERE = {"radio-bench-rail"}
"""Proven in a test file of its own."""
NAMES = sorted(
    path.stem
    for path in EXAMPLES.glob("*.toml")
    if "[need" in path.read_text("utf-8") and "first-board" not in path.stem
)


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ELSEWHERE])
def test_a_sound_example_proves(name: str) -> None:
    proof = prove(read(EXAMPLES / f"{name}.toml"))
    bad = [(f.id, f.subject, f.verdict, f.because) for f in proof.findings
           if f.verdict not in ("holds", "marginal")]  # fmt: skip
    assert bad == []
    assert len(proof.findings) > 20
