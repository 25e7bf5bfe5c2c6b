"""The harness against the tables that it is made from, and against the panel."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from make.jobs import EXAMPLES, job_of, judged

from railwright.make.document import Job, Unmakeable
from railwright.make.harness import Wire, harness
from railwright.make.panel.placed import panel_of
from railwright.prove.proof import NetRow

WORKSHOP = next(path for path in EXAMPLES if path.stem == "workshop-twelve-volts")


def wire(job: Job, told: str) -> Wire:
    return next(each for each in harness(job) if each.start.told == told)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_pin_on_the_panel_begins_one_wire_or_ends_one(path: Path) -> None:
    job = job_of(path)
    wires = harness(job)
    begun = Counter(each.start.told for each in wires)
    assert max(begun.values()) == 1
    reached = {*begun, *(each.to for each in wires)}
    outside = {
        net
        for place in (job.design.need.input, *job.design.need.output)
        if place.nets
        for net in (place.nets.plus, place.nets.minus)
    }
    for item in panel_of(job.design).items:
        if item.label:
            part = job.design.circuit.part(item.label)
            for pin, net in part.pins.items():
                left_out = part.kind == "terminal" and net in outside
                assert (f"{item.label} {pin}" in reached) != left_out


def test_a_wire_is_as_thick_as_current_and_drop_ask() -> None:
    # MIL-STD-975M (NASA), A 3.16: AWG 24 carries 3.3 A alone, (29 - 11)/28 of that among 11 ends,
    # half of that with insulation for 105 °C: 1.06 A. ASTM B258, annealed copper: 84 mV for 1 A
    # and a metre, 53 mV with AWG 22, 33 mV with AWG 20.
    job = judged(job_of(EXAMPLES[-1]), "J1 rated_current", value=1.0, limit=12.0, unit="A")
    found = wire(job, "J1 one")
    assert found.gauge == 20
    assert found.drop == pytest.approx(33.3e-3, rel=5e-3)
    thin = judged(job_of(EXAMPLES[-1]), "J1 rated_current", value=0.5, limit=12.0, unit="A")
    assert wire(thin, "J1 one").gauge == 24
    # Of 12 A the bundle decides: AWG 10 carries 33 A x 18/28 / 2 = 10.6 A.
    thick = judged(job_of(EXAMPLES[-1]), "J1 rated_current", value=12.0, limit=24.0, unit="A")
    with pytest.raises(Unmakeable, match=r"carries 12 A at J1 one in a bundle of 11"):
        harness(thick)


def test_on_the_mains_colours_and_sizes_are_those_of_the_standards() -> None:
    # IEC 60445: line brown, neutral blue, protective conductor green-yellow (from memory).
    wires = harness(job_of(WORKSHOP))
    mains = {each.start.carries: each for each in wires if each.start.told.startswith("mains")}
    earth = mains["protective earth"]
    assert earth.colour.code == "GNYE"
    assert earth.to.startswith("stud on the metal of the box")
    assert mains["neutral"].colour.code == "BU"
    fused = [each for each in wires if each.start.carries == "line"]
    assert {each.colour.code for each in fused} == {"BN"}
    # IEC 60335-1: inner wires of appliances up to 6 A have at least 0.75 mm² (from memory).
    for each in (*fused, *mains.values()):
        assert each.cross_section >= 0.75e-6


def test_what_only_the_panel_has_is_wired_there() -> None:
    to = {each.start.told: each.to for each in harness(job_of(EXAMPLES[-1]))}
    assert to["F1 one"] == "barrel socket plus"
    assert to["F1 two"] == "board, VIN"


def test_the_end_of_a_rail_carries_what_the_limit_lets_through() -> None:
    job = job_of(WORKSHOP)
    rail = job.design.need.output[0]
    assert rail.nets is not None
    found = next(each for each in harness(job) if each.start.net == rail.nets.plus)
    assert found.current is not None
    assert found.current >= rail.current.max
    more = replace(rail, current=replace(rail.current, max=2.0))
    need = replace(job.design.need, output=(more,))
    other = replace(job, design=replace(job.design, need=need))
    found = next(each for each in harness(other) if each.start.net == rail.nets.plus)
    assert found.current == 2.0


def test_both_poles_of_the_input_carry_what_it_takes() -> None:
    # GND is the output's return as well and carries more; both poles carry the same.
    bare = job_of(EXAMPLES[-1])
    nets = (NetRow("BRICK", 18.0, 19.0, 20.0, 0.9, "F1"), NetRow("GND", 0.0, 0.0, 0.0, 1.5, "W2"))
    job = replace(bare, proof=replace(bare.proof, nets=nets))
    assert wire(job, "barrel socket minus").current == pytest.approx(0.9)
    assert wire(job, "F1 one").current == pytest.approx(0.9)
    assert wire(bare, "barrel socket minus").current is None


def test_either_end_of_a_wire_says_how_it_ends() -> None:
    job = judged(job_of(EXAMPLES[-1]), "J1 rated_current", value=1.0, limit=12.0, unit="A")
    # Insulated crimps are red up to 1.5 mm², blue up to 2.5 mm² (DIN 46237, from memory).
    assert wire(job, "J1 one").joints == (
        "ring lug, 4 mm, red, to 1.5 mm²",
        "solder pin 1.3 mm, sleeved",
    )
    thick = judged(job_of(EXAMPLES[-1]), "J1 rated_current", value=7.0, limit=12.0, unit="A")
    assert wire(thick, "J1 one").joints[0].endswith("yellow, to 6 mm²")
    assert all(all(each.joints) for each in harness(job_of(WORKSHOP)))
