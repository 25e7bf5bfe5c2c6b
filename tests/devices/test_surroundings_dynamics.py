"""Cable, load capacitor and heat in time."""

import numpy as np
import pytest
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, resistor, source
from devices.terms import LonePart
from devices.test_regulator_dynamics import capacitor

from railwright.devices import kinds
from railwright.engine.reduction import reduced
from railwright.engine.system import trace
from railwright.engine.topology import AIR, Topology


def test_a_cable_rings_with_the_capacitor_it_feeds() -> None:
    """Step into 1 µH, 0.1 Ω, 10 µF: overshoot exp(-pi zeta / sqrt(1 - zeta²))."""
    cable = Part(
        "V", "source", {"plus": "A", "minus": "GND"}, {"inductance": 1e-6, "resistance": 0.1}
    )
    moving = Moving([cable, capacitor("C", "A", 10e-6, esr=1e-4)], V_voltage=1.0)
    times = np.linspace(0.0, 30e-6, 601)
    (output,) = moving.course(times, "A", V_voltage=lambda time: 2.0)
    zeta = 0.5 * 0.1 * np.sqrt(10e-6 / 1e-6)
    assert output.max() - 2.0 == pytest.approx(
        np.exp(-np.pi * zeta / np.sqrt(1.0 - zeta**2)), rel=0.02
    )


def test_a_load_has_the_capacitor_that_is_stated() -> None:
    load = Part("LD", "load", {"plus": "A", "minus": "GND"}, {"capacitance": 1e-6})
    moving = Moving([source("V", "IN"), resistor("R", "IN", "A", 1e3), load], V_voltage=5.0)
    assert moving.poles()[0] == pytest.approx(-1e3, rel=1e-3)


def test_without_them_nothing_is_stored() -> None:
    load = Part("LD", "load", {"plus": "A", "minus": "GND"}, {})
    moving = Moving([source("V", "IN"), resistor("R", "IN", "A", 1e3), load], V_voltage=5.0)
    assert moving.poles().size == 0


@pytest.mark.parametrize("sunk", [True, False])
def test_a_package_stores_heat_at_its_case_or_else_at_its_junction(sunk: bool) -> None:
    device = kinds()["fixed-regulator"]
    values = {"heat_capacity": 1.5}
    at = {**dict.fromkeys((*device.pins, *device.unknowns), 0.1), "junction": 350.0, "case": 320.0}
    without = () if sunk else ("case",)
    part = LonePart(device, {**typical_values("fixed-regulator"), **values}, at, without=without)
    wanted = {"case": 480.0} if sunk else {"junction": 525.0}
    assert part.run().heats == wanted


def test_heat_is_stored_where_temperatures_move_and_only_there() -> None:
    """A sink and a package: each stores its heat in the row of the face."""
    parts = [
        source("V", "IN"),
        Part(
            "HS", "heat-sink", {"face": "T", "air": AIR}, {"resistance": 9.0, "heat_capacity": 22}
        ),
        Part(
            "U",
            "fixed-regulator",
            {"input": "IN", "output": "OUT", "ground": "GND", "case": "T"},
            {"heat_capacity": 1.0},
        ),
        resistor("L", "OUT", "GND", 10.0),
    ]
    warm = Topology.of(parts, "GND")
    held = Topology(warm.elements, "GND", isothermal=True)
    face = warm.index["T", ""]
    found = [s for s in trace(warm).storages if s.plus == face]
    assert len(found) == 2
    assert all(s.minus is None for s in found)
    read = {name for _, name in reduced(trace(held), "storages").parameters}
    assert "heat_capacity" not in read
    assert "output_inductance" in read
