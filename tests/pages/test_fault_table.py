"""The table of single faults in the report: the gravest first, nothing where there is none."""

from __future__ import annotations

from dataclasses import replace

from pages.fake_proof import fake_proof

from railwright.pages.fault_table import fault_table
from railwright.pages.report import report


def test_the_gravest_comes_first() -> None:
    hidden, grave = reversed(fake_proof().faults)
    found = fault_table([hidden, grave])
    assert found.index(">I</td>") < found.index(">IV</td>")
    assert "open, 59 %" in found
    assert "ADJ from 10.8 V to 16 V (12 V, 1 A, input 18 V, 40 °C)" in found


def test_is_part_of_the_report() -> None:
    assert "Single faults" in report(fake_proof())
    assert "Single faults" not in report(replace(fake_proof(), faults=()))
