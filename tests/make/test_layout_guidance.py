"""Layout guidance against the tables that it is made from."""

from __future__ import annotations

from dataclasses import replace

import pytest
from make.jobs import EXAMPLES, job_of, judged
from make.test_report import cells

from railwright.make.document import Job
from railwright.make.layout_guidance import LayoutGuidance, apart, loops, width
from railwright.pages.sheet_html import html
from railwright.prove.proof import NetRow

ROWS = (
    NetRow("GND", 0.0, 0.0, 0.0, 3.0, "W2"),
    NetRow("VIN", 18.0, 19.0, 40.0, 3.0, "F1"),
    NetRow("FB", 1.2, 1.23, 1.25, 1e-3, "R2"),
)


def job() -> Job:
    found = judged(job_of(EXAMPLES[-1]), "U1 rated_current", value=1.5, limit=3.0, unit="A")
    return replace(found, proof=replace(found.proof, nets=ROWS))


def test_widths_and_distances_are_those_of_the_standard() -> None:
    # IPC-2221, outside, 35 µm, 10 K: 3 A take 1.37 mm (curve fit of its charts, public copies).
    assert width(ROWS[1]) * 1e3 == pytest.approx(1.37, rel=5e-3)
    assert width(ROWS[2]) == 0.5e-3
    # Table 6-1, B2: up to 50 V 0.6 mm, up to 30 V 0.1 mm.
    assert apart(ROWS[1], ROWS) * 1e3 == pytest.approx(0.6)
    assert apart(ROWS[1], [replace(ROWS[1], highest=24.0), ROWS[0]]) * 1e3 == pytest.approx(0.6)
    low = [replace(ROWS[1], highest=24.0), ROWS[0]]
    assert apart(low[0], low) * 1e3 == pytest.approx(0.1)


def test_the_fast_loop_of_a_step_down_is_switch_diode_and_input_capacitor() -> None:
    (loop,) = loops(job())
    assert loop.parts == ("U1", "D1", "C1")
    # 1.5 A within half of the 100 ns that the switch takes to rise and fall.
    assert loop.steepness == pytest.approx(1.5 / 50e-9)
    assert loop.spike == pytest.approx(17.7e-9 * 1.5 / 50e-9, rel=0.01)


def test_the_shunt_has_conductors_of_its_own() -> None:
    rows = cells(LayoutGuidance().sheet(job()))
    shunt = next(row for row in rows if row[0] == "R5")
    assert "U7" in shunt[1]
    # SENSED and VPRE are not among the rows: the least width counts, 17.241 nΩ m x 10 mm over
    # 0.5 mm x 35 µm = 9.9 mΩ of 50 mΩ.
    assert shunt[3] == "9.9 mΩ"
    assert shunt[4] == "20 %"


def test_what_is_noisy_stays_away_from_what_listens() -> None:
    page = html([LayoutGuidance().sheet(job())])
    assert "SW jumps with every edge" in page
    assert "within 10 mm of U7" in page


def test_without_currents_that_is_told() -> None:
    bare = job_of(EXAMPLES[-1])
    assert "The proof has no currents" in html([LayoutGuidance().sheet(bare)])
