"""Fault modes as changes of lanes, and what turns over because of them."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import gate, part, resistor, supply, survey_of

from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.faults import BRIDGED, OPEN
from railwright.surveys.fault_modes import LOST, Change, FaultModes, changed
from railwright.surveys.single_faults import FaultStudy, single_faults
from railwright.surveys.survey import Survey

DIODE = part("D1", "diode", "anode = IN, cathode = OUT", 'use = "1N4002"')
LOAD = resistor("R1", "OUT", "GND", 1000.0)


def modes_of(survey: Survey) -> FaultModes:
    return FaultModes.of(survey.fixture.circuit.parts, survey.model.topology)


def changes(found: FaultModes, ref: str, words: str) -> tuple[tuple[Change, ...], ...]:
    (mode,) = (m for m in found.modes if (m.ref, m.words) == (ref, words))
    return mode.variants


class TestModes:
    def test_a_short_is_a_bridge_and_an_open_pin_a_joint(self) -> None:
        found = modes_of(survey_of(supply(DIODE + LOAD)))
        ((short,),) = changes(found, "D1", "short")
        ((opened,),) = changes(found, "D1", "open")
        assert short == Change(bridge_name("IN", "OUT"), 0.0, BRIDGED)
        assert opened == Change(joint_name("D1", "anode"), 0.0, OPEN)
        assert found.joints == (("D1", "anode"),)
        assert found.bridges == (("IN", "OUT"),)

    def test_what_is_nothing_but_a_resistance_needs_neither(self) -> None:
        found = modes_of(survey_of(supply(LOAD + resistor("R2", "IN", "OUT", 1.0))))
        assert not found.joints
        assert not found.bridges
        ((opened,),) = changes(found, "R1", "open")
        assert opened == Change(("R1", "resistance"), 0.0, OPEN)
        up, down = changes(found, "R1", "drift")
        assert [each.factor for each in (*up, *down)] == [2.0, 0.5]

    def test_an_open_capacitor_counts_where_it_carries_the_current_of_a_pump(self) -> None:
        ten = 'use = "electrolytic 10 µF 25 V low-ESR"'
        pins = "input = IN, ground = GND, cap_plus = CP, cap_minus = CM, output = OUT"
        pump = part("U1", "charge-pump-inverter", pins, 'use = "7660 type 20 mA"')
        pump += part("C1", "capacitor", "plus = CP, minus = CM", ten)
        pump += part("C2", "capacitor", "plus = GND, minus = OUT", ten)
        found = modes_of(survey_of(supply(pump)))
        assert changes(found, "C1", "open") == ((Change(("C1", "capacitance"), LOST, 0.0),),)
        up, down = changes(found, "C1", "drift")
        assert [each.factor for each in (*up, *down)] == [2.0, 0.5]
        assert changes(found, "C2", "open") == changes(found, "C2", "drift") == ()

    def test_changes_stand_side_by_side(self) -> None:
        variants = [(Change(("R", "x"), 2.0, 0.0),), (Change(("Q", "y"), 0.0, 5.0),)]
        before = {("R", "x"): np.array([1.0, 3.0]), ("Q", "y"): 7.0}
        found = changed(lambda name: before[name], variants, 2)
        assert found["R", "x"].tolist() == [2.0, 6.0, 1.0, 3.0]
        assert found["Q", "y"].tolist() == [7.0, 7.0, 5.0, 5.0]


def lane_of(study: FaultStudy, ref: str, words: str) -> int:
    number = [(m.ref, m.words) for m in study.modes].index((ref, words))
    return int(np.flatnonzero(study.mode == number)[0])


class TestTurningOver:
    """Two gates across each other remember: what a fault sets stays set (by hand: a NAND latch)."""

    PARTS = (
        resistor("R1", "IN", "SET", 10e3)
        + resistor("R2", "IN", "RESET", 10e3)
        + gate("U1", "SET", "OTHER", "OUT")
        + gate("U2", "RESET", "OUT", "OTHER")
    )

    @pytest.fixture
    def study(self) -> FaultStudy:
        return survey_of(supply(self.PARTS, volts=(10.0, 10.0))).once(single_faults)

    def test_a_latch_goes_on_remembering(self, study: FaultStudy) -> None:
        """It rests with OUT high. RESET's pull-up gone, its input leaks down and sets OTHER high,
        which SET high turns into OUT low; with SET's gone nothing changes."""
        assert study.survey.rail_voltage(study.sound, "main")[0] == pytest.approx(10.0, abs=0.1)
        stuck = lane_of(study, "U2", "stuck high")
        assert study.survey.rail_voltage(study.rest, "main")[stuck] == pytest.approx(0.0, abs=0.1)
        held = lane_of(study, "U2", "stuck low")
        assert study.survey.rail_voltage(study.rest, "main")[held] == pytest.approx(10.0, abs=0.1)

    def test_no_gate_is_left_half_way(self, study: FaultStudy) -> None:
        assert study.solved.all()
        assert not study.restless.any()
        for ref in ("U1", "U2"):
            turned = np.abs(study.turned_over(ref))
            assert ((turned < 0.2) | (turned > 0.8)).all()


def test_an_inverter_that_is_left_to_itself_comes_to_no_rest() -> None:
    """R1 holds its input high; with R1 open only its own output drives that, either way."""
    parts = (
        resistor("R1", "IN", "OUT", 1e3)
        + gate("U1", "OUT", "OUT", "LOOP")
        + resistor("R2", "LOOP", "OUT", 100e3)
    )
    study = survey_of(supply(parts, volts=(10.0, 10.0))).once(single_faults)
    assert study.restless[lane_of(study, "R1", "open")]
    assert not study.restless[lane_of(study, "R2", "open")]
