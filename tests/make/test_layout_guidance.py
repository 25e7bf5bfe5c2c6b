"""Layout guidance against the tables that it is made from."""

from __future__ import annotations

from dataclasses import replace

import pytest
from make.jobs import EXAMPLES, job_of, judged
from make.test_report import cells
from pages.fake_proof import fake_proof

from railwright.make.document import Job
from railwright.make.layout_guidance import LayoutGuidance, apart, loops, width
from railwright.pages.sheet import Points
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


def test_what_carries_pulses_of_the_load_is_on_the_power_side() -> None:
    (power, quiet, _) = returns(job())
    # C1 stands between VIN and GND, which both carry the 3 A; C3 on a divider.
    assert {"C1", "D1"} <= set(power.partition("after the other: ")[2].rstrip(".").split(", "))
    assert "C3" in quiet


def returns(job: Job) -> list[str]:
    sections = LayoutGuidance().sheet(job).sections
    points = next(s.blocks[0] for s in sections if s.heading == "Where returns meet")
    assert isinstance(points, Points)
    return list(points.items)


def test_the_pulses_of_a_rectifier_go_to_its_capacitor_alone() -> None:
    workshop = job_of(next(path for path in EXAMPLES if path.stem == "workshop-twelve-volts"))
    nets = (NetRow("GND", 0.0, 0.0, 0.0, 0.55, "D1"), NetRow("RAW", 18.0, 21.0, 25.0, 0.55, "D1"))
    told = returns(replace(workshop, proof=replace(workshop.proof, nets=nets)))
    assert told[0].startswith("D1 charges C1 in pulses, 550 mA effective")
    every = (*nets, NetRow("OUT", 12.0, 12.0, 12.0, 0.25, "need.output.main"))
    drawn = replace(workshop, proof=replace(workshop.proof, nets=every))
    for part in drawn.design.circuit.parts:
        for rating in part.ratings:
            if part.ref in ("U1", "D1") and part.device.ratings[rating].unit == "A":
                drawn = judged(drawn, f"{part.ref} {rating}", value=0.25, limit=1.0, unit="A")
    assert not [each for each in returns(drawn) if "quiet" in each]  # nothing is


def test_copper_is_what_the_junction_leaves() -> None:
    base = job()
    like = replace(fake_proof().findings[0], id="heat.junction", subject="D1 junction_limit")
    # 0.5 W through the 40 K/W that the catalogue has at most make 60 °C of air of 40 °C. 125 °C
    # allow 130 K/W more; 2.8 K/W stay inside the case, if the type tells them.
    hot = replace(like, value=333.15, limit=398.15, unit="°C")
    proof = replace(base.proof, findings=(hot,), losses={"D1": 0.5})
    part = base.design.circuit.part("D1")
    inside = part.values["junction_to_case"].spread.high if "junction_to_case" in part.values else 0
    # AN-2020: 500 cm² K/W on both faces.
    row = next(r for r in cells(LayoutGuidance().sheet(replace(base, proof=proof))) if r[0] == "D1")
    assert row[2:6] == ("500 mW", "60 °C", "125 °C", "40 K/W")
    area = float(row[6].removesuffix(" cm²"))
    assert area == pytest.approx(500.0 / (40.0 + 130.0 - inside), rel=0.03)
    cool = replace(proof, losses={"D1": 0.01})
    assert "Cooled" not in html([LayoutGuidance().sheet(replace(base, proof=cool))])


def test_a_width_is_never_rounded_down_and_outside_has_a_name() -> None:
    # 1.6 A take 0.575 mm; 0.5 mm would be too little.
    nets = (NetRow("OUT", 5.0, 5.0, 5.0, 1.6, "need.output.main"), ROWS[0])
    row = cells(LayoutGuidance().sheet(replace(job(), proof=replace(job().proof, nets=nets))))
    (out,) = [each for each in row if each[0] == "OUT"]
    assert (out[3], out[4]) == ("load of main", "0.6 mm")
